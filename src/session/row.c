#include "session/row.h"

#include <string.h>

#include "base/number.h"
#include "telemetry/pairs.h"
#include "telemetry/value.h"
#include "telemetry/words.h"

_Static_assert((int)COLUMN_COUNT <= (int)CSV_PLAIN_FIELDS, "room for a row");
_Static_assert((int)COLUMN_COUNT <= (int)SESSION_STEPS_MAX, "a step a column, and the end");

/* How a step reads its column of a report. */
enum way {
    WAY_NUMBER,
    WAY_SIGNED,
    WAY_PAIR,   /* in this column and the next */
    WAY_SECOND, /* which was read with the first of its pair, if that was there */
    WAY_SLASHED,
    WAY_PATTERN,
    WAY_REGISTERS,
    WAY_CHANNELS, /* in this column and those beside it */
    WAY_HOST,
    WAY_END
};

/* -- one field of a report ------------------------------------------------------------------ */

static inline struct slice field_of(const struct row *row, size_t column) {
    return row->plain ? csv_plain_field(row->plain, column) : row->fields[column];
}

/* True when the row goes on for eight bytes, which numbers are read by. */
static inline bool eight_at(const struct row *row, const char *at) {
    return row->plain && row->plain->at + row->plain->len - at >= 8;
}

static bool read_u32(const struct row *row, struct slice text, uint32_t *out) {
    if (text.len - 1 < 8 && eight_at(row, text.at))
        return value_u32_of(text.at, text.len, out);
    return number_u32(text, out) == NUMBER_OK;
}

/* From where a field in the first so many columns begins, unless it is empty, the row has at least
 * eight bytes: its own first one, the commas and the line end. */
enum { ROOMY_COLUMNS = COLUMN_COUNT - 6 };

enum quick { QUICK_DONE, QUICK_EMPTY, QUICK_OTHER };

/* A number of up to eight digits in no quotes, in a roomy column.  Everything else is left to the
 * careful way. */
static inline enum quick quick_u32(const struct csv_plain *row, size_t column, uint32_t highest,
                                   uint32_t *out) {
    size_t from = row->begin[column], len = row->begin[column + 1] - from - 1;
    if (len - 1 >= 8)
        return len == 0 ? QUICK_EMPTY : QUICK_OTHER;
    uint32_t value;
    if (!value_u32_of(row->at + from, len, &value) || value > highest)
        return QUICK_OTHER;
    *out = value;
    return QUICK_DONE;
}

/* No recording lasts for 30 years: beyond that, what is worked out of times could overflow. */
static const int64_t host_most_us = INT64_C(1000000000000000);

/* Up to 16 digits in two pieces: a recording of two minutes has times of nine. */
static bool read_host(const struct row *row, struct slice text, int64_t *out) {
    uint32_t high = 0, low;
    size_t few = text.len > 8 ? text.len - 8 : 0;
    if (text.len - 1 < 16 && eight_at(row, text.at + few) &&
        value_u32_of(text.at + few, text.len - few, &low) &&
        (few == 0 || value_u32_of(text.at, few, &high))) {
        *out = (int64_t)high * 100000000 + low;
        return *out <= host_most_us;
    }
    return number_i64(text, out) == NUMBER_OK && *out >= -host_most_us && *out <= host_most_us;
}

static bool read_pattern(const struct row *row, struct slice text, struct report *r) {
    if (text.len - 1 < 7 && eight_at(row, text.at)) { /* a report seldom has more */
        unsigned same = value_outcomes(eight_bytes(text.at), &r->pat);
        r->pat &= (UINT64_C(1) << text.len) - 1;
        r->pat_len = (uint32_t)text.len;
        return same >= text.len;
    }
    struct cursor c = {text.at, text.at + text.len};
    return value_pattern(&c, &r->pat, &r->pat_len) == NUMBER_OK && c.at == c.end;
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

static bool read_channel(const struct row *row, struct slice text, int32_t *value) {
    *value = CHANNEL_OFF;
    return slice_is(text, "off") || read_i32(row, text, &report_fields[KEY_CH], value);
}

/* The channels from here on that are plain numbers.  Returns the first that isn't. */
static uint32_t quick_channels(const struct row *row, size_t first, uint32_t count,
                               int32_t *values) {
    const uint32_t highest = (uint32_t)report_fields[KEY_CH].high;
    size_t end = first + CHANNELS_MAX, column = first + count;
    uint32_t value;
    if (end > ROOMY_COLUMNS)
        end = ROOMY_COLUMNS;
    for (; row->plain && column < end; column++) {
        if (quick_u32(row->plain, column, highest, &value) != QUICK_DONE)
            break;
        values[column - first] = (int32_t)value;
    }
    return (uint32_t)(column - first);
}

/* The first of these columns that isn't empty, or ROW_GOOD. */
static size_t first_filled(const struct row *row, size_t column, size_t end) {
    if (row->plain && csv_plain_empty(row->plain, column, end - column))
        return ROW_GOOD;
    while (column < end && field_of(row, column).len == 0)
        column++;
    return column < end ? column : ROW_GOOD;
}

/* All columns of `ch` or `in`, which are beside each other.  They are filled from the first one on,
 * without a hole.  Returns the one whose value is bad, or ROW_GOOD. */
static size_t read_channels(const struct row *row, size_t first, struct report *r) {
    bool in = first == COLUMN_IN;
    int32_t *values = in ? r->in : r->ch;
    uint32_t count = quick_channels(row, first, 0, values);
    size_t filled;
    while ((filled = first_filled(row, first + count, first + CHANNELS_MAX)) == first + count) {
        if (!read_channel(row, field_of(row, filled), &values[count]))
            break;
        count = quick_channels(row, first, count + 1, values);
    }
    *(in ? &r->in_count : &r->ch_count) = count;
    r->has |= (uint32_t)(count > 0) << (in ? KEY_IN : KEY_CH);
    return filled;
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

/* Reads a field, which is not empty. */
static bool read_field(const struct row *row, const struct session_step *step, struct slice text,
                       struct event *event) {
    void *value = (char *)event + step->at;
    switch ((enum way)step->way) {
    case WAY_NUMBER:
        return read_u32(row, text, value) && *(uint32_t *)value <= step->highest;
    case WAY_SIGNED:
        return read_i32(row, text, &report_fields[session_columns[step->column].key], value);
    case WAY_PAIR:
        return read_pair(row, text, field_of(row, step->column + 1u), value);
    case WAY_SECOND:
        return (event->report.has & step->has) != 0;
    case WAY_SLASHED:
        return read_slashed(row, text, value);
    case WAY_PATTERN:
        return read_pattern(row, text, &event->report);
    case WAY_REGISTERS:
        return registers_of(text, value);
    case WAY_HOST:
        return read_host(row, text, &event->host_us);
    case WAY_CHANNELS: /* read by read_channels */
    case WAY_END:
        break;
    }
    return false;
}

/* Takes steps of plain numbers, and those whose columns are empty.  Returns the first other one. */
static const struct session_step *
quick_numbers(const struct csv_plain *row, const struct session_step *step, struct event *event) {
    uint32_t has = 0;
    for (; step->way == WAY_NUMBER && step->column < ROOMY_COLUMNS; step++) {
        uint32_t *value = (void *)((char *)event + step->at);
        enum quick quick = quick_u32(row, step->column, step->highest, value);
        if (quick == QUICK_OTHER)
            break;
        has |= quick == QUICK_DONE ? step->has : 0;
    }
    event->report.has |= has;
    return step;
}

/* All of a report but its note.  Returns the first column whose value is bad, or ROW_GOOD. */
static size_t read_report(const struct row *row, const struct session_step *step,
                          struct event *event) {
    for (;; step++) {
        if (row->plain)
            step = quick_numbers(row->plain, step, event);
        if (step->way == WAY_END)
            break;
        if (step->way == WAY_CHANNELS) {
            size_t bad = read_channels(row, step->column, &event->report);
            if (bad != ROW_GOOD)
                return bad;
            continue;
        }
        struct slice text = field_of(row, step->column);
        if (text.len == 0)
            continue;
        if (!read_field(row, step, text, event))
            return step->column;
        event->report.has |= step->has;
    }
    return field_of(row, COLUMN_DISTANCE).len == 0 ? ROW_GOOD : COLUMN_DISTANCE;
}

/* The same of all other kinds of rows, which have only few columns. */
static size_t read_other(const struct row *row, struct event *event) {
    for (size_t column = 1; column < COLUMN_NOTE; column++) {
        struct slice text = field_of(row, column);
        if (text.len > 0 && !(column == COLUMN_HOST       ? read_host(row, text, &event->host_us)
                              : column == COLUMN_BYTES    ? read_u32(row, text, &event->bytes)
                              : column == COLUMN_DISTANCE ? read_distance(text, event)
                                                          : false))
            return column;
    }
    return ROW_GOOD;
}

/* Returns the first column whose value is bad, or ROW_GOOD. */
static size_t read_event(const struct row *row, const struct session_step *steps,
                         struct event *event, struct text *scratch) {
    event->host_us = TIME_UNKNOWN;
    event->bytes = 0;
    if (event->kind == EVENT_MARK)
        event->mark.distance_m = -1;
    size_t bad =
        event->kind == EVENT_REPORT ? read_report(row, steps, event) : read_other(row, event);
    if (bad != ROW_GOOD)
        return bad;
    return read_note(field_of(row, COLUMN_NOTE), event, scratch) ? ROW_GOOD : COLUMN_NOTE;
}

size_t row_read(const struct row *row, const struct session_step *steps, struct event *event,
                struct text *scratch) {
    struct slice kind = field_of(row, COLUMN_KIND);
    /* Nearly all rows are reports: no search for those, and no more is cleared than they have. */
    if (slice_is(kind, "rx")) {
        event_clear_report(event);
        event->kind = EVENT_REPORT;
    } else {
        memset(event, 0, sizeof *event);
        if (!event_kind_of(kind, &event->kind))
            return COLUMN_KIND;
    }
    return read_event(row, steps, event, scratch);
}

/* -- the steps ------------------------------------------------------------------------------- */

static enum way way_of(const struct column *column) {
    static const uint8_t ways[] = {
        [SHAPE_U32] = WAY_NUMBER,          [SHAPE_I32] = WAY_SIGNED,
        [SHAPE_FLAG] = WAY_NUMBER,         [SHAPE_PAIR] = WAY_SLASHED,
        [SHAPE_PATTERN] = WAY_PATTERN,     [SHAPE_CHANNELS] = WAY_CHANNELS,
        [SHAPE_REGISTERS] = WAY_REGISTERS,
    };
    enum field_shape shape = report_fields[column->key].shape;
    if (shape == SHAPE_PAIR && column->of == 2)
        return column->part == 0 ? WAY_PAIR : WAY_SECOND;
    return ways[shape];
}

/* The step that reads a column of a report; of the key's own what it can hold. */
static struct session_step step_of(size_t at) {
    unsigned key = session_columns[at].key;
    struct session_step step = {.column = (uint8_t)at,
                                .way = at == COLUMN_HOST ? WAY_HOST : WAY_NUMBER,
                                .at = offsetof(struct event, bytes),
                                .highest = UINT32_MAX};
    if (key < REPORT_KEYS) {
        const struct report_field *field = &report_fields[key];
        step.way = (uint8_t)way_of(&session_columns[at]);
        step.has = 1u << key;
        step.at = (uint16_t)(offsetof(struct event, report) + field->offset);
        if (field->shape == SHAPE_FLAG)
            step.highest = 1;
        else if (field->shape == SHAPE_U32 && field->high > 0)
            step.highest = (uint32_t)field->high;
    }
    return step;
}

void row_steps(struct session_step *out, uint32_t keys) {
    for (size_t column = COLUMN_HOST; column < COLUMN_DISTANCE; column++) {
        struct session_step step = step_of(column);
        bool beside = step.way == WAY_CHANNELS && session_columns[column].part > 0;
        if (!beside && (step.has & ~keys) == 0)
            *out++ = step;
    }
    *out = (struct session_step){.way = WAY_END};
}
