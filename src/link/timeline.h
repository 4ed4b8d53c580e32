/* Link time: the receiver's uptime unwrapped and carried across restarts by the host's clock; the
 * host's clock alone where reports have no t; unknown with neither.  In ms from the first report.
 */
#ifndef LINK_TIMELINE_H
#define LINK_TIMELINE_H

#include "telemetry/counters.h"

struct timeline {
    bool begun;
    bool rough;      /* rests on the host's clock */
    int64_t link_ms; /* of the newest report, or TIME_UNKNOWN */
    int64_t host_us; /* of the newest report, or TIME_UNKNOWN */
    uint32_t t_ms;   /* of the newest report that had one */
    bool has_t;
    uint32_t n;        /* likewise; 0 where it had none */
    int64_t growth_ms; /* from the report before to the newest; 0 unknown */
    uint64_t wraps, steps;
};

void timeline_init(struct timeline *t);

/* Takes a report that follows the one before as `how` tells (FOLLOWS for the first). */
void timeline_report(struct timeline *t, const struct report *r, int64_t host_us,
                     enum succession how);

/* Link time at host_us, not before the newest report; TIME_UNKNOWN where it can't be told. */
int64_t timeline_at(const struct timeline *t, int64_t host_us);

#endif
