/* Several questions to the same data: each answer must be stricter. */
#ifndef STAT_MANY_H
#define STAT_MANY_H

#include <stddef.h>

/* Holm's step-down (Holm 1979, Scand. J. Stat. 6:65): adjusted[i] is p[i]'s value with the chance
 * of even one false alarm among all of them kept.  The smallest of m is multiplied by m, the next
 * by m - 1, and so on; none gets less than one before it, none more than 1.  A NaN is a question
 * that wasn't asked: it stays NaN and doesn't count.  adjusted may not be p.  Time count^2. */
void stat_holm(const double *p, size_t count, double *adjusted);

#endif
