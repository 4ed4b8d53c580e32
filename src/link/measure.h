/* The figures of the standards over the whole run of a bench, worked out when asked for. */
#ifndef LINK_MEASURE_H
#define LINK_MEASURE_H

#include "link/bench.h"
#include "link/bursts.h"
#include "link/gilbert.h"
#include "link/outages.h"
#include "link/regular.h"
#include "link/runs.h"
#include "stat/loss.h"

enum loss_ground {                    /* what the interval of the mean loss rests on */
                   GROUND_NONE,       /* there is none; see why */
                   GROUND_NONE_LOST,  /* no loss: a bound on drops a minute, see drops_a_minute */
                   GROUND_RUNS,       /* loss runs */
                   GROUND_COUNTS,     /* lost packets a report: their order isn't known */
                   GROUND_NOT_STEADY, /* the loss changed over the run: a pooled interval would mean
                                         nothing */
};

struct measures {
    bool loss_known;
    double loss; /* share of the counted packets, 0..1 */
    enum loss_ground ground;
    const char *method;     /* the same in words */
    const char *why;        /* of GROUND_NONE: what was missing, in words; else NULL */
    double low, high;       /* 95 %; of GROUND_RUNS and GROUND_COUNTS */
    double high_if_drop_1s; /* of these, where few runs were seen and none of 1 s: the loss, if a
                               drop of 1 s may come, 95 %; negative where there is no need of it */
    bool rate_judged;       /* loss is got against the packet rate: the interval allows for */
    bool rate_measured;     /* so great an error of that, which was measured, */
    double rate_error;      /* or is a tolerance; a share */
    double drops_a_minute;  /* of GROUND_NONE_LOST: no more than these, 95 % */
    double high_if_drop_10; /* likewise: the loss, if a drop lasts about ten packets */
    double observed_ms;     /* the time that packets were counted over; negative unknown */

    /* Whether loss stayed the same: no trend over the blocks (Mann-Kendall), and their scatter no
     * more than the runs explain.  Unknown with fewer than 8 blocks. */
    bool steady_known, steady;
    double trend_p, scatter_p; /* two-sided, one-sided; negative unknown */
    uint32_t blocks;
    int64_t block_ms;

    bool order_known; /* of all lost packets but a twentieth: else `runs` and `bursts` tell of too
                         few */
    struct runs runs;
    struct bursts_figures bursts;
    struct gilbert gilbert;
    double jitter_ms;      /* negative unknown: needs age and a rate */
    double jitter_peak_ms; /* likewise */
    uint64_t report_intervals;
    double report_ms, report_sd_ms; /* between reports that follow directly; negative unknown */
    int64_t report_longest_ms;
    struct regular_drift drift;
    struct outages outages;
};

/* Everything above; about as long as fifty thousand lines take. */
void bench_measure(const struct bench *b, struct measures *out);

#endif
