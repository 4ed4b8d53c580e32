/* Variance of a mean of values that hang together in time, from blocks of neighbours: the exact
 * variance that a block bootstrap would simulate.  Nothing is allocated; time is count times 1. */
#ifndef STAT_BLOCK_H
#define STAT_BLOCK_H

#include <stdbool.h>
#include <stddef.h>

#include "stat/proportion.h"

struct stat_block {
    size_t blocks;   /* different blocks that may be drawn */
    double centre;   /* mean of a resampled series */
    double variance; /* of that mean; its root is the standard error */
};

/* Blocks that wrap round at the end (Politis and Romano 1992): `count` of them, centre the mean.
 * variance = mean squared distance of the block means from the centre, over count/length.  length
 * in 1..count.  False otherwise. */
bool stat_block_circular(const double *values, size_t count, size_t length, struct stat_block *out);

/* Blocks that don't wrap (Kuensch 1989, Ann. Stat. 17:1217): count - length + 1 of them, whose
 * centre isn't quite the mean. */
bool stat_block_moving(const double *values, size_t count, size_t length, struct stat_block *out);

/* Mean of independent block means with Student's t: its interval.  False with fewer than two. */
bool stat_block_mean_t(const double *block_means, size_t blocks, double level,
                       struct stat_interval *out);

#endif
