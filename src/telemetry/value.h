/* Reading the values of `key=value` pairs where they stand.  A value ends at a space or at the end
 * of the line; every reader leaves the cursor there, or at the byte that doesn't belong. */
#ifndef TELEMETRY_VALUE_H
#define TELEMETRY_VALUE_H

#include <stdbool.h>
#include <stdint.h>

#include "base/mask.h"
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
static inline bool value_is_letter(char c) {
    return (unsigned)((unsigned char)c | 0x20) - 'a' < 26;
}
static inline bool value_is_name(char c) {
    return value_is_letter(c) || (unsigned)(unsigned char)c - '0' < 10 || c == '_' || c == '-';
}

/* Takes a word or key, "" when none starts here. */
struct slice value_name(struct cursor *c);

/* Takes `key=`; false when there is none here or its value is missing altogether. */
bool value_key(struct cursor *c, struct slice *key);

/* Takes everything up to the end of the value. */
struct slice value_text(struct cursor *c);

/* Between two pairs: takes the one space when there is one and returns true. */
static inline bool value_more(struct cursor *c) {
    if (!cursor_at(c, ' '))
        return false;
    c->at++;
    return true;
}

/* The value of eight digits as they come off eight_bytes with `ones * '0'` taken away. */
static inline uint32_t value_of_digits(uint64_t digits) {
    digits = digits * 10 + (digits >> 8); /* pairs, in every other byte */
    digits = (((digits & UINT64_C(0x000000FF000000FF)) * UINT64_C(0x000F424000000064)) +
              ((digits >> 16 & UINT64_C(0x000000FF000000FF)) * UINT64_C(0x0000271000000001))) >>
             32;
    return (uint32_t)digits;
}

/* A number whose length, 1 to 8, is known; eight bytes can be read from `at` on. */
static inline bool value_u32_of(const char *at, size_t len, uint32_t *out) {
    const uint64_t ones = UINT64_C(0x0101010101010101);
    uint64_t digits = (eight_bytes(at) ^ ones * '0') << (64 - 8 * len);
    *out = value_of_digits(digits);
    return (((digits + ones * 0x76) | digits) & ones << 7) == 0;
}

/* Numbers of any length; value_u32 does the usual short ones itself. */
enum number_fault value_u32_any(struct cursor *c, uint32_t *out);

/* Up to seven digits are taken without a loop, whose end the processor could only guess: eight
 * bytes are read at once, the first that is no digit is found, and what stands before it is pushed
 * to the top, so that zeros lead.  Returns how many digits, 0 where there are none or more; eight
 * bytes can be read from `at` on. */
static inline unsigned value_short(const char *at, uint32_t *out) {
    const uint64_t ones = UINT64_C(0x0101010101010101);
    uint64_t digits = eight_bytes(at) ^ ones * '0';
    uint64_t others = ((digits + ones * 0x76) | digits) & ones << 7;
    unsigned bits = others ? (unsigned)__builtin_ctzll(others) & ~7u : 0;
    if (bits > 0)
        *out = value_of_digits(digits << (64 - bits));
    return bits / 8;
}

static inline enum number_fault value_u32(struct cursor *c, uint32_t *out) {
    unsigned len = c->end - c->at < 8 ? 0 : value_short(c->at, out);
    if (len == 0)
        return value_u32_any(c, out);
    c->at += len;
    return NUMBER_OK;
}

/* How many of the eight bytes from the first one on are o or x; bit n of *bits where byte n is an
 * o. */
static inline unsigned value_outcomes(uint64_t bytes, uint64_t *bits) {
    const uint64_t ones = UINT64_C(0x0101010101010101);
    uint64_t differs = bytes ^ ones * 'x';
    uint64_t o = differs & ones; /* 'o' differs from 'x' in four bits, of which this is one */
    uint64_t others = differs ^ o * ('o' ^ 'x');
    unsigned count = others ? (unsigned)__builtin_ctzll(others) / 8 : 8;
    *bits = o * UINT64_C(0x0102040810204080) >> 56;
    return count;
}

static inline enum number_fault value_i32(struct cursor *c, int32_t low, int32_t high,
                                          int32_t *out) {
    bool minus = cursor_at(c, '-');
    uint32_t size;
    if (minus)
        c->at++;
    enum number_fault fault = value_u32(c, &size);
    if (fault != NUMBER_OK)
        return fault;
    int64_t value = minus ? -(int64_t)size : (int64_t)size;
    if (value < low || value > high)
        return NUMBER_RANGE;
    *out = (int32_t)value;
    return NUMBER_OK;
}
enum number_fault value_flag(struct cursor *c, uint32_t *out);
enum number_fault value_pair(struct cursor *c, uint32_t *first, uint32_t *second);
enum number_fault value_pattern(struct cursor *c, uint64_t *bits, uint32_t *len);

#endif
