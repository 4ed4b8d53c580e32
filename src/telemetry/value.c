#include "telemetry/value.h"

#include <string.h>

struct slice value_name(struct cursor *c) {
    const char *start = c->at;
    if (c->at < c->end && value_is_letter(*c->at)) {
        while (c->at < c->end && value_is_name(*c->at))
            c->at++;
    }
    return (struct slice){start, (size_t)(c->at - start)};
}

bool value_key(struct cursor *c, struct slice *key) {
    *key = value_name(c);
    if (key->len == 0 || !cursor_at(c, '='))
        return false;
    c->at++;
    return true;
}

struct slice value_text(struct cursor *c) {
    const char *start = c->at;
    const char *space = memchr(start, ' ', (size_t)(c->end - start));
    c->at = space ? space : c->end;
    return (struct slice){start, (size_t)(c->at - start)};
}

enum number_fault value_u32_any(struct cursor *c, uint32_t *out) {
    const char *start = c->at;
    uint32_t value = 0;
    unsigned digit;
    while (c->at < c->end && (digit = (unsigned)(unsigned char)*c->at - '0') < 10) {
        value = value * 10 + digit;
        c->at++;
    }
    size_t len = (size_t)(c->at - start);
    if (len - 1 < 9) { /* so few digits can't overflow */
        *out = value;
        return NUMBER_OK;
    }
    return number_u32((struct slice){start, len}, out);
}

enum number_fault value_flag(struct cursor *c, uint32_t *out) {
    enum number_fault fault = value_u32(c, out);
    return fault == NUMBER_OK && *out > 1 ? NUMBER_RANGE : fault;
}

enum number_fault value_pair(struct cursor *c, uint32_t *first, uint32_t *second) {
    enum number_fault fault = value_u32(c, first);
    if (fault == NUMBER_BAD || !cursor_at(c, '/'))
        return NUMBER_BAD;
    c->at++;
    enum number_fault fault2 = value_u32(c, second);
    if (fault2 != NUMBER_OK)
        return fault2;
    if (fault == NUMBER_OK && *first > *second)
        return NUMBER_RANGE;
    return fault;
}

/* Walks on past 64 outcomes, so that a foreign letter behind them is still found. */
enum number_fault value_pattern(struct cursor *c, uint64_t *bits, uint32_t *len) {
    const char *start = c->at;
    if (c->end - c->at >= 8) { /* a report seldom has more than seven */
        uint64_t seen;
        unsigned few = value_outcomes(eight_bytes(c->at), &seen);
        if (few > 0 && few < 8) {
            *bits = seen & ((UINT64_C(1) << few) - 1);
            *len = few;
            c->at += few;
            return NUMBER_OK;
        }
    }
    uint64_t value = 0;
    while (c->at < c->end && (*c->at == 'o' || *c->at == 'x')) {
        size_t i = (size_t)(c->at - start);
        value |= (uint64_t)(*c->at == 'o') << (i & 63);
        c->at++;
    }
    size_t count = (size_t)(c->at - start);
    if (count == 0)
        return NUMBER_BAD;
    if (count > PATTERN_MAX)
        return NUMBER_RANGE;
    *bits = value;
    *len = (uint32_t)count;
    return NUMBER_OK;
}
