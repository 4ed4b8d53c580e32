#include "study/chance.h"

#include <math.h>
#include <string.h>

#include "base/whole.h"
#include "stat/joint.h"

enum { KINDS_MAX = 16 };

static const float middling = 0.5F; /* rank of what isn't known */

/* Cells from one shift to the next. */
static uint32_t step_of(uint32_t cells) {
    return (cells + CHANCE_SHIFTS_MAX - 1) / CHANCE_SHIFTS_MAX;
}

uint32_t chance_shifts(uint32_t cells) {
    return cells < CHANCE_CELLS_LEAST ? 0 : cells / step_of(cells);
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

/* Ranks 0..1 into rank, ties sharing theirs. */
static void rank_all(const float *values, uint32_t cells, const uint32_t *index, uint32_t known,
                     float *rank) {
    for (uint32_t i = 0; i < cells; i++)
        rank[i] = middling;
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

/* Where an event stands after a shift. */
static uint32_t moved(int32_t cell, uint32_t shift, uint32_t cells) {
    uint32_t at = (uint32_t)cell + shift;
    return at >= cells ? at - cells : at;
}

static double sum_of_ranks(const float *rank, uint32_t cells, const struct chance_events *e,
                           uint32_t shift) {
    double sum = 0;
    for (uint32_t i = 0; i < e->count; i++)
        sum += (double)rank[moved(e->cell[i], shift, cells)] * e->weight[i];
    return sum;
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
        float above = values[index[whole_u32((1 - upper[k]) * (known - 1))]];
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
        if (values[e->cell[i]] > out->above && e->weight[i] > 0)
            out->bits[i / 64] |= UINT64_C(1) << (i % 64);
}

bool chance_test(float *values, uint32_t cells, int before, int after,
                 const struct chance_events *events, uint32_t least, float *work, uint32_t *index,
                 double *row, struct chance_test *out) {
    uint32_t shifts = chance_shifts(cells), step = step_of(cells);
    *out = (struct chance_test){.above = NAN};
    if (shifts == 0 || events->count == 0)
        return false;
    widen(values, cells, before, after, work);
    uint32_t known = order(values, cells, index);
    if (known < cells / 4 || values[index[0]] >= values[index[known - 1]])
        return false;
    explain(values, index, known, events, out);
    if (out->events < least)
        return false;
    rank_all(values, cells, index, known, work);
    for (uint32_t i = 0; i < shifts; i++)
        row[i] = sum_of_ranks(work, cells, events, i * step);
    stat_joint_standardise(row, shifts);
    return true;
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
                  uint32_t least, double *row, struct chance_test *out, int *worst) {
    uint32_t time[KINDS_MAX] = {0}, count[KINDS_MAX], whole = 0, different = 0;
    uint32_t shifts = chance_shifts(cells), step = step_of(cells);
    *out = (struct chance_test){.above = NAN};
    *worst = -1;
    for (uint32_t i = 0; i < cells; i++)
        if (kinds[i] >= 0 && kinds[i] < KINDS_MAX)
            time[kinds[i]]++;
    for (int k = 0; k < KINDS_MAX; k++) {
        whole += time[k];
        different += time[k] > 0;
    }
    if (shifts == 0 || different < 2)
        return false;
    scatter(kinds, cells, events, 0, time, count);
    for (int k = 0; k < KINDS_MAX; k++) {
        out->events += count[k];
        if (time[k] > 0 &&
            (*worst < 0 || (double)count[k] * time[*worst] > (double)count[*worst] * time[k]))
            *worst = k;
    }
    if (out->events < least)
        return false;
    for (uint32_t i = 0; i < shifts; i++)
        row[i] = scatter(kinds, cells, events, i * step, time, NULL);
    stat_joint_standardise(row, shifts);
    out->explained = count[*worst];
    out->expected = (double)out->events * time[*worst] / whole;
    out->effect = rate_ratio(out->explained, out->events, (double)time[*worst] / whole);
    for (uint32_t i = 0; i < events->count; i++)
        if (kinds[events->cell[i]] == *worst)
            out->bits[i / 64] |= UINT64_C(1) << (i % 64);
    return true;
}
