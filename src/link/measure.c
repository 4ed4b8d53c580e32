#include "link/measure.h"

#include <math.h>
#include <string.h>

#include "link/parts.h"
#include "stat/distribution.h"
#include "stat/proportion.h"
#include "stat/rank.h"

static const double level = 0.95;

enum {
    BLOCKS_LEAST = 8, /* fewer blocks tell no trend */
    RUNS_A_BLOCK = 3, /* on average, so that blocks scatter like a sum and not like single runs */
    UNORDERED_PART = 20, /* more than a twentieth of the losses of unknown order: runs don't tell */
};

/* Packet interval: nominal, else as observed. */
static double interval_ms(const struct bench *b) {
    return b->packets.rate_hz > 0 ? 1000.0 / b->packets.rate_hz : -1;
}

/* What the loss is made of: runs seen one by one, or as the counts scatter. */
struct makeup {
    bool ordered;
    double runs, mean_run; /* fewer than were seen where a few long ones hold most of the loss */
    double squares;        /* sum of squared run lengths */
};

static struct makeup makeup(const struct bench *b) {
    const struct run_lengths *runs = &b->runs.runs;
    double lost = (double)b->packets.lost;
    bool ordered = b->runs.lost + b->packets.lost / UNORDERED_PART >= b->packets.lost;
    if (lost <= 0)
        return (struct makeup){.ordered = true};
    if (ordered) {
        double count = (double)runs->count, squares = (double)runs->squares;
        double equal = 2 * lost * lost / squares; /* as many of a geometric length scatter so */
        return (struct makeup){true, fmin(count, equal), lost / count, squares};
    }
    double clump = stat_counts_clump(&b->counts), mean_run = (clump + 1) / 2;
    return (struct makeup){false, lost / mean_run, mean_run, lost * clump};
}

/* Blocks long enough: 2 s, two and a half mean loss runs, and several runs each. */
static int64_t least_block_ms(const struct bench *b, const struct makeup *of, double time_ms) {
    double packets = (double)(b->packets.got + b->packets.lost), least = STEADY_BLOCK_MS;
    if (of->runs > 0 && packets > 0)
        least = fmax(fmax(least, 2.5 * time_ms / packets * of->mean_run),
                     RUNS_A_BLOCK * time_ms / of->runs);
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

static void judge_steady(const struct bench *b, const struct makeup *of, struct measures *m,
                         struct steady_block *block) {
    static const double trend_level = 0.01, scatter_level = 0.001;
    m->trend_p = m->scatter_p = -1;
    m->observed_ms = b->steady.begin_ms == TIME_UNKNOWN ? -1 : (double)b->steady.observed_ms;
    if (m->observed_ms <= 0 || !bench_loss_known(b))
        return;
    m->blocks =
        steady_blocks(&b->steady, least_block_ms(b, of, m->observed_ms), block, &m->block_ms, NULL);
    m->steady_known = m->blocks >= BLOCKS_LEAST;
    if (!m->steady_known)
        return;
    m->trend_p = trend_p(block, m->blocks);
    m->scatter_p = of->ordered ? scatter_p(b, block, m->blocks) : -1;
    m->steady = m->trend_p >= trend_level && (m->scatter_p < 0 || m->scatter_p >= scatter_level);
}

static void interval_by_runs(const struct bench *b, struct measures *m) {
    struct loss_interval interval;
    stat_loss_interval(&b->loss_runs, level, &interval);
    m->ground = interval.kind == LOSS_RUNS ? GROUND_RUNS : GROUND_NONE;
    m->low = interval.low;
    m->high = interval.high;
}

static void interval_by_counts(const struct bench *b, struct measures *m) {
    struct counts_interval interval;
    if (!stat_counts_interval(&b->counts, level, &interval))
        return;
    m->ground = GROUND_COUNTS;
    m->low = fmin(interval.low, m->loss);
    m->high = fmax(interval.high, m->loss);
}

/* With got / (rate * time) arrived, and a rate that is `error` higher or lower.  Fewer sent than
 * was taken make up for packets that seem lost, more hide some: then none lost isn't known either,
 * unless the rate was measured. */
static void allow_for_rate(const struct bench *b, struct measures *m) {
    struct packets_pace pace = packets_pace(&b->packets);
    m->rate_judged = true;
    m->rate_measured = pace.measured;
    m->rate_error = pace.error;
    if (m->ground == GROUND_NONE_LOST && !pace.measured) {
        m->ground = GROUND_COUNTS;
        m->low = 0;
        m->high = stat_loss_none_bound(b->packets.got, 10, level);
    }
    if (m->ground != GROUND_COUNTS)
        return;
    m->low = fmax(0, 1 - (1 - m->low) / (1 - pace.error));
    m->high = fmin(1, 1 - (1 - m->high) / (1 + pace.error));
}

/* Packets sent in a second; 0 unknown. */
static double packets_a_second(const struct bench *b, const struct measures *m) {
    if (b->packets.rate_hz > 0)
        return b->packets.rate_hz;
    double packets = (double)(b->packets.got + b->packets.lost);
    return m->observed_ms > 0 ? 1000 * packets / m->observed_ms : 0;
}

/* Of few loss runs, as many equal ones as scatter so much, none may have been of the rare long
 * sort: no method knows of a drop that didn't come. */
static double if_drop(const struct bench *b, const struct makeup *of, const struct measures *m) {
    static const double runs_enough = 20;
    double lost = (double)b->packets.lost, second = packets_a_second(b, m);
    if (second <= 0 || lost * lost >= runs_enough * of->squares)
        return -1;
    double high = stat_loss_drop_bound(lost, of->squares, (double)b->packets.got, second, level);
    return high > m->high ? high : -1;
}

static void judge_loss(const struct bench *b, const struct makeup *of, struct measures *m) {
    static const char *const methods[] = {
        [GROUND_NONE] = "none",     [GROUND_NONE_LOST] = "none lost",   [GROUND_RUNS] = "loss runs",
        [GROUND_COUNTS] = "counts", [GROUND_NOT_STEADY] = "not steady",
    };
    uint64_t packets = b->packets.got + b->packets.lost;
    m->loss_known = bench_loss_known(b) && packets > 0;
    m->loss = m->loss_known ? (double)b->packets.lost / (double)packets : 0;
    m->ground = GROUND_NONE;
    m->high_if_drop_1s = -1;
    if (m->loss_known && b->packets.lost == 0)
        m->ground = GROUND_NONE_LOST;
    else if (m->loss_known && m->steady_known && !m->steady)
        m->ground = GROUND_NOT_STEADY;
    else if (m->loss_known && of->ordered)
        interval_by_runs(b, m);
    else if (m->loss_known)
        interval_by_counts(b, m);
    if (m->loss_known && b->packets.evidence == EVIDENCE_RATE)
        allow_for_rate(b, m);
    const char *lack = packets_lack(&b->packets);
    if (m->ground == GROUND_NONE)
        m->why = m->loss_known ? "nothing arrived" : lack ? lack : "no packet was counted";
    if (m->ground == GROUND_RUNS || m->ground == GROUND_COUNTS)
        m->high_if_drop_1s = if_drop(b, of, m);
    if (m->ground == GROUND_NONE_LOST)
        m->high_if_drop_10 = stat_loss_none_bound(packets, 10, level);
    if (m->ground == GROUND_NONE_LOST && m->observed_ms > 0)
        m->drops_a_minute = stat_none_rate_bound(m->observed_ms / 60000.0, level);
    m->method = methods[m->ground];
}

bool bench_loss_limits(const struct bench *b, struct stat_interval *out) {
    struct measures m = {.steady_known = false};
    struct makeup of = makeup(b);
    judge_loss(b, &of, &m);
    *out = (struct stat_interval){m.low, m.high};
    return m.ground == GROUND_RUNS || m.ground == GROUND_COUNTS;
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
    struct makeup of = makeup(b);
    judge_steady(b, &of, m, block);
    judge_loss(b, &of, m);
    m->order_known = of.ordered && b->packets.counted && !m->rate_judged;
    doubt_none_lost(b, m);
    m->runs = b->runs;
    bursts_read(&b->bursts, interval_ms(b), &m->bursts);
    m->gilbert = gilbert_fit(b->runs.from_arrived[0], b->runs.from_arrived[1],
                             b->runs.from_missing[0], b->runs.from_missing[1]);
    m->outages = b->outages;
    read_timing(b, m);
}
