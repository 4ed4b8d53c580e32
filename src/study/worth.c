#include "study/worth.h"

#include <math.h>

static const double N_LEAST = 1, N_MOST = 6, NORMAL_95 = 1.96;

static double cloglog(double p) {
    return p <= 0 ? -INFINITY : p >= 1 ? INFINITY : log(-log1p(-p));
}

static bool has_slope(const struct reach *r) {
    return r->fit.known && r->fit.rises;
}

static enum worth_lack lack_of(const struct compare *c, const struct reach *r) {
    if (c->lack != COMPARE_LACKS_NOTHING)
        return WORTH_LACKS_LOSS;
    if (!isfinite(cloglog(c->a.rate)) || !isfinite(cloglog(c->b.rate)))
        return WORTH_NONE_OR_ALL;
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

/* Decibels of a gain in cloglog, the least or the most of them. */
static double at_end(double gain, const struct reach_fit *fit, struct ends n, bool most) {
    bool large = most == (gain > 0); /* a large multiple of the gain */
    return 10 * (large ? n.high : n.low) * gain / (large ? fit->slope_low : fit->slope_high);
}

void worth_find(const struct compare *c, const struct reach *r, struct worth *out) {
    *out = (struct worth){.lack = lack_of(c, r)};
    if (out->lack != WORTH_LACKS_NOTHING)
        return;
    double a = cloglog(c->a.rate), decades = (a - cloglog(c->b.rate)) / r->fit.slope;
    out->distance = pow(10, -decades);
    out->free_db = 10 * WORTH_N_FREE * decades;
    out->ground_db = 10 * WORTH_N_GROUND * decades;
    out->n_known = r->exponent.known && r->exponent.n >= N_LEAST && r->exponent.n <= N_MOST;
    out->n = out->n_known ? r->exponent.n : 0;
    out->db = 10 * out->n * decades;
    struct ends n = ends_of_n(out, &r->exponent);
    double least = a - cloglog(c->a.rate + c->difference.limits.high);
    double most = a - cloglog(c->a.rate + c->difference.limits.low);
    out->low_db = at_end(least, &r->fit, n, false);
    out->high_db = at_end(most, &r->fit, n, true);
}
