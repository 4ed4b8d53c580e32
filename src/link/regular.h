/* How regularly reports come by the receiver's own clock, and how that clock runs against the
 * host's.
 *
 * A line's host time is later than the report by serial time and buffering: never less than some
 * least delay, often more.  So of each block of time only the line with the least of host -
 * receiver is kept, and the drift is the median of the slopes between all pairs of these (Theil
 * 1950, Sen 1968).  Blocks double in length when all are filled.  A restart of the receiver begins
 * anew; the longest stretch between restarts gives the figure. */
#ifndef LINK_REGULAR_H
#define LINK_REGULAR_H

#include <stdbool.h>
#include <stdint.h>

#include "base/clock.h"

enum {
    REGULAR_BLOCKS = 32,
    REGULAR_BLOCK_MS = 1000, /* in the beginning */
    REGULAR_BLOCKS_LEAST = 8,
    REGULAR_SPAN_LEAST_MS = 30000,
};

/* Host and receiver may differ by what a clock divider set wrongly does, 16 (data sheets of 8-bit
 * controllers: 1, 2, 8, 16), and some more.  Beyond it the host times are no clock's: it stood, or
 * the lines were read from a pipe long after they were printed. */
#define REGULAR_RATIO_MOST 20.0

struct regular_drift {
    bool known;
    bool untimed;             /* unknown since host times don't show when the lines came */
    double ppm;               /* positive: the receiver's clock is the faster one */
    double low_ppm, high_ppm; /* Sen's interval, 95 % */
    int64_t span_ms;          /* of receiver time that it rests on */
};

struct regular_block {
    bool filled;
    int64_t rx_ms, late_us; /* of the line with the least host - receiver */
};

struct regular {
    /* between reports that follow each other directly */
    uint64_t intervals;
    double mean_ms, squares;                        /* squares: of the deviations from the mean */
    int64_t shortest_ms, longest_ms, longest_at_ms; /* TIME_UNKNOWN: none; _at_: when it began */

    int64_t last_ms; /* of the report before, or TIME_UNKNOWN */
    int64_t begin_ms, block_ms;
    struct regular_block block[REGULAR_BLOCKS];
    struct regular_drift longest; /* of the stretches before */
};

void regular_init(struct regular *g);

/* A report at rx_ms, receiver time unwrapped; host_us may be TIME_UNKNOWN.  next: no line is
 * missing between the one before and this one. */
void regular_report(struct regular *g, int64_t rx_ms, int64_t host_us, bool next);

/* The receiver restarted, or its time can't be carried on. */
void regular_restart(struct regular *g);

/* Standard deviation of the intervals (n - 1); negative with fewer than two. */
double regular_sd_ms(const struct regular *g);

struct regular_drift regular_drift(const struct regular *g);

#endif
