#include "session/csv.h"

#include <stdbool.h>
#include <string.h>

#include "telemetry/value.h"

/* Offset of the quote that closes the field whose inside begins at `at`; len when there is none.  A
 * quote that is the last byte counts as closing: the caller sees that nothing follows. */
static size_t closing_quote(const char *bytes, size_t len, size_t at, bool *doubled) {
    while (at < len) {
        const char *quote = memchr(bytes + at, '"', len - at);
        if (!quote)
            return len;
        at = (size_t)(quote - bytes);
        if (at + 1 == len || bytes[at + 1] != '"')
            return at;
        *doubled = true;
        at += 2;
    }
    return len;
}

static size_t plain_end(const char *bytes, size_t len, size_t at) {
    while (at < len && bytes[at] != ',' && bytes[at] != '\n' && bytes[at] != '"')
        at++;
    return at;
}

enum csv_verdict csv_row(const char *bytes, size_t len, size_t *end) {
    for (size_t at = 0; at < len; at++) {
        if (bytes[at] == '"') {
            bool doubled;
            at = closing_quote(bytes, len, at + 1, &doubled) + 1;
            if (at < len && bytes[at] == '\r') {
                if (at + 1 < len && bytes[at + 1] != '\n')
                    return CSV_STRAY;
                at++;
            }
        } else {
            at = plain_end(bytes, len, at);
        }
        if (at >= len)
            return CSV_MORE;
        if (bytes[at] == '\n') {
            *end = at + 1;
            return CSV_ROW;
        }
        if (bytes[at] != ',')
            return CSV_STRAY;
    }
    return CSV_MORE;
}

static struct slice without_line_end(struct slice row) {
    if (row.len > 0 && row.at[row.len - 1] == '\n') {
        row.len--;
        if (row.len > 0 && row.at[row.len - 1] == '\r')
            row.len--;
    }
    return row;
}

/* Where a field ends is what a processor can't guess, so commas are looked for eight bytes at a
 * time: bit 7 of each byte that is one. */
static uint64_t comma_bits(const char *at) {
    const uint64_t ones = UINT64_C(0x0101010101010101), low = ones * 0x7F;
    uint64_t bytes = eight_bytes(at) ^ ones * ',';
    return ~(((bytes & low) + low) | bytes | low);
}

struct split {
    const char *row;
    struct slice *fields;
    size_t max, count, from;
};

static inline void end_field(struct split *s, size_t at) {
    if (s->count < s->max)
        s->fields[s->count] = (struct slice){s->row + s->from, at - s->from};
    s->count++;
    s->from = at + 1;
}

static size_t split_plain(struct slice row, struct slice *fields, size_t max) {
    struct split s = {row.at, fields, max, 0, 0};
    size_t at = 0;
    for (; at + 8 <= row.len; at += 8) {
        for (uint64_t bits = comma_bits(row.at + at); bits != 0; bits &= bits - 1)
            end_field(&s, at + (size_t)__builtin_ctzll(bits) / 8);
    }
    for (; at < row.len; at++) {
        if (row.at[at] == ',')
            end_field(&s, at);
    }
    end_field(&s, row.len);
    return s.count;
}

static struct slice undouble(struct slice inside, struct text *scratch) {
    size_t start = scratch->len;
    while (inside.len > 0) {
        size_t quote = slice_find(inside, '"');
        text_slice(scratch, slice_sub(inside, 0, quote + 1));
        inside = slice_sub(inside, quote + 2, inside.len);
    }
    return (struct slice){scratch->at + start, scratch->len - start};
}

/* The field that begins at *at, which then is the offset just behind it. */
static struct slice split_one(struct slice row, size_t *at, struct text *scratch) {
    size_t from = *at;
    if (from == row.len || row.at[from] != '"') {
        *at = plain_end(row.at, row.len, from);
        return slice_sub(row, from, *at);
    }
    bool doubled = false;
    size_t close = closing_quote(row.at, row.len, from + 1, &doubled);
    *at = close + 1;
    struct slice inside = slice_sub(row, from + 1, close);
    return doubled ? undouble(inside, scratch) : inside;
}

size_t csv_split(struct slice row, struct slice *fields, size_t max, struct text *scratch) {
    row = without_line_end(row);
    if (slice_find(row, '"') == row.len)
        return split_plain(row, fields, max);
    size_t count = 0;
    for (size_t at = 0; at <= row.len; at++) {
        struct slice field = split_one(row, &at, scratch);
        if (at > row.len || (at < row.len && row.at[at] != ','))
            return 0;
        if (count < max)
            fields[count] = field;
        count++;
    }
    return count;
}

static bool needs_quotes(struct slice value) {
    for (size_t i = 0; i < value.len; i++) {
        char c = value.at[i];
        if (c == ',' || c == '"' || c == '\r' || c == '\n')
            return true;
    }
    return false;
}

void csv_field(struct text *out, struct slice value) {
    if (!needs_quotes(value)) {
        text_slice(out, value);
        return;
    }
    text_char(out, '"');
    for (size_t i = 0; i < value.len; i++) {
        if (value.at[i] == '"')
            text_char(out, '"');
        text_char(out, value.at[i]);
    }
    text_char(out, '"');
}
