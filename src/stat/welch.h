/* Two means whose spreads may differ: their difference and their ratio.  The values are means of
 * blocks of time, long enough that one doesn't tell of the next.  Nothing is allocated. */
#ifndef STAT_WELCH_H
#define STAT_WELCH_H

#include <stdbool.h>

#include "stat/proportion.h"
#include "stat/sample.h"

/* x less y: Welch 1947, Biometrika 34:28, with Satterthwaite's degrees of freedom. */
struct welch_difference {
    double value, se, df;
    double t, p; /* of "no difference", two-sided */
    struct stat_interval interval;
};
/* False where a side has fewer than two values, or neither has any spread. */
bool stat_welch(const struct stat_moments *x, const struct stat_moments *y, double level,
                struct welch_difference *out);

/* x over y, the limits by Fieller 1940; degrees of freedom as above, for x - ratio y at the ratio
 * seen (Tamhane and Logan 2004, J. Biopharm. Stat. 14:599, from memory).  bounded is false where y
 * may be zero (g >= 1): then low is -INFINITY and high INFINITY. */
struct welch_ratio {
    double value, df, g;
    bool bounded;
    struct stat_interval interval;
};
/* False as above, and where y's mean is 0. */
bool stat_welch_ratio(const struct stat_moments *x, const struct stat_moments *y, double level,
                      struct welch_ratio *out);

#endif
