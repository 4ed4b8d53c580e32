/* Periods in event times, and hurdles for several looks. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "dice.h"
#include "near.h"
#include "stat/period.h"
#include "stat/spend.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))
enum { EVENTS_MAX = 400 };
static const double TURN = 6.283185307179586;

/* n pointers, half of them at +a, half at -a turns, have mean length cos(a). */
static struct period_test test_at(size_t count, double r) {
    double times[64];
    struct period_test t;
    for (size_t i = 0; i < count; i++)
        times[i] = 3 + (double)i + (i % 2 == 0 ? 1 : -1) * acos(r) / TURN;
    assert_true(stat_period_test(times, count, 1, &t));
    near("resultant", t.r, r, 1e-9);
    return t;
}

/* The exact law of a sum of pointers: P(R > r) = 1 - r int J1(rt) J0(t)^n dt (Kluyver 1906), as
 * SciPy 1.10.1 integrates it. */
static void knows_the_law(void **state) {
    static const struct {
        size_t n;
        double z, exact, share;
    } cases[] = {
        {10, 1, 0.3777, 0.01},    {10, 2, 0.1355, 0.01},    {10, 3, 0.04564, 0.01},
        {10, 4, 0.01426, 0.02},   {10, 5, 0.004016, 0.05},  {20, 3, 0.04783, 0.01},
        {20, 5, 0.005431, 0.01},  {20, 8, 1.545e-4, 0.05},  {50, 1, 0.3697, 0.01},
        {50, 5, 0.006226, 0.002}, {50, 8, 2.580e-4, 0.005}, {50, 10, 2.897e-5, 0.01},
    };
    (void)state;
    for (size_t i = 0; i < COUNT(cases); i++) {
        double n = (double)cases[i].n;
        struct period_test t = test_at(cases[i].n, sqrt(cases[i].z / n));
        near("power", t.power, 2 * cases[i].z, 1e-6);
        near_share("p", t.p, cases[i].exact, cases[i].share);
    }
    near_share("n 10, far out, on the safe side (exact 2.433e-5)", test_at(10, sqrt(0.8)).p,
               4.540e-5, 0.001);
}

static void tells_phase(void **state) {
    static const double times[] = {0.25, 1.25, 7.25, -2.75};
    struct period_test t;
    (void)state;
    assert_true(stat_period_test(times, 4, 1, &t));
    near("all at one phase", t.r, 1, 1e-12);
    near("which is a quarter turn", t.phase, 0.25, 1e-12);
    assert_true(stat_period_test(times, 4, 0.125, &t));
    near("in step with the eighth too", t.r, 1, 1e-12);
    assert_false(stat_period_test(times, 0, 1, &t));
    assert_false(stat_period_test(times, 4, 0, &t));
}

static void scatter(double *times, size_t count, double span, struct dice *dice) {
    for (size_t i = 0; i < count; i++)
        times[i] = dice_share(dice) * span;
}

/* Beacons each 102.4 ms cause one event in nine, within 15 ms; the others come as they like. */
static void finds_a_beacon(void **state) {
    static const struct period_band band = {2, 20, 10};
    struct dice dice = {2};
    double times[120];
    struct period_found f;
    (void)state;
    scatter(times, 60, 60, &dice);
    for (size_t i = 60; i < 120; i++)
        times[i] = floor(dice_share(&dice) * 580) * 0.1024 + dice_share(&dice) * 0.015;
    assert_true(stat_period_search(times, 120, &band, &f));
    near("period", f.period, 0.1024, 0.0001);
    assert_true(f.false_alarm < 0.001);
    assert_true(f.at.p < f.false_alarm);
}

/* Events without a period: false alarms at 5 % in at most 5 %, four standard errors on top. */
static void keeps_its_promise(void **state) {
    static const struct period_band band = {1, 12, 10};
    static const size_t counts[] = {10, 30};
    enum { TRIALS = 600 };
    struct dice dice = {17};
    double times[EVENTS_MAX];
    (void)state;
    for (size_t c = 0; c < COUNT(counts); c++) {
        int alarms = 0, halves = 0;
        for (int i = 0; i < TRIALS; i++) {
            struct period_found f;
            scatter(times, counts[c], 20, &dice);
            assert_true(stat_period_search(times, counts[c], &band, &f));
            alarms += f.false_alarm <= 0.05;
            halves += f.false_alarm <= 0.5;
        }
        assert_true(alarms <= TRIALS * 0.05 + 4 * sqrt(TRIALS * 0.05 * 0.95));
        assert_true(halves >= TRIALS / 5); /* nor is it so careful that it never speaks */
    }
}

/* The pointers that are turned from one frequency to the next must end where they belong. */
static void keeps_its_phase_over_the_grid(void **state) {
    static const struct period_band band = {0.5, 9.5, 5};
    double times[40];
    struct period_found f;
    struct period_test t;
    (void)state;
    for (size_t i = 0; i < 40; i++)
        times[i] = 1e5 + 7 * (double)i / 8.8;
    assert_true(stat_period_search(times, 40, &band, &f));
    assert_true(stat_period_test(times, 40, f.period, &t));
    near("r", f.at.r, t.r, 0);
    assert_true(t.r > 0.95);
    assert_true(fabs(f.hz * 7 / 8.8 - round(f.hz * 7 / 8.8)) < 0.01); /* 8.8/7 Hz or its multiple */
}

static void refuses(void **state) {
    static const struct period_band band = {1, 10, 5}, upside_down = {10, 1, 5}, none = {0, 10, 5};
    static const struct period_band wide = {1, 1e6, 5};
    double times[6] = {1, 2, 3.5, 4, 50, 60}, same[6] = {1, 1, 1, 1, 1, 1};
    struct period_found f;
    (void)state;
    assert_true(stat_period_search(times, 6, &band, &f));
    assert_false(stat_period_search(times, 4, &band, &f));
    assert_false(stat_period_search(same, 6, &band, &f));
    assert_false(stat_period_search(times, 6, &upside_down, &f));
    assert_false(stat_period_search(times, 6, &none, &f));
    assert_false(stat_period_search(times, 6, &wide, &f));
}

/* Chance that a sum of normal steps, looked at `looks` times, ever passes its hurdle: the density
 * of those that didn't is carried from look to look on a grid (Armitage, McPherson and Rowe 1969).
 */
static double total_error(enum spend_shape shape, int looks) {
    enum { HALF = 800, GRID = 2 * HALF + 1 };
    static double now[GRID], next[GRID];
    const double step = 0.0125;
    struct spend_hurdle h;
    double inside = 0;
    for (int look = 1; look <= looks; look++) {
        assert_true(stat_spend(shape, looks, look, &h));
        double limit = h.z * sqrt(look);
        inside = 0;
        for (int i = 0; i < GRID; i++) {
            double s = (i - HALF) * step, sum = 0;
            next[i] = 0;
            if (fabs(s) >= limit)
                continue;
            for (int j = 0; look > 1 && j < GRID; j++) {
                double d = s - (j - HALF) * step;
                sum += now[j] > 0 && fabs(d) < 7 ? now[j] * exp(-d * d / 2) * step : 0;
            }
            next[i] = (look > 1 ? sum : exp(-s * s / 2)) / sqrt(TURN);
            inside += next[i] * step;
        }
        for (int i = 0; i < GRID; i++)
            now[i] = next[i];
    }
    return 1 - inside;
}

static void spends_five_percent(void **state) {
    (void)state;
    for (int looks = 1; looks <= SPEND_LOOKS_MAX; looks++) {
        near("Pocock", total_error(SPEND_POCOCK, looks), 0.05, 0.001);
        near("O'Brien and Fleming", total_error(SPEND_LATE, looks), 0.05, 0.001);
    }
}

/* Jennison and Turnbull 2000, tables 2.1 and 2.3 (from memory). */
static void has_printed_hurdles(void **state) {
    struct spend_hurdle h;
    (void)state;
    assert_true(stat_spend(SPEND_POCOCK, 5, 3, &h));
    near("Pocock, five looks", h.z, 2.413, 0);
    near("nominal p", h.p, 0.0158, 5e-5);
    assert_true(stat_spend(SPEND_LATE, 5, 1, &h));
    near("O'Brien and Fleming, first of five", h.z, 4.562, 5e-4);
    assert_true(stat_spend(SPEND_LATE, 5, 5, &h));
    near("last of five", h.z, 2.040, 0);
    assert_false(stat_spend(SPEND_LATE, 6, 1, &h));
    assert_false(stat_spend(SPEND_LATE, 0, 0, &h));
    assert_false(stat_spend(SPEND_LATE, 5, 6, &h));
    assert_false(stat_spend(SPEND_LATE, 5, 0, &h));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(knows_the_law),
        cmocka_unit_test(tells_phase),
        cmocka_unit_test(finds_a_beacon),
        cmocka_unit_test(keeps_its_promise),
        cmocka_unit_test(keeps_its_phase_over_the_grid),
        cmocka_unit_test(refuses),
        cmocka_unit_test(spends_five_percent),
        cmocka_unit_test(has_printed_hurdles),
    };
    return cmocka_run_group_tests_name("period", tests, NULL, NULL);
}
