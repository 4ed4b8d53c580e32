#include "telemetry/crc.h"

#include <stdbool.h>

#include "telemetry/crc_tables.h"
#include "telemetry/telemetry.h"

enum { FOLD_LEAST = 64 }; /* fewer bytes aren't worth it */

static uint16_t crc_byte(uint16_t crc, unsigned char byte) {
    return (uint16_t)(crc << 8 ^ crc_tables[0][crc >> 8 ^ byte]);
}

/* Eight bytes a step: their look-ups don't wait for one another, which byte by byte they do. */
uint16_t crc_any(uint16_t crc, const unsigned char *at, size_t len) {
    for (; len >= 8; at += 8, len -= 8) {
        unsigned high = crc >> 8 ^ at[0];
        unsigned low = (crc & 0xFF) ^ at[1];
        crc = (uint16_t)(crc_tables[7][high] ^ crc_tables[6][low] ^ crc_tables[5][at[2]] ^
                         crc_tables[4][at[3]] ^ crc_tables[3][at[4]] ^ crc_tables[2][at[5]] ^
                         crc_tables[1][at[6]] ^ crc_tables[0][at[7]]);
    }
    for (; len > 0; at++, len--)
        crc = crc_byte(crc, *at);
    return crc;
}

/* What the processor can do, the C library found out when the program was loaded.  Asking the
 * processor itself takes long in a virtual machine, a tenth of the whole start. */
#if defined(__x86_64__) && __has_include(<sys/platform/x86.h>)
#include <immintrin.h>
#include <sys/platform/x86.h>

#define FOLDING __attribute__((target("pclmul,ssse3")))

/* What puts the bytes of a block the other way round, so that the first is the highest; or only its
 * first n, right-aligned behind zeros, from n before the middle on. */
static const unsigned char backwards[32] = {
    15,   14,   13,   12,   11,   10,   9,    8,    7,    6,    5,    4,    3,    2,    1,    0,
    0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80};

static inline __m128i sixteen(const unsigned char *at) {
    return _mm_loadu_si128((const __m128i *)(const void *)at);
}

FOLDING static inline __m128i block(const unsigned char *at) {
    return _mm_shuffle_epi8(sixteen(at), sixteen(backwards));
}

/* What the sum is worth so many bits lower, and the block that stands there. */
FOLDING static inline __m128i fold(__m128i sum, __m128i factors, __m128i block) {
    __m128i high = _mm_clmulepi64_si128(sum, factors, 0x11);
    __m128i low = _mm_clmulepi64_si128(sum, factors, 0x00);
    return _mm_xor_si128(_mm_xor_si128(high, low), block);
}

/* The bytes are one long polynomial, and what stands 128 bits higher is worth the same as its
 * product with what x^128 leaves when divided by the CRC's polynomial: so 16 bytes at a time are
 * multiplied without carries and added to the next 16 (V. Gopal and others, Fast CRC Computation
 * for Generic Polynomials Using PCLMULQDQ Instruction, Intel 2009; from memory).  Every other block
 * goes into a second sum, as each multiplication must wait for the one before.  The odd bytes are
 * taken first, since leading zeros change nothing; one of them alone has no room for the CRC. */
FOLDING static uint16_t crc_folded(uint16_t crc, const unsigned char *at, size_t len) {
    const __m128i by128 = _mm_set_epi64x(CRC_X192, CRC_X128);
    const __m128i by256 = _mm_set_epi64x(CRC_X320, CRC_X256);
    if (len % 16 == 1) {
        crc = crc_byte(crc, *at++);
        len--;
    }
    size_t first = (len - 1) % 16 + 1;
    __m128i begun = _mm_cvtsi32_si128(crc >> 8 | (crc & 0xFF) << 8);
    __m128i sum =
        _mm_shuffle_epi8(_mm_xor_si128(sixteen(at), begun), sixteen(backwards + 16 - first));
    at += first;
    len -= first;
    if (len % 32 == 0) {
        sum = fold(sum, by128, block(at));
        at += 16;
        len -= 16;
    }
    __m128i other = block(at);
    for (at += 16, len -= 16; len > 0; at += 32, len -= 32) {
        sum = fold(sum, by256, block(at));
        other = fold(other, by256, block(at + 16));
    }
    unsigned char rest[16];
    sum = fold(sum, by128, other);
    _mm_storeu_si128((__m128i *)(void *)rest, _mm_shuffle_epi8(sum, sixteen(backwards)));
    return crc_any(0, rest, sizeof rest);
}

static bool can_fold(void) {
    return CPU_FEATURE_ACTIVE(PCLMULQDQ) && CPU_FEATURE_ACTIVE(SSSE3);
}
#else
static uint16_t crc_folded(uint16_t crc, const unsigned char *at, size_t len) {
    return crc_any(crc, at, len);
}

static bool can_fold(void) {
    return false;
}
#endif

uint16_t telemetry_crc(uint16_t crc, const char *bytes, size_t len) {
    const unsigned char *at = (const unsigned char *)bytes;
    return len >= FOLD_LEAST && can_fold() ? crc_folded(crc, at, len) : crc_any(crc, at, len);
}
