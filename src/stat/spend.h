/* Looking at a growing sample more than once, with a total two-sided error of 5 %: group sequential
 * boundaries for at most five looks, planned beforehand, after equal portions of the data.  Tables:
 * Pocock 1977, Biometrika 64:191; O'Brien and Fleming 1979, Biometrics 35:549; as in Jennison and
 * Turnbull 2000, tables 2.1 and 2.3 (from memory; tests/unit/test_spend.c integrates the total). */
#ifndef STAT_SPEND_H
#define STAT_SPEND_H

#include <stdbool.h>

enum { SPEND_LOOKS_MAX = 5 };

enum spend_shape {
    SPEND_POCOCK, /* the same hurdle at each look: stops early for a large effect */
    SPEND_LATE,   /* O'Brien and Fleming: hurdles fall with the looks, the last is nearly the
                     ordinary one */
};

/* The z that |z| must pass at look 1..looks to stop there. */
struct spend_hurdle {
    double z;
    double p; /* the same as a two-sided p: with few blocks a Student's t is held against this */
};
/* False where looks isn't 1..SPEND_LOOKS_MAX or look not 1..looks. */
bool stat_spend(enum spend_shape shape, int looks, int look, struct spend_hurdle *out);

#endif
