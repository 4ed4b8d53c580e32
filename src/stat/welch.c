#include "stat/welch.h"

#include <math.h>

#include "stat/distribution.h"

/* Squared standard error of a mean. */
static double variance_of_mean(const struct stat_moments *m) {
    double n = (double)m->count;
    return m->squares / (n - 1) / n;
}

static double satterthwaite(double a, uint64_t na, double b, uint64_t nb) {
    return (a + b) * (a + b) / (a * a / (double)(na - 1) + b * b / (double)(nb - 1));
}

static bool is_enough(const struct stat_moments *x, const struct stat_moments *y) {
    return x->count >= 2 && y->count >= 2 && (x->squares > 0 || y->squares > 0);
}

bool stat_welch(const struct stat_moments *x, const struct stat_moments *y, double level,
                struct welch_difference *out) {
    if (!is_enough(x, y))
        return false;
    double vx = variance_of_mean(x), vy = variance_of_mean(y);
    out->value = x->mean - y->mean;
    out->se = sqrt(vx + vy);
    out->df = satterthwaite(vx, x->count, vy, y->count);
    out->t = out->value / out->se;
    out->p = 2 * stat_t_tail(fabs(out->t), out->df);
    double reach = stat_t_quantile(0.5 + level / 2, out->df) * out->se;
    out->interval = (struct stat_interval){out->value - reach, out->value + reach};
    return true;
}

/* The limits solve (mx - r my)^2 = t^2 (vx + r^2 vy). */
bool stat_welch_ratio(const struct stat_moments *x, const struct stat_moments *y, double level,
                      struct welch_ratio *out) {
    if (!is_enough(x, y) || y->mean == 0)
        return false;
    double vx = variance_of_mean(x), vy = variance_of_mean(y), r = x->mean / y->mean;
    out->value = r;
    out->df = satterthwaite(vx, x->count, r * r * vy, y->count);
    double t = stat_t_quantile(0.5 + level / 2, out->df), m2 = y->mean * y->mean;
    out->g = t * t * vy / m2;
    out->bounded = out->g < 1;
    out->interval = (struct stat_interval){-INFINITY, INFINITY};
    if (!out->bounded)
        return true;
    double reach = t * sqrt((vx * (1 - out->g) + r * r * vy) / m2);
    out->interval.low = (r - reach) / (1 - out->g);
    out->interval.high = (r + reach) / (1 - out->g);
    return true;
}
