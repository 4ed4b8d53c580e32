/* The newest things that happened, in a ring that the snapshot shows, in the order of their times.
 */
#ifndef LINK_HAPPENINGS_H
#define LINK_HAPPENINGS_H

#include "link/snapshot.h"

struct happenings {
    uint64_t count;
    struct happening ring[HAPPENINGS_MAX];
};

/* Adds one, before those of a later time; text may be empty and is cut and made printable.  A
 * damage like the newest happening's, or further lines missing within 2 s, is added to it instead.
 */
void happenings_add(struct happenings *h, enum happening_kind kind, int64_t at_ms, int64_t host_us,
                    int64_t a, int64_t b, struct slice text);

#endif
