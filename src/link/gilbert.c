#include "link/gilbert.h"

static double share(double part, double other) {
    return part + other > 0 ? part / (part + other) : -1;
}

static enum gilbert_lack find_lack(uint64_t n00, uint64_t n01, uint64_t n10, uint64_t n11) {
    bool from_arrived = n00 + n01 > 0, from_missing = n10 + n11 > 0;
    if (!from_arrived && !from_missing)
        return GILBERT_NO_PAIRS;
    if (!from_missing)
        return n01 == 0 ? GILBERT_NO_LOSS : GILBERT_ONE_LOSS_AT_END;
    if (!from_arrived)
        return n10 == 0 ? GILBERT_ALL_LOST : GILBERT_ONE_ARRIVED_AT_END;
    if (n01 == 0)
        return GILBERT_NO_ONSET;
    return n10 == 0 ? GILBERT_NO_RETURN : GILBERT_FITTED;
}

/* Pearson's statistic of a table of two by two; unknown where a row or a column is empty. */
static void test_independence(struct gilbert *g, double a, double b, double c, double d) {
    double rows[2] = {a + b, c + d}, columns[2] = {a + c, b + d}, all = a + b + c + d;
    if (rows[0] <= 0 || rows[1] <= 0 || columns[0] <= 0 || columns[1] <= 0)
        return;
    double cross = a * d - b * c;
    g->chi2 = cross / rows[0] * (cross / rows[1]) * all / columns[0] / columns[1];
    double row = rows[0] < rows[1] ? rows[0] : rows[1];
    double column = columns[0] < columns[1] ? columns[0] : columns[1];
    g->chi2_weak = row * column / all < 5;
}

struct gilbert gilbert_fit(uint64_t n00, uint64_t n01, uint64_t n10, uint64_t n11) {
    struct gilbert g = {
        .lack = find_lack(n00, n01, n10, n11),
        .pairs = n00 + n01 + n10 + n11,
        .p = share((double)n01, (double)n00),
        .r = share((double)n10, (double)n11),
        .loss = -1,
        .run = -1,
        .chi2 = -1,
    };
    if (g.r > 0)
        g.run = 1 / g.r;
    if (g.p >= 0 && g.r >= 0) {
        g.correlation_known = true;
        g.correlation = 1 - g.p - g.r;
        if (g.p + g.r > 0)
            g.loss = g.p / (g.p + g.r);
    }
    test_independence(&g, (double)n00, (double)n01, (double)n10, (double)n11);
    return g;
}
