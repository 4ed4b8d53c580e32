/* How far the link reaches: loss against log10 of the distance, over the stops of a range walk.
 *
 * Stops scatter about any curve for two reasons, and the fit allows for both.  Packets are lost in
 * runs, so a stop knows its own loss less well than its packets suggest: `bursts` is that factor,
 * the larger of what blocks within stops show and what the loss runs do.  And a step aside changes
 * the loss: `between`, a standard deviation in logits, found from what the stops scatter beyond
 * their bursts (Williams 1982, Appl. Stat. 31:144, model III; median-unbiased as in Viechtbauer
 * 2021), and never taken below REACH_BETWEEN_LEAST, since eight stops can't prove that there is
 * none.  Limits are Fieller's, with Student's quantile for stops - 2.  One dispersion for all stops
 * was tried and held too seldom; tests/tools/walk_coverage.c measures both.
 *
 * Where the walk doesn't answer, the verdict says why, and no interval is closed: what is left then
 * is what the stops themselves prove, at_least_m and at_most_m. */
#ifndef STUDY_REACH_H
#define STUDY_REACH_H

#include "study/walk.h"

enum { REACH_STOPS_LEAST = 5 }; /* with different distances */
#define REACH_BETWEEN_LEAST 0.3 /* logits */
#define REACH_BETWEEN_MOST  1.5 /* logits: beyond it no smooth curve fits */

struct reach_settings {
    double loss_limit, level; /* reach_settings_default: 0.1, 0.95 */
    bool sensitivity_known;
    double sensitivity_dbm;
};
void reach_settings_default(struct reach_settings *settings);

enum reach_verdict {
    REACH_CLOSED,      /* m, low_m, high_m hold; all within the walked span */
    REACH_FEW,         /* fewer than five distances with packets */
    REACH_NEVER_LOST,  /* no stop lost as much as the limit */
    REACH_ALL_LOST,    /* every packet at every stop */
    REACH_SEPARATED,   /* all or nothing: no stop lies on the slope between */
    REACH_NOT_RISING,  /* the fitted loss doesn't grow with the distance */
    REACH_RIPPLE,      /* stops scatter about, or come back from, a rise: no smooth curve */
    REACH_MAY_BE_FLAT, /* the slope may be zero (Fieller's g >= 1) */
    REACH_BEYOND,      /* the estimate, or its upper limit, lies beyond the farthest stop */
    REACH_BEFORE,      /* the same before the nearest one */
    REACH_VERDICTS
};
const char *reach_word(enum reach_verdict verdict);   /* "closed", "too few stops", ... */
const char *reach_reason(enum reach_verdict verdict); /* a sentence: what, and what would help */

struct reach_fit {
    bool known;              /* a slope was found: from REACH_NOT_RISING on, and when closed */
    double intercept, slope; /* logit of the loss, per log10 metre */
    double v11, v12, v22;    /* covariance of the two, with both sorts of scatter in it */
    double bursts, between;
    double dispersion; /* both together, at the limit and for a stop's mean packets: variance over
                          that of independent packets */
    double df, quantile, g;
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
    double assumed_lost; /* packets of silences in which the link died, put into the fit at the rate
                            of the other stops; in no total */
    double nearest_m, farthest_m; /* of those used */
    double m, low_m, high_m;      /* REACH_CLOSED only, else 0 */
    double at_least_m; /* up to here the loss is shown to keep below the limit; 0: nothing shown */
    double at_most_m;  /* from here it is shown above it; INFINITY: not shown */
    struct reach_fit fit;
    struct reach_exponent exponent;
    struct reach_flip flip;
};

void reach_find(const struct walk_stop *stops, uint32_t count,
                const struct reach_settings *settings, struct reach *out);

/* The fitted curve at a distance, with its pointwise interval at the level of the settings:
 * line +- quantile * standard error on the logit scale, the loss out of both ends (McCullagh and
 * Nelder 1989, chapter 4).  Where it passes the loss limit it ends at low_m and high_m, since
 * Fieller's limits are the same interval read along the other axis.  It is the mean's: stops
 * scatter beyond it.  False: no fit, or none that a smooth curve is true to (REACH_RIPPLE). */
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
