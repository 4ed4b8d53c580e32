#include "study/chance.h"

#include <math.h>
#include <string.h>

#include "stat/sample.h"

enum { SHIFT_LEAST = 12, KINDS_MAX = 16 }; /* a shift by 3 s at least: beyond any window */

/* SplitMix64 (Steele, Lea and Flood 2014): small, and good enough to choose shifts. */
static uint64_t next_random(uint64_t *state) {
    uint64_t z = *state += UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return z ^ (z >> 31);
}

static uint32_t next_shift(uint64_t *state, uint32_t cells) {
    return SHIFT_LEAST + (uint32_t)(next_random(state) % (cells - 2 * SHIFT_LEAST));
}

/* --- windows and ranks ------------------------------------------------------------------------ */

static void widen(float *values, uint32_t cells, int before, int after, float *work) {
    memcpy(work, values, cells * sizeof *work);
    for (int64_t i = 0; i < (int64_t)cells; i++) {
        float most = NAN;
        for (int64_t k = i - before; k <= i + after; k++)
            if (k >= 0 && k < (int64_t)cells && !isnan(work[k]) && !(work[k] <= most))
                most = work[k];
        values[i] = most;
    }
}

static void sift(const float *values, uint32_t *index, uint32_t root, uint32_t count) {
    for (;;) {
        uint32_t child = 2 * root + 1;
        if (child >= count)
            return;
        if (child + 1 < count && values[index[child]] < values[index[child + 1]])
            child++;
        if (values[index[root]] >= values[index[child]])
            return;
        uint32_t kept = index[root];
        index[root] = index[child];
        index[child] = kept;
        root = child;
    }
}

/* The known cells in ascending order of their values, by heap sort: no memory of its own. */
static uint32_t order(const float *values, uint32_t cells, uint32_t *index) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < cells; i++)
        if (!isnan(values[i]))
            index[count++] = i;
    for (uint32_t i = count / 2; i-- > 0;)
        sift(values, index, i, count);
    for (uint32_t last = count; last-- > 1;) {
        uint32_t kept = index[0];
        index[0] = index[last];
        index[last] = kept;
        sift(values, index, 0, last);
    }
    return count;
}

/* Ranks 0..1 into rank, ties sharing theirs, NAN where unknown. */
static void rank_all(const float *values, uint32_t cells, const uint32_t *index, uint32_t known,
                     float *rank) {
    for (uint32_t i = 0; i < cells; i++)
        rank[i] = NAN;
    for (uint32_t i = 0; i < known;) {
        uint32_t end = i;
        while (end < known && values[index[end]] <= values[index[i]])
            end++;
        float shared = ((float)i + (float)end) / 2 / (float)known;
        for (uint32_t k = i; k < end; k++)
            rank[index[k]] = shared;
        i = end;
    }
}

/* --- the test --------------------------------------------------------------------------------- */

static uint32_t moved(int32_t cell, uint32_t shift, uint32_t cells) {
    uint32_t at = (uint32_t)cell + shift;
    return at >= cells ? at - cells : at;
}

/* Mean rank around the events, moved by `shift`; NAN where none is known. */
static double mean_rank(const float *rank, uint32_t cells, const struct chance_events *e,
                        uint32_t shift) {
    double sum = 0, weight = 0;
    for (uint32_t i = 0; i < e->count; i++) {
        float r = rank[moved(e->cell[i], shift, cells)];
        if (!isnan(r)) {
            sum += (double)r * e->weight[i];
            weight += e->weight[i];
        }
    }
    return weight > 0 ? sum / weight : (double)NAN;
}

struct shifts {
    struct stat_moments moments;
    uint32_t tried, as_high;
};

static void finish(const struct shifts *s, double seen, struct chance_test *out) {
    double sd;
    out->p = (double)(s->as_high + 1) / (double)(s->tried + 1);
    out->z = stat_moments_sd(&s->moments, &sd) && sd > 0 ? (seen - s->moments.mean) / sd : 0;
}

/* Rate of events where the value lies above, over that where it doesn't; `share` of all moments lie
 * above. */
static double rate_ratio(double explained, double events, double share) {
    double others = events - explained;
    if (explained <= 0 || share <= 0 || share >= 1)
        return 0;
    return others > 0 ? explained / share / (others / (1 - share)) : INFINITY;
}

/* Events above a value, and the share of all moments that lie above. */
static uint32_t count_above(const float *values, const struct chance_events *e, float above) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < e->count; i++)
        count += values[e->cell[i]] > above ? e->weight[i] : 0;
    return count;
}

static double share_above(const float *values, const uint32_t *index, uint32_t known, float above) {
    uint32_t low = 0, high = known;
    while (low < high) {
        uint32_t middle = low + (high - low) / 2;
        if (values[index[middle]] > above)
            high = middle;
        else
            low = middle + 1;
    }
    return (double)(known - low) / known;
}

static void explain(const float *values, const uint32_t *index, uint32_t known,
                    const struct chance_events *e, struct chance_test *out) {
    static const double upper[] = {0.1, 0.25, 0.5};
    double best = -INFINITY;
    for (uint32_t i = 0; i < e->count; i++)
        out->events += isnan(values[e->cell[i]]) ? 0 : e->weight[i];
    for (size_t k = 0; k < sizeof upper / sizeof upper[0]; k++) {
        float above = values[index[(uint32_t)((1 - upper[k]) * (known - 1))]];
        if (above >=
            values[index[known - 1]]) /* so many have the greatest value: those are meant */
            above = nextafterf(above, -INFINITY);
        uint32_t count = count_above(values, e, above);
        double share = share_above(values, index, known, above);
        if (count - share * out->events > best) {
            best = count - share * out->events;
            out->above = above;
            out->explained = count;
            out->expected = share * out->events;
            out->effect = rate_ratio(count, out->events, share);
        }
    }
    for (uint32_t i = 0; i < e->count; i++)
        if (values[e->cell[i]] > out->above)
            out->bits[i / 64] |= UINT64_C(1) << (i % 64);
}

bool chance_test(float *values, uint32_t cells, int before, int after,
                 const struct chance_events *events, uint32_t least, uint64_t seed, float *work,
                 uint32_t *index, struct chance_test *out) {
    *out = (struct chance_test){.p = 1};
    if (cells < CHANCE_CELLS_LEAST || events->count == 0)
        return false;
    widen(values, cells, before, after, work);
    uint32_t known = order(values, cells, index);
    if (known < cells / 4 || values[index[0]] >= values[index[known - 1]])
        return false;
    explain(values, index, known, events, out);
    if (out->events < least)
        return false;
    rank_all(values, cells, index, known, work);
    double seen = mean_rank(work, cells, events, 0);
    struct shifts s = {0};
    for (int i = 0; i < CHANCE_SHIFTS; i++) {
        double by_chance = mean_rank(work, cells, events, next_shift(&seed, cells));
        if (isnan(by_chance))
            continue;
        s.tried++;
        s.as_high += by_chance >= seen - 1e-12;
        stat_moments_add(&s.moments, by_chance);
    }
    finish(&s, seen, out);
    return s.tried > CHANCE_SHIFTS / 2;
}

/* --- kinds ------------------------------------------------------------------------------------ */

/* Scatter of the kinds' rates: sum over kinds of (events - expected)^2 / expected. */
static double scatter(const int8_t *kinds, uint32_t cells, const struct chance_events *e,
                      uint32_t shift, const uint32_t *time, uint32_t *seen) {
    uint32_t count[KINDS_MAX] = {0}, all = 0, whole = 0;
    double sum = 0;
    for (uint32_t i = 0; i < e->count; i++) {
        int kind = kinds[moved(e->cell[i], shift, cells)];
        if (kind >= 0 && kind < KINDS_MAX) {
            count[kind] += e->weight[i];
            all += e->weight[i];
        }
    }
    for (int k = 0; k < KINDS_MAX; k++)
        whole += time[k];
    for (int k = 0; k < KINDS_MAX; k++) {
        double expected = whole > 0 ? (double)all * time[k] / whole : 0;
        if (expected > 0)
            sum += (count[k] - expected) * (count[k] - expected) / expected;
        if (seen != NULL)
            seen[k] = count[k];
    }
    return sum;
}

bool chance_kinds(const int8_t *kinds, uint32_t cells, const struct chance_events *events,
                  uint32_t least, uint64_t seed, struct chance_test *out, int *worst) {
    uint32_t time[KINDS_MAX] = {0}, count[KINDS_MAX], whole = 0, different = 0;
    *out = (struct chance_test){.p = 1};
    *worst = -1;
    for (uint32_t i = 0; i < cells; i++)
        if (kinds[i] >= 0 && kinds[i] < KINDS_MAX)
            time[kinds[i]]++;
    for (int k = 0; k < KINDS_MAX; k++) {
        whole += time[k];
        different += time[k] > 0;
    }
    if (cells < CHANCE_CELLS_LEAST || different < 2)
        return false;
    double seen = scatter(kinds, cells, events, 0, time, count);
    for (int k = 0; k < KINDS_MAX; k++) {
        out->events += count[k];
        if (time[k] > 0 &&
            (*worst < 0 || (double)count[k] * time[*worst] > (double)count[*worst] * time[k]))
            *worst = k;
    }
    if (out->events < least)
        return false;
    struct shifts s = {0};
    for (int i = 0; i < CHANCE_SHIFTS; i++) {
        double by_chance = scatter(kinds, cells, events, next_shift(&seed, cells), time, NULL);
        s.tried++;
        s.as_high += by_chance >= seen - 1e-12;
        stat_moments_add(&s.moments, by_chance);
    }
    finish(&s, seen, out);
    out->explained = count[*worst];
    out->expected = (double)out->events * time[*worst] / whole;
    out->effect = rate_ratio(out->explained, out->events, (double)time[*worst] / whole);
    for (uint32_t i = 0; i < events->count; i++)
        if (kinds[events->cell[i]] == *worst)
            out->bits[i / 64] |= UINT64_C(1) << (i % 64);
    return true;
}
