/* Logistic regression against data that textbooks print; digits beyond theirs come from R 4.2.2
 * (glm, and dose.p and confint of MASS). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "stat/logit.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))

/* Beetles killed by log10 dose (mg/l) of carbon disulphide: Bliss 1935, Ann. Appl. Biol. 22:134;
 * Dobson, An Introduction to Generalized Linear Models, table "beetle mortality". */
static const struct logit_point beetles[] = {{1.6907, 6, 59},  {1.7242, 13, 60}, {1.7552, 18, 62},
                                             {1.7842, 28, 56}, {1.8113, 52, 63}, {1.8369, 53, 59},
                                             {1.8610, 61, 62}, {1.8839, 60, 60}};
/* Male tobacco budworms of 20 killed, by log2 dose: Collett 1991; Venables and Ripley, MASS 4e,
 * section 7.2. */
static const struct logit_point budworms[] = {{0, 1, 20},  {1, 4, 20},  {2, 9, 20},
                                              {3, 13, 20}, {4, 18, 20}, {5, 20, 20}};
static const struct logit_trust plain = {1, INFINITY, 0.95};

static struct logit_fit fit_of(const struct logit_point *points, size_t count) {
    struct logit_fit fit;
    assert_int_equal(stat_logit_fit(points, count, &fit), LOGIT_FITS);
    return fit;
}

static void fits_beetles(void **state) {
    struct logit_fit f = fit_of(beetles, COUNT(beetles));
    (void)state;
    near("intercept (Dobson: -60.72)", f.intercept, -60.717455, 1e-5);
    near("slope (Dobson: 34.27)", f.slope, 34.270326, 1e-5);
    /* R's covariances are those of the step before its last. */
    near("its standard error (Dobson: 5.18)", sqrt(f.v11), 5.180701, 5e-5);
    near("its standard error (Dobson: 2.91)", sqrt(f.v22), 2.912134, 5e-5);
    near("deviance (Dobson: 11.23)", f.deviance, 11.232231, 1e-5);
    near("degrees of freedom", f.df, 6, 0);
    near("V11", f.v11, 26.839663, 2e-4);
    near("V12", f.v12, -15.082090, 1e-4);
    near("V22", f.v22, 8.480525, 1e-4);
    near("Pearson", f.pearson, 10.026818, 1e-5);
    near("dispersion", f.pearson / f.df, 1.671136, 1e-5);
    near("quasi-binomial error", sqrt(f.v11 * f.pearson / f.df), 6.697218, 5e-5);
    near("quasi-binomial error", sqrt(f.v22 * f.pearson / f.df), 3.764587, 5e-5);
}

/* Dobson prints two digits of them. */
static void fits_deaths(void **state) {
    static const double deaths[] = {3.457, 9.842, 22.451, 33.898, 50.096, 53.291, 59.222, 58.743};
    struct logit_fit f = fit_of(beetles, COUNT(beetles));
    (void)state;
    for (size_t i = 0; i < COUNT(beetles); i++) {
        struct logit_at at;
        stat_logit_at(&f, beetles[i].x, &plain, &at);
        near("deaths", at.p * beetles[i].packets, deaths[i], 0.001);
    }
}

/* Delta-method errors as MASS's dose.p has them; Fieller limits by Finney, Probit Analysis,
 * chapter 4. */
static void finds_doses(void **state) {
    static const struct {
        const char *legend;
        double p, x, se, low, high;
    } doses[] = {
        {"LD1", 0.01, NAN, NAN, 1.608336, 1.658903},
        {"LD10", 0.1, 1.707606, 0.007126, 1.691277, 1.719895},
        {"LD50", 0.5, 1.771721, 0.003858, 1.763858, 1.779200},
        {"LD90", 0.9, 1.835835, 0.006193, 1.825056, 1.849890},
    };
    struct logit_fit f = fit_of(beetles, COUNT(beetles));
    (void)state;
    for (size_t i = 0; i < COUNT(doses); i++) {
        struct logit_where w;
        assert_true(stat_logit_fieller(&f, doses[i].p, &plain, &w));
        assert_true(w.bounded);
        near(doses[i].legend, w.low, doses[i].low, 1e-6);
        near(doses[i].legend, w.high, doses[i].high, 1e-6);
        near("g", w.g, 0.0277385, 1e-6);
        if (isnan(doses[i].x))
            continue;
        near(doses[i].legend, w.x, doses[i].x, 1e-6);
        near(doses[i].legend, w.se, doses[i].se, 1e-6);
    }
}

static void predicts(void **state) {
    struct logit_fit f = fit_of(beetles, COUNT(beetles));
    struct logit_at at;
    (void)state;
    stat_logit_at(&f, 1.8, &plain, &at);
    near("eta", at.eta, 0.969132, 1e-6);
    near("se", at.se, 0.145056, 1e-6);
    near("p", at.p, 0.724946, 1e-6);
    near("low", at.low, 0.664815, 1e-6);
    near("high", at.high, 0.777894, 1e-6);
    stat_logit_at(&f, 1e4, &plain, &at);
    near("far out there's no overflow", at.p, 1, 0);
    stat_logit_at(&f, -1e4, &plain, &at);
    near("nor the other way", at.p, 0, 1e-300);
}

/* MASS's confint, which interpolates: its last digits are its own. */
static void profiles(void **state) {
    struct logit_fit f = fit_of(beetles, COUNT(beetles));
    struct stat_interval i;
    (void)state;
    assert_true(stat_logit_profile(beetles, COUNT(beetles), &f, LOGIT_SLOPE, &plain, &i));
    between("slope", i, 28.8540, 40.3007, 1e-3);
    assert_true(stat_logit_profile(beetles, COUNT(beetles), &f, LOGIT_INTERCEPT, &plain, &i));
    between("intercept", i, -71.4426, -51.0790, 1e-3);
}

static void fits_budworms(void **state) {
    struct logit_fit f = fit_of(budworms, COUNT(budworms));
    struct logit_where w;
    (void)state;
    near("intercept", f.intercept, -2.818555, 1e-6);
    near("slope", f.slope, 1.258949, 1e-6);
    assert_true(stat_logit_fieller(&f, 0.5, &plain, &w));
    near("LD50", w.x, 2.238815, 1e-6);
    near("se", w.se, 0.203987, 1e-6);
    near("low", w.low, 1.809801, 1e-6);
    near("high", w.high, 2.656983, 1e-6);
    near("g", w.g, 0.108998, 1e-6);
}

/* With a dispersion both g and the limits take Student's quantile: 2.446912 for 6 degrees (table).
 * The limits must solve the equation that defines them. */
static void widens_with_dispersion(void **state) {
    struct logit_fit f = fit_of(beetles, COUNT(beetles));
    struct logit_trust trust = {f.pearson / f.df, f.df, 0.95};
    struct logit_where w;
    (void)state;
    assert_true(stat_logit_fieller(&f, 0.1, &trust, &w));
    near("quantile", w.quantile, 2.446911851, 1e-8);
    near("g", w.g, 0.0277385 * 1.671136 * pow(2.446911851 / 1.959963985, 2), 1e-6);
    for (int side = 0; side < 2; side++) {
        struct logit_at at;
        stat_logit_at(&f, side == 0 ? w.low : w.high, &trust, &at);
        near("a limit is where the band of the line passes the target",
             fabs(at.eta - log(0.1 / 0.9)) / at.se, w.quantile, 1e-9);
    }
}

/* Where the line is steep and x far from 0, the digits must hold: the same data, moved. */
static void keeps_digits_far_from_zero(void **state) {
    struct logit_point moved[COUNT(beetles)];
    struct logit_fit f;
    struct logit_where w;
    (void)state;
    for (size_t i = 0; i < COUNT(beetles); i++) {
        moved[i] = beetles[i];
        moved[i].x += 1000;
    }
    f = fit_of(moved, COUNT(moved));
    near("slope", f.slope, 34.270326, 1e-5);
    assert_true(stat_logit_fieller(&f, 0.5, &plain, &w));
    near("low", w.low - 1000, 1.763858, 2e-6);
    near("high", w.high - 1000, 1.779200, 2e-6);
}

/* Albert and Anderson 1984, Biometrika 71:1: no finite maximum under (quasi-)complete separation.
 */
static void refuses(void **state) {
    static const struct {
        const char *legend;
        enum logit_kind kind;
        size_t count;
        struct logit_point points[4];
    } cases[] = {
        {"nothing", LOGIT_FEW, 0, {{0, 0, 0}}},
        {"one point", LOGIT_FEW, 1, {{1, 2, 10}}},
        {"two at one x", LOGIT_FEW, 2, {{1, 2, 10}, {1, 5, 10}}},
        {"a point without packets", LOGIT_FEW, 2, {{1, 2, 10}, {2, 0, 0}}},
        {"none lost", LOGIT_NONE_LOST, 3, {{1, 0, 10}, {2, 0, 10}, {3, 0, 10}}},
        {"all lost", LOGIT_ALL_LOST, 2, {{1, 10, 10}, {2, 7, 7}}},
        {"all or nothing", LOGIT_SEPARATED, 4, {{1, 0, 9}, {2, 0, 9}, {3, 9, 9}, {4, 9, 9}}},
        {"mixed at one x only", LOGIT_SEPARATED, 3, {{1, 0, 9}, {2, 5, 9}, {3, 9, 9}}},
        {"the last alone loses", LOGIT_SEPARATED, 3, {{1, 0, 9}, {2, 0, 9}, {3, 4, 9}}},
        {"the other way round", LOGIT_SEPARATED, 3, {{1, 9, 9}, {2, 0, 9}, {3, 0, 9}}},
        {"falling, mixed at one x", LOGIT_SEPARATED, 3, {{1, 9, 9}, {2, 4, 9}, {3, 0, 9}}},
        {"overlap by one packet", LOGIT_FITS, 3, {{1, 0, 9}, {2, 1, 9}, {3, 8, 9}}},
        {"two points", LOGIT_FITS, 2, {{1, 2, 10}, {2, 5, 10}}},
    };
    (void)state;
    for (size_t i = 0; i < COUNT(cases); i++) {
        struct logit_fit f;
        enum logit_kind got = stat_logit_fit(cases[i].points, cases[i].count, &f);
        if (got != cases[i].kind)
            fail_msg("%s: got %d", cases[i].legend, (int)got);
    }
}

static void takes_two_points(void **state) {
    static const struct logit_point two[] = {{1, 2, 10}, {2, 5, 10}};
    struct logit_fit f = fit_of(two, 2);
    (void)state;
    near("through both: logit 0.5 at 2", f.intercept + 2 * f.slope, 0, 1e-9);
    near("and logit 0.2 at 1", f.intercept + f.slope, log(0.25), 1e-9);
    near("nothing left over", f.deviance, 0, 1e-9);
    near("nor free", f.df, 0, 0);
}

/* A slope that may be zero: Finney's g is 1 or more, and no interval is closed. */
static void leaves_open_what_may_be_flat(void **state) {
    static const struct logit_point flat[] = {{1, 3, 20}, {2, 4, 20}, {3, 3, 20}, {4, 5, 20}};
    struct logit_fit f = fit_of(flat, COUNT(flat));
    struct logit_where w;
    struct logit_fit level = {4, -1, 0, 1, 0, 1, 0, 0, 2};
    (void)state;
    assert_true(stat_logit_fieller(&f, 0.5, &plain, &w));
    assert_true(w.g >= 1);
    assert_false(w.bounded);
    assert_true(isinf(w.low) && w.low < 0 && isinf(w.high) && w.high > 0);
    assert_false(stat_logit_fieller(&level, 0.5, &plain, &w));
    assert_false(stat_logit_fieller(&f, 0, &plain, &w));
    assert_false(stat_logit_fieller(&f, 1, &plain, &w));
    assert_false(stat_logit_fieller(&f, 0.5, &(struct logit_trust){1, 0, 0.95}, &w));
}

/* Loss that falls with x: the limits keep their order. */
static void keeps_order_on_falling_lines(void **state) {
    struct logit_point turned[COUNT(beetles)];
    struct logit_where w;
    (void)state;
    for (size_t i = 0; i < COUNT(beetles); i++) {
        turned[i] = beetles[i];
        turned[i].x = -beetles[i].x;
    }
    struct logit_fit f = fit_of(turned, COUNT(turned));
    assert_true(f.slope < 0);
    assert_true(stat_logit_fieller(&f, 0.5, &plain, &w));
    near("low", w.low, -1.779200, 1e-6);
    near("high", w.high, -1.763858, 1e-6);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fits_beetles),
        cmocka_unit_test(fits_deaths),
        cmocka_unit_test(finds_doses),
        cmocka_unit_test(predicts),
        cmocka_unit_test(profiles),
        cmocka_unit_test(fits_budworms),
        cmocka_unit_test(widens_with_dispersion),
        cmocka_unit_test(keeps_digits_far_from_zero),
        cmocka_unit_test(refuses),
        cmocka_unit_test(takes_two_points),
        cmocka_unit_test(leaves_open_what_may_be_flat),
        cmocka_unit_test(keeps_order_on_falling_lines),
    };
    return cmocka_run_group_tests_name("logit", tests, NULL, NULL);
}
