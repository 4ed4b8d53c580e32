#include "study/walk.h"

#include <math.h>

#include "base/whole.h"
#include "stat/counts.h"

void walk_limits_default(struct walk_limits *limits) {
    *limits = (struct walk_limits){
        .loss_facing = 0.01, .loss_turned = 0.05, .gap_ms = 200, .died_ms = 3000};
}

enum { PACKETS_LEAST = 300 }; /* fewer are no loss figure (common practice) */
enum { BLOCKS_LEAST = 5, GAP_INTERVALS = 3, GAP_MOST_MS = 60000 };

static const double level = 0.95;

double walk_loss_limit(const struct walk_stop *stop, const struct walk_limits *limits) {
    return stop->facing[0] == '\0' ? limits->loss_facing : limits->loss_turned;
}

int64_t walk_gap_limit(const struct walk_limits *limits) {
    double slow_ms = limits->rate_hz > 0 && !limits->gap_given
                         ? ceil(GAP_INTERVALS * 1000 / limits->rate_hz)
                         : 0;
    return slow_ms > (double)limits->gap_ms && slow_ms < GAP_MOST_MS ? whole_i64(slow_ms)
                                                                     : limits->gap_ms;
}

static bool by_counts(const struct walk_stop *stop, struct loss_interval *out) {
    struct loss_counts counts = {.packets = 0};
    struct counts_interval limits;
    *out = (struct loss_interval){.kind = LOSS_UNKNOWN};
    for (uint32_t b = 0; b < stop->blocks; b++)
        stat_counts_take(&counts, stop->block[b].got + stop->block[b].lost, stop->block[b].lost);
    if (counts.full < BLOCKS_LEAST || !stat_counts_interval(&counts, level, &limits))
        return false;
    *out = (struct loss_interval){.kind = LOSS_RUNS, /* two-sided */
                                  .method = "counts",
                                  .rate = (double)stop->lost / (double)(stop->got + stop->lost),
                                  .low = limits.low,
                                  .high = limits.high};
    return true;
}

bool walk_loss_interval(const struct walk_stop *stop, struct loss_interval *out) {
    if (stop->lost > 0 && stop->order_unknown)
        return by_counts(stop, out);
    stat_loss_interval(&stop->runs, level, out);
    if (out->kind == LOSS_NONE_LOST)
        out->high = stat_loss_none_bound(stop->got, 1, level);
    return out->kind != LOSS_UNKNOWN;
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
    if (stop->got == 0 && packets >= PACKETS_LEAST)
        return; /* every packet was lost */
    if (packets < PACKETS_LEAST || !walk_loss_interval(stop, &interval) ||
        (interval.low <= limit && limit <= interval.high))
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
    judge_gap(stop, walk_gap_limit(limits), &faults, unsure);
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

/* No time to lose packets in, or none sent as far as is known. */
static bool is_empty(const struct walk_stop *s) {
    return s->to_ms <= s->from_ms || (s->counted && s->got + s->lost == 0);
}

/* Failsafe comes of packets that fail to come, so without fs a gap that is known to be short enough
 * answers for it. */
static unsigned left_open(unsigned unsure) {
    return (unsure & WALK_GAP) != 0 ? unsure : unsure & ~(unsigned)WALK_FAILSAFE;
}

enum walk_verdict walk_verdict(const struct walk_stop *stop, const struct walk_limits *limits) {
    unsigned unsure, faults = walk_judge(stop, limits, &unsure);
    if ((faults & ~unsure) != 0)
        return WALK_FAILED;
    if (is_empty(stop))
        return WALK_EMPTY;
    if (faults != 0)
        return WALK_DOUBTFUL;
    return left_open(unsure) == 0 ? WALK_HELD : WALK_NOT_SHOWN;
}

/* The nearest stop with such a verdict, before `least`. */
static double nearest(const struct walk *w, enum walk_verdict verdict, double least) {
    for (uint32_t i = 0; i < w->count; i++)
        if (walk_verdict(&w->stop[i], &w->limits) == verdict)
            least = fmin(least, w->stop[i].distance_m);
    return least;
}

bool walk_first_failed(const struct walk *w, double *metres) {
    *metres = nearest(w, WALK_FAILED, INFINITY);
    return isfinite(*metres);
}

bool walk_held_to(const struct walk *w, double *metres) {
    double end = nearest(w, WALK_DOUBTFUL, nearest(w, WALK_FAILED, INFINITY));
    bool any = false;
    for (uint32_t i = 0; i < w->count; i++) {
        double at = w->stop[i].distance_m;
        if (at >= end || (any && at <= *metres) ||
            walk_verdict(&w->stop[i], &w->limits) != WALK_HELD)
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
    bool known = walk_loss_interval(stop, &interval);
    if (!known && stop->got > 0) /* the blocks will tell */
        wanted = fmax(wanted, BLOCKS_LEAST * (double)stop->block_ms / 1000 * rate_hz);
    else if (interval.kind == LOSS_NONE_LOST && limit > 0 && 3 / limit > wanted)
        wanted = 3 / limit; /* the rule of three */
    else if (interval.kind == LOSS_RUNS)
        wanted = fmax(wanted, packets_wanted(&interval, packets, limit));
    return (double)packets >= wanted ? 0 : (wanted - (double)packets) / rate_hz;
}
