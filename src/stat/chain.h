/* The mean loss of a two-state chain (Gilbert 1960): arrived -> missing with chance p a packet,
 * missing -> arrived with chance r; the mean loss is p / (p + r).  Its interval is that of the
 * profile likelihood: all means for which the best p and r explain the packets nearly as well as
 * the best of all (twice the difference of log likelihood within the quantile of chi squared, 1
 * degree of freedom: Wilks 1938). */
#ifndef STAT_CHAIN_H
#define STAT_CHAIN_H

#include <stdint.h>

#include "stat/proportion.h"

/* Transitions from one packet to the next; the first index is the packet before, 1 missing. */
struct stat_chain {
    uint64_t n00, n01, n10, n11;
};

/* At `level` (0.95).  0..1 where there was no change between the states.  For a given mean the
 * best r has a closed form: with odds c = mean / (1 - mean) and p = c r, the derivative of the log
 * likelihood is 0 at the smaller root of c(a + n00 + n11) r^2 - (a(1 + c) + c n00 + n11) r + a,
 * a = n01 + n10 (our own algebra). */
struct stat_interval stat_chain_mean(const struct stat_chain *chain, double level);

#endif
