#include <math.h>

#include "stat/distribution.h"
#include "stat/logit.h"
#include "study/reach_parts.h"

/* A stop that bursts leave less than half a packet's worth of knowledge tells nothing of the
 * scatter between stops. */
static const double KNOWLEDGE_LEAST = 0.5;
static const double BETWEEN_SQUARED_MOST = 25;
enum { ROUNDS_MAX = 60, HALVINGS = 30, RIPPLE_STOPS_LEAST = 4 };

/* Squared residuals of a stop's blocks about its own loss, over what independent packets give. */
static void add_blocks(const struct walk_stop *s, double *squares, double *df) {
    double got = 0, lost = 0;
    for (uint32_t b = 0; b < s->blocks; b++) {
        got += (double)s->block[b].got;
        lost += (double)s->block[b].lost;
    }
    if (s->blocks < 2 || !(got > 0) || !(lost > 0))
        return;
    double p = lost / (got + lost);
    for (uint32_t b = 0; b < s->blocks; b++) {
        double n = (double)(s->block[b].got + s->block[b].lost);
        double miss = (double)s->block[b].lost - n * p;
        *squares += n > 0 ? miss * miss / (n * p * (1 - p)) : 0;
        *df += n > 0 ? 1 : 0;
    }
    *df -= 1;
}

/* A chain of two states whose correlation dies out over c packets has 2c - 1 times the variance of
 * independent ones, and c = n p (1-p) / runs: blocks that are short beside the runs miss a part of
 * it. */
double reach_bursts(const struct reach_points *points) {
    double squares = 0, df = 0, variance = 0, runs = 0;
    for (uint32_t i = 0; i < points->count; i++) {
        const struct walk_stop *s = points->at[i].stop;
        add_blocks(s, &squares, &df);
        if (s->order_unknown || s->runs.packets == 0)
            continue;
        double n = (double)s->runs.packets, p = (double)s->runs.lost / n;
        variance += n * p * (1 - p);
        runs += (double)s->runs.runs;
    }
    double by_blocks = df > 0 ? squares / df : 1;
    double by_runs = runs > 0 ? 2 * variance / runs - 1 : 1;
    return fmax(1, fmax(by_blocks, by_runs));
}

struct model {
    const struct reach_points *points;
    double bursts, between2; /* between squared */
    struct logit_fit fit;
};

static double variance_of_one(const struct model *m, uint32_t i) { /* p(1-p) on the curve */
    double e = m->fit.intercept + m->fit.slope * m->points->at[i].x;
    return 1 / ((1 + exp(e)) * (1 + exp(-e)));
}

static double loss_at(const struct model *m, uint32_t i) {
    return 1 / (1 + exp(-m->fit.intercept - m->fit.slope * m->points->at[i].x));
}

/* Variance of the losses of stop i over that of independent packets. */
static double dispersion_at(const struct model *m, uint32_t i, double between2) {
    return m->bursts + m->points->at[i].packets * between2 * variance_of_one(m, i);
}

/* Information on the line, of all stops weighted. */
struct information {
    double i00, i01, i11;
};

static struct information information_of(const struct model *m, double between2) {
    struct information s = {0, 0, 0};
    for (uint32_t i = 0; i < m->points->count; i++) {
        double x = m->points->at[i].x;
        double w = m->points->at[i].packets * variance_of_one(m, i) / dispersion_at(m, i, between2);
        s.i00 += w;
        s.i01 += w * x;
        s.i11 += w * x * x;
    }
    return s;
}

/* Of a chi-squared variable: Wilson and Hilferty 1931, within 2 % from half a degree of freedom on.
 */
static double median_of(double df) {
    double root = 1 - 2 / (9 * df);
    return df > 0 && root > 0 ? df * root * root * root : 0;
}

/* Weighted squared residuals of the informative stops, and how much of freedom they have, were
 * between2 the truth. */
struct residuals {
    double sum, free;
    uint32_t stops;
};

static struct residuals residuals_of(const struct model *m, double between2) {
    struct information s = information_of(m, between2);
    double determinant = s.i00 * s.i11 - s.i01 * s.i01;
    struct residuals r = {0, 0, 0};
    for (uint32_t i = 0; i < m->points->count; i++) {
        const struct reach_point *p = &m->points->at[i];
        double plain = p->packets * variance_of_one(m, i), d = dispersion_at(m, i, between2);
        double bend = s.i11 - 2 * p->x * s.i01 + p->x * p->x * s.i00;
        if (plain / m->bursts < KNOWLEDGE_LEAST)
            continue;
        double miss = p->lost - p->packets * loss_at(m, i);
        r.sum += miss * miss / (plain * d);
        r.free += 1 - plain / d * bend / determinant;
        r.stops++;
    }
    return r;
}

static bool is_too_small(const struct model *m, double between2) {
    struct residuals r = residuals_of(m, between2);
    return r.sum > median_of(r.free);
}

static double find_between2(const struct model *m) {
    double low = 0, high = BETWEEN_SQUARED_MOST, least = REACH_BETWEEN_LEAST * REACH_BETWEEN_LEAST;
    if (!is_too_small(m, least))
        return least;
    for (int i = 0; i < HALVINGS; i++) {
        double middle = (low + high) / 2;
        *(is_too_small(m, middle) ? &low : &high) = middle;
    }
    return fmax(least, high);
}

static enum logit_kind fit_line(struct model *m, bool weighted) {
    struct logit_point line[WALK_STOPS_MAX];
    for (uint32_t i = 0; i < m->points->count; i++) {
        const struct reach_point *p = &m->points->at[i];
        double w = weighted ? 1 / dispersion_at(m, i, m->between2) : 1;
        line[i] = (struct logit_point){p->x, p->lost * w, p->packets * w};
    }
    return stat_logit_fit(line, m->points->count, &m->fit);
}

/* Weights follow from the curve and the curve from the weights, in turns. */
static enum logit_kind fit_model(struct model *m) {
    enum logit_kind kind = fit_line(m, false);
    for (int round = 0; kind == LOGIT_FITS && round < ROUNDS_MAX; round++) {
        struct logit_fit before = m->fit;
        double found = find_between2(m);
        m->between2 = round == 0 ? found : (m->between2 + found) / 2;
        kind = fit_line(m, true);
        double step = fabs(m->fit.slope / before.slope - 1);
        if (kind == LOGIT_FITS && step + fabs(m->fit.intercept / before.intercept - 1) < 1e-6)
            break;
    }
    return kind;
}

/* More scatter than a smooth curve is given, and more than half a logit of it and chance make. */
static bool is_ragged(const struct model *m) {
    static const double most2 = REACH_BETWEEN_MOST * REACH_BETWEEN_MOST, usual2 = 0.25;
    struct residuals r = residuals_of(m, usual2);
    return m->between2 > most2 && r.stops >= RIPPLE_STOPS_LEAST && r.free > 0.5 &&
           r.sum > stat_chi2_quantile(0.999, r.free);
}

/* A stop that lost surely less than one nearer by: more than bursts, half a logit of scatter each
 * and 28 pairs of stops explain. */
static bool comes_back(const struct reach_points *points, double bursts) {
    static const double surely = 3.3, scatter2 = 0.25;
    for (uint32_t far = 1; far < points->count; far++)
        for (uint32_t near = 0; near < far; near++) {
            double logit[2], variance = 2 * scatter2;
            for (int k = 0; k < 2; k++) {
                const struct reach_point *p = &points->at[k == 0 ? near : far];
                double y = p->lost / bursts + 0.5, a = (p->packets - p->lost) / bursts + 0.5;
                logit[k] = log(y / a);
                variance += 1 / y + 1 / a;
            }
            if (logit[0] - logit[1] > surely * sqrt(variance))
                return true;
        }
    return false;
}

static void keep_fit(const struct model *m, const struct reach_settings *settings,
                     const struct logit_where *w, struct reach *out) {
    double packets = 0, p = settings->loss_limit;
    for (uint32_t i = 0; i < m->points->count; i++)
        packets += m->points->at[i].packets / m->points->count;
    out->fit = (struct reach_fit){.known = true,
                                  .intercept = m->fit.intercept,
                                  .slope = m->fit.slope,
                                  .v11 = m->fit.v11,
                                  .v12 = m->fit.v12,
                                  .v22 = m->fit.v22,
                                  .bursts = m->bursts,
                                  .between = sqrt(m->between2),
                                  .dispersion = m->bursts + packets * m->between2 * p * (1 - p),
                                  .df = m->fit.df,
                                  .quantile = w->quantile,
                                  .g = w->g};
}

static enum reach_verdict judge(const struct model *m, const struct logit_where *w,
                                const struct reach *r) {
    double near = log10(r->nearest_m), far = log10(r->farthest_m);
    if (is_ragged(m) || comes_back(m->points, m->bursts))
        return REACH_RIPPLE;
    if (!(m->fit.slope > 0))
        return REACH_NOT_RISING;
    if (!w->bounded)
        return REACH_MAY_BE_FLAT;
    if (w->x > far || w->high > far)
        return REACH_BEYOND;
    return w->x < near || w->low < near ? REACH_BEFORE : REACH_CLOSED;
}

/* What the limits say that lies within the walked span. */
static void keep_limits(const struct logit_where *w, struct reach *out) {
    double low = pow(10, w->low), high = pow(10, w->high);
    bool closed = out->verdict == REACH_CLOSED;
    if (low >= out->nearest_m)
        out->at_least_m = fmin(low, out->farthest_m);
    if (high <= out->farthest_m)
        out->at_most_m = fmax(high, out->nearest_m);
    out->m = closed ? pow(10, w->x) : 0;
    out->low_m = closed ? low : 0;
    out->high_m = closed ? high : 0;
}

void reach_curve(const struct reach_points *points, const struct reach_settings *settings,
                 struct reach *out) {
    static const enum reach_verdict verdicts[] = {[LOGIT_FEW] = REACH_FEW,
                                                  [LOGIT_NONE_LOST] = REACH_NEVER_LOST,
                                                  [LOGIT_ALL_LOST] = REACH_ALL_LOST,
                                                  [LOGIT_SEPARATED] = REACH_SEPARATED,
                                                  [LOGIT_DIVERGES] = REACH_SEPARATED};
    struct model m = {.points = points, .bursts = reach_bursts(points)};
    struct logit_where w = {.low = 0};
    enum logit_kind kind = fit_model(&m);
    if (kind != LOGIT_FITS) {
        out->verdict = comes_back(points, m.bursts) ? REACH_RIPPLE : verdicts[kind];
        return;
    }
    struct logit_trust trust = {1, m.fit.df, settings->level};
    if (!stat_logit_fieller(&m.fit, settings->loss_limit, &trust, &w))
        w.bounded = false;
    keep_fit(&m, settings, &w, out);
    out->verdict = judge(&m, &w, out);
    if (out->verdict == REACH_CLOSED || out->verdict == REACH_BEYOND ||
        out->verdict == REACH_BEFORE)
        keep_limits(&w, out);
}
