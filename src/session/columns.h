/* The columns of a recording, in the order in which airleash writes them.  Those of keys are made
 * of the table in telemetry/keys.h. */
#ifndef SESSION_COLUMNS_H
#define SESSION_COLUMNS_H

#include <stddef.h>
#include <stdint.h>

#include "telemetry/event.h"

#define ONE_ONE(key) COLUMN_##key,
#define ONE_TWO(key) COLUMN_##key, COLUMN_##key##_SECOND,
#define ONE_SIXTEEN(key)
#define SIXTEEN_ONE(key)
#define SIXTEEN_TWO(key)
#define SIXTEEN_SIXTEEN(key)                       COLUMN_##key, COLUMN_##key##_LAST = COLUMN_##key + CHANNELS_MAX - 1,
#define VALUES(key, shape, members, places, ...)   ONE_##places(key)
#define CHANNELS(key, shape, members, places, ...) SIXTEEN_##places(key)

enum column_id {
    COLUMN_KIND,
    COLUMN_HOST,
    REPORT_TABLE(VALUES) /* COLUMN_T and so on */
    COLUMN_BYTES,
    REPORT_TABLE(CHANNELS) /* COLUMN_CH, COLUMN_IN */
    COLUMN_DISTANCE,
    COLUMN_NOTE,
    COLUMN_COUNT
};

#undef VALUES
#undef CHANNELS

struct column {
    const char *name; /* in the header */
    uint8_t key;      /* enum report_key, or REPORT_KEYS */
    uint8_t part, of; /* which of the key's columns, from 0, of how many */
};

extern const struct column session_columns[COLUMN_COUNT];

#endif
