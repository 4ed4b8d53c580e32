/* What a channel's values do while nobody touches its stick: noise, outliers, drift, the size of
 * their steps, and whether a stick was moved after all. */
#ifndef JUDGE_STILL_H
#define JUDGE_STILL_H

#include "trial/trial.h"

enum { STILL_SAMPLES = 2048, STILL_BLOCKS = 32, STILL_BLOCK_LEAST = 8 };

/* Values of all channels, report by report; CHANNEL_OFF where a report has none.  When it is full
 * every other sample is dropped and half of those to come, so that the whole time stays in it.
 * All zero is empty. */
struct still_series {
    uint32_t count, every, skip; /* every: reports a sample stands for; 0 and 1 are the same */
    int64_t from_ms, last_ms;    /* link time of the first and the newest report */
    int64_t covered_ms;          /* time in which reports followed one another */
    int32_t value[CHANNELS_MAX][STILL_SAMPLES];
};
enum { STILL_GAP_MS = 1500 }; /* a longer wait between two reports isn't covered by them */

void still_add(struct still_series *s, const struct report *r, int64_t link_ms);

struct still_figures {
    uint32_t count; /* values; the rest holds from 2 on */
    double mean;    /* outliers left out, here and in what follows */
    double noise;   /* standard deviation within blocks of about a second, pooled: drift is apart */
    int32_t low, high;
    uint32_t outliers;     /* single values, or two in a row, far outside; */
    int32_t farthest;      /* how far the worst lies from the median */
    double median, far;    /* farther than `far` from the median is outside */
    bool touched;          /* it was moved: three and more far out in a row, or a block's median
                              away from another's */
    bool drift_known;      /* eight blocks at least */
    double drift, drift_p; /* over the whole time, by Sen's slope of the blocks' means; and the
                              chance of such a trend without drift (Mann and Kendall) */
    bool step_known;       /* there is more than one value */
    int32_t step;          /* least difference between two values that occur */
};

/* Figures of channel `c`; `scale` units are 1 µs of 1000.  False with fewer than two values. */
bool still_read(const struct still_series *s, uint32_t c, double scale, struct still_figures *out);

/* Pearson's coefficient of two channels' noise: deviations from each block's mean, outliers left
 * out.  fa and fb as read.  False where one doesn't change, or with fewer than 100 pairs. */
bool still_correlation(const struct still_series *s, uint32_t a, const struct still_figures *fa,
                       uint32_t b, const struct still_figures *fb, double *r);

/* Outliers of channel a that stand in the same report as one of channel b. */
uint32_t still_outliers_shared(const struct still_series *s, uint32_t a,
                               const struct still_figures *fa, uint32_t b,
                               const struct still_figures *fb);

#endif
