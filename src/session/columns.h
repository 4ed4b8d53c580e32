/* The columns of a recording in their fixed order.  Names of columns that come from a key of the
 * `rx` line stand in telemetry/words.h; here is only their order. */
#ifndef SESSION_COLUMNS_H
#define SESSION_COLUMNS_H

#include <stddef.h>
#include <stdint.h>

#include "telemetry/event.h"

enum column_what {
    COLUMN_KIND,
    COLUMN_HOST,
    COLUMN_FIELD,  /* a key of the report; index is its enum report_key */
    COLUMN_SECOND, /* the second value of the pair in the column before it; the same index */
    COLUMN_BYTES,
    COLUMN_CH, /* index is the channel from 0 */
    COLUMN_IN,
    COLUMN_DISTANCE,
    COLUMN_NOTE,
};

struct column {
    uint8_t what;
    uint8_t index;
};

enum { COLUMN_COUNT = 61 };

extern const struct column session_columns[COLUMN_COUNT];

/* The name in the header. */
const char *session_column_name(size_t column);

#endif
