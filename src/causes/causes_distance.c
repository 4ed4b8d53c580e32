#include <math.h>
#include <stdlib.h>

#include "causes/causes_parts.h"
#include "radio/chip.h"
#include "stat/distribution.h"
#include "stat/rank.h"

enum { STOPS_MAX = 64, STOPS_LEAST = 5 };

struct stop {
    int16_t distance_dm;
    uint64_t got, lost;
    uint32_t cells, runs;
    double dbm; /* sum over `told` cells */
    uint32_t told, hits, looks;
};

static void add_cell(struct stop *s, const struct trace_cell *c) {
    s->got += c->got;
    s->lost += c->lost;
    s->runs += c->runs;
    s->cells++;
    s->hits += c->heard_hits;
    s->looks += c->heard_looks;
    if (c->rssi != TRACE_NOTHING && c->got > 0) {
        s->dbm += c->rssi;
        s->told++;
    }
}

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
        add_cell(&stop[k], c);
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

/* --- against the link budget ------------------------------------------------------------------ */

enum {
    TELLING_LEAST = 3, /* stops that tell of strength */
    LOOKS_LEAST = 20,
    BELOW_DB = 15,   /* hand, hull and a turned antenna together cost less (common practice) */
    DETECTOR_DB = 5, /* either way by warmth (nRF24L01+ specification, section 6.4) */
};

/* How far a stop lies below the budget, dB: by its strength; by a detector that mostly stays still,
 * at least so far, and by one that mostly answers, at most so far.  False: it can't tell. */
static bool below_budget(const struct stop *s, const struct budget_inputs *budget, double *db) {
    double budgeted =
        budget->sensitivity_dbm + budget_margin_db(budget, s->distance_dm / 10.0).plan;
    if (s->told > 0) {
        *db = budgeted - s->dbm / s->told;
        return true;
    }
    bool answers = 2 * s->hits >= s->looks;
    *db = budgeted - CHIP_CARRIER_DBM + (answers ? DETECTOR_DB : -DETECTOR_DB);
    return s->looks >= LOOKS_LEAST && (answers ? *db < BELOW_DB : *db >= BELOW_DB);
}

/* A stop lies 10 dB below its mean by fading alone with probability 1 - exp(-0.1), 0.095
 * (Rayleigh), 15 dB with less: a tenth is allowed, and the stops are counted by the binomial's
 * tail. */
bool causes_antenna(const struct trace *t, struct causes_antenna *out) {
    static const double by_chance = 0.1;
    struct stop stop[STOPS_MAX];
    double db;
    *out = (struct causes_antenna){.p = 1, .below_db = INFINITY};
    uint32_t count = collect_stops(t, stop);
    out->walked = count > 0;
    for (uint32_t i = 0; i < count && t->budget != NULL; i++) {
        if (stop[i].distance_dm <= 0 || !below_budget(&stop[i], t->budget, &db))
            continue;
        out->stops++;
        if (db < BELOW_DB)
            continue;
        out->weak++;
        out->below_db = db < out->below_db ? db : out->below_db;
    }
    out->expected = by_chance * out->stops;
    if (4 * out->weak >= 3 * out->stops && out->weak > 0) /* at every distance, or nearly */
        out->p = stat_beta_below(by_chance, out->weak, out->stops - out->weak + 1.0);
    return out->stops >= TELLING_LEAST;
}
