/* Two groups of blocks: permutations, Welch, and Holm over several answers. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "dice.h"
#include "near.h"
#include "stat/many.h"
#include "stat/permute.h"
#include "stat/welch.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))
enum { DRAWS = 20000, BLOCKS_MAX = 64 };

static struct permute_test permute(const struct permute_block *blocks, size_t count) {
    unsigned char work[BLOCKS_MAX];
    struct permute_test t;
    assert_true(stat_permute(blocks, count, DRAWS, 7, work, &t));
    return t;
}

/* By hand: 1 2 3 against 4 5 6 is the most extreme of the 20 labellings, and its mirror as much. */
static void tries_each_labelling(void **state) {
    static const struct permute_block blocks[] = {{1, 10, false, 0}, {5, 10, true, 0},
                                                  {3, 10, false, 0}, {4, 10, true, 0},
                                                  {2, 10, false, 0}, {6, 10, true, 0}};
    struct permute_test t = permute(blocks, 6);
    (void)state;
    near("difference", t.difference, 0.3, 1e-15);
    assert_true(t.exact);
    assert_int_equal(t.labellings, 20);
    near("two-sided", t.two_sided, 2.0 / 20, 1e-15);
    near("greater", t.greater, 1.0 / 20, 1e-15);
    near("less", t.less, 1, 1e-15);
}

/* Which is Fisher's exact test where the blocks are single packets: the lady tasting tea, 17/70 and
 * 34/70 (Fisher 1935). */
static void agrees_with_fisher(void **state) {
    static const struct permute_block cups[] = {
        {1, 1, true, 0},  {1, 1, true, 0},  {1, 1, true, 0},  {0, 1, true, 0},
        {1, 1, false, 0}, {0, 1, false, 0}, {0, 1, false, 0}, {0, 1, false, 0}};
    struct permute_test t = permute(cups, 8);
    (void)state;
    assert_int_equal(t.labellings, 70);
    near("greater", t.greater, 17.0 / 70, 1e-15);
    near("two-sided", t.two_sided, 34.0 / 70, 1e-15);
}

/* Within strata there are 2 x 2 labellings (A-B, B-A), not 6; the strata's own difference, however
 * large, does nothing. */
static void keeps_strata_apart(void **state) {
    struct permute_block blocks[] = {
        {10, 100, false, 1}, {20, 100, true, 1}, {65, 100, true, 2}, {50, 100, false, 2}};
    struct permute_test t = permute(blocks, 4);
    (void)state;
    assert_int_equal(t.labellings, 4);
    near("greater", t.greater, 0.25, 1e-15);
    near("two-sided", t.two_sided, 0.5, 1e-15);
    for (size_t i = 0; i < 4; i++)
        blocks[i].stratum = 0;
    t = permute(blocks, 4);
    assert_int_equal(t.labellings, 6);
    assert_true(t.greater > 0.25);
}

/* Weights count: the loss of a group is lost over packets, not the mean of the blocks' losses. */
static void weighs_blocks(void **state) {
    static const struct permute_block blocks[] = {
        {1, 10, false, 0}, {90, 100, false, 0}, {0, 10, true, 0}, {10, 100, true, 0}};
    (void)state;
    near("difference", permute(blocks, 4).difference, 10.0 / 110 - 91.0 / 110, 1e-15);
}

static size_t make_blocks(struct permute_block *blocks, size_t each, double shift,
                          struct dice *dice) {
    for (size_t i = 0; i < 2 * each; i++) {
        bool second = i >= each;
        double lost = floor(dice_share(dice) * 20 + (second ? shift : 0));
        blocks[i] = (struct permute_block){lost, 100, second, 0};
    }
    return 2 * each;
}

/* Chance against every labelling: 8 a side have 12870, to be tried both ways. */
static void draws_as_it_counts(void **state) {
    struct dice dice = {11};
    struct permute_block blocks[40];
    unsigned char work[40];
    (void)state;
    for (int i = 0; i < 5; i++) {
        struct permute_test exact, drawn;
        size_t count = make_blocks(blocks, 8, i, &dice);
        exact = permute(blocks, count);
        assert_true(exact.exact);
        assert_int_equal(exact.labellings, 12870);
        /* A ninth pair in a stratum of its own, equal on both sides, doubles the labellings. */
        blocks[count] = (struct permute_block){5, 100, false, 1};
        blocks[count + 1] = (struct permute_block){5, 100, true, 1};
        assert_true(stat_permute(blocks, count + 2, 40000, 3, work, &drawn));
        assert_false(drawn.exact);
        assert_int_equal(drawn.labellings, 40000);
        near("drawn", drawn.two_sided, exact.two_sided,
             4 * sqrt(exact.two_sided * (1 - exact.two_sided) / 40000) + 1e-4);
    }
}

static void draws_the_same_from_a_seed(void **state) {
    struct dice dice = {5};
    struct permute_block blocks[40];
    unsigned char work[40];
    struct permute_test a, b, c;
    size_t count = make_blocks(blocks, 20, 1, &dice);
    (void)state;
    assert_true(stat_permute(blocks, count, 999, 1, work, &a));
    assert_true(stat_permute(blocks, count, 999, 1, work, &b));
    assert_true(stat_permute(blocks, count, 999, 2, work, &c));
    assert_memory_equal(&a.two_sided, &b.two_sided, sizeof a.two_sided);
    assert_true(a.two_sided != c.two_sided);
    for (size_t i = 0; i < count; i++)
        blocks[i].lost = i < count / 2 ? 0 : 100;
    assert_true(stat_permute(blocks, count, 99, 1, work, &a));
    near("never 0: the labelling that was seen counts as a draw", a.greater, 1.0 / 100, 1e-15);
}

/* Twenty pairs, the second worse in each: of 2^20 labellings only the one seen is as extreme. */
static void draws_within_pairs(void **state) {
    struct permute_block blocks[40];
    unsigned char work[40];
    struct permute_test t;
    (void)state;
    for (unsigned i = 0; i < 40; i++)
        blocks[i] = (struct permute_block){i % 2 ? 6 : 5, 100, i % 2 == 1, i / 2};
    assert_true(stat_permute(blocks, 40, 999, 1, work, &t));
    assert_false(t.exact);
    near("two-sided", t.two_sided, 1.0 / 1000, 1e-15);
}

/* Without a difference p below 0.05 comes in 5 % of 2000 trials (four standard errors: 2 %). */
static void keeps_its_promise(void **state) {
    struct dice dice = {99};
    struct permute_block blocks[40];
    unsigned char work[40];
    int alarms = 0;
    (void)state;
    for (int i = 0; i < 2000; i++) {
        struct permute_test t;
        size_t count = make_blocks(blocks, 12, 0, &dice);
        assert_true(stat_permute(blocks, count, 199, (uint64_t)i, work, &t));
        alarms += t.two_sided <= 0.05;
    }
    near("alarms", alarms / 2000.0, 0.05, 0.02);
}

static void refuses_what_cannot_be_dealt(void **state) {
    static const struct permute_block one_sided[] = {{1, 10, false, 0}, {2, 10, false, 0}};
    static const struct permute_block parted[] = {{1, 10, false, 1}, {2, 10, true, 2}};
    unsigned char work[2];
    struct permute_test t;
    (void)state;
    assert_false(stat_permute(one_sided, 0, 9, 1, work, &t));
    assert_false(stat_permute(one_sided, 2, 9, 1, work, &t));
    assert_false(stat_permute(parted, 2, 9, 1, work, &t));
}

/* R's p.adjust(method = "holm"), its NA as NaN. */
static void adjusts_many(void **state) {
    static const double p[] = {0.01, 0.04, 0.03, 0.005, 0.04, NAN, 1};
    static const double expected[] = {0.05, 0.12, 0.12, 0.03, 0.12, NAN, 1};
    static const double steps[] = {0.01, 0.02, 0.03, 0.04, 0.05};
    static const double adjusted_steps[] = {0.05, 0.08, 0.09, 0.09, 0.09};
    double got[COUNT(p)];
    (void)state;
    stat_holm(p, COUNT(p), got);
    for (size_t i = 0; i < COUNT(p); i++)
        if (isnan(expected[i]))
            assert_true(isnan(got[i]));
        else
            near("holm", got[i], expected[i], 1e-15);
    stat_holm(steps, COUNT(steps), got);
    for (size_t i = 0; i < COUNT(steps); i++)
        near("holm", got[i], adjusted_steps[i], 1e-15);
    stat_holm(p, 0, got);
}

static struct stat_moments moments_of(const double *values, size_t count) {
    struct stat_moments m = {0, 0, 0};
    for (size_t i = 0; i < count; i++)
        stat_moments_add(&m, values[i]);
    return m;
}

/* Student 1908, as R's datasets::sleep; R's help of t.test prints t, df and p of this very call. */
static void compares_means(void **state) {
    static const double one[] = {0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0};
    static const double two[] = {1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4};
    struct stat_moments x = moments_of(one, 10), y = moments_of(two, 10);
    struct stat_moments single = moments_of(one, 1), still = {5, 2, 0};
    struct welch_difference d;
    (void)state;
    assert_true(stat_welch(&x, &y, 0.95, &d));
    near("difference", d.value, 0.75 - 2.33, 1e-12);
    near("t", d.t, -1.860813467, 1e-8);
    near("df", d.df, 17.77647352, 1e-7);
    near("p", d.p, 0.0793941402, 1e-9);
    between("95 %", d.interval, -3.365483230712, 0.205483230712, 1e-9);
    assert_false(stat_welch(&single, &y, 0.95, &d));
    assert_false(stat_welch(&still, &still, 0.95, &d));
    assert_true(stat_welch(&still, &y, 0.95, &d));
}

/* Tritiated water through membranes (Hollander and Wolfe; R's help of wilcox.test): limits where
 * the t of x - ratio y is Student's quantile, by R's uniroot. */
static void compares_by_ratio(void **state) {
    static const double term[] = {0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46};
    static const double early[] = {1.15, 0.88, 0.90, 0.74, 1.21};
    static const double wild[] = {-1, 2, 0.5, -0.7};
    struct stat_moments x = moments_of(term, 10), y = moments_of(early, 5);
    struct stat_moments none = {4, 0, 3}, loose = moments_of(wild, 4);
    struct welch_ratio r;
    (void)state;
    assert_true(stat_welch_ratio(&x, &y, 0.95, &r));
    near("ratio", r.value, 1.3452868852459, 1e-12);
    near("df", r.df, 12.2744576650890, 1e-9);
    near("g", r.g, 0.0386102650632, 1e-9);
    assert_true(r.bounded);
    between("95 %", r.interval, 0.9797752309705, 1.8188543702377, 1e-9);
    assert_true(stat_welch_ratio(&x, &loose, 0.95, &r));
    assert_false(r.bounded);
    assert_true(isinf(r.interval.low) && isinf(r.interval.high));
    assert_false(stat_welch_ratio(&x, &none, 0.95, &r));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tries_each_labelling),
        cmocka_unit_test(agrees_with_fisher),
        cmocka_unit_test(keeps_strata_apart),
        cmocka_unit_test(weighs_blocks),
        cmocka_unit_test(draws_as_it_counts),
        cmocka_unit_test(draws_the_same_from_a_seed),
        cmocka_unit_test(draws_within_pairs),
        cmocka_unit_test(keeps_its_promise),
        cmocka_unit_test(refuses_what_cannot_be_dealt),
        cmocka_unit_test(adjusts_many),
        cmocka_unit_test(compares_means),
        cmocka_unit_test(compares_by_ratio),
    };
    return cmocka_run_group_tests_name("permute", tests, NULL, NULL);
}
