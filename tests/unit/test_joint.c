/* Several tests judged together, held against values that R 4.2.2 gave: Pearson's |r| of twelve
 * losses with three candidates, over all arrangements of the losses and over their circular
 * shifts.  Method: Westfall and Young 1993. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "dice.h"
#include "stat/joint.h"

enum { LENGTH = 12, TESTS = 3, ALL = 495 }; /* 495 = 12 over 4 */

static const double losses[LENGTH] = {0, 0, 1, 1, 1, 0, 0, 0, 0, 1, 0, 0};
static const double candidates[TESTS][LENGTH] = {
    {0, 0, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0},
    {3, 1, 4, 1, 5, 9, 2, 6, 5, 3, 5, 8},
    {1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12},
};

static double correlation(const double *x, const double *y) {
    double mx = 0, my = 0, xy = 0, xx = 0, yy = 0;
    for (int i = 0; i < LENGTH; i++) {
        mx += x[i] / LENGTH;
        my += y[i] / LENGTH;
    }
    for (int i = 0; i < LENGTH; i++) {
        xy += (x[i] - mx) * (y[i] - my);
        xx += (x[i] - mx) * (x[i] - mx);
        yy += (y[i] - my) * (y[i] - my);
    }
    return fabs(xy / sqrt(xx * yy));
}

static void fill(double *table, size_t arrangements, size_t at, const double *y) {
    for (size_t k = 0; k < TESTS; k++)
        table[k * arrangements + at] = correlation(candidates[k], y);
}

static unsigned as_large(const double *row, size_t arrangements) {
    unsigned count = 0;
    for (size_t i = 0; i < arrangements; i++)
        count += row[i] >= row[0] - 1e-9;
    return count;
}

static void statistics_are_those_of_r(void **state) {
    static const double expected[TESTS] = {0.816497, 0.315668, 0.204837};
    (void)state;
    for (int k = 0; k < TESTS; k++)
        assert_true(fabs(correlation(candidates[k], losses) - expected[k]) < 5e-7);
}

static void all_arrangements(void **state) {
    static const unsigned raw[TESTS] = {9, 175, 282}, stepped[TESTS] = {11, 255, 282};
    static double table[TESTS * ALL], most[ALL];
    double adjusted[TESTS];
    size_t order[TESTS], at = 0;
    (void)state;
    fill(table, ALL, at++, losses);
    for (unsigned bits = 0; bits < 1U << LENGTH; bits++) {
        double y[LENGTH];
        for (int i = 0; i < LENGTH; i++)
            y[i] = (double)(bits >> i & 1U);
        if (__builtin_popcount(bits) == 4 && memcmp(y, losses, sizeof y) != 0)
            fill(table, ALL, at++, y);
    }
    assert_int_equal(at, ALL);
    stat_joint(table, TESTS, ALL, adjusted, order, most);
    for (int k = 0; k < TESTS; k++) {
        assert_int_equal(as_large(&table[k * ALL], ALL), raw[k]);
        assert_int_equal(lround(adjusted[k] * ALL), stepped[k]);
    }
}

static void circular_shifts(void **state) {
    static const unsigned raw[TESTS] = {1, 4, 10}, greatest[TESTS] = {1, 11, 12};
    double table[TESTS * LENGTH], most[LENGTH] = {0}, work[LENGTH], adjusted[TESTS];
    size_t order[TESTS];
    (void)state;
    for (size_t shift = 0; shift < LENGTH; shift++) {
        double y[LENGTH];
        for (size_t i = 0; i < LENGTH; i++)
            y[(i + shift) % LENGTH] = losses[i];
        fill(table, LENGTH, shift, y);
        for (size_t k = 0; k < TESTS; k++)
            most[shift] = fmax(most[shift], table[k * LENGTH + shift]);
    }
    stat_joint(table, TESTS, LENGTH, adjusted, order, work);
    for (size_t k = 0; k < TESTS; k++) {
        unsigned count = 0;
        for (size_t i = 0; i < LENGTH; i++)
            count += most[i] >= table[k * LENGTH] - 1e-9;
        assert_int_equal(as_large(&table[k * LENGTH], LENGTH), raw[k]);
        assert_int_equal(count, greatest[k]);
        assert_true(adjusted[k] * LENGTH <= greatest[k] + 1e-9); /* step-down: never larger */
    }
    /* The least that twelve shifts can give, 8.3 %: too short to tell at 5 %. */
    assert_int_equal(lround(adjusted[0] * LENGTH), 1);
    assert_int_equal(lround(adjusted[1] * LENGTH), 7); /* worked out apart, in Python */
    assert_int_equal(lround(adjusted[2] * LENGTH), 10);
}

static void standardised(void **state) {
    double row[4] = {1, 2, 3, 6}, same[3] = {5, 5, 5};
    (void)state;
    stat_joint_standardise(row, 4);
    assert_true(fabs(row[0] + row[1] + row[2] + row[3]) < 1e-12);
    /* Mean 3, squares 4 + 1 + 0 + 9 = 14 over 3: 2.160247. */
    assert_true(fabs(row[3] - 3 / 2.160247) < 1e-6);
    stat_joint_standardise(same, 3);
    assert_true(same[0] <= 0 && same[0] >= 0);
}

/* Eight series with a lag-1 correlation of 0.8 against an innocent ninth, 60 blocks: the chance
 * that any is at or below 5 % is 5 %.  A free shuffle accuses in about half of such runs. */
static void level_is_kept(void **state) {
    enum { RUNS = 600, BLOCKS = 60, SERIES = 8 };
    static double x[SERIES][BLOCKS], y[BLOCKS], table[SERIES * BLOCKS], most[BLOCKS];
    double adjusted[SERIES];
    size_t order[SERIES];
    struct dice dice = {31};
    int accused = 0;
    (void)state;
    for (int run = 0; run < RUNS; run++) {
        for (int k = 0; k <= SERIES; k++) {
            double *to = k < SERIES ? x[k] : y, level = 0;
            for (int i = -30; i < BLOCKS; i++) {
                level = 0.8 * level + dice_share(&dice) - 0.5;
                if (i >= 0)
                    to[i] = level;
            }
        }
        for (size_t k = 0; k < SERIES; k++) {
            for (size_t shift = 0; shift < BLOCKS; shift++) {
                double sum = 0;
                for (size_t i = 0; i < BLOCKS; i++)
                    sum += x[k][(i + shift) % BLOCKS] * y[i];
                table[k * BLOCKS + shift] = sum;
            }
            stat_joint_standardise(&table[k * BLOCKS], BLOCKS);
        }
        stat_joint(table, SERIES, BLOCKS, adjusted, order, most);
        accused += adjusted[order[0]] <= 0.05;
    }
    assert_in_range(accused, 10, 46); /* 30 expected; three standard deviations: 16 */
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(statistics_are_those_of_r),
        cmocka_unit_test(all_arrangements),
        cmocka_unit_test(circular_shifts),
        cmocka_unit_test(standardised),
        cmocka_unit_test(level_is_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
