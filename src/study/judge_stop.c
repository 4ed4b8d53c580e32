#include "study/walk.h"

#include <math.h>

void walk_limits_default(struct walk_limits *limits) {
    *limits = (struct walk_limits){
        .loss_facing = 0.01, .loss_turned = 0.05, .gap_ms = 200, .died_ms = 3000};
}

enum { PACKETS_LEAST = 300 }; /* fewer are no loss figure (common practice) */

static const double level = 0.95;

double walk_loss_limit(const struct walk_stop *stop, const struct walk_limits *limits) {
    return stop->facing[0] == '\0' ? limits->loss_facing : limits->loss_turned;
}

/* Loss is surely above the limit, surely below it, or neither. */
static void judge_loss(const struct walk_stop *stop, double limit, unsigned *faults,
                       unsigned *unsure) {
    uint64_t packets = stop->got + stop->lost;
    struct loss_interval interval;
    if (!stop->counted || packets == 0) {
        *unsure |= WALK_LOSS;
        return;
    }
    if ((double)stop->lost > limit * (double)packets)
        *faults |= WALK_LOSS;
    stat_loss_interval(&stop->runs, level, &interval);
    bool lost = interval.kind != LOSS_NONE_LOST;
    if (packets < PACKETS_LEAST ||
        (lost && !stop->order_unknown && interval.low <= limit && limit <= interval.high))
        *unsure |= WALK_LOSS;
}

static void judge_gap(const struct walk_stop *stop, int64_t limit_ms, unsigned *faults,
                      unsigned *unsure) {
    if (stop->longest_gap_ms == TIME_UNKNOWN)
        *unsure |= WALK_GAP;
    else if (stop->longest_gap_low_ms > limit_ms)
        *faults |= WALK_GAP;
    else if (stop->longest_gap_ms > limit_ms)
        *unsure |= WALK_GAP;
}

unsigned walk_judge(const struct walk_stop *stop, const struct walk_limits *limits,
                    unsigned *unsure) {
    unsigned faults = 0;
    *unsure = 0;
    judge_loss(stop, walk_loss_limit(stop, limits), &faults, unsure);
    judge_gap(stop, limits->gap_ms, &faults, unsure);
    if (stop->failsafes > 0)
        faults |= WALK_FAILSAFE;
    else if (!stop->failsafe_known)
        *unsure |= WALK_FAILSAFE;
    if (stop->receiver_restarts + stop->transmitter_restarts > 0)
        faults |= WALK_RESTART;
    if (stop->died)
        faults |= WALK_DIED;
    return faults;
}

static bool failed(const struct walk *w, uint32_t i) {
    unsigned unsure;
    return walk_judge(&w->stop[i], &w->limits, &unsure) != 0;
}

bool walk_first_failed(const struct walk *w, double *metres) {
    bool any = false;
    for (uint32_t i = 0; i < w->count; i++) {
        if (!failed(w, i) || (any && w->stop[i].distance_m >= *metres))
            continue;
        *metres = w->stop[i].distance_m;
        any = true;
    }
    return any;
}

bool walk_held_to(const struct walk *w, double *metres) {
    double first = INFINITY;
    bool any = false;
    walk_first_failed(w, &first);
    for (uint32_t i = 0; i < w->count; i++) {
        double at = w->stop[i].distance_m;
        if (at >= first || (any && at <= *metres))
            continue;
        *metres = at;
        any = true;
    }
    return any;
}

/* --- how much longer -------------------------------------------------------------------------- */

/* So many packets in all until the interval, which shrinks with their root, leaves the limit. */
static double packets_wanted(const struct loss_interval *interval, uint64_t packets, double limit) {
    bool above = interval->rate > limit;
    double room = above ? interval->rate - limit : limit - interval->rate;
    double reach = above ? interval->rate - interval->low : interval->high - interval->rate;
    double times = room > 0 ? reach / room * (reach / room) : INFINITY;
    return times > 1 ? times * (double)packets : (double)packets;
}

double walk_wanted_s(const struct walk_stop *stop, const struct walk_limits *limits,
                     double rate_hz) {
    uint64_t packets = stop->got + stop->lost;
    double limit = walk_loss_limit(stop, limits), wanted = PACKETS_LEAST;
    struct loss_interval interval;
    if (rate_hz <= 0 || (!stop->counted && packets == 0))
        return -1;
    stat_loss_interval(&stop->runs, level, &interval);
    if (interval.kind == LOSS_NONE_LOST && limit > 0 && 3 / limit > wanted)
        wanted = 3 / limit; /* the rule of three */
    else if (interval.kind == LOSS_RUNS)
        wanted = fmax(wanted, packets_wanted(&interval, packets, limit));
    return (double)packets >= wanted ? 0 : (wanted - (double)packets) / rate_hz;
}
