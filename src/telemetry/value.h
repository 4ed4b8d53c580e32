/* Reading the values of `key=value` pairs where they stand.  A value ends at a space or at the end
 * of the line; every reader leaves the cursor there, or at the byte that doesn't belong. */
#ifndef TELEMETRY_VALUE_H
#define TELEMETRY_VALUE_H

#include <stdbool.h>
#include <stdint.h>

#include "base/number.h"
#include "base/slice.h"
#include "telemetry/words.h"

struct cursor {
    const char *at;
    const char *end;
};

static inline bool cursor_at(const struct cursor *c, char wanted) {
    return c->at < c->end && *c->at == wanted;
}

/* True at the end of a value. */
static inline bool cursor_done(const struct cursor *c) {
    return c->at == c->end || *c->at == ' ';
}

/* True for letters, digits, _ and -: what words and keys are made of after their first letter. */
bool value_is_name(char c);
bool value_is_letter(char c);

/* Takes a word or key, "" when none starts here. */
struct slice value_name(struct cursor *c);

/* Takes `key=`; false when there is none here or its value is missing altogether. */
bool value_key(struct cursor *c, struct slice *key);

/* Takes everything up to the end of the value. */
struct slice value_text(struct cursor *c);

/* Between two pairs: takes the one space when there is one and returns true. */
bool value_more(struct cursor *c);

enum number_fault value_u32(struct cursor *c, uint32_t *out);
enum number_fault value_i32(struct cursor *c, int32_t low, int32_t high, int32_t *out);
enum number_fault value_flag(struct cursor *c, uint32_t *out);
enum number_fault value_pair(struct cursor *c, uint32_t *first, uint32_t *second);
enum number_fault value_pattern(struct cursor *c, uint64_t *bits, uint32_t *len);

/* 1 to CHANNELS_MAX values with commas; `-` is CHANNEL_OFF. */
enum number_fault value_channels(struct cursor *c, const struct report_field *field, int32_t *out,
                                 uint32_t *count);

#endif
