/* By how much full power is above that of a walk, and so what the walk tells of full power. */
#ifndef STUDY_REDUCED_H
#define STUDY_REDUCED_H

#include "study/reach.h"

enum reduced_kind {
    REDUCED_NOT,       /* walked at full power */
    REDUCED_NO_STEP,   /* the reports don't tell the power step */
    REDUCED_NO_DB,     /* a step of a transmitter whose steps aren't known */
    REDUCED_AMPLIFIED, /* amplifiers saturate: the steps before them tell nothing */
    REDUCED_GIVEN,     /* by the person */
    REDUCED_ON_SPOT,   /* two stops at one distance and heading, one at full power, with rssi */
    REDUCED_BY_STEPS,  /* the chip's: 6 dB each (chip_step_dbm) */
};

struct reduced {
    enum reduced_kind kind;
    double db; /* above 0 from REDUCED_GIVEN on, else 0 */
    struct reach_full full;
    bool full_known; /* the walk bounds the range on one side at least, and db is known */
};

/* given_db: 0 where the person gave none.  full_step: 0 unknown. */
void reduced_find(const struct walk *w, const struct reach *r, uint32_t full_step, bool amplified,
                  double given_db, struct reduced *out);

#endif
