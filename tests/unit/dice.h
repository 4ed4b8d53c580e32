/* Random numbers for tests, the same on every machine: xorshift64* (Vigna 2016). */
#ifndef UNIT_DICE_H
#define UNIT_DICE_H

#include <math.h>
#include <stdbool.h>
#include <stdint.h>

struct dice {
    uint64_t state; /* not 0 */
};

static inline uint64_t dice_u64(struct dice *d) {
    d->state ^= d->state >> 12;
    d->state ^= d->state << 25;
    d->state ^= d->state >> 27;
    return d->state * UINT64_C(2685821657736338717);
}

static inline uint64_t dice_below(struct dice *d, uint64_t limit) {
    return (dice_u64(d) >> 11) % limit;
}

static inline double dice_share(struct dice *d) { /* at least 0, less than 1 */
    return (double)(dice_u64(d) >> 11) / 9007199254740992.0;
}

static inline bool dice_chance(struct dice *d, double p) {
    return dice_share(d) < p;
}

#endif
