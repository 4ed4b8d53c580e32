/* The table's first cell, its margins given, has the (non-central) hypergeometric distribution:
 * P(k) is in proportion to weight(k) * odds^k. */
#include <math.h>

#include "stat/proportion.h"

struct cell {
    double row1, row2, col1; /* row and column sums */
    double least, most, at;  /* of the first cell: what the margins allow, and what it holds */
};

struct shares {
    double below, at, above; /* probabilities about the cell's value */
    double mean;
};

static double log_weight(const struct cell *c, double k) {
    return -(lgamma(k + 1) + lgamma(c->row1 - k + 1) + lgamma(c->col1 - k + 1) +
             lgamma(c->row2 - c->col1 + k + 1));
}

static struct cell describe(uint64_t a, uint64_t b, uint64_t c, uint64_t d) {
    double row1 = (double)(a + b), row2 = (double)(c + d), col1 = (double)(a + c);
    struct cell cell = {
        row1, row2, col1, col1 > row2 ? col1 - row2 : 0, row1 < col1 ? row1 : col1, (double)a};
    return cell;
}

static struct shares share(const struct cell *c, double log_odds) {
    struct shares s = {0, 0, 0, 0};
    double peak = -INFINITY, mean = 0;
    for (double k = c->least; k <= c->most; k++)
        peak = fmax(peak, log_weight(c, k) + k * log_odds);
    for (double k = c->least; k <= c->most; k++) {
        double part = exp(log_weight(c, k) + k * log_odds - peak);
        *(k < c->at ? &s.below : k > c->at ? &s.above : &s.at) += part;
        mean += k * part;
    }
    double sum = s.below + s.at + s.above;
    s.below /= sum;
    s.at /= sum;
    s.above /= sum;
    s.mean = mean / sum;
    return s;
}

/* As R: probabilities within 1e-7 of the observed one count as equal to it. */
static double as_rare(const struct cell *c) {
    double limit = log_weight(c, c->at) + log1p(1e-7), peak = -INFINITY, rare = 0, sum = 0;
    for (double k = c->least; k <= c->most; k++)
        peak = fmax(peak, log_weight(c, k));
    for (double k = c->least; k <= c->most; k++) {
        double weight = log_weight(c, k), part = exp(weight - peak);
        sum += part;
        rare += weight <= limit ? part : 0;
    }
    return rare / sum;
}

enum sought { SOUGHT_MEAN, SOUGHT_LOW, SOUGHT_HIGH };

/* The odds at which the cell's value is the mean, or at which it, or one further out, has the
 * probability `side`; all three grow or fall evenly with the odds. */
static double solve(const struct cell *c, enum sought sought, double side) {
    double low = -200, high = 200;
    for (int i = 0; i < 100 && high - low > 1e-13; i++) {
        double middle = (low + high) / 2;
        struct shares s = share(c, middle);
        bool more = sought == SOUGHT_MEAN  ? s.mean < c->at
                    : sought == SOUGHT_LOW ? s.at + s.above < side
                                           : s.at + s.below > side;
        *(more ? &low : &high) = middle;
    }
    return exp((low + high) / 2);
}

static void find_odds(const struct cell *c, double level, struct stat_fisher *out) {
    double side = (1 - level) / 2;
    bool at_least = c->at <= c->least, at_most = c->at >= c->most;
    out->odds_conditional = at_least ? 0 : at_most ? INFINITY : solve(c, SOUGHT_MEAN, 0);
    out->odds.low = at_least ? 0 : solve(c, SOUGHT_LOW, side);
    out->odds.high = at_most ? INFINITY : solve(c, SOUGHT_HIGH, side);
}

bool stat_fisher(uint64_t a, uint64_t b, uint64_t c, uint64_t d, double level,
                 struct stat_fisher *out) {
    if (a + b + c + d == 0)
        return false;
    struct cell cell = describe(a, b, c, d);
    struct shares s = share(&cell, 0);
    *out = (struct stat_fisher){0};
    out->greater = s.at + s.above;
    out->less = s.at + s.below;
    out->two_sided = as_rare(&cell);
    out->odds_known = a + b > 0 && c + d > 0 && a + c > 0 && b + d > 0;
    if (!out->odds_known)
        return true;
    double against = (double)b * (double)c;
    out->odds_sample = against > 0 ? (double)a * (double)d / against : INFINITY;
    find_odds(&cell, level, out);
    return true;
}
