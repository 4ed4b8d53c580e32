#include "study/side.h"

#include <math.h>

#include "base/whole.h"
#include "stat/distribution.h"

static void add_known(bool *known, uint64_t *sum, bool has, uint64_t count) {
    *known = *known && has;
    *sum += count;
}

static void add_sample(struct side *out, const struct sample *s, bool first) {
    out->counted = out->counted && s->counted;
    out->got += s->got;
    out->lost += s->lost;
    out->minutes += (double)sample_observed_ms(s) / 60000;
    out->rate_hz = first || out->rate_hz == s->rate_hz ? s->rate_hz : 0;
    out->evidence = first || s->evidence < out->evidence ? s->evidence : out->evidence;
    out->ack = first || out->ack == s->ack ? s->ack : ACK_BOTH;
    sample_runs_join(&out->runs, &s->runs);
    add_known(&out->failsafe_known, &out->failsafes, s->failsafe_known, s->failsafes);
    add_known(&out->registers_known, &out->settings_lost, s->registers_known, s->settings_lost);
    add_known(&out->transmitter_restarts_known, &out->transmitter_restarts,
              s->transmitter_restarts_known, s->transmitter_restarts);
    out->receiver_restarts += s->receiver_restarts;
}

void side_read(const struct side_samples *samples, struct side *out) {
    static const uint64_t unordered_part = 20; /* more than a twentieth: runs don't tell */
    *out = (struct side){.recordings = samples->count,
                         .counted = true,
                         .failsafe_known = true,
                         .registers_known = true,
                         .transmitter_restarts_known = true};
    for (uint32_t i = 0; i < samples->count; i++)
        add_sample(out, samples->sample[i], i == 0);
    uint64_t packets = out->got + out->lost;
    out->rate = packets > 0 ? (double)out->lost / (double)packets : 0;
    out->ordered = out->runs.lost + out->lost / unordered_part >= out->lost;
}

void side_weigh_loss(const struct sample_block *block, int64_t block_ms, double *amount,
                     double *weight) {
    (void)block_ms;
    *amount = (double)block->lost;
    *weight = (double)(block->got + block->lost);
}

static uint32_t joined(const struct sample *s, int64_t block_ms) {
    int64_t each = (block_ms + s->block_ms - 1) / s->block_ms;
    return each < 1 ? 1 : each > SAMPLE_BLOCKS ? SAMPLE_BLOCKS : (uint32_t)each;
}

static uint32_t count_blocks(const struct side_samples *samples, int64_t block_ms) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < samples->count; i++)
        count += sample_joined(samples->sample[i], joined(samples->sample[i], block_ms));
    return count;
}

int64_t side_block_ms(const struct side_samples *samples, const struct side *side) {
    static const double mean_runs = 2.5;
    int64_t grain = SAMPLE_BLOCK_MS;
    for (uint32_t i = 0; i < samples->count; i++)
        if (samples->sample[i]->block_ms > grain)
            grain = samples->sample[i]->block_ms;
    double least = (double)grain, packets = (double)(side->got + side->lost);
    if (side->runs.runs > 0 && packets > 0) {
        double run = (double)side->runs.lost / (double)side->runs.runs;
        least = fmax(least, mean_runs * run * side->minutes * 60000 / packets);
    }
    int64_t block_ms = whole_i64(ceil(least / (double)grain)) * grain;
    while (count_blocks(samples, block_ms) > SIDE_BLOCKS_MOST)
        block_ms *= 2;
    return block_ms;
}

uint32_t side_blocks(const struct sample *s, int64_t block_ms, side_weigh *weigh, bool second,
                     unsigned int stratum, struct permute_block *out) {
    uint32_t each = joined(s, block_ms), blocks = sample_joined(s, each), count = 0;
    for (uint32_t i = 0; i < blocks; i++) {
        struct sample_block block = sample_block_at(s, each, i);
        struct permute_block one = {0, 0, second, stratum};
        weigh(&block, s->block_ms * each, &one.lost, &one.packets);
        if (one.packets > 0)
            out[count++] = one;
    }
    return count;
}

static double share_of(const struct permute_block *block, uint32_t count) {
    double amount = 0, weight = 0;
    for (uint32_t i = 0; i < count; i++) {
        amount += block[i].lost;
        weight += block[i].packets;
    }
    return weight > 0 ? amount / weight : 0;
}

static double off_mean(const struct permute_block *block, double share) {
    return block->lost - share * block->packets;
}

void side_alike_add(struct side_alike *sum, const struct permute_block *block, uint32_t count) {
    double share = share_of(block, count);
    for (uint32_t lag = 0; lag < SIDE_LAGS && lag < count; lag++)
        for (uint32_t i = 0; i + lag < count; i++)
            sum->products[lag] += off_mean(&block[i], share) * off_mean(&block[i + lag], share);
    sum->blocks += count;
    sum->recordings += count > 0;
}

static double initial_positive(const struct side_alike *sum, double bias) {
    double total = -1, lags = sum->blocks / sum->recordings / 2;
    for (uint32_t lag = 0; lag + 1 < SIDE_LAGS && lag < lags; lag += 2) {
        double even = sum->products[lag] / sum->products[0] + (lag > 0 ? bias : 0);
        double pair = even + sum->products[lag + 1] / sum->products[0] + bias;
        if (pair <= 0)
            break;
        total += 2 * pair;
    }
    return fmax(1, total);
}

double side_alike_read(const struct side_alike *sum) {
    if (sum->products[0] <= 0)
        return 1;
    enum { ROUNDS = 5 }; /* the bias depends on what is looked for: enough to settle */
    double of_mean = sum->recordings / sum->blocks, alike = 1;
    for (int i = 0; i < ROUNDS; i++)
        alike = initial_positive(sum, of_mean * alike);
    return alike;
}

bool side_spread(const struct side_samples *samples, int64_t block_ms, double alike,
                 struct permute_block *work, struct side_spread *out) {
    uint32_t count = 0;
    double squares = 0, weight = 0;
    for (uint32_t i = 0; i < samples->count; i++)
        count += side_blocks(samples->sample[i], block_ms, side_weigh_loss, false, 0, work + count);
    if (count < SIDE_BLOCKS_LEAST)
        return false;
    double share = share_of(work, count), n = count;
    for (uint32_t i = 0; i < count; i++) {
        squares += off_mean(&work[i], share) * off_mean(&work[i], share);
        weight += work[i].packets;
    }
    out->se = sqrt(alike * n / (n - 1) * squares) / weight;
    out->df = fmax(1, n / (2 * alike - 1) - 1); /* the autocorrelation is itself estimated */
    return true;
}

static struct stat_interval limits_by_runs(const struct side *side, double drop, double level) {
    struct loss_interval found;
    stat_loss_interval(&side->runs, level, &found);
    if (found.kind == LOSS_NONE_LOST)
        found.high = stat_loss_none_bound(side->runs.packets, drop, 0.5 + level / 2);
    return (struct stat_interval){fmin(found.low, side->rate), fmax(found.high, side->rate)};
}

/* Losses of blocks lie skewed, few of them far above: upwards the reach is taken on a logarithmic
 * scale, which is further. */
static double above(double rate, double reach) {
    return rate > 0 ? rate * exp(fmin(reach / rate, 100)) : reach;
}

struct stat_interval side_limits(const struct side *side, const struct side_spread *spread,
                                 double drop, double level) {
    struct stat_interval out = {side->rate, side->rate}, runs;
    if (spread != NULL && (side->lost > 0 || !side->ordered)) {
        double reach =
            spread->se > 0 ? stat_t_quantile(0.5 + level / 2, spread->df) * spread->se : 0;
        out =
            (struct stat_interval){fmax(0, side->rate - reach), fmin(1, above(side->rate, reach))};
    }
    if (!side->ordered)
        return spread != NULL ? out : (struct stat_interval){0, 1};
    runs = limits_by_runs(side, drop, level);
    return (struct stat_interval){fmin(out.low, runs.low), fmax(out.high, runs.high)};
}
