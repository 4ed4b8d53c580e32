/* Describing one series of numbers.  Nothing is allocated. */
#ifndef STAT_SAMPLE_H
#define STAT_SAMPLE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Mean and spread in one pass that doesn't lose a small variance on a large mean: Welford 1962,
 * Technometrics 4:419.  Units are those of the values.  All zero is the state with no value. */
struct stat_moments {
    uint64_t count;
    double mean;
    double squares; /* sum of squared distances from the mean */
};
void stat_moments_add(struct stat_moments *m, double value);
/* Joins b into a, as if its values had been added (Chan, Golub and LeVeque 1983). */
void stat_moments_join(struct stat_moments *a, const struct stat_moments *b);
/* Standard deviation, divisor count - 1.  False with fewer than two values. */
bool stat_moments_sd(const struct stat_moments *m, double *sd);

/* Ascending, in place, without memory of its own; no NaN among the values. */
void stat_sort(double *values, size_t count);

/* Quantile of ascending values, p in 0..1, by definition 7 of Hyndman and Fan 1996, Am. Stat.
 * 50:361 (R's default): linear between the values at (count-1)p.  count at least 1. */
double stat_quantile(const double *ascending, size_t count, double p);

/* Lag-1 autocorrelation as NIST certifies it: the sum of products of neighbours over the *full*
 * sum of squares, both about the mean of all.  False with fewer than two values or no spread. */
bool stat_lag1(const double *values, size_t count, double *r1);

#endif
