/* The transmitter on shore: sticks moved by a hand, and the packets made of them. */
#ifndef SIMULATOR_SHORE_H
#define SIMULATOR_SHORE_H

#include "simulator/chance.h"

enum shore_stick { RUDDER, THROTTLE, THRUSTER, WINCH, LIGHT, MARKER, STICKS };

struct packet {
    uint16_t owner;
    uint16_t tboot, seq;
    int32_t in[STICKS];
    uint32_t tmv, tstep;
};

struct stick {
    int32_t from, to; /* µs of pulse */
    int64_t start_us, span_us;
    int32_t reach; /* how far a hand plays with it; 0 leaves it alone */
    int64_t pause_us, play_us;
    int32_t jitter; /* of a worn one, beside its usual: standard deviation in µs */
    uint32_t wild;  /* packets of 65536 in which its value is far off */
};

struct shore {
    struct chance chance;
    bool on;
    uint16_t owner, tboot, seq;
    uint32_t power_step; /* 1..4 */
    bool swapped;        /* packs the two bytes of each value the other way round */
    int64_t started_us;  /* battery in use since */
    int32_t shared;      /* trembling of the reference that all sticks share, likewise */
    struct stick sticks[STICKS];
};

enum { SHORE_OWNER = 7, SHORE_STRANGER = 23, SHORE_PERIOD_US = 20000 };

void shore_init(struct shore *s, uint64_t seed);

/* A start of the transmitter: another tboot, seq from 0. */
void shore_start(struct shore *s);

/* Moves a stick to a pulse (0: to its rest) within span_ms. */
void shore_move(struct shore *s, int64_t now_us, int stick, int32_t to, int32_t span_ms);

/* A hand plays with the sticks in mask (bit 1 << stick), to `reach` either side of rest, pausing
 * pause_ms on average; reach 0 brings them to rest and leaves them. */
void shore_play(struct shore *s, int64_t now_us, uint32_t mask, int32_t reach, int32_t pause_ms);

/* Faults: a worn stick jitters and jumps, a bad reference (stick -1) moves all of them alike;
 * jitter is a standard deviation in µs, wild the packets of 10000 that jump. */
void shore_wear(struct shore *s, int stick, int32_t jitter, int32_t wild);

/* The next packet. */
void shore_packet(struct shore *s, int64_t now_us, struct packet *out);

#endif
