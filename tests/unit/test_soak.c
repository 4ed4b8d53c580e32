/* The trial of soaking, end to end: 20 minutes of a calm scene, and shorter ones for what goes
 * wrong. Outside figure: after none in 20 minutes, fewer than -ln(0.05) / (1/3 h) = 9.0 an hour at
 * 95 % (the rule of three). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "trial_drive.h"

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

static const struct drive_act yes[] = {{"caution", 0, DRIVE_ANSWER, 1, false}};

static struct trial_rules short_rules(int seconds) {
    struct trial_rules rules;
    trial_rules_default(&rules);
    rules.soak_s = seconds;
    return rules;
}

static void run(struct drive_result *r, const char *scene, double seconds,
                const struct trial_rules *rules) {
    struct drive_plan plan = {TRIAL_SOAK, 1, yes, COUNT(yes), rules};
    struct drive *d = drive_new(&plan);
    drive_scene(d, simulator_scene_find(scene), 1, seconds);
    drive_end(d, r);
}

static void test_twenty_minutes(void **state) {
    static struct drive_result r;
    (void)state;
    run(&r, "calm", 1210, NULL);
    expect_all(&r, TRIAL_PASSED);
    assert_string_equal(r.route, "caution soak");
    assert_true(r.ended_s > 1200 && r.ended_s < 1202);
    expect(&r, "length", TRIAL_PASSED, "20:00 of 20:00");
    expect(&r, "restarts", TRIAL_PASSED, "fewer than 9.0 an hour");
    expect(&r, "reinit", TRIAL_PASSED, "");
    expect(&r, "failsafe", TRIAL_PASSED, "");
    expect(&r, "longest_gap", TRIAL_PASSED, "the limit is 100 ms");
    expect(&r, "moved", TRIAL_PASSED, "");
}

static void test_faults(void **state) {
    static struct drive_result r;
    struct trial_rules rules = short_rules(50);
    (void)state;
    run(&r, "weak", 60, &rules);
    expect_all(&r, TRIAL_FAILED);
    expect(&r, "restarts", TRIAL_FAILED, "none is allowed");
    rules = short_rules(55);
    run(&r, "failsafe", 60, &rules);
    expect_all(&r, TRIAL_FAILED);
    expect(&r, "failsafe", TRIAL_FAILED, "Failsafe: 2 in");
    expect(&r, "longest_gap", TRIAL_FAILED, "the limit is 100 ms");
    expect(&r, "transmitter", TRIAL_FAILED, "restarted 2 times");
    run(&r, "knocked", 60, &rules);
    expect_all(&r, TRIAL_FAILED);
    expect(&r, "longest_gap", TRIAL_FAILED, "the limit is 100 ms");
    expect(&r, "failsafe", TRIAL_PASSED, "");
}

/* Left before its end: what was seen is said, and proves nothing. */
static void test_quit(void **state) {
    static const struct drive_act acts[] = {{"caution", 0, DRIVE_ANSWER, 1, false},
                                            {"soak", 30, DRIVE_QUIT, 0, false}};
    static struct drive_result r;
    struct drive_plan plan = {TRIAL_SOAK, 1, acts, COUNT(acts), NULL};
    struct drive *d = drive_new(&plan);
    (void)state;
    drive_scene(d, simulator_scene_find("calm"), 1, 60);
    drive_end(d, &r);
    expect_all(&r, TRIAL_NOT_SHOWN);
    assert_true(r.entry.quit);
    expect(&r, "length", TRIAL_NOT_SHOWN, "Seen: 0:29 of 20:00");
    expect(&r, "restarts", TRIAL_NOT_SHOWN, "too short");
    expect(&r, "longest_gap", TRIAL_NOT_SHOWN, "too short");
}

static void test_wrong_answers(void **state) {
    static const struct drive_act no[] = {{"caution", 0, DRIVE_ANSWER, 0, false}};
    static const struct drive_act skip[] = {{"caution", 0, DRIVE_ANSWER, 1, false},
                                            {"soak", 5, DRIVE_SKIP, 0, false}};
    static const struct drive_act enter[] = {{"caution", 0, DRIVE_ANSWER, 1, false},
                                             {"soak", 5, DRIVE_ANSWER, 1, false}};
    static const struct drive_act *const acts[] = {no, skip, enter};
    static const size_t counts[] = {COUNT(no), COUNT(skip), COUNT(enter)};
    static struct drive_result r;
    (void)state;
    for (size_t i = 0; i < COUNT(acts); i++) {
        struct drive_plan plan = {TRIAL_SOAK, 1, acts[i], counts[i], NULL};
        struct drive *d = drive_new(&plan);
        drive_scene(d, simulator_scene_find("calm"), 1, 30);
        drive_end(d, &r);
        assert_true(r.ended_s >= 0);
        expect_all(&r, TRIAL_NOT_SHOWN);
        expect(&r, "length", TRIAL_NOT_SHOWN, "of 20:00");
    }
}

/* Lines at 20 a second; `keys` beside n, t and ch; the stick is moved every 10 s. */
static void lines(struct drive *d, double from_s, double to_s, const char *keys, double miss_s,
                  bool moved) {
    for (int n = (int)(from_s * 20 + 0.5); n < (int)(to_s * 20 + 0.5); n++) {
        char line[200];
        int ch = moved && n % 200 < 100 ? 1700 : 1500;
        double missing = n / 20.0 - miss_s;
        snprintf(line, sizeof line, "rx n=%d t=%d ch=%d,1000 %s", n + 1, n * 50, ch, keys);
        if (missing < 0 || missing >= 0.15)
            drive_line(d, n / 20.0, line);
    }
}

static void by_lines(struct drive_result *r, const char *keys, double miss_s, bool moved) {
    struct trial_rules rules = short_rules(60);
    struct drive_plan plan = {TRIAL_SOAK, 1, yes, COUNT(yes), &rules};
    struct drive *d = drive_new(&plan);
    lines(d, 0, 64, keys, miss_s, moved);
    drive_end(d, r);
}

static const char all_keys[] = "got=100 lost=0 age=10 gap=20 fs=0 fsn=0 reg=ok reinit=0";

static void test_what_is_missing(void **state) {
    static struct drive_result r;
    (void)state;
    by_lines(&r, all_keys, 1000, true);
    expect_all(&r, TRIAL_PASSED);
    by_lines(&r, "got=100 lost=0 age=10 fs=0 reg=ok", 1000, true);
    expect_all(&r, TRIAL_NOT_SHOWN);
    assert_string_equal(drive_finding(&r, "longest_gap")->missing, "gap");
    by_lines(&r, "got=100 lost=0 age=10 gap=20 reg=ok", 1000, true);
    assert_string_equal(drive_finding(&r, "failsafe")->missing, "fs");
    by_lines(&r, "got=100 lost=0 age=10 gap=20 fs=0", 1000, true);
    assert_string_equal(drive_finding(&r, "reinit")->missing, "reinit");
    expect_all(&r, TRIAL_NOT_SHOWN);
}

static void test_lines_missing(void **state) {
    static struct drive_result r;
    (void)state;
    by_lines(&r, all_keys, 20, true);
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "longest_gap", TRIAL_NOT_SHOWN, "lines are missing on the cable");
    expect(&r, "restarts", TRIAL_PASSED, "");
}

/* Sticks that lie still all the while. */
static void test_never_moved(void **state) {
    static struct drive_result r;
    (void)state;
    by_lines(&r, all_keys, 1000, false);
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "moved", TRIAL_NOT_SHOWN, "lay still");
}

static void test_port_lost(void **state) {
    static struct drive_result r;
    struct trial_rules rules = short_rules(60);
    struct drive_plan plan = {TRIAL_SOAK, 1, yes, COUNT(yes), &rules};
    struct drive *d = drive_new(&plan);
    (void)state;
    lines(d, 0, 30, all_keys, 1000, true);
    drive_port(d, 30, PORT_LOST, "");
    drive_port(d, 40, PORT_BACK, "");
    lines(d, 40.05, 90, all_keys, 1000, true);
    drive_end(d, &r);
    assert_true(r.entry.port_lost);
    assert_true(r.ended_s > 70); /* the ten seconds away aren't seen */
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "longest_gap", TRIAL_NOT_SHOWN, "may hide there");
}

/* How much is left, and a word when the sticks lie still. */
static void test_pane(void **state) {
    static struct watched w;
    struct trial_pane pane;
    struct trial_rules rules = short_rules(600);
    (void)state;
    watch_begin(&w, &trial_soak, &rules);
    watch_step(&w, 1);
    char line[120];
    for (int i = 0; i <= 600; i++) {
        snprintf(line, sizeof line, "rx n=%d t=%d ch=1500 got=%d lost=0 gap=20\n", i + 1, i * 500,
                 i * 25);
        watch_lines(&w, line, &pane);
        if (i == 160)
            assert_false(pane_says(&pane, "move them now"));
    }
    assert_true(pane_says(&pane, "5:00 of 10:00 seen, 5:00 left"));
    assert_true(pane_says(&pane, "move them now"));
    assert_true(pane.progress > 0.49 && pane.progress < 0.51);
    watch_end(&w);
}

/* Counters run on across a hole: where as many packets came as its time holds, no gap hides in it.
 */
static void test_harmless_hole(void **state) {
    static struct drive_result r;
    struct trial_rules rules = short_rules(60);
    (void)state;
    for (int stuck = 0; stuck <= 1; stuck++) {
        struct drive_plan plan = {TRIAL_SOAK, 1, yes, COUNT(yes), &rules};
        struct drive *d = drive_new(&plan);
        for (int n = 0, got = 0; n < 1300; n++, got += 2) {
            char line[200];
            if (n == 0)
                drive_line(d, 0, "id end=rx fw=a rate=40 chans=2");
            if (n >= 400 && n < 404) { /* on the cable; or the transmitter pauses meanwhile */
                got -= stuck * 2;
                continue;
            }
            snprintf(line, sizeof line,
                     "rx n=%d t=%d ch=%d,1000 got=%d lost=0 age=10 gap=25 fs=0 fsn=0 reg=ok "
                     "reinit=0",
                     n + 1, n * 50, n % 200 < 100 ? 1700 : 1500, got);
            drive_line(d, n / 20.0, line);
        }
        drive_end(d, &r);
        expect_all(&r, stuck ? TRIAL_NOT_SHOWN : TRIAL_PASSED);
        expect(&r, "longest_gap", stuck ? TRIAL_NOT_SHOWN : TRIAL_PASSED, "25 ms");
    }
}

/* The limit is never less than three packets: 300 ms at 10 a second. */
static void test_slow_link(void **state) {
    static struct drive_result r;
    struct trial_rules rules = short_rules(60);
    struct drive_plan plan = {TRIAL_SOAK, 1, yes, COUNT(yes), &rules};
    struct drive *d = drive_new(&plan);
    (void)state;
    drive_line(d, 0, "id end=rx fw=a rate=10 chans=2");
    lines(d, 0.05, 64, "got=100 lost=0 age=10 gap=200 fs=0 fsn=0 reg=ok reinit=0", 1000, true);
    drive_end(d, &r);
    expect(&r, "longest_gap", TRIAL_PASSED, "200 ms; the limit is 300 ms");
}

static void test_radio_forgets_unset(void **state) {
    static struct drive_result r;
    struct trial_rules rules = short_rules(60);
    struct drive_plan plan = {TRIAL_SOAK, 1, yes, COUNT(yes), &rules};
    struct drive *d = drive_new(&plan);
    (void)state;
    lines(d, 0, 20, "got=100 lost=0 age=10 gap=20 fs=0 reg=ok", 1000, true);
    lines(d, 20, 21, "got=100 lost=0 age=10 gap=20 fs=0 reg=default", 1000, true);
    lines(d, 21, 64, "got=100 lost=0 age=10 gap=20 fs=0 reg=ok", 1000, true);
    drive_end(d, &r);
    expect_all(&r, TRIAL_FAILED);
    expect(&r, "reinit", TRIAL_FAILED, ": 1 in");
}

static void test_begins_in_failsafe(void **state) {
    static struct drive_result r;
    (void)state;
    by_lines(&r, "got=100 lost=0 age=900 gap=900 fs=1 fsn=3 reg=ok reinit=0", 1000, true);
    expect_all(&r, TRIAL_FAILED);
    expect(&r, "failsafe", TRIAL_FAILED, "Failsafe: 1 in");
}

/* A restart that our own opening of the port makes is no fault of the receiver's. */
static void test_own_restart(void **state) {
    static struct drive_result r;
    struct trial_rules rules = short_rules(60);
    struct drive_plan plan = {TRIAL_SOAK, 1, yes, COUNT(yes), &rules};
    struct drive *d = drive_new(&plan);
    (void)state;
    lines(d, 0, 30, all_keys, 1000, true);
    drive_port(d, 30, PORT_LOST, "");
    drive_port(d, 32, PORT_BACK, "kind=serial speed=115200");
    drive_line(d, 33, "boot cause=reset");
    for (int n = 1; n < 1000; n++) {
        char line[200];
        snprintf(line, sizeof line, "rx n=%d t=%d ch=%d,1000 %s", n, n * 50,
                 n % 200 < 100 ? 1700 : 1500, all_keys);
        drive_line(d, 33.05 + n / 20.0, line);
    }
    drive_end(d, &r);
    expect(&r, "restarts", TRIAL_PASSED, "none in 1:00");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_harmless_hole),
        cmocka_unit_test(test_slow_link),
        cmocka_unit_test(test_radio_forgets_unset),
        cmocka_unit_test(test_begins_in_failsafe),
        cmocka_unit_test(test_own_restart),
        cmocka_unit_test(test_pane),
        cmocka_unit_test(test_twenty_minutes),
        cmocka_unit_test(test_faults),
        cmocka_unit_test(test_quit),
        cmocka_unit_test(test_wrong_answers),
        cmocka_unit_test(test_what_is_missing),
        cmocka_unit_test(test_lines_missing),
        cmocka_unit_test(test_never_moved),
        cmocka_unit_test(test_port_lost),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
