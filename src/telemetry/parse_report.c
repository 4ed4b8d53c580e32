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

/* True, and the cursor behind `key=`, when that is what stands here. */
static bool take_key(struct cursor *c, const char *key) {
    const char *at = c->at;
    while (at < c->end && *key != '\0' && *at == *key) {
        at++;
        key++;
    }
    if (*key != '\0' || at == c->end || *at != '=')
        return false;
    c->at = at + 1;
    return true;
}

static unsigned find_key(struct cursor *c) {
    unsigned key = 0;
    while (key < REPORT_KEYS && !take_key(c, report_fields[key].key))
        key++;
    return key;
}

/* A receiver prints its keys in the same order each time: the one that stood at this place in the
 * last line is tried first. */
static unsigned guess_key(struct telemetry *t, struct cursor *c, unsigned place) {
    unsigned guess = t->key_guess[place];
    if (guess < REPORT_KEYS && take_key(c, report_fields[guess].key))
        return guess;
    unsigned key = find_key(c);
    if (key < REPORT_KEYS)
        t->key_guess[place] = (uint8_t)key;
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
    if (r->has >> key & 1u)
        return PARSE_BAD;
    r->has |= 1u << key;
    enum number_fault fault = read_value(c, (enum report_key)key, r);
    if (fault == NUMBER_BAD || !cursor_done(c))
        return PARSE_BAD;
    return fault == NUMBER_OK ? PARSE_OK : PARSE_RANGE;
}

enum parse_verdict parse_report(struct telemetry *t, struct slice pairs, struct event *event) {
    struct report *r = &event->report;
    struct cursor c = {pairs.at, pairs.at + pairs.len};
    unsigned known = 0;
    event->kind = EVENT_REPORT;
    do {
        unsigned key = guess_key(t, &c, known);
        if (key < REPORT_KEYS) {
            enum parse_verdict verdict = known_pair(&c, key, r);
            if (verdict != PARSE_OK)
                return verdict;
            known++;
        } else if (!keep_unknown(t, &c, &r->extra)) {
            return PARSE_BAD;
        }
    } while (value_more(&c));
    return report_has(r, KEY_CH) ? PARSE_OK : PARSE_BAD;
}
