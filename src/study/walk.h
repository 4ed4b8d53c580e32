/* The range walk, stop by stop: a fold over moments.  A stop begins with a mark that has a distance
 * and lasts until the next stop, the walker's leaving, or the end; packets on the way belong to
 * none.  A link that stays lost closes the stop by itself, which then counts as failed. */
#ifndef STUDY_WALK_H
#define STUDY_WALK_H

#include "link/moment.h"
#include "link/snapshot.h"
#include "stat/sample.h"

enum {
    WALK_STOPS_MAX = 64,
    WALK_BLOCKS_MAX = 64, /* of a stop; blocks grow when a stop lasts longer */
    WALK_BLOCK_MS = 2000, /* a block's length at first */
    WALK_FACING = 24,
};

struct walk_block {
    uint64_t got, lost;
};

struct walk_stop {
    double distance_m;        /* along the ground */
    char facing[WALK_FACING]; /* empty: facing the receiver, as far as is known */
    int64_t from_ms, to_ms;   /* link time; to_ms so far, while open */
    bool open;
    bool counted; /* got and lost hold */
    uint64_t got, lost;
    struct loss_runs runs; /* their order: the interval of the loss rests on it */
    bool order_unknown;    /* of some packets: the blocks tell */
    uint32_t blocks;       /* whole ones */
    int64_t block_ms;
    struct walk_block block[WALK_BLOCKS_MAX];
    int64_t longest_gap_ms;     /* without a packet within the stop, at most (resolution of the
                                   reports); TIME_UNKNOWN where no end of one was seen */
    int64_t longest_gap_low_ms; /* and at least */
    uint64_t failsafes, receiver_restarts, transmitter_restarts;
    bool failsafe_known;
    bool died;                        /* the link was lost there, and that closed the stop */
    int64_t dead_ms;                  /* for how long at least */
    struct stat_moments rssi;         /* dBm, of reports in which packets came */
    uint64_t heard_hits, heard_looks; /* carrier detections while packets came */
    bool step_known;
    uint32_t step, steps;  /* transmit power as last seen at the stop */
    int32_t supply_low_mv; /* 0 unknown */
};

/* What makes a stop fail; walk_limits_default: any failsafe or restart, a gap over 200 ms, loss
 * over 1 % facing or 5 % at another heading (common practice), the packet rate unknown. */
struct walk_limits {
    double loss_facing, loss_turned; /* shares */
    int64_t gap_ms;                  /* but see walk_gap_limit */
    bool gap_given;                  /* by the person: it holds at any packet rate */
    double rate_hz;                  /* packets a second that are sent; 0 unknown */
    int64_t died_ms;                 /* no packet for so long: the link died there (3000) */
};
void walk_limits_default(struct walk_limits *limits);

/* The limit of a gap, ms: gap_ms, or three packet intervals where that is more, unless it was
 * given.  Packets that come slowly leave long gaps without any being lost. */
int64_t walk_gap_limit(const struct walk_limits *limits);

enum walk_fault { /* bits: why a stop failed */
                  WALK_LOSS = 1,
                  WALK_GAP = 2,
                  WALK_FAILSAFE = 4,
                  WALK_RESTART = 8,
                  WALK_DIED = 16,
};

/* The faults of a stop, 0 none.  `unsure` gets those that can't be told (their keys are missing),
 * and WALK_LOSS where fewer than 300 packets were counted, or the interval of the loss, or the
 * bound where none was lost, doesn't keep clear of the limit. */
unsigned walk_judge(const struct walk_stop *stop, const struct walk_limits *limits,
                    unsigned *unsure);

/* What that makes of the stop.  Nothing holds that wasn't seen to hold. */
enum walk_verdict {
    WALK_HELD,      /* shown: no fault, and nothing unsure; without fs, a gap that is known to be
                       within the limit answers for failsafe */
    WALK_FAILED,    /* shown: a fault that isn't unsure */
    WALK_DOUBTFUL,  /* a fault was seen, which may be chance: its interval spans the limit */
    WALK_NOT_SHOWN, /* no fault was seen, but too little to say that it held */
    WALK_EMPTY,     /* it lasted no time, or no packet was sent: not counted */
};
enum walk_verdict walk_verdict(const struct walk_stop *stop, const struct walk_limits *limits);

struct walk {
    uint32_t count;       /* of stop[] */
    uint32_t passed_over; /* more stops than there is room for */
    struct walk_stop stop[WALK_STOPS_MAX];
    struct walk_limits limits;
    bool here;               /* stop[count - 1] is open */
    int64_t good_ms;         /* newest packet of this boot, TIME_UNKNOWN before one */
    int64_t quiet_ms;        /* since when there was none: good_ms, or the boot's first report */
    bool dying;              /* stop[count - 1] died, and neither packet nor mark came since, */
    int64_t dead_from_ms;    /* but for the outage that began here */
    uint64_t marks_untimed;  /* marks before the first report: they have no link time */
    uint64_t marks_no_place; /* stops without a distance: they only end the one before */
};

void walk_init(struct walk *w, const struct walk_limits *limits);

/* After bench_feed: bench_moment().  A `facing` mark at a stop begins another at the same distance,
 * with that heading; "0" and "0 degrees" (or 360) are facing the receiver again. */
void walk_feed(struct walk *w, const struct moment *m);

/* The same, with no regard to mark events: they come by the two calls below instead. */
void walk_feed_unmarked(struct walk *w, const struct moment *m);

/* Link time has reached now_ms: the open stop lasts so far. */
void walk_advance(struct walk *w, int64_t now_ms);

/* Marks by the walk's own code (a switch found, a mark amended): as a mark event at link time
 * at_ms, not before the newest report that was fed. */
void walk_stop_at(struct walk *w, int64_t at_ms, double distance_m, struct slice facing);
void walk_leave_at(struct walk *w, int64_t at_ms);

/* A heading as a stop keeps it: whole UTF-8 characters, as many as there is room for; empty where
 * it says that the model faces the receiver. */
void walk_copy_facing(char out[static WALK_FACING], struct slice text);

/* Shares of the wanted certainty that are still missing at a stop, as seconds of more packets: 300
 * of them, and an interval of the loss that no longer holds the limit.  The interval is taken to
 * shrink with the root of the packets, so this is a forecast.  0: enough; negative: can't be told
 * (no rate), INFINITY: the loss is too near to the limit. */
double walk_wanted_s(const struct walk_stop *stop, const struct walk_limits *limits,
                     double rate_hz);

/* The interval of a stop's loss (95 %) by its loss runs; where the order of packets is unknown and
 * some were lost, by the counts of its blocks (stat/counts.h; five or more).  False: neither can
 * tell. */
bool walk_loss_interval(const struct walk_stop *stop, struct loss_interval *out);

/* The limit of loss that holds at the stop, by its heading. */
double walk_loss_limit(const struct walk_stop *stop, const struct walk_limits *limits);

/* Least distance at which a stop is shown to have failed; false: none is.  Distances of failed
 * stops count however near they are: a nearer stop that held doesn't make up for it. */
bool walk_first_failed(const struct walk *w, double *metres);

/* Greatest distance of a stop that is shown to have held, with none nearer that failed or is
 * doubtful; false: none.  Stops that show nothing bound nothing. */
bool walk_held_to(const struct walk *w, double *metres);

#endif
