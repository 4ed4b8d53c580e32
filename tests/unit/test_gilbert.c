/* The two-state Markov fit against printed counts, R, and chains whose p and r are known. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
/* cmocka needs the four above first */
#include <cmocka.h>

#include "dice.h"
#include "link/gilbert.h"
#include "link/runs.h"

struct fit_case {
    const char *legend;
    uint64_t n00, n01, n10, n11;
    double p, r, loss, run, correlation, chi2;
};

static const struct fit_case fit_cases[] = {
    /* after Gabriel and Neumann (1962), as printed in a textbook exercise: dry to wet on 117 of 511
     * days, wet to wet on 213 of 326 */
    {"December rain in Tel Aviv", 394, 117, 113, 213, 0.228963, 0.346626, 0.397789, 2.884956,
     0.424411, 150.112263},
    /* chi2: R 4.2.2, chisq.test(m, correct = FALSE) */
    {"0100101011, the example of RFC 3357", 1, 4, 3, 1, 0.8, 0.75, 0.516129, 1.333333, -0.55,
     2.722500},
    {"few losses", 90, 10, 8, 3, 0.1, 0.727273, 0.120879, 1.375, 0.172727, 2.859355},
    {"anticorrelated", 2, 3, 4, 1, 0.6, 0.8, 0.428571, 1.25, -0.4, 1.666667},
    {"long runs", 100000, 50, 51, 4000, 0.000499750, 0.0125895, 0.0381800, 79.431373, 0.986911,
     101417.652476698},
};

static void assert_near(const char *legend, const char *what, double got, double want, double by) {
    if (!(fabs(got - want) <= by))
        fail_msg("%s: %s is %.9g, not %.9g", legend, what, got, want);
}

static void test_fits(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof fit_cases / sizeof fit_cases[0]; i++) {
        const struct fit_case *c = &fit_cases[i];
        struct gilbert g = gilbert_fit(c->n00, c->n01, c->n10, c->n11);
        assert_int_equal(g.lack, GILBERT_FITTED);
        assert_int_equal(g.pairs, c->n00 + c->n01 + c->n10 + c->n11);
        assert_near(c->legend, "p", g.p, c->p, 1e-6);
        assert_near(c->legend, "r", g.r, c->r, 1e-6);
        assert_near(c->legend, "loss", g.loss, c->loss, 1e-6);
        assert_near(c->legend, "run", g.run, c->run, 1e-5);
        assert_true(g.correlation_known);
        assert_near(c->legend, "correlation", g.correlation, c->correlation, 1e-6);
        assert_near(c->legend, "chi2", g.chi2, c->chi2, 1e-3);
    }
}

struct lack_case {
    const char *legend, *sequence; /* o arrived, x missing */
    enum gilbert_lack lack;
    bool p, r, loss, run, correlation, chi2; /* known */
};

static const struct lack_case lack_cases[] = {
    {"no packet", "", GILBERT_NO_PAIRS, 0, 0, 0, 0, 0, 0},
    {"one packet", "x", GILBERT_NO_PAIRS, 0, 0, 0, 0, 0, 0},
    {"all arrived", "oooo", GILBERT_NO_LOSS, 1, 0, 0, 0, 0, 0},
    {"all missing", "xxxx", GILBERT_ALL_LOST, 0, 1, 0, 0, 0, 0},
    {"one loss, at the end", "ooox", GILBERT_ONE_LOSS_AT_END, 1, 0, 0, 0, 0, 0},
    {"one arrived, at the end", "xxxo", GILBERT_ONE_ARRIVED_AT_END, 0, 1, 0, 1, 0, 0},
    {"loss only at the beginning", "xxoo", GILBERT_NO_ONSET, 1, 1, 1, 1, 1, 1},
    {"loss that never ends", "ooxx", GILBERT_NO_RETURN, 1, 1, 1, 0, 1, 1},
    {"both", "oxox", GILBERT_FITTED, 1, 1, 1, 1, 1, 1},
};

static void test_lacks(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof lack_cases / sizeof lack_cases[0]; i++) {
        const struct lack_case *c = &lack_cases[i];
        struct runs r;
        runs_init(&r, NULL, NULL);
        for (const char *s = c->sequence; *s != '\0'; s++)
            runs_outcome(&r, *s == 'o');
        struct gilbert g =
            gilbert_fit(r.from_arrived[0], r.from_arrived[1], r.from_missing[0], r.from_missing[1]);
        if (g.lack != c->lack || (g.p >= 0) != c->p || (g.r >= 0) != c->r ||
            (g.loss >= 0) != c->loss || (g.run >= 0) != c->run ||
            g.correlation_known != c->correlation || (g.chi2 >= 0) != c->chi2)
            fail_msg("%s: lack %d, p %g, r %g, loss %g, run %g, correlation %d, chi2 %g", c->legend,
                     (int)g.lack, g.p, g.r, g.loss, g.run, g.correlation_known, g.chi2);
    }
    assert_true(gilbert_fit(0, 0, 0, 0).p < 0);
    assert_true(gilbert_fit(0, 0, 0, 9).loss < 0); /* both empty ends */
    assert_true(gilbert_fit(5, 0, 0, 5).loss < 0); /* neither state is ever left */
    assert_int_equal(gilbert_fit(5, 0, 0, 5).lack, GILBERT_NO_ONSET);
}

/* Expected counts under 5 are too few for chi2 (common practice, after Cochran 1954). */
static void test_weak(void **state) {
    (void)state;
    assert_false(gilbert_fit(394, 117, 113, 213).chi2_weak);
    assert_true(gilbert_fit(1, 4, 3, 1).chi2_weak);
    assert_true(gilbert_fit(985, 5, 5, 5).chi2_weak);   /* 10 * 10 / 1000 */
    assert_true(gilbert_fit(65, 15, 15, 5).chi2_weak);  /* 20 * 20 / 100 */
    assert_false(gilbert_fit(75, 20, 20, 5).chi2_weak); /* 25 * 25 / 120 */
}

/* Gilbert (1960), no loss in the good state, all lost in the bad one: loss is p / (p + r), a run
 * has k packets with probability r (1 - r)^(k - 1), and neighbours are independent when p + r = 1.
 */
static void test_chains(void **state) {
    (void)state;
    static const double chains[][2] = {{0.02, 0.25}, {0.1, 0.1}, {0.3, 0.7}, {0.001, 0.05}};
    struct dice d = {1960};
    for (size_t i = 0; i < sizeof chains / sizeof chains[0]; i++) {
        double p = chains[i][0], r = chains[i][1];
        struct runs runs;
        bool missing = false;
        runs_init(&runs, NULL, NULL);
        for (int packet = 0; packet < 2000000; packet++) {
            missing = missing ? !dice_chance(&d, r) : dice_chance(&d, p);
            runs_outcome(&runs, !missing);
        }
        struct gilbert g = gilbert_fit(runs.from_arrived[0], runs.from_arrived[1],
                                       runs.from_missing[0], runs.from_missing[1]);
        double n = (double)runs.runs.count;
        /* within four standard errors, those of a binomial share and of a geometric mean */
        double arrived = (double)(runs.packets - runs.lost), lost = (double)runs.lost;
        assert_near("chain", "p", g.p, p, 4 * sqrt(p * (1 - p) / arrived));
        assert_near("chain", "r", g.r, r, 4 * sqrt(r * (1 - r) / lost));
        assert_near("chain", "run", g.run, 1 / r, 4 * sqrt((1 - r) / n) / r);
        assert_near("chain", "loss", g.loss, lost / (double)runs.packets, 1e-5);
        for (unsigned k = 1; k <= 3; k++) { /* bins of one length each */
            double share = r * pow(1 - r, k - 1);
            assert_near("chain", "runs of k", (double)runs.runs.bin[runs_bin(k)] / n, share,
                        4 * sqrt(share * (1 - share) / n));
        }
        if (p + r == 1) {
            assert_near("chain", "correlation", g.correlation, 0, 4 / sqrt(2e6));
            assert_true(g.chi2 < 16); /* one degree of freedom: four standard deviations */
        } else {
            assert_true(g.chi2 > 1000);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_fits),
        cmocka_unit_test(test_lacks),
        cmocka_unit_test(test_weak),
        cmocka_unit_test(test_chains),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
