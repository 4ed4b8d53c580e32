/* What a walk adds to other answers: full power from reduced, the decibels that paper misses, what
 * a difference in loss is worth; and that the walk's words and JSON say what the fit found, and no
 * more.  Truths: doubling the distance costs 6.02 dB in free space and 12.04 dB near the ground
 * (any textbook); the chip's power steps are 6 dB apart (its specification, table 17). */
#include <jansson.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "study/missing.h"
#include "study/reduced.h"
#include "study/worth.h"
#include "text/walk_text.h"
#include "json/json.h"

static struct walk the_walk;

static struct walk_stop *add_stop(double distance_m, uint32_t step, double rssi_dbm) {
    struct walk_stop *s = &the_walk.stop[the_walk.count++];
    *s = (struct walk_stop){.distance_m = distance_m,
                            .counted = true,
                            .got = 500,
                            .to_ms = 10000,
                            .step_known = true,
                            .step = step,
                            .steps = 4,
                            .longest_gap_ms = 20,
                            .longest_gap_low_ms = 20,
                            .failsafe_known = true};
    stat_loss_take(&s->runs, true, 500);
    stat_moments_add(&s->rssi, rssi_dbm);
    return s;
}

static void walk_new(void) {
    struct walk_limits limits;
    walk_limits_default(&limits);
    walk_init(&the_walk, &limits);
}

static const struct reach closed = {.verdict = REACH_CLOSED,
                                    .loss_limit = 0.1,
                                    .stops = 8,
                                    .left_out = 2,
                                    .step_known = true,
                                    .step = 1,
                                    .steps = 4,
                                    .assumed_lost = 37,
                                    .nearest_m = 5,
                                    .farthest_m = 70,
                                    .m = 40,
                                    .low_m = 32,
                                    .high_m = 48,
                                    .at_least_m = 32,
                                    .at_most_m = 48,
                                    .fit = {.known = true,
                                            .slope = 8,
                                            .slope_low = 8,
                                            .slope_high = 8,
                                            .rises = true,
                                            .bursts = 6,
                                            .spread_db = 3}};

/* --- full power ------------------------------------------------------------------------------- */

static struct reduced reduced_of(const struct reach *r, uint32_t full, bool amplified, double db) {
    struct reduced d;
    reduced_find(&the_walk, r, full, amplified, db, &d);
    return d;
}

static void test_reduced(void **state) {
    (void)state;
    struct reach r = closed;
    walk_new();
    struct reduced d = reduced_of(&r, 4, false, 0);
    assert_int_equal(d.kind, REDUCED_BY_STEPS);
    near("18 dB", d.db, 18, 0);
    near("near the ground", d.full.low_m, 32 * 2.81838, 1e-3); /* 10^(18/40) */
    near("free space", d.full.high_m, 48 * 7.94328, 1e-3);     /* 10^(18/20) */
    assert_int_equal(reduced_of(&r, 4, true, 0).kind, REDUCED_AMPLIFIED);
    assert_false(reduced_of(&r, 4, true, 0).full_known);
    assert_int_equal(reduced_of(&r, 4, true, 12).kind, REDUCED_GIVEN);
    near("given", reduced_of(&r, 4, true, 12).db, 12, 0);
    assert_int_equal(reduced_of(&r, 1, false, 0).kind, REDUCED_NOT);
    assert_int_equal(reduced_of(&r, 0, false, 0).kind, REDUCED_NO_STEP);
    r.steps = 8;
    assert_int_equal(reduced_of(&r, 8, false, 0).kind, REDUCED_NO_DB);
    r = (struct reach){
        .verdict = REACH_FEW, .step_known = true, .step = 3, .steps = 4, .at_most_m = INFINITY};
    assert_false(reduced_of(&r, 4, false, 0).full_known);
}

/* Two powers on one spot, with an amplifier that adds 15 dB where the steps say 18. */
static void test_reduced_on_one_spot(void **state) {
    (void)state;
    walk_new();
    add_stop(5, 1, -60);
    add_stop(10, 4, -40); /* elsewhere */
    assert_int_equal(reduced_of(&closed, 4, true, 0).kind, REDUCED_AMPLIFIED);
    struct walk_stop *turned = add_stop(5, 4, -30); /* another heading */
    strcpy(turned->facing, "away");
    assert_int_equal(reduced_of(&closed, 4, true, 0).kind, REDUCED_AMPLIFIED);
    add_stop(5, 4, -45);
    struct reduced d = reduced_of(&closed, 4, true, 0);
    assert_int_equal(d.kind, REDUCED_ON_SPOT);
    near("15 dB", d.db, 15, 1e-9);
}

/* --- paper against the walk ------------------------------------------------------------------- */

static struct budget_inputs paper(void) {
    struct budget_inputs in;
    budget_defaults(&in);
    in.sensitivity_dbm = -94;
    in.power_dbm = 0;
    return in;
}

/* A link that ends where paper has 20 dB in hand misses 20 dB. */
static void test_missing_by_range(void **state) {
    (void)state;
    struct budget_inputs in = paper();
    struct missing m;
    struct reach r = closed;
    r.m = budget_range_m(&in, 20).plan;
    r.low_m = budget_range_m(&in, 23).plan;
    r.high_m = budget_range_m(&in, 18).plan;
    assert_int_equal(missing_by_walk(&m, &in, &r), MISSING_INTERVAL);
    near("missing", m.db, 20, 1e-6);
    near("least", m.low_db, 18, 1e-6);
    near("most", m.high_db, 23, 1e-6);
    r.verdict = REACH_NEVER_LOST;
    r.at_least_m = r.m;
    r.at_most_m = INFINITY;
    assert_int_equal(missing_by_walk(&m, &in, &r), MISSING_AT_MOST);
    near("at most", m.db, 20, 1e-6);
    assert_true(m.at_most);
    r.at_most_m = r.high_m;
    assert_int_equal(missing_by_walk(&m, &in, &r), MISSING_BETWEEN);
    near("least", m.low_db, 18, 1e-6);
    near("most", m.high_db, 20, 1e-6);
    r.at_least_m = 0;
    assert_int_equal(missing_by_walk(&m, &in, &r), MISSING_AT_LEAST);
    near("at least", m.db, 18, 1e-6);
    r.at_most_m = INFINITY;
    assert_int_equal(missing_by_walk(&m, &in, &r), MISSING_NOTHING_TOLD);
}

static double level_at(double distance_m) {
    struct budget_inputs in = paper();
    return in.sensitivity_dbm + budget_margin_db(&in, distance_m).plan;
}

/* Levels 3 and 9 dB under paper; what only the strong packets told, or another heading, is left
 * out. */
static void test_missing_by_level(void **state) {
    (void)state;
    struct budget_inputs in = paper();
    struct missing m;
    walk_new();
    assert_int_equal(missing_by_stops(&m, &in, the_walk.stop, the_walk.count, &closed), 0);
    add_stop(10, 1, level_at(10) - 3);
    add_stop(20, 1, level_at(20) - 9);
    add_stop(60, 1, level_at(60) + 30)->lost = 400;
    strcpy(add_stop(10, 1, -90)->facing, "away");
    add_stop(10, 4, level_at(10));
    assert_int_equal(missing_by_stops(&m, &in, the_walk.stop, the_walk.count, &closed), 2);
    near("mean", m.db, 6, 1e-9);
    near("least", m.low_db, 3, 1e-9);
    near("most", m.high_db, 9, 1e-9);
}

/* --- what a difference is worth --------------------------------------------------------------- */

static double loss(double cloglog) {
    return -expm1(-exp(cloglog));
}

/* B stands at twice the distance of A, on the curve. */
static struct compare twice_as_far(const struct reach *r, double from_m) {
    struct compare c = {.lack = COMPARE_LACKS_NOTHING};
    c.a.rate = loss(-15 + r->fit.slope * log10(from_m));
    c.b.rate = loss(-15 + r->fit.slope * log10(2 * from_m));
    c.difference.rate = c.b.rate - c.a.rate;
    c.difference.limits = (struct stat_interval){c.difference.rate, c.difference.rate};
    return c;
}

static void test_worth(void **state) {
    (void)state;
    struct reach r = closed;
    struct worth w;
    struct compare c = twice_as_far(&r, 30);
    worth_find(&c, &r, &w);
    assert_int_equal(w.lack, WORTH_LACKS_NOTHING);
    near("distance", w.distance, 2, 1e-9);
    near("free space", w.free_db, -6.0206, 1e-4);
    near("near the ground", w.ground_db, -12.0412, 1e-4);
    assert_false(w.n_known);
    near("least", w.low_db, -12.0412, 1e-4);
    near("most", w.high_db, -6.0206, 1e-4);
    r.fit.slope_low = 4; /* the slope within half of itself either way */
    r.fit.slope_high = 12;
    r.exponent = (struct reach_exponent){.known = true, .n = 3, .n_se = 0.1};
    worth_find(&c, &r, &w);
    near("n = 3", w.db, -9.0309, 1e-4);
    near("least", w.low_db, -9.0309 * 3.196 / 3 / 0.5, 1e-3);
    near("most", w.high_db, -9.0309 * 2.804 / 3 / 1.5, 1e-3);
    c.difference.limits = (struct stat_interval){-c.a.rate, c.difference.rate};
    worth_find(&c, &r, &w); /* B may have lost none */
    assert_true(isinf(w.high_db) && w.high_db > 0 && isfinite(w.low_db));
}

static void test_worth_refuses(void **state) {
    (void)state;
    struct reach r = closed;
    struct worth w;
    struct compare c = twice_as_far(&r, 30);
    r.fit.rises = false;
    worth_find(&c, &r, &w);
    assert_int_equal(w.lack, WORTH_LACKS_SLOPE);
    r = closed;
    r.fit.known = false;
    worth_find(&c, &r, &w);
    assert_int_equal(w.lack, WORTH_LACKS_SLOPE);
    r = closed;
    c.b.rate = 0;
    worth_find(&c, &r, &w);
    assert_int_equal(w.lack, WORTH_NONE_OR_ALL);
    c.lack = COMPARE_LACKS_LOSS_A;
    worth_find(&c, &r, &w);
    assert_int_equal(w.lack, WORTH_LACKS_LOSS);
}

/* --- words and JSON of the walk --------------------------------------------------------------- */

static char text[16000];

static void sink(void *where, const char *bytes, size_t len) {
    (void)where;
    strncat(text, bytes, len);
}

static void has(const char *words) {
    if (!strstr(text, words))
        fail_msg("no \"%s\" in:\n%s", words, text);
}

static void has_not(const char *words) {
    if (strstr(text, words))
        fail_msg("\"%s\" in:\n%s", words, text);
}

/* The text into `text`; the JSON's root, to be given back. */
static json_t *tell(const struct reach *r, bool amplified) {
    struct reduced d;
    reduced_find(&the_walk, r, 4, amplified, 0, &d);
    struct walk_facts facts = {.file = "pond.csv", .full_step = 4, .reach = r, .reduced = &d};
    text[0] = '\0';
    walk_text(&the_walk, &facts, sink, NULL);
    char *json = walk_json(&the_walk, &facts);
    json_t *root = json_loads(json, 0, NULL);
    assert_non_null(root);
    free(json);
    return root;
}

static double number(json_t *root, const char *section, const char *key) {
    json_t *value = json_object_get(json_object_get(root, section), key);
    assert_true(json_is_number(value));
    return json_number_value(value);
}

static void is_null(json_t *root, const char *section, const char *key, const char *why) {
    char path[64];
    snprintf(path, sizeof path, "%s.%s", section, key);
    assert_true(json_is_null(json_object_get(json_object_get(root, section), key)));
    json_t *because = json_object_get(json_object_get(root, "unknown_because"), path);
    assert_string_equal(json_string_value(because), why);
}

static void test_tells_a_closed_range(void **state) {
    (void)state;
    struct reach r = closed;
    walk_new();
    add_stop(5, 1, -50);
    add_stop(20, 1, -60);
    add_stop(60, 1, -70)->lost = 400;
    r.exponent = (struct reach_exponent){true, 2.7, 0.2, 3.1, true, 8.5};
    r.flip = (struct reach_flip){true, 5, 12.34, 20};
    json_t *root = tell(&r, false);
    has("10 % of the packets are lost at 40.0 m (95 %: 32.0 to 48.0 m)");
    has("by 8 stops of 5 to 70 m; 2 of another heading or power, or without packets, left out");
    has("37 packets that must have been lost are assumed (in no count)");
    has("first at 60 m");
    has("no farther than 8 m for flying: a quarter of the lower end of the"); /* not 15 m */
    has("n = 2.70");
    has("8.5 dB over the sensitivity");
    has("less than half of the looks from 12.3 m on (stops at 5 and 20 m)");
    has("18 dB more (6 dB a step, each within 4 dB");
    has("90.2 to 381 m, 186 m by the level's own fall");
    has("walk it at full power before you rely on it");
    near("m", number(root, "range", "m"), 40, 0);
    near("slope", number(root, "fit", "slope"), 8, 0);
    near("n", number(root, "exponent", "n"), 2.7, 0);
    near("flip", number(root, "carrier", "m"), 12.34, 0);
    near("full", number(root, "full_power", "low_m"), 32 * 2.81838, 1e-3);
    json_decref(root);
}

/* A quarter of the first failure, but nothing beyond what held, and nothing where nothing did. */
static void test_plans_no_farther_than_seen(void **state) {
    (void)state;
    struct reach none = {.verdict = REACH_FEW, .at_most_m = INFINITY};
    struct walk_plan p;
    walk_new();
    add_stop(20, 4, -60)->got = 100; /* few packets */
    walk_plan(&the_walk, &none, false, &p);
    assert_false(p.held || p.failed || p.at_least);
    assert_true(p.planned_m < 0);
    add_stop(80, 4, -60)->lost = 400;
    walk_plan(&the_walk, &none, false, &p);
    assert_true(p.failed && p.planned_m < 0);
    add_stop(10, 4, -60);
    walk_plan(&the_walk, &none, false, &p);
    assert_true(p.held && p.by == PLAN_ALL_HELD && p.planned_m == 10);
    add_stop(60, 4, -60);
    walk_plan(&the_walk, &none, false, &p);
    assert_true(p.by == PLAN_FAILED && p.planned_m == 20);
    walk_plan(&the_walk, &closed, false, &p); /* 32 m at its lower end */
    assert_true(p.by == PLAN_RANGE && p.planned_m == 8);
}

static void test_tells_a_refusal(void **state) {
    (void)state;
    struct reach r = {.verdict = REACH_NEVER_LOST,
                      .loss_limit = 0.05,
                      .stops = 5,
                      .nearest_m = 5,
                      .farthest_m = 50,
                      .at_least_m = 50,
                      .at_most_m = INFINITY,
                      .step_known = true,
                      .step = 4,
                      .steps = 4};
    walk_new();
    add_stop(50, 4, -60)->rssi.count = 0;
    json_t *root = tell(&r, false);
    has("no distance for 5 % loss: never lost enough");
    has("No stop lost as much as the limit. Walk farther, or lower");
    has("at least 50.0 m, as far as you walked");
    has_not("at most");
    has_not("at full");
    has_not("carrier   ");
    is_null(root, "range", "m", "never lost enough");
    is_null(root, "range", "high_m", "never lost enough");
    is_null(root, "range", "at_most_m", "not shown");
    is_null(root, "fit", "slope", "never lost enough");
    is_null(root, "exponent", "n", "rssi");
    is_null(root, "carrier", "m", "heard");
    is_null(root, "full_power", "high_m", "walked at full power");
    near("at least", number(root, "range", "at_least_m"), 50, 0);
    json_decref(root);
}

static void test_tells_amplified(void **state) {
    (void)state;
    walk_new();
    add_stop(5, 1, -50);
    json_t *root = tell(&closed, true);
    has("at full   not shown: amplifiers saturate");
    has("step 1 of 4: reduced. Put the transmitter back to full power");
    is_null(root, "full_power", "low_m", "amplified");
    json_decref(root);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reduced),
        cmocka_unit_test(test_reduced_on_one_spot),
        cmocka_unit_test(test_missing_by_range),
        cmocka_unit_test(test_missing_by_level),
        cmocka_unit_test(test_worth),
        cmocka_unit_test(test_worth_refuses),
        cmocka_unit_test(test_tells_a_closed_range),
        cmocka_unit_test(test_plans_no_farther_than_seen),
        cmocka_unit_test(test_tells_a_refusal),
        cmocka_unit_test(test_tells_amplified),
    };
    return cmocka_run_group_tests_name("field", tests, NULL, NULL);
}
