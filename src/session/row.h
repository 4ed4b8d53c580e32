/* A row of a recording to an event.  Private to session/. */
#ifndef SESSION_ROW_H
#define SESSION_ROW_H

#include "session/columns.h"
#include "session/csv.h"
#include "session/session.h"

/* A row in its fields. */
struct row {
    const struct csv_plain *plain; /* NULL: its fields are in fields, */
    const struct slice *fields;    /* not all in one piece of memory */
};

enum { ROW_GOOD = COLUMN_COUNT };

/* Fills *event, whose slices point into the row and into scratch.  Returns the column whose value
 * is bad, 0 where the kind is unknown; ROW_GOOD when none is. */
size_t row_read(const struct row *row, const struct session_step *steps, struct event *event,
                struct text *scratch);

/* The steps that read a report's columns of these keys (bits as in report.has), at last the end;
 * out must have room for SESSION_STEPS_MAX. */
void row_steps(struct session_step *out, uint32_t keys);

#endif
