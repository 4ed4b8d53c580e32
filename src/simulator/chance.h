/* Chance that repeats: whole numbers only, so that every machine draws the same.  xoshiro256**
 * (Blackman and Vigna, 2018), its state filled by SplitMix64. */
#ifndef SIMULATOR_CHANCE_H
#define SIMULATOR_CHANCE_H

#include <stdbool.h>
#include <stdint.h>

struct chance {
    uint64_t s[4];
};

/* Streams of one seed don't disturb one another: a scene's cable draws change no fading. */
void chance_init(struct chance *c, uint64_t seed, uint64_t stream);
uint64_t chance_u64(struct chance *c);

/* low..high, both included. */
int32_t chance_between(struct chance *c, int32_t low, int32_t high);

/* True in `share` of 65536 cases. */
bool chance_hits(struct chance *c, uint32_t share);

/* Mean 0, standard deviation 4096: the sum of twelve even draws, so never beyond six deviations. */
int32_t chance_normal(struct chance *c);

/* A waiting time with this mean, exponentially distributed, at least 1. */
int64_t chance_wait(struct chance *c, int64_t mean);

/* log2 of x (at least 1) in 65536ths, by a table of 32 steps an octave; error below 2e-4. */
int32_t chance_log2(uint64_t x);

#endif
