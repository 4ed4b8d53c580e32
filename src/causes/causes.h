/* Why the link dropped: every drop of a run held against what could be its cause.
 *
 * Two sorts of events are looked at apart: outages (outages over the limit, restarts) and losses
 * (loss runs that are no outage).  A candidate is shown when it comes before the events more than
 * chance brings (chance.h, judged together over all candidates: stat/joint.h) and at least twice as
 * often as otherwise, and explains half as many again as chance would; facts that the telemetry
 * states (a restart and its cause) need no test.
 *
 * What a drop brings about (outputs that catch up, a supply that dips with them) is no evidence for
 * a second after it (trace.h); what stands still, by its own noise, is no candidate. */
#ifndef CAUSES_CAUSES_H
#define CAUSES_CAUSES_H

#include "causes/trace.h"
#include "study/chance.h"

enum cause_id {
    CAUSE_MOVE, /* of a channel: one candidate each */
    CAUSE_THROTTLE,
    CAUSE_SUPPLY,
    CAUSE_BROWNOUT, /* the receiver's restarts, by cause */
    CAUSE_WATCHDOG,
    CAUSE_RESET,
    CAUSE_POWER,
    CAUSE_RESTART, /* cause not told */
    CAUSE_STALL,   /* the receiver's loop: no report, no packet, no line missing */
    CAUSE_PAUSE,   /* the transmitter sent nothing: its sequence number stood still */
    CAUSE_SETTINGS_LOST,
    CAUSE_TRANSMITTER_SUPPLY,
    CAUSE_TRANSMITTER,
    CAUSE_STRANGER, /* a second transmitter */
    CAUSE_INTERFERENCE,
    CAUSE_RHYTHM,
    CAUSE_SIGNAL, /* weak before the drop */
    CAUSE_DISTANCE,
    CAUSE_ANTENNA,  /* far below the link budget at every stop */
    CAUSE_DRIFT,    /* losses grow over the run: battery, warmth */
    CAUSE_OVERLOAD, /* loss falls with the distance */
    CAUSE_HEADING,
    CAUSE_RETRIES,  /* acknowledgement trouble */
    CAUSE_CABLE,    /* lines missing there, port lost, computer asleep: not the air */
    CAUSE_LOSS,     /* of twitches only: packets lost before */
    CAUSE_FAILSAFE, /* likewise: failsafe was entered or left */
    CAUSES
};

enum cause_shown { CAUSE_NOT_SHOWN, CAUSE_SHOWN, CAUSE_CANT_TELL };

struct cause {
    enum cause_id id;
    int channel;  /* of CAUSE_MOVE, from 0; else -1 */
    bool outages; /* the events are outages, else losses */
    enum cause_shown shown;
    const char *missing; /* the key or fact that would tell, NULL; of CAUSE_CANT_TELL */
    bool tested;         /* p and effect hold; else a fact that is counted, or nothing */
    uint32_t events, explained;
    double expected; /* how many of them chance gives */
    double p;        /* adjusted for all that was tested */
    double effect;   /* how many times as often events come with it as without; may be INFINITY; of
                        the rhythm explained / expected */
    double figure;   /* of CAUSE_RHYTHM the period in ms, of CAUSE_ANTENNA decibels below the budget
                        at   least, of CAUSE_DRIFT how far that supply fell in mV, of others what
                        explains:   0 none */
    const char *supply; /* of CAUSE_DRIFT: the end whose supply fell over the run; NULL none */
    int chain;          /* number of the chain it belongs to, -1 none; causes of one chain stand
                           together, upstream first */
    uint64_t bits[CHANCE_EVENTS_MAX / 64];
};

enum {
    CAUSES_MAX = 2 * (CAUSES + CHANNELS_MAX),
    CAUSES_EVENTS_LEAST = 10,
    CAUSES_SECONDS_LEAST = CHANCE_CELLS_LEAST * TRACE_CELL_MS / 1000,
    TWITCHES_LEAST = 5,
    TWITCH_BEFORE_MS = 2000, /* a person presses the key after the twitch: looked at is from so */
    TWITCH_AFTER_MS = 250,   /* long before the key to so shortly before it (common practice) */
    DROP_BEFORE_MS = 1500,
};

struct causes {
    uint32_t outages, losses;               /* events of each sort: drops, loss runs */
    uint32_t outages_tested, losses_tested; /* after those in holes were put aside */
    uint32_t tested;                        /* candidates, judged together */
    uint32_t count;
    struct cause cause[CAUSES_MAX]; /* shown ones first, strongest first */
    const char *too_few;            /* why nothing was tested, NULL */
    double enough_s;                /* then: how long a recording would do; 0 can't be told */
};

const char *cause_name(enum cause_id id); /* for JSON and text: "channel moves", ... */
const char *cause_next(enum cause_id id); /* the next test or cure, one sentence */

/* Work memory is allocated and given back within; false when there is none. */
bool causes_find(const struct trace *t, struct causes *out);

/* What to do next where no cause is shown, by what was seen: the one trial or key that would tell
 * most.  NULL where a cause is shown or nothing was lost. */
const char *causes_advice(const struct trace *t, const struct causes *found);

/* The same search, looking back from the twitch marks instead of the drops. */
bool causes_twitches(const struct trace *t, struct causes *out);

/* What is known to tick with such a period, of this run; NULL: nothing known.  Beacon interval of
 * 100 time units of 1024 us: IEEE 802.11's usual setting; mains half waves of 50 and 60 Hz and
 * their doubles; the hop cycle and the time between reports as the run has them.  Within 0.7 %,
 * since receivers run on resonators. */
const char *causes_ticks(const struct trace *t, double period_ms);

/* Loss against the throttle's output, low to high: blocks of 2 s, a fifth of them each.  The
 * interval is that of the mean of block shares (Student's t), with eight blocks or more. */
enum { THROTTLE_STEPS = 5, THROTTLE_BLOCKS_LEAST = 8 };
struct throttle_step {
    double from, to; /* mean outputs of its blocks */
    uint32_t blocks;
    double loss; /* mean share */
    bool interval_known;
    double low, high;
};
/* False where the throttle isn't known or the run has fewer than 40 such blocks; allocates within,
 * false without memory too. */
bool causes_throttle(const struct trace *t, struct throttle_step steps[THROTTLE_STEPS]);

/* Of one kept drop: what the 1.5 s before it held. */
struct cause_before {
    bool known;     /* reports without a hole cover it */
    int32_t dip_mv; /* how far the supply fell below its mean; INT32_MIN unknown */
    int channel;    /* that moved most, -1 none moved */
    uint32_t way;   /* and how far */
    uint32_t noise_hits, noise_looks; /* in the drop and a quarter second around */
    uint32_t lost;                    /* packets already lost in it */
};
void causes_before(const struct trace *t, const struct trace_drop *d, struct cause_before *out);

#endif
