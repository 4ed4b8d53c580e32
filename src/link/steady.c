#include "link/steady.h"

#include <math.h>
#include <string.h>

#include "base/whole.h"

void steady_init(struct steady *s) {
    memset(s, 0, sizeof *s);
    s->begin_ms = TIME_UNKNOWN;
    s->block_ms = STEADY_BLOCK_MS;
}

static struct steady_block join(struct steady_block a, struct steady_block b) {
    return (struct steady_block){a.got + b.got, a.lost + b.lost};
}

static void merge_pairs(struct steady *s) {
    for (uint32_t i = 0; i < STEADY_BLOCKS / 2; i++)
        s->block[i] = join(s->block[2 * i], s->block[2 * i + 1]);
    memset(&s->block[STEADY_BLOCKS / 2], 0, STEADY_BLOCKS / 2 * sizeof s->block[0]);
    s->block_ms *= 2;
    s->full /= 2;
}

/* The block of a time, which is made the newest.  What lies before the newest one, as rough times
 * may, goes into that. */
static uint32_t block_at(struct steady *s, int64_t at_ms) {
    while (at_ms - s->begin_ms >= s->block_ms * STEADY_BLOCKS)
        merge_pairs(s);
    int64_t number = (at_ms - s->begin_ms) / s->block_ms;
    if (number > (int64_t)s->full)
        s->full = (uint32_t)number;
    return s->full;
}

static uint64_t low_bits(uint64_t bits, uint64_t count) {
    return count >= 64 ? bits : bits & ((UINT64_C(1) << count) - 1);
}

/* How many of the first `count` packets of a step arrived. */
static uint64_t arrived_of(const struct packet_step *step, uint64_t count) {
    uint64_t older = step->got + step->lost - step->order_len; /* than the spelled ones */
    uint64_t older_got = step->got - bits_in(step->order);
    if (count >= older)
        return older_got + bits_in(low_bits(step->order, count - older));
    return whole_u64((double)count * (double)older_got / (double)older);
}

/* How many of a step's packets lie before until_ms, when the last of them lies at to_ms. */
static uint64_t packets_before(uint64_t packets, int64_t from_ms, int64_t to_ms, int64_t until_ms) {
    if (until_ms > to_ms)
        return packets;
    if (until_ms <= from_ms)
        return 0;
    double at = (double)(until_ms - from_ms) * (double)packets / (double)(to_ms - from_ms);
    return whole_u64(ceil(at) - 1);
}

void steady_place(struct steady *s, const struct packet_step *step, int64_t from_ms,
                  int64_t to_ms) {
    uint64_t packets = step->got + step->lost;
    if (!step->counted || packets == 0)
        return;
    if (to_ms == TIME_UNKNOWN) {
        s->untimed = join(s->untimed, (struct steady_block){step->got, step->lost});
        return;
    }
    if (from_ms == TIME_UNKNOWN || from_ms > to_ms)
        from_ms = to_ms;
    if (s->begin_ms == TIME_UNKNOWN)
        s->begin_ms = from_ms;
    s->observed_ms += to_ms - from_ms;
    uint32_t last = block_at(s, to_ms); /* first, since it may change the length of blocks */
    int64_t first = (from_ms - s->begin_ms) / s->block_ms;
    first = first < 0 ? 0 : first < last ? first : last;
    uint64_t done = 0, got = 0;
    for (uint32_t i = (uint32_t)first; i <= last; i++) {
        int64_t until_ms = s->begin_ms + (int64_t)(i + 1) * s->block_ms;
        uint64_t upto = i == last ? packets : packets_before(packets, from_ms, to_ms, until_ms);
        uint64_t arrived = arrived_of(step, upto);
        s->block[i].got += arrived - got;
        s->block[i].lost += upto - done - (arrived - got);
        done = upto;
        got = arrived;
    }
}

uint32_t steady_blocks(const struct steady *s, int64_t least_ms, struct steady_block *out,
                       int64_t *block_ms, struct steady_block *rest) {
    int64_t wanted = (least_ms + s->block_ms - 1) / s->block_ms;
    uint32_t each = wanted < 1 ? 1 : wanted > STEADY_BLOCKS ? STEADY_BLOCKS : (uint32_t)wanted;
    uint32_t count = 0, whole = s->full / each * each;
    for (uint32_t i = 0; i < whole; i += each) {
        struct steady_block sum = {0};
        for (uint32_t k = 0; k < each; k++)
            sum = join(sum, s->block[i + k]);
        if (sum.got + sum.lost > 0)
            out[count++] = sum;
    }
    struct steady_block left = {0};
    for (uint32_t i = whole; i <= s->full; i++)
        left = join(left, s->block[i]);
    if (block_ms != NULL)
        *block_ms = s->block_ms * each;
    if (rest != NULL)
        *rest = left;
    return count;
}
