/* Recordings, version 1: events to CSV rows (RFC 4180) and back.  Opens nothing: the writer hands
 * back text, the reader takes pushed bytes in any chunking.  One pass, no allocation. */
#ifndef SESSION_SESSION_H
#define SESSION_SESSION_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/text.h"
#include "telemetry/event.h"

enum { SESSION_ROW_MAX = 4096 }; /* no row that session_row writes is longer */

/* The header row with its line end. */
void session_header(struct text *out);

/* One row with its line end; out must have SESSION_ROW_MAX bytes of room. */
void session_row(struct text *out, const struct event *event);

/* True when a file that begins with these bytes is a recording (a byte-order mark is allowed);
 * anything else is a raw capture.  More bytes than 32 are never needed. */
bool session_recognises(const char *bytes, size_t len);

enum session_fault {
    SESSION_HEADER,   /* the header is not that of version 1 */
    SESSION_FIELDS,   /* wrong number of fields */
    SESSION_QUOTE,    /* a quote out of place */
    SESSION_KIND,     /* unknown kind of row */
    SESSION_VALUE,    /* a value that its column can't hold; column tells which */
    SESSION_LONG,     /* row longer than any that this format has */
    SESSION_TORN,     /* last row without its line end: passed over */
    SESSION_FAULTS
};

struct session_report { /* of a row that was passed over */
    enum session_fault fault;
    uint64_t line;      /* of the file, from 1 */
    const char *column; /* name, or NULL */
};
typedef void session_fault_sink(void *context, const struct session_report *report);

const char *session_fault_name(enum session_fault fault);

struct session_reader {
    event_sink *sink;
    session_fault_sink *faults;
    void *context; /* of both */
    uint64_t line;
    uint64_t rows_good, rows_bad;
    bool header_seen, in_quotes, skipping;
    size_t len;
    char row[SESSION_ROW_MAX];     /* a row that spans two chunks */
    char scratch[SESSION_ROW_MAX]; /* unquoted fields and unescaped bytes */
};

void session_reader_init(struct session_reader *r, event_sink *sink, session_fault_sink *faults,
                         void *context);
void session_reader_feed(struct session_reader *r, const char *bytes, size_t len);
void session_reader_end(struct session_reader *r);

#endif
