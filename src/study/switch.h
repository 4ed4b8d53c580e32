/* A stop of the walk marked by the walker alone, by a switch of the transmitter: held at its other
 * end for about a second and back is the next stop of the plan, held for 3 s or longer is under way
 * again.  The channel is taken as received: `in` where there, else `ch`; fresh packets only, none
 * in failsafe.  Where its begin or end fell into a gap, it is a stop if it can have been one: seen
 * held, and at most 0.7 to 3 s long; a press in which no packet came is lost.  A stop
 * is marked by the report in which the switch is back, and not before, so that live and afterwards
 * it begins with the same packet.  It lasts for `stay_ms`, then it ends by itself: whoever walks
 * need not press again to leave. */
#ifndef STUDY_SWITCH_H
#define STUDY_SWITCH_H

#include "study/walk.h"

enum {
    SWITCH_SHORT_MS = 700,     /* a shorter press means nothing */
    SWITCH_LONG_MS = 3000,     /* from here on it means: under way */
    SWITCH_GAP_MS = 200,       /* a begin in a longer gap isn't known */
    SWITCH_STALE_MS = 1000,    /* no packet for so long: it may have been let go meanwhile */
    SWITCH_SETTLED_MS = 10000, /* there for so long: that is its rest now */
    PLAN_MAX = 64,             /* stops of a plan */
    PLAN_STAY_MS = 15000,
};

struct plan {
    uint32_t count;
    double metres[PLAN_MAX];
};
void plan_default(struct plan *plan); /* 5 to 120 m */

/* "5,10,20": 1 to PLAN_MAX distances in metres, each 0 or more with one to three decimals at most.
 * False: it isn't that. */
bool plan_parse(struct slice text, struct plan *out);

struct switch_finder {
    uint32_t channel; /* from 0 */
    int32_t apart;    /* the other end is farther than this from its rest */
    bool rest_known, away, told;
    bool broken; /* an outage over SWITCH_STALE_MS lies within */
    int32_t rest;
    int64_t rest_ms;  /* newest fresh report at rest */
    int64_t from_ms;  /* away since, as first seen */
    int64_t since_ms; /* likewise, without such an outage since */
    int64_t fresh_ms; /* newest fresh report */
};

enum switch_found { SWITCH_NOTHING, SWITCH_STOP, SWITCH_LEAVE };

/* channel from 0. */
void switch_init(struct switch_finder *f, uint32_t channel);
enum switch_found switch_feed(struct switch_finder *f, const struct moment *m);

/* The finder, its plan and the walk's stops that it makes. */
struct walker {
    struct switch_finder finder;
    struct plan plan;
    uint32_t next;           /* of the plan */
    int64_t stay_ms, due_ms; /* the stop ends at the first report from due_ms on; TIME_UNKNOWN */
    uint64_t presses;        /* that marked a stop */
    uint64_t beyond;         /* presses after the plan's last stop */
};

void walker_init(struct walker *w, uint32_t channel, const struct plan *plan, int64_t stay_ms);

/* What this moment (after the walk was fed with it) calls for: SWITCH_STOP, at *metres, or
 * SWITCH_LEAVE; the caller marks it at m->link_ms.  died: the walk's stop has ended by itself. */
enum switch_found walker_feed(struct walker *w, const struct moment *m, bool died, double *metres);

#endif
