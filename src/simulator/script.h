/* The scenes as tables of timed steps. */
#ifndef SIMULATOR_SCRIPT_H
#define SIMULATOR_SCRIPT_H

#include <stddef.h>
#include <stdint.h>

enum script_act {
    ACT_START,   /* the transmitter starts */
    ACT_OFF,     /* the transmitter is switched off */
    ACT_MOVE,    /* a: stick, b: pulse in µs or 0 for its rest, c: ms */
    ACT_PLAY,    /* a: sticks, bit 1 << stick, b: reach in µs, c: mean pause in ms */
    ACT_WALK,    /* a: distance in cm, b: cm a second, 0 for at once */
    ACT_POWER,   /* a: power step, 1..4 */
    ACT_FADING,  /* a: enum lake_fading */
    ACT_DISTURB, /* a: bursts a minute, b: mean µs, c: dBm at the tug */
    ACT_ANTENNA, /* a: what the tug's antenna loses, hundredths of a dB; 0: it sits well */
    ACT_SUPPLY,  /* a: open voltage in mV, b: milliohm */
    ACT_BIND,    /* a: enum script_bind */
    ACT_CABLE,   /* a: lines of 10000 lost, b: damaged */
    ACT_RESET,   /* the receiver restarts, a: enum tug_cause, b: 1 tears a line */
    ACT_WIFI,    /* a: channel, b: thousandths of the time, c: dBm at the tug */
    ACT_SWEEP,   /* the jumper that asks for a sweep is closed: for the next boot */
    ACT_BEACON,  /* a carrier that comes back: a: every so many µs, b: for so many, c: its dBm */
    ACT_MOTOR,   /* sparks of the motor: a: share of time at full throttle, percent, b: dBm */
    ACT_BARE,    /* the receiver's sketch prints channel values only */
    ACT_WEAR,  /* a: stick, -1 the reference of all, b: trembling in µs, c: packets of 10000 with a
                  wild value */
    ACT_RADIO, /* the receiver's radio, a: enum tug_radio */
    ACT_LEAD,  /* what becomes of the receiver's lines, a: enum script_lead */
    ACT_OTHER, /* another tug's transmitter on our address and with our owner, a: 1 on, 0 off */
    ACT_SWAP,  /* the transmitter packs its values the other way round, a: 1 or 0 */
    ACT_STRONG, /* amplified radios at both ends, a: 1 or 0 */
};

enum script_bind {
    BIND_OK,
    BIND_ADDRESS, /* another address: energy on the air, nothing comes out of the radio */
    BIND_OWNER,   /* another owner's number inside: the program refuses it */
    BIND_IMAGE,   /* another carrier, of which a receiver hears an image from close by */
};

enum script_lead {
    LEAD_WHOLE,
    LEAD_CUT,   /* nothing comes through */
    LEAD_SPEED, /* the two sides have set different speeds */
    LEAD_WORDS, /* the program prints text and its id, but no reports */
};

struct script_step {
    uint32_t at_ms; /* since the scene began; steps stand in order */
    enum script_act act;
    int32_t a, b, c;
};

struct script {
    const struct script_step *steps;
    size_t count;
};

/* Beside simulator_scenes, in the same order.  A scene ends as it began, so that it can go round.
 */
extern const struct script scripts[];

#endif
