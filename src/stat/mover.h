/* Difference and ratio of two independent figures out of the limits of each, which need not lie
 * evenly about them: MOVER.  A figure lies within its limits. */
#ifndef STAT_MOVER_H
#define STAT_MOVER_H

#include "stat/proportion.h"

struct mover {
    double value;
    struct stat_interval limits;
};

/* x less y: Zou and Donner 2008, Stat. Med. 27:1693. */
struct stat_interval stat_mover_difference(const struct mover *x, const struct mover *y);

/* x over y, none below 0: Donner and Zou 2012, Stat. Methods Med. Res. 21:347.  It includes 1 where
 * the difference includes 0.  high is INFINITY where y may be 0. */
struct stat_interval stat_mover_ratio(const struct mover *x, const struct mover *y);

#endif
