/* Counting bits, in place: what compilers have for it is a call on machines as old as those that
 * this is built for. */
#ifndef BASE_BITS_H
#define BASE_BITS_H

#include <stdint.h>

static inline uint32_t bits_in(uint64_t bits) {
    const uint64_t ones = UINT64_C(0x0101010101010101);
    bits -= bits >> 1 & ones * 0x55;
    bits = (bits & ones * 0x33) + (bits >> 2 & ones * 0x33);
    return (uint32_t)(((bits + (bits >> 4)) & ones * 0x0F) * ones >> 56);
}

#endif
