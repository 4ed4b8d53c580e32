/* What a search for causes looks back on: the run in cells of a quarter of a second, each with what
 * could be a cause in it, and the drops.  A fold over moments. */
#ifndef CAUSES_TRACE_H
#define CAUSES_TRACE_H

#include "link/moment.h"
#include "link/snapshot.h"
#include "radio/budget.h"
#include "study/walk.h"

enum {
    TRACE_CELL_MS = 250,
    TRACE_CELLS = 6 * 3600 * 1000 / TRACE_CELL_MS, /* six hours; what comes later is only counted */
    TRACE_DROPS = 1024,
    TRACE_TWITCHES = 256,
    TRACE_LOSSES = 8192,  /* begins of loss runs with their times, for the search for a rhythm */
    TRACE_APART_MS = 400, /* losses further apart belong to different drops */
    TRACE_HEADINGS = 16,
    TRACE_AFTER_MS = 1000, /* after an outage or restart outputs catch up and the supply dips: no
                              evidence; half as long after more than two packets lost */
};

enum trace_flag {                 /* bits of a cell */
                  TRACE_SEEN = 1, /* a report covers it, whose packets are counted */
                  TRACE_FAILSAFE = 2,
                  TRACE_RESTART = 4,      /* of the receiver */
                  TRACE_OPENING = 8,      /* by our opening */
                  TRACE_TRANSMITTER = 16, /* restarted */
                  TRACE_FORGOT = 32,      /* the radio lost its settings */
                  TRACE_HOLE = 64,        /* lines missing or damaged */
                  TRACE_HOST = 128,       /* the port was lost, or the computer slept */
                  TRACE_MOVES = 256,      /* move[] is known */
                  TRACE_DROP = 512,       /* an outage or restart, or part of one */
};

enum { TRACE_NOTHING = INT16_MIN }; /* a value that wasn't told */

struct trace_cell {
    uint16_t got, lost;
    int16_t supply_low, supply; /* mV; the least of mvmin, the newest mv */
    int16_t transmitter;        /* mV */
    int16_t throttle;           /* newest output */
    int16_t rssi;               /* dBm, the least */
    uint8_t noise_hits, noise_looks, heard_hits, heard_looks;
    uint16_t flags;
    uint8_t runs;                /* loss runs begun here that are no outage */
    int16_t distance_dm;         /* of the stop, decimetres; TRACE_NOTHING on the way */
    int8_t heading;              /* index of trace.heading, -1 none */
    uint16_t move[CHANNELS_MAX]; /* how far each output got from where it stood before, units */
};

struct trace_drop {
    int64_t from_ms, to_ms; /* first and last packet missing, or the outage */
    uint64_t lost, runs;    /* packets, and stretches of them */
    bool outage;            /* an outage: longer than the bench's limit */
    bool restart;           /* the receiver was away: its packets are not observed, not lost */
    enum boot_cause cause;
    bool transmitter; /* the transmitter restarted in it */
    bool forgot;      /* the radio had forgotten its settings */
    bool paused;      /* the sequence number stood still: nothing was sent */
    bool stalled;     /* the receiver printed nothing meanwhile, and no line is missing */
    bool hole;        /* lines are missing there: what preceded it is not known */
};

struct trace {
    const struct bench_limits *limits;  /* the caller's: throttle, names */
    const struct budget_inputs *budget; /* the caller's, set after trace_init; NULL: the power isn't
                                           known */
    int64_t begin_ms;
    uint32_t cells;          /* used */
    struct trace_cell *cell; /* ours */
    uint32_t drops;          /* all that were seen; the first TRACE_DROPS are kept */
    struct trace_drop *drop;
    bool open; /* the newest drop may still grow */
    uint32_t twitches;
    int64_t twitch_ms[TRACE_TWITCHES];
    uint32_t loss_times;
    double *loss_ms;
    uint32_t headings;
    char heading[TRACE_HEADINGS][24];

    /* which keys reports had: what is never told can't be a shown cause */
    uint32_t keys; /* bits 1u << enum report_key */
    bool acked;
    bool raw_unit;
    double rate_hz;
    bool seqmod_known;
    uint32_t seqmod; /* 0 for 2^32 */
    uint32_t hop;    /* carriers, 0 unknown */
    uint64_t got, lost, reports;
    bool counted;
    int64_t observed_ms, arrival_ms; /* time with reports; of it with packets arriving */

    /* two transmitters: a start number or a place in the sequence that comes back */
    uint32_t tboot, tboot_before;
    bool tboot_known, tboot_before_known;
    uint64_t transmitter_starts, transmitter_returns;

    /* facts */
    uint64_t restarts[5], openings, settings_lost, port_losses, holes, damaged;

    /* state */
    int32_t output[CHANNELS_MAX], stood[CHANNELS_MAX]; /* now, and before this cell */
    bool output_known;
    int64_t forgot_ms;      /* when the radio's registers were last seen to be the chip's own */
    int64_t quiet_until_ms; /* what levels and outputs do up to then follows from a drop */
    int8_t heading_now;
    int16_t distance_now;
    int64_t restart_from_ms; /* a restart whose first packet is still to come */
    bool no_memory;
};

/* Allocates; false when there is no memory.  limits live as long as the trace. */
bool trace_init(struct trace *t, const struct bench_limits *limits);
void trace_release(struct trace *t);

/* After bench_feed: bench_moment(). */
void trace_feed(struct trace *t, const struct moment *m);

/* No more comes: the drop that is open ends. */
void trace_end(struct trace *t);

/* After trace_end: the cells' distances by the stops of a walk over the same run, instead of by its
 * marks. */
void trace_walked(struct trace *t, const struct walk *walk);

/* A drop that is an outage of the link, whatever made it. */
bool trace_outage(const struct trace_drop *d);

/* Cell of a link time, -1 outside of what is kept. */
int32_t trace_at(const struct trace *t, int64_t at_ms);

#endif
