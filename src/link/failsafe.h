/* Failsafe entries and exits, from the flag and from the counter of entries. */
#ifndef LINK_FAILSAFE_H
#define LINK_FAILSAFE_H

#include "link/snapshot.h"
#include "telemetry/telemetry.h"

struct failsafe_step {
    uint64_t entered;  /* how often since the report before */
    bool left;         /* the one that lasted was left */
    int64_t lasted_ms; /* at most; TIME_UNKNOWN unseen */
};

struct failsafe {
    bool known, active;
    bool open; /* event[count - 1] lasts */
    uint32_t entry_counter;
    bool counter_known;
    int64_t report_ms;             /* newest report */
    int64_t good_ms;               /* newest packet as of it */
    bool idle_known, idle;         /* the throttle's output as of it, */
    struct time_bounds idle_since; /* and when it came to idle; unknown: before the run */
    uint64_t entries;
    uint32_t count;
    struct failsafe_event event[FAILSAFE_EVENTS_MAX];
};

enum throttle_state { THROTTLE_UNKNOWN, THROTTLE_IDLE, THROTTLE_RAISED };

/* What else is known at a report. */
struct failsafe_view {
    bool heard;      /* a packet of this boot has been received: before it fs=1 is no entry */
    bool fresh_boot; /* the counters of this boot are all this run's */
    bool arrived;    /* a packet came since the report before */
    int64_t good_ms; /* the newest one */
    enum throttle_state throttle;
};

void failsafe_init(struct failsafe *f);

/* Takes a report at link_ms. */
struct failsafe_step failsafe_report(struct failsafe *f, const struct report *r, int64_t link_ms,
                                     const struct failsafe_view *view);

/* The receiver restarted: a failsafe that lasted ends unseen. */
void failsafe_restart(struct failsafe *f);

/* Of one event: from the last packet to failsafe, from that packet to the throttle's idle, from the
 * first packet afterwards to leaving.  By the receiver's clock (link time); unknown where an end
 * is. */
struct time_bounds failsafe_delay(const struct failsafe_event *e);
struct time_bounds failsafe_throttle_delay(const struct failsafe_event *e);
struct time_bounds failsafe_recovery(const struct failsafe_event *e);

#endif
