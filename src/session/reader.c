#include <string.h>

#include "session/columns.h"
#include "session/csv.h"
#include "session/header.h"
#include "session/row.h"
#include "session/session.h"

const char *session_fault_name(enum session_fault fault) {
    static const char *const names[SESSION_FAULTS] = {
        [SESSION_HEADER] = "no column kind in the header",
        [SESSION_UTF16] = "two bytes a character",
        [SESSION_TWICE] = "a column twice in the header",
        [SESSION_MANY] = "too many columns",
        [SESSION_FIELDS] = "wrong number of fields",
        [SESSION_QUOTE] = "a quote out of place",
        [SESSION_KIND] = "unknown kind of row",
        [SESSION_VALUE] = "a value that this column can't hold",
        [SESSION_LACK] = "a kind of row that needs a column which is missing",
        [SESSION_LONG] = "row too long",
        [SESSION_TORN] = "last row torn off",
    };
    return names[fault];
}

static void report_fault(struct session_reader *r, struct session_report report) {
    report.line = r->line;
    r->rows_bad++;
    if (r->faults)
        r->faults(r->context, &report);
}

static void take_row(struct session_reader *r, const struct row *row, struct text *scratch) {
    struct event event;
    size_t bad = row_read(row, r->steps, &event, scratch);
    if (bad != ROW_GOOD) {
        enum session_fault fault = bad == COLUMN_KIND            ? SESSION_KIND
                                   : header_has(&r->layout, bad) ? SESSION_VALUE
                                                                 : SESSION_LACK;
        report_fault(r,
                     (struct session_report){.fault = fault, .column = session_columns[bad].name});
        return;
    }
    r->rows_good++;
    r->sink(r->context, &event);
}

static void take_plain(struct session_reader *r, const struct csv_plain *plain) {
    struct row row = {.plain = plain};
    struct text scratch;
    text_init(&scratch, r->scratch, sizeof r->scratch);
    take_row(r, &row, &scratch);
}

/* A row with doubled quotes, or of a file that doesn't hold its columns as ours do.  Returns the
 * number of its fields where that is wrong, else 0. */
static size_t take_any(struct session_reader *r, struct slice text) {
    struct slice fields[SESSION_FIELDS_MAX], ordered[COLUMN_COUNT];
    struct row row = {.fields = ordered};
    struct text scratch;
    text_init(&scratch, r->scratch, sizeof r->scratch);
    size_t count = csv_split(&r->layout.form, text, fields, SESSION_FIELDS_MAX, &scratch);
    if (count == r->layout.count || (r->layout.saved && count < r->layout.count)) {
        header_gather(&r->layout, fields, count, ordered, &scratch);
        take_row(r, &row, &scratch);
        return 0;
    }
    return count;
}

/* -- bytes to rows -------------------------------------------------------------------------- */

/* The next line end; of the header's line, whose form isn't known yet, a CR or LF. */
static const char *line_end_in(const struct session_reader *r, const char *bytes, size_t len) {
    const char *end;
    bool marked;
    if (r->header_seen)
        return memchr(bytes, r->layout.form.line_end, len);
    header_line(bytes, len, &marked, &end);
    return end;
}

/* Passes over the bytes up to the next line end, or all of them and what follows up to it. */
static size_t skip_line(struct session_reader *r, const char *bytes, size_t len) {
    const char *end = line_end_in(r, bytes, len);
    r->skipping = end == NULL;
    if (!end)
        return len;
    r->line++;
    return (size_t)(end - bytes) + 1;
}

static size_t drop_line(struct session_reader *r, struct session_report report, const char *bytes,
                        size_t len) {
    report_fault(r, report);
    return skip_line(r, bytes, len);
}

static size_t lines_in(const struct session_reader *r, const char *bytes, size_t len) {
    size_t count = 0;
    for (const char *at = bytes, *end;
         (end = line_end_in(r, at, len - (size_t)(at - bytes))) != NULL; at = end + 1)
        count++;
    return count;
}

static size_t refuse(struct session_reader *r, enum session_fault fault, const char *column,
                     size_t len) {
    r->refused = true;
    report_fault(r, (struct session_report){.fault = fault, .column = column});
    return len;
}

/* Returns the bytes used up, 0 for more wanted. */
static size_t take_header(struct session_reader *r, const char *bytes, size_t len) {
    size_t room = len < SESSION_ROW_MAX ? len : SESSION_ROW_MAX;
    bool cut = room == SESSION_ROW_MAX, marked;
    const char *end, *column;
    struct slice line = header_line(bytes, room, &marked, &end);
    bool cr = end && *end == '\r', last = end && end + 1 == bytes + room;
    if (!cut && (!end || (cr && last)))
        return 0;
    if (!end)
        return refuse(r, SESSION_MANY, NULL, len);
    enum session_fault fault;
    struct text scratch;
    text_init(&scratch, r->scratch, sizeof r->scratch);
    r->header_seen = header_read(&r->layout, line, &scratch, &fault, &column);
    if (!r->header_seen)
        return refuse(r, fault, column, len);
    bool lf = cr && !last && end[1] == '\n';
    if (cr && !lf)
        r->layout.form.line_end = '\r';
    r->layout.own = r->layout.own && r->layout.form.line_end == '\n';
    r->layout.saved = r->layout.saved || marked || r->layout.form.line_end == '\r';
    r->line++;
    return (size_t)(end - bytes) + 1 + lf;
}

/* A row that the quick way leaves: open yet, too long, with quotes doubled or out of place, or of
 * another layout. */
static size_t take_other(struct session_reader *r, const char *bytes, size_t len, size_t room) {
    bool cut = room == SESSION_ROW_MAX;
    size_t end = 0;
    enum csv_verdict verdict = csv_row(&r->layout.form, bytes, room, &end);
    if (verdict == CSV_MORE)
        return cut ? drop_line(r, (struct session_report){.fault = SESSION_LONG}, bytes, len) : 0;
    if (verdict == CSV_STRAY)
        return cut || line_end_in(r, bytes, len)
                   ? drop_line(r, (struct session_report){.fault = SESSION_QUOTE}, bytes, len)
                   : 0;
    size_t fields = take_any(r, (struct slice){bytes, end});
    if (fields != 0) {
        struct session_report report = {
            .fault = SESSION_FIELDS, .fields = (uint32_t)fields, .columns = r->layout.count};
        return drop_line(r, report, bytes, len);
    }
    r->line += lines_in(r, bytes, end);
    return end;
}

/* Takes one row off the bytes and returns its length, 0 when its end isn't there yet.  Nothing is
 * said of a line whose end may still come, or else the chunking would decide what is said. */
static size_t take_one(struct session_reader *r, const char *bytes, size_t len) {
    if (!r->header_seen)
        return take_header(r, bytes, len);
    if (r->skipping)
        return skip_line(r, bytes, len);
    size_t room = len < SESSION_ROW_MAX ? len : SESSION_ROW_MAX;
    struct csv_plain plain;
    if (!r->layout.own || !csv_plain_row(bytes, room, &plain) || plain.count != COLUMN_COUNT)
        return take_other(r, bytes, len, room);
    take_plain(r, &plain);
    r->line += plain.quotes ? lines_in(r, bytes, plain.len) : 1;
    return plain.len;
}

static size_t take_rows(struct session_reader *r, const char *bytes, size_t len) {
    size_t at = 0;
    while (at < len && !r->refused) {
        size_t used = take_one(r, bytes + at, len - at);
        if (used == 0)
            return at;
        at += used;
    }
    return len;
}

static void drop_carried(struct session_reader *r, size_t used) {
    r->len -= used;
    memmove(r->row, r->row + used, r->len);
}

/* Adds bytes up to the next line end to the row carried over.  Nothing can be decided before that,
 * unless the row is too long. */
static size_t carry(struct session_reader *r, const char *bytes, size_t len) {
    size_t room = sizeof r->row - r->len;
    size_t take = len < room ? len : room;
    const char *end = line_end_in(r, bytes, take);
    bool after_cr = !r->header_seen && r->row[r->len - 1] == '\r'; /* which may end the header */
    if (after_cr)
        take = 1;
    else if (end)
        take = (size_t)(end - bytes) + 1;
    memcpy(r->row + r->len, bytes, take);
    r->len += take;
    if (after_cr || end || r->len == sizeof r->row)
        drop_carried(r, take_rows(r, r->row, r->len));
    return take;
}

void session_reader_init(struct session_reader *r, event_sink *sink, session_fault_sink *faults,
                         void *context) {
    memset(r, 0, sizeof *r);
    r->sink = sink;
    r->faults = faults;
    r->context = context;
    r->line = 1;
    session_reader_want(r, UINT32_MAX);
}

void session_reader_want(struct session_reader *r, uint32_t keys) {
    row_steps(r->steps, keys);
}

void session_reader_feed(struct session_reader *r, const char *bytes, size_t len) {
    size_t at = 0;
    while (r->len > 0 && at < len && !r->refused)
        at += carry(r, bytes + at, len - at);
    if (at == len || r->refused)
        return;
    at += take_rows(r, bytes + at, len - at);
    memcpy(r->row, bytes + at, len - at);
    r->len = len - at;
}

/* True when what came is the beginning of a header. */
static bool header_torn(struct session_reader *r) {
    const char *end;
    bool marked;
    struct slice line = header_line(r->row, r->len, &marked, &end);
    struct text ours;
    text_init(&ours, r->scratch, sizeof r->scratch);
    session_header(&ours);
    return r->len > 0 && (slice_equal(line, slice_sub(text_view(&ours), 0, line.len)) ||
                          session_recognises(r->row, r->len));
}

void session_reader_end(struct session_reader *r) {
    if (!r->header_seen && !r->refused)
        refuse(r, header_torn(r) ? SESSION_TORN : SESSION_HEADER, NULL, 0);
    if (r->refused)
        r->len = 0;
    /* A line end among what is left stands behind a quote that never closes. */
    while (r->len > 0) {
        bool whole_line = line_end_in(r, r->row, r->len) != NULL;
        struct session_report report = {.fault = whole_line ? SESSION_QUOTE : SESSION_TORN};
        drop_carried(r, drop_line(r, report, r->row, r->len));
        if (r->len > 0)
            drop_carried(r, take_rows(r, r->row, r->len));
    }
}
