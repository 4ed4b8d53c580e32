/* Outages: the time between two packets of one boot.  Rests on the reports alone (age, gap, and
 * how many packets arrived), never on the arrival of lines. */
#ifndef LINK_OUTAGE_H
#define LINK_OUTAGE_H

#include "link/packets.h"
#include "link/snapshot.h"

struct outage_step {
    bool closed;                     /* a gap between two packets ended here, however short: */
    int64_t gap_low_ms, gap_high_ms; /* the longest such since the report before */
    bool began;                      /* an outage now longer than the limit is open */
    bool ended;                      /* one surely longer than the limit closed: */
    int64_t low_ms, high_ms;         /* its length lies between these, low over the limit */
    int64_t from_ms;
};

struct outage {
    int64_t limit_ms;  /* the caller keeps it up to date */
    int64_t good_ms;   /* newest packet of this boot, TIME_UNKNOWN before it */
    int64_t report_ms; /* newest report */
    bool open;         /* the outage after good_ms is longer than the limit */
    uint64_t outages;  /* surely longer than the limit */
    uint64_t unsure;   /* perhaps longer: the limit lies between low and high */
    int64_t longest_low_ms, longest_high_ms, longest_at_ms; /* TIME_UNKNOWN: none yet */
};

void outage_init(struct outage *s);

/* Takes a report at link_ms.  hole: what the lines between would have said is unknown. */
struct outage_step outage_report(struct outage *s, const struct report *r,
                                 const struct packet_step *step, int64_t link_ms, bool hole,
                                 double rate_hz);

/* The receiver restarted: what follows up to its first packet is not observed.  An outage already
 * longer than the limit counts, with the length seen so far as its least. */
struct outage_step outage_restart(struct outage *s);

/* The longest outage, the one still open at the newest report included: [*low, *high] and where it
 * began; false when no packet pair or open outage has been seen. */
bool outage_longest(const struct outage *s, int64_t *low_ms, int64_t *high_ms, int64_t *at_ms);

#endif
