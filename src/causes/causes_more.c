#include <math.h>
#include <stdlib.h>

#include "causes/causes_parts.h"
#include "stat/block.h"

const char *causes_ticks(const struct trace *t, double period_ms) {
    const struct {
        double ms;
        const char *what;
    } known[] = {
        {102.4, "the interval of a Wi-Fi beacon"},
        {20, "the mains, 50 Hz"},
        {10, "half waves of the mains, 50 Hz"},
        {1000.0 / 60, "the mains, 60 Hz"},
        {1000.0 / 120, "half waves of the mains, 60 Hz"},
        {t->hop > 1 && t->rate_hz > 0 ? 1000.0 * t->hop / t->rate_hz : 0, "the hop cycle"},
        {t->reports > 0 ? (double)t->observed_ms / (double)t->reports : 0,
         "the receiver's own printing"},
    };
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (known[i].ms > 0 && fabs(period_ms / known[i].ms - 1) < 0.007)
            return known[i].what;
    return NULL;
}

enum { THROTTLE_CELLS = 2000 / TRACE_CELL_MS };

struct throttle_block {
    double output, share;
};

/* The block that begins at a cell; false where its throttle or packets aren't known. */
static bool throttle_block(const struct trace *t, uint32_t from, struct throttle_block *out) {
    double sum = 0, packets = 0, lost = 0;
    for (uint32_t i = from; i < from + THROTTLE_CELLS; i++) {
        const struct trace_cell *c = &t->cell[i];
        if (c->throttle == TRACE_NOTHING || (c->flags & TRACE_FAILSAFE) != 0)
            return false;
        sum += c->throttle;
        lost += c->lost;
        packets += (double)c->got + c->lost;
    }
    out->output = sum / THROTTLE_CELLS;
    out->share = packets > 0 ? lost / packets : 0;
    return packets > 0;
}

static int lower(const void *a, const void *b) {
    const struct throttle_block *x = a, *y = b;
    return (x->output > y->output) - (x->output < y->output);
}

static struct throttle_step step_of(const struct throttle_block *block, uint32_t count,
                                    double *share) {
    struct throttle_step s = {
        .from = block[0].output, .to = block[count - 1].output, .blocks = count};
    struct stat_interval interval;
    for (uint32_t i = 0; i < count; i++) {
        share[i] = block[i].share;
        s.loss += block[i].share / count;
    }
    s.interval_known =
        count >= THROTTLE_BLOCKS_LEAST && stat_block_mean_t(share, count, 0.95, &interval);
    if (s.interval_known) {
        s.low = interval.low > 0 ? interval.low : 0;
        s.high = interval.high < 1 ? interval.high : 1;
    }
    return s;
}

bool causes_throttle(const struct trace *t, struct throttle_step steps[THROTTLE_STEPS]) {
    uint32_t most = t->cells / THROTTLE_CELLS, count = 0;
    struct throttle_block *block = malloc((most + 1) * sizeof *block);
    double *share = malloc((most + 1) * sizeof *share);
    for (uint32_t i = 0; block != NULL && i < most; i++)
        count += throttle_block(t, i * THROTTLE_CELLS, &block[count]);
    bool enough = block != NULL && share != NULL && limits_throttle(t->limits) >= 0 &&
                  count >= THROTTLE_STEPS * THROTTLE_BLOCKS_LEAST;
    if (enough) {
        qsort(block, count, sizeof *block, lower);
        for (uint32_t k = 0; k < THROTTLE_STEPS; k++) {
            uint32_t from = k * count / THROTTLE_STEPS, to = (k + 1) * count / THROTTLE_STEPS;
            steps[k] = step_of(&block[from], to - from, share);
        }
    }
    free(block);
    free(share);
    return enough;
}

/* --- one drop --------------------------------------------------------------------------------- */

static void look_at(const struct trace_cell *c, struct cause_before *out) {
    for (int ch = 0; ch < CHANNELS_MAX; ch++)
        if (c->move[ch] > out->way) {
            out->way = c->move[ch];
            out->channel = ch;
        }
    out->lost += c->lost;
}

void causes_before(const struct trace *t, const struct trace_drop *d, struct cause_before *out) {
    int32_t at = trace_at(t, d->from_ms);
    int low = INT32_MAX, usual = INT32_MIN;
    *out = (struct cause_before){.dip_mv = INT32_MIN, .channel = -1};
    if (at < 0)
        return;
    out->known = !d->hole;
    for (int32_t i = at > BEFORE_CELLS ? at - BEFORE_CELLS : 0; i <= at; i++) {
        const struct trace_cell *c = &t->cell[i];
        look_at(c, out);
        out->known = out->known && (c->flags & TRACE_HOLE) == 0;
        if (c->supply_low != TRACE_NOTHING && c->supply_low < low)
            low = c->supply_low;
        if (c->supply != TRACE_NOTHING && c->supply > usual)
            usual = c->supply;
    }
    if (low != INT32_MAX && usual != INT32_MIN)
        out->dip_mv = usual - low;
    int32_t end = trace_at(t, d->to_ms);
    for (int32_t i = at > 0 ? at - 1 : 0; i <= (end >= at ? end : at) + 1 && i < (int32_t)t->cells;
         i++) {
        out->noise_hits += t->cell[i].noise_hits;
        out->noise_looks += t->cell[i].noise_looks;
    }
}
