/* A line's text, without line end and checksum, to an event.  Knows nothing of the lines before. */
#ifndef TELEMETRY_PARSE_H
#define TELEMETRY_PARSE_H

#include "base/slice.h"
#include "telemetry/event.h"
#include "telemetry/telemetry.h"

enum parse_verdict {
    PARSE_OK,
    PARSE_FOREIGN, /* neither our grammar nor bare numbers */
    PARSE_BAD,     /* ours, but something in it is no value of its key */
    PARSE_RANGE,   /* ours, but a value is outside what its key can be */
};

/* Fills kind and contents of *event, zeroed by the caller.  It may be half filled unless PARSE_OK
 * is returned.  t->scan is that of the line with its checksum.  Slices point into line or into
 * t->scratch; of t only that and the keys learned from the last line are touched.  The values of
 * keys in `unwanted` (bits as in report.has) are passed over. */
enum parse_verdict parse_line(struct telemetry *t, struct slice line, uint32_t unwanted,
                              struct event *event);

/* The parts of it: a line whose word is rx, and for the others what follows the word. */
enum parse_verdict parse_report(struct telemetry *t, struct slice line, uint32_t unwanted,
                                struct event *event);
enum parse_verdict parse_identity(struct slice pairs, struct event *event);
enum parse_verdict parse_boot(struct slice pairs, struct event *event);
enum parse_verdict parse_air(struct slice pairs, struct event *event);
enum parse_verdict parse_bare(struct telemetry *t, struct slice line, struct event *event);

/* True when one of the known words and a space begin here. */
bool parse_starts(struct slice line);

/* The same, but true also when the line ends before the word and its space do. */
bool parse_may_start(struct slice line);

#endif
