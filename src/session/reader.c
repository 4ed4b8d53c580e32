#include <string.h>

#include "base/number.h"
#include "session/columns.h"
#include "session/csv.h"
#include "session/session.h"
#include "telemetry/pairs.h"
#include "telemetry/value.h"
#include "telemetry/words.h"

/* A row in its fields.  Where they all lie in one piece of memory, numbers are read eight bytes at
 * a time up to its end, without asking first how long each is. */
struct row {
    const struct csv_plain *plain; /* without quotes; NULL: the fields are in fields */
    const struct slice *fields;
    const char *end; /* NULL when some field lies elsewhere */
};

_Static_assert((int)COLUMN_COUNT <= (int)CSV_PLAIN_FIELDS, "a bit a column");

/* Where the value of a row is bad; NO_FAULT where none is. */
enum { NO_FAULT = COLUMN_COUNT, NOTE_COLUMN = COLUMN_COUNT - 1 };

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

/* -- one field of a report ------------------------------------------------------------------ */

static inline struct slice field_of(const struct row *row, size_t column) {
    return row->plain ? csv_plain_field(row->plain, column) : row->fields[column];
}

static bool read_pattern(const struct row *row, struct slice text, struct report *r) {
    struct cursor c = {text.at, row->end ? row->end : text.at + text.len};
    return value_pattern(&c, &r->pat, &r->pat_len) == NUMBER_OK && c.at == text.at + text.len;
}

static bool read_u32(const struct row *row, struct slice text, uint32_t *out) {
    if (text.len - 1 < 8 && row->end && row->end - text.at >= 8)
        return value_u32_of(text.at, text.len, out);
    return number_u32(text, out) == NUMBER_OK;
}

static bool read_i32(const struct row *row, struct slice text, const struct report_field *field,
                     int32_t *out) {
    uint32_t size;
    bool minus = text.len > 0 && text.at[0] == '-';
    if (!read_u32(row, minus ? slice_sub(text, 1, text.len) : text, &size) || size > INT32_MAX)
        return false;
    *out = minus ? -(int32_t)size : (int32_t)size;
    return *out >= field->low && *out <= field->high;
}

static bool read_pair(const struct row *row, struct slice first, struct slice second,
                      uint32_t value[2]) {
    return read_u32(row, first, &value[0]) && read_u32(row, second, &value[1]) &&
           value[0] <= value[1];
}

static bool read_slashed(const struct row *row, struct slice text, uint32_t value[2]) {
    struct slice second = text;
    struct slice first = slice_cut(&second, '/');
    return read_pair(row, first, second, value);
}

/* Reads a field, which is not empty, into the report. */
static bool read_field(const struct row *row, size_t column, struct slice text, struct report *r) {
    enum report_key key = (enum report_key)session_columns[column].index;
    const struct report_field *field = &report_fields[key];
    uint32_t *value = (void *)((char *)r + field->offset);
    r->has |= 1u << key;
    switch (field->shape) {
    case SHAPE_U32:
        return read_u32(row, text, value);
    case SHAPE_FLAG:
        return read_u32(row, text, value) && *value <= 1;
    case SHAPE_I32:
        return read_i32(row, text, field, (int32_t *)value);
    case SHAPE_PAIR:
        return field->column2 ? read_pair(row, text, field_of(row, column + 1), value)
                              : read_slashed(row, text, value);
    case SHAPE_PATTERN:
        return read_pattern(row, text, r);
    case SHAPE_REGISTERS:
        return registers_of(text, value);
    case SHAPE_CHANNELS: /* has columns of its own */
        break;
    }
    return false;
}

static bool read_report_column(const struct row *row, size_t column, struct slice text,
                               struct report *r) {
    switch ((enum column_what)session_columns[column].what) {
    case COLUMN_FIELD:
        return read_field(row, column, text, r);
    case COLUMN_SECOND: /* was read with the first of its pair, if that was there */
        return report_has(r, (enum report_key)session_columns[column].index);
    default:
        return false;
    }
}

/* True when it is seen at once that these columns are empty. */
static inline bool rest_empty(const struct row *row, size_t first, size_t last) {
    return row->plain && csv_plain_empty(row->plain, first, last - first + 1);
}

/* All columns of `ch` or `in`, which are beside each other.  They are filled from the first one on,
 * without a hole.  Returns the one whose value is bad, or NO_FAULT. */
static size_t read_channels(const struct row *row, size_t first, struct report *r) {
    bool in = session_columns[first].what == COLUMN_IN;
    enum report_key key = in ? KEY_IN : KEY_CH;
    int32_t *values = in ? r->in : r->ch;
    uint32_t count = 0;
    for (uint32_t i = 0; i < CHANNELS_MAX; i++) {
        struct slice text = field_of(row, first + i);
        if (text.len == 0) {
            if (rest_empty(row, first + i, first + CHANNELS_MAX - 1))
                break;
            continue;
        }
        if (i != count++)
            return first + i;
        if (read_i32(row, text, &report_fields[key], &values[i]))
            continue;
        values[i] = CHANNEL_OFF;
        if (!slice_is(text, "off"))
            return first + i;
    }
    r->has |= (uint32_t)(count > 0) << key;
    *(in ? &r->in_count : &r->ch_count) = count;
    return NO_FAULT;
}

/* -- the note ------------------------------------------------------------------------------- */

/* Splits "word: rest" or, where nothing follows, "word:" or "word". */
static struct slice cut_colon(struct slice *note) {
    struct slice word = slice_cut(note, ':');
    if (note->len > 0 && note->at[0] == ' ')
        *note = slice_sub(*note, 1, note->len);
    return word;
}

static bool read_mark(struct slice note, struct mark *mark) {
    struct slice word = slice_cut(&note, '=');
    bool wants_text;
    if (!mark_of(word, &mark->type))
        return false;
    wants_text = mark->type == MARK_FACING || mark->type == MARK_TEXT;
    mark->text = note;
    return wants_text == (note.at != NULL);
}

static bool read_damage(struct slice note, struct damage *damage, struct text *scratch) {
    static const char more[] = ", continued";
    struct slice word = cut_colon(&note);
    size_t comma = slice_find(word, ',');
    struct slice tail = slice_sub(word, comma, word.len);
    damage->continues = slice_is(tail, more);
    if ((tail.len > 0 && !damage->continues) ||
        !damage_of(slice_sub(word, 0, comma), &damage->reason))
        return false;
    size_t start = scratch->len;
    if (!text_unescape(scratch, note) || scratch->full)
        return false;
    damage->bytes = (struct slice){scratch->at + start, scratch->len - start};
    return true;
}

static bool read_note(struct slice note, struct event *event, struct text *scratch) {
    enum damage_reason why;
    if (note.len > 0 && note.at[0] == '\'')
        note = slice_sub(note, 1, note.len);
    switch (event->kind) {
    case EVENT_ABOUT:
        event->about.key = slice_cut(&note, '=');
        event->about.value = note;
        return note.at != NULL;
    case EVENT_REPORT:
        event->report.extra = note;
        return true;
    case EVENT_ID:
        return identity_parse(note, &event->id, &why);
    case EVENT_BOOT:
        return boot_parse(note, &event->boot, &why);
    case EVENT_AIR:
        return air_parse(note, &event->air, &why);
    case EVENT_MARK:
        return read_mark(note, &event->mark);
    case EVENT_DAMAGE:
        return read_damage(note, &event->damage, scratch);
    case EVENT_PORT:
        if (!port_change_of(cut_colon(&note), &event->port.change))
            return false;
        event->port.note = note;
        return true;
    case EVENT_SAY:
    case EVENT_OTHER:
    case EVENT_ANSWER:
    case EVENT_END:
        event->text = note;
        return true;
    case EVENT_KINDS:
        break;
    }
    return false;
}

/* -- a row ---------------------------------------------------------------------------------- */

static bool read_distance(struct slice text, struct event *event) {
    return event->kind == EVENT_MARK &&
           number_decimal(text, &event->mark.distance_m) == NUMBER_OK &&
           event->mark.distance_m >= 0;
}

/* Reads a field, which is not empty and not the note. */
static bool read_column(const struct row *row, size_t column, struct slice text,
                        struct event *event) {
    switch ((enum column_what)session_columns[column].what) {
    case COLUMN_KIND: /* read before */
        return true;
    case COLUMN_HOST:
        return number_i64(text, &event->host_us) == NUMBER_OK;
    case COLUMN_BYTES:
        return read_u32(row, text, &event->bytes);
    case COLUMN_DISTANCE:
        return read_distance(text, event);
    default:
        return event->kind == EVENT_REPORT && read_report_column(row, column, text, &event->report);
    }
}

static bool is_channel(size_t column) {
    unsigned what = session_columns[column].what;
    return what == COLUMN_CH || what == COLUMN_IN;
}

/* Returns the first column whose value is bad, or NO_FAULT. */
static size_t read_event(const struct row *row, uint64_t wanted, struct event *event,
                         struct text *scratch) {
    event->host_us = TIME_UNKNOWN;
    event->bytes = 0;
    if (event->kind == EVENT_MARK)
        event->mark.distance_m = -1;
    uint64_t columns = (UINT64_C(1) << NOTE_COLUMN) - 1;
    bool report = event->kind == EVENT_REPORT;
    if (report)
        columns &= wanted;
    while (columns != 0) {
        size_t column = (size_t)__builtin_ctzll(columns), bad;
        if (report && is_channel(column)) {
            if ((bad = read_channels(row, column, &event->report)) != NO_FAULT)
                return bad;
            columns &= ~(((UINT64_C(1) << CHANNELS_MAX) - 1) << column);
            continue;
        }
        struct slice text = field_of(row, column);
        if (text.len > 0 && !read_column(row, column, text, event))
            return column;
        columns &= columns - 1;
    }
    return read_note(field_of(row, NOTE_COLUMN), event, scratch) ? NO_FAULT : NOTE_COLUMN;
}

static void report_fault(struct session_reader *r, enum session_fault fault, const char *column) {
    struct session_report report = {.fault = fault, .line = r->line, .column = column};
    r->rows_bad++;
    if (r->faults)
        r->faults(r->context, &report);
}

/* In pieces, since for one large one compilers take an instruction that is slow to start. */
static void clear_report(struct event *event) {
    memset(event, 0, offsetof(struct event, report.reg));
    memset(&event->report.reg, 0, offsetof(struct report, ch) - offsetof(struct report, reg));
    memset(event->report.ch, 0, sizeof event->report.ch);
    memset(event->report.in, 0, sizeof event->report.in);
    event->report.extra = (struct slice){0};
}

static void take_row(struct session_reader *r, const struct row *row, struct text *scratch) {
    struct event event;
    struct slice kind = field_of(row, 0);
    /* Nearly all rows are reports: no search for those, and no more is cleared than they have. */
    if (slice_is(kind, "rx")) {
        clear_report(&event);
        event.kind = EVENT_REPORT;
    } else {
        memset(&event, 0, sizeof event);
        if (!event_kind_of(kind, &event.kind)) {
            report_fault(r, SESSION_KIND, session_column_name(0));
            return;
        }
    }
    size_t bad = read_event(row, r->columns, &event, scratch);
    if (bad != NO_FAULT) {
        report_fault(r, SESSION_VALUE, session_column_name(bad));
        return;
    }
    r->rows_good++;
    r->sink(r->context, &event);
}

static bool take_plain(struct session_reader *r, const struct csv_plain *plain) {
    struct slice fields[COLUMN_COUNT];
    struct row row = {plain->quotes ? NULL : plain, fields, plain->at + plain->len};
    struct text scratch;
    if (plain->count != COLUMN_COUNT)
        return false;
    text_init(&scratch, r->scratch, sizeof r->scratch);
    for (size_t column = 0; plain->quotes && column < COLUMN_COUNT; column++)
        fields[column] = csv_plain_field(plain, column);
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
    r->columns = UINT64_MAX;
    r->line = 1;
}

void session_reader_want(struct session_reader *r, uint32_t keys) {
    for (size_t i = 0; i < COLUMN_COUNT; i++) {
        const struct column *column = &session_columns[i];
        bool of_key = column->what == COLUMN_FIELD || column->what == COLUMN_SECOND;
        unsigned key = of_key                      ? column->index
                       : column->what == COLUMN_CH ? KEY_CH
                       : column->what == COLUMN_IN ? KEY_IN
                                                   : REPORT_KEYS;
        if (key < REPORT_KEYS && (keys >> key & 1u) == 0)
            r->columns &= ~(UINT64_C(1) << i);
    }
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
