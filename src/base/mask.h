/* Many bytes looked at together, since where a field or a pair ends is what a processor can't
 * guess: which of 64 bytes are a certain one, bit n for byte n, and whether all are printable
 * ASCII.  Two ways with the same answers: one for every machine, and one for those that compare 16
 * bytes at once. */
#ifndef BASE_MASK_H
#define BASE_MASK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __SSE2__
#include <emmintrin.h>
#endif

enum { MASK_BYTES = 64 };

/* The next eight bytes as one number, the first in its lowest byte on every machine. */
static inline uint64_t eight_bytes(const char *at) {
    const unsigned char *b = (const unsigned char *)at;
    return (uint64_t)b[0] | (uint64_t)b[1] << 8 | (uint64_t)b[2] << 16 | (uint64_t)b[3] << 24 |
           (uint64_t)b[4] << 32 | (uint64_t)b[5] << 40 | (uint64_t)b[6] << 48 |
           (uint64_t)b[7] << 56;
}

/* Eight bytes a step: bit 7 of each byte that is wanted, then those bits side by side. */
static inline uint64_t mask_any(const char *at, char wanted) {
    const uint64_t ones = UINT64_C(0x0101010101010101), low = ones * 0x7F;
    uint64_t mask = 0;
    for (unsigned i = 0; i < MASK_BYTES / 8; i++) {
        uint64_t bytes = eight_bytes(at + (size_t)8 * i) ^ ones * (unsigned char)wanted;
        uint64_t bits = ~(((bytes & low) + low) | bytes | low);
        mask |= ((bits >> 7) * UINT64_C(0x0102040810204080) >> 56) << 8 * i;
    }
    return mask;
}

/* What isn't printable ASCII among the bytes that were added, each time MASK_BYTES of them. */
struct odd_any {
    uint64_t tops; /* a top bit where a byte is under 0x20, is 0x7F, or has its own top bit set */
};

static inline void odd_any_begin(struct odd_any *o) {
    o->tops = 0;
}

static inline void odd_any_add(struct odd_any *o, const char *at) {
    const uint64_t ones = UINT64_C(0x0101010101010101);
    for (unsigned i = 0; i < MASK_BYTES / 8; i++) {
        uint64_t bytes = eight_bytes(at + (size_t)8 * i);
        o->tops |= (bytes - ones * ' ') | (bytes + ones) | bytes;
    }
}

static inline bool odd_any_none(const struct odd_any *o) {
    return (o->tops & UINT64_C(0x8080808080808080)) == 0;
}

#ifdef __SSE2__
static inline __m128i mask_sixteen(const char *at, unsigned i) {
    return _mm_loadu_si128((const __m128i *)(const void *)(at + (size_t)16 * i));
}

static inline uint64_t mask_bits(__m128i hits, unsigned i) {
    return (uint64_t)(uint32_t)_mm_movemask_epi8(hits) << 16 * i;
}

static inline uint64_t mask_of(const char *at, char wanted) {
    uint64_t mask = 0;
    for (unsigned i = 0; i < MASK_BYTES / 16; i++)
        mask |= mask_bits(_mm_cmpeq_epi8(mask_sixteen(at, i), _mm_set1_epi8(wanted)), i);
    return mask;
}

/* Of either of two, in less than twice the time. */
static inline uint64_t mask_of_two(const char *at, char wanted, char other) {
    uint64_t mask = 0;
    for (unsigned i = 0; i < MASK_BYTES / 16; i++) {
        __m128i bytes = mask_sixteen(at, i);
        mask |= mask_bits(_mm_or_si128(_mm_cmpeq_epi8(bytes, _mm_set1_epi8(wanted)),
                                       _mm_cmpeq_epi8(bytes, _mm_set1_epi8(other))),
                          i);
    }
    return mask;
}

struct odd {
    __m128i least, greatest; /* of the bytes in each place, a space and a tilde included */
};

static inline void odd_begin(struct odd *o) {
    o->least = _mm_set1_epi8(' ');
    o->greatest = _mm_set1_epi8('~');
}

static inline void odd_add(struct odd *o, const char *at) {
    for (unsigned i = 0; i < MASK_BYTES / 16; i++) {
        __m128i bytes = mask_sixteen(at, i);
        o->least = _mm_min_epu8(o->least, bytes);
        o->greatest = _mm_max_epu8(o->greatest, bytes);
    }
}

static inline bool odd_none(const struct odd *o) {
    __m128i least = _mm_cmpeq_epi8(o->least, _mm_set1_epi8(' '));
    __m128i greatest = _mm_cmpeq_epi8(o->greatest, _mm_set1_epi8('~'));
    return _mm_movemask_epi8(_mm_and_si128(least, greatest)) == 0xFFFF;
}
#else
static inline uint64_t mask_of(const char *at, char wanted) {
    return mask_any(at, wanted);
}

static inline uint64_t mask_of_two(const char *at, char wanted, char other) {
    return mask_any(at, wanted) | mask_any(at, other);
}

struct odd {
    struct odd_any any;
};

static inline void odd_begin(struct odd *o) {
    odd_any_begin(&o->any);
}

static inline void odd_add(struct odd *o, const char *at) {
    odd_any_add(&o->any, at);
}

static inline bool odd_none(const struct odd *o) {
    return odd_any_none(&o->any);
}
#endif

#endif
