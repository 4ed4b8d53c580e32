#include "stat/many.h"

#include <math.h>

/* Index of the smallest p that has no adjusted value yet (below 0); count where there is none. */
static size_t smallest_left(const double *p, const double *adjusted, size_t count) {
    size_t at = count;
    for (size_t i = 0; i < count; i++)
        if (adjusted[i] < 0 && (at == count || p[i] < p[at]))
            at = i;
    return at;
}

void stat_holm(const double *p, size_t count, double *adjusted) {
    size_t asked = 0;
    for (size_t i = 0; i < count; i++) {
        adjusted[i] = isnan(p[i]) ? NAN : -1;
        asked += isnan(p[i]) ? 0 : 1;
    }
    double before = 0;
    for (size_t left = asked; left > 0; left--) {
        size_t i = smallest_left(p, adjusted, count);
        before = fmin(1, fmax(before, (double)left * p[i]));
        adjusted[i] = before;
    }
}
