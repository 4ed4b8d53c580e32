#include "session/columns.h"

/* The names that a row of the table gives; one too many or too few doesn't compile. */
#define ONLY(a)      a
#define FIRST(a, b)  a
#define SECOND(a, b) b

#define NAME_ONE(key, names) [COLUMN_##key] = {REPORT_APPLY(ONLY, names), KEY_##key, 0, 1},
#define NAME_TWO(key, names)                                                                       \
    [COLUMN_##key] = {REPORT_APPLY(FIRST, names), KEY_##key, 0, 2},                                \
    [COLUMN_##key##_SECOND] = {REPORT_APPLY(SECOND, names), KEY_##key, 1, 2},
#define NUMBERED(key, names, number)                                                               \
    [COLUMN_##key + (number)-1] = {REPORT_APPLY(ONLY, names) #number, KEY_##key, (number)-1, 16},
#define NAME_SIXTEEN(key, names)                                                                   \
    NUMBERED(key, names, 1)                                                                        \
    NUMBERED(key, names, 2)                                                                        \
    NUMBERED(key, names, 3)                                                                        \
    NUMBERED(key, names, 4)                                                                        \
    NUMBERED(key, names, 5)                                                                        \
    NUMBERED(key, names, 6)                                                                        \
    NUMBERED(key, names, 7)                                                                        \
    NUMBERED(key, names, 8)                                                                        \
    NUMBERED(key, names, 9)                                                                        \
    NUMBERED(key, names, 10)                                                                       \
    NUMBERED(key, names, 11)                                                                       \
    NUMBERED(key, names, 12)                                                                       \
    NUMBERED(key, names, 13)                                                                       \
    NUMBERED(key, names, 14)                                                                       \
    NUMBERED(key, names, 15)                                                                       \
    NUMBERED(key, names, 16)
#define NAMES(key, shape, members, places, names, ...) NAME_##places(key, names)

/* What a shape's value can stand in; a row with anything else doesn't compile. */
enum {
    FITS_U32_ONE,
    FITS_I32_ONE,
    FITS_FLAG_ONE,
    FITS_PAIR_ONE, /* with a slash */
    FITS_PAIR_TWO,
    FITS_PATTERN_ONE,
    FITS_REGISTERS_ONE,
    FITS_CHANNELS_SIXTEEN
};
#define FITS(key, shape, members, places, ...)                                                     \
    _Static_assert(FITS_##shape##_##places >= 0, "columns that hold the shape");
REPORT_TABLE(FITS)

_Static_assert(CHANNELS_MAX == 16, "names of all channels");
_Static_assert(COLUMN_DISTANCE - COLUMN_CH == 2 * CHANNELS_MAX, "channels are those of ch and in");

const struct column session_columns[COLUMN_COUNT] = {
    [COLUMN_KIND] = {"kind", REPORT_KEYS, 0, 1},
    [COLUMN_HOST] = {"host_us", REPORT_KEYS, 0, 1},
    [COLUMN_BYTES] = {"bytes", REPORT_KEYS, 0, 1},
    [COLUMN_DISTANCE] = {"distance_m", REPORT_KEYS, 0, 1},
    [COLUMN_NOTE] = {"note", REPORT_KEYS, 0, 1},
    REPORT_TABLE(NAMES)};
