/* Comparing numbers with what a source prints.  Include after cmocka.h. */
#ifndef UNIT_NEAR_H
#define UNIT_NEAR_H

#include <math.h>

#include "stat/proportion.h"

static inline void near(const char *legend, double got, double expected, double tolerance) {
    if (!(fabs(got - expected) <= tolerance))
        fail_msg("%s: got %.15g, expected %.15g", legend, got, expected);
}

static inline void near_share(const char *legend, double got, double expected, double share) {
    near(legend, got, expected, share * fabs(expected));
}

static inline void between(const char *legend, struct stat_interval got, double low, double high,
                           double tolerance) {
    near(legend, got.low, low, tolerance);
    near(legend, got.high, high, tolerance);
}

#endif
