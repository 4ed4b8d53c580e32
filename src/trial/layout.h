/* Whether the channel values look as if the two ends packed their payload in different ways: byte
 * order, width of the integers, or a raw scale.  From impossible values alone; a suspicion is only
 * told where it explains every odd value seen and no channel that it concerns looks normal. */
#ifndef TRIAL_LAYOUT_H
#define TRIAL_LAYOUT_H

#include "telemetry/event.h"

enum layout_kind {
    LAYOUT_NONE,        /* nothing to say */
    LAYOUT_NORMAL,      /* every value is one of a servo pulse in µs */
    LAYOUT_ORDER,       /* the bytes of 16-bit numbers the wrong way round */
    LAYOUT_WIDER,       /* one side packs 32 bits, the other reads 16 */
    LAYOUT_NARROWER,    /* one side packs 16 bits, the other reads 8 */
    LAYOUT_RAW,         /* a raw reading of 8, 10 or 11 bits: no pulse at all */
    LAYOUT_UNEXPLAINED, /* odd values, and none of these explains them */
};

/* A servo pulse, µs, with room at both ends (common practice: 1000..2000). */
enum { LAYOUT_LOW = 800, LAYOUT_HIGH = 2200, LAYOUT_REPORTS = 10 };

struct layout {
    uint32_t reports, channels;
    int32_t low[CHANNELS_MAX], high[CHANNELS_MAX]; /* of all values seen */
    int32_t odd;                                   /* the first value out of range, as an example */
    int32_t pair[2]; /* the first two values of the first packet, likewise */
    bool odd_seen;
    /* what all values so far allow; low: the low half stands first */
    bool swapped, wide_low, wide_high, narrow_low, narrow_high;
};

void layout_init(struct layout *l);

/* Takes the values of one packet: `in` of a report in which a packet came, else `ch` while no
 * failsafe holds them.  A report with neither has no effect. */
void layout_take(struct layout *l, const struct report *r);

struct layout_hint {
    enum layout_kind kind;
    char sum[120]; /* the arithmetic: "56325 is DC05 in hex; the other way round, 05DC is 1500" */
    const char *says; /* the suspicion, one sentence; NULL */
    const char *cure; /* NULL */
};

/* raw_unit: the id line says unit=raw, and small numbers are as they should be. */
void layout_read(const struct layout *l, bool raw_unit, struct layout_hint *out);

#endif
