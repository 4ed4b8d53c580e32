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

/* What a fold over the packets keeps; all zero before the first.  A run is a stretch of missing
 * packets, a gap a stretch of arrived ones. */
struct loss_runs {
    uint64_t packets;     /* whose outcome and order are known, the lost ones included */
    uint64_t lost;        /* of them */
    uint64_t runs, gaps;  /* the stretch that is still open counts */
    uint64_t run_squares; /* sums of squared lengths, packets squared */
    uint64_t gap_squares;
    uint64_t run_longest; /* packets */
    uint64_t open;        /* length so far of the open stretch, 0 where there is none ... */
    bool open_arrived;    /* ... and which sort it is */
};

/* The next `count` packets all arrived, or are all missing.  In what portions they come makes no
 * difference. */
void stat_loss_take(struct loss_runs *r, bool arrived, uint64_t count);
/* The order is lost here (a hole, a restart): the open stretch ends, what follows begins another.
 */
void stat_loss_break(struct loss_runs *r);

enum loss_method {
    LOSS_UNKNOWN,    /* no packet, or none that arrived: low 0 and high 1 say just that */
    LOSS_NONE_LOST,  /* no run: low 0, high 1; stat_loss_none_bound and stat_none_rate_bound tell */
    LOSS_BOUND_ONLY, /* 1 to 9 runs: low is 0, and high a one-sided bound */
    LOSS_RUNS,       /* 10 runs or more: two-sided */
};
enum { LOSS_RUNS_LEAST = 10 };

struct loss_interval {
    enum loss_method kind;
    const char *method; /* "unknown", "none lost", "bound only", "loss runs": static text */
    double rate;        /* lost / packets; 0 for no packet */
    double low, high;   /* 0..1 */
};

/* The interval at `level` (0.95) for the mean loss over the time observed.  Odds of loss = starts
 * of a run per arrived packet, times mean length of a run.  Starts follow a Poisson law, or a wider
 * one if the gaps scatter more than that gives; lengths scatter as they did, but no less than a
 * constant chance to end gives (geometric).  The odds' ratio to their estimate then has, nearly, an
 * F distribution: 2(runs) and 2(runs)/(squared coefficient of variation) degrees of freedom. Two
 * things are our own: high has the same formula from the first run on, each end at (1+level)/2, so
 * that it doesn't jump at the tenth run; and low allows for being given only after ten runs, which
 * a link with fewer reaches by bad luck (see loss.c). */
void stat_loss_interval(const struct loss_runs *r, double level, struct loss_interval *out);

/* None lost in `packets`: the one-sided bound on the loss *if* a drop lasts run_length packets (1
 * or more); about 3 run_length / packets at 95 %.  1 for no packet. */
double stat_loss_none_bound(uint64_t packets, double run_length, double level);

#endif
