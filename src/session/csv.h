/* CSV, one row at a time: where a row ends, its fields, and one field written.  Knows nothing of
 * recordings.  By RFC 4180 fields are separated by commas and rows end in CR LF (or LF); programs
 * write other forms.  The last row may lack its line end. */
#ifndef SESSION_CSV_H
#define SESSION_CSV_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/slice.h"
#include "base/text.h"

struct csv_form {
    char separator;
    char line_end; /* LF, which a CR may precede, or CR alone */
};

extern const struct csv_form csv_rfc4180;

enum csv_verdict {
    CSV_ROW,   /* *end is the offset just past the row's line end */
    CSV_MORE,  /* the row goes on behind these bytes, as far as they tell */
    CSV_STRAY, /* a quote inside a plain field, or something behind a closing quote */
};

/* Looks for the end of the row that begins at `bytes`. */
enum csv_verdict csv_row(const struct csv_form *form, const char *bytes, size_t len, size_t *end);

/* Splits one row, with or without its line end, and returns its number of fields, of which the
 * first `max` are stored; 0 when its quotes are out of place.  Fields lie in the row itself, those
 * with doubled quotes in scratch, which must have row.len + 1 bytes of room. */
size_t csv_split(const struct csv_form *form, struct slice row, struct slice *fields, size_t max,
                 struct text *scratch);

enum { CSV_PLAIN_FIELDS = 96 };

/* A row whose fields all stand in it as they are, at most with one pair of quotes around. */
struct csv_plain {
    const char *at;
    size_t len;   /* with its line end */
    bool quotes;  /* some field has quotes */
    size_t count; /* of fields; CSV_PLAIN_FIELDS + 1: more */
    /* Offset of each of the first fields, and of what would follow the last. */
    uint16_t begin[CSV_PLAIN_FIELDS + 80];
};

/* The same work as csv_row and csv_split in one pass, for nearly all rows of RFC 4180.  False where
 * those two must look: the line end isn't among the len bytes, or quotes are doubled or out of
 * place.  len is at most 65535. */
bool csv_plain_row(const char *bytes, size_t len, struct csv_plain *row);

/* A field of it without its quotes. */
static inline struct slice csv_plain_field(const struct csv_plain *row, size_t field) {
    const char *at = row->at + row->begin[field];
    size_t len = row->begin[field + 1] - row->begin[field] - 1u;
    bool quotes = row->quotes && *at == '"'; /* a line end is there, if nothing else */
    return (struct slice){at + quotes, len - 2 * (size_t)quotes};
}

/* True when so many fields from the first one on are empty, without even quotes. */
static inline bool csv_plain_empty(const struct csv_plain *row, size_t first, size_t count) {
    return row->begin[first + count] - row->begin[first] == (int)count;
}

/* Adds one field, in quotes where it needs them: separator, quote, CR or LF inside. */
void csv_field(struct text *out, struct slice value, char separator);

#endif
