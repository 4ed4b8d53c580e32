/* The mean loss where only counts are known: so many packets in a report, so many of them missing,
 * in whatever order.  The chain of chain.h is fitted by the likelihood of the counts: the sum over
 * all orders that give them, from report to report (a hidden chain's forward pass).
 *
 * Memory and work are bounded: reports are kept one by one until 2048 are; then neighbours are
 * joined in pairs, and so on, by their number and not by what they hold, so that the likelihood
 * stays a likelihood.  Joined counts know less of short runs, but there are many of them then. */
#ifndef STAT_COUNTS_H
#define STAT_COUNTS_H

#include <stdbool.h>
#include <stdint.h>

#include "stat/proportion.h"

enum { COUNTS_BLOCKS = 2048 };

struct counts_block {
    uint32_t packets, lost; /* at most 2^32 - 1: a block that would be greater is cut there */
};

/* All zero before the first report. */
struct loss_counts {
    uint64_t packets, lost;
    uint32_t halvings; /* a block is 2^halvings reports */
    uint32_t full;     /* blocks before block[full] are complete */
    uint32_t reports;  /* in block[full] */
    struct counts_block block[COUNTS_BLOCKS];
};

/* The next report told of `packets`, of which `lost` are missing.  One of none is passed over. */
void stat_counts_take(struct loss_counts *c, uint64_t packets, uint64_t lost);

/* Log likelihood of the counts under a chain that had run for long before (0 < p, r < 1). */
double stat_counts_likelihood(const struct loss_counts *c, double p, double r);

/* Variance of the losses over that of single ones, at least 1: what a mean run of (clump + 1) / 2
 * packets makes where run lengths are geometric. */
double stat_counts_clump(const struct loss_counts *c);

struct counts_interval {
    double mean, r; /* of the best chain; 0 where the scatter alone was used */
    double low, high;
    double clump;   /* as above */
    double longest; /* packets: the longest loss run may well have been so long */
};

/* The profile likelihood's interval alone. */
bool stat_counts_profile(const struct loss_counts *c, double level, struct counts_interval *out);

/* The interval at `level`: that of the profile likelihood, joined with Fay and Feuer's (loss.h) on
 * the scatter of the counts, which holds where runs of two sorts make the chain wrong.  False where
 * nothing is lost or nothing arrived.  Of a thousand loss runs or more the latter alone.  Some 10
 * ms of work at most. */
bool stat_counts_interval(const struct loss_counts *c, double level, struct counts_interval *out);

#endif
