#include "session/csv.h"

#include <stdbool.h>
#include <string.h>

#include "base/bits.h"
#include "base/mask.h"
#include "session/csv_places.h"

const struct csv_form csv_rfc4180 = {',', '\n'};

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

static size_t plain_end(const struct csv_form *form, const char *bytes, size_t len, size_t at) {
    while (at < len && bytes[at] != form->separator && bytes[at] != form->line_end &&
           bytes[at] != '"')
        at++;
    return at;
}

enum csv_verdict csv_row(const struct csv_form *form, const char *bytes, size_t len, size_t *end) {
    for (size_t at = 0; at < len; at++) {
        if (bytes[at] == '"') {
            bool doubled;
            at = closing_quote(bytes, len, at + 1, &doubled) + 1;
            if (at < len && bytes[at] == '\r' && form->line_end == '\n') {
                if (at + 1 < len && bytes[at + 1] != '\n')
                    return CSV_STRAY;
                at++;
            }
        } else {
            at = plain_end(form, bytes, len, at);
        }
        if (at >= len)
            return CSV_MORE;
        if (bytes[at] == form->line_end) {
            *end = at + 1;
            return CSV_ROW;
        }
        if (bytes[at] != form->separator)
            return CSV_STRAY;
    }
    return CSV_MORE;
}

static struct slice without_line_end(const struct csv_form *form, struct slice row) {
    if (row.len > 0 && row.at[row.len - 1] == form->line_end) {
        row.len--;
        if (form->line_end == '\n' && row.len > 0 && row.at[row.len - 1] == '\r')
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
static struct slice split_one(const struct csv_form *form, struct slice row, size_t *at,
                              struct text *scratch) {
    size_t from = *at;
    if (from == row.len || row.at[from] != '"') {
        *at = plain_end(form, row.at, row.len, from);
        return slice_sub(row, from, *at);
    }
    bool doubled = false;
    size_t close = closing_quote(row.at, row.len, from + 1, &doubled);
    *at = close + 1;
    struct slice inside = slice_sub(row, from + 1, close);
    return doubled ? undouble(inside, scratch) : inside;
}

size_t csv_split(const struct csv_form *form, struct slice row, struct slice *fields, size_t max,
                 struct text *scratch) {
    size_t count = 0;
    row = without_line_end(form, row);
    for (size_t at = 0; at <= row.len; at++) {
        struct slice field = split_one(form, row, &at, scratch);
        if (at > row.len || (at < row.len && row.at[at] != form->separator))
            return 0;
        if (count < max)
            fields[count] = field;
        count++;
    }
    return count;
}

/* -- a row in one pass ----------------------------------------------------------------------- */

/* The bits below the lowest that is set; all when none is. */
static inline uint64_t below(uint64_t bits) {
    return ~bits & (bits - 1);
}

/* So many bytes as a mask has.  The last ones, of which there are fewer, are copied to `rest`. */
static inline const char *block_at(const char *at, size_t len, char rest[MASK_BYTES]) {
    if (len >= MASK_BYTES)
        return at;
    memset(rest, 0, MASK_BYTES);
    return memcpy(rest, at, len);
}

/* Each bit from a quote up to the next: inside.  `open` is all ones when a quote is open before. */
static uint64_t inside_quotes(uint64_t quote, uint64_t open) {
    for (unsigned shift = 1; shift < 64; shift *= 2)
        quote ^= quote << shift;
    return quote ^ open;
}

/* Offsets, which gcc and clang add eight at once where the processor can. */
typedef uint16_t eight_offsets __attribute__((vector_size(16)));

/* Fields begin behind these commas.  For each eight bytes eight places are looked up and written,
 * and what is too much is overwritten: how many commas there are can't be guessed.  Too many are
 * one too many.  *behind is the offset just behind the first byte, eight times, and moves on. */
static inline void begin_fields(struct csv_plain *row, uint64_t commas, eight_offsets *behind) {
    uint16_t *begin = row->begin + 1, *out = begin + row->count;
    for (unsigned i = 0; i < MASK_BYTES; i += 8) {
        const int16_t *places = csv_places[commas >> i & 0xFF];
        eight_offsets offsets;
        memcpy(&offsets, places, sizeof offsets);
        offsets += *behind;
        memcpy(out, &offsets, sizeof offsets);
        out += places[7] + 1;
        *behind += 8;
    }
    row->count = (size_t)(out - begin);
    if (row->count > CSV_PLAIN_FIELDS)
        row->count = CSV_PLAIN_FIELDS + 1;
}

/* What is known of a row's quotes up to some block. */
struct quotes {
    uint64_t open; /* all ones when one is open */
    size_t strays; /* that are neither the first nor the last byte of their field */
};

/* Takes what is inside quotes off the commas of one block, which begins at `from`, and returns the
 * line ends outside.  A quote that closes the row before CR LF is among the strays. */
static uint64_t mind_quotes(const char *row, const char *block, size_t from, struct quotes *quotes,
                            uint64_t *commas) {
    bool begins = from == 0 || (quotes->open == 0 && row[from - 1] == ',');
    bool closed = from > 0 && quotes->open == 0 && row[from - 1] == '"';
    uint64_t quote = mask_of(block, '"'), inside = inside_quotes(quote, quotes->open);
    uint64_t lf = mask_of(block, '\n') & ~inside;
    *commas &= ~inside;
    quote &= below(lf);
    uint64_t first = quote & inside, last = quote & ~inside;
    quotes->strays += bits_in(first & ~(*commas << 1 | begins));
    quotes->strays += bits_in((last << 1 | closed) & ~(*commas | lf));
    quotes->open = 0 - (inside >> 63);
    return lf;
}

/* True when each quote of the row is the first or the last byte of its field. */
static bool end_row(struct csv_plain *row, size_t lf, size_t strays) {
    bool cr = lf > 0 && row->at[lf - 1] == '\r';
    bool quote_cr = cr && lf > 1 && row->at[lf - 2] == '"';
    row->begin[row->count + 1] = (uint16_t)(lf - cr + 1);
    row->count += row->count <= CSV_PLAIN_FIELDS;
    row->len = lf + 1;
    return strays == quote_cr;
}

bool csv_plain_row(const char *bytes, size_t len, struct csv_plain *row) {
    eight_offsets behind = {1, 1, 1, 1, 1, 1, 1, 1};
    struct quotes quotes = {0};
    row->at = bytes;
    row->quotes = false;
    row->count = 0;
    row->begin[0] = 0;
    for (size_t at = 0; at < len; at += MASK_BYTES) {
        char rest[MASK_BYTES];
        const char *block = block_at(bytes + at, len - at, rest);
        uint64_t commas = mask_of(block, ','), ends = mask_of_two(block, '\n', '"');
        /* Nearly all rows have no quotes: then each of those is a line end. */
        row->quotes = row->quotes || (ends != 0 && block[__builtin_ctzll(ends)] == '"');
        if (row->quotes)
            ends = mind_quotes(bytes, block, at, &quotes, &commas);
        begin_fields(row, commas & below(ends), &behind);
        if (ends != 0)
            return end_row(row, at + (size_t)__builtin_ctzll(ends), quotes.strays);
    }
    return false;
}

static bool needs_quotes(struct slice value, char separator) {
    for (size_t i = 0; i < value.len; i++) {
        char c = value.at[i];
        if (c == separator || c == '"' || c == '\r' || c == '\n')
            return true;
    }
    return false;
}

void csv_field(struct text *out, struct slice value, char separator) {
    if (!needs_quotes(value, separator)) {
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
