/* A channel that drives a motor, and the output at which that motor rests. */
#ifndef LINK_MOTOR_H
#define LINK_MOTOR_H

#include <stdbool.h>
#include <stdint.h>

enum motor_idle {
    IDLE_LOW,    /* the low end of the travel */
    IDLE_HIGH,   /* the high end */
    IDLE_MIDDLE, /* between them: speed controllers that reverse */
    IDLE_VALUE,  /* `value` */
};

struct motor {
    int16_t channel; /* from 0 */
    enum motor_idle idle;
    int32_t value; /* with IDLE_VALUE */
};

/* The output at rest, in the unit of the channels. */
static inline int32_t motor_idle_value(const struct motor *m, int32_t span_low, int32_t span_high) {
    switch (m->idle) {
    case IDLE_HIGH:
        return span_high;
    case IDLE_MIDDLE:
        return span_low + (span_high - span_low) / 2;
    case IDLE_VALUE:
        return m->value;
    default:
        return span_low;
    }
}

/* A motor that rests in an outer third of the travel turns one way only. */
static inline bool motor_turns_both_ways(int32_t idle, int32_t span_low, int32_t span_high) {
    int32_t third = (span_high - span_low) / 3;
    return idle >= span_low + third && idle <= span_high - third;
}

/* How far an output is from `idle`, the motor's rest, as a share of the whole travel, 0 and more.
 * Beyond the rest of a motor that turns one way only it rests too. */
static inline double motor_travel(int32_t value, int32_t idle, int32_t span_low,
                                  int32_t span_high) {
    double span = span_high - span_low;
    if (span <= 0)
        return 0;
    double way = (value - idle) / span;
    if (2 * (idle - span_low) > span)
        way = -way;
    if (motor_turns_both_ways(idle, span_low, span_high))
        return way < 0 ? -way : way;
    return way > 0 ? way : 0;
}

#endif
