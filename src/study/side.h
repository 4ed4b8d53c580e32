/* One side of a comparison: one recording or several of the same state of things. */
#ifndef STUDY_SIDE_H
#define STUDY_SIDE_H

#include "stat/permute.h"
#include "stat/proportion.h"
#include "study/sample.h"

enum {
    SIDE_BLOCKS_LEAST = 8,  /* fewer tell nothing */
    SIDE_BLOCKS_MOST = 256, /* of the shortest length; more are joined */
    SIDE_RECORDINGS_MAX = 32,
};

struct side_samples {
    const struct sample *const *sample; /* at most SIDE_RECORDINGS_MAX */
    uint32_t count;                     /* 1 or more */
};

struct side {
    uint32_t recordings;
    bool counted; /* packets were, in each recording */
    uint64_t got, lost;
    double rate;               /* lost / packets */
    struct stat_interval loss; /* see side_limits; the comparison's to fill */
    uint32_t blocks;           /* of the shortest length; likewise */
    double minutes;            /* in which packets were counted */
    double rate_hz;            /* packets a second; 0 unknown, or not the same in all */
    enum evidence evidence;    /* the weakest */
    enum sample_ack ack;
    struct loss_runs runs;
    bool ordered; /* the order of nearly all lost packets is known: runs tell */
    /* sums; known where each recording has them */
    bool failsafe_known, registers_known, transmitter_restarts_known;
    uint64_t failsafes, settings_lost, receiver_restarts, transmitter_restarts;
};

/* Adds up. */
void side_read(const struct side_samples *samples, struct side *out);

/* What is compared: an amount a weight, block by block; a weight of 0 is a block without. */
typedef void side_weigh(const struct sample_block *block, int64_t block_ms, double *amount,
                        double *weight);
void side_weigh_loss(const struct sample_block *block, int64_t block_ms, double *amount,
                     double *weight);

/* Shortest length of blocks, ms: 2 s, 2.5 mean loss runs, and what the samples keep. */
int64_t side_block_ms(const struct side_samples *samples, const struct side *side);

/* The blocks of one recording into out (room for SAMPLE_BLOCKS), marked as given; how many. */
uint32_t side_blocks(const struct sample *s, int64_t block_ms, side_weigh *weigh, bool second,
                     unsigned int stratum, struct permute_block *out);

/* How many neighbouring blocks count as one, 1 or more: the integrated autocorrelation of the loss
 * about each recording's own mean, its sum cut off by Geyer's initial positive sequence (1992,
 * Stat. Sci. 7:473), each term freed of the bias that the mean brings.  Adds a recording; then
 * reads. */
enum { SIDE_LAGS = 64 };
struct side_alike {
    double products[SIDE_LAGS]; /* by lag, of distances from the mean */
    double blocks, recordings;
};
void side_alike_add(struct side_alike *sum, const struct permute_block *block, uint32_t count);
double side_alike_read(const struct side_alike *sum);

/* A side's loss by its blocks: the standard error of their ratio (Cochran, Sampling Techniques,
 * chapter 6), `alike` neighbours counting as one, and its degrees of freedom.  False with fewer
 * than 8 blocks. */
struct side_spread {
    double se, df;
};
bool side_spread(const struct side_samples *samples, int64_t block_ms, double alike,
                 struct permute_block *work, struct side_spread *out);

/* Interval of a side's loss at `level`: the wider of two.  By loss runs (stat/loss.h), where the
 * order of packets is known; where none was lost, `drop` packets are what a drop may last.  By the
 * spread of its blocks, Student's t; NULL: none. */
struct stat_interval side_limits(const struct side *side, const struct side_spread *spread,
                                 double drop, double level);

#endif
