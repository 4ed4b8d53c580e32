#include <math.h>
#include <stdlib.h>

#include "stat/rank.h"
#include "study/causes_parts.h"

enum { STOPS_MAX = 64, STOPS_LEAST = 5 };

struct stop {
    int16_t distance_dm;
    uint64_t got, lost;
    uint32_t cells, runs;
};

static uint32_t collect_stops(const struct trace *t, struct stop *stop) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < t->cells; i++) {
        const struct trace_cell *c = &t->cell[i];
        uint32_t k = 0;
        while (k < count && stop[k].distance_dm != c->distance_dm)
            k++;
        if (c->distance_dm == TRACE_NOTHING || k == STOPS_MAX)
            continue;
        if (k == count)
            stop[count++] = (struct stop){.distance_dm = c->distance_dm};
        stop[k].got += c->got;
        stop[k].lost += c->lost;
        stop[k].runs += c->runs;
        stop[k].cells++;
    }
    return count;
}

static int nearer(const void *a, const void *b) {
    const struct stop *x = a, *y = b;
    return (x->distance_dm > y->distance_dm) - (x->distance_dm < y->distance_dm);
}

/* Losses at the farther half of the stops, and their rate there over that at the nearer ones. */
static void far_half(struct causes_distance *out, const struct stop *stop, uint32_t count) {
    uint32_t runs = 0, far = 0, cells = 0, far_cells = 0;
    for (uint32_t i = 0; i < count; i++) {
        runs += stop[i].runs;
        cells += stop[i].cells;
        far += i >= count / 2 ? stop[i].runs : 0;
        far_cells += i >= count / 2 ? stop[i].cells : 0;
    }
    double share = (double)far_cells / cells;
    out->events = runs;
    out->explained = far;
    out->expected = share * runs;
    out->effect = runs > far ? far / share / ((runs - far) / (1 - share)) : INFINITY;
}

/* Mann and Kendall over the stops in the order of their distances. */
bool causes_distance(const struct trace *t, struct causes_distance *out) {
    struct stop stop[STOPS_MAX];
    double share[STOPS_MAX], work[STOPS_MAX];
    struct stat_trend trend;
    uint32_t count = collect_stops(t, stop);
    *out = (struct causes_distance){.rises = 1, .falls = 1};
    if (count < STOPS_LEAST)
        return false;
    qsort(stop, count, sizeof stop[0], nearer);
    for (uint32_t i = 0; i < count; i++) {
        double packets = (double)(stop[i].got + stop[i].lost);
        share[i] = packets > 0 ? (double)stop[i].lost / packets : 1; /* nothing came: all lost */
    }
    out->tested = stat_trend(share, count, work, STOPS_MAX, &trend);
    if (!out->tested)
        return true;
    far_half(out, stop, count);
    out->rises = trend.s > 0 ? trend.p / 2 : 1 - trend.p / 2;
    out->falls = trend.s < 0 ? trend.p / 2 : 1 - trend.p / 2;
    return true;
}
