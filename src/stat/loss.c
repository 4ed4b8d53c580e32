#include "stat/loss.h"

#include <math.h>

#include "stat/distribution.h"

static const char *const method_words[] = {
    [LOSS_UNKNOWN] = "unknown",
    [LOSS_NONE_LOST] = "none lost",
    [LOSS_BOUND_ONLY] = "bound only",
    [LOSS_RUNS] = "loss runs",
};

void stat_loss_take(struct loss_runs *r, bool arrived, uint64_t count) {
    if (count == 0)
        return;
    if (r->open == 0 || r->open_arrived != arrived) {
        *(arrived ? &r->gaps : &r->runs) += 1;
        r->open = 0;
        r->open_arrived = arrived;
    }
    uint64_t squares = count * (2 * r->open + count);
    r->open += count;
    r->packets += count;
    if (arrived) {
        r->gap_squares += squares;
        return;
    }
    r->run_squares += squares;
    r->lost += count;
    if (r->open > r->run_longest)
        r->run_longest = r->open;
}

void stat_loss_break(struct loss_runs *r) {
    r->open = 0;
}

/* Squared coefficient of variation of `count` lengths; 0 where there aren't two. */
static double scatter(uint64_t count, uint64_t total, uint64_t squares) {
    if (count < 2)
        return 0;
    double n = (double)count, mean = (double)total / n;
    return fmax(0, ((double)squares / n - mean * mean) / (mean * mean) * n / (n - 1));
}

/* Of the run lengths: as seen, but no less than that of a geometric length of this mean; and with
 * few runs drawn towards 1, since a handful of equal lengths proves little. */
static double run_scatter(const struct loss_runs *r) {
    double runs = (double)r->runs;
    double geometric = 1 - runs / (double)r->lost;
    double seen = fmax(geometric, scatter(r->runs, r->lost, r->run_squares));
    return seen < 1 ? seen + (1 - seen) / runs : seen;
}

/* The lower limit of a Poisson mean after m events is where m or more have the probability `side`.
 * Who hears of it only when there were ten must ask for P(m or more | ten or more) instead, which
 * makes it 0 at ten.  Between the two stands "eight or more", which kept the promise in each cell
 * of tests/tools/coverage.c: it takes the limit times 0.32 at ten runs, 0.92 at 15, 0.99 at 20. */
static double late_factor(double m, double side) {
    static const double reached = 8;
    double high = stat_gamma_quantile(side, m, 1), full = high, low = 0;
    for (int i = 0; i < 60; i++) {
        double middle = (low + high) / 2;
        bool rarer = stat_gamma_below(middle, m) < side * stat_gamma_below(middle, reached);
        *(rarer ? &low : &high) = middle;
    }
    return (low + high) / 2 / full;
}

static double share_of_odds(double odds) {
    return odds / (1 + odds);
}

static void find_limits(const struct loss_runs *r, double level, struct loss_interval *out) {
    double m = (double)r->runs, side = (1 - level) / 2;
    double odds = (double)r->lost / (double)(r->packets - r->lost);
    double gap = fmax(1, scatter(r->gaps, r->packets - r->lost, r->gap_squares));
    double length_df = 2 * m / run_scatter(r);
    double above = (m + 1) / m * stat_f_quantile(1 - side, 2 * (m + 1) / gap, length_df);
    out->high = share_of_odds(odds * above);
    if (r->runs < LOSS_RUNS_LEAST)
        return;
    double below = stat_f_quantile(side, 2 * m / gap, length_df) * late_factor(m, side);
    out->low = share_of_odds(odds * below);
}

static enum loss_method kind_of(const struct loss_runs *r) {
    if (r->packets == r->lost)
        return LOSS_UNKNOWN;
    if (r->runs == 0)
        return LOSS_NONE_LOST;
    return r->runs < LOSS_RUNS_LEAST ? LOSS_BOUND_ONLY : LOSS_RUNS;
}

void stat_loss_interval(const struct loss_runs *r, double level, struct loss_interval *out) {
    enum loss_method kind = kind_of(r);
    *out = (struct loss_interval){kind, method_words[kind], 0, 0, 1};
    if (r->packets > 0)
        out->rate = (double)r->lost / (double)r->packets;
    if (kind == LOSS_BOUND_ONLY || kind == LOSS_RUNS)
        find_limits(r, level, out);
}

double stat_loss_none_bound(uint64_t packets, double run_length, double level) {
    if (packets == 0)
        return 1;
    return share_of_odds(run_length * stat_none_rate_bound((double)packets, level));
}
