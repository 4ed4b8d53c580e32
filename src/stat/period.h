/* Do events come in step with a clock?  Rayleigh's test at a known period, and a search over many.
 * Times in seconds, in any order, one an event: a drop of ten packets is one event, since its own
 * packets hang together.  Events that come in crowds mimic slow periods, and times that are
 * multiples of a resolution mimic its rate: the caller keeps the band below half that rate and
 * above a few turns a span.  Nothing is allocated. */
#ifndef STAT_PERIOD_H
#define STAT_PERIOD_H

#include <stdbool.h>
#include <stddef.h>

struct period_test {
    double r;     /* mean resultant length, 0 (spread over the turn) to 1 (all at one phase) */
    double phase; /* mean phase in turns, 0..1, of time 0 */
    double power; /* 2 count r^2; mean 2 where there is no period */
    double p;     /* exp(sqrt(1 + 4n + 4(n^2 - n^2 r^2)) - (1 + 2n)): Zar, Biostatistical Analysis,
                     chapter 27, from memory.  Within 1 % of the exact law (Kluyver 1906) down to
                     p = 0.01 at ten events, and too large, never too small, further out: the usual
                     series (Mardia and Jupp 2000, section 6.3) is too small there, by 5 at 2e-5 */
};
/* period above 0.  False without an event. */
bool stat_period_test(const double *times, size_t count, double period, struct period_test *out);

struct period_band {
    double least_hz, most_hz; /* 0 < least < most */
    size_t events_least;      /* fewer events: no search */
};
struct period_found {
    double hz, period;
    struct period_test at; /* its p takes no account of the search */
    double false_alarm;    /* chance of a power as high anywhere in the band, without any period */
    size_t tried;          /* frequencies of the grid, PERIOD_OVERSAMPLE a 1/span */
};
enum { PERIOD_OVERSAMPLE = 8, PERIOD_GRID_MAX = 1000000 };

/* The strongest frequency of the band.  The power along the frequency passes a level as a random
 * process does (Davies 1987, Biometrika 74:33; Baluev 2008, MNRAS 385:1279, from memory):
 * false_alarm = 1 - exp(-p (1 + sqrt(4 pi) s (most - least) sqrt(power/2))), s the standard
 * deviation of the times.  False with too few events, all at one time, a band out of order, or a
 * grid beyond PERIOD_GRID_MAX. */
bool stat_period_search(const double *times, size_t count, const struct period_band *band,
                        struct period_found *out);

#endif
