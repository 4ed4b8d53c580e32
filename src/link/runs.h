/* Loss runs and the loss patterns of RFC 3357 (2002), in one pass and constant memory.  Outcomes
 * come in the order of sending.  A loss run is a longest row of missing packets; it counts from its
 * first packet on, so that every sum below holds at any moment, an open run included.
 *
 * Continuity breaks where order is unknown (runs_unknown) and at a start of either end
 * (runs_break). Across a break there is no transition, no loss distance, and no run; a run that
 * touches one may have been longer, and is counted in `cut`.  Packets of unknown order are in no
 * figure but their own. */
#ifndef LINK_RUNS_H
#define LINK_RUNS_H

#include <stdbool.h>
#include <stdint.h>

#include "link/packets.h"

enum {
    RUNS_BINS = 24,           /* 1, 2, 3, 4.., 6.., 8.., 12.., and so on; the last: 4096 and more */
    RUNS_DISTANCE_MAX = 1024, /* greatest delta that runs_noticeable can answer */
};

/* What is kept of many lengths. */
struct run_lengths {
    uint64_t count, sum, longest;
    uint64_t squares; /* sum of the squares; UINT64_MAX when it doesn't fit */
    uint64_t bin[RUNS_BINS];
};

/* One packet of the two streams of RFC 3357, section 5; both numbers are 0 for one that arrived. */
struct runs_item {
    bool arrived;
    uint64_t distance; /* to the lost packet before it; 0 for the first one, and after a break */
    uint64_t period;   /* number of its loss period, from 1 */
};
typedef void runs_sink(void *context, const struct runs_item *item);

struct runs {
    uint64_t packets, lost;                    /* of known order */
    uint64_t unordered_got, unordered_lost;    /* the others */
    uint64_t breaks;                           /* after a packet of known order */
    uint64_t from_arrived[2], from_missing[2]; /* transitions to arrived [0], to missing [1] */
    struct run_lengths runs;    /* count: the loss-period total of 6.2; the lengths: 6.3 */
    struct run_lengths between; /* inter-loss-period lengths, 6.4: from the last lost packet
                                   of a period to the first of the next; none for the first
                                   period and after a break */
    uint64_t cut;               /* closed runs that touch a break or the beginning */
    uint64_t distance[RUNS_DISTANCE_MAX + 1]; /* losses by loss distance; [0] those without one */

    /* the state: what the packet before was, and the run still open */
    enum { RUNS_NONE, RUNS_ARRIVED, RUNS_MISSING } before;
    uint64_t run;   /* length of the open run, or 0 */
    bool run_cut;   /* its beginning touches a break */
    uint64_t since; /* packets since the last loss; 0 when there is none or a break since */
    runs_sink *sink;
    void *context;
};

/* sink, which may be NULL, is called once for each packet of known order: also within runs_missing,
 * so give one only where runs are short. */
void runs_init(struct runs *r, runs_sink *sink, void *context);

void runs_outcome(struct runs *r, bool arrived);
void runs_arrived(struct runs *r, uint64_t count); /* the same as that many outcomes; */
void runs_missing(struct runs *r, uint64_t count); /* likewise */
void runs_unknown(struct runs *r, uint64_t got, uint64_t lost); /* with none at all no break */
void runs_break(struct runs *r);

/* All that a report tells.  The transmitter's start lies before its packets: it takes longer than
 * the time between two reports. */
void runs_step(struct runs *r, const struct packet_step *step);

/* Runs whose whole length was not seen, the open one included. */
uint64_t runs_cut(const struct runs *r);

/* RFC 3357, 6.1: losses no more than delta after the loss before them.  To be divided by `lost`. */
uint64_t runs_noticeable(const struct runs *r, uint64_t delta);

unsigned runs_bin(uint64_t length);   /* of a length of at least 1 */
uint64_t runs_bin_from(unsigned bin); /* its least length */

#endif
