/* Recordings, version 1: events to CSV rows (RFC 4180) and back.  Opens nothing: the writer hands
 * back text, the reader takes pushed bytes in any chunking.  One pass, no allocation.
 *
 * The reader goes by the names in the header: columns may stand in any order, unknown ones are
 * passed over, and what is missing is unknown.  It reads what other programs make of a recording
 * too: other separators and line ends, quotes, a byte-order mark, a decimal comma. */
#ifndef SESSION_SESSION_H
#define SESSION_SESSION_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/text.h"
#include "session/csv.h"
#include "telemetry/event.h"

enum {
    SESSION_ROW_MAX = 4096,   /* no row that session_row writes is longer, line end included */
    SESSION_TEXT_MAX = 1600,  /* bytes of an event's text that a row keeps */
    SESSION_DAMAGE_MAX = 800, /* damaged bytes that a row keeps */
};

/* The header row with its line end.  Rows end in CR LF, as RFC 4180 has it. */
void session_header(struct text *out);

/* One row with its line end; out must have SESSION_ROW_MAX bytes of room.  Reading the row gives
 * the same event again.  Text over the limits above is cut (no line of telemetry has that much),
 * as is the text of a mark that takes none. */
void session_row(struct text *out, const struct event *event);

/* How a file holds its columns; taken from its header. */
enum { SESSION_FIELDS_MAX = 256 };
struct session_layout {
    struct csv_form form; /* the separator is a comma, a semicolon, a tab or a bar */
    bool own;             /* the columns that session_header writes, in the same order and form */
    bool saved;           /* by another program, which may leave out empty fields at a row's end */
    uint16_t count;       /* of fields in a row */
    uint8_t column[SESSION_FIELDS_MAX]; /* of each field, COLUMN_COUNT where it isn't known */
};

/* A row as session_row writes it, in another layout.  The event is lost in a layout that lacks the
 * columns it needs: session_layout_has_note() tells for events with a note. */
void session_row_in(const struct session_layout *layout, struct text *out,
                    const struct event *event);
bool session_layout_has_note(const struct session_layout *layout);

/* True when a file that begins with these bytes is meant as a recording: its first line names the
 * column kind or host_us and another one.  Anything else is a raw capture.  To be asked with the
 * first line, or its first SESSION_ROW_MAX bytes. */
bool session_recognises(const char *bytes, size_t len);

enum session_fault {
    SESSION_HEADER, /* the header names no column `kind` */
    SESSION_UTF16,  /* two bytes a character */
    SESSION_TWICE,  /* the header names a column twice; column tells which */
    SESSION_MANY,   /* more than SESSION_FIELDS_MAX columns, or a header longer than any row */
    SESSION_FIELDS, /* wrong number of fields; fields and columns tell */
    SESSION_QUOTE,  /* a quote out of place */
    SESSION_KIND,   /* unknown kind of row */
    SESSION_VALUE,  /* a value that its column can't hold; column tells which */
    SESSION_LACK,   /* a kind of row that needs a column which the file hasn't */
    SESSION_LONG,   /* row longer than any that this format has */
    SESSION_TORN,   /* last row without its line end: passed over */
    SESSION_FAULTS
};

struct session_report { /* of a row that was passed over */
    enum session_fault fault;
    uint64_t line;            /* of the file, from 1 */
    const char *column;       /* name, or NULL */
    uint32_t fields, columns; /* of SESSION_FIELDS: what the row has, and what the header names */
};
typedef void session_fault_sink(void *context, const struct session_report *report);

const char *session_fault_name(enum session_fault fault);

enum { SESSION_STEPS_MAX = 96 };

/* How the reader reads one column of a report: found once, since finding it took as long as the
 * reading. */
struct session_step {
    uint8_t column;
    uint8_t way;      /* the reader's own enum */
    uint16_t at;      /* where the value goes in struct event */
    uint32_t has;     /* the key's bit in report.has */
    uint32_t highest; /* value of a number */
};

struct session_reader {
    event_sink *sink;
    session_fault_sink *faults;                   /* may be NULL */
    void *context;                                /* of both */
    struct session_step steps[SESSION_STEPS_MAX]; /* of a report's wanted columns, in order */
    struct session_layout layout;                 /* once the header is seen */
    uint64_t line;
    uint64_t rows_good, rows_bad;
    bool header_seen, refused; /* refused: the header can't be used, so nothing is read */
    bool skipping;             /* up to the next line end */
    size_t len;
    char row[SESSION_ROW_MAX];         /* a row that spans two chunks */
    char scratch[SESSION_ROW_MAX + 1]; /* unquoted fields and unescaped bytes */
};

/* A broken row (fields, quotes, length) costs only its first line of
 * text: reading goes on at the next, so an open quote can't swallow what follows.  An event's
 * slices live until its sink returns. */
void session_reader_init(struct session_reader *r, event_sink *sink, session_fault_sink *faults,
                         void *context);

/* Whoever needs only some keys of reports says so (bits as in report.has): the columns of the
 * others are not looked at, and the report hasn't them. */
void session_reader_want(struct session_reader *r, uint32_t keys);

void session_reader_feed(struct session_reader *r, const char *bytes, size_t len);
void session_reader_end(struct session_reader *r);

#endif
