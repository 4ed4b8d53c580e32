#include "study/worth.h"

#include <math.h>

static const double N_LEAST = 1, N_MOST = 6, NORMAL_95 = 1.96;

static double logit(double p) {
    return p <= 0 ? -INFINITY : p >= 1 ? INFINITY : log(p / (1 - p));
}

static bool has_slope(const struct reach *r) {
    bool sure =
        r->verdict == REACH_CLOSED || r->verdict == REACH_BEYOND || r->verdict == REACH_BEFORE;
    return sure && r->fit.known && r->fit.slope > 0 && r->fit.g < 1;
}

static enum worth_lack lack_of(const struct compare *c, const struct reach *r) {
    if (c->lack != COMPARE_LACKS_NOTHING)
        return WORTH_LACKS_LOSS;
    if (!isfinite(logit(c->a.rate)) || !isfinite(logit(c->b.rate)))
        return WORTH_LACKS_LOGIT;
    return has_slope(r) ? WORTH_LACKS_NOTHING : WORTH_LACKS_SLOPE;
}

struct ends {
    double low, high;
};

static struct ends ends_of_n(const struct worth *w, const struct reach_exponent *e) {
    if (!w->n_known)
        return (struct ends){WORTH_N_FREE, WORTH_N_GROUND};
    return (struct ends){fmax(N_LEAST, e->n - NORMAL_95 * e->n_se),
                         fmin(N_MOST, e->n + NORMAL_95 * e->n_se)};
}

/* Decibels of a gain in logits, the least or the most of them. */
static double at_end(double gain, const struct reach_fit *fit, struct ends n, bool most) {
    double root = sqrt(fit->g);
    bool large = most == (gain > 0); /* a large multiple of the gain */
    double slope = fit->slope * (large ? 1 - root : 1 + root);
    return 10 * (large ? n.high : n.low) * gain / slope;
}

void worth_find(const struct compare *c, const struct reach *r, struct worth *out) {
    *out = (struct worth){.lack = lack_of(c, r)};
    if (out->lack != WORTH_LACKS_NOTHING)
        return;
    double a = logit(c->a.rate), decades = (a - logit(c->b.rate)) / r->fit.slope;
    out->distance = pow(10, -decades);
    out->free_db = 10 * WORTH_N_FREE * decades;
    out->ground_db = 10 * WORTH_N_GROUND * decades;
    out->n_known = r->exponent.known && r->exponent.n >= N_LEAST && r->exponent.n <= N_MOST;
    out->n = out->n_known ? r->exponent.n : 0;
    out->db = 10 * out->n * decades;
    struct ends n = ends_of_n(out, &r->exponent);
    double least = a - logit(c->a.rate + c->difference.limits.high);
    double most = a - logit(c->a.rate + c->difference.limits.low);
    out->low_db = at_end(least, &r->fit, n, false);
    out->high_db = at_end(most, &r->fit, n, true);
}
