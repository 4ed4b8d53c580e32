/* Controls: each verdict by a scene of the simulated receiver, what only lines can show, and the
 * wrong paths.  The limits are common practice: ends 1000 and 2000 within 20 µs, centre within 10,
 * rests within 10 of one another, cross-talk below 5, throttle low at 1020 or less. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "simulator/simulator.h"
#include "trial_drive.h"

#include "hand.h"
#include "judge/travel.h"
#include "telemetry/telemetry.h"
#include "trial/kinds.h"

static const struct drive_act right[] = {{"clear", 0.5, DRIVE_ANSWER, 1, false},
                                         {"way", 2, DRIVE_ANSWER, 1, false},
                                         {"meant", 1, DRIVE_ANSWER, 1, false}};
enum { RIGHT = sizeof right / sizeof *right };
static struct drive_result result;

static struct trial_rules throttle_rules(int16_t channel) {
    struct trial_rules rules;
    trial_rules_default(&rules);
    limits_one_motor(&rules.bench, channel, IDLE_LOW);
    return rules;
}

static void play(const char *scene, double seconds, const struct drive_act *acts, size_t count) {
    struct trial_rules rules = throttle_rules(1);
    snprintf(rules.bench.channel_name[0], NAME_MAX_BYTES, "rudder");
    struct drive_plan plan = {TRIAL_CONTROLS, 0.5, acts, count, &rules};
    struct drive *d = drive_new(&plan);
    drive_scene(d, simulator_scene_find(scene), 3, seconds);
    drive_end(d, &result);
}

static void is(enum trial_verdict verdict, const char *name, enum trial_verdict found,
               const char *text) {
    const struct trial_finding *f = drive_finding(&result, name);
    if (result.outcome.verdict != verdict || f == NULL || f->verdict != found ||
        strstr(f->text, text) == NULL) {
        drive_print(&result);
        fail_msg("wanted %s, %s: %s", trial_verdict_name(verdict), name, text);
    }
}

static uint32_t count_of(enum trial_verdict verdict) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < result.outcome.count; i++)
        count += result.outcome.finding[i].verdict == verdict;
    return count;
}

static bool about(const char *name, double low, double high, double off) {
    const struct trial_finding *f = drive_finding(&result, name);
    return f != NULL && fabs(f->low - low) <= off && fabs(f->high - high) <= off;
}

/* --- scenes */

static void all_right(void **state) {
    (void)state;
    play("sticks", 123, right, RIGHT);
    assert_string_equal(result.route, "clear still move flick way move flick way move flick way "
                                      "move way move way meant move way");
    is(TRIAL_PASSED, "throttle_idle", TRIAL_PASSED, "idle (its low end, 1000");
    is(TRIAL_PASSED, "travel_ch1", TRIAL_PASSED, "1 rudder: ");
    assert_true(about("travel_ch1", 1000, 2000, 3));
    assert_true(about("return_ch1", 1497, 1497, 1.5)); /* the model's rest */
    assert_true(about("return_ch3", 1503, 1503, 1.5));
    assert_true(about("throttle_idle", 1004, 1004, 1));
    is(TRIAL_PASSED, "direction_ch6", TRIAL_PASSED, "as the person saw it");
    is(TRIAL_PASSED, "travel_ch5", TRIAL_PASSED, "a switch of 2 positions");
    is(TRIAL_PASSED, "drives_ch5", TRIAL_PASSED, "its stick also drives channel 7; meant so");
    is(TRIAL_PASSED, "travel_ch8", TRIAL_NOT_SHOWN, "no stick of its own");
    assert_null(drive_finding(&result, "return_ch2")); /* what rests at its end has no centre */
    /* drives, travel, smooth, return, direction, others; the throttle has no centre, a switch can't
     * be judged for smoothness either */
    assert_int_equal(count_of(TRIAL_PASSED), 1 + 3 * 6 + 5 + 2 * 4);
}

/* Without a model file all but the throttle is shown; the model file can come later. */
static void throttle_unnamed(void **state) {
    struct drive_plan plan = {TRIAL_CONTROLS, 0.5, right, RIGHT, NULL};
    struct drive *d = drive_new(&plan);
    (void)state;
    drive_scene(d, simulator_scene_find("sticks"), 3, 123);
    drive_end(d, &result);
    is(TRIAL_NOT_SHOWN, "throttle_idle", TRIAL_NOT_SHOWN, "no model file says");
    assert_int_equal(count_of(TRIAL_PASSED), 3 * 6 + 5 + 2 * 4);
    assert_non_null(strstr(result.outcome.next, "in a model file"));
}

static void all_wrong(void **state) {
    static const struct drive_act wrong[] = {{"clear", 0.5, DRIVE_ANSWER, 1, false},
                                             {"way", 2, DRIVE_ANSWER, 0, true},
                                             {"way", 2.5, DRIVE_ANSWER, 1, false},
                                             {NULL, 97, DRIVE_SKIP, 0, false}};
    (void)state;
    play("crooked", 98, wrong, 4);
    is(TRIAL_FAILED, "throttle_idle", TRIAL_FAILED, "1040 µs, which isn't idle");
    is(TRIAL_FAILED, "travel_ch1", TRIAL_FAILED, " to 190");
    assert_true(about("travel_ch1", 1000, 1900, 3));
    is(TRIAL_FAILED, "direction_ch1", TRIAL_FAILED, "the wrong way");
    is(TRIAL_FAILED, "others_ch3", TRIAL_FAILED, "moves 1 rudder too, by 1");
    is(TRIAL_FAILED, "return_ch4", TRIAL_FAILED, "a dead band of 1");
    is(TRIAL_FAILED, "travel_ch2", TRIAL_NOT_SHOWN, "never moved");
    assert_true(about("return_ch4", 1490, 1508, 1.5));
    assert_true(about("others_ch3", 12, 12, 3)); /* 1485 and 1511, about 1497 */
    assert_int_equal(count_of(TRIAL_FAILED), 5);
    assert_non_null(strstr(result.outcome.next, "throttle's trim"));
    assert_string_equal(result.outcome.headline,
                        "Not right: the throttle doesn't rest at idle, and 4 more.");
}

static void two_at_once(void **state) {
    static const struct drive_act end[] = {{"clear", 0.5, DRIVE_ANSWER, 1, false},
                                           {"way", 2, DRIVE_ANSWER, 1, false},
                                           {"meant", 1, DRIVE_ANSWER, 1, false},
                                           {NULL, 58, DRIVE_SKIP, 0, false}};
    (void)state;
    play("calm", 60, end, 4);
    assert_non_null(strstr(result.route, "clear still move again move"));
    is(TRIAL_NOT_SHOWN, "travel_ch1", TRIAL_NOT_SHOWN, "moved only together with another");
    is(TRIAL_NOT_SHOWN, "travel_ch5", TRIAL_PASSED, "a switch of 2 positions");
    assert_null(drive_finding(&result, "direction_ch1"));
    assert_true(result.entry.ended);
}

static void nothing_moved(void **state) {
    static const struct drive_act end[] = {{"clear", 0.5, DRIVE_ANSWER, 1, false},
                                           {"move", 5, DRIVE_ANSWER, 1, false}};
    (void)state;
    play("shaky", 20, end, 2);
    assert_string_equal(result.route, "clear still move");
    is(TRIAL_NOT_SHOWN, "travel_ch1", TRIAL_NOT_SHOWN, "never moved");
    assert_int_equal(count_of(TRIAL_PASSED), 1); /* the throttle's rest was seen */
}

static void steps_skipped(void **state) {
    static const struct drive_act flick[] = {{"clear", 0.5, DRIVE_ANSWER, 1, false},
                                             {"flick", 1, DRIVE_SKIP, 0, true},
                                             {"way", 2, DRIVE_ANSWER, 1, false}};
    static const struct drive_act way[] = {{"clear", 0.5, DRIVE_ANSWER, 1, false},
                                           {"way", 2, DRIVE_SKIP, 0, true},
                                           {"way", 2.5, DRIVE_ANSWER, 1, false}};
    static const struct drive_act no[] = {{"clear", 0.5, DRIVE_ANSWER, 0, false}};
    static const struct drive_act unread[] = {{"clear", 0.5, DRIVE_SKIP, 0, false}};
    static const struct drive_act quit[] = {{"clear", 0.5, DRIVE_ANSWER, 1, false},
                                            {"flick", 3, DRIVE_QUIT, 0, false}};
    (void)state;
    play("sticks", 124, flick, 3);
    is(TRIAL_NOT_SHOWN, "return_ch1", TRIAL_NOT_SHOWN, "came back 0 times from below");
    play("sticks", 124, way, 3);
    is(TRIAL_NOT_SHOWN, "direction_ch1", TRIAL_NOT_SHOWN, "the lines can't tell");
    play("sticks", 40, no, 1);
    is(TRIAL_NOT_SHOWN, "travel_ch1", TRIAL_NOT_SHOWN, "never moved");
    assert_string_equal(result.route, "clear");
    assert_int_equal(count_of(TRIAL_PASSED), 0);
    play("sticks", 40, unread, 1);
    assert_int_equal(count_of(TRIAL_PASSED), 0);
    play("sticks", 40, quit, 2);
    assert_int_equal(result.stands, TRIAL_NOT_SHOWN);
    assert_true(result.entry.quit);
    is(TRIAL_NOT_SHOWN, "return_ch1", TRIAL_NOT_SHOWN, "3 each are wanted");
}

static void port_lost(void **state) {
    (void)state;
    struct trial_rules rules = throttle_rules(1);
    struct drive_plan plan = {TRIAL_CONTROLS, 0.5, right, RIGHT, &rules};
    struct drive *d = drive_new(&plan);
    drive_scene(d, simulator_scene_find("sticks"), 3, 17); /* the rudder at one end */
    drive_port(d, 17.1, PORT_LOST, "");
    drive_until(d, 60);
    drive_end(d, &result);
    assert_true(result.entry.port_lost);
    is(TRIAL_NOT_SHOWN, "travel_ch1", TRIAL_NOT_SHOWN, "not moved to both ends");
    assert_null(drive_finding(&result, "return_ch2"));
}

/* --- lines */

static struct drive *begin(const struct trial_rules *rules, const struct drive_act *acts,
                           size_t count) {
    struct drive_plan plan = {TRIAL_CONTROLS, 0.5, acts, count, rules};
    return drive_new(&plan);
}

static void sweep(struct hand *h, unsigned c, double low, double high, double rest) {
    hand_move(h, c, low, 1.5);
    hand_wait(h, 0.5);
    hand_move(h, c, high, 2.5);
    hand_wait(h, 0.5);
    hand_move(h, c, rest, 1);
    hand_wait(h, 1.5);
}

static void flick(struct hand *h, unsigned c, double rest) {
    for (int i = 0; i < 6; i++) {
        hand_move(h, c, rest + (i < 3 ? -250 : 250), 0.2);
        hand_move(h, c, rest, 0.1);
        hand_wait(h, 1.5);
    }
}

/* Any number of channels, without the sticks' own values in the lines. */
static void one_to_sixteen(void **state) {
    (void)state;
    for (unsigned channels = 1; channels <= 16; channels += 5) {
        struct trial_rules rules = throttle_rules(-1);
        limits_one_motor(&rules.bench, 0, IDLE_LOW);
        struct drive *d = begin(&rules, right, RIGHT);
        struct hand h = hand_new(d, channels, 1500);
        h.value[0] = 1010;
        hand_wait(&h, 6);
        sweep(&h, 0, 1010, 1995, 1010);
        hand_wait(&h, 3);
        for (unsigned c = 1; c < channels; c++) {
            sweep(&h, c, 1005, 1990, 1500);
            flick(&h, c, 1500);
            hand_wait(&h, 3);
        }
        drive_end(d, &result);
        is(TRIAL_PASSED, "throttle_idle", TRIAL_PASSED, "rests at 1010");
        assert_true(result.entry.ended);
        assert_int_equal(result.outcome.count, 2 + (channels > 1 ? 4u : 3u) + 5 * (channels - 1));
    }
}

static void throttle(void **state) {
    static const struct {
        const char *legend;
        enum motor_idle idle;
        double rest, far;
        enum trial_verdict verdict;
        const char *text;
    } cases[] = {
        {"low", IDLE_LOW, 1019, 2000, TRIAL_PASSED, "idle (its low end"},
        {"too far up", IDLE_LOW, 1025, 2000, TRIAL_FAILED, "isn't idle"},
        {"reversed", IDLE_LOW, 2000, 1000, TRIAL_FAILED, "isn't idle"},
        {"idle is high", IDLE_HIGH, 1990, 1000, TRIAL_PASSED, "idle (its high end"},
        {"idle is high, reversed", IDLE_HIGH, 1000, 2000, TRIAL_FAILED, "isn't idle"},
        {"a controller that reverses", IDLE_MIDDLE, 1510, 2000, TRIAL_PASSED, "idle (the middle"},
        {"its stick at an end", IDLE_MIDDLE, 1000, 2000, TRIAL_FAILED, "isn't idle"},
        {"off the middle", IDLE_MIDDLE, 1470, 2000, TRIAL_FAILED, "isn't idle"},
    };
    static const struct drive_act end[] = {{"clear", 0.5, DRIVE_ANSWER, 1, false},
                                           {"move", 1, DRIVE_ANSWER, 1, false}};
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct trial_rules rules = throttle_rules(0);
        limits_one_motor(&rules.bench, 0, cases[i].idle);
        struct drive *d = begin(&rules, end, 2);
        struct hand h = hand_new(d, 1, cases[i].rest);
        h.jitter = 1;
        hand_wait(&h, 10);
        drive_end(d, &result);
        const struct trial_finding *f = drive_finding(&result, "throttle_idle");
        if (f->verdict != cases[i].verdict || strstr(f->text, cases[i].text) == NULL)
            fail_msg("%s: %s", cases[i].legend, f->text);
    }
    struct drive *d = begin(NULL, end, 2);
    struct hand h = hand_new(d, 1, 1000);
    hand_wait(&h, 10);
    drive_end(d, &result);
    is(TRIAL_NOT_SHOWN, "throttle_idle", TRIAL_NOT_SHOWN, "no model file says");
    assert_string_equal(drive_finding(&result, "throttle_idle")->missing, "throttle");
}

/* Another stick than the one that is asked for. */
static void wrong_stick(void **state) {
    static const struct drive_act end[] = {{"clear", 0.5, DRIVE_ANSWER, 1, false},
                                           {"flick", 14, DRIVE_ANSWER, 1, false},
                                           {"way", 2, DRIVE_ANSWER, 1, false}};
    (void)state;
    struct drive *d = begin(NULL, end, 3);
    struct hand h = hand_new(d, 2, 1500);
    hand_wait(&h, 6);
    sweep(&h, 0, 1000, 2000, 1500);
    flick(&h, 1, 1500);
    hand_wait(&h, 10);
    drive_end(d, &result);
    is(TRIAL_NOT_SHOWN, "return_ch1", TRIAL_NOT_SHOWN, "came back 0 times from below");
    is(TRIAL_NOT_SHOWN, "travel_ch2", TRIAL_NOT_SHOWN, "never moved");
}

/* Two channels that one stick drives look like two sticks, unless the lines have its value. */
static void mixed_channels(void **state) {
    static const struct drive_act end[] = {{"clear", 0.5, DRIVE_ANSWER, 1, false},
                                           {"way", 2, DRIVE_ANSWER, 1, false},
                                           {NULL, 45, DRIVE_SKIP, 0, false}};
    (void)state;
    for (unsigned inputs = 0; inputs <= 1; inputs++) {
        struct drive *d = begin(NULL, end, 3);
        struct hand h = hand_new(d, 2, 1500);
        h.inputs = inputs;
        hand_wait(&h, 6);
        hand_move_all(&h, 3, 1000, 2);
        hand_move_all(&h, 3, 2000, 3);
        hand_move_all(&h, 3, 1500, 1);
        hand_wait(&h, 2);
        flick(&h, 0, 1500);
        hand_wait(&h, 30);
        drive_end(d, &result);
        if (inputs == 0)
            is(TRIAL_NOT_SHOWN, "travel_ch2", TRIAL_NOT_SHOWN, "only together with another");
        else
            is(TRIAL_NOT_SHOWN, "others_ch1", TRIAL_NOT_SHOWN, "wasn't seen");
        is(TRIAL_NOT_SHOWN, "travel_ch1", inputs == 0 ? TRIAL_NOT_SHOWN : TRIAL_PASSED, "");
    }
}

static void switch_of_three(void **state) {
    (void)state;
    struct drive *d = begin(NULL, right, RIGHT);
    struct hand h = hand_new(d, 1, 1000);
    hand_wait(&h, 6);
    for (int i = 1; i <= 4; i++) {
        static const double to[] = {0, 1500, 2000, 1500, 1000};
        hand_move(&h, 0, to[i], 0);
        hand_wait(&h, 1.5);
    }
    hand_wait(&h, 5);
    drive_end(d, &result);
    is(TRIAL_NOT_SHOWN, "travel_ch1", TRIAL_PASSED, "a switch of 3 positions");
}

/* Steps of 8 µs: 125 from end to end. */
static void coarse_steps(void **state) {
    (void)state;
    struct drive *d = begin(NULL, right, RIGHT);
    struct hand h = hand_new(d, 1, 1000);
    h.step = 8;
    h.jitter = 0;
    hand_wait(&h, 6);
    hand_move(&h, 0, 2000, 6);
    hand_wait(&h, 1);
    hand_move(&h, 0, 1000, 6);
    hand_wait(&h, 5);
    drive_end(d, &result);
    is(TRIAL_NOT_SHOWN, "travel_ch1", TRIAL_PASSED, "nearer than 8: coarse");
}

/* The builder's own ends, and a converter's values. */
static void own_span(void **state) {
    static const struct {
        const char *id;
        double low, high;
        enum trial_verdict verdict;
        const char *text, *missing;
    } cases[] = {
        {"id end=rx fw=t unit=us span=1100,1900 chans=1", 1085, 1915, TRIAL_PASSED,
         "wanted 1100 and 1900", NULL},
        {"id end=rx fw=t unit=us span=1100,1900 chans=1", 1000, 1900, TRIAL_FAILED, "1000 to 1900",
         NULL},
        {"id end=rx fw=t unit=raw span=0,3000 chans=1", 55, 2945, TRIAL_PASSED, "within 60", NULL},
        {"id end=rx fw=t unit=raw span=0,3000 chans=1", 70, 2945, TRIAL_FAILED, "within 60", NULL},
        {"id end=rx fw=t unit=raw chans=1", 0, 2000, TRIAL_NOT_SHOWN, "isn't told", "span"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct drive *d = begin(NULL, right, RIGHT);
        double rest = (cases[i].low + cases[i].high) / 2;
        struct hand h = hand_new(d, 1, rest);
        h.jitter = 0;
        drive_line(d, 0.01, cases[i].id);
        hand_wait(&h, 6);
        sweep(&h, 0, cases[i].low, cases[i].high, rest);
        hand_wait(&h, 3);
        drive_end(d, &result);
        const struct trial_finding *f = drive_finding(&result, "travel_ch1");
        if (f == NULL || f->verdict != cases[i].verdict || strstr(f->text, cases[i].text) == NULL) {
            drive_print(&result);
            fail_msg("case %zu", i);
        }
        if (cases[i].missing != NULL)
            assert_string_equal(f->missing, cases[i].missing);
    }
}

/* The receiver's own values in failsafe are no movement. */
static void failsafe_meanwhile(void **state) {
    static const struct drive_act end[] = {{"clear", 0.5, DRIVE_ANSWER, 1, false},
                                           {"move", 20, DRIVE_ANSWER, 1, false}};
    (void)state;
    struct drive *d = begin(NULL, end, 2);
    struct hand h = hand_new(d, 2, 1500);
    hand_wait(&h, 8);
    for (int i = 0; i < 3; i++) {
        h.failsafe = true;
        hand_wait(&h, 2);
        h.failsafe = false;
        hand_wait(&h, 2);
    }
    hand_wait(&h, 12);
    drive_end(d, &result);
    assert_string_equal(result.route, "clear still move");
    is(TRIAL_NOT_SHOWN, "travel_ch1", TRIAL_NOT_SHOWN, "never moved");
}

/* --- what the console shows */

static struct trial_pane pane;

/* The road without a guide: the kind is told its steps. */
struct pane_road {
    struct telemetry telemetry;
    struct bench *bench;
    struct snapshot s;
    struct trial_place place;
    void *state;
    bool entered;
};

static void pane_take(void *context, const struct event *e) {
    struct pane_road *k = context;
    bench_feed(k->bench, e);
    bench_read(k->bench, &k->s);
    trial_controls.take(k->state, bench_moment(k->bench), &k->s, &k->place, k->entered);
    k->entered = false;
}

static void pane_put(void *where, const char *bytes, size_t len) {
    struct pane_road *k = where;
    telemetry_feed(&k->telemetry, bytes, len, TIME_UNKNOWN);
}

/* The steps clear, still, move, again, flick, way are entered at these times; negative: not. */
static void pane_at(const char *scene, const double entered_s[6], double until_s) {
    static struct pane_road k;
    struct trial_rules rules = throttle_rules(1);
    struct simulator *p = simulator_new(simulator_scene_find(scene), 3, pane_put, &k);
    memset(&k, 0, sizeof k);
    snprintf(rules.bench.channel_name[0], NAME_MAX_BYTES, "rudder");
    k.bench = bench_new(&rules.bench);
    k.state = test_calloc(1, trial_controls.size);
    trial_controls.begin(k.state, &rules);
    telemetry_init(&k.telemetry, pane_take, &k);
    for (uint32_t step = 0; step < 6; step++) {
        if (entered_s[step] < 0)
            continue;
        simulator_run(p, (int64_t)(entered_s[step] * 1e6));
        k.place = (struct trial_place){.step = step, .answered = step == 0, .answer = 1};
        k.entered = true;
    }
    simulator_run(p, (int64_t)(until_s * 1e6));
    trial_controls.pane(k.state, &k.s, &k.place, &pane);
    simulator_free(p);
    bench_free(k.bench);
    test_free(k.state);
}

static void panes(void **state) {
    (void)state;
    pane_at("sticks", (const double[6]){0, 2, 6, -1, -1, -1}, 17);
    assert_string_equal(pane.line[0], "1 rudder: low end seen, high end not yet");
    assert_string_equal(
        pane.line[1],
        "1 rudder            [-------------|-----O........       999..1695"); /* on its way */
    assert_string_equal(pane.line[2], "channel 2           O............................       ");
    assert_int_equal(pane.lines, 9);
    assert_false(pane.seen);
    pane_at("sticks", (const double[6]){0, 2, 6, -1, 20, -1}, 29);
    assert_string_equal(pane.line[0], "1 rudder: 3 of 3 from below, 1 of 3 from above");
    assert_string_equal(pane.line[1],
                        "1 rudder            [-------------O-------------]       999..2000");
    pane_at("sticks", (const double[6]){0, 2, 6, -1, 20, 35}, 36);
    assert_string_equal(pane.line[0], "this one: 1 rudder");
    pane_at("calm", (const double[6]){0, 1, 4.9, 12, -1, -1}, 14);
    assert_string_equal(pane.line[0], "moved together: 1 rudder channel 2 channel 3");
}

/* --- the picture */

static void picture(void **state) {
    static const struct stick_map map = {.low = 1000, .high = 2000, .scale = 1};
    char bar[STICK_BAR + 1];
    (void)state;
    struct stick_marks marks = {1000, 2000, 1500, NAN, NAN, NAN};
    stick_bar(&map, &marks, bar); /* 35 µs a column from 800 on */
    assert_string_equal(bar, "      [-------------|-------------]      ");
    marks = (struct stick_marks){1100, 1800, 1500, 1460, 1530, 1000};
    stick_bar(&map, &marks, bar);
    assert_string_equal(bar, "      O..[---------<->-------].....      ");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_right),
        cmocka_unit_test(throttle_unnamed),
        cmocka_unit_test(all_wrong),
        cmocka_unit_test(two_at_once),
        cmocka_unit_test(nothing_moved),
        cmocka_unit_test(steps_skipped),
        cmocka_unit_test(port_lost),
        cmocka_unit_test(one_to_sixteen),
        cmocka_unit_test(throttle),
        cmocka_unit_test(wrong_stick),
        cmocka_unit_test(mixed_channels),
        cmocka_unit_test(switch_of_three),
        cmocka_unit_test(coarse_steps),
        cmocka_unit_test(own_span),
        cmocka_unit_test(failsafe_meanwhile),
        cmocka_unit_test(picture),
        cmocka_unit_test(panes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
