#include "stat/proportion.h"

#include <math.h>

#include "base/whole.h"
#include "stat/distribution.h"

struct stat_interval stat_wilson(uint64_t x, uint64_t n, double level) {
    struct stat_interval out = {0, 1};
    if (n == 0)
        return out;
    double z = stat_normal_quantile(0.5 + level / 2), count = (double)n, p = (double)x / count;
    double centre = (double)x + z * z / 2;
    double reach = z * sqrt((double)x * (1 - p) + z * z / 4);
    if (x > 0)
        out.low = (centre - reach) / (count + z * z);
    if (x < n)
        out.high = (centre + reach) / (count + z * z);
    return out;
}

struct stat_interval stat_clopper_pearson(uint64_t x, uint64_t n, double level) {
    struct stat_interval out = {0, 1};
    double side = (1 - level) / 2, hits = (double)x, misses = (double)(n - x);
    if (x > 0)
        out.low = stat_beta_quantile(side, hits, misses + 1);
    if (x < n)
        out.high = stat_beta_quantile(1 - side, hits + 1, misses);
    return out;
}

double stat_none_bound(uint64_t n, double level) {
    return n == 0 ? 1 : -expm1(log1p(-level) / (double)n);
}

double stat_none_rate_bound(double time, double level) {
    return time > 0 ? -log1p(-level) / time : INFINITY;
}

struct stat_interval stat_poisson_interval(uint64_t count, double level) {
    double side = (1 - level) / 2, twice = 2 * (double)count;
    return (struct stat_interval){stat_chi2_quantile(side, twice) / 2,
                                  stat_chi2_quantile(1 - side, twice + 2) / 2};
}

static double log_binomial(uint64_t x, uint64_t n, double p) {
    double hits = (double)x, misses = (double)(n - x);
    if ((p <= 0 && x > 0) || (p >= 1 && x < n))
        return -INFINITY;
    return lgamma((double)n + 1) - lgamma(hits + 1) - lgamma(misses + 1) +
           (x > 0 ? hits * log(p) : 0) + (x < n ? misses * log1p(-p) : 0);
}

/* P(X <= x) and P(X >= x). */
static double binomial_below(uint64_t x, uint64_t n, double p) {
    return x >= n ? 1 : stat_beta_below(1 - p, (double)(n - x), (double)x + 1);
}

static double binomial_above(uint64_t x, uint64_t n, double p) {
    return x == 0 ? 1 : stat_beta_below(p, (double)x, (double)(n - x) + 1);
}

/* First of low..high whose probability is at most `limit` (falling) or above it (rising). */
static uint64_t crossing(uint64_t low, uint64_t high, uint64_t n, double p, double limit,
                         bool rising) {
    while (low < high) {
        uint64_t middle = low + (high - low) / 2;
        if ((log_binomial(middle, n, p) > limit) == rising)
            high = middle;
        else
            low = middle + 1;
    }
    return low;
}

double stat_binomial_test(uint64_t x, uint64_t n, double p0) {
    if (p0 <= 0 || p0 >= 1)
        return x == (p0 <= 0 ? 0 : n) ? 1 : 0;
    /* Equal probabilities may differ in their last digits. */
    double limit = log_binomial(x, n, p0) + 1e-7, middle = (double)n * p0;
    if ((double)x == middle)
        return 1;
    uint64_t top = whole_u64(middle); /* the most probable count is it or the next one */
    double p;
    if ((double)x < middle) {
        uint64_t other = crossing(top + 1, n + 1, n, p0, limit, false);
        p = binomial_below(x, n, p0) + (other <= n ? binomial_above(other, n, p0) : 0);
    } else {
        uint64_t other = crossing(0, top + 1, n, p0, limit, true);
        p = (other > 0 ? binomial_below(other - 1, n, p0) : 0) + binomial_above(x, n, p0);
    }
    return p < 1 ? p : 1;
}

struct stat_interval stat_newcombe(uint64_t x1, uint64_t n1, uint64_t x2, uint64_t n2,
                                   double level) {
    if (n1 == 0 || n2 == 0)
        return (struct stat_interval){-1, 1};
    struct stat_interval a = stat_wilson(x1, n1, level), b = stat_wilson(x2, n2, level);
    double p1 = (double)x1 / (double)n1, p2 = (double)x2 / (double)n2;
    return (struct stat_interval){p1 - p2 - hypot(p1 - a.low, b.high - p2),
                                  p1 - p2 + hypot(a.high - p1, p2 - b.low)};
}

bool stat_pooled_z(uint64_t x1, uint64_t n1, uint64_t x2, uint64_t n2, double *z, double *p) {
    if (n1 == 0 || n2 == 0 || x1 + x2 == 0 || x1 + x2 == n1 + n2)
        return false;
    double pooled = (double)(x1 + x2) / (double)(n1 + n2);
    double variance = pooled * (1 - pooled) * (1 / (double)n1 + 1 / (double)n2);
    *z = ((double)x1 / (double)n1 - (double)x2 / (double)n2) / sqrt(variance);
    *p = 2 * stat_normal_tail(fabs(*z));
    return true;
}
