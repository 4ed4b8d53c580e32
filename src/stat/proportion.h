/* Proportions of independent trials, x of n.  Loss of packets pooled over time is none: its
 * interval is in loss.h.  `level` is the confidence, above 0 and below 1 (0.95); n is at least 1
 * and x at most n, unless said otherwise.  Nothing is allocated. */
#ifndef STAT_PROPORTION_H
#define STAT_PROPORTION_H

#include <stdbool.h>
#include <stdint.h>

struct stat_interval {
    double low, high;
};

/* Score interval: Wilson 1927, J. Am. Stat. Assoc. 22:209; Newcombe 1998, Stat. Med. 17:857,
 * method 3.  The ends are exactly 0 for x = 0 and exactly 1 for x = n; n = 0 gives 0..1. */
struct stat_interval stat_wilson(uint64_t x, uint64_t n, double level);

/* Exact interval: Clopper and Pearson 1934, Biometrika 26:404; ends as above. */
struct stat_interval stat_clopper_pearson(uint64_t x, uint64_t n, double level);

/* One-sided upper bound on the proportion after none in n: 1 - alpha^(1/n), the root of
 * (1-p)^n = alpha; alpha = 1 - level.  At 95 % about 3/n, the "rule of three". */
double stat_none_bound(uint64_t n, double level);

/* The same for a rate: after no event in `time`, at most -ln(alpha)/time events a unit of time (a
 * Poisson count that is 0 with probability alpha); INFINITY for no time. */
double stat_none_rate_bound(double time, double level);

/* Two-sided interval for the mean of a Poisson count: Garwood 1936, Biometrika 28:437. */
struct stat_interval stat_poisson_interval(uint64_t count, double level);

/* Exact two-sided test of "the proportion is p0": the sum of the probabilities that are at most
 * that of x (as R's binom.test; Conover 1971).  p0 in 0..1. */
double stat_binomial_test(uint64_t x, uint64_t n, double p0);

/* Difference x1/n1 - x2/n2, in -1..1: Newcombe 1998, Stat. Med. 17:873, method 10 (score limits of
 * each, no continuity correction). */
struct stat_interval stat_newcombe(uint64_t x1, uint64_t n1, uint64_t x2, uint64_t n2,
                                   double level);

/* Pooled z of the difference and its two-sided p.  False, with *z and *p untouched, where there is
 * no such z: all or none of both samples, or an empty one. */
bool stat_pooled_z(uint64_t x1, uint64_t n1, uint64_t x2, uint64_t n2, double *z, double *p);

/* Fisher's exact test of the table a b / c d, given its margins. */
struct stat_fisher {
    double two_sided; /* the tables at most as probable as this one */
    double greater;   /* first row has more of the first column than chance gives */
    double less;
    bool odds_known;         /* no margin is 0; else the three below are 0 */
    double odds_sample;      /* ad / bc, INFINITY where bc = 0 */
    double odds_conditional; /* the conditional maximum likelihood estimate, which R prints and
                                which is another number: 6.408 where the sample's is 9 */
    struct stat_interval
        odds; /* two-sided exact limits of the conditional odds ratio, at `level` */
};
/* Work grows with the smallest margin.  False where the table is empty. */
bool stat_fisher(uint64_t a, uint64_t b, uint64_t c, uint64_t d, double level,
                 struct stat_fisher *out);

#endif
