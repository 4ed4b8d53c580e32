/* What a line's bytes show before any of it is read, found in one pass: whether all of them may
 * stand in a line, and where its spaces are, which is where its pairs end. */
#ifndef TELEMETRY_SCAN_H
#define TELEMETRY_SCAN_H

#include <stdbool.h>
#include <stdint.h>

#include "base/slice.h"
#include "telemetry/event.h"

enum { SCAN_STEP = 64, SCAN_MASKS = (LINE_BYTES_MAX + SCAN_STEP) / SCAN_STEP };

struct scan {
    struct slice line;
    bool plain;                  /* every byte is printable ASCII */
    uint64_t spaces[SCAN_MASKS]; /* bit n of mask m: byte 64 m + n is one, or is behind the line */
};

/* Fills *out for a line of at most LINE_BYTES_MAX bytes. */
void scan_line(struct slice line, struct scan *out);

/* Goes from one space to the next, and at last to the line's end. */
struct scan_walk {
    const uint64_t *mask;
    uint64_t bits; /* of *mask, those still ahead */
    const char *from;
};

static inline struct scan_walk scan_walk(const struct scan *scan) {
    return (struct scan_walk){scan->spaces, scan->spaces[0], scan->line.at};
}

static inline const char *scan_next(struct scan_walk *w) {
    while (w->bits == 0) {
        w->bits = *++w->mask;
        w->from += SCAN_STEP;
    }
    const char *at = w->from + __builtin_ctzll(w->bits);
    w->bits &= w->bits - 1;
    return at;
}

#endif
