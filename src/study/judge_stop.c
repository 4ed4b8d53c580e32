#include "study/walk.h"

void walk_limits_default(struct walk_limits *limits) {
    *limits = (struct walk_limits){
        .loss_facing = 0.01, .loss_turned = 0.05, .gap_ms = 200, .died_ms = 3000};
}

enum { PACKETS_LEAST = 300 }; /* fewer are no loss figure (common practice) */

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
    stat_loss_interval(&stop->runs, 0.95, &interval);
    bool lost = interval.kind != LOSS_NONE_LOST;
    if (packets < PACKETS_LEAST ||
        (lost && !stop->order_unknown && interval.low <= limit && limit <= interval.high))
        *unsure |= WALK_LOSS;
}

unsigned walk_judge(const struct walk_stop *stop, const struct walk_limits *limits,
                    unsigned *unsure) {
    unsigned faults = 0;
    *unsure = 0;
    judge_loss(stop, stop->facing[0] == '\0' ? limits->loss_facing : limits->loss_turned, &faults,
               unsure);
    if (stop->longest_gap_ms == TIME_UNKNOWN)
        *unsure |= WALK_GAP;
    else if (stop->longest_gap_ms > limits->gap_ms)
        faults |= WALK_GAP;
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
