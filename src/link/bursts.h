/* Bursts and gaps of RFC 3611 (2003), by the definition of 4.7.2 (not by the estimate of its
 * Appendix A.2), in one pass and constant memory.
 *
 * Losses with fewer than Gmin received packets between them belong together.  Two or more of them
 * are a burst, from the first lost packet to the last; one alone is a loss within a gap; all else
 * is gap. What belongs together is known once Gmin packets in a row were received.  The beginning
 * of the run, its end, and bursts_break are taken as Gmin received packets, as the RFC does for a
 * session.
 *
 * Unknown order (bursts_unknown) is not: a lone loss with fewer than Gmin received between it and
 * the unknown may be either, and so may the received ones there; they are `unsure`.  A burst that
 * may go on in the unknown is `cut`.  Packets of known order = packets + gap_packets +
 * unsure_packets. */
#ifndef LINK_BURSTS_H
#define LINK_BURSTS_H

#include <stdbool.h>
#include <stdint.h>

#include "link/packets.h"

enum { BURSTS_GMIN = 16 };

struct bursts {
    uint64_t gmin;
    uint64_t count, cut;    /* bursts */
    uint64_t packets, lost; /* in bursts */
    uint64_t longest;       /* packets in the longest one */
    uint64_t gaps;          /* those with at least one packet */
    uint64_t gap_packets, gap_lost;
    uint64_t unsure_packets, unsure_lost;

    /* the state */
    uint64_t held_packets, held_lost; /* losses that belong together, up to the last one; 0 none */
    bool held_cut;                    /* the unknown lies less than gmin before the first of them */
    uint64_t tail; /* received since; with none held, received since the unknown, if that is near */
    bool near;     /* none held, and the unknown lies less than gmin back */
    bool in_gap;   /* the newest decided packet is part of gap number `gaps` */
};

struct bursts_figures {
    uint64_t count, packets, lost, longest, cut;
    uint64_t gaps, gap_packets, gap_lost;
    uint64_t unsure_packets, unsure_lost;
    /* unknown: negative */
    double density;               /* lost / packets, in bursts */
    double mean_packets, mean_ms; /* of a burst */
    double gap_density;           /* likewise, in gaps */
    double gap_mean_packets, gap_mean_ms;
};

void bursts_init(struct bursts *b, uint64_t gmin); /* gmin: BURSTS_GMIN, at least 1 */

void bursts_outcome(struct bursts *b, bool arrived);
void bursts_arrived(struct bursts *b, uint64_t count); /* the same as that many outcomes; */
void bursts_missing(struct bursts *b, uint64_t count); /* likewise */
void bursts_unknown(struct bursts *b);                 /* some packets of unknown order */
void bursts_break(struct bursts *b);                   /* a start of either end */
void bursts_step(struct bursts *b, const struct packet_step *step); /* as runs_step */

/* The figures if the run ended here.  interval_ms: between two packets; not positive: unknown. */
void bursts_read(const struct bursts *b, double interval_ms, struct bursts_figures *out);

#endif
