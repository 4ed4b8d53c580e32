/* Losses that grow over the run: a battery that runs down, something that gets warm. */
#include <math.h>

#include "causes/causes_parts.h"
#include "stat/rank.h"

enum {
    BLOCKS = 10,
    BLOCK_CELLS_LEAST = 27500 / TRACE_CELL_MS, /* a recording of five minutes, or little less */
};

struct sums {
    double sum;
    uint32_t count;
};

static void add(struct sums *s, double value) {
    s->sum += value;
    s->count++;
}

/* False where nothing was told. */
static bool mean_of(const struct sums *s, double *mean) {
    *mean = s->count > 0 ? s->sum / s->count : 0;
    return s->count > 0;
}

/* How bad the link is in a cell, 0 to 1. */
static bool badness(const struct trace_cell *c, double *out) {
    uint32_t packets = (uint32_t)c->got + c->lost;
    bool drop = (c->flags & TRACE_DROP) != 0;
    *out = drop ? 1 : packets > 0 ? (double)c->lost / packets : 0;
    return (c->flags & TRACE_HOLE) == 0 && (drop || packets > 0);
}

typedef bool cell_figure(const struct trace_cell *c, double *out);

static bool receiver_mv(const struct trace_cell *c, double *out) {
    *out = c->supply != TRACE_NOTHING ? c->supply : c->supply_low;
    return c->supply != TRACE_NOTHING || c->supply_low != TRACE_NOTHING;
}

static bool transmitter_mv(const struct trace_cell *c, double *out) {
    *out = c->transmitter;
    return c->transmitter != TRACE_NOTHING;
}

/* The means of the run's ten parts; false where one of them tells nothing. */
static bool means(const struct trace *t, cell_figure *figure, double mean[BLOCKS]) {
    bool known = true;
    for (uint32_t b = 0; b < BLOCKS; b++) {
        struct sums s = {0};
        double value;
        for (uint32_t i = t->cells * b / BLOCKS; i < t->cells * (b + 1) / BLOCKS; i++)
            if (figure(&t->cell[i], &value))
                add(&s, value);
        known = mean_of(&s, &mean[b]) && known;
    }
    return known;
}

/* A supply that falls from part to part, by 1 % or more in all. */
static bool falls(const struct trace *t, cell_figure *figure, double *fall_mv) {
    double mean[BLOCKS], work[BLOCKS];
    struct stat_trend trend;
    if (!means(t, figure, mean) || !stat_trend(mean, BLOCKS, work, BLOCKS, &trend))
        return false;
    *fall_mv = mean[0] - mean[BLOCKS - 1];
    return trend.s < 0 && trend.p < 0.01 && *fall_mv >= mean[0] / 100;
}

static bool is_walk(const struct trace *t) {
    int16_t first = TRACE_NOTHING;
    for (uint32_t i = 0; i < t->cells; i++) {
        int16_t here = t->cell[i].distance_dm;
        if (here != TRACE_NOTHING && first != TRACE_NOTHING && here != first)
            return true;
        first = here != TRACE_NOTHING ? here : first;
    }
    return false;
}

/* In the last third, by number of events, or of packets lost: many losses join to few long ones. */
static void last_third(const struct trace *t, const struct chance_events *outages,
                       struct causes_drift *out) {
    uint32_t from = t->cells - t->cells / 3;
    for (uint32_t i = 0; outages == NULL && i < t->cells; i++) {
        out->events += t->cell[i].lost;
        out->explained += i >= from ? t->cell[i].lost : 0;
    }
    for (uint32_t i = 0; outages != NULL && i < outages->count; i++) {
        out->events += outages->weight[i];
        out->explained += outages->cell[i] >= (int32_t)from ? outages->weight[i] : 0;
    }
    double before = out->events - out->explained;
    out->expected = out->events / 3.0;
    out->effect = before > 0 ? 2 * out->explained / before : INFINITY;
}

/* Mann and Kendall over the parts in their order. */
bool causes_drift(const struct trace *t, const struct chance_events *outages,
                  struct causes_drift *out) {
    double mean[BLOCKS], work[BLOCKS];
    struct stat_trend trend;
    *out = (struct causes_drift){.p = 1};
    if (t->cells / BLOCKS < BLOCK_CELLS_LEAST || is_walk(t) || !means(t, badness, mean) ||
        !stat_trend(mean, BLOCKS, work, BLOCKS, &trend))
        return false;
    last_third(t, outages, out);
    out->p = trend.s > 0 ? trend.p / 2 : 1 - trend.p / 2;
    if (falls(t, receiver_mv, &out->fall_mv))
        out->supply = "receiver";
    else if (falls(t, transmitter_mv, &out->fall_mv))
        out->supply = "transmitter";
    else
        out->fall_mv = 0;
    return true;
}
