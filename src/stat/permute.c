#include "stat/permute.h"

#include <math.h>

#include "base/whole.h"

struct generator {
    uint64_t state;
};

/* splitmix64 (Steele, Lea and Flood 2014): each seed a stream of its own, the same everywhere. */
static uint64_t draw(struct generator *g) {
    uint64_t z = (g->state += UINT64_C(0x9e3779b97f4a7c15));
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

/* 0..limit-1, limit below 2^32. */
static size_t draw_below(struct generator *g, size_t limit) {
    return (size_t)(((draw(g) >> 32) * (uint64_t)limit) >> 32);
}

static size_t stratum_end(const struct permute_block *blocks, size_t count, size_t begin) {
    size_t end = begin;
    while (end < count && blocks[end].stratum == blocks[begin].stratum)
        end++;
    return end;
}

static size_t count_second(const struct permute_block *blocks, size_t begin, size_t end) {
    size_t second = 0;
    for (size_t i = begin; i < end; i++)
        second += blocks[i].second;
    return second;
}

/* n over k, INFINITY where it is beyond counting. */
static double ways(size_t n, size_t k) {
    double w = 1;
    for (size_t i = 1; i <= k && w < 1e15; i++)
        w = w * (double)(n - k + i) / (double)i;
    return w < 1e15 ? round(w) : INFINITY;
}

static double count_labellings(const struct permute_block *blocks, size_t count) {
    double all = 1;
    for (size_t begin = 0, end; begin < count; begin = end) {
        end = stratum_end(blocks, count, begin);
        size_t second = count_second(blocks, begin, end), first = end - begin - second;
        all *= ways(end - begin, second < first ? second : first);
    }
    return all;
}

static double difference(const struct permute_block *blocks, size_t count,
                         const unsigned char *second) {
    double lost[2] = {0, 0}, packets[2] = {0, 0};
    for (size_t i = 0; i < count; i++) {
        lost[second[i]] += blocks[i].lost;
        packets[second[i]] += blocks[i].packets;
    }
    return lost[1] / packets[1] - lost[0] / packets[0];
}

struct hits {
    uint64_t two_sided, greater, less;
};

/* Labellings that give the same sums in another order must count as equal. */
static void count_hit(double d, double seen, double slack, struct hits *h) {
    h->two_sided += fabs(d) >= fabs(seen) - slack;
    h->greater += d >= seen - slack;
    h->less += d <= seen + slack;
}

static void swap(unsigned char *a, unsigned char *b) {
    unsigned char kept = *a;
    *a = *b;
    *b = kept;
}

/* The labelling of begin..end-1 that follows in the order of the dictionary; false where it was the
 * last, and the first is put there. */
static bool next_labelling(unsigned char *second, size_t begin, size_t end) {
    size_t i = end - 1, j = i;
    while (i > begin && second[i - 1] >= second[i])
        i--;
    if (i > begin) {
        while (second[j] <= second[i - 1])
            j--;
        swap(&second[i - 1], &second[j]);
    }
    for (size_t low = i, high = end - 1; low < high; low++, high--)
        swap(&second[low], &second[high]);
    return i > begin;
}

/* The strata turn like the wheels of a counter. */
static bool next_of_all(const struct permute_block *blocks, size_t count, unsigned char *second) {
    for (size_t begin = 0, end; begin < count; begin = end) {
        end = stratum_end(blocks, count, begin);
        if (next_labelling(second, begin, end))
            return true;
    }
    return false;
}

static void deal(const struct permute_block *blocks, size_t count, struct generator *g,
                 unsigned char *second) {
    for (size_t begin = 0, end; begin < count; begin = end) {
        end = stratum_end(blocks, count, begin);
        for (size_t left = end - begin; left > 1; left--)
            swap(&second[begin + left - 1], &second[begin + draw_below(g, left)]);
    }
}

static void give(const struct hits *h, uint64_t plus, uint64_t labellings,
                 struct permute_test *out) {
    double all = (double)(labellings + plus);
    out->labellings = labellings;
    out->two_sided = (double)(h->two_sided + plus) / all;
    out->greater = (double)(h->greater + plus) / all;
    out->less = (double)(h->less + plus) / all;
}

bool stat_permute(const struct permute_block *blocks, size_t count, uint64_t draws, uint64_t seed,
                  unsigned char *work, struct permute_test *out) {
    struct generator g = {seed};
    struct hits hits = {0, 0, 0};
    double all = count_labellings(blocks, count);
    if (all < 2)
        return false;
    for (size_t i = 0; i < count; i++)
        work[i] = blocks[i].second;
    double seen = difference(blocks, count, work), slack = 1e-10 * fabs(seen);
    out->difference = seen;
    out->exact = all <= PERMUTE_EXACT_MAX;
    uint64_t labellings = out->exact ? whole_u64(all) : draws;
    for (uint64_t i = 0; i < labellings; i++) {
        if (out->exact)
            next_of_all(blocks, count, work); /* comes round to the first again */
        else
            deal(blocks, count, &g, work);
        count_hit(difference(blocks, count, work), seen, slack, &hits);
    }
    give(&hits, out->exact ? 0 : 1, labellings, out);
    return true;
}
