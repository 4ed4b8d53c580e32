/* Numbers out of text and into text, checked, the same in every locale.  The whole slice must be
 * the number: no spaces, no plus sign, no trailing bytes. */
#ifndef BASE_NUMBER_H
#define BASE_NUMBER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/slice.h"

enum number_fault {
    NUMBER_OK,
    NUMBER_BAD,   /* not a number at all */
    NUMBER_RANGE, /* a number, but it doesn't fit */
};

/* Decimal digits into *out, up to 2^32-1 or 2^64-1.  *out is written only on NUMBER_OK. */
enum number_fault number_u32(struct slice s, uint32_t *out);
enum number_fault number_u64(struct slice s, uint64_t *out);

/* As number_u32, with an optional leading minus. */
enum number_fault number_i32(struct slice s, int32_t *out);
enum number_fault number_i64(struct slice s, int64_t *out);

/* Decimal digits with an optional minus and an optional fraction ("12", "-0.5"); no exponent, at
 * most 15 digits, so that the result is the nearest double to what was written. */
enum number_fault number_decimal(struct slice s, double *out);

/* Exactly `digits` (1 to 8) hex digits of either case. */
bool number_hex(struct slice s, unsigned digits, uint32_t *out);

enum { NUMBER_TEXT_MAX = 21 };

/* Writes value in decimal, without NUL, and returns its length (at most NUMBER_TEXT_MAX). */
size_t number_put_u64(char out[static NUMBER_TEXT_MAX], uint64_t value);
size_t number_put_i64(char out[static NUMBER_TEXT_MAX], int64_t value);

#endif
