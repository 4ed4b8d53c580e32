/* Statistics against printed tables and reference programs.  Where a value isn't printed in its
 * source, it was computed with R 4.2.2 or SciPy 1.10.1 ("R", "SciPy" in the legends);
 * tests/outside/ stat.py and stat.R compute many of them anew. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "dice.h"
#include "stat/block.h"
#include "stat/distribution.h"
#include "stat/loss.h"
#include "stat/proportion.h"
#include "stat/rank.h"
#include "stat/sample.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))

static void near(const char *legend, double got, double expected, double tolerance) {
    if (!(fabs(got - expected) <= tolerance))
        fail_msg("%s: got %.15g, expected %.15g", legend, got, expected);
}

static void exactly(const char *legend, double got, double expected) {
    if (memcmp(&got, &expected, sizeof got) != 0)
        fail_msg("%s: got %.17g, expected %.17g exactly", legend, got, expected);
}

static void between(const char *legend, struct stat_interval got, double low, double high,
                    double tolerance) {
    near(legend, got.low, low, tolerance);
    near(legend, got.high, high, tolerance);
}

/* R datasets::Nile, yearly flow of the Nile at Aswan 1871-1970 (Cobb 1978; Durbin and Koopman
 * 2001), and datasets::morley$Speed, Michelson's speed of light in km/s less 299000 (NIST StRD
 * univariate "Michelson"). */
static const double nile[] = {
    1120, 1160, 963, 1210, 1160, 1160, 813,  1230, 1370, 1140, 995,  935,  1110, 994,  1020,
    960,  1180, 799, 958,  1140, 1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774,  840,
    874,  694,  940, 833,  701,  916,  692,  1020, 1050, 969,  831,  726,  456,  824,  702,
    1120, 1100, 832, 764,  821,  768,  845,  864,  862,  698,  845,  744,  796,  1040, 759,
    781,  865,  845, 944,  984,  897,  822,  1010, 771,  676,  649,  846,  812,  742,  801,
    1040, 860,  874, 848,  890,  744,  749,  838,  1050, 918,  986,  797,  923,  975,  815,
    1020, 906,  901, 1170, 912,  746,  919,  718,  714,  740};
static const double michelson[] = {
    850,  740, 900, 1070, 930, 850, 950, 980, 980, 880, 1000, 980, 930, 650, 760, 810, 1000,
    1000, 960, 960, 960,  940, 960, 940, 880, 800, 850, 880,  900, 840, 830, 790, 810, 880,
    880,  830, 800, 790,  760, 800, 880, 880, 880, 860, 720,  720, 620, 860, 970, 950, 880,
    910,  850, 870, 840,  840, 850, 840, 840, 840, 890, 810,  810, 820, 800, 770, 760, 740,
    750,  760, 910, 920,  890, 860, 880, 720, 840, 850, 850,  780, 890, 840, 780, 810, 760,
    810,  790, 810, 820,  850, 870, 870, 810, 740, 810, 940,  950, 800, 810, 870};

/* Wilson and Clopper-Pearson: Newcombe 1998, Stat. Med. 17:857-872, table I, methods 3 and 5, which
 * prints four digits of the first five; six digits from R. */
static void encloses_proportions(void **state) {
    static const struct {
        const char *legend;
        uint64_t x, n;
        double wilson[2], exact[2];
    } cases[] = {
        {"C1", 81, 263, {0.255289, 0.366210}, {0.252737, 0.367622}},
        {"C2", 15, 148, {0.062386, 0.160487}, {0.057844, 0.161650}},
        {"C3: none", 0, 20, {0.000000, 0.161125}, {0.000000, 0.168433}},
        {"C4: all", 20, 20, {0.838875, 1.000000}, {0.831567, 1.000000}},
        {"C5", 5, 10, {0.236593, 0.763407}, {0.187086, 0.812914}},
        {"C6", 1, 10, {0.017876, 0.404150}, {0.002529, 0.445016}},
        {"C7: here Wilson is the wider one", 0, 1000, {0, 0.003827}, {0, 0.003682}},
        {"C8", 50, 1000, {0.038130, 0.065314}, {0.037335, 0.065390}},
        {"C9", 9999, 10000, {0.999434, 0.999982}, {0.999443, 0.999997}},
    };
    (void)state;
    for (size_t i = 0; i < COUNT(cases); i++) {
        struct stat_interval w = stat_wilson(cases[i].x, cases[i].n, 0.95);
        struct stat_interval e = stat_clopper_pearson(cases[i].x, cases[i].n, 0.95);
        between(cases[i].legend, w, cases[i].wilson[0], cases[i].wilson[1], 1e-6);
        between(cases[i].legend, e, cases[i].exact[0], cases[i].exact[1], 1e-6);
        if (cases[i].x == 0) {
            exactly(cases[i].legend, w.low, 0);
            exactly(cases[i].legend, e.low, 0);
        }
        if (cases[i].x == cases[i].n) {
            exactly(cases[i].legend, w.high, 1);
            exactly(cases[i].legend, e.high, 1);
        }
    }
    between("nothing tried", stat_wilson(0, 0, 0.95), 0, 1, 0);
    between("nothing tried", stat_clopper_pearson(0, 0, 0.95), 0, 1, 0);
}

/* Large counts, where the library's own inverse has no answer (R binom.test). */
static void encloses_large_counts(void **state) {
    (void)state;
    between("1 of 1e6", stat_clopper_pearson(1, 1000000, 0.95), 2.53178076638e-8, 5.57163065517e-6,
            1e-14);
    between("1e6 of 2e6", stat_clopper_pearson(1000000, 2000000, 0.95), 0.499306798508,
            0.500693201492, 1e-11);
    near("symmetric", stat_beta_quantile(0.5, 1000000, 1000000), 0.5, 1e-12);
}

/* None in n: the root of (1-p)^n = 0.05; the rule of three is Hanley and Lippman-Hand 1983. */
static void bounds_what_never_happened(void **state) {
    static const struct {
        uint64_t n;
        double bound, three;
    } cases[] = {{20, 0.139108, 0.15}, {100, 0.0295130, 0.03}, {1000, 0.00299125, 0.003}};
    (void)state;
    for (size_t i = 0; i < COUNT(cases); i++) {
        near("C10", stat_none_bound(cases[i].n, 0.95), cases[i].bound, 5e-7);
        near("rule of three", stat_none_bound(cases[i].n, 0.95), cases[i].three,
             cases[i].three * 0.08);
    }
    near("nothing tried", stat_none_bound(0, 0.95), 1, 0);
    near("no drop in 2 minutes: -ln(0.05)/2 a minute", stat_none_rate_bound(2, 0.95),
         1.4978661367769954, 1e-12);
    assert_true(isinf(stat_none_rate_bound(0, 0.95)));
}

/* Poisson counts: Garwood 1936, table (as printed in Johnson, Kemp and Kotz): 0 and 10 events. */
static void encloses_counts(void **state) {
    (void)state;
    between("none", stat_poisson_interval(0, 0.95), 0, 3.689, 5e-4);
    between("ten", stat_poisson_interval(10, 0.95), 4.795, 18.390, 5e-4);
}

/* C11: Mendel's peas, Conover 1971, in R's help of binom.test; the others by R and SciPy. */
static void tests_one_proportion(void **state) {
    (void)state;
    between("C11", stat_clopper_pearson(682, 925, 0.95), 0.7076683, 0.7654066, 1e-7);
    near("C11", stat_binomial_test(682, 925, 0.75), 0.3825, 5e-5);
    near("3 of 10 at 0.5: 352/1024", stat_binomial_test(3, 10, 0.5), 0.34375, 1e-12);
    near("as expected", stat_binomial_test(5, 10, 0.5), 1, 0);
    near("0 of 10 at 0.3: (0.7)^10 + P(7 or more)", stat_binomial_test(0, 10, 0.3), 0.0388396035,
         1e-9);
    near("impossible", stat_binomial_test(1, 10, 0), 0, 0);
    near("certain", stat_binomial_test(10, 10, 1), 1, 0);
}

/* Newcombe 1998, Stat. Med. 17:873-890, table II, method 10; six digits from R. */
static void tests_differences(void **state) {
    static const struct {
        const char *legend;
        uint64_t x1, n1, x2, n2;
        double low, high, printed_low, printed_high;
    } cases[] = {
        {"C12 (a)", 56, 70, 48, 80, 0.052431, 0.333873, 0.0524, 0.3339},
        {"C13 (b)", 9, 10, 3, 10, 0.170523, 0.809018, 0.1705, 0.8090},
        {"C14 (e)", 0, 10, 0, 20, -0.161125, 0.277533, -0.1611, 0.2775},
        {"C15 (h)", 10, 10, 0, 10, 0.607509, 1.000000, 0.6075, 1.0000},
    };
    double z = 7, p = 7;
    (void)state;
    for (size_t i = 0; i < COUNT(cases); i++) {
        struct stat_interval d =
            stat_newcombe(cases[i].x1, cases[i].n1, cases[i].x2, cases[i].n2, 0.95);
        between(cases[i].legend, d, cases[i].low, cases[i].high, 1e-6);
        between(cases[i].legend, d, cases[i].printed_low, cases[i].printed_high, 5.1e-5);
    }
    assert_false(stat_pooled_z(0, 10, 0, 20, &z, &p)); /* C14: no z, and none is made up */
    assert_false(stat_pooled_z(10, 10, 20, 20, &z, &p));
    assert_false(stat_pooled_z(0, 0, 3, 20, &z, &p));
    exactly("untouched", z, 7);
    exactly("untouched", p, 7);
    assert_true(stat_pooled_z(56, 70, 48, 80, &z, &p));
    near("C12", z, 2.650172, 1e-6);
    near("C12", p, 0.008045, 1e-6);
    near("C16: R prop.test without correction, X-squared", z * z, 7.023411, 1e-6);
}

/* Four cups of each sort, four named: the chance of so many right ones at odds o, written out. */
static double tea_all(double o) {
    return pow(o, 4) / (1 + 16 * o + 36 * o * o + 16 * pow(o, 3) + pow(o, 4));
}

static double tea_at_least_three(double o) {
    return tea_all(o) * (1 + 16 / o);
}

/* Fisher 1935, the lady tasting tea, and the convictions of twins, both in R's help of fisher.test;
 * the odds ratio that R prints is the conditional one. */
static void tests_tables(void **state) {
    struct stat_fisher f;
    (void)state;
    assert_true(stat_fisher(3, 1, 1, 3, 0.95, &f));
    near("C17: 17/70", f.greater, 17.0 / 70, 1e-12);
    near("C17: 34/70", f.two_sided, 34.0 / 70, 1e-12);
    near("C17: 69/70", f.less, 69.0 / 70, 1e-12);
    near("C20: of the sample", f.odds_sample, 9, 1e-12);
    near("C20: conditional; R's search stops at", f.odds_conditional, 6.408309, 2e-5);
    double o = f.odds_conditional; /* the mean is 3 where this polynomial is 0 (by hand) */
    near("C20: conditional", o * o * o * o - 36 * o * o - 32 * o - 3, 0, 1e-8);
    near("C20: as near as R's search", f.odds.low, 0.2117329, 5e-6);
    near("C20: R's search stops 0.7 % short", f.odds.high, 621.9338, 4.4);
    near("C20: P(3 or more)", tea_at_least_three(f.odds.low), 0.025, 1e-12);
    near("C20: P(3 or fewer)", 1 - tea_all(f.odds.high), 0.025, 1e-12);
    assert_true(stat_fisher(3, 1, 1, 3, 0.90, &f)); /* one-sided 95 % is one end of 90 % */
    near("C20: one-sided", f.odds.low, 0.3135693, 5e-6);
    near("C20: one-sided", tea_at_least_three(f.odds.low), 0.05, 1e-12);
    assert_true(stat_fisher(4, 0, 0, 4, 0.95, &f));
    near("C18: 1/70", f.greater, 1.0 / 70, 1e-12);
    assert_true(isinf(f.odds_sample) && isinf(f.odds_conditional) && isinf(f.odds.high));
    assert_true(stat_fisher(10, 2, 3, 15, 0.95, &f));
    near("C19", f.two_sided, 0.0005367241, 1e-10);
    assert_true(stat_fisher(9, 1, 3, 7, 0.95, &f));
    near("C13", f.two_sided, 0.0197666, 1e-7);
    assert_true(stat_fisher(0, 5, 0, 7, 0.95, &f)); /* a column without anything */
    assert_false(f.odds_known);
    near("nothing to tell", f.two_sided, 1, 1e-12);
    assert_false(stat_fisher(0, 0, 0, 0, 0.95, &f));
}

/* K1, K2: Hyndman and Fan 1996, definition 7; values from R quantile(). */
static void finds_quantiles(void **state) {
    static const double five[] = {1, 2, 3, 4, 10}, eight[] = {2, 4, 4, 5, 7, 9, 10, 12};
    static const struct {
        const double *values;
        size_t count;
        double p, expected;
    } cases[] = {
        {five, 5, .05, 1.2}, {five, 5, .1, 1.4}, {five, 5, .25, 2},    {five, 5, .5, 3},
        {five, 5, .75, 4},   {five, 5, .9, 7.6}, {five, 5, .95, 8.8},  {five, 5, .99, 9.76},
        {five, 5, 0, 1},     {five, 5, 1, 10},   {five, 1, .5, 1},     {eight, 8, .1, 3.4},
        {eight, 8, .25, 4},  {eight, 8, .5, 6},  {eight, 8, .9, 10.6}, {eight, 8, .95, 11.3},
    };
    (void)state;
    for (size_t i = 0; i < COUNT(cases); i++)
        near("K1, K2", stat_quantile(cases[i].values, cases[i].count, cases[i].p),
             cases[i].expected, 1e-12);
}

static void sorts(void **state) {
    double values[COUNT(nile)];
    (void)state;
    for (size_t count = 0; count <= COUNT(nile); count++) {
        double before = 0, after = 0;
        memcpy(values, nile, sizeof values);
        stat_sort(values, count);
        for (size_t i = 0; i < count; i++) {
            before += nile[i];
            after += values[i];
            assert_true(i == 0 || values[i - 1] <= values[i]);
        }
        exactly("whole numbers: the same ones", after, before);
    }
}

static struct stat_moments alternate(double first, double low, double high, int pairs) {
    struct stat_moments m = {0, 0, 0};
    stat_moments_add(&m, first);
    for (int i = 0; i < pairs; i++) {
        stat_moments_add(&m, low);
        stat_moments_add(&m, high);
    }
    return m;
}

/* NIST StRD, univariate: NumAcc1, NumAcc3, NumAcc4, Michelson, with their certified values. */
static void keeps_small_spread_on_large_mean(void **state) {
    struct stat_moments m = alternate(10000001, 10000003, 10000002, 1);
    double sd, r1, speed[COUNT(michelson)];
    (void)state;
    assert_true(stat_moments_sd(&m, &sd));
    near("K3 NumAcc1", m.mean, 10000002, 1e-12);
    near("K3 NumAcc1", sd, 1, 1e-12);
    m = alternate(1000000.2, 1000000.1, 1000000.3, 500);
    assert_true(stat_moments_sd(&m, &sd));
    assert_int_equal(m.count, 1001);
    near("K4 NumAcc3", m.mean, 1000000.2, 1e-9);
    near("K4 NumAcc3", sd, 0.1, 1e-9);
    m = alternate(10000000.2, 10000000.1, 10000000.3, 500);
    assert_true(stat_moments_sd(&m, &sd));
    near("K5 NumAcc4", m.mean, 10000000.2, 1e-8);
    near("K5 NumAcc4", sd, 0.1, 1e-8);
    m = (struct stat_moments){0, 0, 0};
    for (size_t i = 0; i < COUNT(michelson); i++) {
        speed[i] = michelson[i] / 1000 + 299;
        stat_moments_add(&m, speed[i]);
    }
    assert_true(stat_moments_sd(&m, &sd));
    near("K6 Michelson", m.mean, 299.852400000000, 1e-10);
    near("K6 Michelson", sd, 0.0790105478190518, 1e-10);
    assert_true(stat_lag1(speed, COUNT(speed), &r1));
    near("K6 Michelson, r1 over the full sum of squares", r1, 0.535199668621283, 1e-10);
    assert_false(stat_lag1(speed, 1, &r1));
}

static void joins_moments(void **state) {
    struct stat_moments all = {0, 0, 0}, parts[3] = {{0, 0, 0}}, joined = {0, 0, 0};
    double sd;
    (void)state;
    assert_false(stat_moments_sd(&all, &sd));
    for (size_t i = 0; i < COUNT(nile); i++) {
        stat_moments_add(&all, nile[i]);
        stat_moments_add(&parts[i < 7 ? 0 : 2], nile[i]); /* the middle part stays empty */
    }
    for (size_t i = 0; i < COUNT(parts); i++)
        stat_moments_join(&joined, &parts[i]);
    assert_int_equal(joined.count, all.count);
    near("mean", joined.mean, all.mean, 1e-10);
    near("squares", joined.squares, all.squares, 1e-6);
}

/* K7: Mann 1945, Kendall 1975; computed in R (cor.test(method = "kendall") gives z without the
 * continuity correction, -4.131045). */
static void finds_trends(void **state) {
    static const double flat[] = {3, 3, 3, 3}, ramp[] = {1, 2, 3, 4, 5};
    double work[COUNT(nile) * (COUNT(nile) - 1) / 2];
    struct stat_trend t;
    (void)state;
    assert_true(stat_trend(nile, COUNT(nile), work, COUNT(work), &t));
    assert_int_equal(t.s, -1387);
    near("K7", t.variance, 112728.333, 1e-3);
    near("K7", t.z, -4.128067, 1e-6);
    near("K7", (double)t.s / sqrt(t.variance), -4.131045, 1e-6);
    near("K7", t.tau_b, -0.280741, 1e-6);
    assert_true(t.slope_known);
    near("K7", t.slope, -2.6, 1e-12);
    assert_true(stat_trend(nile, COUNT(nile), work, COUNT(nile), &t));
    assert_false(t.slope_known);
    assert_false(stat_trend(nile, COUNT(nile), work, COUNT(nile) - 1, &t));
    assert_false(stat_trend(flat, COUNT(flat), work, COUNT(work), &t));
    assert_false(stat_trend(ramp, 2, work, COUNT(work), &t));
    assert_true(stat_trend(ramp, COUNT(ramp), work, COUNT(work), &t));
    near("all rise: tau 1", t.tau_b, 1, 1e-12);
    near("one a step", t.slope, 1, 0);
}

/* K8: Wald and Wolfowitz 1940, mean 2 n1 n2/N + 1. */
static void counts_runs(void **state) {
    struct stat_runs r;
    (void)state;
    assert_true(stat_runs_test(11, 8, 5, &r));
    near("K8", r.mean, 10.263158, 1e-6);
    near("K8", r.variance, 4.252385, 1e-6);
    near("K8", r.z, -2.552290, 1e-6);
    near("K8: two-sided p of that z (R)", r.p, 0.01070174, 2e-8);
    assert_false(stat_runs_test(5, 0, 1, &r));
    assert_false(stat_runs_test(1, 1, 2, &r));
}

/* K9: circular blocks, Politis and Romano 1992; K10: moving blocks, Kuensch 1989.  R. */
static void resamples_blocks(void **state) {
    struct stat_block b;
    struct stat_interval t;
    (void)state;
    assert_true(stat_block_circular(nile, COUNT(nile), 5, &b));
    assert_int_equal(b.blocks, 100);
    near("K9", b.centre, 919.35, 1e-9);
    near("K9", sqrt(b.variance), 26.718104, 1e-6);
    assert_true(stat_block_circular(nile, COUNT(nile), 1, &b));
    near("K9: independent", sqrt(b.variance), 16.837924, 1e-6);
    assert_true(stat_block_moving(nile, COUNT(nile), 5, &b));
    assert_int_equal(b.blocks, 96);
    near("K10", b.centre, 919.004167, 1e-6);
    near("K10", sqrt(b.variance), 27.063678, 1e-6);
    assert_false(stat_block_circular(nile, COUNT(nile), 0, &b));
    assert_false(stat_block_moving(nile, COUNT(nile), COUNT(nile) + 1, &b));
    assert_true(stat_block_mean_t(nile, COUNT(nile), 0.95, &t));
    near("K9: s/sqrt(n) = 16.922750 times t of 99 degrees, 1.984217 (R t.test)",
         (t.high - t.low) / 2, 16.922750 * 1.9842169515864, 1e-5);
    assert_false(stat_block_mean_t(nile, 1, 0.95, &t));
}

/* K11: Hollander and Wolfe, permeability constants, in R's help of wilcox.test. */
static void compares_ranks(void **state) {
    static const double x[] = {.80, .83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, .73, 1.46};
    static const double y[] = {1.15, .88, .90, .74, 1.21};
    static const double tied_x[] = {1, 2, 2, 3, 5}, tied_y[] = {2, 4, 4, 6, 7, 8};
    static const double large[] = {1, 2, 3}, small[] = {4, 5, 6};
    double work[64];
    struct stat_rank_sum r;
    (void)state;
    assert_true(stat_rank_sum_work(COUNT(x), COUNT(y)) <= COUNT(work));
    assert_true(stat_rank_sum(x, COUNT(x), y, COUNT(y), work, &r));
    assert_true(r.exact);
    near("K11", r.w, 35, 0);
    near("K11", r.greater, 0.1272061, 1e-7);
    near("K11: twice the smaller side", r.two_sided, 2 * 0.1272061, 2e-7);
    assert_true(stat_rank_sum(large, 3, small, 3, work, &r));
    near("all below: 1 of 20 orders", r.less, 0.05, 1e-15);
    near("all below", r.greater, 1, 1e-15);
    assert_true(stat_rank_sum(tied_x, COUNT(tied_x), tied_y, COUNT(tied_y), work, &r));
    assert_false(r.exact);
    near("ties: W (R)", r.w, 5, 0);
    near("ties: R wilcox.test(exact = FALSE)", r.two_sided, 0.0793436831977, 1e-12);
    assert_false(stat_rank_sum(x, 0, y, COUNT(y), work, &r));
    assert_false(stat_rank_sum(tied_x + 1, 1, tied_x + 2, 1, work, &r)); /* 2 and 2 */
}

/* K12: printed tables (Fisher and Yates; Abramowitz and Stegun 26), ten digits from R. */
static void finds_table_quantiles(void **state) {
    (void)state;
    near("z .90", stat_normal_quantile(.90), 1.281551566, 1e-8);
    near("z .95", stat_normal_quantile(.95), 1.644853627, 1e-8);
    near("z .975", stat_normal_quantile(.975), 1.959963985, 1e-8);
    near("z .995", stat_normal_quantile(.995), 2.575829304, 1e-8);
    near("t 1", stat_t_quantile(.975, 1), 12.70620474, 1e-8);
    near("t 2", stat_t_quantile(.975, 2), 4.302652730, 1e-8);
    near("t 4", stat_t_quantile(.975, 4), 2.776445105, 1e-8);
    near("t 9", stat_t_quantile(.975, 9), 2.262157163, 1e-8);
    near("t 30", stat_t_quantile(.975, 30), 2.042272456, 1e-8);
    near("t is symmetric", stat_t_quantile(.025, 30), -2.042272456, 1e-8);
    near("chi-squared 1", stat_chi2_quantile(.95, 1), 3.841458821, 1e-8);
    near("chi-squared 2", stat_chi2_quantile(.95, 2), 5.991464547, 1e-8);
    near("I_.3(2, 5)", stat_beta_below(.3, 2, 5), 0.579825, 1e-8);
    near("beta", stat_beta_quantile(.025, 5, 10), 0.1275984299, 1e-8);
    near("F: the square of t", stat_f_quantile(.95, 1, 30), 2.042272456 * 2.042272456, 1e-7);
    near("gamma: half of chi-squared", stat_gamma_quantile(.95, 1, 1), 5.991464547 / 2, 1e-8);
}

/* Tails turn quantiles back; what is out of range is no number, and nothing aborts. */
static void tails_invert_quantiles(void **state) {
    static const double ps[] = {1e-6, 0.025, 0.5, 0.9, 0.975, 1 - 1e-6};
    (void)state;
    for (size_t i = 0; i < COUNT(ps); i++) {
        double q = 1 - ps[i];
        near("normal", stat_normal_tail(stat_normal_quantile(ps[i])), q, 1e-12);
        near("t", stat_t_tail(stat_t_quantile(ps[i], 7), 7), q, 1e-12);
        near("chi2", stat_chi2_tail(stat_chi2_quantile(ps[i], 3.5), 3.5), q, 1e-12);
        near("F", stat_f_tail(stat_f_quantile(ps[i], 20, 8.5), 20, 8.5), q, 1e-12);
        near("F, large", stat_f_tail(stat_f_quantile(ps[i], 1e6, 3e5), 1e6, 3e5), q, 1e-10);
        near("beta", stat_beta_below(stat_beta_quantile(ps[i], 3, 9), 3, 9), ps[i], 1e-12);
        near("beta, large", stat_beta_below(stat_beta_quantile(ps[i], 3e4, 9e5), 3e4, 9e5), ps[i],
             1e-10);
        near("gamma", stat_gamma_below(stat_gamma_quantile(ps[i], 12, 1), 12), ps[i], 1e-12);
    }
    assert_true(isnan(stat_normal_quantile(1.5)) && isnan(stat_normal_quantile(-0.5)));
    assert_true(isnan(stat_t_quantile(0.5, 0)) && isnan(stat_t_tail(1, -1)));
    assert_true(isnan(stat_chi2_quantile(NAN, 2)) && isnan(stat_chi2_tail(1, 0)));
    assert_true(isnan(stat_f_quantile(0.5, 0, 1)) && isnan(stat_beta_quantile(0.5, -1, 1)));
    assert_true(isnan(stat_gamma_quantile(2, 1, 1)) && isnan(stat_gamma_below(1, 0)));
    exactly("nothing", stat_chi2_quantile(0.9, 0), 0);
    exactly("the ends", stat_beta_quantile(0, 2, 3), 0);
    exactly("the ends", stat_beta_quantile(1, 2, 3), 1);
    assert_true(isinf(stat_f_quantile(1, 2, 3)) && isinf(stat_t_quantile(1, 5)));
}

/* One lost packet in every `step`, `runs` times. */
static struct loss_runs single_losses(uint64_t runs, uint64_t step) {
    struct loss_runs r = {0};
    for (uint64_t i = 0; i < runs; i++) {
        stat_loss_take(&r, true, step - 1);
        stat_loss_take(&r, false, 1);
    }
    return r;
}

static void folds_runs(void **state) {
    struct loss_runs whole = {0}, bits = {0};
    (void)state;
    stat_loss_take(&whole, true, 5);
    stat_loss_take(&whole, false, 3);
    stat_loss_take(&whole, true, 2);
    stat_loss_take(&whole, false, 0);
    stat_loss_break(&whole);
    stat_loss_take(&whole, true, 4);
    static const char order[] = "oooooxxxoo|oooo";
    for (const char *c = order; *c != '\0'; c++) {
        if (*c == '|')
            stat_loss_break(&bits);
        else
            stat_loss_take(&bits, *c == 'o', 1);
    }
    assert_memory_equal(&whole, &bits, sizeof whole);
    assert_int_equal(whole.packets, 14);
    assert_int_equal(whole.lost, 3);
    assert_int_equal(whole.runs, 1);
    assert_int_equal(whole.run_squares, 9);
    assert_int_equal(whole.run_longest, 3);
    assert_int_equal(whole.gaps, 3);
    assert_int_equal(whole.begun, 1);
}

/* In whatever portions they come. */
static void folds_portions(void **state) {
    (void)state;
    struct dice d = {3};
    struct loss_runs whole = {0}, bits = {0};
    for (int i = 0; i < 20000; i++) {
        bool arrived = dice_chance(&d, 0.6);
        uint64_t count = dice_below(&d, 9);
        stat_loss_take(&whole, arrived, count);
        for (uint64_t k = 0; k < count; k++)
            stat_loss_take(&bits, arrived, 1);
        if (dice_chance(&d, 0.05)) {
            stat_loss_break(&whole);
            stat_loss_break(&bits);
        }
        assert_memory_equal(&whole, &bits, sizeof whole);
    }
    assert_true(whole.runs > 1000 && whole.gaps > 1000);
}

/* What is known of the limits without computing them: the kinds, their order, and two laws.  Many
 * single losses are a Poisson count (Garwood's exact limits); many long runs with geometric lengths
 * have the normal limits of a two-state chain, whose variance is p(1-p)(1+c)/(1-c)/n with c the
 * correlation of neighbours. */
static void encloses_loss(void **state) {
    struct loss_interval out;
    struct loss_runs r = {0};
    (void)state;
    stat_loss_interval(&r, 0.95, &out);
    assert_string_equal(out.method, "unknown");
    stat_loss_take(&r, false, 9);
    stat_loss_interval(&r, 0.95, &out);
    assert_int_equal(out.kind, LOSS_UNKNOWN); /* nothing arrived */
    exactly("nothing arrived", out.high, 1);
    r = (struct loss_runs){0};
    stat_loss_take(&r, true, 3000);
    stat_loss_interval(&r, 0.95, &out);
    assert_string_equal(out.method, "none lost");
    near("rule of three", stat_loss_none_bound(3000, 1, 0.95), 0.001, 3e-6);
    near("a drop of 20 packets", stat_loss_none_bound(3000, 20, 0.95), 0.02, 5e-4);
    near("no packet", stat_loss_none_bound(0, 1, 0.95), 1, 0);
    double before = 1;
    for (uint64_t runs = 1; runs <= 400; runs++) {
        r = single_losses(runs, 1000);
        stat_loss_interval(&r, 0.95, &out);
        assert_string_equal(out.method, "loss runs");
        near("the rate", out.rate, 0.001, 1e-15);
        assert_true(0 < out.low && out.low < 0.001 && 0.001 < out.high && out.high < before);
        before = out.high;
    }
    struct stat_interval exact = stat_poisson_interval(400, 0.95);
    between("400 single losses in 400000: as a count", (struct stat_interval){out.low, out.high},
            exact.low / 400000, exact.high / 400000, 4e-6);
}

static void encloses_bursts(void **state) {
    enum { RUNS = 4000 };
    struct loss_runs r = {0};
    struct loss_interval out;
    (void)state;
    /* Quantiles of exponential lengths, mean 20, far apart; their order makes no difference. */
    for (int i = 0; i < RUNS; i++) {
        double u = (i + 0.5) / RUNS, v = ((i * 1013) % RUNS + 0.5) / RUNS;
        stat_loss_take(&r, true, (uint64_t)ceil(-180 * log(v)));
        stat_loss_take(&r, false, (uint64_t)ceil(-20 * log(u)));
    }
    stat_loss_interval(&r, 0.95, &out);
    double begin = RUNS / (double)(r.packets - r.lost), end = RUNS / (double)r.lost;
    double c = 1 - begin - end, p = out.rate;
    double reach = 1.959964 * sqrt(p * (1 - p) * (1 + c) / (1 - c) / (double)r.packets);
    near("width", (out.high - out.low) / (2 * reach), 1, 0.05);
    near("middle", (out.high + out.low) / 2, p, 0.05 * reach);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(encloses_proportions),
        cmocka_unit_test(encloses_large_counts),
        cmocka_unit_test(bounds_what_never_happened),
        cmocka_unit_test(encloses_counts),
        cmocka_unit_test(tests_one_proportion),
        cmocka_unit_test(tests_differences),
        cmocka_unit_test(tests_tables),
        cmocka_unit_test(finds_quantiles),
        cmocka_unit_test(sorts),
        cmocka_unit_test(keeps_small_spread_on_large_mean),
        cmocka_unit_test(joins_moments),
        cmocka_unit_test(finds_trends),
        cmocka_unit_test(counts_runs),
        cmocka_unit_test(resamples_blocks),
        cmocka_unit_test(compares_ranks),
        cmocka_unit_test(finds_table_quantiles),
        cmocka_unit_test(tails_invert_quantiles),
        cmocka_unit_test(folds_runs),
        cmocka_unit_test(folds_portions),
        cmocka_unit_test(encloses_loss),
        cmocka_unit_test(encloses_bursts),
    };
    return cmocka_run_group_tests_name("stat", tests, NULL, NULL);
}
