/* Loss by blocks of time, for tests of trend and for intervals that rest on blocks: blocks of 2 s
 * of link time from the first packet on, merged in pairs whenever 512 are full, so that memory
 * stays constant.  A step's packets are spread evenly between the two good packets around them,
 * each outcome at its own place where order is known.  A time without packets (not observed) leaves
 * blocks of 0 and 0, which are no loss. */
#ifndef LINK_STEADY_H
#define LINK_STEADY_H

#include <stdint.h>

#include "link/packets.h"

enum { STEADY_BLOCK_MS = 2000, STEADY_BLOCKS = 512 };

struct steady_block {
    uint64_t got, lost;
};

struct steady {
    int64_t begin_ms; /* TIME_UNKNOWN before the first packet */
    int64_t block_ms;
    uint32_t full; /* blocks before block[full], which is being filled, are complete */
    struct steady_block block[STEADY_BLOCKS];
    int64_t observed_ms;         /* time that packets were counted over */
    struct steady_block untimed; /* packets whose time nobody knows */
};

void steady_init(struct steady *s);

/* The packets of a step, sent after from_ms and up to to_ms (the good packets before and after);
 * from_ms unknown: all at to_ms; to_ms unknown: untimed. */
void steady_place(struct steady *s, const struct packet_step *step, int64_t from_ms, int64_t to_ms);

/* The same.  Nearly all steps lie in the newest block as a whole, and are added to it in place. */
static inline void steady_step(struct steady *s, const struct packet_step *step, int64_t from_ms,
                               int64_t to_ms) {
    struct steady_block *newest = &s->block[s->full];
    int64_t newest_ms = s->begin_ms + (int64_t)s->full * s->block_ms; /* where that begins */
    if (step->counted && s->begin_ms != TIME_UNKNOWN && from_ms >= newest_ms && from_ms <= to_ms &&
        to_ms - newest_ms < s->block_ms) {
        newest->got += step->got;
        newest->lost += step->lost;
        s->observed_ms += step->got + step->lost > 0 ? to_ms - from_ms : 0;
    } else {
        steady_place(s, step, from_ms, to_ms);
    }
}

/* The complete blocks, joined until each is at least least_ms long, in order of time and without
 * those that hold no packet; into out[STEADY_BLOCKS].  Returns how many.  *block_ms is their
 * length; *rest, the packets that fill no whole block yet.  Both may be NULL. */
uint32_t steady_blocks(const struct steady *s, int64_t least_ms, struct steady_block *out,
                       int64_t *block_ms, struct steady_block *rest);

#endif
