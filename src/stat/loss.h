/* Interval of the mean loss of a steady link, from its loss runs.
 *
 * Packets aren't lost one by one but in runs, so the number of packets says little of how well the
 * loss is known; the number of runs says it.  A link whose loss changes over the time has no such
 * interval: test that first (rank.h).  tests/tools/coverage.c measures how often the interval
 * holds, and its head says what else was tried. */
#ifndef STAT_LOSS_H
#define STAT_LOSS_H

#include <stdbool.h>
#include <stdint.h>

#include "stat/proportion.h"

/* What a fold over the packets keeps.  A run is a stretch of missing packets between two that
 * arrived; the ends of the record and stretches of unknown order end a run, too. */
struct loss_runs {
    uint64_t packets;     /* whose outcome is known, the lost ones included */
    uint64_t lost;        /* of them */
    uint64_t runs;        /* loss runs; 0 just when lost is 0 */
    double run_squares;   /* sum of the squared run lengths, packets squared */
    uint64_t run_longest; /* packets */
};

/* A run of `length` (at least 1) packets, or `packets` that arrived, is added to r. */
void stat_loss_run(struct loss_runs *r, uint64_t length);
void stat_loss_arrived(struct loss_runs *r, uint64_t packets);

enum loss_method {
    LOSS_UNKNOWN,    /* no packet, or nothing arrived: no interval */
    LOSS_NONE_LOST,  /* no run: neither low nor high says anything; see stat_loss_none_bound */
    LOSS_BOUND_ONLY, /* 1 to 9 runs: high is a one-sided bound, low is 0 */
    LOSS_RUNS,       /* 10 runs or more: low and high, two-sided */
    LOSS_METHODS,
};
enum { LOSS_RUNS_LEAST = 10 };

struct loss_interval {
    enum loss_method kind;
    const char *method; /* "unknown", "none lost", "bound only", "loss runs": static text */
    double rate;        /* lost / packets, 0..1 */
    double low, high;   /* 0..1 */
};

/* The interval at `level` (0.95).  Nothing is allocated. */
void stat_loss_interval(const struct loss_runs *r, double level, struct loss_interval *out);

/* With none lost in `packets`: the bound on the loss *if* a drop lasts run_length packets. */
double stat_loss_none_bound(uint64_t packets, double run_length, double level);

#endif
