#include "stat/period.h"

#include <math.h>

#include "base/whole.h"
#include "stat/sample.h"

enum { RUN = 64 }; /* frequencies that an event is turned through before its phase is made anew */
static const double TURN = 6.283185307179586;

static double chance_of(double n, double r) {
    double resultant = n * r;
    double p = exp(sqrt(1 + 4 * n + 4 * (n * n - resultant * resultant)) - (1 + 2 * n));
    return fmin(1, p);
}

static void describe(double sum_cos, double sum_sin, size_t count, struct period_test *out) {
    double n = (double)count, turns = atan2(sum_sin, sum_cos) / TURN;
    out->r = fmin(1, hypot(sum_cos, sum_sin) / n);
    out->phase = turns < 0 ? turns + 1 : turns;
    out->power = 2 * n * out->r * out->r;
    out->p = chance_of(n, out->r);
}

static double angle(double time, double hz) {
    double turns = time * hz;
    return TURN * (turns - floor(turns));
}

bool stat_period_test(const double *times, size_t count, double period, struct period_test *out) {
    double sum_cos = 0, sum_sin = 0;
    if (count == 0 || !(period > 0))
        return false;
    for (size_t i = 0; i < count; i++) {
        sum_cos += cos(angle(times[i], 1 / period));
        sum_sin += sin(angle(times[i], 1 / period));
    }
    describe(sum_cos, sum_sin, count, out);
    return true;
}

struct sums {
    double c[RUN], s[RUN];
};

/* Sums over the events at RUN frequencies from `hz` on: each event's pointer turns by the same
 * angle from one to the next, which spares all but two pairs of sine and cosine. */
static void sum_run(const double *times, size_t count, double origin, double hz, double step,
                    struct sums *out) {
    for (size_t k = 0; k < RUN; k++)
        out->c[k] = out->s[k] = 0;
    for (size_t i = 0; i < count; i++) {
        double t = times[i] - origin, a = angle(t, hz), b = angle(t, step);
        double c = cos(a), s = sin(a), turn_c = cos(b), turn_s = sin(b);
        for (size_t k = 0; k < RUN; k++) {
            out->c[k] += c;
            out->s[k] += s;
            double next = c * turn_c - s * turn_s;
            s = s * turn_c + c * turn_s;
            c = next;
        }
    }
}

static double strongest(const double *times, size_t count, double origin, double least, double step,
                        size_t steps) {
    double best_hz = least, best = -1;
    struct sums sums;
    for (size_t begin = 0; begin < steps; begin += RUN) {
        sum_run(times, count, origin, least + (double)begin * step, step, &sums);
        for (size_t k = 0; k < RUN && begin + k < steps; k++) {
            double power = sums.c[k] * sums.c[k] + sums.s[k] * sums.s[k];
            if (power > best) {
                best = power;
                best_hz = least + (double)(begin + k) * step;
            }
        }
    }
    return best_hz;
}

bool stat_period_search(const double *times, size_t count, const struct period_band *band,
                        struct period_found *out) {
    struct stat_moments m = {0, 0, 0};
    double first = INFINITY, last = -INFINITY, width = band->most_hz - band->least_hz;
    for (size_t i = 0; i < count; i++) {
        stat_moments_add(&m, times[i]);
        first = fmin(first, times[i]);
        last = fmax(last, times[i]);
    }
    if (count < 2 || count < band->events_least || !(last > first))
        return false;
    double step = 1 / ((last - first) * PERIOD_OVERSAMPLE), steps = floor(width / step) + 1;
    if (!(band->least_hz > 0) || !(width > 0) || !(steps <= PERIOD_GRID_MAX))
        return false;
    out->tried = (size_t)whole_u64(steps);
    out->hz = strongest(times, count, m.mean, band->least_hz, step, out->tried);
    out->period = 1 / out->hz;
    stat_period_test(times, count, out->period, &out->at);
    double sd = sqrt(m.squares / (double)count), passes = sqrt(2 * TURN) * sd * width;
    out->false_alarm = -expm1(-out->at.p * (1 + passes * sqrt(out->at.power / 2)));
    return true;
}
