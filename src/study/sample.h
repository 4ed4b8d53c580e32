/* What a comparison keeps of one recording: blocks of time, loss runs, and a few counts.  A fold
 * over moments with constant memory: blocks of 2 s of link time from the first report on, merged in
 * pairs whenever 512 are full.  Packets lie where they were sent, evenly between the good packets
 * around them; what else a report says lies at the report's own time. */
#ifndef STUDY_SAMPLE_H
#define STUDY_SAMPLE_H

#include "link/moment.h"
#include "link/snapshot.h"

enum {
    SAMPLE_BLOCK_MS = 2000,
    SAMPLE_BLOCKS = 512,
    SAMPLE_NAME = 96,  /* bytes of a name, NUL included */
    SAMPLE_BEGUN = 32, /* of a wall-clock time */
};

struct sample_block {
    uint64_t got, lost;    /* packets */
    uint64_t outages;      /* that ended here */
    uint64_t jitters;      /* differences of transit taken (see jitter.h) ... */
    double jitter_ms;      /* ... and the sum of their sizes */
    uint64_t supplies;     /* reports with a supply, and the sum of what they say */
    double supply_mv;      /* (mV) */
    int32_t supply_low_mv; /* least mvmin, 0: none said */
    uint64_t noise_hits, noise_looks;
};

enum sample_ack { ACK_UNKNOWN, ACK_WITHOUT, ACK_WITH, ACK_BOTH };

struct sample {
    char name[SAMPLE_NAME];   /* the caller's, for people */
    char begun[SAMPLE_BEGUN]; /* wall-clock start as the recording says it; empty unknown */

    int64_t begin_ms; /* link time of the first block's begin; TIME_UNKNOWN before a report */
    int64_t block_ms;
    uint32_t full; /* blocks before block[full], which is being filled, are complete */
    struct sample_block block[SAMPLE_BLOCKS];
    struct loss_runs runs;
    uint64_t unordered_lost; /* lost packets whose order isn't known: in no run */
    enum sample_ack ack;
    bool usb; /* the caller's: USB fed the board, so its supply tells nothing of the model's */

    /* as of sample_take */
    bool counted; /* got and lost hold */
    uint64_t got, lost;
    enum evidence evidence;
    double rate_hz; /* 0 unknown */
    bool outages_known, failsafe_known, registers_known, transmitter_restarts_known;
    int64_t outage_limit_ms;
    uint64_t outages, failsafes, settings_lost, receiver_restarts, transmitter_restarts;

    /* the state */
    double sent_hz;  /* packet rate that jitter is taken against, 0 unknown */
    bool sent_fixed; /* it was given: id lines don't change it */
    int64_t good_ms; /* newest packet that the next difference of transit may start from */
};

/* sent_hz: packet rate by model file or command line; 0: the id line's. */
void sample_init(struct sample *s, double sent_hz);

/* After bench_feed: bench_moment(). */
void sample_feed(struct sample *s, const struct moment *m);

/* The totals, from the run's snapshot. */
void sample_take(struct sample *s, const struct snapshot *snapshot);

/* b's figures added to a's. */
void sample_block_join(struct sample_block *a, const struct sample_block *b);

/* How many joined blocks of `each` complete ones there are (each at least 1), and one of them. */
uint32_t sample_joined(const struct sample *s, uint32_t each);
struct sample_block sample_block_at(const struct sample *s, uint32_t each, uint32_t index);

/* Time in which packets were counted: the blocks that hold some, the unfinished one included. */
int64_t sample_observed_ms(const struct sample *s);

/* Loss runs of b joined to a's. */
void sample_runs_join(struct loss_runs *a, const struct loss_runs *b);

#endif
