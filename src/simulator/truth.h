/* What really happened, counted from the model and not from the lines. */
#ifndef SIMULATOR_TRUTH_H
#define SIMULATOR_TRUTH_H

#include "simulator/lake.h"
#include "simulator/simulator.h"

enum truth_event {
    TRUTH_RECEIVER_BOOT,     /* value: enum tug_cause */
    TRUTH_RECEIVER_DOWN,     /* value: enum tug_cause of the boot to come */
    TRUTH_TRANSMITTER_START, /* value: tboot */
    TRUTH_TRANSMITTER_OFF,
    TRUTH_FIRST_PACKET,
    TRUTH_FAILSAFE_ENTERED, /* value: µs since the last packet */
    TRUTH_FAILSAFE_LEFT,
    TRUTH_LOCKED,
    TRUTH_UNLOCKED,
    TRUTH_RADIO_FORGOT,
    TRUTH_RADIO_SET_UP,
    TRUTH_WALK,         /* value: distance walked to, cm */
    TRUTH_MARKER,       /* value: 1 held, 0 let go */
    TRUTH_INTERFERENCE, /* value: bursts a minute */
    TRUTH_ANTENNA,      /* value: what it loses, hundredths of a dB */
    TRUTH_SUPPLY,       /* value: resistance of the supply, milliohm */
    TRUTH_BIND,         /* value: enum script_bind */
    TRUTH_CABLE,        /* value: lines of 10000 lost */
    TRUTH_WIFI,         /* value: channel */
    TRUTH_SWEEP,        /* value: carriers looked at */
    TRUTH_SCENE_AGAIN,
    TRUTH_EVENTS
};

enum { TRUTH_EVENTS_MAX = 4096 };

struct truth_entry {
    int64_t at_us;
    int32_t value;
    uint8_t what; /* enum truth_event */
};

struct truth {
    struct simulator_truth counts;
    bool heard;             /* the receiver has had a packet, ever */
    bool open;              /* and of this boot and this transmitter's start */
    uint64_t pending;       /* missing since the newest good one: not yet known to be */
    uint64_t weak, drowned; /* why a packet missed its receiver, while that was up */
    uint64_t deaf;          /* the radio had lost its settings */
    uint64_t unobserved;    /* sent while nobody could tell */
    uint64_t refused;
    int64_t last_us;         /* the newest good packet of this receiver's boot, or -1 */
    uint64_t events_dropped; /* there was no room for */
    uint32_t event_count;
    struct truth_entry events[TRUTH_EVENTS_MAX];
};

void truth_init(struct truth *t);
void truth_event(struct truth *t, int64_t now_us, enum truth_event what, int32_t value);

/* A packet was sent and reached the receiver's program, or it didn't. */
void truth_received(struct truth *t, int64_t now_us);
void truth_missed(struct truth *t);

/* An open outage counts as a gap up to now. */
uint32_t truth_longest_gap_ms(const struct truth *t, int64_t now_us);

/* "key=value" lines of counts and events. */
void truth_print(const struct truth *t, int64_t now_us, simulator_put *put, void *where);
void truth_line(simulator_put *put, void *where, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

#endif
