#include <math.h>

#include "causes/causes_parts.h"
#include "stat/distribution.h"
#include "stat/period.h"
#include "stat/sample.h"

/* --- the rhythm ------------------------------------------------------------------------------- */

enum { RHYTHM_TIMES = 256, RHYTHM_SPAN_MS = 240000 };

/* The stretch with the most losses, not too long: clocks drift, and work grows with both. */
static uint32_t densest(const struct trace *t, double *times) {
    uint32_t best = 0, best_from = 0;
    for (uint32_t from = 0, to = 0; from < t->loss_times; from++) {
        while (to < t->loss_times && to - from < RHYTHM_TIMES &&
               t->loss_ms[to] - t->loss_ms[from] <= RHYTHM_SPAN_MS)
            to++;
        if (to - from > best) {
            best = to - from;
            best_from = from;
        }
    }
    for (uint32_t i = 0; i < best; i++)
        times[i] = (t->loss_ms[best_from + i] - t->loss_ms[best_from]) / 1000;
    return best;
}

/* Power at a period when each second's losses turn together: losses in a fade hang together, and
 * the packets' own spacing gives them a common phase, so that a fade is one draw, not many.  Under
 * no clock the seconds' sums have phases of their own: 2 R^2 / sum |v|^2 is then about chi-square
 * with two degrees of freedom, as Rayleigh's power is. */
static double power_by_spell(const double *times, uint32_t count, double period) {
    static const double spell_s = 2, turn = 6.283185307179586;
    double x = 0, y = 0, squares = 0;
    for (uint32_t i = 0; i < count;) {
        double vx = 0, vy = 0, from = floor(times[i] / spell_s);
        for (; i < count && floor(times[i] / spell_s) <= from; i++) {
            vx += cos(turn * times[i] / period);
            vy += sin(turn * times[i] / period);
        }
        x += vx;
        y += vy;
        squares += vx * vx + vy * vy;
    }
    return squares > 0 ? 2 * (x * x + y * y) / squares : 0;
}

/* Davies 1987, as in stat/period.h, with that power instead. */
static double false_alarm(const double *times, uint32_t count, double power,
                          const struct period_band *band) {
    struct stat_moments m = {0};
    double sd = 0;
    for (uint32_t i = 0; i < count; i++)
        stat_moments_add(&m, times[i]);
    if (!stat_moments_sd(&m, &sd))
        return 1;
    double turns = sqrt(4 * 3.141592653589793) * sd * (band->most_hz - band->least_hz);
    return -expm1(-exp(-power / 2) * (1 + turns * sqrt(power / 2)));
}

bool causes_rhythm(const struct trace *t, struct causes_rhythm *out) {
    double times[RHYTHM_TIMES];
    struct period_found found;
    uint32_t count = densest(t, times);
    double rate = t->rate_hz > 0 ? t->rate_hz : 50;
    /* Below 2 Hz crowds of losses look like a period; from half the packet rate on, the packets'
     * own spacing does. */
    struct period_band band = {.least_hz = 2, .most_hz = rate * 0.45, .events_least = 20};
    *out = (struct causes_rhythm){.events = count};
    if (count < band.events_least || band.most_hz <= band.least_hz ||
        !stat_period_search(times, count, &band, &found))
        return false;
    out->period_ms = 1000 * found.period;
    for (uint32_t i = 0; i < count; i++) {
        double off = times[i] / found.period - found.at.phase;
        off -= floor(off + 0.5);
        out->explained += fabs(off) < 0.125;
    }
    out->expected = 0.25 * count;
    out->p = false_alarm(times, count, power_by_spell(times, count, found.period), &band);
    return true;
}

/* --- outages at regular intervals ------------------------------------------------------------- */

enum { REGULAR_LEAST = 8 };

/* Gaps within 4 % of their median, or of twice it where one outage was missed.  Where outages come
 * at random that is so for 4 % of them; a fifth is allowed for crowds and for fades that come
 * somewhat evenly, so that the tail of the binomial is no overstatement. */
bool causes_regular(const double *begin_ms, uint32_t count, double *work,
                    struct causes_rhythm *out) {
    static const double within = 0.04, by_chance = 0.2;
    *out = (struct causes_rhythm){.events = count};
    if (count < REGULAR_LEAST)
        return false;
    uint32_t gaps = count - 1, others = gaps - 1, like = 0;
    for (uint32_t i = 0; i < gaps; i++)
        work[i] = begin_ms[i + 1] - begin_ms[i];
    stat_sort(work, gaps);
    double usual = work[gaps / 2];
    for (uint32_t i = 0; i < gaps; i++)
        like +=
            fabs(work[i] - usual) < within * usual || fabs(work[i] - 2 * usual) < within * usual;
    like -= 1; /* the median itself */
    out->period_ms = usual;
    out->explained = like + 1;
    out->expected = by_chance * others + 1;
    /* P(X >= like), X binomial: the regularised incomplete beta function. */
    out->p = like > 0 ? stat_beta_below(by_chance, like, others - like + 1.0) : 1;
    return usual > 2 * TRACE_APART_MS;
}
