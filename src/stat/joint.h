/* Several tests of one set of arrangements, judged together: the greatest statistic over all tests
 * (Westfall and Young 1993, Resampling-Based Multiple Testing).  All tests see the same
 * arrangement, so what hangs together among them is kept.  Nothing is allocated. */
#ifndef STAT_JOINT_H
#define STAT_JOINT_H

#include <stddef.h>

/* Replaces the statistics of one test by their distance from the mean of all arrangements, in
 * standard deviations, so that tests of different units can be compared.  All 0 where they are
 * alike. */
void stat_joint_standardise(double *row, size_t arrangements);

/* table: `tests` rows of `arrangements` statistics; the first of each row is the one that was seen,
 * which counts as an arrangement too.  adjusted[k]: share of the arrangements whose greatest
 * statistic, over test k and all that were seen to be weaker, is at least as large as that of k;
 * none is below that of a stronger one (step-down).  In every case the chance of even one adjusted
 * value at or below a level is at most that level, where no test has anything to find and the
 * arrangements form a group (circular shifts do).  order: `tests` entries, most: `arrangements`
 * entries of the caller's. */
void stat_joint(const double *table, size_t tests, size_t arrangements, double *adjusted,
                size_t *order, double *most);

#endif
