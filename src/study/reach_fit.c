#include <math.h>
#include <stddef.h>
#include <string.h>

#include "base/whole.h"
#include "stat/places.h"
#include "study/reach_parts.h"

/* The grids.  Spreads and exponents grow by powers of one factor, four of them a spread, so that
 * their products, the spreads in eta, are few. */
enum { RANGES = 208, EXPONENTS = 64, SPREADS = 21, STRIDE = 4 };
enum { LEVELS = EXPONENTS + STRIDE * (SPREADS - 1) };
static const double EXPONENT_LEAST = 1.2, EXPONENT_MOST = 24, EXPONENT_USUAL = 4, EXPONENT_SD = 0.6;
static const double SPREAD_MOST = 0.5;        /* decades of distance */
static const double BEFORE = 3.2, BEYOND = 5; /* the range lies at most so far outside the walk */
static const double CURVE_FROM = -7, CURVE_STEP = 0.6; /* cloglog of the curve's losses */
static const double NEGLIGIBLE = 1e-9;

struct posterior {
    const struct reach_points *points;
    double limit;
    double first, step; /* of the ranges, log10 metres */
    double total, range[RANGES];
    double exponent[EXPONENTS], level[1 + LEVELS]; /* level 0: no spread */
    double curve[REACH_CURVE][RANGES];
    double eta, curve_eta[REACH_CURVE]; /* of the limit and the curve's losses, at this spread */
    struct stat_places places;
};

static double factor(void) {
    return pow(EXPONENT_MOST / EXPONENT_LEAST, 1.0 / (EXPONENTS - 1));
}

static double exponent_at(int j) {
    return EXPONENT_LEAST * pow(factor(), j);
}

static double spread_at(int k) { /* decades; k from 1 */
    return k < 1 ? 0 : SPREAD_MOST * pow(factor(), STRIDE * (k - SPREADS));
}

/* The prior of spread k: its share of the line from 0 to SPREAD_MOST. */
static double spread_weight(int k) {
    double above = k < SPREADS ? spread_at(k + 1) : SPREAD_MOST;
    return (above - spread_at(k - 1)) / 2;
}

static double exponent_weight(int j) {
    double z = log(exponent_at(j) / EXPONENT_USUAL) / EXPONENT_SD;
    return exp(-z * z / 2);
}

double reach_curve_loss(int i) {
    return -expm1(-exp(CURVE_FROM + CURVE_STEP * i));
}

/* How likely the stops are, were the limit passed at each of the ranges. */
static double weigh(const struct posterior *f, double slope, double weight[static RANGES]) {
    double sum = 0, move = slope * f->step / f->places.step;
    for (int r = 0; r < RANGES; r++)
        weight[r] = 1;
    for (uint32_t i = 0; i < f->points->count; i++) {
        const float *row = f->places.likelihood[i];
        double eta = f->eta + slope * (f->points->at[i].x - f->first);
        double place = stat_places_place(&f->places, eta);
        for (int r = 0; r < RANGES; r++)
            weight[r] *= stat_places_at(row, place - r * move);
    }
    for (int r = 0; r < RANGES; r++)
        sum += weight[r];
    return sum;
}

/* Adds the weights `by` steps farther out; what falls off an end is kept there. */
static void add_moved(double to[static RANGES], const double weight[static RANGES], double times,
                      double by) {
    for (int r = 0; r < RANGES; r++) {
        double at = r + by, within = at < 0 ? 0 : at > RANGES - 1.001 ? RANGES - 1.001 : at;
        int i = whole_i32(within);
        double share = within - i;
        to[i] += times * weight[r] * (1 - share);
        to[i + 1] += times * weight[r] * share;
    }
}

static void add_cell(struct posterior *f, int j, int k, int level) {
    double weight[RANGES], slope = exponent_at(j) * log(10);
    double times = exponent_weight(j) * spread_weight(k), sum = times * weigh(f, slope, weight);
    if (!(sum > NEGLIGIBLE * f->total))
        return;
    f->total += sum;
    f->exponent[j] += sum;
    f->level[level] += sum;
    for (int r = 0; r < RANGES; r++)
        f->range[r] += times * weight[r];
    for (int c = 0; c < REACH_CURVE; c++)
        add_moved(f->curve[c], weight, times, (f->curve_eta[c] - f->eta) / slope / f->step);
}

static double tau_at(int level) { /* from 1 */
    return EXPONENT_LEAST * log(10) * spread_at(1) * pow(factor(), level - 1);
}

static void take_level(struct posterior *f, int level) {
    if (level > 0)
        stat_places_spread(&f->places, tau_at(level));
    f->eta = stat_places_eta(&f->places, f->limit);
    for (int c = 0; c < REACH_CURVE; c++)
        f->curve_eta[c] = stat_places_eta(&f->places, reach_curve_loss(c));
    for (int j = 0; level == 0 && j < EXPONENTS; j++)
        add_cell(f, j, 0, 0);
    for (int k = 1; level > 0 && k <= SPREADS; k++) {
        int j = level - 1 - STRIDE * (k - 1);
        if (j >= 0 && j < EXPONENTS)
            add_cell(f, j, k, level);
    }
}

/* Where the weights pass a share of their sum, counted in bins: 0 is the first one's middle. */
static double quantile(const double *weight, int count, double share) {
    double sum = 0, below = 0;
    for (int i = 0; i < count; i++)
        sum += weight[i];
    for (int i = 0; i < count; i++) {
        if (weight[i] > 0 && below + weight[i] >= share * sum)
            return i - 0.5 + (share * sum - below) / weight[i];
        below += weight[i];
    }
    return count - 0.5;
}

static double metres_at(const struct posterior *f, const double *weight, double share) {
    return pow(10, f->first + f->step * quantile(weight, RANGES, share));
}

static double slope_at(const struct posterior *f, double share) {
    double j = quantile(f->exponent, EXPONENTS, share);
    return log(10) * EXPONENT_LEAST * pow(factor(), fmin(fmax(j, 0), EXPONENTS - 1));
}

static double spread_db(const struct posterior *f) {
    double level = quantile(f->level, 1 + LEVELS, 0.5);
    return level < 1
               ? 0
               : 10 / log(10) * EXPONENT_LEAST * log(10) * spread_at(1) * pow(factor(), level - 1);
}

static void keep_fit(const struct posterior *f, double bursts, double level,
                     struct reach_fit *out) {
    double tail = (1 - level) / 2;
    *out = (struct reach_fit){.bursts = bursts,
                              .slope = slope_at(f, 0.5),
                              .slope_low = slope_at(f, tail),
                              .slope_high = slope_at(f, 1 - tail),
                              .spread_db = spread_db(f)};
    for (int c = 0; c < REACH_CURVE; c++) {
        out->curve_low_m[c] = metres_at(f, f->curve[c], tail);
        out->curve_m[c] = metres_at(f, f->curve[c], 0.5);
        out->curve_high_m[c] = metres_at(f, f->curve[c], 1 - tail);
    }
}

static void begin(struct posterior *f, const struct reach_points *points, double bursts,
                  double limit) {
    double near = points->at[0].x, far = points->at[points->count - 1].x;
    memset(f, 0, offsetof(struct posterior, places));
    f->points = points;
    f->limit = limit;
    f->first = near - log10(BEFORE);
    f->step = (far + log10(BEYOND) - f->first) / (RANGES - 1);
    stat_places_init(&f->places);
    for (uint32_t i = 0; i < points->count; i++) {
        const struct reach_point *p = &points->at[i];
        stat_places_add(&f->places, p->lost / bursts, (p->packets - p->lost) / bursts);
    }
}

bool reach_fit_find(const struct reach_points *points, const struct reach_settings *settings,
                    struct reach_range *range, struct reach_fit *fit) {
    struct posterior f;
    double bursts = reach_bursts(points), tail = 1 - settings->level;
    begin(&f, points, bursts, settings->loss_limit);
    for (int level = 0; level <= LEVELS; level++)
        take_level(&f, level);
    if (!(f.total > 0))
        return false;
    *range = (struct reach_range){.low_m = metres_at(&f, f.range, tail / 2),
                                  .at_least_m = metres_at(&f, f.range, tail),
                                  .m = metres_at(&f, f.range, 0.5),
                                  .at_most_m = metres_at(&f, f.range, 1 - tail),
                                  .high_m = metres_at(&f, f.range, 1 - tail / 2)};
    keep_fit(&f, bursts, settings->level, fit);
    return true;
}
