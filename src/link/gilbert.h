/* The two-state Markov model of loss (Gilbert 1960, with no loss in the good state and nothing but
 * loss in the bad one), fitted by maximum likelihood from the counts of transitions.  Its run
 * lengths are geometric with mean 1/r; it is no model of a link whose loss changes over time. */
#ifndef LINK_GILBERT_H
#define LINK_GILBERT_H

#include <stdbool.h>
#include <stdint.h>

enum gilbert_lack {
    GILBERT_FITTED,
    GILBERT_NO_PAIRS,           /* no two packets in a row with known outcomes */
    GILBERT_NO_LOSS,            /* p = 0 and nothing to tell r: all arrived */
    GILBERT_ALL_LOST,           /* r = 0 and nothing to tell p */
    GILBERT_NO_ONSET,           /* p = 0: loss ended and never began again */
    GILBERT_NO_RETURN,          /* r = 0: loss began and never ended */
    GILBERT_ONE_LOSS_AT_END,    /* no missing packet has a successor: p is known, r isn't */
    GILBERT_ONE_ARRIVED_AT_END, /* no arrived packet has a successor: r is known, p isn't */
};

/* A negative probability, run or chi2 is unknown; the correlation has its own flag. */
struct gilbert {
    enum gilbert_lack lack; /* the first thing that keeps a figure from being known */
    uint64_t pairs;
    double p;    /* share of arrived packets that a missing one follows */
    double r;    /* share of missing ones that an arrived one follows */
    double loss; /* stationary: p / (p + r); differs from the counted loss by end effects */
    double run;  /* mean length of a loss run, 1 / r */
    bool correlation_known;
    double correlation; /* of neighbours: 1 - p - r; 0 when they are independent */
    double chi2;        /* Pearson's, 1 degree of freedom, uncorrected, against independence */
    bool chi2_weak;     /* some expected count is under 5 (common practice): don't lean on it */
};

/* nab: pairs of neighbours a, b; 0 arrived, 1 missing. */
struct gilbert gilbert_fit(uint64_t n00, uint64_t n01, uint64_t n10, uint64_t n11);

#endif
