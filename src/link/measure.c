#include "link/measure.h"

#include <math.h>
#include <string.h>

#include "link/parts.h"
#include "stat/block.h"
#include "stat/distribution.h"
#include "stat/proportion.h"
#include "stat/rank.h"

static const double level = 0.95;

enum {
    BLOCKS_LEAST = 8, /* fewer blocks tell neither trend nor interval */
    RUNS_A_BLOCK = 3, /* on average, so that blocks scatter like a sum and not like single runs */
    UNORDERED_PART = 20, /* more than a twentieth of the losses of unknown order: runs don't tell */
};

/* Packet interval: nominal, else as observed. */
static double interval_ms(const struct bench *b) {
    return b->packets.rate_hz > 0 ? 1000.0 / b->packets.rate_hz : -1;
}

static double observed_ms(const struct steady *s) {
    double whole = 0;
    if (s->begin_ms == TIME_UNKNOWN)
        return -1;
    for (uint32_t i = 0; i <= s->full && i < STEADY_BLOCKS; i++)
        if (s->block[i].got + s->block[i].lost > 0)
            whole += (double)s->block_ms;
    return whole;
}

/* Blocks long enough: 2 s, two and a half mean loss runs, and several runs each. */
static int64_t least_block_ms(const struct bench *b, double time_ms) {
    const struct run_lengths *runs = &b->runs.runs;
    double packets = (double)(b->packets.got + b->packets.lost);
    double least = STEADY_BLOCK_MS;
    if (runs->count == 0 || packets <= 0)
        return (int64_t)least;
    double each = time_ms / packets;
    least = fmax(least, 2.5 * each * (double)runs->sum / (double)runs->count);
    least = fmax(least, RUNS_A_BLOCK * time_ms / (double)runs->count);
    return (int64_t)least;
}

/* Scatter of the blocks against what independent runs make: a compound Poisson sum has variance
 * mean * (sum of L^2 / sum of L), so that ratio scales Pearson's statistic. */
static double scatter_p(const struct bench *b, const struct steady_block *block, uint32_t count) {
    const struct run_lengths *runs = &b->runs.runs;
    double lost = 0, packets = 0, squares = 0;
    for (uint32_t i = 0; i < count; i++) {
        lost += (double)block[i].lost;
        packets += (double)(block[i].got + block[i].lost);
    }
    if (lost <= 0 || runs->sum == 0)
        return -1;
    double clump = (double)runs->squares / (double)runs->sum;
    for (uint32_t i = 0; i < count; i++) {
        double expected = lost / packets * (double)(block[i].got + block[i].lost);
        double off = (double)block[i].lost - expected;
        squares += off * off / (expected * clump);
    }
    return stat_chi2_tail(squares, (double)count - 1);
}

static double trend_p(const struct steady_block *block, uint32_t count) {
    double share[STEADY_BLOCKS], work[STEADY_BLOCKS];
    struct stat_trend trend;
    for (uint32_t i = 0; i < count; i++)
        share[i] = (double)block[i].lost / (double)(block[i].got + block[i].lost);
    /* All blocks alike is no trend. */
    return stat_trend(share, count, work, STEADY_BLOCKS, &trend) ? trend.p : 1;
}

static void judge_steady(const struct bench *b, struct measures *m, struct steady_block *block) {
    static const double trend_level = 0.01, scatter_level = 0.001;
    m->trend_p = m->scatter_p = -1;
    m->observed_ms = observed_ms(&b->steady);
    if (m->observed_ms <= 0)
        return;
    m->blocks =
        steady_blocks(&b->steady, least_block_ms(b, m->observed_ms), block, &m->block_ms, NULL);
    m->steady_known = m->blocks >= BLOCKS_LEAST;
    if (!m->steady_known)
        return;
    m->trend_p = trend_p(block, m->blocks);
    m->scatter_p = scatter_p(b, block, m->blocks);
    m->steady = m->trend_p >= trend_level && (m->scatter_p < 0 || m->scatter_p >= scatter_level);
}

static void interval_by_blocks(struct measures *m, const struct steady_block *block) {
    double share[STEADY_BLOCKS];
    struct stat_interval interval;
    for (uint32_t i = 0; i < m->blocks; i++)
        share[i] = (double)block[i].lost / (double)(block[i].got + block[i].lost);
    if (m->blocks < BLOCKS_LEAST || !stat_block_mean_t(share, m->blocks, level, &interval)) {
        m->why = "packets of unknown order in too short a run";
        return;
    }
    m->ground = GROUND_BLOCKS;
    m->low = fmax(0, interval.low);
    m->high = fmin(1, interval.high);
}

static void interval_by_runs(const struct bench *b, struct measures *m) {
    struct loss_interval interval;
    stat_loss_interval(&b->loss_runs, level, &interval);
    static const enum loss_ground grounds[] = {
        [LOSS_UNKNOWN] = GROUND_NONE,
        [LOSS_NONE_LOST] = GROUND_NONE_LOST,
        [LOSS_BOUND_ONLY] = GROUND_BOUND,
        [LOSS_RUNS] = GROUND_RUNS,
    };
    m->ground = grounds[interval.kind];
    m->low = interval.low;
    m->high = interval.high;
    if (m->ground == GROUND_NONE)
        m->why = "nothing arrived";
}

static void judge_loss(const struct bench *b, struct measures *m,
                       const struct steady_block *block) {
    static const char *const methods[] = {
        [GROUND_NONE] = "none",        [GROUND_NONE_LOST] = "none lost",
        [GROUND_BOUND] = "bound only", [GROUND_RUNS] = "loss runs",
        [GROUND_BLOCKS] = "blocks",    [GROUND_NOT_STEADY] = "not steady",
    };
    uint64_t packets = b->packets.got + b->packets.lost;
    m->loss_known = b->packets.counted && packets > 0;
    m->why = m->loss_known ? NULL : "no packet was counted";
    m->loss = m->loss_known ? (double)b->packets.lost / (double)packets : 0;
    if (!m->loss_known)
        m->ground = GROUND_NONE;
    else if (b->packets.lost == 0)
        m->ground = GROUND_NONE_LOST;
    else if (m->steady_known && !m->steady)
        m->ground = GROUND_NOT_STEADY;
    else if (b->runs.lost + b->packets.lost / UNORDERED_PART < b->packets.lost)
        interval_by_blocks(m, block);
    else
        interval_by_runs(b, m);
    if (m->ground == GROUND_NONE_LOST)
        m->high_if_drop_10 = stat_loss_none_bound(packets, 10, level);
    if (m->ground == GROUND_NONE_LOST && m->observed_ms > 0)
        m->drops_a_minute = stat_none_rate_bound(m->observed_ms / 60000.0, level);
    m->method = methods[m->ground];
}

/* With an outage of which nothing is known, the one still open at the end included, it bounds
 * nothing that no packet was told as lost. */
static void doubt_none_lost(const struct bench *b, struct measures *m) {
    if (m->ground != GROUND_NONE_LOST || (b->unsent == 0 && !bench_outage_open(b)))
        return;
    m->ground = GROUND_NONE;
    m->method = "none";
    m->why = "an outage in which no loss was told";
    m->drops_a_minute = m->high_if_drop_10 = 0;
}

static void read_timing(const struct bench *b, struct measures *m) {
    bool known = b->jitter.updates > 0;
    m->jitter_ms = known ? b->jitter.ms : -1;
    m->jitter_peak_ms = known ? b->jitter.peak_ms : -1;
    m->report_intervals = b->regular.intervals;
    m->report_ms = b->regular.intervals > 0 ? b->regular.mean_ms : -1;
    m->report_sd_ms = regular_sd_ms(&b->regular);
    m->report_longest_ms = b->regular.longest_ms;
    m->drift = regular_drift(&b->regular);
}

void bench_measure(const struct bench *b, struct measures *m) {
    struct steady_block block[STEADY_BLOCKS];
    memset(m, 0, sizeof *m);
    judge_steady(b, m, block);
    judge_loss(b, m, block);
    doubt_none_lost(b, m);
    m->runs = b->runs;
    bursts_read(&b->bursts, interval_ms(b), &m->bursts);
    m->gilbert = gilbert_fit(b->runs.from_arrived[0], b->runs.from_arrived[1],
                             b->runs.from_missing[0], b->runs.from_missing[1]);
    m->outages = b->outages;
    read_timing(b, m);
}
