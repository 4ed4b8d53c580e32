#include "stat/rank.h"

#include <math.h>

#include "stat/distribution.h"
#include "stat/sample.h"

/* Sum of t^3 - t over groups of t equal values, and of t(t-1)(2t+5), and of t(t-1)/2. */
struct ties {
    double cubes, kendall, pairs;
    size_t groups; /* different values */
};

static struct ties count_ties(const double *ascending, size_t count) {
    struct ties ties = {0, 0, 0, 0};
    for (size_t i = 0, next; i < count; i = next) {
        for (next = i + 1; next < count && ascending[next] <= ascending[i]; next++)
            ;
        double t = (double)(next - i);
        ties.cubes += t * t * t - t;
        ties.kendall += t * (t - 1) * (2 * t + 5);
        ties.pairs += t * (t - 1) / 2;
        ties.groups++;
    }
    return ties;
}

static double count_above(const double *x, size_t nx, const double *y, size_t ny) {
    double w = 0;
    for (size_t i = 0; i < nx; i++)
        for (size_t j = 0; j < ny; j++)
            w += x[i] > y[j] ? 1 : x[i] < y[j] ? 0 : 0.5;
    return w;
}

/* ways[u] = number of orders of nx and ny things with u pairs the one way: the coefficients of the
 * product of (1 - q^(ny+i)) / (1 - q^i) for i = 1..nx, in whole numbers. */
static void count_ways(double *ways, size_t nx, size_t ny) {
    size_t most = nx * ny;
    for (size_t u = 0; u <= most; u++)
        ways[u] = u == 0;
    for (size_t i = 1; i <= nx; i++) {
        for (size_t u = most; u >= ny + i; u--)
            ways[u] -= ways[u - ny - i];
        for (size_t u = i; u <= most; u++)
            ways[u] += ways[u - i];
    }
}

static void rank_exact(size_t nx, size_t ny, double *ways, struct stat_rank_sum *out) {
    double below = 0, above = 0, all = 0;
    count_ways(ways, nx, ny);
    for (size_t u = 0; u <= nx * ny; u++) {
        all += ways[u];
        below += (double)u <= out->w ? ways[u] : 0;
        above += (double)u >= out->w ? ways[u] : 0;
    }
    out->exact = true;
    out->less = below / all;
    out->greater = above / all;
    out->two_sided = fmin(1, 2 * fmin(out->less, out->greater));
}

static void rank_normal(size_t nx, size_t ny, double tie_cubes, struct stat_rank_sum *out) {
    double x = (double)nx, y = (double)ny, n = x + y, apart = out->w - x * y / 2;
    double sd = sqrt(x * y / 12 * (n + 1 - tie_cubes / (n * (n - 1))));
    out->exact = false;
    out->greater = stat_normal_tail((apart - 0.5) / sd);
    out->less = stat_normal_tail(-(apart + 0.5) / sd);
    out->two_sided = fmin(1, 2 * stat_normal_tail(fmax(0, fabs(apart) - 0.5) / sd));
}

size_t stat_rank_sum_work(size_t nx, size_t ny) {
    bool few = nx <= STAT_EXACT_MAX && ny <= STAT_EXACT_MAX;
    size_t product = few ? nx * ny + 1 : 0;
    return product > nx + ny ? product : nx + ny;
}

bool stat_rank_sum(const double *x, size_t nx, const double *y, size_t ny, double *work,
                   struct stat_rank_sum *out) {
    if (nx == 0 || ny == 0)
        return false;
    for (size_t i = 0; i < nx + ny; i++)
        work[i] = i < nx ? x[i] : y[i - nx];
    stat_sort(work, nx + ny);
    struct ties ties = count_ties(work, nx + ny);
    if (ties.groups < 2)
        return false;
    out->w = count_above(x, nx, y, ny);
    if (nx <= STAT_EXACT_MAX && ny <= STAT_EXACT_MAX && ties.pairs <= 0)
        rank_exact(nx, ny, work, out);
    else
        rank_normal(nx, ny, ties.cubes, out);
    return true;
}

static int64_t rises(const double *values, size_t count) {
    int64_t s = 0;
    for (size_t i = 0; i < count; i++)
        for (size_t j = i + 1; j < count; j++)
            s += (values[j] > values[i]) - (values[j] < values[i]);
    return s;
}

static double sen_slope(const double *values, size_t count, double *work) {
    size_t pairs = 0;
    for (size_t i = 0; i < count; i++)
        for (size_t j = i + 1; j < count; j++)
            work[pairs++] = (values[j] - values[i]) / (double)(j - i);
    stat_sort(work, pairs);
    return stat_quantile(work, pairs, 0.5);
}

bool stat_trend(const double *values, size_t count, double *work, size_t work_count,
                struct stat_trend *out) {
    if (count < 3 || work_count < count)
        return false;
    for (size_t i = 0; i < count; i++)
        work[i] = values[i];
    stat_sort(work, count);
    struct ties ties = count_ties(work, count);
    if (ties.groups < 2)
        return false;
    double n = (double)count, pairs = n * (n - 1) / 2;
    *out = (struct stat_trend){0};
    out->s = rises(values, count);
    out->variance = (n * (n - 1) * (2 * n + 5) - ties.kendall) / 18;
    out->z = (double)(out->s - (out->s > 0) + (out->s < 0)) / sqrt(out->variance);
    out->p = 2 * stat_normal_tail(fabs(out->z));
    out->tau_b = (double)out->s / sqrt(pairs * (pairs - ties.pairs));
    out->slope_known = work_count >= count * (count - 1) / 2;
    if (out->slope_known)
        out->slope = sen_slope(values, count, work);
    return true;
}

bool stat_runs_test(uint64_t n1, uint64_t n2, uint64_t runs, struct stat_runs *out) {
    double a = (double)n1, b = (double)n2, n = a + b;
    if (n1 == 0 || n2 == 0 || n1 + n2 < 3)
        return false;
    out->mean = 2 * a * b / n + 1;
    out->variance = 2 * a * b * (2 * a * b - n) / (n * n * (n - 1));
    out->z = ((double)runs - out->mean) / sqrt(out->variance);
    out->p = 2 * stat_normal_tail(fabs(out->z));
    return true;
}
