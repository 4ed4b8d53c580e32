/* Counting bits, in place, and taking them a row at a time. */
#ifndef BASE_BITS_H
#define BASE_BITS_H

#include <stdbool.h>
#include <stdint.h>

/* In place, since what compilers have for it is a call on machines as old as those that this is
 * built for. */
static inline uint32_t bits_in(uint64_t bits) {
    const uint64_t ones = UINT64_C(0x0101010101010101);
    bits -= bits >> 1 & ones * 0x55;
    bits = (bits & ones * 0x33) + (bits >> 2 & ones * 0x33);
    return (uint32_t)(((bits + (bits >> 4)) & ones * 0x0F) * ones >> 56);
}

/* The lowest `count` bits (0 to 64). */
static inline uint64_t bits_ones(uint32_t count) {
    return count < 64 ? (UINT64_C(1) << count) - 1 : UINT64_MAX;
}

/* Takes the row of equal bits that *bits begins with, of which *left (0 to 64) are meant, and tells
 * whether they are set; returns how many, 0 when none are left. */
static inline uint32_t bits_row(uint64_t *bits, uint32_t *left, bool *set) {
    *set = (*bits & 1u) != 0;
    uint64_t others = *set ? ~*bits : *bits;
    uint32_t alike = others == 0 ? 64 : (uint32_t)__builtin_ctzll(others);
    alike = alike < *left ? alike : *left;
    if (alike == 0)
        return 0;
    *bits = *bits >> (alike - 1) >> 1; /* in two steps, since no shift goes by 64 */
    *left -= alike;
    return alike;
}

#endif
