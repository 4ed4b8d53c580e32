/* Which of 64 bytes are a certain one: bit n for byte n.  What stands in CSV between the fields is
 * found so, since where a field ends is what a processor can't guess.  Two ways with the same
 * answer: one for every machine, and one for those that compare 16 bytes at once. */
#ifndef SESSION_CSV_MASK_H
#define SESSION_CSV_MASK_H

#include <stdint.h>

#include "telemetry/value.h"

#ifdef __SSE2__
#include <emmintrin.h>
#endif

enum { CSV_MASK_BYTES = 64 };

/* Eight bytes a step: bit 7 of each byte that is wanted, then those bits side by side. */
static inline uint64_t csv_mask_any(const char *at, char wanted) {
    const uint64_t ones = UINT64_C(0x0101010101010101), low = ones * 0x7F;
    uint64_t mask = 0;
    for (unsigned i = 0; i < CSV_MASK_BYTES / 8; i++) {
        uint64_t bytes = eight_bytes(at + (size_t)8 * i) ^ ones * (unsigned char)wanted;
        uint64_t bits = ~(((bytes & low) + low) | bytes | low);
        mask |= ((bits >> 7) * UINT64_C(0x0102040810204080) >> 56) << 8 * i;
    }
    return mask;
}

#ifdef __SSE2__
static inline uint64_t csv_mask(const char *at, char wanted) {
    const __m128i sought = _mm_set1_epi8(wanted);
    uint64_t mask = 0;
    for (unsigned i = 0; i < CSV_MASK_BYTES / 16; i++) {
        __m128i bytes = _mm_loadu_si128((const __m128i *)(const void *)(at + (size_t)16 * i));
        uint64_t hits = (uint32_t)_mm_movemask_epi8(_mm_cmpeq_epi8(bytes, sought));
        mask |= hits << 16 * i;
    }
    return mask;
}

/* Of either of two, in less than twice the time. */
static inline uint64_t csv_mask_two(const char *at, char wanted, char other) {
    const __m128i sought = _mm_set1_epi8(wanted), sought2 = _mm_set1_epi8(other);
    uint64_t mask = 0;
    for (unsigned i = 0; i < CSV_MASK_BYTES / 16; i++) {
        __m128i bytes = _mm_loadu_si128((const __m128i *)(const void *)(at + (size_t)16 * i));
        __m128i hit = _mm_or_si128(_mm_cmpeq_epi8(bytes, sought), _mm_cmpeq_epi8(bytes, sought2));
        mask |= (uint64_t)(uint32_t)_mm_movemask_epi8(hit) << 16 * i;
    }
    return mask;
}
#else
static inline uint64_t csv_mask(const char *at, char wanted) {
    return csv_mask_any(at, wanted);
}

static inline uint64_t csv_mask_two(const char *at, char wanted, char other) {
    return csv_mask_any(at, wanted) | csv_mask_any(at, other);
}
#endif

#endif
