#include <string.h>

#include "telemetry/parse.h"
#include "telemetry/value.h"

static void *member(struct report *r, size_t offset) {
    return (char *)r + offset;
}

static enum number_fault registers(struct cursor *c, uint32_t *out) {
    return registers_of(value_text(c), out) ? NUMBER_OK : NUMBER_BAD;
}

static enum number_fault read_value(struct cursor *c, enum report_key key, struct report *r) {
    const struct report_field *field = &report_fields[key];
    void *at = member(r, field->offset);
    switch (field->shape) {
    case SHAPE_U32:
        return value_u32(c, at);
    case SHAPE_I32:
        return value_i32(c, field->low, field->high, at);
    case SHAPE_FLAG:
        return value_flag(c, at);
    case SHAPE_PAIR:
        return value_pair(c, at, (uint32_t *)at + 1);
    case SHAPE_PATTERN:
        return value_pattern(c, &r->pat, &r->pat_len);
    case SHAPE_CHANNELS:
        return value_channels(c, field, at, key == KEY_CH ? &r->ch_count : &r->in_count);
    case SHAPE_REGISTERS:
        return registers(c, at);
    }
    return NUMBER_BAD;
}

static unsigned find_key(struct slice name) {
    unsigned key = 0;
    while (key < REPORT_KEYS && !slice_is(name, report_fields[key].key))
        key++;
    return key;
}

/* No key is longer than seven letters, so that it fits eight bytes with its `=`. */
static void learn(struct telemetry_guess *guess, unsigned key, const char *text, size_t len) {
    char bytes[8] = {0}, mask[8] = {0};
    if (len > sizeof bytes)
        return;
    memcpy(bytes, text, len);
    memset(mask, 0xFF, len);
    *guess = (struct telemetry_guess){
        .text = eight_bytes(bytes),
        .mask = eight_bytes(mask),
        .key = (uint8_t)key,
        .len = (uint8_t)len,
    };
}

/* The last value of a line may be shorter; zeros are no key. */
static uint64_t next_bytes(const struct cursor *c) {
    char rest[8] = {0};
    if (c->end - c->at >= 8)
        return eight_bytes(c->at);
    memcpy(rest, c->at, (size_t)(c->end - c->at));
    return eight_bytes(rest);
}

/* Takes `key=` of a known key; REPORT_KEYS, and nothing taken, when none stands here.  A receiver
 * prints its keys in the same order each time, though not every key: what followed the key before
 * in the last line that had it is tried first, with one comparison. */
static unsigned take_key(struct telemetry_guess *guess, struct cursor *c) {
    if (guess->len > 0 && ((next_bytes(c) ^ guess->text) & guess->mask) == 0) {
        c->at += guess->len;
        return guess->key;
    }
    struct cursor ahead = *c;
    struct slice name;
    if (!value_key(&ahead, &name))
        return REPORT_KEYS;
    unsigned key = find_key(name);
    if (key < REPORT_KEYS) {
        learn(guess, key, c->at, (size_t)(ahead.at - c->at));
        *c = ahead;
    }
    return key;
}

static bool keep_unknown(struct telemetry *t, struct cursor *c, struct slice *extra) {
    const char *start = c->at;
    struct slice key;
    if (!value_key(c, &key) || value_text(c).len == 0)
        return false;
    size_t len = (size_t)(c->at - start);
    if (extra->len > 0)
        t->scratch[extra->len++] = ' ';
    memcpy(t->scratch + extra->len, start, len);
    *extra = (struct slice){t->scratch, extra->len + len};
    return true;
}

static enum parse_verdict known_pair(struct cursor *c, unsigned key, struct report *r) {
    r->has |= 1u << key;
    enum number_fault fault = read_value(c, (enum report_key)key, r);
    if (fault == NUMBER_BAD || !cursor_done(c))
        return PARSE_BAD;
    return fault == NUMBER_OK ? PARSE_OK : PARSE_RANGE;
}

enum parse_verdict parse_report(struct telemetry *t, struct slice pairs, uint32_t unwanted,
                                struct event *event) {
    struct report *r = &event->report;
    struct cursor c = {pairs.at, pairs.at + pairs.len};
    unsigned before = REPORT_KEYS;
    uint32_t seen = 0;
    event->kind = EVENT_REPORT;
    do {
        unsigned key = take_key(&t->guess[before], &c);
        if (key < REPORT_KEYS) {
            uint32_t bit = 1u << key;
            enum parse_verdict verdict = seen & bit       ? PARSE_BAD
                                         : unwanted & bit ? (value_skip(&c) ? PARSE_OK : PARSE_BAD)
                                                          : known_pair(&c, key, r);
            if (verdict != PARSE_OK)
                return verdict;
            seen |= bit;
            before = key;
        } else if (!keep_unknown(t, &c, &r->extra)) {
            return PARSE_BAD;
        }
    } while (value_more(&c));
    return seen >> KEY_CH & 1u ? PARSE_OK : PARSE_BAD;
}
