#include "stat/loss.h"

#include <math.h>

#include "stat/chain.h"
#include "stat/distribution.h"

static const char *const method_words[] = {
    [LOSS_UNKNOWN] = "unknown",
    [LOSS_NONE_LOST] = "none lost",
    [LOSS_RUNS] = "loss runs",
};

void stat_loss_take(struct loss_runs *r, bool arrived, uint64_t count) {
    if (count == 0)
        return;
    if (r->open == 0 || r->open_arrived != arrived) {
        *(arrived ? &r->gaps : &r->runs) += 1;
        r->begun += !arrived && r->open > 0;
        r->open = 0;
        r->open_arrived = arrived;
    }
    uint64_t squares = count * (2 * r->open + count);
    r->open += count;
    r->packets += count;
    if (arrived)
        return;
    r->run_squares += squares;
    r->lost += count;
    if (r->open > r->run_longest)
        r->run_longest = r->open;
}

void stat_loss_break(struct loss_runs *r) {
    r->open = 0;
}

static double share_of_odds(double odds) {
    return odds / (1 + odds);
}

struct stat_interval stat_weighted_sum(double sum, double squares, double greatest, double level) {
    double side = (1 - level) / 2, more = sum + greatest, top = squares + greatest * greatest;
    return (struct stat_interval){
        squares / (2 * sum) * stat_chi2_quantile(side, 2 * sum * sum / squares),
        top / (2 * more) * stat_chi2_quantile(1 - side, 2 * more * more / top),
    };
}

double stat_loss_drop_bound(double lost, double squares, double arrived, double run_length,
                            double level) {
    if (arrived <= 0)
        return 1;
    return share_of_odds(stat_weighted_sum(lost, squares, run_length, 2 * level - 1).high /
                         arrived);
}

static void find_limits(const struct loss_runs *r, double level, struct loss_interval *out) {
    uint64_t arrived = r->packets - r->lost;
    struct stat_chain chain = {arrived - r->gaps, r->begun, r->runs, r->lost - r->runs};
    struct stat_interval by_chain = stat_chain_mean(&chain, level);
    double lost = (double)r->lost, mean_run = lost / (double)r->runs;
    struct stat_interval sum = stat_weighted_sum(lost, (double)r->run_squares,
                                                 fmax((double)r->run_longest, 2 * mean_run), level);
    out->low = fmin(by_chain.low, share_of_odds(sum.low / (double)arrived));
    out->high = fmax(by_chain.high, share_of_odds(sum.high / (double)arrived));
}

static enum loss_method kind_of(const struct loss_runs *r) {
    if (r->packets == r->lost)
        return LOSS_UNKNOWN;
    return r->runs == 0 ? LOSS_NONE_LOST : LOSS_RUNS;
}

void stat_loss_interval(const struct loss_runs *r, double level, struct loss_interval *out) {
    enum loss_method kind = kind_of(r);
    *out = (struct loss_interval){kind, method_words[kind], 0, 0, 1};
    if (r->packets > 0)
        out->rate = (double)r->lost / (double)r->packets;
    if (kind == LOSS_RUNS)
        find_limits(r, level, out);
}

double stat_loss_none_bound(uint64_t packets, double run_length, double level) {
    if (packets == 0)
        return 1;
    return share_of_odds(run_length * stat_none_rate_bound((double)packets, level));
}
