#include "stat/block.h"

#include <math.h>

#include "stat/distribution.h"
#include "stat/sample.h"

/* Moments of the means of the `blocks` blocks that begin at the first values, by a sum that slides;
 * what it adds up is the distance from the mean, lest a large mean eat the digits. */
static void describe(const double *values, size_t count, size_t length, size_t blocks,
                     struct stat_block *out) {
    struct stat_moments all = {0, 0, 0}, means = {0, 0, 0};
    for (size_t i = 0; i < count; i++)
        stat_moments_add(&all, values[i]);
    double sum = 0;
    for (size_t i = 0; i < length; i++)
        sum += values[i] - all.mean;
    for (size_t begin = 0; begin < blocks; begin++) {
        stat_moments_add(&means, all.mean + sum / (double)length);
        sum += values[(begin + length) % count] - values[begin];
    }
    out->blocks = blocks;
    out->centre = means.mean;
    out->variance = means.squares / (double)blocks * (double)length / (double)count;
}

bool stat_block_circular(const double *values, size_t count, size_t length,
                         struct stat_block *out) {
    if (count == 0 || length == 0 || length > count)
        return false;
    describe(values, count, length, count, out);
    return true;
}

bool stat_block_moving(const double *values, size_t count, size_t length, struct stat_block *out) {
    if (count == 0 || length == 0 || length > count)
        return false;
    describe(values, count, length, count - length + 1, out);
    return true;
}

bool stat_block_mean_t(const double *block_means, size_t blocks, double level,
                       struct stat_interval *out) {
    struct stat_moments m = {0, 0, 0};
    double sd;
    for (size_t i = 0; i < blocks; i++)
        stat_moments_add(&m, block_means[i]);
    if (!stat_moments_sd(&m, &sd))
        return false;
    double reach =
        stat_t_quantile(0.5 + level / 2, (double)(blocks - 1)) * sd / sqrt((double)blocks);
    out->low = m.mean - reach;
    out->high = m.mean + reach;
    return true;
}
