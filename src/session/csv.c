#include "session/csv.h"

#include <stdbool.h>
#include <string.h>

#include "base/bits.h"
#include "session/csv_mask.h"

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
    size_t count = 0;
    row = without_line_end(row);
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

/* -- a row in one pass ----------------------------------------------------------------------- */

struct masks {
    uint64_t comma, quote, lf;
};

static inline struct masks masks_of(const char *at) {
    return (struct masks){csv_mask(at, ','), csv_mask(at, '"'), csv_mask(at, '\n')};
}

/* The last bytes, of which there are fewer than a mask has. */
static struct masks masks_of_rest(const char *at, size_t len) {
    char rest[CSV_MASK_BYTES] = {0};
    memcpy(rest, at, len);
    return masks_of(rest);
}

/* Each bit from a quote up to the next: inside.  `open` is all ones when a quote is open before. */
static uint64_t inside_quotes(uint64_t quote, uint64_t open) {
    for (unsigned shift = 1; shift < 64; shift *= 2)
        quote ^= quote << shift;
    return quote ^ open;
}

/* Fields end at these commas.  Eight are noted at a time, since only how many eights there are can
 * be guessed wrong; what that writes too much is overwritten.  Too many are one too many. */
static inline void end_fields(struct csv_plain *row, uint64_t commas, size_t from) {
    unsigned count = bits_in(commas);
    uint16_t *end = row->end + row->count;
    for (unsigned i = 0; i < count; i += 8) {
        for (unsigned k = 0; k < 8; k++) {
            end[i + k] = (uint16_t)(from + (size_t)__builtin_ctzll(commas | UINT64_C(1) << 63));
            commas &= commas - 1;
        }
    }
    row->count += count;
    if (row->count > CSV_PLAIN_FIELDS)
        row->count = CSV_PLAIN_FIELDS + 1;
}

/* True when each quote of the row stands at the beginning or the end of a field that has both. */
static bool quotes_plain(struct csv_plain *row, size_t quotes) {
    size_t paired = 0;
    row->quotes = true;
    for (size_t i = 0; i < row->count; i++) {
        size_t from = i > 0 ? row->end[i - 1] + 1u : 0, end = row->end[i];
        bool both = end - from >= 2 && row->at[from] == '"' && row->at[end - 1] == '"';
        paired += both ? 2 : 0;
    }
    return paired == quotes && row->count <= CSV_PLAIN_FIELDS;
}

static bool end_row(struct csv_plain *row, size_t lf, size_t quotes) {
    bool cr = lf > 0 && row->at[lf - 1] == '\r';
    row->end[row->count] = (uint16_t)(lf - cr);
    row->count += row->count <= CSV_PLAIN_FIELDS;
    row->len = lf + 1;
    return quotes == 0 || quotes_plain(row, quotes);
}

bool csv_plain_row(const char *bytes, size_t len, struct csv_plain *row) {
    uint64_t open = 0;
    size_t quotes = 0;
    row->at = bytes;
    row->quotes = false;
    row->count = 0;
    for (size_t at = 0; at < len; at += CSV_MASK_BYTES) {
        size_t left = len - at;
        struct masks m =
            left >= CSV_MASK_BYTES ? masks_of(bytes + at) : masks_of_rest(bytes + at, left);
        if ((m.quote | open) != 0) {
            uint64_t inside = inside_quotes(m.quote, open);
            open = 0 - (inside >> 63);
            m.comma &= ~inside;
            m.lf &= ~inside;
        }
        uint64_t before = m.lf != 0 ? (m.lf & (0 - m.lf)) - 1 : UINT64_MAX;
        end_fields(row, m.comma & before, at);
        if ((m.quote & before) != 0)
            quotes += bits_in(m.quote & before);
        if (m.lf != 0)
            return end_row(row, at + (size_t)__builtin_ctzll(m.lf), quotes);
    }
    return false;
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
