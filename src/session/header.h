/* The layout of a file from its header.  Private to session/. */
#ifndef SESSION_HEADER_H
#define SESSION_HEADER_H

#include "session/columns.h"
#include "session/session.h"

/* The first line of a file without its byte-order mark, which *marked tells of, and up to its line
 * end, of which *end is the first byte; NULL when it isn't among the bytes. */
struct slice header_line(const char *bytes, size_t len, bool *marked, const char **end);

/* Reads the names of a header line; false, with *fault and *column (or NULL), where it can't be
 * used.  The line end and `saved` are left to the caller.  scratch must have line.len + 1 bytes of
 * room. */
bool header_read(struct session_layout *layout, struct slice line, struct text *scratch,
                 enum session_fault *fault, const char **column);

/* The fields of a row in the order of session_columns; those that the file lacks are empty.  A
 * decimal comma becomes a point. */
void header_gather(const struct session_layout *layout, const struct slice *fields, size_t count,
                   struct slice out[static COLUMN_COUNT], struct text *scratch);

/* True when the file has the column. */
bool header_has(const struct session_layout *layout, size_t column);

#endif
