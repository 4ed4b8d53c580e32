/* The receiver on the tug: its program's counters, failsafe and lock, and the lines that it prints.
 * It knows only what such a program can know: packets that arrive, its own clock, its own supply.
 */
#ifndef SIMULATOR_TUG_H
#define SIMULATOR_TUG_H

#include "simulator/cable.h"
#include "simulator/shore.h"

enum { TUG_OUTPUTS = 8, TUG_HOLD_US = 500000, TUG_REPORT_US = 50000, TUG_CARE_US = 100000 };

enum {
    TUG_SWEEP_FIRST = 2400,
    TUG_SWEEP_CARRIERS = 84,
    TUG_SWEEP_LOOKS = 100,
    TUG_SWEEP_US = 2100000
};

enum tug_cause { CAUSE_POWER, CAUSE_RESET, CAUSE_BROWNOUT, CAUSE_WATCHDOG };

/* How the radio chip fares. */
enum tug_radio {
    RADIO_WELL,
    RADIO_ABSENT,  /* doesn't answer */
    RADIO_FORGETS, /* loses its settings each time that they are written */
    RADIO_DIFFERS, /* holds others */
    RADIO_FLOATS,  /* its data line floats: reads as packets without end */
};

struct tug {
    bool up;
    bool bare;  /* a sketch that prints channel values and nothing else */
    bool words; /* one that prints text and its id, and no reports */
    enum tug_radio radio;
    int64_t boot_us;
    int64_t id_us;    /* when the next id line is due */
    int64_t last_us;  /* newest good packet */
    bool have_packet; /* since boot */
    struct packet newest;
    uint32_t n, got, lost, refused, fsn, reinit;
    bool fs, lock, radio_forgot;
    bool skip; /* the next report is left out: the program was busy */
    int32_t outputs[TUG_OUTPUTS];
    /* since the last report */
    uint8_t history[8]; /* as emit_pattern takes it: bit 0 is the newest */
    uint32_t outcomes;
    int64_t gap_us;
    int32_t mv, mvmin;
    uint32_t heard_hits, heard_looks, noise_hits, noise_looks;
    bool saw_default;
    const char *say;
};

/* Starts the program, prints boot, and id; in place of that id the words before a sweep, if one is
 * asked for. */
void tug_boot(struct tug *t, int64_t now_us, enum tug_cause cause, bool sweep, struct cable *cable);

/* The sweep is over: what each carrier had, and the id. */
void tug_sweep(const uint8_t hits[TUG_SWEEP_CARRIERS], struct cable *cable);

void tug_down(struct tug *t);

/* A packet came up from the radio; carrier tells whether its level trips the detector. */
void tug_hear(struct tug *t, int64_t now_us, const struct packet *packet, bool carrier);

/* A look at the carrier detector between packets. */
void tug_look(struct tug *t, bool carrier);

/* True while a packet is expected about now, so that a look would see it. */
bool tug_expects(const struct tug *t, int64_t now_us);

void tug_supply(struct tug *t, int32_t mv);

/* The hold time has run out. */
void tug_failsafe(struct tug *t);

/* Looks after the radio: reads its registers and sets it up anew if they are gone; true if so. */
bool tug_care(struct tug *t);

/* What falls due at a report's time: id, say and the report. */
void tug_report(struct tug *t, int64_t now_us, struct cable *cable);

#endif
