#include "stat/mover.h"

#include <math.h>

struct stat_interval stat_mover_difference(const struct mover *x, const struct mover *y) {
    double d = x->value - y->value;
    double below = hypot(x->value - x->limits.low, y->limits.high - y->value);
    double above = hypot(x->limits.high - x->value, y->value - y->limits.low);
    return (struct stat_interval){d - below, d + above};
}

/* The limits are where x - ratio y has a limit of 0: the roots of
 * r^2 (2y - u) u - 2 r x y + (2x - l) l and its like, written so that nothing cancels near 0. */
struct stat_interval stat_mover_ratio(const struct mover *x, const struct mover *y) {
    double xy = x->value * y->value;
    double low_x = x->limits.low * (2 * x->value - x->limits.low);
    double high_x = x->limits.high * (2 * x->value - x->limits.high);
    double low_y = y->limits.low * (2 * y->value - y->limits.low);
    double high_y = y->limits.high * (2 * y->value - y->limits.high);
    double sum = xy + sqrt(fmax(0, xy * xy - low_x * high_y));
    struct stat_interval out = {sum > 0 ? low_x / sum : 0, INFINITY};
    if (low_y > 0)
        out.high = (xy + sqrt(fmax(0, xy * xy - high_x * low_y))) / low_y;
    return out;
}
