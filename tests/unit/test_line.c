/* Straight lines against certified and printed values. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "stat/line.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))

/* NIST StRD, linear regression, "Norris" (36 pairs, lower level of difficulty). */
static const double norris_x[] = {0.2,   337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6,
                                  777.0, 558.2, 0.4,   0.6,   775.5, 666.9, 338.0, 447.5, 11.6,
                                  556.0, 228.1, 995.8, 887.6, 120.2, 0.3,   0.3,   556.8, 339.1,
                                  887.2, 999.0, 779.0, 11.1,  118.3, 229.2, 669.1, 448.9, 0.5};
static const double norris_y[] = {0.1,   338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1,
                                  778.9, 559.2, 0.3,   0.1,   778.1, 668.8, 339.3, 448.9, 10.8,
                                  557.7, 228.3, 998.0, 888.8, 119.6, 0.3,   0.6,   557.6, 339.3,
                                  888.0, 998.5, 778.9, 10.2,  117.6, 228.9, 668.4, 449.2, 0.2};

static void fits_norris(void **state) {
    struct line_fit f;
    (void)state;
    assert_true(stat_line_fit(norris_x, norris_y, COUNT(norris_x), &f));
    near_share("b0", f.intercept, -0.262323073774029, 1e-9);
    near_share("b1", f.slope, 1.00211681802045, 1e-9);
    near_share("se b0", f.intercept_se, 0.232818234301152, 1e-9);
    near_share("se b1", f.slope_se, 0.000429796848199937, 1e-9);
    near_share("residual sd", f.residual_sd, 0.884796396144373, 1e-9);
    near_share("R squared", f.r2, 0.999993745883712, 1e-9);
}

/* The same, far from zero: the sums about the means keep the digits. */
static void keeps_digits_far_from_zero(void **state) {
    double x[COUNT(norris_x)];
    struct line_fit f;
    (void)state;
    for (size_t i = 0; i < COUNT(x); i++)
        x[i] = norris_x[i] + 1e6;
    assert_true(stat_line_fit(x, norris_y, COUNT(x), &f));
    near_share("b1", f.slope, 1.00211681802045, 1e-9);
    near_share("residual sd", f.residual_sd, 0.884796396144373, 1e-7);
    near("the line's error at the old zero", stat_line_se_at(&f, 1e6), 0.232818234301152, 1e-7);
}

/* Rappaport, Wireless Communications, 2nd edition, example 4.9: power at four distances, the
 * reference held at 0 dBm at 100 m.  The book rounds the exponent to 4.4 before it goes on (sigma
 * 6.17 dB, -57.24 dBm at 2 km); full precision from R. */
static void finds_path_loss_exponent(void **state) {
    static const double metres[] = {100, 200, 1000, 3000}, dbm[] = {0, -20, -35, -70};
    double x[4];
    struct line_through f;
    struct line_fit free;
    (void)state;
    for (size_t i = 0; i < 4; i++)
        x[i] = -10 * log10(metres[i] / 100);
    assert_true(stat_line_through(x, dbm, 4, 0, 0, &f));
    near("n (book: 4.4)", f.slope, 4.413103, 1e-6);
    near("n (book: 4.4)", f.slope, 4.4, 0.02);
    near("sum of squares", f.squares, 151.636, 1e-3);
    near("sigma, divisor N", f.sd_n, 6.157033, 1e-6);
    near("sigma (book: 6.17)", f.sd_n, 6.17, 0.02);
    near("sigma, divisor N - 1", f.sd_less, 7.1095, 1e-4);
    near("dBm at 2 km", f.slope * -10 * log10(20), -57.4158, 1e-4);
    near("dBm at 2 km (book, with n = 4.4)", 4.4 * -10 * log10(20), -57.24, 0.02);
    assert_true(stat_line_fit(x, dbm, 4, &free));
    near("n with a free reference", free.slope, 4.289123, 1e-6);
    near("and that reference", free.intercept, -1.460417, 1e-6);
    near("and sigma, divisor N - 2", free.residual_sd, 8.606252, 1e-6);
}

static void refuses(void **state) {
    static const double x[] = {3, 3, 3}, y[] = {1, 2, 3};
    struct line_fit f;
    struct line_through t;
    (void)state;
    assert_false(stat_line_fit(x, y, 0, &f));
    assert_false(stat_line_fit(x, y, 1, &f));
    assert_false(stat_line_fit(x, y, 3, &f));
    assert_false(stat_line_through(x, y, 3, 3, 0, &t));
    assert_false(stat_line_through(x, y, 0, 0, 0, &t));
    assert_true(stat_line_through(x, y, 1, 0, 0, &t));
    near("one point gives a slope", t.slope, 1.0 / 3, 1e-15);
    near("but no spread", t.sd_less, 0, 0);
    assert_true(stat_line_fit(y, x, 3, &f));
    near("flat", f.slope, 0, 0);
    assert_true(stat_line_fit(y, y, 2, &f));
    near("two points", f.slope, 1, 0);
    near("have no residual", f.residual_sd, 0, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fits_norris),
        cmocka_unit_test(keeps_digits_far_from_zero),
        cmocka_unit_test(finds_path_loss_exponent),
        cmocka_unit_test(refuses),
    };
    return cmocka_run_group_tests_name("line", tests, NULL, NULL);
}
