#include "study/reach.h"

#include <math.h>

#include "study/reach_parts.h"

void reach_settings_default(struct reach_settings *settings) {
    *settings = (struct reach_settings){.loss_limit = 0.1, .level = 0.95};
}

static const struct {
    const char *word, *reason;
} words[REACH_VERDICTS] = {
    [REACH_CLOSED] = {"closed", "The curve passes the limit within the walked span."},
    [REACH_FEW] = {"too few stops",
                   "Fewer than five distances with packets: no curve. Walk more stops."},
    [REACH_NEVER_LOST] = {"never lost enough", "No stop lost as much as the limit. Walk farther, "
                                               "or lower the transmit power."},
    [REACH_ALL_LOST] = {"all lost", "Every packet was lost at every stop. Begin nearer by."},
    [REACH_SEPARATED] = {"all or nothing", "The loss jumps from one stop to the next: no curve "
                                           "between them. Add stops where it jumps."},
    [REACH_NOT_RISING] = {"loss not rising", "The loss doesn't grow with the distance. Something "
                                             "else costs packets, or the walk was too short."},
    [REACH_RIPPLE] = {"no smooth curve",
                      "The loss comes and goes from stop to stop: reflections, or the way the "
                      "antennas face. Shift and turn at each stop, and stay there longer."},
    [REACH_MAY_BE_FLAT] = {"slope may be zero", "The rise of the loss isn't surer than chance. "
                                                "Stay longer at each stop, or walk more of them."},
    [REACH_BEYOND] = {"beyond the walk",
                      "The loss may pass the limit only beyond the farthest stop. Walk farther."},
    [REACH_BEFORE] = {"before the walk", "The loss may have passed the limit before the nearest "
                                         "stop. Add stops nearer by, or stay longer."},
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

/* Of one stop, what its own packets show of the curve's loss there.  Its scatter about the curve,
 * at the limit, is taken into account as the fit does it. */
struct shown {
    double low, high;
};

static struct shown shown_by(const struct reach_point *p, double bursts, double limit,
                             double level) {
    double scatter = p->packets * REACH_BETWEEN_LEAST * REACH_BETWEEN_LEAST * limit * (1 - limit);
    double packets = floor(p->packets / (bursts + scatter)), lost = p->lost / p->packets * packets;
    struct stat_interval fewer = stat_wilson((uint64_t)floor(lost), (uint64_t)packets, level);
    struct stat_interval more = stat_wilson((uint64_t)ceil(lost), (uint64_t)packets, level);
    return (struct shown){fewer.low, more.high};
}

/* The bound that loss runs give, which knows how long drops last: of a stop that lost none, if they
 * last as long as the bursts of the others tell. */
static double high_by_runs(const struct walk_stop *s, double mean_run, double level) {
    struct loss_interval i;
    stat_loss_interval(&s->runs, level, &i);
    if (s->order_unknown || i.kind == LOSS_UNKNOWN)
        return 0;
    return i.kind == LOSS_NONE_LOST ? stat_loss_none_bound(s->runs.packets, mean_run, level)
                                    : i.high;
}

/* at_least_m and at_most_m from the stops alone. */
static void find_bounds(const struct reach_points *points, const struct reach_settings *settings,
                        struct reach *out) {
    double bursts = reach_bursts(points), mean_run = (bursts + 1) / 2;
    double limit = settings->loss_limit, level = settings->level;
    double of_many = 1 - (1 - level) / fmax(1, points->count); /* one of them is above by chance */
    for (uint32_t i = 0; i < points->count; i++) {
        const struct reach_point *p = &points->at[i];
        struct shown shown = shown_by(p, bursts, limit, level);
        if (shown_by(p, bursts, limit, of_many).low > limit) {
            out->at_most_m = p->stop->distance_m;
            break;
        }
        if (shown.high < limit && high_by_runs(p->stop, mean_run, level) < limit)
            out->at_least_m = p->stop->distance_m;
    }
    if (out->at_least_m >= out->at_most_m) /* two stops of one distance that contradict */
        out->at_least_m = 0;
}

void reach_find(const struct walk_stop *stops, uint32_t count,
                const struct reach_settings *settings, struct reach *out) {
    struct reach_points points;
    *out = (struct reach){.loss_limit = settings->loss_limit, .at_most_m = INFINITY};
    reach_choose(stops, count, &points, out);
    find_bounds(&points, settings, out);
    reach_signal(&points, settings, out);
    if (count_distances(&points) < REACH_STOPS_LEAST)
        out->verdict = REACH_FEW;
    else if (!lost_enough(&points, settings->loss_limit))
        out->verdict = REACH_NEVER_LOST;
    else
        reach_curve(&points, settings, out);
}

static double share_of(double logit) {
    return 1 / (1 + exp(-logit));
}

bool reach_at(const struct reach *r, double metres, struct reach_at *out) {
    const struct reach_fit *f = &r->fit;
    if (!f->known || r->verdict == REACH_RIPPLE || !(f->quantile > 0) || !(metres > 0))
        return false;
    double x = log10(metres), line = f->intercept + f->slope * x;
    double half = f->quantile * sqrt(fmax(0, f->v11 + 2 * x * f->v12 + x * x * f->v22));
    *out = (struct reach_at){share_of(line), share_of(line - half), share_of(line + half)};
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
