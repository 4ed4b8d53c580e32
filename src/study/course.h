/* The course of a run over time, for pictures: bins of link time that are merged in pairs when they
 * are full, and lanes of things that happened.  A fold over moments; nothing is allocated, and the
 * size doesn't depend on the length of the run. */
#ifndef STUDY_COURSE_H
#define STUDY_COURSE_H

#include "link/moment.h"
#include "link/snapshot.h"

enum {
    COURSE_BINS = 512,
    COURSE_BIN_MS = 250, /* a bin's length at first */
    COURSE_SPANS = 256,
    COURSE_MARKS = 64,
    COURSE_DECADE = 60,                     /* bins of lengths a power of ten, */
    COURSE_LENGTHS = 7 * COURSE_DECADE + 1, /* from 1 ms to 10^7 ms; longer ones in the last */
};

struct course_range { /* of values within a bin */
    uint64_t count;   /* 0: none, and the rest means nothing */
    int32_t low, high;
    int64_t sum;
};

enum course_lane_id {
    COURSE_OUTAGE,      /* outages; the last one may be open */
    COURSE_FAILSAFE,    /* as reports tell */
    COURSE_RECEIVER,    /* restarts */
    COURSE_TRANSMITTER, /* restarts */
    COURSE_CABLE,       /* reports missing, or the port away: the air is not seen */
    COURSE_LANES
};

struct course_bin {
    uint64_t got, lost;
    struct course_range supply;      /* mV, of mv */
    struct course_range supply_low;  /* mV, the lowest that each report told (mv, mvmin) */
    struct course_range transmitter; /* mV, of tmv */
    uint64_t noise_hits, noise_looks;
    struct course_range channel[CHANNELS_MAX]; /* outputs with pulses */
    uint64_t off[CHANNELS_MAX];                /* reports without */
    int64_t on_ms[COURSE_LANES];               /* how long each lane's state lasted in it */
    uint32_t begun[COURSE_LANES];              /* how often it began */
};

struct course_span {
    int64_t from_ms, to_ms;
};

struct course_lane {
    uint32_t count; /* of span[]: the first ones; those that are over */
    struct course_span span[COURSE_SPANS];
    uint64_t more; /* that had no room: the bins know of them */
    bool open;     /* one lasts: */
    struct course_span now;
};

struct course_mark {
    int64_t at_ms;
    enum mark_type type;
    double distance_m; /* negative: none */
};

struct course {
    int64_t bin_ms, end_ms;    /* end: link time reached, 0 before the first report */
    uint32_t bins;             /* of them in use */
    bool counted;              /* some report told of packets */
    uint64_t untimed;          /* packets without a link time, in no bin */
    uint64_t bare;             /* reports without a link time, in no bin */
    int32_t supply_highest_mv; /* that a report told (mv, mvmin); 0: none */
    struct course_bin bin[COURSE_BINS];
    struct course_lane lane[COURSE_LANES];
    uint32_t marks;
    struct course_mark mark[COURSE_MARKS];
    uint32_t keys; /* that reports had: bits 1u << enum report_key */
    /* Lengths of the outages: each is known to lie between two bounds, counted apart. */
    uint64_t outages;
    uint64_t at_least[COURSE_LENGTHS], at_most[COURSE_LENGTHS];
};

void course_init(struct course *c);

/* After bench_feed: bench_moment(). */
void course_feed(struct course *c, const struct moment *m);

/* The bins joined in groups of `group` from bin `first` on, into *out. */
void course_join(const struct course *c, uint32_t first, uint32_t group, struct course_bin *out);

/* Lower end of a bin of lengths, ms; bin 0 begins at 0. */
double course_length_ms(uint32_t bin);

#endif
