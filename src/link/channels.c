#include "link/channels.h"

#include <math.h>
#include <string.h>

void channels_init(struct channels *c) {
    memset(c, 0, sizeof *c);
    for (size_t i = 0; i < CHANNELS_MAX; i++) {
        c->low[i] = INT32_MAX;
        c->high[i] = INT32_MIN;
    }
}

/* What the 32 values of a block come to.  Deviations from the first value are exact integers, so
 * the noise comes out the same whichever way the same lines arrived. */
struct block_figures {
    int32_t spread;
    double mean, squares; /* squares: of deviations from the mean, summed */
    double steps;         /* squared differences from value to value, summed */
};

static struct block_figures block_figures(const int32_t *block) {
    int64_t sum = 0, squares = 0, steps = 0;
    int32_t low = block[0], high = block[0];
    for (int i = 0; i < REST_BLOCK; i++) {
        int64_t deviation = (int64_t)block[i] - block[0];
        int64_t step = i > 0 ? (int64_t)block[i] - block[i - 1] : 0;
        sum += deviation;
        squares += deviation * deviation;
        steps += step * step;
        low = block[i] < low ? block[i] : low;
        high = block[i] > high ? block[i] : high;
    }
    return (struct block_figures){.spread = high - low,
                                  .mean = (double)block[0] + (double)sum / REST_BLOCK,
                                  .squares =
                                      (double)squares - (double)sum * (double)sum / REST_BLOCK,
                                  .steps = (double)steps};
}

/* A slowly moved stick keeps within the spread too, but then the values follow one another.  Of
 * noise the squared differences from value to value sum to about twice the squared deviations from
 * the mean, with a standard deviation of 0.34 for 32 values (J. von Neumann 1941, Annals of
 * Mathematical Statistics 12:367, from memory); of a movement they sum to a fraction. */
static bool moves(const struct block_figures *b) {
    return b->spread > REST_SPREAD || (b->spread > REST_STILL && b->steps < 1.2 * b->squares);
}

/* A new place takes over the one with the fewest blocks. */
static void rest_at(struct channel *ch, double mean) {
    struct rest_place *fewest = &ch->place[0];
    for (size_t i = 0; i < REST_PLACES; i++) {
        struct rest_place *p = &ch->place[i];
        if (p->blocks > 0 && fabs(p->mean - mean) <= REST_NEAR) {
            p->blocks++;
            p->mean += (mean - p->mean) / (double)p->blocks;
            return;
        }
        if (p->blocks < fewest->blocks)
            fewest = p;
    }
    *fewest = (struct rest_place){1, mean};
}

static double rest_of(const struct channel *ch) {
    const struct rest_place *most = &ch->place[0];
    for (size_t i = 1; i < REST_PLACES; i++)
        if (ch->place[i].blocks > most->blocks)
            most = &ch->place[i];
    return most->mean;
}

static void end_block(struct channel *ch) {
    struct block_figures b = block_figures(ch->block);
    ch->block_rests = !moves(&b);
    ch->block_mean = b.mean;
    if (!ch->block_rests)
        return;
    rest_at(ch, b.mean);
    ch->rest_squares += b.squares;
    ch->rest_blocks++;
    if (b.spread > ch->noise_peak)
        ch->noise_peak = b.spread;
}

static void count_step(struct channel *ch, int32_t value) {
    if (value < 0 || value >= STEP_VALUES) {
        ch->steps_over = true;
        return;
    }
    uint64_t *seen = &ch->seen[(uint32_t)value / 64], bit = UINT64_C(1) << ((uint32_t)value % 64);
    if ((*seen & bit) != 0)
        return;
    *seen |= bit;
    ch->steps++;
}

static bool take(struct channel *ch, int32_t value) {
    bool changed = ch->present && ch->value != value;
    ch->value = value;
    ch->present = true;
    ch->reports++;
    ch->changes += changed;
    if (value == CHANNEL_OFF) {
        ch->block_len = 0;
        return changed;
    }
    count_step(ch, value);
    ch->block[ch->block_len++] = value;
    if (ch->block_len == REST_BLOCK)
        end_block(ch);
    return changed;
}

/* Two channels whose blocks have just filled together: how their noise goes together. */
static void add_pair(struct channel_pair *pair, const struct channel *a, const struct channel *b) {
    pair->blocks++;
    for (int i = 0; i < REST_BLOCK; i++) {
        double x = a->block[i] - a->block_mean, y = b->block[i] - b->block_mean;
        pair->cross += x * y;
        pair->squares_a += x * x;
        pair->squares_b += y * y;
    }
}

static void end_blocks(struct channels *c) {
    for (uint32_t a = 0; a < c->count; a++) {
        struct channel *ch = &c->channel[a];
        if (ch->block_len != REST_BLOCK)
            continue;
        ch->block_len = 0;
        for (uint32_t b = a + 1; b < c->count; b++) {
            const struct channel *other = &c->channel[b];
            if (ch->block_rests && other->block_len == REST_BLOCK && other->block_rests)
                add_pair(&c->pair[a][b], ch, other);
        }
    }
}

/* Pearson's coefficient of a pair's noise; false when one of them never changed at rest. */
static bool pair_correlation(const struct channel_pair *pair, double *r) {
    enum { BLOCKS_LEAST = 4 }; /* 128 values: a standard error of about 0.09 */
    if (pair->blocks < BLOCKS_LEAST || pair->squares_a <= 0 || pair->squares_b <= 0)
        return false;
    *r = pair->cross / sqrt(pair->squares_a * pair->squares_b);
    return true;
}

static void read_correlation(const struct channels *c, uint32_t i, struct channel_state *out) {
    out->partner_known = false;
    for (uint32_t k = 0; k < c->count; k++) {
        double r;
        if (k == i || !pair_correlation(k < i ? &c->pair[k][i] : &c->pair[i][k], &r))
            continue;
        if (out->partner_known && fabs(r) <= fabs(out->correlation))
            continue;
        out->partner_known = true;
        out->partner = k;
        out->correlation = r;
    }
}

/* Whether some value lies beyond the ends so far, as that of a channel that is off seems to; all at
 * once, without a branch for each. */
static bool beyond_ends(const struct channels *c, const struct report *r) {
    int32_t beyond = 0;
    for (uint32_t i = 0; i < r->ch_count; i++)
        beyond |= (r->ch[i] < c->low[i]) | (r->ch[i] > c->high[i]);
    return beyond != 0;
}

void channels_report(struct channels *c, const struct report *r, uint8_t changed[CHANNELS_MAX]) {
    uint32_t inputs = report_has(r, KEY_IN) ? r->in_count : 0;
    bool full = false;
    channels_ends(c, r);
    for (uint32_t i = 0; i < CHANNELS_MAX; i++) {
        struct channel *ch = &c->channel[i];
        changed[i] = 0;
        if (i < r->ch_count)
            changed[i] = take(ch, r->ch[i]);
        else
            ch->present = false;
        full |= ch->block_len == REST_BLOCK;
        ch->has_input = i < inputs;
        if (ch->has_input)
            ch->input = r->in[i];
    }
    if (full)
        end_blocks(c);
}

void channels_ends(struct channels *c, const struct report *r) {
    if (r->ch_count > c->count)
        c->count = r->ch_count;
    if (!beyond_ends(c, r))
        return;
    for (uint32_t i = 0; i < r->ch_count; i++) {
        int32_t value = r->ch[i];
        if (value == CHANNEL_OFF)
            continue;
        c->low[i] = value < c->low[i] ? value : c->low[i];
        c->high[i] = value > c->high[i] ? value : c->high[i];
    }
}

void channels_read(const struct channels *c, struct channel_state *out) {
    for (uint32_t i = 0; i < CHANNELS_MAX; i++) {
        const struct channel *ch = &c->channel[i];
        double freedom = (double)ch->rest_blocks * (REST_BLOCK - 1);
        out[i].present = ch->present;
        out[i].value = ch->value;
        out[i].has_input = ch->has_input;
        out[i].input = ch->input;
        out[i].ends_known = c->low[i] <= c->high[i];
        out[i].low = out[i].ends_known ? c->low[i] : 0;
        out[i].high = out[i].ends_known ? c->high[i] : 0;
        out[i].reports = ch->reports;
        out[i].changes = ch->changes;
        out[i].rest_known = ch->rest_blocks > 0;
        out[i].rest = rest_of(ch);
        out[i].noise = freedom > 0 ? sqrt(ch->rest_squares / freedom) : 0;
        out[i].noise_peak = ch->noise_peak;
        out[i].steps = ch->steps;
        out[i].steps_known = !ch->steps_over;
        read_correlation(c, i, &out[i]);
    }
}
