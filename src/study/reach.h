/* How far the link reaches: loss against the distance, over the stops of a range walk.
 *
 * The range R is the distance at which the loss, averaged over places, reaches the limit.  A few
 * places at that distance are far worse and most are better, so a handful of lucky stops says less
 * than their packets suggest; the fit allows for it.  At a stop i
 *     eta_i = eta0(tau) + b (x_i - log10 R) + tau z_i,   loss = 1 - exp(-e^eta),   x = log10 metres
 * (complementary log-log: exact for Rayleigh fading, where b = n ln 10 for a path-loss exponent n
 * and tau = sigma_dB ln 10 / 10 for a shadowing of sigma_dB); z is standard normal, and eta0 makes
 * the mean loss at R the limit.  Packets are lost in bursts: a stop's count as so many fewer.
 *
 * The spread by place is integrated over, not estimated and then believed, since a handful of stops
 * can't tell it (Berger, Liseo and Wolpert 1999, Statistical Science 14:1; from memory).  Priors:
 * log10 R flat from the nearest stop over 3.2 to 5 times the farthest; ln n normal about ln 4 with
 * 0.6, n from 1.2 to 24; tau/b flat from 0 to 0.5 decades.  tests/tools/walk_coverage.c counts how
 * often the bound holds.  Stops must be different places: where neighbours share their shadow, they
 * tell less than is believed here.
 *
 * Where the interval doesn't lie within the walk, the verdict says why, and only at_least_m and
 * at_most_m are left. */
#ifndef STUDY_REACH_H
#define STUDY_REACH_H

#include "study/walk.h"

enum { REACH_STOPS_LEAST = 3 }; /* with different distances */
enum { REACH_CURVE = 16 };      /* losses at which the curve is known */

struct reach_settings {
    double loss_limit, level; /* reach_settings_default: 0.1, 0.95 */
    bool sensitivity_known;
    double sensitivity_dbm;
};
void reach_settings_default(struct reach_settings *settings);

enum reach_verdict {
    REACH_CLOSED,     /* m, low_m, high_m hold; all within the walked span */
    REACH_FEW,        /* fewer than three distances with packets */
    REACH_NEVER_LOST, /* no stop lost as much as the limit */
    REACH_ALL_LOST,   /* every packet at every stop */
    REACH_FALLING,    /* the loss falls with the distance: no range at all, nor bounds */
    REACH_NOT_RISING, /* nor does it rise as distance makes it rise: likewise */
    REACH_WIDE,       /* the interval begins before the nearest stop and ends beyond the farthest */
    REACH_BEYOND,     /* it ends beyond the farthest stop */
    REACH_BEFORE,     /* it begins before the nearest one, or that one lost as much as the limit */
    REACH_VERDICTS
};
const char *reach_word(enum reach_verdict verdict);   /* "closed", "too few stops", ... */
const char *reach_reason(enum reach_verdict verdict); /* a sentence: what, and what would help */

struct reach_fit {
    bool known;    /* a stop lost as much as the limit, and a curve was found */
    double bursts; /* so many packets of a stop count as one */
    double slope, slope_low, slope_high; /* b above: cloglog of the loss for ten times the distance,
                                            at one place; its median and its interval */
    bool rises;                          /* the stops alone show that the loss grows (p < 0.05) */
    double spread_db;                    /* of places alike in distance: tau as decibels, median */
    /* Where the mean loss passes 0.09 %, 0.17 %, ... 99.9 %: medians and interval, ascending. */
    double curve_low_m[REACH_CURVE], curve_m[REACH_CURVE], curve_high_m[REACH_CURVE];
};

struct reach_exponent { /* path loss over log10 distance, from rssi; only packets that arrived have
                           one, so that far out it is too good and n too small */
    bool known;         /* three distances or more */
    double n, n_se, sigma_db;
    bool margin_known; /* rssi at the farthest such stop, above the receiver's sensitivity */
    double margin_db;
};

struct reach_flip {          /* where the one-bit carrier detection falls below half its looks */
    bool known;              /* both sides were walked */
    double low_m, m, high_m; /* between these stops; m by a straight line over log distance */
};

struct reach {
    enum reach_verdict verdict;
    double loss_limit;
    uint32_t stops;    /* used: one heading and one power setting, those with the most stops */
    uint32_t left_out; /* of another heading or power, or without packets or distance */
    char facing[WALK_FACING]; /* of those used */
    bool step_known;
    uint32_t step, steps; /* power of those used */
    double assumed_lost;  /* packets of outages in which the link died, put into the fit at the rate
                             of the other stops; in no total */
    double nearest_m, farthest_m; /* of those used */
    double m, low_m, high_m;      /* REACH_CLOSED only, else 0 */
    double at_least_m; /* R lies beyond this (one-sided at the level); the farthest stop at most; 0:
                          nothing shown */
    double at_most_m;  /* R lies before this, likewise; INFINITY: not shown */
    struct reach_fit fit;
    struct reach_exponent exponent;
    struct reach_flip flip;
};

void reach_find(const struct walk_stop *stops, uint32_t count,
                const struct reach_settings *settings, struct reach *out);

/* The mean loss at a distance, with its pointwise interval, out of the same posterior: it passes
 * the limit at m, and its edges at low_m and high_m.  It is that of places at the distance
 * together: single stops scatter beyond it.  False: no curve is known. */
struct reach_at {
    double loss, low, high; /* shares */
};
bool reach_at(const struct reach *r, double metres, struct reach_at *out);

/* What a walk at a power lower by reduced_db (above 0) tells of full power: near the ground the
 * power falls with 40 log10 of the distance, in free space with 20 log10, and it lies between.
 * low_m by the former from low_m or at_least_m, 0 where that is 0; high_m by the latter from high_m
 * or at_most_m, INFINITY where that is; fitted_m by the fitted exponent, where m and it are known,
 * else 0. */
struct reach_full {
    double low_m, fitted_m, high_m;
};
void reach_full_power(const struct reach *r, double reduced_db, struct reach_full *out);

#endif
