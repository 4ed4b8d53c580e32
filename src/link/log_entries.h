/* The newest things that happened, in a ring that the snapshot shows, in the order of their times.
 */
#ifndef LINK_LOG_ENTRIES_H
#define LINK_LOG_ENTRIES_H

#include "link/snapshot.h"

struct log_entries {
    uint64_t count;
    struct log_entry ring[LOG_ENTRIES_MAX];
};

/* Adds one, before those of a later time; text may be empty and is cut and made printable.  A
 * damage like the newest log_entry's, or further lines missing within 2 s, is added to it instead.
 */
void log_entries_add(struct log_entries *h, enum log_entry_kind kind, int64_t at_ms,
                     int64_t host_us, int64_t a, int64_t b, struct slice text);

#endif
