/* Loss against one covariate x by binomial logistic regression: ln(p/(1-p)) = intercept + slope x,
 * by maximum likelihood (McCullagh and Nelder 1989, chapter 4).  Covariances and limits take a
 * dispersion, since lost packets come in runs: a fit that believed in independent packets would
 * give intervals that are far too narrow.  Nothing is allocated. */
#ifndef STAT_LOGIT_H
#define STAT_LOGIT_H

#include <stdbool.h>
#include <stddef.h>

#include "stat/proportion.h"

struct logit_point {
    double x;
    double lost, packets; /* lost at most packets; a point without packets doesn't count.  Both may
                             be multiplied by a weight, below 1 where packets hang together */
};

enum logit_kind {
    LOGIT_FITS,
    LOGIT_FEW,       /* fewer than two different x */
    LOGIT_NONE_LOST, /* no slope: nothing was lost */
    LOGIT_ALL_LOST,
    LOGIT_SEPARATED, /* an x parts what arrived from what was lost: the best slope is infinite */
    LOGIT_DIVERGES,  /* no maximum found in 100 steps */
};

struct logit_fit {
    size_t points; /* those with packets */
    double intercept, slope;
    double v11, v12, v22; /* covariance of intercept and slope at dispersion 1 */
    double deviance;      /* from the model that gives each point its own loss */
    double pearson;       /* sum of (lost - expected)^2 / variance */
    double df;            /* points - 2; 0 where the line goes through both */
};

/* *out is only written where the answer is LOGIT_FITS.  pearson/df is the dispersion between
 * points, where df isn't 0. */
enum logit_kind stat_logit_fit(const struct logit_point *points, size_t count,
                               struct logit_fit *out);

/* How far the covariance is to be trusted: it is multiplied by `dispersion` (1: independent
 * packets), and the quantile is Student's with `df`; df INFINITY takes the normal one. */
struct logit_trust {
    double dispersion, df, level;
};

/* The x at which the loss passes p (0 < p < 1): Fieller 1940; Finney, Probit Analysis, chapter 4.
 * Where the slope may be zero (g >= 1) no interval is closed: bounded is false, low and high are
 * -INFINITY and INFINITY. */
struct logit_where {
    double x, se;    /* se by the delta method, for comparison only */
    double g;        /* squared (quantile times standard error of the slope / slope) */
    double quantile; /* that was used */
    bool bounded;
    double low, high;
};
/* False where the slope is 0, or an argument lies outside its range. */
bool stat_logit_fieller(const struct logit_fit *fit, double p, const struct logit_trust *trust,
                        struct logit_where *out);

/* Fitted loss at x, its interval made on the logit scale. */
struct logit_at {
    double eta, se; /* logit and its standard error */
    double p, low, high;
};
void stat_logit_at(const struct logit_fit *fit, double x, const struct logit_trust *trust,
                   struct logit_at *out);

/* Profile likelihood limits: the values at which the deviance, the other coefficient fitted anew,
 * has grown by dispersion times squared quantile (Venables and Ripley, MASS 4e, section 8.4).
 * False where none was found. */
enum logit_coefficient { LOGIT_INTERCEPT, LOGIT_SLOPE };
bool stat_logit_profile(const struct logit_point *points, size_t count, const struct logit_fit *fit,
                        enum logit_coefficient which, const struct logit_trust *trust,
                        struct stat_interval *out);

#endif
