#include <string.h>

#include "base/number.h"

#include "base/whole.h"
#include "session/columns.h"
#include "session/csv.h"
#include "session/session.h"
#include "telemetry/words.h"

/* What a row takes besides its note: channels of six bytes and numbers of eleven at most, each with
 * its comma, and what a full pattern, the time and the distance take more. */
enum {
    CHANNEL_COLUMNS = 2 * CHANNELS_MAX,
    REST_MAX = 7 * CHANNEL_COLUMNS + 12 * (COLUMN_COUNT - CHANNEL_COLUMNS) + 200
};
/* Room for a note before quoting: an escaped byte takes 4, a doubled quote 2, never both. */
enum { NOTE_MAX = SESSION_ROW_MAX - REST_MAX };

_Static_assert(2 * SESSION_TEXT_MAX + 40 < NOTE_MAX, "a text full of quotes fits");
_Static_assert(4 * SESSION_DAMAGE_MAX + 40 < NOTE_MAX, "damage escaped byte by byte fits");

void session_header(struct text *out) {
    for (size_t i = 0; i < COLUMN_COUNT; i++) {
        if (i > 0)
            text_char(out, ',');
        text_string(out, session_columns[i].name);
    }
    text_string(out, "\r\n");
}

static const uint32_t *field_at(const struct report *r, const struct report_field *field) {
    return (const void *)((const char *)r + field->offset);
}

static void put_pattern(struct text *out, const struct report *r) {
    for (uint32_t i = 0; i < r->pat_len && i < PATTERN_MAX; i++)
        text_char(out, (r->pat >> i & 1) != 0 ? 'o' : 'x');
}

static void put_channel(struct text *out, const int32_t *values, uint32_t count, unsigned index) {
    if (index >= count)
        return;
    if (values[index] == CHANNEL_OFF)
        text_string(out, "off");
    else
        text_i64(out, values[index]);
}

/* A column's part of a key that the report has. */
static void put_key(struct text *out, const struct report *r, enum column_id column) {
    const struct column *c = &session_columns[column];
    const struct report_field *field = &report_fields[c->key];
    const uint32_t *value = field_at(r, field);
    switch (field->shape) {
    case SHAPE_U32:
    case SHAPE_FLAG:
        text_u64(out, *value);
        break;
    case SHAPE_I32:
        text_i64(out, (int32_t)*value);
        break;
    case SHAPE_PAIR:
        text_u64(out, value[c->part]);
        if (c->of == 1) { /* both stand in it */
            text_char(out, '/');
            text_u64(out, value[1]);
        }
        break;
    case SHAPE_PATTERN:
        put_pattern(out, r);
        break;
    case SHAPE_REGISTERS:
        text_string(out, registers_name((enum radio_registers) * value));
        break;
    case SHAPE_CHANNELS:
        if (c->key == KEY_CH)
            put_channel(out, r->ch, r->ch_count, c->part);
        else
            put_channel(out, r->in, r->in_count, c->part);
        break;
    }
}

/* The fewest decimals that read back as the same number, without asking the locale.  Everything
 * that number_decimal() can have read comes back exact; nothing is written for what isn't a
 * distance. */
static void put_distance(struct text *out, double metres) {
    static const double most = 1e15; /* 15 digits, as many as number_decimal() takes */
    double scale = 1;
    unsigned decimals = 0;
    if (!(metres >= 0 && metres < most))
        return;
    while ((double)whole_u64(metres * scale + 0.5) / scale != metres && decimals < 14 &&
           metres * scale * 10 + 0.5 < most) {
        scale *= 10;
        decimals++;
    }
    char digits[NUMBER_TEXT_MAX];
    uint64_t scaled = whole_u64(metres * scale + 0.5);
    size_t len = number_put_u64(digits, scaled);
    size_t whole = len > decimals ? len - decimals : 0;
    text_slice(out, whole > 0 ? (struct slice){digits, whole} : slice_of("0"));
    if (decimals == 0)
        return;
    text_char(out, '.');
    for (size_t i = len; i < decimals; i++)
        text_char(out, '0');
    text_slice(out, (struct slice){digits + whole, len - whole});
}

/* At most max bytes of s, without cutting a UTF-8 character in two. */
static struct slice cut(struct slice s, size_t max) {
    size_t end = max;
    if (s.len <= max)
        return s;
    while (end > 0 && max - end < 3 && ((unsigned char)s.at[end] & 0xC0) == 0x80)
        end--;
    return slice_sub(s, 0, end);
}

static void note_mark(struct text *note, const struct mark *mark) {
    text_string(note, mark_name(mark->type));
    if (mark->type == MARK_FACING || mark->type == MARK_TEXT) {
        text_char(note, '=');
        text_slice(note, cut(mark->text, SESSION_TEXT_MAX));
    }
}

static void note_damage(struct text *note, const struct damage *damage) {
    text_string(note, damage_name(damage->reason));
    text_string(note, damage->continues ? ", continued: " : ": ");
    text_escape(note, slice_sub(damage->bytes, 0, SESSION_DAMAGE_MAX));
}

static void note_port(struct text *note, enum port_change change, struct slice words) {
    text_string(note, port_change_name(change));
    if (words.len > 0) {
        text_string(note, ": ");
        text_slice(note, cut(words, SESSION_TEXT_MAX));
    }
}

static void note_about(struct text *note, struct slice key, struct slice value) {
    key = cut(key, SESSION_TEXT_MAX / 2);
    text_slice(note, key);
    text_char(note, '=');
    text_slice(note, cut(value, SESSION_TEXT_MAX - key.len));
}

static void note_of(struct text *note, const struct event *event) {
    switch (event->kind) {
    case EVENT_ABOUT:
        note_about(note, event->about.key, event->about.value);
        break;
    case EVENT_REPORT:
        text_slice(note, cut(event->report.extra, SESSION_TEXT_MAX));
        break;
    case EVENT_ID:
        text_slice(note, cut(event->id.pairs, SESSION_TEXT_MAX));
        break;
    case EVENT_BOOT:
        text_slice(note, cut(event->boot.pairs, SESSION_TEXT_MAX));
        break;
    case EVENT_AIR:
        text_slice(note, cut(event->air.pairs, SESSION_TEXT_MAX));
        break;
    case EVENT_MARK:
        note_mark(note, &event->mark);
        break;
    case EVENT_DAMAGE:
        note_damage(note, &event->damage);
        break;
    case EVENT_PORT:
        note_port(note, event->port.change, event->port.note);
        break;
    case EVENT_SAY:
    case EVENT_OTHER:
    case EVENT_ANSWER:
    case EVENT_END:
        text_slice(note, cut(event->text, SESSION_TEXT_MAX));
        break;
    case EVENT_KINDS:
        break;
    }
}

/* A spreadsheet would take a cell that begins like this for a formula; the apostrophe keeps it
 * text, and one of the text's own is doubled so that reading can take one off always. */
static bool looks_like_formula(struct slice s) {
    static const char starts[] = "=+-@\t\r'";
    return s.len > 0 && memchr(starts, s.at[0], sizeof starts - 1) != NULL;
}

static void put_note(struct text *out, const struct event *event, char separator) {
    char buffer[1 + NOTE_MAX];
    struct text note;
    buffer[0] = '\'';
    text_init(&note, buffer + 1, NOTE_MAX);
    note_of(&note, event);
    struct slice plain = text_view(&note);
    csv_field(out, looks_like_formula(plain) ? (struct slice){buffer, plain.len + 1} : plain,
              separator);
}

static void put_column(struct text *out, const struct event *event, enum column_id column,
                       char separator) {
    unsigned key = session_columns[column].key;
    if (key < REPORT_KEYS) {
        if (event->kind == EVENT_REPORT && report_has(&event->report, (enum report_key)key))
            put_key(out, &event->report, column);
    } else if (column == COLUMN_KIND) {
        text_string(out, event_kind_name(event->kind));
    } else if (column == COLUMN_HOST) {
        if (event->host_us != TIME_UNKNOWN)
            text_i64(out, event->host_us);
    } else if (column == COLUMN_BYTES) {
        if (event->bytes > 0)
            text_u64(out, event->bytes);
    } else if (column == COLUMN_DISTANCE) {
        if (event->kind == EVENT_MARK)
            put_distance(out, event->mark.distance_m);
    } else if (column == COLUMN_NOTE) {
        put_note(out, event, separator);
    }
}

void session_row(struct text *out, const struct event *event) {
    for (unsigned i = 0; i < COLUMN_COUNT; i++) {
        if (i > 0)
            text_char(out, ',');
        put_column(out, event, (enum column_id)i, ',');
    }
    text_string(out, "\r\n");
}

void session_row_in(const struct session_layout *layout, struct text *out,
                    const struct event *event) {
    for (unsigned i = 0; i < layout->count; i++) {
        if (i > 0)
            text_char(out, layout->form.separator);
        if (layout->column[i] < COLUMN_COUNT)
            put_column(out, event, (enum column_id)layout->column[i], layout->form.separator);
    }
    text_string(out, layout->form.line_end == '\r' ? "\r" : "\r\n");
}
