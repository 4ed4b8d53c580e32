#include "link/channels.h"

#include <math.h>
#include <string.h>

void channels_init(struct channels *c) {
    memset(c, 0, sizeof *c);
}

/* A slowly moved stick keeps within the spread too, but then the values follow one another.  Of
 * noise the squared differences from value to value sum to about twice the squared deviations from
 * the mean, with a standard deviation of 0.34 for 32 values (J. von Neumann 1941, Annals of
 * Mathematical Statistics 12:367, from memory); of a movement they sum to a fraction. */
static bool moves(const struct channel *ch, int32_t spread, double squares) {
    return spread > REST_SPREAD || (spread > REST_STILL && (double)ch->block_steps < 1.2 * squares);
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

/* Sums of deviations from the block's first value are exact integers, so the noise comes out the
 * same whichever way the same lines arrived. */
static void end_block(struct channel *ch) {
    int32_t spread = ch->block_high - ch->block_low;
    double sum = (double)ch->block_sum;
    double squares = (double)ch->block_squares - sum * sum / REST_BLOCK;
    if (!moves(ch, spread, squares)) {
        ch->rest_known = true;
        rest_at(ch, (double)ch->block_first + sum / REST_BLOCK);
        ch->rest_squares += squares;
        ch->rest_blocks++;
        if (spread > ch->noise_peak)
            ch->noise_peak = spread;
    }
    ch->block_len = 0;
}

static void add_to_block(struct channel *ch, int32_t value) {
    if (ch->block_len == 0) {
        ch->block_first = ch->block_low = ch->block_high = ch->block_last = value;
        ch->block_sum = ch->block_squares = ch->block_steps = 0;
    }
    int64_t deviation = (int64_t)value - ch->block_first;
    ch->block_sum += deviation;
    ch->block_squares += deviation * deviation;
    int64_t step = (int64_t)value - ch->block_last;
    ch->block_steps += step * step;
    ch->block_last = value;
    if (value < ch->block_low)
        ch->block_low = value;
    if (value > ch->block_high)
        ch->block_high = value;
    if (++ch->block_len == REST_BLOCK)
        end_block(ch);
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
    if (!ch->ends_known || value < ch->low)
        ch->low = value;
    if (!ch->ends_known || value > ch->high)
        ch->high = value;
    ch->ends_known = true;
    add_to_block(ch, value);
    return changed;
}

void channels_report(struct channels *c, const struct report *r, uint8_t changed[CHANNELS_MAX]) {
    if (r->ch_count > c->count)
        c->count = r->ch_count;
    for (uint32_t i = 0; i < CHANNELS_MAX; i++) {
        struct channel *ch = &c->channel[i];
        changed[i] = 0;
        if (i < r->ch_count)
            changed[i] = take(ch, r->ch[i]);
        else
            ch->present = false;
        ch->has_input = report_has(r, KEY_IN) && i < r->in_count;
        if (ch->has_input)
            ch->input = r->in[i];
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
        out[i].ends_known = ch->ends_known;
        out[i].low = ch->low;
        out[i].high = ch->high;
        out[i].reports = ch->reports;
        out[i].changes = ch->changes;
        out[i].rest_known = ch->rest_known;
        out[i].rest = rest_of(ch);
        out[i].noise = freedom > 0 ? sqrt(ch->rest_squares / freedom) : 0;
        out[i].noise_peak = ch->noise_peak;
    }
}
