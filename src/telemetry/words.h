/* The words of the telemetry lines and of the recordings, one table each, so that the decoder, the
 * CSV, the screen and the man pages can't drift apart. */
#ifndef TELEMETRY_WORDS_H
#define TELEMETRY_WORDS_H

#include <stddef.h>

#include "base/slice.h"
#include "telemetry/event.h"

enum field_shape {
    SHAPE_U32,
    SHAPE_I32,
    SHAPE_FLAG,      /* 0 or 1 */
    SHAPE_PAIR,      /* two u32 with a slash; hits/looks or step/steps; first <= second */
    SHAPE_PATTERN,   /* o and x, 1 to 64 */
    SHAPE_CHANNELS,  /* 1 to 16 values with commas; '-' is CHANNEL_OFF */
    SHAPE_REGISTERS, /* ok, default, absent, differs */
};

struct report_field {
    const char *key; /* on the wire */
    enum field_shape shape;
    size_t offset;       /* in struct report; a pair's second value is the next uint32_t */
    int32_t low;         /* least and greatest value of SHAPE_I32 and SHAPE_CHANNELS; */
    int32_t high;        /* greatest of SHAPE_U32 as well, 0: any */
    const char *meaning; /* one line for a person, with the unit */
};

/* Indexed by enum report_key. */
extern const struct report_field report_fields[REPORT_KEYS];

/* Names; each _name returns a constant string, each _of returns false for an unknown name. */
const char *registers_name(enum radio_registers value);
bool registers_of(struct slice name, uint32_t *value);
const char *boot_cause_name(enum boot_cause cause);
bool boot_cause_of(struct slice name, enum boot_cause *cause);
const char *damage_name(enum damage_reason reason);
bool damage_of(struct slice name, enum damage_reason *reason);
const char *port_change_name(enum port_change change);
bool port_change_of(struct slice name, enum port_change *change);
const char *mark_name(enum mark_type type);
bool mark_of(struct slice name, enum mark_type *type);
const char *event_kind_name(enum event_kind kind); /* as in the recording's first column */
bool event_kind_of(struct slice name, enum event_kind *kind);

/* Keys of the id line, in the order of enum identity_key, with a meaning for a person. */
struct identity_field {
    const char *key;
    const char *meaning;
};
extern const struct identity_field identity_fields[IDENTITY_KEYS];

#endif
