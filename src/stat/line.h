/* Straight lines by least squares.  Nothing is allocated. */
#ifndef STAT_LINE_H
#define STAT_LINE_H

#include <stdbool.h>
#include <stddef.h>

/* y = intercept + slope x + error.  Sums are taken about the means, so that large values of small
 * spread keep their digits. */
struct line_fit {
    size_t count;
    double intercept, slope;
    double intercept_se, slope_se; /* 0 where count is 2 */
    double residual_sd;            /* divisor count - 2; 0 where count is 2: unknown, not small */
    double r2;                     /* share of y's squares that the line takes; 1 for a flat y */
    double mean_x, squares_x;      /* of x: mean, and sum of squared distances from it */
};
/* False with fewer than two different x. */
bool stat_line_fit(const double *x, const double *y, size_t count, struct line_fit *out);

/* Standard error of the fitted line at x. */
double stat_line_se_at(const struct line_fit *fit, double x);

/* The line that must go through (x0, y0): y = y0 + slope (x - x0).  A path-loss exponent with a
 * fixed reference distance is such a slope over -10 log10 of the distance (Rappaport, Wireless
 * Communications, section 4.9: there sigma has the divisor `count`, the reference included). */
struct line_through {
    size_t count;
    double slope;
    double slope_se;      /* 0 where count is 1 */
    double squares;       /* sum of squared residuals */
    double sd_n, sd_less; /* divisor count, and count - 1 (0 where count is 1) */
};
/* False where every x is x0. */
bool stat_line_through(const double *x, const double *y, size_t count, double x0, double y0,
                       struct line_through *out);

#endif
