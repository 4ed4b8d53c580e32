/* Tests that rest on order alone.  Work arrays are the caller's; nothing is allocated. */
#ifndef STAT_RANK_H
#define STAT_RANK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Rank-sum test of two samples (Wilcoxon; Mann and Whitney 1947; Hollander and Wolfe). */
struct stat_rank_sum {
    double w;                        /* pairs with x above y, a tie counting a half: R's W */
    bool exact;                      /* else: normal with corrections for ties and continuity */
    double two_sided, greater, less; /* greater: x tends to lie above y */
};
enum { STAT_EXACT_MAX = 25 }; /* exact while both samples have at most so many and no tie */

/* Doubles that `work` must have. */
size_t stat_rank_sum_work(size_t nx, size_t ny);
/* False where a sample is empty, or where all values are equal (no test). */
bool stat_rank_sum(const double *x, size_t nx, const double *y, size_t ny, double *work,
                   struct stat_rank_sum *out);

/* Trend of a series in equal steps: Mann 1945, Econometrica 13:245; Kendall 1975, with ties. */
struct stat_trend {
    int64_t s;       /* rising pairs less falling ones */
    double variance; /* of s without trend, ties taken into account */
    double z;        /* (s -+ 1) / sqrt(variance), 0 for s = 0 */
    double p;        /* two-sided */
    double tau_b;    /* Kendall's, for ties in the values */
    bool slope_known;
    double slope; /* Sen 1968: the median of all pairs' slopes, a step */
};
/* work: `count` doubles, or with the slope count(count-1)/2 of them if that is more; work_count
 * says which.  Time grows as count squared.  False with fewer than 3 values or all of them equal.
 */
bool stat_trend(const double *values, size_t count, double *work, size_t work_count,
                struct stat_trend *out);

/* Number of runs in an order of n1 things of one sort and n2 of another: Wald and Wolfowitz 1940.
 * z without continuity correction; few runs (clumps) make it negative.  False where n1 or n2 is 0
 * or the variance is. */
struct stat_runs {
    double mean, variance, z, p; /* p two-sided, normal */
};
bool stat_runs_test(uint64_t n1, uint64_t n2, uint64_t runs, struct stat_runs *out);

#endif
