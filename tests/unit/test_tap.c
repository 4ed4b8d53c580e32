/* The trial of tapping, end to end.  Outside figure: given their sum, events under the hand are
 * binomial with the share of time, so that x events in 15 s and none in 30 s have the probability
 * (1/3)^x: 1/81 for four, 1/243 for five (hand calculation). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "trial_drive.h"

#include "dice.h"
#include "simulator/simulator.h"
#include "trial/kinds.h"
#include "trial_watch.h"

#define COUNT(table) (sizeof(table) / sizeof(table)[0])

static void expect(const struct drive_result *r, const char *name, enum trial_verdict verdict,
                   const char *words) {
    const struct trial_finding *f = drive_finding(r, name);
    if (f == NULL || f->verdict != verdict || strstr(f->text, words) == NULL) {
        drive_print(r);
        fail_msg("%s should be %s: ...%s...", name, trial_verdict_name(verdict), words);
    }
}

static void expect_all(const struct drive_result *r, enum trial_verdict verdict) {
    if (r->outcome.verdict != verdict) {
        drive_print(r);
        fail_msg("should be %s", trial_verdict_name(verdict));
    }
}

enum { RADIO, ANTENNA, BOARD, POWER, SERVOS, TRANSMITTER, FINISH };

/* The calm time, then the antenna, which is loose in that scene, then the others. */
static const struct drive_act all_parts[] = {
    {"caution", 0, DRIVE_ANSWER, 1, false},           {"choose", 0, DRIVE_ANSWER, ANTENNA, true},
    {"choose", 0.1, DRIVE_ANSWER, RADIO, true},       {"choose", 0.2, DRIVE_ANSWER, BOARD, true},
    {"choose", 0.3, DRIVE_ANSWER, POWER, true},       {"choose", 0.4, DRIVE_ANSWER, SERVOS, true},
    {"choose", 0.5, DRIVE_ANSWER, TRANSMITTER, true}, {"choose", 0.6, DRIVE_ANSWER, FINISH, true},
};

static void run(struct drive_result *r, const char *scene, double begin_s, double seconds,
                const struct drive_act *acts, size_t count) {
    struct drive_plan plan = {TRIAL_TAP, begin_s, acts, count, NULL};
    struct drive *d = drive_new(&plan);
    drive_scene(d, simulator_scene_find(scene), 1, seconds);
    drive_end(d, r);
}

/* Six knocks in the 15 s after the calm time; the second round of the scene has them in its own. */
static void test_loose_antenna(void **state) {
    static struct drive_result r;
    static const struct drive_act acts[] = {
        {"caution", 0, DRIVE_ANSWER, 1, false},
        {"choose", 0, DRIVE_ANSWER, ANTENNA, true},
        {"choose", 0.1, DRIVE_ANSWER, RADIO, true},
        {"choose", 0.2, DRIVE_ANSWER, FINISH, true},
    };
    (void)state;
    run(&r, "knocked", 1, 90, acts, COUNT(acts));
    assert_string_equal(r.route, "caution calm choose tap choose tap choose");
    expect_all(&r, TRIAL_FAILED);
    expect(&r, "calm", TRIAL_PASSED, "nothing in 30 s");
    expect(&r, "antenna", TRIAL_FAILED,
           "antenna: 6 events in 15 s, 0 in 30 s of calm (packets lost: 6)");
    expect(&r, "radio_module", TRIAL_PASSED, "nothing in 15 s");
    expect(&r, "power_lead", TRIAL_NOT_TRIED, "not tapped");
    assert_non_null(strstr(r.outcome.next, "antenna"));
}

static void test_nothing_loose(void **state) {
    static struct drive_result r;
    (void)state;
    run(&r, "calm", 1, 140, all_parts, COUNT(all_parts));
    expect_all(&r, TRIAL_PASSED);
    assert_string_equal(
        r.route, "caution calm choose tap choose tap choose tap choose tap choose tap choose tap "
                 "choose");
    /* Nothing in 15 s: fewer than -ln(0.05) / 0.25 min = 12 a minute */
    expect(&r, "antenna", TRIAL_PASSED, "fewer than 12 events a minute (95 %)");
}

/* Lines of a whole link at 20 reports a second. */
static void quiet(struct drive *d, double from_s, double to_s, const char *keys) {
    for (int n = (int)(from_s * 20 + 0.5); n < (int)(to_s * 20 + 0.5); n++) {
        char line[200];
        snprintf(line, sizeof line, "rx n=%d t=%d ch=1500,1000 %s", n + 1, n * 50, keys);
        if (strstr(keys, "got") != NULL)
            snprintf(line, sizeof line, "rx n=%d t=%d ch=1500,1000 got=%d lost=0 reg=ok", n + 1,
                     n * 50, n * 2);
        drive_line(d, n / 20.0, line);
    }
}

enum fault { FAULT_REGISTERS, FAULT_MISSING };

/* `faults` of a kind while the radio module is tapped, 15 s after 30 s of calm, 2 s apart. */
static void by_lines(struct drive_result *r, enum fault fault, int faults, const char *keys) {
    static const struct drive_act acts[] = {
        {"caution", 0, DRIVE_ANSWER, 1, false},
        {"choose", 0, DRIVE_ANSWER, RADIO, true},
        {"choose", 0.1, DRIVE_ANSWER, FINISH, true},
    };
    struct drive_plan plan = {TRIAL_TAP, 1, acts, COUNT(acts), NULL};
    struct drive *d = drive_new(&plan);
    double at = 34;
    quiet(d, 0, at, keys);
    for (int i = 0; i < faults; i++, at += 2) {
        char line[200];
        int n = (int)(at * 20 + 0.5);
        snprintf(line, sizeof line, "rx n=%d t=%d ch=1500,1000 got=%d lost=0 reg=%s", n + 1, n * 50,
                 n * 2, fault == FAULT_REGISTERS ? "default" : "ok");
        if (fault == FAULT_REGISTERS)
            drive_line(d, at, line);
        quiet(d, at + 0.05, at + 2, keys); /* else that line is missing */
    }
    quiet(d, at, 52, keys);
    drive_end(d, r);
}

static void test_registers(void **state) {
    static struct drive_result r;
    (void)state;
    by_lines(&r, FAULT_REGISTERS, 5, "got");
    expect_all(&r, TRIAL_FAILED);
    expect(&r, "radio_module", TRIAL_FAILED, "registers changed: 5");
    by_lines(&r, FAULT_REGISTERS, 4, "got");
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "radio_module", TRIAL_NOT_SHOWN, "tapped for 30 s like this it would be sure");
    by_lines(&r, FAULT_REGISTERS, 0, "got");
    expect(&r, "radio_module", TRIAL_PASSED, "nothing in 15 s");
}

/* Lines that go missing while a part is tapped blame the serial lead, not the radio. */
static void test_serial_lead(void **state) {
    static struct drive_result r;
    (void)state;
    by_lines(&r, FAULT_MISSING, 6, "got");
    expect_all(&r, TRIAL_FAILED);
    expect(&r, "radio_module", TRIAL_FAILED, "all on the serial lead");
    assert_non_null(strstr(r.outcome.next, "serial lead"));
}

static void test_without_counters(void **state) {
    static struct drive_result r;
    (void)state;
    by_lines(&r, FAULT_MISSING, 0, "fs=0");
    expect_all(&r, TRIAL_NOT_SHOWN);
    assert_string_equal(drive_finding(&r, "radio_module")->missing, "got");
}

/* No packet at all while the part is tapped, since before: nothing is lost then, and nothing seen.
 */
static void test_link_down(void **state) {
    static const struct drive_act acts[] = {
        {"caution", 0, DRIVE_ANSWER, 1, false},
        {"choose", 4, DRIVE_ANSWER, RADIO, true},
        {"choose", 4.1, DRIVE_ANSWER, FINISH, true},
    };
    static struct drive_result r;
    struct drive_plan plan = {TRIAL_TAP, 1, acts, COUNT(acts), NULL};
    struct drive *d = drive_new(&plan);
    (void)state;
    quiet(d, 0, 33, "got");
    for (int n = 33 * 20; n < 62 * 20; n++) {
        char line[200];
        snprintf(line, sizeof line, "rx n=%d t=%d ch=1500,1000 got=1320 lost=0 reg=ok", n + 1,
                 n * 50);
        drive_line(d, n / 20.0, line);
    }
    drive_end(d, &r);
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "calm", TRIAL_PASSED, "nothing in 30 s");
    expect(&r, "radio_module", TRIAL_NOT_SHOWN, "nothing in 0 s with packets");
}

static void test_wrong_paths(void **state) {
    static struct drive_result r;
    static const struct drive_act no[] = {{"caution", 0, DRIVE_ANSWER, 0, false}};
    static const struct drive_act no_calm[] = {{"caution", 0, DRIVE_ANSWER, 1, false},
                                               {"calm", 3, DRIVE_SKIP, 0, false},
                                               {"choose", 0, DRIVE_ANSWER, ANTENNA, true},
                                               {"choose", 0.1, DRIVE_ANSWER, FINISH, true}};
    static const struct drive_act no_tap[] = {{"caution", 0, DRIVE_ANSWER, 1, false},
                                              {"choose", 0, DRIVE_ANSWER, ANTENNA, true},
                                              {"tap", 2, DRIVE_SKIP, 0, false},
                                              {"choose", 0.1, DRIVE_ANSWER, FINISH, true}};
    static const struct drive_act quit[] = {{"caution", 0, DRIVE_ANSWER, 1, false},
                                            {"choose", 0, DRIVE_ANSWER, ANTENNA, true},
                                            {"tap", 6, DRIVE_QUIT, 0, false}};
    (void)state;
    run(&r, "calm", 1, 60, no, COUNT(no));
    assert_string_equal(r.route, "caution");
    expect_all(&r, TRIAL_NOT_SHOWN);
    run(&r, "calm", 1, 60, no_calm, COUNT(no_calm));
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "antenna", TRIAL_NOT_SHOWN, "no calm time to compare with");
    run(&r, "calm", 1, 60, no_tap, COUNT(no_tap));
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "antenna", TRIAL_NOT_SHOWN, "are wanted");
    run(&r, "calm", 1, 60, quit, COUNT(quit));
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "antenna", TRIAL_NOT_SHOWN, "are wanted");
    assert_true(r.entry.quit);
}

static void test_port_lost(void **state) {
    static struct drive_result r;
    struct drive_plan plan = {TRIAL_TAP, 1, all_parts, COUNT(all_parts), NULL};
    struct drive *d = drive_new(&plan);
    (void)state;
    quiet(d, 0, 36, "got");
    drive_port(d, 36, PORT_LOST, "");
    drive_until(d, 60);
    drive_end(d, &r);
    assert_true(r.entry.port_lost);
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "antenna", TRIAL_NOT_SHOWN, "are wanted");
}

/* The bell rings on what just happened, and only then. */
static void test_pane(void **state) {
    static struct watched w;
    struct trial_pane pane;
    struct trial_rules rules;
    (void)state;
    trial_rules_default(&rules);
    watch_begin(&w, &trial_tap, &rules);
    watch_step(&w, 1);
    watch_lines(&w,
                "rx n=1 t=50 ch=1500 got=2 lost=0 reg=ok\n"
                "rx n=2 t=15050 ch=1500 got=752 lost=0 reg=ok\n",
                &pane);
    assert_false(pane.sound);
    assert_true(pane.progress > 0.49 && pane.progress < 0.51);
    assert_true(pane_says(&pane, "lost 0 times"));
    watch_lines(&w, "rx n=3 t=15100 ch=1500 got=754 lost=0 reg=default\n", &pane);
    assert_true(pane.sound && pane_says(&pane, "NOW: the radio's registers changed"));
    watch_lines(&w, "rx n=4 t=15300 ch=1500 got=764 lost=0 reg=default\n", &pane);
    assert_true(pane.sound);
    watch_lines(&w, "rx n=5 t=15700 ch=1500 got=784 lost=0 reg=ok\n", &pane);
    assert_false(pane.sound);
    watch_lines(&w, "rx n=6 t=15800 ch=1500 got=787 lost=2 reg=ok\n", &pane);
    assert_true(pane.sound && pane_says(&pane, "NOW: packets were lost"));
    watch_lines(&w, "rx n=7 t=16500 ch=15x00 got=822 lost=2 reg=ok\n", &pane);
    assert_true(pane_says(&pane, "damaged lines 1"));
    watch_lines(&w, "boot cause=reset\nrx n=1 t=300 ch=1500 reg=ok\n", &pane);
    assert_true(pane.sound && pane_says(&pane, "restarts 1"));
    watch_end(&w);
}

/* While the port is away nothing is calm: that time doesn't count.  The lines have no number. */
static void test_time_away_is_not_calm(void **state) {
    static const struct drive_act acts[] = {{"caution", 0, DRIVE_ANSWER, 1, false},
                                            {"choose", 0, DRIVE_ANSWER, FINISH, true}};
    static struct drive_result r;
    struct drive_plan plan = {TRIAL_TAP, 1, acts, COUNT(acts), NULL};
    struct drive *d = drive_new(&plan);
    (void)state;
    for (int i = 0; i < 1300; i++) {
        char line[100];
        if (i == 200)
            drive_port(d, 10, PORT_LOST, "");
        if (i == 600)
            drive_port(d, 30, PORT_BACK, "");
        snprintf(line, sizeof line, "rx t=%d ch=1500,1000 got=%d lost=0", i * 50, i * 2);
        if (i < 200 || i > 600)
            drive_line(d, i / 20.0, line);
    }
    drive_end(d, &r);
    assert_true(r.ended_s > 50 && r.ended_s < 54);
    expect(&r, "calm", TRIAL_PASSED, "nothing in 30 s");
}

/* Where a link loses packets by itself, now and then, tapping mostly isn't blamed: each of two
 * comparisons is wrong in at most 0.5 of 100 parts, so that of 150 parts 5 or more would be blamed
 * in fewer than 1 of 500 tests (Poisson of mean 0.75, hand calculation). */
static void test_innocent_parts(void **state) {
    static struct drive_result r;
    struct dice dice = {.state = 20251125};
    int blamed = 0, unsure = 0;
    (void)state;
    for (int trial = 0; trial < 25; trial++) {
        struct drive_plan plan = {TRIAL_TAP, 1, all_parts, COUNT(all_parts), NULL};
        struct drive *d = drive_new(&plan);
        for (int n = 0, lost = 0; n < 125 * 20; n++) {
            char line[100];
            lost += dice_below(&dice, 80) == 0; /* some 15 events a minute */
            snprintf(line, sizeof line, "rx n=%d t=%d ch=1500,1000 got=%d lost=%d", n + 1, n * 50,
                     n * 2, lost);
            drive_line(d, n / 20.0, line);
        }
        drive_end(d, &r);
        for (uint32_t i = 1; i <= 6; i++) {
            blamed += r.outcome.finding[i].verdict == TRIAL_FAILED;
            unsure += r.outcome.finding[i].verdict == TRIAL_NOT_SHOWN;
        }
    }
    print_message("%d of 150 innocent parts blamed, %d not shown\n", blamed, unsure);
    assert_true(blamed < 5);
    assert_true(unsure > 100);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_innocent_parts), cmocka_unit_test(test_time_away_is_not_calm),
        cmocka_unit_test(test_pane),           cmocka_unit_test(test_loose_antenna),
        cmocka_unit_test(test_nothing_loose),  cmocka_unit_test(test_registers),
        cmocka_unit_test(test_serial_lead),    cmocka_unit_test(test_without_counters),
        cmocka_unit_test(test_link_down),      cmocka_unit_test(test_wrong_paths),
        cmocka_unit_test(test_port_lost),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
