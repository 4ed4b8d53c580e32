/* How often the interval of the loss holds the true mean loss, on simulated air.
 *
 * usage: loss_coverage [RUNS [KEYS [BURST]]]     400 runs a cell, all sets of keys, all bursts
 *
 * Cells: two states, each left with a constant chance a packet (Gilbert 1960), mean run 1, 3, 10 or
 * 30 packets; and `mixed`, where nine runs in ten are single packets and the tenth has a mean of
 * 30.  Loss 0.5, 2, 10, 30 %; 30, 120, 600 s at 50 packets and 10 reports a second.  The truth is
 * the stationary loss.  Each run is fed to a bench; all count.  A run holds when its interval does;
 * where none was lost, when no more loss runs a minute are true than it says; or when it refuses
 * ("not steady").  `+drop` counts as well whom the second bound holds ("if a drop of 1 s may
 * come"), where that is shown: mixed cells are judged by it.  A cell is LOW below 92 %, by more
 * than two standard errors; REFUSES when of the runs with ten loss runs or more under 95 % have an
 * interval; WIDE when these are more than 1.4 times as wide, median, as the profile likelihood's
 * with each outcome known (plain cells; not where the rate itself is in doubt).
 *
 * What was found: loss_coverage 400 counts, then slots, pat, rate, age; 60 cells each, none low,
 * refusing or wide:
 *
 *   plain cells: the least holds             mean  widest, median
 *   counts  90.0 % (10, 2 %, 30 s)           96.9  1.38, 1.13
 *   slots   90.8 % (10, 0.5 %, 120 s)        96.7  1.38, 1.09
 *   pat     90.5 % (10, 2 %, 30 s)           96.6  1.36, 1.09
 *   rate    97.0 % (30, 10 %, 30 s)          99.7  not judged
 *   age     93.8 % (30, 2 %, 120 s)          97.4  1.38, 1.13
 *
 *   mixed   the interval alone holds, at 0.5, 2, 10, 30 %    least with
 *           30 s            120 s           600 s            the second bound
 *   counts  100  50 89 96    52 84 97 98    85 94 96 98      93.2 % (2 %, 120 s)
 *   slots   100  48 89 94    48 82 94 97    84 96 98 96      92.2 % (2 %, 120 s)
 *   pat     100  49 85 95    51 82 95 97    85 96 96 96      92.0 % (2 %, 120 s)
 *   rate    100 100 92 98   100 100 98 99  100 99 100 99     97.2 % (10 %, 30 s)
 *   age     100  51 86 96    46 83 94 97    90 97 98 98      92.5 % (10 %, 30 s)
 *
 * - Mixed cells that hold by the interval alone: 0.5 and 30 % of 30 s; 10 and 30 % of 120 s; 2,
 *   10 and 30 % of 600 s.  By the second bound, which stands beside it: 2 and 10 % of 30 s; 0.5 and
 *   2 % of 120 s; 0.5 % of 600 s.  Runs of those saw few of the long loss runs: without one they
 *   look like single losses, and no method knows.
 * - An interval is given in 97.8 % of the runs with ten loss runs or more, in the least cell.
 * - The least plain cells expect just three loss runs: 5 % of them see none, and the bound on what
 *   wasn't seen (one-sided, 95 %) misses just there; the interval of the others misses in 4 %. With
 *   4000 runs (loss_coverage 4000 pat 10) these two cells hold in 90.8 and 91.4 %, with the second
 *   bound in 94.0 and 94.7 %; by counts in 90.4 and 91.5, and in 93.8 and 94.3 %.
 * - Widest are single losses at 30 %, whose gaps are more even than a Poisson law's.
 */
#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "link/measure.h"
#include "stat/sample.h"

enum { RATE = 50, A_REPORT = 5, PACKETS_MAX = 600 * RATE, RUNS_MAX = 4000, BURN_IN = 20000 };
enum { RUNS_TEN = 10, CELL_LEAST = 20 };
static const double MARK = 0.92, GIVEN = 0.95, WIDE = 1.4;

/* got and lost, which is counted when the next packet arrives; the same by slots of time, at once;
 * with pat; got alone against a packet rate that is wrong by up to 2 %; the same with age. */
enum keys { KEYS_COUNTS, KEYS_SLOTS, KEYS_PATTERN, KEYS_RATE, KEYS_AGE, KEY_SETS };
static const char *const key_words[] = {"counts", "slots", "pat", "rate", "age"};

/* Runs of 1 are single packets; of MIXED nine in ten are, and the tenth has a mean of LONG. */
enum { MIXED = 0, LONG = 30 };
static const double bursts[] = {1, 3, 10, 30, MIXED};
static const double losses[] = {0.005, 0.02, 0.1, 0.3};
static const int lengths_s[] = {30, 120, 600};
#define COUNT(a) (sizeof(a) / sizeof *(a))

struct cell {
    enum keys keys;
    double burst, loss;
    int seconds;
};

struct record {
    size_t packets;
    uint8_t missing[PACKETS_MAX];
    uint64_t begun, ended, runs, lost; /* of the chain that it is */
};

/* splitmix64 (Steele, Lea and Flood 2014); 0 < u < 1. */
static double chance(uint64_t *state) {
    uint64_t z = *state += 0x9E3779B97F4A7C15u;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    z ^= z >> 31;
    return ((double)(z >> 11) + 0.5) / 9007199254740992.0;
}

static double geometric(uint64_t *state, double mean) {
    return mean <= 1 ? 1 : 1 + floor(log(chance(state)) / log1p(-1 / mean));
}

static double mean_burst(const struct cell *c) {
    return c->burst > 0 ? c->burst : 0.9 + 0.1 * LONG;
}

static double run_length(const struct cell *c, uint64_t *state) {
    if (c->burst > 0)
        return geometric(state, c->burst);
    return chance(state) < 0.9 ? 1 : geometric(state, LONG);
}

/* Begins long before the record, so that it starts anywhere in a run or a gap. */
static void simulate(const struct cell *c, uint64_t *state, struct record *out) {
    double until = -BURN_IN - floor(chance(state) * 1000);
    double gap = mean_burst(c) * (1 - c->loss) / c->loss;
    bool missing = true;
    memset(out, 0, offsetof(struct record, missing));
    out->packets = (size_t)(c->seconds * RATE);
    for (size_t filled = 0; filled < out->packets;) {
        missing = !missing;
        until += missing ? run_length(c, state) : geometric(state, gap);
        if (until <= 0)
            continue;
        size_t end = until < (double)out->packets ? (size_t)until : out->packets;
        memset(out->missing + filled, missing, end - filled);
        filled = end;
    }
    out->begun = out->ended = out->runs = out->lost = 0;
    for (size_t i = 0; i < out->packets; i++) {
        bool now = out->missing[i], before = i > 0 && out->missing[i - 1];
        out->lost += now;
        out->runs += now && !before;
        out->begun += i > 0 && now && !before;
        out->ended += before && !now;
    }
}

/* --- the yardstick: the profile likelihood with each outcome known, by search ------------------
 */

static double term(double count, double x) {
    return count > 0 ? count * log(x) : 0;
}

static double best_at(const struct record *r, double mean) {
    double odds = mean / (1 - mean), low = 0, high = fmin(1, 1 / odds), best = -INFINITY;
    double arrived = (double)(r->packets - r->lost), n00 = arrived - (double)r->ended - 1;
    double n11 = (double)(r->lost - r->runs), n01 = (double)r->begun, n10 = (double)r->ended;
    for (int i = 0; i < 60; i++) {
        double x[2], y[2];
        for (int k = 0; k < 2; k++) {
            x[k] = low + (high - low) * (k + 1) / 3;
            y[k] = term(n01, odds * x[k]) + term(n00, 1 - odds * x[k]) + term(n10, x[k]) +
                   term(n11, 1 - x[k]);
        }
        *(y[0] < y[1] ? &low : &high) = y[0] < y[1] ? x[0] : x[1];
        best = fmax(best, fmax(y[0], y[1]));
    }
    return best;
}

static double yardstick(const struct record *r) {
    double n01 = (double)r->begun, n10 = (double)r->ended;
    double p = n01 / ((double)(r->packets - r->lost)), leave = n10 / (double)r->lost;
    double top = p / (p + leave), least = best_at(r, top) - 1.920729, width = 0;
    for (int side = 0; side < 2; side++) {
        double in = top, out = side == 0 ? 0 : 1;
        for (int i = 0; i < 30; i++) {
            double middle = (in + out) / 2;
            *(best_at(r, middle) < least ? &out : &in) = middle;
        }
        width += fabs(in - top);
    }
    return width;
}

/* --- what the receiver prints --------------------------------------------------------------------
 */

struct board {
    struct bench *bench;
    struct event e;
    uint64_t pat;
    uint32_t pat_len, pending; /* missing packets that wait for the next arrival */
};

static void tell(struct board *b, uint32_t missing, bool arrived) {
    b->e.report.lost += missing;
    b->e.report.got += arrived;
    for (uint32_t i = 0; i < missing + arrived; i++) { /* the newest 64 */
        if (b->pat_len < 64)
            b->pat_len++;
        else
            b->pat >>= 1;
        b->pat |= (uint64_t)(i == missing) << (b->pat_len - 1);
    }
}

static void report(struct board *b, enum keys keys) {
    struct report *p = &b->e.report;
    p->has =
        1u << KEY_N | 1u << KEY_T | 1u << KEY_CH | 1u << KEY_GOT | 1u << KEY_LOST | 1u << KEY_AGE;
    p->n++;
    p->t_ms += 1000 * A_REPORT / RATE;
    p->age_ms = b->pending * 1000 / RATE;
    if (keys == KEYS_PATTERN && b->pat_len > 0)
        p->has |= 1u << KEY_PAT;
    p->pat = b->pat;
    p->pat_len = b->pat_len;
    bench_feed(b->bench, &b->e);
    b->pat = 0;
    b->pat_len = 0;
}

/* Packets leave every 20 ms but for the error of the transmitter's clock; reports come by time. */
static void play_by_time(const struct cell *c, const struct record *r, double error,
                         struct board *b) {
    struct report *p = &b->e.report;
    double report_ms = 100, good_ms = 0;
    for (size_t i = 0; i < r->packets; i++) {
        double sent_ms = (double)(i + 1) * (1000.0 / RATE) * (1 + error);
        for (; report_ms <= sent_ms; report_ms += 100) {
            p->n++;
            p->t_ms = (uint32_t)report_ms;
            p->age_ms = (uint32_t)(report_ms - good_ms);
            p->has = 1u << KEY_N | 1u << KEY_T | 1u << KEY_CH | 1u << KEY_GOT;
            p->has |= c->keys == KEYS_AGE ? 1u << KEY_AGE : 0;
            bench_feed(b->bench, &b->e);
        }
        if (r->missing[i])
            continue;
        p->got++;
        good_ms = sent_ms;
    }
}

/* A packet is counted as lost when the next one arrives, or, by slots, at once. */
static void play(const struct cell *c, const struct record *r, double error, struct measures *m) {
    struct bench_limits limits;
    bench_limits_default(&limits);
    limits.rate_hz = RATE;
    limits.light = true;
    struct board b = {.bench = bench_new(&limits)};
    if (b.bench == NULL)
        exit(1);
    b.e = (struct event){.kind = EVENT_REPORT, .bytes = 100, .host_us = TIME_UNKNOWN};
    b.e.report.ch_count = 1;
    if (c->keys >= KEYS_RATE)
        play_by_time(c, r, error, &b);
    for (size_t i = 0; i < r->packets && c->keys < KEYS_RATE; i++) {
        bool missing = r->missing[i];
        b.pending = missing ? b.pending + 1 : 0;
        if (c->keys == KEYS_SLOTS)
            tell(&b, missing, !missing);
        else if (!missing) {
            uint32_t before = 0;
            while (before < i && r->missing[i - before - 1])
                before++;
            tell(&b, before, true);
        }
        if (i % A_REPORT == A_REPORT - 1)
            report(&b, c->keys);
    }
    bench_measure(b.bench, m);
    bench_free(b.bench);
}

/* --- tallies -------------------------------------------------------------------------------------
 */

struct tally {
    unsigned runs, held, above, below; /* above: the truth lay above */
    unsigned none, none_held;          /* none lost: the bound on drops a minute */
    unsigned refused;                  /* not steady, or nothing arrived */
    unsigned drop, drop_held;          /* with the second bound, "if a drop of 1 s may come" */
    unsigned drop_saved;               /* of these held by the second bound alone */
    unsigned ten, ten_given;           /* ten loss runs or more */
    unsigned widths;
    double width[RUNS_MAX];
};

static void judge_run(const struct cell *c, const struct record *r, const struct measures *m,
                      struct tally *t) {
    double starts = c->loss / mean_burst(c) * RATE * 60; /* runs a minute */
    bool given = m->ground == GROUND_RUNS || m->ground == GROUND_COUNTS;
    t->runs++;
    t->ten += r->runs >= RUNS_TEN;
    t->ten_given += r->runs >= RUNS_TEN && given;
    if (m->ground == GROUND_NONE_LOST) {
        t->none++;
        t->none_held += starts <= m->drops_a_minute;
        return;
    }
    if (!given) {
        t->refused++;
        return;
    }
    bool held = m->low <= c->loss && c->loss <= m->high, drop = m->high_if_drop_1s >= 0;
    t->held += held;
    t->above += c->loss > m->high;
    t->below += c->loss < m->low;
    t->drop += drop;
    t->drop_held += drop && c->loss <= m->high_if_drop_1s;
    t->drop_saved += drop && c->loss > m->high && c->loss <= m->high_if_drop_1s;
    if (r->runs >= RUNS_TEN)
        t->width[t->widths++] = (m->high - m->low) / yardstick(r);
}

/* Of fewer runs than 400 a cell three standard errors: of so many cells one is off by two. */
static double errors_allowed;

static bool is_low(unsigned held, unsigned asked, double mark) {
    double error = sqrt(mark * (1 - mark) / asked);
    return asked > 0 && (double)held / asked < mark - errors_allowed * error;
}

static void burst_word(char out[16], double burst) {
    snprintf(out, 16, burst > 0 ? "%.0f" : "mixed", burst);
}

/* Where runs are mixed, the second bound is the one that must hold, where it is shown. */
static bool put_cell(const struct cell *c, struct tally *t) {
    unsigned good = t->held + t->none_held + t->refused;
    unsigned with_drop = good + t->drop_saved;
    double width = t->widths >= CELL_LEAST
                       ? (stat_sort(t->width, t->widths), stat_quantile(t->width, t->widths, 0.5))
                       : -1;
    bool cover = is_low(c->burst > 0 ? good : with_drop, t->runs, MARK);
    bool given = is_low(t->ten_given, t->ten, GIVEN),
         wide = c->keys < KEYS_RATE && c->burst > 0 && width > WIDE;
    char sort[16];
    burst_word(sort, c->burst);
    printf("%-6s %5s %5.1f %4d  %5.1f %5.1f %5.1f %5.1f  %5.1f %5.1f  %5.1f %5.1f %6.2f%s%s%s\n",
           key_words[c->keys], sort, 100 * c->loss, c->seconds, 100.0 * good / t->runs,
           100.0 * with_drop / t->runs, 100.0 * t->above / t->runs, 100.0 * t->below / t->runs,
           100.0 * t->none / t->runs, 100.0 * t->refused / t->runs, 100.0 * t->drop / t->runs,
           t->ten > 0 ? 100.0 * t->ten_given / t->ten : -1, width, cover ? " LOW" : "",
           given ? " REFUSES" : "", wide ? " WIDE" : "");
    fflush(stdout);
    return !cover && !given && !wide;
}

static bool run_cell(const struct cell *c, unsigned runs, uint64_t seed) {
    static struct record record;
    static struct tally tally;
    struct measures m;
    memset(&tally, 0, sizeof tally);
    for (unsigned i = 0; i < runs; i++) {
        simulate(c, &seed, &record);
        play(c, &record, 0.04 * chance(&seed) - 0.02, &m);
        judge_run(c, &record, &m, &tally);
    }
    return put_cell(c, &tally);
}

static bool wanted(const struct cell *c, int argc, char **argv) {
    char sort[16];
    burst_word(sort, c->burst);
    return (argc < 3 || strcmp(argv[2], key_words[c->keys]) == 0) &&
           (argc < 4 || strcmp(argv[3], sort) == 0);
}

int main(int argc, char **argv) {
    unsigned runs = argc > 1 ? (unsigned)strtoul(argv[1], NULL, 10) : 400, bad = 0;
    uint64_t seed = 1;
    if (runs < 1 || runs > RUNS_MAX) {
        fputs("usage: loss_coverage [RUNS [counts|slots|pat|rate|age [BURST]]]\n", stderr);
        return 2;
    }
    errors_allowed = runs < 400 ? 3 : 2;
    puts("keys    runs  loss    s  holds +drop above below   none refus  drop   10+: given width");
    for (enum keys keys = 0; keys < KEY_SETS; keys++)
        for (size_t b = 0; b < COUNT(bursts); b++)
            for (size_t l = 0; l < COUNT(losses); l++)
                for (size_t s = 0; s < COUNT(lengths_s); s++) {
                    struct cell cell = {keys, bursts[b], losses[l], lengths_s[s]};
                    seed++;
                    bad += wanted(&cell, argc, argv) && !run_cell(&cell, runs, seed << 32);
                }
    printf(bad == 0 ? "as promised\n" : "NOT as promised: %u cells\n", bad);
    return bad != 0;
}
