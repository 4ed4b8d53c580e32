/* The reach from stops that are made up here: each verdict, what the stops alone prove, signal. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "stat/logit.h"
#include "study/reach.h"

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

/* Near logit p = -18.9 + 8.7 log10 d: passes 10 % near 83 m. */
static const unsigned rising[STOPS] = {2, 3, 9, 28, 90, 190, 330, 440};

/* What the fit means, said otherwise: weights from its own curve, bursts and scatter must give the
 * same line, and Fieller's limits from it the same metres (stat/logit is held against R). */
static void closes_a_smooth_rise(void **state) {
    struct reach r = reach_of_losses(rising, 1);
    struct logit_point points[STOPS];
    struct logit_fit fit;
    struct logit_where w;
    (void)state;
    assert_int_equal(r.verdict, REACH_CLOSED);
    assert_true(r.fit.known);
    near("independent packets", r.fit.bursts, 1, 0.2);
    for (int i = 0; i < STOPS; i++) {
        double x = log10(metres[i]), p = 1 / (1 + exp(-r.fit.intercept - r.fit.slope * x));
        double d = r.fit.bursts + PACKETS * r.fit.between * r.fit.between * p * (1 - p);
        points[i] = (struct logit_point){x, rising[i] / d, PACKETS / d};
    }
    assert_int_equal(stat_logit_fit(points, STOPS, &fit), LOGIT_FITS);
    near_share("slope", fit.slope, r.fit.slope, 1e-5);
    near_share("intercept", fit.intercept, r.fit.intercept, 1e-5);
    assert_true(stat_logit_fieller(&fit, 0.1, &(struct logit_trust){1, 6, 0.95}, &w));
    near_share("m", r.m, pow(10, w.x), 1e-4);
    near_share("low", r.low_m, pow(10, w.low), 1e-4);
    near_share("high", r.high_m, pow(10, w.high), 1e-4);
    near("Student's quantile for six degrees", r.fit.quantile, 2.446911851, 1e-8);
    near("scatter: not below the least", r.fit.between, REACH_BETWEEN_LEAST, 1e-9);
    near("shown up to", r.at_least_m, r.low_m, 0);
    near("shown from", r.at_most_m, r.high_m, 0);
    assert_true(r.low_m < 83 && 83 < r.high_m);
    assert_true(r.nearest_m == 30 && r.farthest_m == 245 && r.stops == STOPS);
}

/* The curve's band over the same stops, by R 4 (glm with weights 1 / (1 + 500 * 0.09 p(1-p))
 * brought to rest, predict with se.fit, qt(0.975, 6), plogis); tests/outside/reach.R does it for
 * others. */
static void bands_its_curve(void **state) {
    static const struct {
        double metres, loss, low, high;
    } rows[] = {{30, 0.001968387930, 0.000812775370, 0.004759236488},
                {83, 0.09123392802, 0.06379159223, 0.12885675905},
                {135, 0.3964780950, 0.3187651644, 0.4797933443},
                {245, 0.8677709767, 0.7901715333, 0.9195926409}};
    struct reach r = reach_of_losses(rising, 1);
    struct reach_at at;
    (void)state;
    near("bursts, as the weights above have them", r.fit.bursts, 1, 1e-9);
    for (size_t i = 0; i < COUNT(rows); i++) {
        assert_true(reach_at(&r, rows[i].metres, &at));
        near_share("loss", at.loss, rows[i].loss, 1e-5);
        near_share("low", at.low, rows[i].low, 1e-5);
        near_share("high", at.high, rows[i].high, 1e-5);
    }
    /* Along the other axis it is Fieller's interval. */
    assert_true(reach_at(&r, r.low_m, &at));
    near("its upper edge at the range's lower limit", at.high, 0.1, 1e-6);
    assert_true(reach_at(&r, r.high_m, &at));
    near("its lower edge at the upper one", at.low, 0.1, 1e-6);
    assert_true(reach_at(&r, r.m, &at));
    near("the curve at the range", at.loss, 0.1, 1e-6);
    assert_false(reach_at(&r, 0, &at));
}

static void bands_no_other_curve(void **state) {
    struct reach few = reach_of_losses((const unsigned[]){0, 0, 0, 0, 0, 0, 0, 1}, 1);
    struct reach ripple = reach_of_losses((const unsigned[]){2, 250, 4, 240, 30, 350, 20, 440}, 1);
    struct reach_at at;
    (void)state;
    assert_int_equal(few.verdict, REACH_NEVER_LOST);
    assert_false(reach_at(&few, 100, &at));
    assert_int_equal(ripple.verdict, REACH_RIPPLE);
    assert_true(ripple.fit.known);
    assert_false(reach_at(&ripple, 100, &at));
}

/* In runs of ten the same losses say less.  A chain of two states whose correlation dies out over c
 * packets has 2c - 1 times the variance, c = n p (1-p) / runs (Gilbert's chain, worked by hand):
 * here 297 / 33 = 9. */
static void widens_with_bursts(void **state) {
    static const unsigned lost[STOPS] = {10, 20, 30, 40, 50, 50, 60, 70};
    struct reach one = reach_of_losses(rising, 1), ten = reach_of_losses(lost, 10);
    (void)state;
    near("bursts", ten.fit.bursts, 17, 0.1);
    near("and both kinds of scatter at the limit", ten.fit.dispersion,
         ten.fit.bursts + PACKETS * 0.09 * ten.fit.between * ten.fit.between, 1e-9);
    ten = reach_of_losses((const unsigned[]){0, 0, 10, 30, 90, 190, 330, 440}, 10);
    assert_int_equal(ten.verdict, REACH_CLOSED);
    assert_true(ten.high_m / ten.low_m > one.high_m / one.low_m);
}

/* Stops that scatter about the line by a logit: found, and the interval is wider. */
static void widens_with_scatter(void **state) {
    static const unsigned scattered[STOPS] = {6, 1, 25, 12, 180, 100, 420, 400};
    struct reach r = reach_of_losses(scattered, 1), smooth = reach_of_losses(rising, 1);
    (void)state;
    assert_int_equal(r.verdict, REACH_CLOSED);
    assert_true(r.fit.between > 0.6 && r.fit.between < 1.4);
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
        {"just short of the limit: shown only where it's surely below",
         REACH_NEVER_LOST,
         1,
         {0, 0, 2, 5, 9, 20, 35, 49},
         135,
         INFINITY},
        {"everything lost", REACH_ALL_LOST, 1, {500, 500, 500, 500, 500, 500, 500, 500}, 0, 30},
        {"all or nothing", REACH_SEPARATED, 1, {0, 0, 0, 0, 500, 500, 500, 500}, 75, 100},
        {"the last alone", REACH_SEPARATED, 1, {0, 0, 0, 0, 0, 0, 0, 200}, 180, 245},
        {"falls", REACH_NOT_RISING, 1, {90, 80, 70, 70, 60, 50, 40, 35}, -1, -1},
        {"a reflection's hole at 75 m", REACH_RIPPLE, 1, {0, 1, 3, 300, 5, 9, 30, 90}, 55, 75},
        {"as likely as not", REACH_RIPPLE, 1, {5, 400, 3, 450, 20, 480, 90, 490}, 30, 40},
        {"comes back at the end", REACH_RIPPLE, 1, {2, 4, 12, 40, 120, 300, 470, 150}, -1, -1},
        {"goes up in two jumps", REACH_RIPPLE, 1, {1, 1, 1, 1, 400, 400, 400, 400}, -1, -1},
        {"flat", REACH_MAY_BE_FLAT, 1, {60, 40, 70, 35, 80, 50, 65, 75}, -1, -1},
        {"few bursts", REACH_MAY_BE_FLAT, 50, {0, 50, 0, 50, 0, 100, 50, 50}, -1, -1},
        {"only the last stop passes it",
         REACH_BEYOND,
         1,
         {1, 2, 4, 8, 16, 28, 45, 70},
         -1,
         INFINITY},
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
            fail_msg("%s: got \"%s\" g %g between %g m %g..%g", cases[i].legend,
                     reach_word(r.verdict), r.fit.g, r.fit.between, r.low_m, r.high_m);
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
    static const unsigned beyond[STOPS] = {1, 2, 4, 8, 16, 28, 45, 70};
    static const unsigned before[STOPS] = {40, 70, 110, 180, 250, 330, 400, 450};
    struct reach r = reach_of_losses(beyond, 1);
    (void)state;
    assert_true(r.fit.known);
    assert_true(r.at_least_m >= 30 && r.at_least_m <= 245);
    r = reach_of_losses(before, 1);
    assert_true(r.at_most_m >= 30 && r.at_most_m <= 245);
}

static void wants_five_distances(void **state) {
    struct walk_stop stops[STOPS];
    struct reach r;
    (void)state;
    make_walk(stops, rising, 1);
    r = reach_of(stops, 0);
    assert_int_equal(r.verdict, REACH_FEW);
    assert_int_equal(r.stops, 0);
    assert_int_equal(reach_of(stops, 4).verdict, REACH_FEW);
    stops[4].distance_m = stops[3].distance_m;
    assert_int_equal(reach_of(stops, 5).verdict, REACH_FEW);
    near("but the four say something", reach_of(stops, 4).at_least_m, 55, 0);
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
    static const unsigned lost[STOPS] = {10, 10, 10, 10, 10, 10, 10, 10};
    struct walk_stop stops[STOPS];
    (void)state;
    make_walk(stops, lost, 1);
    near("single losses", reach_of(stops, STOPS).at_least_m, 245, 0);
    stops[7] = make_stop(245, PACKETS, 12, 12);
    near("one drop", reach_of(stops, STOPS).at_least_m, 180, 0);
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

/* A link that died after 2 of 10 s: closed after 3 s of silence at 50 packets a second, as the
 * other stops have them. */
static void counts_the_silence(void **state) {
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
        cmocka_unit_test(closes_a_smooth_rise),
        cmocka_unit_test(bands_its_curve),
        cmocka_unit_test(bands_no_other_curve),
        cmocka_unit_test(widens_with_bursts),
        cmocka_unit_test(widens_with_scatter),
        cmocka_unit_test(refuses),
        cmocka_unit_test(stays_within_the_walk),
        cmocka_unit_test(wants_five_distances),
        cmocka_unit_test(doubts_a_single_long_drop),
        cmocka_unit_test(sorts_stops),
        cmocka_unit_test(keeps_to_one_curve),
        cmocka_unit_test(counts_the_silence),
        cmocka_unit_test(finds_exponent),
        cmocka_unit_test(finds_where_the_carrier_flips),
        cmocka_unit_test(stretches_to_full_power),
        cmocka_unit_test(has_words),
    };
    return cmocka_run_group_tests_name("reach", tests, NULL, NULL);
}
