/* The bench: a fold over events that knows everything the snapshot tells.  Live and replay feed the
 * same calls.  Time is a parameter; nothing is allocated after bench_init. */
#ifndef LINK_BENCH_H
#define LINK_BENCH_H

#include "link/motor.h"
#include "link/snapshot.h"

struct bench_limits {
    int32_t outage_ms;     /* an outage longer than this is an outage; default 100, and never
                               less than three packets at the nominal rate */
    double lossy_share;    /* share lost over 10 s above which the link is lossy; default 0.05 */
    int32_t supply_low_mv; /* alarm below; 0: 4000 once one above 4500 was told, else none */
    int32_t no_lines_ms;   /* default 2000 */
    double rate_hz;        /* packets a second; 0 to take it from the id line */
    bool opening_restarts; /* the first uptime may be a restart of ours; default true */
    uint32_t motors;       /* how many channels are known to drive one */
    struct motor motor[CHANNELS_MAX];
    int32_t transmit_steps_full; /* the step that is full power; 0: the last of the steps */
    char channel_name[CHANNELS_MAX][NAME_MAX_BYTES]; /* empty: unnamed */
    bool light; /* for large files: only time, packets, loss with its interval, and the channels'
                   ends come out, as they would in full; what else the snapshot and the measures
                   have says nothing, nor does a moment */
};

/* The keys of a report that a light bench reads. */
enum {
    BENCH_LIGHT_KEYS = 1u << KEY_N | 1u << KEY_T | 1u << KEY_CH | 1u << KEY_SEQ | 1u << KEY_TBOOT |
                       1u << KEY_GOT | 1u << KEY_LOST | 1u << KEY_REFUSED | 1u << KEY_PAT |
                       1u << KEY_AGE | 1u << KEY_GAP,
};

/* The channel that drives the first motor, from 0; -1: nobody said. */
static inline int limits_throttle(const struct bench_limits *limits) {
    return limits->motors > 0 ? limits->motor[0].channel : -1;
}

/* One channel that drives a motor, idle at an end or in the middle; channel -1: none is known. */
static inline void limits_one_motor(struct bench_limits *limits, int channel,
                                    enum motor_idle idle) {
    limits->motors = channel >= 0;
    limits->motor[0] = (struct motor){.channel = (int16_t)channel, .idle = idle};
}

/* Defaults as stated above. */
void bench_limits_default(struct bench_limits *limits);

struct bench;

/* A new bench, to be given back with bench_free; NULL when there is no memory. */
struct bench *bench_new(const struct bench_limits *limits);
void bench_free(struct bench *b);

/* Advances to the event's time, then takes it.  Events come in the order of their times. */
void bench_feed(struct bench *b, const struct event *event);

/* Host time has reached host_us without an event: deadlines that lie before it take effect, each
 * at its own time.  Going back has no effect. */
void bench_advance(struct bench *b, int64_t host_us);

/* The state now; its pointers live until the next call with b. */
void bench_read(const struct bench *b, struct snapshot *out);

/* The same without the intervals of the losses, which take most of the time: for folds that look at
 * each event. */
void bench_glance(const struct bench *b, struct snapshot *out);

/* The same for a picture that is drawn often: the bounds of a loss stay those that *out holds from
 * the reading before, since they take long to work out. */
void bench_read_on(const struct bench *b, struct snapshot *out);

#endif
