/* The tug's supply: a battery behind some resistance, loaded by two servos, the bow thruster and
 * the electronics. */
#ifndef SIMULATOR_RAIL_H
#define SIMULATOR_RAIL_H

#include "simulator/chance.h"

enum {
    RAIL_TICK_US = 5000,
    RAIL_BROWNOUT_MV = 4300, /* AVR fuse BODLEVEL 100, typical value */
    RAIL_FORGET_MV = 4500,   /* below this the radio's own regulator may let it forget */
    RAIL_OFF = INT32_MIN,    /* an output without pulses, as in emit.h */
};

struct rail {
    struct chance chance;
    int32_t open_mv, milliohm;
    int32_t servo[2]; /* where the rudder and the winch servo stand, µs */
    int32_t mv;
};

void rail_init(struct rail *r, uint64_t seed);

/* One tick with these pulses at the outputs (8 of them); returns the supply in mV. */
int32_t rail_tick(struct rail *r, const int32_t *outputs);

#endif
