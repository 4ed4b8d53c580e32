/* A file or standard input, recording or raw capture, as events.  Told apart by the first line. */
#ifndef APP_FEED_H
#define APP_FEED_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "session/session.h"
#include "telemetry/event.h"

enum { FEED_BLOCK = 64 * 1024 };

struct feed_facts {
    bool recording; /* else a raw capture */
    int broken;     /* errno of a read that failed before the end, else 0 */
    uint64_t bytes;
    uint64_t rows_good, rows_bad;       /* of a recording */
    uint64_t lines_good, lines_refused; /* of a raw capture */
    struct session_layout layout;       /* of a recording */
};

struct feed; /* ours: feed_open .. feed_close */

/* Opens path ("-": standard input) for reading; NULL when it can't, which was said on standard
 * error. */
struct feed *feed_open(const char *path, event_sink *sink, void *context);
/* The same, with what is wrong put into `why` (WORDS_MAX bytes) instead of said. */
struct feed *feed_begin(const char *path, event_sink *sink, void *context, char *why);

/* Only these keys of reports are needed (bits as in report.has). */
void feed_want(struct feed *f, uint32_t keys);

/* From here on faults are counted and no longer said, a failed read neither: the terminal shows
 * something else, or they were said on an earlier pass. */
void feed_hush(struct feed *f);

enum feed_step { FEED_MORE, FEED_END, FEED_TROUBLE /* said on standard error */ };

/* Reads once, at most `size` bytes (up to FEED_BLOCK), and hands its events to the sink.  Faults of
 * a recording go to standard error: the first five, and their number at the end. */
enum feed_step feed_step(struct feed *f, size_t size);

void feed_facts(const struct feed *f, struct feed_facts *out);
void feed_close(struct feed *f);

/* All of it.  An enum status: STATUS_TROUBLE also where nothing in it could be used, which was
 * said. */
int feed_wanted(const char *path, uint32_t keys, event_sink *sink, void *context,
                struct feed_facts *facts);
int feed_all(const char *path, event_sink *sink, void *context, struct feed_facts *facts);

#endif
