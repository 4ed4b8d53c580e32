#include "stat/chain.h"

#include <math.h>

#include "stat/distribution.h"

static double times_log(uint64_t count, double x) {
    return count == 0 ? 0 : (double)count * log(x);
}

static double times_log1m(uint64_t count, double x) {
    return count == 0 ? 0 : (double)count * log1p(-x);
}

static double log_likelihood(const struct stat_chain *c, double p, double r) {
    return times_log(c->n01, p) + times_log1m(c->n00, p) + times_log(c->n10, r) +
           times_log1m(c->n11, r);
}

static double best_at(const struct stat_chain *c, double log_odds) {
    double odds = exp(log_odds), a = (double)(c->n01 + c->n10);
    double n00 = (double)c->n00, n11 = (double)c->n11;
    double square = odds * (a + n00 + n11), linear = a * (1 + odds) + odds * n00 + n11;
    double r = 2 * a / (linear + sqrt(fmax(0, linear * linear - 4 * square * a)));
    /* Rounding must not carry a chance to 1 where the other outcome was seen. */
    r = fmin(r, fmin(1, 1 / odds));
    return log_likelihood(c, fmin(1, odds * r), r);
}

/* Where the likelihood falls below `least`, between log odds where it does and where it doesn't. */
static double cross(const struct stat_chain *c, double least, double below, double above) {
    for (int i = 0; i < 50; i++) {
        double middle = (below + above) / 2;
        *(best_at(c, middle) < least ? &below : &above) = middle;
    }
    return (below + above) / 2;
}

static double share(double log_odds) {
    return 1 / (1 + exp(-log_odds));
}

struct stat_interval stat_chain_mean(const struct stat_chain *c, double level) {
    static const double farthest = 60; /* log odds */
    struct stat_interval out = {0, 1};
    if (c->n01 + c->n10 == 0)
        return out;
    double p = c->n01 == 0 ? 0 : (double)c->n01 / (double)(c->n01 + c->n00);
    double r = c->n10 == 0 ? 0 : (double)c->n10 / (double)(c->n10 + c->n11);
    double least = log_likelihood(c, p, r) - stat_chi2_quantile(level, 1) / 2;
    double best = fmin(farthest, fmax(-farthest, log(p / r)));
    if (c->n01 > 0)
        out.low = share(cross(c, least, -farthest, best));
    if (c->n10 > 0)
        out.high = share(cross(c, least, farthest, best));
    return out;
}
