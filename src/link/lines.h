/* The lines themselves: good, damaged, missing on the cable. */
#ifndef LINK_LINES_H
#define LINK_LINES_H

#include "telemetry/telemetry.h"

struct lines {
    uint64_t good, damaged, missing, reports, unknown_words, unknown_keys;
    uint64_t bytes_good, bytes_damaged;
    uint64_t by_reason[DAMAGE_REASONS];
    bool missing_known;
    bool n_known; /* the newest report's number, 0 after a boot */
    uint32_t n;
    uint64_t refused_since;             /* lines refused since the newest report */
    uint64_t boot_text[DAMAGE_REASONS]; /* refused since the newest good line, by reason; */
    bool boot_text_any;                 /* some were */
};

void lines_init(struct lines *l);

/* Counts a good line that is no report. */
void lines_good(struct lines *l, const struct event *e);

/* Counts the keys of a report that nobody knows. */
void lines_unknown_keys(struct lines *l, struct slice pairs);

/* Counts a refused line, or a further piece of one. */
void lines_damaged(struct lines *l, const struct event *e);

/* A boot line: refused lines just before it that hold no telemetry are what a boot loader prints.
 */
void lines_boot(struct lines *l);

/* Counts a report and takes its number; returns whether lines are missing or damaged between it and
 * the report before, and how many are missing on the cable in *missing. */
bool lines_report(struct lines *l, const struct event *e, bool fresh_boot, uint64_t *missing);

#endif
