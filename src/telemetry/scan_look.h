/* Of 64 bytes: which are spaces (bit n for byte n), and whether all are printable ASCII, gathered
 * over as many looks as there are.  Two ways with the same answer: one for every machine, and one
 * for those that compare 16 bytes at once. */
#ifndef TELEMETRY_SCAN_LOOK_H
#define TELEMETRY_SCAN_LOOK_H

#include <stdbool.h>
#include <stdint.h>

#include "telemetry/value.h"

#ifdef __SSE2__
#include <emmintrin.h>
#endif

enum { LOOK_BYTES = 64 };

struct look_any {
    uint64_t odd; /* a top bit where a byte is under 0x20, is 0x7F, or has its own top bit set */
};

static inline void look_any_begin(struct look_any *l) {
    l->odd = 0;
}

/* Eight bytes a step: the top bit of each byte that is a space, and those bits side by side. */
static inline uint64_t look_any(struct look_any *l, const char *at) {
    const uint64_t ones = UINT64_C(0x0101010101010101), low = ones * 0x7F;
    uint64_t spaces = 0;
    for (unsigned i = 0; i < LOOK_BYTES / 8; i++) {
        uint64_t bytes = eight_bytes(at + (size_t)8 * i), differs = bytes ^ ones * ' ';
        uint64_t bits = ~(((differs & low) + low) | differs | low);
        l->odd |= (bytes - ones * ' ') | (bytes + ones) | bytes;
        spaces |= ((bits >> 7) * UINT64_C(0x0102040810204080) >> 56) << 8 * i;
    }
    return spaces;
}

static inline bool look_any_plain(const struct look_any *l) {
    return (l->odd & UINT64_C(0x8080808080808080)) == 0;
}

#ifdef __SSE2__
struct look {
    __m128i least, greatest; /* of the bytes in each place, a space and a tilde included */
};

static inline void look_begin(struct look *l) {
    l->least = _mm_set1_epi8(' ');
    l->greatest = _mm_set1_epi8('~');
}

static inline uint64_t look(struct look *l, const char *at) {
    uint64_t spaces = 0;
    for (unsigned i = 0; i < LOOK_BYTES / 16; i++) {
        __m128i bytes = _mm_loadu_si128((const __m128i *)(const void *)(at + (size_t)16 * i));
        uint64_t hits = (uint32_t)_mm_movemask_epi8(_mm_cmpeq_epi8(bytes, _mm_set1_epi8(' ')));
        l->least = _mm_min_epu8(l->least, bytes);
        l->greatest = _mm_max_epu8(l->greatest, bytes);
        spaces |= hits << 16 * i;
    }
    return spaces;
}

static inline bool look_plain(const struct look *l) {
    __m128i least = _mm_cmpeq_epi8(l->least, _mm_set1_epi8(' '));
    __m128i greatest = _mm_cmpeq_epi8(l->greatest, _mm_set1_epi8('~'));
    return _mm_movemask_epi8(_mm_and_si128(least, greatest)) == 0xFFFF;
}
#else
struct look {
    struct look_any any;
};

static inline void look_begin(struct look *l) {
    look_any_begin(&l->any);
}

static inline uint64_t look(struct look *l, const char *at) {
    return look_any(&l->any, at);
}

static inline bool look_plain(const struct look *l) {
    return look_any_plain(&l->any);
}
#endif

#endif
