/* Failsafe entries and exits, from the flag and from the counter of entries. */
#ifndef LINK_FAILSAFE_H
#define LINK_FAILSAFE_H

#include "link/snapshot.h"
#include "telemetry/telemetry.h"

struct failsafe_step {
    uint32_t entered, left; /* how often since the report before, as far as seen */
    int64_t lasted_ms;      /* of the newest that was left, at most; TIME_UNKNOWN unseen */
};

struct failsafe {
    bool known, active;
    bool open; /* event[count - 1] lasts */
    uint32_t entry_counter;
    bool counter_known;
    int64_t report_ms;
    uint64_t entries;
    uint32_t count;
    struct failsafe_event event[FAILSAFE_EVENTS_MAX];
};

void failsafe_init(struct failsafe *f);

/* Takes a report at link_ms; heard tells that a packet of this boot has been received; fresh_boot
 * that the counters of this boot are all this run's. */
struct failsafe_step failsafe_report(struct failsafe *f, const struct report *r, int64_t link_ms,
                                     bool heard, bool fresh_boot);

/* The receiver restarted: a failsafe that lasted ends unseen. */
void failsafe_reboot(struct failsafe *f);

#endif
