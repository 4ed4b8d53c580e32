/* The reach from stops that are made up here: each verdict, what the stops alone prove, signal. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "study/reach_parts.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))
enum { STOPS = 8, PACKETS = 500 };
static const double metres[STOPS] = {30, 40, 55, 75, 100, 135, 180, 245};

/* `lost` of `packets` in runs of `run`, spread evenly; five blocks. */
static struct walk_stop make_stop(double distance_m, unsigned packets, unsigned lost,
                                  unsigned run) {
    struct walk_stop s = {.distance_m = distance_m,
                          .counted = true,
                          .got = packets - lost,
                          .lost = lost,
                          .to_ms = 10000,
                          .block_ms = 2000,
                          .blocks = 5};
    uint64_t owed = (uint64_t)run * packets / 2;
    for (unsigned i = 0, open = 0; i < packets; i++) {
        owed += lost;
        if (open == 0 && owed >= (uint64_t)run * packets)
            open = run;
        bool gone = open > 0;
        if (gone) {
            open--;
            owed -= packets;
        }
        stat_loss_take(&s.runs, !gone, 1);
        *(gone ? &s.block[i * 5 / packets].lost : &s.block[i * 5 / packets].got) += 1;
    }
    s.lost = s.runs.lost; /* the last run may be cut off */
    s.got = packets - s.lost;
    return s;
}

static void make_walk(struct walk_stop *stops, const unsigned *lost, unsigned run) {
    for (int i = 0; i < STOPS; i++)
        stops[i] = make_stop(metres[i], PACKETS, lost[i], run);
}

static struct reach reach_of(const struct walk_stop *stops, uint32_t count) {
    struct reach_settings settings;
    struct reach r;
    reach_settings_default(&settings);
    reach_find(stops, count, &settings, &r);
    if (r.verdict != REACH_CLOSED) { /* whatever the refusal, no interval */
        near("m", r.m, 0, 0);
        near("low", r.low_m, 0, 0);
        near("high", r.high_m, 0, 0);
    }
    return r;
}

static struct reach reach_of_losses(const unsigned *lost, unsigned run) {
    struct walk_stop stops[STOPS];
    make_walk(stops, lost, run);
    return reach_of(stops, STOPS);
}

/* Passes 10 % near 83 m. */
static const unsigned rising[STOPS] = {2, 3, 9, 28, 90, 190, 330, 440};

/* Integrated over the spread by place (Berger, Liseo and Wolpert 1999): quantiles that two other
 * programs, which share no code with this one, gave alike within 1.5 %.  tests/outside/reach.R
 * works such quantiles out anew. */
static void agrees_with_two_programs(void **state) {
    static const double at_m[STOPS] = {25, 40, 60, 90, 130, 190, 280, 400};
    static const double lost[STOPS] = {0, 2, 1, 40, 9, 160, 210, 480};
    static const struct {
        double bursts, low, at_least, middle, high;
    } rows[] = {{1, 67.0, 77.6, 124.9, 169.5}, {4, 66.0, 76.8, 124.7, 169}};
    struct walk_stop stop = {.order_unknown = true}; /* no bursts to be seen */
    struct reach_settings settings;
    struct reach_range range;
    struct reach_fit fit;
    (void)state;
    reach_settings_default(&settings);
    for (size_t k = 0; k < COUNT(rows); k++) {
        struct reach_points points = {.count = STOPS};
        for (int i = 0; i < STOPS; i++)
            points.at[i] = (struct reach_point){&stop, log10(at_m[i]), lost[i] / rows[k].bursts,
                                                PACKETS / rows[k].bursts};
        assert_true(reach_fit_find(&points, &settings, &range, &fit));
        near_share("2.5 %", range.low_m, rows[k].low, 0.015);
        near_share("5 %", range.at_least_m, rows[k].at_least, 0.015);
        near_share("median", range.m, rows[k].middle, 0.015);
        near_share("97.5 %", range.high_m, rows[k].high, 0.015);
    }
}

static void closes_a_smooth_rise(void **state) {
    struct reach r = reach_of_losses(rising, 1);
    (void)state;
    assert_int_equal(r.verdict, REACH_CLOSED);
    assert_true(r.fit.known && r.fit.rises);
    near("independent packets", r.fit.bursts, 1, 0.2);
    assert_true(r.low_m < 83 && 83 < r.high_m);
    assert_true(r.low_m < r.at_least_m && r.at_least_m < r.m);
    assert_true(r.m < r.at_most_m && r.at_most_m < r.high_m);
    assert_true(r.fit.slope_low < r.fit.slope && r.fit.slope < r.fit.slope_high);
    assert_true(r.nearest_m == 30 && r.farthest_m == 245 && r.stops == STOPS);
}

/* The curve, its band and the range come from one posterior: along the other axis they agree. */
static void bands_its_curve(void **state) {
    struct reach r = reach_of_losses(rising, 1);
    struct reach_at at;
    (void)state;
    assert_true(reach_at(&r, r.low_m, &at));
    near("its upper edge at the range's lower end", at.high, 0.1, 3e-3);
    assert_true(reach_at(&r, r.high_m, &at));
    near("its lower edge at the upper one", at.low, 0.1, 3e-3);
    assert_true(reach_at(&r, r.m, &at));
    near("the curve at the range", at.loss, 0.1, 3e-3);
    for (double m = 30, before = 0; m <= 245; m *= 1.05) {
        assert_true(reach_at(&r, m, &at));
        assert_true(at.low <= at.loss && at.loss <= at.high && at.loss >= before);
        before = at.loss;
    }
    assert_false(reach_at(&r, 0, &at));
}

static void bands_no_other_curve(void **state) {
    struct reach few = reach_of_losses((const unsigned[]){0, 0, 0, 0, 0, 0, 0, 1}, 1);
    struct reach falls = reach_of_losses((const unsigned[]){290, 190, 110, 21, 15, 11, 9, 7}, 1);
    struct reach_at at;
    (void)state;
    assert_int_equal(few.verdict, REACH_NEVER_LOST);
    assert_false(reach_at(&few, 100, &at));
    assert_int_equal(falls.verdict, REACH_FALLING);
    assert_false(reach_at(&falls, 100, &at));
    near("nothing to rely on", falls.at_least_m, 0, 0);
    assert_true(isinf(falls.at_most_m));
}

/* In runs of ten the same losses say less.  A chain of two states whose correlation dies out over c
 * packets has 2c - 1 times the variance, c = n p (1-p) / runs (Gilbert's chain, worked by hand):
 * here 297 / 33 = 9. */
static void widens_with_bursts(void **state) {
    static const unsigned lost[STOPS] = {10, 20, 30, 40, 50, 50, 60, 70};
    struct walk_stop stops[STOPS];
    (void)state;
    near("bursts", reach_of_losses(lost, 10).fit.bursts, 17, 0.1);
    make_walk(stops, rising, 1);
    struct reach one = reach_of(stops, STOPS);
    for (int i = 0; i < STOPS; i++) /* as if each loss came with eight neighbours */
        stops[i].runs.runs = (stops[i].runs.runs + 7) / 8;
    struct reach eight = reach_of(stops, STOPS);
    assert_int_equal(eight.verdict, REACH_CLOSED);
    assert_true(eight.fit.bursts > 6);
    assert_true(eight.high_m / eight.low_m > one.high_m / one.low_m);
}

/* Stops that scatter by some 5 dB: found, and the interval is wider. */
static void widens_with_scatter(void **state) {
    static const unsigned scattered[STOPS] = {6, 1, 25, 12, 180, 100, 420, 400};
    struct reach r = reach_of_losses(scattered, 1), smooth = reach_of_losses(rising, 1);
    (void)state;
    assert_int_equal(r.verdict, REACH_CLOSED);
    assert_true(r.fit.spread_db > 2 && r.fit.spread_db < 8 && smooth.fit.spread_db < 2);
    assert_true(r.high_m / r.low_m > smooth.high_m / smooth.low_m);
}

static void refuses(void **state) {
    static const struct {
        const char *legend;
        enum reach_verdict verdict;
        unsigned run;
        unsigned lost[STOPS];
        double at_least_m, at_most_m; /* -1: not asked */
    } cases[] = {
        {"none lost", REACH_NEVER_LOST, 1, {0}, 245, INFINITY},
        {"two percent", REACH_NEVER_LOST, 1, {0, 0, 1, 2, 3, 5, 8, 10}, 245, INFINITY},
        {"just short of the limit", REACH_NEVER_LOST, 1, {0, 0, 2, 5, 9, 20, 35, 49}, -1, INFINITY},
        {"everything lost", REACH_ALL_LOST, 1, {500, 500, 500, 500, 500, 500, 500, 500}, 0, 30},
        {"falls", REACH_FALLING, 1, {90, 80, 70, 70, 60, 50, 40, 35}, 0, INFINITY},
        {"as likely as not", REACH_BEFORE, 1, {5, 400, 3, 450, 20, 480, 90, 490}, 0, -1},
        {"flat", REACH_NOT_RISING, 1, {60, 40, 70, 35, 80, 50, 65, 75}, 0, INFINITY},
        {"few bursts", REACH_BEYOND, 50, {0, 50, 0, 50, 0, 100, 50, 50}, -1, INFINITY},
        {"overloaded near by", REACH_BEFORE, 1, {300, 100, 10, 2, 5, 20, 100, 300}, 0, -1},
        {"bad at the nearest stop only", REACH_WIDE, 1, {150, 0, 0, 0, 0, 0, 5, 100}, 0, INFINITY},
        {"a reflection's hole at 75 m", REACH_CLOSED, 1, {0, 1, 3, 300, 5, 9, 30, 90}, -1, -1},
        {"only the last stop passes it", REACH_BEYOND, 1, {0, 1, 0, 2, 1, 5, 12, 60}, -1, INFINITY},
        {"only the first stop doesn't",
         REACH_BEFORE,
         1,
         {40, 70, 110, 180, 250, 330, 400, 450},
         0,
         -1},
    };
    (void)state;
    for (size_t i = 0; i < COUNT(cases); i++) {
        struct reach r = reach_of_losses(cases[i].lost, cases[i].run);
        if (r.verdict != cases[i].verdict)
            fail_msg("%s: got \"%s\", %g..%g m", cases[i].legend, reach_word(r.verdict),
                     r.at_least_m, r.at_most_m);
        if (cases[i].at_least_m >= 0)
            near(cases[i].legend, r.at_least_m, cases[i].at_least_m, 1e-9);
        if (isinf(cases[i].at_most_m))
            assert_true(isinf(r.at_most_m));
        else if (cases[i].at_most_m >= 0)
            near(cases[i].legend, r.at_most_m, cases[i].at_most_m, 1e-9);
    }
}

/* Outside the walked span nothing is said in metres but "at least" and "at most", within it. */
static void stays_within_the_walk(void **state) {
    static const unsigned beyond[STOPS] = {0, 1, 0, 2, 1, 5, 12, 60};
    static const unsigned before[STOPS] = {40, 70, 110, 180, 250, 330, 400, 450};
    struct reach r = reach_of_losses(beyond, 1);
    (void)state;
    assert_true(r.fit.known);
    assert_true(r.at_least_m >= 30 && r.at_least_m <= 245);
    r = reach_of_losses(before, 1);
    assert_true(r.at_most_m >= 30 && r.at_most_m <= 245);
}

static void wants_three_distances(void **state) {
    struct walk_stop stops[STOPS];
    struct reach r;
    (void)state;
    make_walk(stops, rising, 1);
    r = reach_of(stops, 0);
    assert_int_equal(r.verdict, REACH_FEW);
    assert_int_equal(r.stops, 0);
    assert_int_equal(reach_of(stops, 2).verdict, REACH_FEW);
    stops[2].distance_m = stops[1].distance_m;
    r = reach_of(stops, 3);
    assert_int_equal(r.verdict, REACH_FEW);
    near("two say nothing", r.at_least_m, 0, 0);
    assert_int_equal(reach_of(stops, 4).verdict, REACH_NEVER_LOST);
    make_walk(stops, rising, 1);
    stops[2].counted = false;
    stops[2].got = stops[2].lost = 0;
    r = reach_of(stops, STOPS);
    assert_int_equal(r.stops, STOPS - 1);
    assert_int_equal(r.left_out, 1);
    assert_int_equal(r.verdict, REACH_CLOSED);
}

/* One drop of 12 packets: what it says of drops to come is little, though its packets are few. */
static void doubts_a_single_long_drop(void **state) {
    static const unsigned lost[STOPS] = {0};
    struct walk_stop stops[STOPS];
    (void)state;
    make_walk(stops, lost, 1);
    near("none lost", reach_of(stops, STOPS).at_least_m, 245, 0);
    stops[7] = make_stop(245, PACKETS, 12, 12);
    double at_least_m = reach_of(stops, STOPS).at_least_m;
    assert_true(at_least_m > 0 && at_least_m < 245);
}

/* In whatever order they were walked. */
static void sorts_stops(void **state) {
    struct walk_stop stops[STOPS], turned[STOPS];
    (void)state;
    make_walk(stops, rising, 1);
    for (int i = 0; i < STOPS; i++)
        turned[i] = stops[STOPS - 1 - i];
    struct reach a = reach_of(stops, STOPS), b = reach_of(turned, STOPS);
    near("m", b.m, a.m, 0);
    near("nearest", b.nearest_m, 30, 0);
}

/* Another heading or power is another curve: the one with the most stops is taken. */
static void keeps_to_one_curve(void **state) {
    struct walk_stop stops[2 * STOPS];
    (void)state;
    make_walk(stops, rising, 1);
    for (int i = 0; i < 3; i++) {
        stops[STOPS + i] = make_stop(metres[i], PACKETS, 400, 1);
        strcpy(stops[STOPS + i].facing, "90");
    }
    struct reach r = reach_of(stops, STOPS + 3);
    assert_int_equal(r.verdict, REACH_CLOSED);
    assert_int_equal(r.stops, STOPS);
    assert_int_equal(r.left_out, 3);
    assert_string_equal(r.facing, "");
    for (int i = 0; i < STOPS; i++) {
        stops[i].step_known = true;
        stops[i].step = i < 2 ? 4 : 1;
        stops[i].steps = 4;
    }
    r = reach_of(stops, STOPS);
    assert_int_equal(r.stops, 6);
    near("nearest at the lower power", r.nearest_m, 55, 0);
}

/* A link that died after 2 of 10 s: closed after 3 s of outage at 50 packets a second, as the
 * other stops have them. */
static void counts_the_outage(void **state) {
    struct walk_stop stops[STOPS];
    (void)state;
    make_walk(stops, rising, 1);
    stops[7] = make_stop(245, 100, 90, 1);
    stops[7].to_ms = 5000;
    stops[7].died = true;
    stops[7].dead_ms = 3000;
    struct reach r = reach_of(stops, STOPS);
    near("assumed", r.assumed_lost, 150, 0);
    assert_int_equal(r.verdict, REACH_CLOSED);
    stops[7] = (struct walk_stop){.distance_m = 245, .died = true, .to_ms = 3000, .dead_ms = 3000};
    r = reach_of(stops, STOPS);
    near("dead on arrival", r.assumed_lost, 150, 0);
    assert_int_equal(r.stops, STOPS);
}

static void finds_exponent(void **state) {
    struct walk_stop stops[STOPS];
    struct reach_settings settings;
    struct reach r;
    (void)state;
    reach_settings_default(&settings);
    settings.sensitivity_known = true;
    settings.sensitivity_dbm = -94;
    make_walk(stops, rising, 1);
    for (int i = 0; i < STOPS; i++)
        for (int k = 0; k < 3; k++)
            stat_moments_add(&stops[i].rssi, -20 - 32 * log10(metres[i]) + (i % 2 ? 1 : -1));
    reach_find(stops, STOPS, &settings, &r);
    assert_true(r.exponent.known);
    near("n", r.exponent.n, 3.2, 0.1);
    near("sigma", r.exponent.sigma_db, 1.1, 0.1);
    assert_true(r.exponent.margin_known);
    near("margin", r.exponent.margin_db, -20 - 32 * log10(245) + 1 + 94, 1e-9);
    stops[0].rssi.count = stops[1].rssi.count = 0;
    reach_find(stops, 4, &settings, &r);
    assert_false(r.exponent.known);
    assert_true(r.exponent.margin_known);
    reach_find(stops, 2, &settings, &r);
    assert_false(r.exponent.margin_known);
}

static struct reach_flip flip_of(const uint64_t *hits) {
    struct walk_stop stops[STOPS];
    make_walk(stops, rising, 1);
    for (int i = 0; i < STOPS; i++) {
        stops[i].heard_looks = 200;
        stops[i].heard_hits = hits[i];
    }
    return reach_of(stops, STOPS).flip;
}

static void finds_where_the_carrier_flips(void **state) {
    static const uint64_t clean[STOPS] = {200, 198, 150, 50, 3, 0, 0, 0};
    static const uint64_t mixed[STOPS] = {200, 198, 90, 110, 3, 0, 0, 0};
    static const uint64_t near_only[STOPS] = {200, 200, 200, 200, 190, 180, 170, 160};
    static const uint64_t heard_again[STOPS] = {200, 198, 150, 50, 3, 0, 0, 120};
    static const uint64_t far_only[STOPS] = {90, 80, 10, 0, 0, 0, 0, 0};
    struct reach_flip f = flip_of(clean);
    (void)state;
    assert_true(f.known);
    near("low", f.low_m, 55, 1e-9);
    near("high", f.high_m, 75, 1e-9);
    near("half way in log distance", f.m, sqrt(55.0 * 75), 1e-9);
    f = flip_of(mixed);
    assert_true(f.known);
    near("from the last that all before heard", f.low_m, 40, 1e-9);
    near("to the first after the last that heard", f.high_m, 100, 1e-9);
    assert_true(f.m > 40 && f.m < 100);
    assert_false(flip_of(heard_again).known);
    assert_false(flip_of(near_only).known);
    assert_false(flip_of(far_only).known);
}

/* 12 dB: 10^(12/20) = 3.981 in free space, 10^(12/40) = 1.995 near the ground. */
static void stretches_to_full_power(void **state) {
    struct reach r = {.verdict = REACH_CLOSED, .m = 60, .low_m = 50, .high_m = 70};
    struct reach_full f;
    (void)state;
    reach_full_power(&r, 12, &f);
    near("low", f.low_m, 50 * 1.99526, 1e-3);
    near("high", f.high_m, 70 * 3.98107, 1e-3);
    near("no exponent", f.fitted_m, 0, 0);
    r.exponent.known = true;
    r.exponent.n = 3;
    reach_full_power(&r, 12, &f);
    near("fitted", f.fitted_m, 60 * 2.51189, 1e-3);
    r = (struct reach){.verdict = REACH_NEVER_LOST, .at_least_m = 100, .at_most_m = INFINITY};
    reach_full_power(&r, 12, &f);
    near("low", f.low_m, 199.526, 1e-3);
    assert_true(isinf(f.high_m));
    near("fitted", f.fitted_m, 0, 0);
}

static void has_words(void **state) {
    (void)state;
    for (int v = 0; v < REACH_VERDICTS; v++) {
        assert_non_null(reach_word((enum reach_verdict)v));
        assert_true(strlen(reach_reason((enum reach_verdict)v)) > 20);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(agrees_with_two_programs),
        cmocka_unit_test(closes_a_smooth_rise),
        cmocka_unit_test(bands_its_curve),
        cmocka_unit_test(bands_no_other_curve),
        cmocka_unit_test(widens_with_bursts),
        cmocka_unit_test(widens_with_scatter),
        cmocka_unit_test(refuses),
        cmocka_unit_test(stays_within_the_walk),
        cmocka_unit_test(wants_three_distances),
        cmocka_unit_test(doubts_a_single_long_drop),
        cmocka_unit_test(sorts_stops),
        cmocka_unit_test(keeps_to_one_curve),
        cmocka_unit_test(counts_the_outage),
        cmocka_unit_test(finds_exponent),
        cmocka_unit_test(finds_where_the_carrier_flips),
        cmocka_unit_test(stretches_to_full_power),
        cmocka_unit_test(has_words),
    };
    return cmocka_run_group_tests_name("reach", tests, NULL, NULL);
}
