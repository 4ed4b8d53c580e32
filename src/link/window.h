/* The last minute in cells of 100 ms: sums over 1 s, 10 s and each second are read from it. */
#ifndef LINK_WINDOW_H
#define LINK_WINDOW_H

#include "link/packets.h"
#include "link/snapshot.h"
#include "stat/loss.h"

enum {
    WINDOW_CELL_MS = 100,
    WINDOW_CELLS = RECENT_SECONDS * 1000 / WINDOW_CELL_MS,
    WINDOW_TEN = 10000 / WINDOW_CELL_MS, /* cells of ten seconds */
    WINDOW_OUTCOMES = 4096,              /* newest packets kept one by one */
};

struct window_cell {
    uint32_t got, lost;
    uint32_t reports, bytes;
    uint32_t heard_hits, heard_looks, noise_hits, noise_looks;
    bool observed, silent;
    uint8_t changes[CHANNELS_MAX]; /* reports with a changed value */
};

/* Sums of the last ten seconds, kept up as cells come and go, since they are judged at each report.
 */
struct window_ten {
    uint64_t got, lost, bytes;
};

struct window {
    uint64_t outcome[WINDOW_OUTCOMES / 64]; /* a ring of bits, 1 arrived */
    uint64_t outcomes;                      /* put into it */
    uint64_t ordered;                       /* of the newest so many the order is known */
    struct window_ten ten;
    int64_t begin_ms; /* first moment ever covered, TIME_UNKNOWN before it */
    int64_t head;     /* cell number (ms / WINDOW_CELL_MS) of the newest cell */
    struct window_cell cell[WINDOW_CELLS];
    struct window_cell outside; /* takes what lies outside of the window; never read */
};

void window_init(struct window *w);

/* Makes now_ms the newest moment; going back has no effect. */
void window_advance(struct window *w, int64_t now_ms);

/* The cell of at_ms; one that nobody reads when at_ms lies outside of the window. */
struct window_cell *window_at(struct window *w, int64_t at_ms);

/* Spreads a report's packets evenly over from_ms (exclusive) to to_ms. */
void window_packets(struct window *w, const struct packet_step *s, int64_t from_ms, int64_t to_ms);

/* A report of so many bytes arrived. */
void window_report(struct window *w, int64_t at_ms, uint32_t bytes);

/* Marks the cells from_ms..to_ms as observed, or as lying in an outage. */
void window_observed(struct window *w, int64_t from_ms, int64_t to_ms);
void window_silent(struct window *w, int64_t from_ms, int64_t to_ms);

/* Sums of the cells of the last span_ms before and including the newest one. */
struct window_cell window_sum(const struct window *w, int64_t span_ms);

/* How often each channel changed in the last span_ms, into out[CHANNELS_MAX]. */
void window_changes(const struct window *w, int64_t span_ms, uint64_t *out);

/* The loss runs of the newest `packets`; false when their order isn't known, or they are too many.
 */
bool window_runs(const struct window *w, uint64_t packets, struct loss_runs *out);

/* The part of span_ms that lies after the beginning, ms; 0 before it. */
int64_t window_covered(const struct window *w, int64_t span_ms);

/* Fills out[RECENT_SECONDS], newest last. */
void window_seconds(const struct window *w, struct second_cell *out);

#endif
