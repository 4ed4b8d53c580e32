/* CSV as RFC 4180 has it, one row at a time: where a row ends, its fields, and one field written.
 * Knows nothing of recordings.  Rows end in CR LF or LF; the last one may lack its line end. */
#ifndef SESSION_CSV_H
#define SESSION_CSV_H

#include <stddef.h>

#include "base/slice.h"
#include "base/text.h"

enum csv_verdict {
    CSV_ROW,   /* *end is the offset just past the row's line end */
    CSV_MORE,  /* the row goes on behind these bytes, as far as they tell */
    CSV_STRAY, /* a quote inside a plain field, or something behind a closing quote */
};

/* Looks for the end of the row that begins at `bytes`. */
enum csv_verdict csv_row(const char *bytes, size_t len, size_t *end);

/* Splits one row, with or without its line end, and returns its number of fields, of which the
 * first `max` are stored; 0 when its quotes are out of place.  Fields lie in the row itself, those
 * with doubled quotes in scratch, which must have row.len + 1 bytes of room. */
size_t csv_split(struct slice row, struct slice *fields, size_t max, struct text *scratch);

/* Adds one field, in quotes where it needs them: comma, quote, CR or LF inside. */
void csv_field(struct text *out, struct slice value);

#endif
