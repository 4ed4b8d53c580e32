#include <string.h>

#include "session/columns.h"
#include "session/csv.h"
#include "session/row.h"
#include "session/session.h"

static const char byte_order_mark[] = "\xEF\xBB\xBF";

bool session_recognises(const char *bytes, size_t len) {
    struct slice s = {bytes, len};
    if (slice_starts(s, byte_order_mark))
        s = slice_sub(s, strlen(byte_order_mark), s.len);
    return slice_starts(s, "kind,host_us,");
}

const char *session_fault_name(enum session_fault fault) {
    static const char *const names[SESSION_FAULTS] = {
        [SESSION_HEADER] = "the header is not that of a version 1 recording",
        [SESSION_FIELDS] = "wrong number of fields",
        [SESSION_QUOTE] = "a quote out of place",
        [SESSION_KIND] = "unknown kind of row",
        [SESSION_VALUE] = "a value that this column can't hold",
        [SESSION_LONG] = "row too long",
        [SESSION_TORN] = "last row torn off",
    };
    return names[fault];
}

static void report_fault(struct session_reader *r, enum session_fault fault, const char *column) {
    struct session_report report = {.fault = fault, .line = r->line, .column = column};
    r->rows_bad++;
    if (r->faults)
        r->faults(r->context, &report);
}

static void take_row(struct session_reader *r, const struct row *row, struct text *scratch) {
    struct event event;
    size_t bad = row_read(row, r->steps, &event, scratch);
    if (bad != ROW_GOOD) {
        enum session_fault fault = bad == 0 ? SESSION_KIND : SESSION_VALUE;
        report_fault(r, fault, session_column_name(bad));
        return;
    }
    r->rows_good++;
    r->sink(r->context, &event);
}

static bool take_plain(struct session_reader *r, const struct csv_plain *plain) {
    struct row row = {.plain = plain};
    struct text scratch;
    if (plain->count != COLUMN_COUNT)
        return false;
    text_init(&scratch, r->scratch, sizeof r->scratch);
    take_row(r, &row, &scratch);
    return true;
}

/* A row with doubled quotes. */
static bool take_quoted(struct session_reader *r, struct slice text) {
    struct slice fields[COLUMN_COUNT];
    struct row row = {.fields = fields};
    struct text scratch;
    text_init(&scratch, r->scratch, sizeof r->scratch);
    if (csv_split(text, fields, COLUMN_COUNT, &scratch) != COLUMN_COUNT)
        return false;
    take_row(r, &row, &scratch);
    return true;
}

/* -- bytes to rows -------------------------------------------------------------------------- */

/* Passes over the bytes up to the next line end, or all of them and what follows up to it. */
static size_t skip_line(struct session_reader *r, const char *bytes, size_t len) {
    const char *lf = memchr(bytes, '\n', len);
    r->skipping = lf == NULL;
    if (!lf)
        return len;
    r->line++;
    return (size_t)(lf - bytes) + 1;
}

static size_t drop_line(struct session_reader *r, enum session_fault fault, const char *bytes,
                        size_t len) {
    report_fault(r, fault, NULL);
    return skip_line(r, bytes, len);
}

static size_t lines_in(const char *bytes, size_t len) {
    size_t count = 0;
    for (const char *at = bytes, *lf; (lf = memchr(at, '\n', len - (size_t)(at - bytes))) != NULL;
         at = lf + 1)
        count++;
    return count;
}

/* The header has no quotes, so it is one line.  Returns the bytes used up, 0 for more wanted. */
static size_t take_header(struct session_reader *r, const char *bytes, size_t len) {
    size_t room = len < SESSION_ROW_MAX ? len : SESSION_ROW_MAX;
    const char *lf = memchr(bytes, '\n', room);
    if (!lf && room < SESSION_ROW_MAX)
        return 0;
    struct slice line = {bytes, lf ? (size_t)(lf - bytes) : 0};
    if (slice_starts(line, byte_order_mark))
        line = slice_sub(line, strlen(byte_order_mark), line.len);
    if (line.len > 0 && line.at[line.len - 1] == '\r')
        line.len--;
    struct text expected;
    text_init(&expected, r->scratch, sizeof r->scratch);
    session_header(&expected);
    r->header_seen = slice_equal(line, slice_sub(text_view(&expected), 0, expected.len - 2));
    if (!r->header_seen) {
        r->refused = true;
        report_fault(r, SESSION_HEADER, NULL);
        return len;
    }
    r->line++;
    return (size_t)(lf - bytes) + 1;
}

/* A row that the quick way leaves: open yet, too long, or with quotes doubled or out of place. */
static size_t take_other(struct session_reader *r, const char *bytes, size_t len, size_t room) {
    bool cut = room == SESSION_ROW_MAX;
    size_t end = 0;
    enum csv_verdict verdict = csv_row(bytes, room, &end);
    if (verdict == CSV_MORE)
        return cut ? drop_line(r, SESSION_LONG, bytes, len) : 0;
    if (verdict == CSV_STRAY)
        return cut || memchr(bytes, '\n', len) ? drop_line(r, SESSION_QUOTE, bytes, len) : 0;
    if (!take_quoted(r, (struct slice){bytes, end}))
        return drop_line(r, SESSION_FIELDS, bytes, len);
    r->line += lines_in(bytes, end);
    return end;
}

/* Takes one row off the bytes and returns its length, 0 when its end isn't there yet.  Nothing is
 * said of a line whose end may still come, or else the chunking would decide what is said. */
static size_t take_one(struct session_reader *r, const char *bytes, size_t len) {
    if (!r->header_seen)
        return take_header(r, bytes, len);
    if (r->skipping)
        return skip_line(r, bytes, len);
    bool cut = len >= SESSION_ROW_MAX;
    size_t room = cut ? SESSION_ROW_MAX : len;
    struct csv_plain plain;
    if (!csv_plain_row(bytes, room, &plain))
        return take_other(r, bytes, len, room);
    if (!take_plain(r, &plain))
        return drop_line(r, SESSION_FIELDS, bytes, len);
    r->line += plain.quotes ? lines_in(bytes, plain.len) : 1;
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
    const char *lf = memchr(bytes, '\n', take);
    if (lf)
        take = (size_t)(lf - bytes) + 1;
    memcpy(r->row + r->len, bytes, take);
    r->len += take;
    if (lf || r->len == sizeof r->row)
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

/* True when what came is the beginning of our header. */
static bool header_torn(struct session_reader *r) {
    struct slice line = {r->row, r->len};
    struct text expected;
    text_init(&expected, r->scratch, sizeof r->scratch);
    text_string(&expected, byte_order_mark);
    session_header(&expected);
    struct slice whole = text_view(&expected);
    size_t skip = slice_starts(line, byte_order_mark) ? 0 : strlen(byte_order_mark);
    return line.len > 0 && slice_equal(line, slice_sub(whole, skip, skip + line.len));
}

void session_reader_end(struct session_reader *r) {
    if (!r->header_seen && !r->refused) {
        report_fault(r, header_torn(r) ? SESSION_TORN : SESSION_HEADER, NULL);
        r->refused = true;
    }
    if (r->refused)
        r->len = 0;
    /* A line end among what is left stands behind a quote that never closes. */
    while (r->len > 0) {
        bool whole_line = memchr(r->row, '\n', r->len) != NULL;
        drop_carried(r, drop_line(r, whole_line ? SESSION_QUOTE : SESSION_TORN, r->row, r->len));
        if (r->len > 0)
            drop_carried(r, take_rows(r, r->row, r->len));
    }
}
