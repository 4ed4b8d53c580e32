#include "stat/distribution.h"

#include <math.h>
#include <stdbool.h>

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>

/* The library's own inverses of the gamma and beta family give no number for large shapes (gamma
 * shape 1e6, beta 1000 and 1e6), so their quantiles are found here, by halving, from its
 * probabilities, which hold there. */
static const double LEAST = 1e-300, MOST = 1e300;

struct family {
    double (*below)(double x, const double *shape); /* P(X <= x) */
    double (*above)(double x, const double *shape); /* P(X > x) */
    double shape[2];
};

/* Asked for at each call, so that nobody has to remember a step at start-up: it is one store. */
static void keep_going(void) {
    gsl_set_error_handler_off();
}

/* Whether x lies below the quantile; p + q = 1, and the smaller of them tells it more exactly. */
static bool is_below(const struct family *f, double x, double p, double q) {
    return p <= q ? f->below(x, f->shape) < p : f->above(x, f->shape) > q;
}

/* Halves the ratio while the ends are far apart, then the distance, until no double lies between:
 * at most some hundred steps. */
static double search(const struct family *f, double p, double q, double low, double high) {
    for (int i = 0; i < 200; i++) {
        double middle = low > 0 && high > 4 * low ? sqrt(low) * sqrt(high) : low + (high - low) / 2;
        if (!(middle > low && middle < high))
            break;
        if (is_below(f, middle, p, q))
            low = middle;
        else
            high = middle;
    }
    return high;
}

/* The quantile of a family that lives on low_end..high_end. */
static double quantile(const struct family *f, double p, double high_end) {
    keep_going();
    if (!(p >= 0 && p <= 1))
        return NAN;
    if (p == 0)
        return 0;
    if (p == 1)
        return high_end;
    double x = search(f, p, 1 - p, LEAST, isinf(high_end) ? MOST : high_end);
    return isnan(f->below(x, f->shape)) ? NAN : x;
}

static double gamma_below(double x, const double *shape) {
    return gsl_cdf_gamma_P(x, shape[0], 1);
}

static double gamma_above(double x, const double *shape) {
    return gsl_cdf_gamma_Q(x, shape[0], 1);
}

/* (1 - x^2 + 2 x ln x) / (1-x)^2, by its series where both parts vanish. */
static double curve(double x) {
    double e = x - 1;
    if (fabs(e) < 1e-3)
        return -e / 3 + e * e / 6 - e * e * e / 10;
    return (1 - x * x + 2 * x * log(x)) / (e * e);
}

/* The normal deviate of "X <= x" for a beta distribution of large shapes: Peizer and Pratt 1968,
 * J. Am. Stat. Assoc. 63:1416.  The library's continued fraction gives up there. */
static double peizer_pratt(double x, double a, double b) {
    double mean = a / (a + b), far = 50 * sqrt(mean * (1 - mean) / (a + b));
    if (fabs(x - mean) > far) /* where the formula's parts would overflow */
        return x < mean ? -INFINITY : INFINITY;
    double s = a - 0.5, t = b - 0.5, n = a + b - 1, y = 1 - x;
    double d = s + 1.0 / 6 - (n + 1.0 / 3) * x +
               0.02 * (y / (s + 0.5) - x / (t + 0.5) + (y - 0.5) / (n + 1));
    double spread = (1 + y * curve(s / (n * x)) + x * curve(t / (n * y))) / ((n + 1.0 / 6) * x * y);
    return -d * sqrt(spread);
}

static bool is_large(double a, double b) {
    static const double limit = 2e4;
    return a > limit && b > limit;
}

static double beta_below(double x, const double *shape) {
    if (is_large(shape[0], shape[1]))
        return gsl_cdf_ugaussian_P(peizer_pratt(x, shape[0], shape[1]));
    return gsl_cdf_beta_P(x, shape[0], shape[1]);
}

static double beta_above(double x, const double *shape) {
    if (is_large(shape[0], shape[1]))
        return gsl_cdf_ugaussian_Q(peizer_pratt(x, shape[0], shape[1]));
    return gsl_cdf_beta_Q(x, shape[0], shape[1]);
}

/* F = (df2/df1) B/(1-B), B of the beta distribution with half the degrees. */
static double f_below(double x, const double *shape) {
    const double half[2] = {shape[0] / 2, shape[1] / 2};
    if (is_large(half[0], half[1]))
        return beta_below(shape[0] * x / (shape[0] * x + shape[1]), half);
    return gsl_cdf_fdist_P(x, shape[0], shape[1]);
}

static double f_above(double x, const double *shape) {
    const double half[2] = {shape[0] / 2, shape[1] / 2};
    if (is_large(half[0], half[1]))
        return beta_above(shape[0] * x / (shape[0] * x + shape[1]), half);
    return gsl_cdf_fdist_Q(x, shape[0], shape[1]);
}

double stat_normal_quantile(double p) {
    keep_going();
    return p >= 0 && p <= 1 ? gsl_cdf_ugaussian_Pinv(p) : NAN;
}

double stat_gamma_quantile(double p, double shape, double scale) {
    const struct family f = {gamma_below, gamma_above, {shape, 0}};
    return shape > 0 && scale > 0 ? scale * quantile(&f, p, INFINITY) : NAN;
}

double stat_chi2_quantile(double p, double df) {
    if (df == 0 && p >= 0 && p <= 1)
        return 0;
    return stat_gamma_quantile(p, df / 2, 2);
}

double stat_beta_quantile(double p, double a, double b) {
    const struct family f = {beta_below, beta_above, {a, b}};
    return a > 0 && b > 0 ? quantile(&f, p, 1) : NAN;
}

double stat_f_quantile(double p, double df1, double df2) {
    const struct family f = {f_below, f_above, {df1, df2}};
    return df1 > 0 && df2 > 0 ? quantile(&f, p, INFINITY) : NAN;
}

static double t_below(double x, const double *shape) {
    return gsl_cdf_tdist_P(x, shape[0]);
}

static double t_above(double x, const double *shape) {
    return gsl_cdf_tdist_Q(x, shape[0]);
}

/* Symmetric about 0: only the upper half is searched. */
double stat_t_quantile(double p, double df) {
    const struct family f = {t_below, t_above, {df, 0}};
    if (!(p >= 0 && p <= 1 && df > 0))
        return NAN;
    if (p == 0.5)
        return 0;
    double tail = p < 0.5 ? p : 1 - p;
    if (tail == 0)
        return p < 0.5 ? -INFINITY : INFINITY;
    keep_going();
    double t = search(&f, 1 - tail, tail, LEAST, MOST);
    return p < 0.5 ? -t : t;
}

double stat_normal_tail(double x) {
    keep_going();
    return gsl_cdf_ugaussian_Q(x);
}

double stat_t_tail(double x, double df) {
    keep_going();
    return df > 0 ? gsl_cdf_tdist_Q(x, df) : NAN;
}

double stat_chi2_tail(double x, double df) {
    keep_going();
    return df > 0 ? gsl_cdf_chisq_Q(x, df) : NAN;
}

double stat_f_tail(double x, double df1, double df2) {
    const double df[2] = {df1, df2};
    keep_going();
    return df1 > 0 && df2 > 0 ? f_above(x, df) : NAN;
}

double stat_beta_below(double x, double a, double b) {
    const double shape[2] = {a, b};
    keep_going();
    return a > 0 && b > 0 ? beta_below(x, shape) : NAN;
}

double stat_gamma_below(double x, double shape) {
    keep_going();
    return shape > 0 ? gsl_cdf_gamma_P(x, shape, 1) : NAN;
}
