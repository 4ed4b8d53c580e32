#include "study/reach.h"

#include <math.h>

#include "stat/rank.h"
#include "study/reach_parts.h"

void reach_settings_default(struct reach_settings *settings) {
    *settings = (struct reach_settings){.loss_limit = 0.1, .level = 0.95};
}

static const struct {
    const char *word, *reason;
} words[REACH_VERDICTS] = {
    [REACH_CLOSED] = {"closed", "The mean loss passes the limit within the walked span."},
    [REACH_FEW] = {"too few stops",
                   "Fewer than three distances with packets: no curve. Walk more stops."},
    [REACH_NEVER_LOST] = {"never lost enough", "No stop lost as much as the limit. Walk farther, "
                                               "or lower the transmit power."},
    [REACH_ALL_LOST] = {"all lost", "Every packet was lost at every stop. Begin nearer by."},
    [REACH_FALLING] = {"loss falls with distance",
                       "The loss falls with the distance: too strong near by. The receiver is "
                       "overloaded near the transmitter. Move them apart, or lower the power."},
    [REACH_NOT_RISING] = {"loss not rising", "The loss doesn't grow with the distance. Something "
                                             "else costs packets, or the walk was too short."},
    [REACH_WIDE] = {"too uncertain",
                    "The stops scatter too much, or tell too little, to say where the limit is "
                    "passed. Walk more stops, each in another place."},
    [REACH_BEYOND] = {"beyond the walk",
                      "The loss may pass the limit only beyond the farthest stop. Walk farther."},
    [REACH_BEFORE] = {"before the walk", "The loss may have passed the limit before the nearest "
                                         "stop. Add stops nearer by. If stops farther out lose "
                                         "less, the receiver is overloaded near by."},
};

const char *reach_word(enum reach_verdict verdict) {
    return words[verdict].word;
}

const char *reach_reason(enum reach_verdict verdict) {
    return words[verdict].reason;
}

static uint32_t count_distances(const struct reach_points *points) {
    uint32_t distances = 0;
    for (uint32_t i = 0; i < points->count; i++)
        distances += i == 0 || points->at[i].x > points->at[i - 1].x;
    return distances;
}

static bool lost_enough(const struct reach_points *points, double limit) {
    for (uint32_t i = 0; i < points->count; i++)
        if (points->at[i].lost >= limit * points->at[i].packets)
            return true;
    return false;
}

/* A fit of no rise at all ends near an exponent of 1.35, since none below 1.2 is tried; free space
 * has 2. */
static const double EXPONENT_FLAT = 1.7;

static bool lost_all(const struct reach_points *points) {
    for (uint32_t i = 0; i < points->count; i++)
        if (points->at[i].lost < points->at[i].packets)
            return false;
    return true;
}

/* By the order of the stops alone, which no scatter by place upsets: 1 the loss rises with the
 * distance, -1 it falls, 0 neither is shown. */
static int find_trend(const struct reach_points *points) {
    double losses[WALK_STOPS_MAX], work[WALK_STOPS_MAX];
    struct stat_trend trend;
    for (uint32_t i = 0; i < points->count; i++)
        losses[i] = points->at[i].lost / points->at[i].packets;
    if (!stat_trend(losses, points->count, work, WALK_STOPS_MAX, &trend) || trend.p >= 0.05)
        return 0;
    return trend.s > 0 ? 1 : -1;
}

/* The nearest stop itself lost too much: what lies there isn't within the range, whatever those
 * farther out say. */
static bool begins_lossy(const struct reach_points *points, double limit) {
    return points->at[0].lost >= limit * points->at[0].packets;
}

static enum reach_verdict verdict_of(const struct reach_points *points,
                                     const struct reach_range *range, const struct reach *r) {
    bool before = range->low_m < r->nearest_m || begins_lossy(points, r->loss_limit);
    bool beyond = range->high_m > r->farthest_m;
    if (!lost_enough(points, r->loss_limit))
        return REACH_NEVER_LOST;
    if (lost_all(points))
        return REACH_ALL_LOST;
    if (before && beyond)
        return REACH_WIDE;
    return before ? REACH_BEFORE : beyond ? REACH_BEYOND : REACH_CLOSED;
}

/* What the quantiles say that lies within the walked span. */
static void keep_range(const struct reach_points *points, const struct reach_range *range,
                       struct reach *out) {
    if (range->at_least_m >= out->nearest_m && !begins_lossy(points, out->loss_limit))
        out->at_least_m = fmin(range->at_least_m, out->farthest_m);
    if (range->at_most_m <= out->farthest_m)
        out->at_most_m = fmax(range->at_most_m, out->nearest_m);
    if (out->verdict != REACH_CLOSED)
        return;
    out->m = range->m;
    out->low_m = range->low_m;
    out->high_m = range->high_m;
}

static void find_range(const struct reach_points *points, const struct reach_settings *settings,
                       struct reach *out) {
    bool enough = lost_enough(points, settings->loss_limit);
    int trend = find_trend(points);
    struct reach_range range;
    if (enough && trend < 0) {
        out->verdict = REACH_FALLING;
        return;
    }
    if (!reach_fit_find(points, settings, &range, &out->fit)) {
        out->verdict = REACH_WIDE;
        return;
    }
    bool flat = trend <= 0 && out->fit.slope < EXPONENT_FLAT * log(10);
    if (enough && flat && !lost_all(points)) {
        out->verdict = REACH_NOT_RISING;
        return;
    }
    out->fit.known = enough;
    out->fit.rises = trend > 0;
    out->verdict = verdict_of(points, &range, out);
    keep_range(points, &range, out);
}

void reach_find(const struct walk_stop *stops, uint32_t count,
                const struct reach_settings *settings, struct reach *out) {
    struct reach_points points;
    *out = (struct reach){
        .verdict = REACH_FEW, .loss_limit = settings->loss_limit, .at_most_m = INFINITY};
    reach_choose(stops, count, &points, out);
    reach_signal(&points, settings, out);
    if (count_distances(&points) >= REACH_STOPS_LEAST)
        find_range(&points, settings, out);
}

/* The loss of a curve at a distance: by a straight line between its points, log distance against
 * cloglog. */
static double loss_at(const double curve_m[static REACH_CURVE], double metres) {
    int i = 0;
    while (i < REACH_CURVE - 2 && curve_m[i + 1] < metres)
        i++;
    double whole = log(curve_m[i + 1] / curve_m[i]);
    double part = whole > 0 ? log(metres / curve_m[i]) / whole : 0;
    double share = part < 0 ? 0 : part > 1 ? 1 : part;
    double from = log(-log1p(-reach_curve_loss(i))), to = log(-log1p(-reach_curve_loss(i + 1)));
    return -expm1(-exp(from + share * (to - from)));
}

bool reach_at(const struct reach *r, double metres, struct reach_at *out) {
    if (!r->fit.known || !(metres > 0))
        return false;
    *out = (struct reach_at){.loss = loss_at(r->fit.curve_m, metres),
                             .low = loss_at(r->fit.curve_high_m, metres),
                             .high = loss_at(r->fit.curve_low_m, metres)};
    return true;
}

static double stretch(double metres, double db, double exponent) {
    return metres * pow(10, db / (10 * exponent));
}

void reach_full_power(const struct reach *r, double reduced_db, struct reach_full *out) {
    bool closed = r->verdict == REACH_CLOSED;
    bool fitted = closed && r->exponent.known && r->exponent.n > 0;
    out->low_m = stretch(closed ? r->low_m : r->at_least_m, reduced_db, 4);
    out->high_m = stretch(closed ? r->high_m : r->at_most_m, reduced_db, 2);
    out->fitted_m = fitted ? stretch(r->m, reduced_db, r->exponent.n) : 0;
}
