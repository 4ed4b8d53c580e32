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
    uint64_t run_squares; /* sum of squared lengths, packets squared */
    uint64_t run_longest; /* packets */
    uint64_t begun;       /* runs right after a packet that arrived */
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
    LOSS_UNKNOWN,   /* no packet, or none that arrived: low 0 and high 1 say just that */
    LOSS_NONE_LOST, /* no run: low 0, high 1; stat_loss_none_bound and stat_none_rate_bound tell */
    LOSS_RUNS,      /* a run or more: two-sided */
};

struct loss_interval {
    enum loss_method kind;
    const char *method; /* "unknown", "none lost", "loss runs": static text */
    double rate;        /* lost / packets; 0 for no packet */
    double low, high;   /* 0..1 */
};

/* The interval at `level` (0.95) for the mean loss over the time observed: the profile likelihood
 * of a two-state chain (chain.h), which holds from the first run on, joined with Fay and Feuer's
 * for the sum of the run lengths, which holds where a few long runs stand among many short ones.
 * The odds of loss are that sum over the packets that arrived.  A run that is still open counts as
 * ended here: else one lost packet at the very end would leave room for a loss of 100 %. */
void stat_loss_interval(const struct loss_runs *r, double level, struct loss_interval *out);

/* Fay and Feuer 1997, Stat. Med. 16:791: the mean of a weighted sum of Poisson counts.  `sum` of
 * weights seen, above 0; `squares`, the sum of their squares; `greatest`, the greatest weight that
 * one more event could have. */
struct stat_interval stat_weighted_sum(double sum, double squares, double greatest, double level);

/* What few runs can't tell: the one-sided bound on the loss *if* a drop of run_length packets may
 * come, the same formula's high end.  `lost` and `squares` of run lengths seen, `arrived` packets.
 */
double stat_loss_drop_bound(double lost, double squares, double arrived, double run_length,
                            double level);

/* None lost in `packets`: the one-sided bound on the loss *if* a drop lasts run_length packets (1
 * or more); about 3 run_length / packets at 95 %.  1 for no packet. */
double stat_loss_none_bound(uint64_t packets, double run_length, double level);

#endif
