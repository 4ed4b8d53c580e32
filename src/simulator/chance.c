#include "simulator/chance.h"

static uint64_t split_mix(uint64_t *state) {
    uint64_t z = *state += 0x9E3779B97F4A7C15u;
    z = (z ^ z >> 30) * 0xBF58476D1CE4E5B9u;
    z = (z ^ z >> 27) * 0x94D049BB133111EBu;
    return z ^ z >> 31;
}

void chance_init(struct chance *c, uint64_t seed, uint64_t stream) {
    uint64_t state = stream;
    state = seed ^ split_mix(&state);
    for (int i = 0; i < 4; i++)
        c->s[i] = split_mix(&state);
}

static uint64_t rotate(uint64_t x, int by) {
    return x << by | x >> (64 - by);
}

uint64_t chance_u64(struct chance *c) {
    uint64_t *s = c->s;
    uint64_t result = rotate(s[1] * 5, 7) * 9;
    uint64_t t = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= t;
    s[3] = rotate(s[3], 45);
    return result;
}

int32_t chance_between(struct chance *c, int32_t low, int32_t high) {
    uint64_t span = (uint64_t)((int64_t)high - low + 1);
    return (int32_t)(low + (int64_t)((chance_u64(c) >> 32) * span >> 32));
}

bool chance_hits(struct chance *c, uint32_t share) {
    return (chance_u64(c) >> 48) < share;
}

int32_t chance_normal(struct chance *c) {
    int32_t sum = -6 * 65536;
    for (int i = 0; i < 3; i++) {
        uint64_t bits = chance_u64(c);
        for (int piece = 0; piece < 4; piece++)
            sum += (int32_t)(bits >> 16 * piece & 0xFFFFu);
    }
    return sum / 16;
}

int64_t chance_wait(struct chance *c, int64_t mean) {
    int64_t halvings = (int64_t)32 * 65536 - chance_log2((chance_u64(c) >> 32) + 1); /* 65536ths */
    int64_t wait = mean * halvings / 65536 * 6931 / 10000;                           /* ln 2 */
    return wait < 1 ? 1 : wait;
}

int32_t chance_log2(uint64_t x) {
    static const int32_t steps[33] = {/* 65536 * log2(1 + i/32) */
                                      0,     2909,  5732,  8473,  11136, 13727, 16248, 18704, 21098,
                                      23433, 25711, 27936, 30109, 32234, 34312, 36346, 38336, 40286,
                                      42196, 44068, 45904, 47705, 49472, 51207, 52911, 54584, 56229,
                                      57845, 59434, 60997, 62534, 64047, 65536};
    if (x == 0)
        x = 1;
    int whole = 63 - __builtin_clzll(x);
    uint32_t rest = (uint32_t)(x << (63 - whole) >> 42) & 0x1FFFFFu; /* 21 bits after the point */
    uint32_t step = rest >> 16;
    int32_t part = (int32_t)(rest & 0xFFFFu);
    int32_t slope = steps[step + 1] - steps[step];
    return whole * 65536 + steps[step] + slope * part / 65536;
}
