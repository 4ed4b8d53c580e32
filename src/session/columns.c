#include "session/columns.h"

#include "telemetry/words.h"

const struct column session_columns[COLUMN_COUNT] = {
    {COLUMN_KIND, 0},
    {COLUMN_HOST, 0},
    {COLUMN_FIELD, KEY_T},
    {COLUMN_FIELD, KEY_N},
    {COLUMN_FIELD, KEY_SEQ},
    {COLUMN_FIELD, KEY_GOT},
    {COLUMN_FIELD, KEY_LOST},
    {COLUMN_FIELD, KEY_REFUSED},
    {COLUMN_FIELD, KEY_PAT},
    {COLUMN_FIELD, KEY_AGE},
    {COLUMN_FIELD, KEY_GAP},
    {COLUMN_FIELD, KEY_FS},
    {COLUMN_FIELD, KEY_FSN},
    {COLUMN_FIELD, KEY_LOCK},
    {COLUMN_FIELD, KEY_MV},
    {COLUMN_FIELD, KEY_MVMIN},
    {COLUMN_FIELD, KEY_HEARD},
    {COLUMN_SECOND, KEY_HEARD},
    {COLUMN_FIELD, KEY_NOISE},
    {COLUMN_SECOND, KEY_NOISE},
    {COLUMN_FIELD, KEY_RSSI},
    {COLUMN_FIELD, KEY_REG},
    {COLUMN_FIELD, KEY_REINIT},
    {COLUMN_FIELD, KEY_TBOOT},
    {COLUMN_FIELD, KEY_TMV},
    {COLUMN_FIELD, KEY_TSTEP},
    {COLUMN_BYTES, 0},
    {COLUMN_CH, 0},
    {COLUMN_CH, 1},
    {COLUMN_CH, 2},
    {COLUMN_CH, 3},
    {COLUMN_CH, 4},
    {COLUMN_CH, 5},
    {COLUMN_CH, 6},
    {COLUMN_CH, 7},
    {COLUMN_CH, 8},
    {COLUMN_CH, 9},
    {COLUMN_CH, 10},
    {COLUMN_CH, 11},
    {COLUMN_CH, 12},
    {COLUMN_CH, 13},
    {COLUMN_CH, 14},
    {COLUMN_CH, 15},
    {COLUMN_IN, 0},
    {COLUMN_IN, 1},
    {COLUMN_IN, 2},
    {COLUMN_IN, 3},
    {COLUMN_IN, 4},
    {COLUMN_IN, 5},
    {COLUMN_IN, 6},
    {COLUMN_IN, 7},
    {COLUMN_IN, 8},
    {COLUMN_IN, 9},
    {COLUMN_IN, 10},
    {COLUMN_IN, 11},
    {COLUMN_IN, 12},
    {COLUMN_IN, 13},
    {COLUMN_IN, 14},
    {COLUMN_IN, 15},
    {COLUMN_DISTANCE, 0},
    {COLUMN_NOTE, 0},
};

static const char *const ch_names[CHANNELS_MAX] = {"ch1",  "ch2",  "ch3",  "ch4",  "ch5",  "ch6",
                                                   "ch7",  "ch8",  "ch9",  "ch10", "ch11", "ch12",
                                                   "ch13", "ch14", "ch15", "ch16"};
static const char *const in_names[CHANNELS_MAX] = {"in1",  "in2",  "in3",  "in4",  "in5",  "in6",
                                                   "in7",  "in8",  "in9",  "in10", "in11", "in12",
                                                   "in13", "in14", "in15", "in16"};

const char *session_column_name(size_t column) {
    uint8_t index = session_columns[column].index;
    switch ((enum column_what)session_columns[column].what) {
    case COLUMN_KIND:
        return "kind";
    case COLUMN_HOST:
        return "host_us";
    case COLUMN_FIELD:
        return report_fields[index].column;
    case COLUMN_SECOND:
        return report_fields[index].column2;
    case COLUMN_BYTES:
        return "bytes";
    case COLUMN_CH:
        return ch_names[index];
    case COLUMN_IN:
        return in_names[index];
    case COLUMN_DISTANCE:
        return "distance_m";
    case COLUMN_NOTE:
        break;
    }
    return "note";
}
