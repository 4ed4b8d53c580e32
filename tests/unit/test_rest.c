/* Rest: the figures of a still channel against R; each verdict by a scene of the simulated
 * receiver, and what only lines can show; the wrong paths. */
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
#include "judge/still.h"
#include "trial/kinds.h"

/* --- figures */

/* R's data sets Nile (100 annual flows), and treering[1:100] * 1000. */
static const int16_t nile[] = {
    1120, 1160, 963, 1210, 1160, 1160, 813,  1230, 1370, 1140, 995,  935,  1110, 994,  1020,
    960,  1180, 799, 958,  1140, 1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774,  840,
    874,  694,  940, 833,  701,  916,  692,  1020, 1050, 969,  831,  726,  456,  824,  702,
    1120, 1100, 832, 764,  821,  768,  845,  864,  862,  698,  845,  744,  796,  1040, 759,
    781,  865,  845, 944,  984,  897,  822,  1010, 771,  676,  649,  846,  812,  742,  801,
    1040, 860,  874, 848,  890,  744,  749,  838,  1050, 918,  986,  797,  923,  975,  815,
    1020, 906,  901, 1170, 912,  746,  919,  718,  714,  740};
static const int16_t rings[] = {
    1345, 1077, 1545, 1319, 1413, 1069, 489,  1171, 887,  493,  346,  846,  837, 79,   829,
    919,  776,  81,   876,  254,  1092, 659,  900,  732,  703,  690,  581,  834, 838,  600,
    611,  704,  517,  525,  1086, 849,  183,  823,  433,  849,  1021, 813,  675, 479,  824,
    473,  1010, 1297, 917,  457,  866,  1121, 1301, 1017, 676,  816,  1365, 759, 791,  1016,
    959,  966,  1355, 966,  771,  561,  1712, 1514, 677,  613,  1265, 342,  918, 1346, 786,
    557,  1444, 1516, 1329, 1071, 1105, 1211, 1491, 1105, 1285, 1202, 1587, 663, 1139, 1073,
    659,  821,  1080, 1149, 863,  889,  1175, 938,  1007, 1180};
_Static_assert(sizeof nile == 200 && sizeof rings == 200, "a hundred values each");

static bool near(double value, double wanted) {
    return fabs(value - wanted) <= 1e-9 * fabs(wanted);
}

static void add(struct still_series *s, int32_t a, int32_t b, int64_t ms) {
    struct report r = {.ch_count = 2, .ch = {a, b}};
    still_add(s, &r, ms);
}

/* Blocks of eight.  R 4: b <- factor((0:99) %/% 8); noise: summary(lm(x ~ b))$sigma; median, mad;
 * drift: 11 times the median slope of the means of the twelve full blocks; its p:
 * cor.test(m, 1:12, method = "kendall", exact = FALSE, continuity = TRUE); correlation:
 * cor(resid(lm(x ~ b)), resid(lm(y ~ b))). */
static void figures_as_in_r(void **state) {
    static struct still_series s;
    struct still_figures a, b;
    double r;
    (void)state;
    memset(&s, 0, sizeof s);
    for (int i = 0; i < 100; i++)
        add(&s, nile[i], rings[i], 250 * i);
    assert_true(still_read(&s, 0, 1, &a) && still_read(&s, 1, 1, &b));
    assert_int_equal(a.count, 100);
    assert_true(near(a.mean, 919.35) && near(b.mean, 908.44));
    assert_true(near(a.noise, 139.926674147) && near(b.noise, 296.798501638));
    assert_true(near(a.median, 893.5) && near(b.median, 881.5));
    assert_true(near(a.far, 896.973) && near(b.far, 1634.5665)); /* 5 * mad() */
    assert_true(a.outliers == 0 && b.outliers == 0);
    assert_true(near(a.drift, -208.503472222) && near(b.drift, 499.33125));
    assert_true(near(a.drift_p, 0.114756734319) && near(b.drift_p, 0.0236422189092));
    assert_true(a.low == 456 && a.high == 1370 && a.step == 1);
    assert_true(still_correlation(&s, 0, &a, 1, &b, &r));
    assert_true(near(r, 0.0936019186483));
}

/* An hour of reports: the whole time stays in it, thinned out. */
static void long_series_are_thinned(void **state) {
    static struct still_series s;
    struct still_figures f;
    (void)state;
    memset(&s, 0, sizeof s);
    for (int i = 0; i < 72000; i++)
        add(&s, 1500 + (i * 7919 % 5) - 2 + i / 7200, 1500, 50 * (int64_t)i);
    assert_true(s.count > STILL_SAMPLES / 2 - 1 && s.count <= STILL_SAMPLES);
    assert_int_equal(s.covered_ms, 71999 * 50);
    assert_true(still_read(&s, 0, 1, &f));
    assert_true(f.drift > 8 && f.drift < 10 && f.drift_p < 1e-6);
    assert_true(still_read(&s, 1, 1, &f));
    assert_true(f.noise == 0 && !f.step_known && f.drift == 0);
}

/* --- scenes */

static const struct drive_act patient[] = {{"ready", 0.5, DRIVE_ANSWER, 1, false},
                                           {"servos", 1, DRIVE_ANSWER, 0, false}};
static const struct drive_act trembling[] = {{"ready", 0.5, DRIVE_ANSWER, 1, false},
                                             {"servos", 1, DRIVE_ANSWER, 1, false}};
static struct drive_result result;

static void play(const char *scene, double begin_s, double seconds, const struct drive_act *acts,
                 size_t count) {
    struct drive_plan plan = {TRIAL_REST, begin_s, acts, count, NULL};
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

static void quiet(void **state) {
    (void)state;
    play("shaky", 1, 42, patient, 2);
    assert_string_equal(result.route, "ready rest servos");
    is(TRIAL_PASSED, "noise_ch1", TRIAL_PASSED, "rests at 149");
    assert_int_equal(count_of(TRIAL_PASSED), 10);
    /* the model's sticks jitter by 2600 to 3300 4096ths of a µs, printed in whole µs: the rounding
     * adds a variance of 1/12 */
    double noise = drive_finding(&result, "noise_ch3")->low;
    assert_true(fabs(noise - sqrt(pow(3300 / 4096.0, 2) + 1 / 12.0)) < 0.08);
}

static void worn_potentiometer(void **state) {
    (void)state;
    play("shaky", 43.5, 84, patient, 2);
    is(TRIAL_FAILED, "noise_ch3", TRIAL_FAILED, "noise ");
    is(TRIAL_FAILED, "shared", TRIAL_FAILED, "channel 3 alone");
    assert_int_equal(count_of(TRIAL_FAILED), 2);
    double noise = drive_finding(&result, "noise_ch3")->low;
    assert_true(fabs(noise - 9) < 1.2); /* the worn stick's 9 µs; 4 standard errors of 600 values */
    assert_non_null(strstr(result.outcome.next, "potentiometer"));
}

static void jumping_value(void **state) {
    (void)state;
    play("shaky", 85.5, 126, patient, 2);
    is(TRIAL_FAILED, "outliers_ch4", TRIAL_FAILED, "far outside");
    is(TRIAL_FAILED, "noise_ch4", TRIAL_PASSED, "noise 0.");
    assert_int_equal(count_of(TRIAL_FAILED), 1);
    assert_true(fabs(fabs(drive_finding(&result, "outliers_ch4")->low) - 256) < 8);
    assert_non_null(strstr(result.outcome.next, "interrupt"));
}

static void bad_reference(void **state) {
    (void)state;
    play("shaky", 127.5, 168, patient, 2);
    is(TRIAL_FAILED, "shared", TRIAL_FAILED, "4 channels jitter together");
    assert_int_equal(count_of(TRIAL_FAILED), 5);
    assert_non_null(strstr(result.outcome.next, "reference"));
}

static void creeping(void **state) {
    (void)state;
    play("shaky", 169.5, 210, patient, 2);
    is(TRIAL_FAILED, "drift_ch4", TRIAL_FAILED, "drifts, by +1");
    assert_int_equal(count_of(TRIAL_FAILED), 1);
}

static void trembling_servo(void **state) {
    (void)state;
    play("shaky", 1, 42, trembling, 2);
    is(TRIAL_FAILED, "servos", TRIAL_FAILED, "output side");
    play("shaky", 43.5, 84, trembling, 2);
    is(TRIAL_FAILED, "servos", TRIAL_FAILED, "as the values do");
}

static void hands_not_off(void **state) {
    (void)state;
    play("calm", 1, 100, patient, 2);
    assert_string_equal(result.route, "ready rest again servos");
    is(TRIAL_NOT_SHOWN, "noise_ch1", TRIAL_NOT_SHOWN, "was moved meanwhile, the second time too");
    assert_null(drive_finding(&result, "noise_ch9"));
}

/* --- lines */

static struct drive *begin(const struct drive_act *acts, size_t count) {
    struct drive_plan plan = {TRIAL_REST, 1, acts, count, NULL};
    return drive_new(&plan);
}

static void moved_once(void **state) {
    (void)state;
    struct drive *d = begin(patient, 2);
    struct hand h = hand_new(d, 3, 1500);
    hand_wait(&h, 12);
    hand_move(&h, 1, 1570, 0.5);
    hand_move(&h, 1, 1500, 0.5);
    hand_wait(&h, 60);
    drive_end(d, &result);
    assert_string_equal(result.route, "ready rest again servos");
    is(TRIAL_PASSED, "noise_ch2", TRIAL_PASSED, "channel 2: rests at 1500");
}

/* What the receiver puts out in failsafe, and a packet's values told over and over, aren't the
 * stick's: the half minute is as much longer. */
static void failsafe_meanwhile(void **state) {
    (void)state;
    struct drive *d = begin(patient, 2);
    struct hand h = hand_new(d, 3, 1500);
    hand_wait(&h, 12);
    h.failsafe = true;
    hand_wait(&h, 8);
    h.failsafe = false;
    hand_wait(&h, 10);
    h.silent = true;
    h.value[0] = 1530;
    hand_wait(&h, 4);
    h.silent = false;
    h.value[0] = 1500;
    hand_wait(&h, 30);
    drive_end(d, &result);
    assert_string_equal(result.route, "ready rest servos");
    assert_true(result.ended_s > 1 + 0.5 + 30 + 8 + 4 - 2 * 1.5);
    is(TRIAL_PASSED, "noise_ch1", TRIAL_PASSED, "rests at 1500");

    d = begin(patient, 2);
    h = hand_new(d, 3, 1500);
    hand_wait(&h, 6);
    h.failsafe = true;
    hand_wait(&h, 100);
    drive_end(d, &result);
    assert_string_equal(result.route, "ready rest servos"); /* it doesn't wait for ever */
    is(TRIAL_NOT_SHOWN, "noise_ch1", TRIAL_NOT_SHOWN, "aren't the stick's");
    is(TRIAL_NOT_SHOWN, "rest", TRIAL_NOT_SHOWN, "no channel");
}

static void coarse_steps(void **state) {
    (void)state;
    struct drive *d = begin(patient, 2);
    struct hand h = hand_new(d, 1, 1500);
    h.step = 4; /* 8 bits over 1000 µs */
    h.jitter = 5;
    hand_wait(&h, 40);
    drive_end(d, &result);
    is(TRIAL_PASSED, "noise_ch1", TRIAL_PASSED, "in steps of 4");
}

/* Values of several channels that jump in the same report come from another packet; with none
 * refused, nothing at the receiver noticed. */
static void jumps_in_the_same_report(void **state) {
    (void)state;
    struct drive *d = begin(patient, 2);
    struct hand h = hand_new(d, 3, 1500);
    for (int i = 0; i < 8; i++) {
        hand_wait(&h, 5);
        h.value[0] = h.value[2] = 1700;
        hand_wait(&h, 0.05);
        h.value[0] = h.value[2] = 1500;
    }
    drive_end(d, &result);
    is(TRIAL_FAILED, "outliers_ch1", TRIAL_FAILED, "far outside, the worst by +2");
    is(TRIAL_FAILED, "outliers_ch3", TRIAL_FAILED, "far outside");
    is(TRIAL_FAILED, "noise_ch2", TRIAL_PASSED, "");
    assert_non_null(strstr(result.outcome.next, "same report"));
    assert_non_null(strstr(result.outcome.next, "None was rejected"));
}

/* Without a word of packets, values that never change may be held ones. */
static void held_values(void **state) {
    (void)state;
    for (int told = 0; told <= 1; told++) {
        struct drive *d = begin(patient, 2);
        for (int n = 0; n < 45 * 20; n++) {
            char line[100], got[20] = "";
            if (told)
                snprintf(got, sizeof got, " got=%d", 2 * n);
            snprintf(line, sizeof line, "rx n=%d t=%d ch=1500,1000%s", n + 1, n * 50, got);
            drive_line(d, n / 20.0, line);
        }
        drive_end(d, &result);
        if (told)
            is(TRIAL_PASSED, "noise_ch1", TRIAL_PASSED, "");
        else
            is(TRIAL_NOT_SHOWN, "packets", TRIAL_NOT_SHOWN, "held values");
    }
}

/* All jitter alike, by less than the limit: told, and no fault. */
static void together_within_the_limit(void **state) {
    (void)state;
    struct drive *d = begin(patient, 2);
    struct hand h = hand_new(d, 2, 1500);
    h.jitter = 0.5;
    for (int i = 0; i < 800; i++) {
        h.value[0] = h.value[1] = 1500 + (i * 7919 % 11 - 5) / 2.0;
        hand_report(&h);
    }
    drive_end(d, &result);
    is(TRIAL_PASSED, "shared", TRIAL_PASSED, "jitter together, within the limit");
    assert_true(drive_finding(&result, "shared")->low > 0.8);
}

/* One report a second is enough, and what a report tells between two packets isn't counted. */
static void slow_and_fast_reports(void **state) {
    (void)state;
    struct drive *d = begin(patient, 2);
    struct hand h = hand_new(d, 2, 1500);
    for (int i = 0; i < 45; i++) {
        hand_report(&h);
        h.at_s += 0.95;
    }
    drive_end(d, &result);
    is(TRIAL_PASSED, "noise_ch1", TRIAL_PASSED, "rests at ");

    d = begin(patient, 2);
    h = hand_new(d, 2, 1500);
    for (int i = 0; i < 4000; i++) {
        h.silent = i % 4 != 0;
        hand_report(&h);
        h.at_s -= 0.04;
    }
    drive_end(d, &result);
    assert_string_equal(result.route, "ready rest servos");
    is(TRIAL_PASSED, "noise_ch1", TRIAL_PASSED, "rests at 1500");
}

/* Without any time nothing can be timed; the key that would tell is named. */
static void lines_without_time(void **state) {
    (void)state;
    struct trial_rules rules;
    struct trial_outcome out;
    struct bench_limits limits;
    struct snapshot s;
    struct event e = {.kind = EVENT_REPORT, .host_us = TIME_UNKNOWN};
    struct trial_place place = {.step = 1};
    void *kind = test_calloc(1, trial_rest.size);
    trial_rules_default(&rules);
    bench_limits_default(&limits);
    struct bench *bench = bench_new(&limits);
    trial_rest.begin(kind, &rules);
    e.report.has = 1u << KEY_CH;
    e.report.ch_count = 1;
    e.report.ch[0] = 1500;
    for (int i = 0; i < 1000; i++) {
        bench_feed(bench, &e);
        bench_read(bench, &s);
        trial_rest.take(kind, bench_moment(bench), &s, &place, i == 0);
    }
    trial_rest.judge(kind, &out);
    result.outcome = out;
    is(TRIAL_NOT_SHOWN, "rest", TRIAL_NOT_SHOWN, "no channel");
    assert_string_equal(drive_finding(&result, "rest")->missing, "t");
    bench_free(bench);
    test_free(kind);
}

/* Limits grow with the span: 4 of 1000 are 12.3 of 3072. */
static void raw_values(void **state) {
    static const struct {
        double jitter;
        enum trial_verdict verdict;
    } cases[] = {{19, TRIAL_PASSED}, {24, TRIAL_FAILED}}; /* spread: the root of a third of it */
    (void)state;
    for (int i = 0; i < 2; i++) {
        struct drive *d = begin(patient, 2);
        struct hand h = hand_new(d, 2, 1600);
        drive_line(d, 0.01, "id end=rx fw=t unit=raw span=512,3584 chans=2");
        h.jitter = cases[i].jitter;
        hand_wait(&h, 40);
        drive_end(d, &result);
        is(cases[i].verdict, "noise_ch1", cases[i].verdict, "limit 12.3");
        assert_string_equal(drive_finding(&result, "noise_ch1")->unit, "raw");
    }
}

/* --- wrong paths */

static void port_lost(void **state) {
    (void)state;
    struct drive *d = begin(patient, 2);
    struct hand h = hand_new(d, 2, 1500);
    hand_wait(&h, 12);
    drive_port(d, 12.1, PORT_LOST, "");
    drive_until(d, 150);
    drive_end(d, &result);
    is(TRIAL_NOT_SHOWN, "noise_ch1", TRIAL_NOT_SHOWN, "too few values");
    assert_true(result.entry.port_lost);
}

static void left_early(void **state) {
    static const struct drive_act skip[] = {{"ready", 0.5, DRIVE_ANSWER, 1, false},
                                            {"rest", 5, DRIVE_SKIP, 0, false},
                                            {"servos", 1, DRIVE_ANSWER, 0, false}};
    static const struct drive_act quit[] = {{"ready", 0.5, DRIVE_ANSWER, 1, false},
                                            {"rest", 28, DRIVE_QUIT, 0, false}};
    static const struct drive_act unanswered[] = {{"ready", 0.5, DRIVE_ANSWER, 1, false},
                                                  {"servos", 1, DRIVE_SKIP, 0, false}};
    (void)state;
    play("shaky", 1, 42, skip, 3);
    is(TRIAL_NOT_SHOWN, "noise_ch1", TRIAL_NOT_SHOWN, "too few values");
    play("shaky", 1, 42, quit, 2);
    assert_int_equal(result.stands, TRIAL_NOT_SHOWN);
    assert_true(result.entry.quit);
    play("shaky", 1, 42, unanswered, 2);
    is(TRIAL_NOT_SHOWN, "servos", TRIAL_NOT_SHOWN, "not answered");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(figures_as_in_r),
        cmocka_unit_test(long_series_are_thinned),
        cmocka_unit_test(quiet),
        cmocka_unit_test(worn_potentiometer),
        cmocka_unit_test(jumping_value),
        cmocka_unit_test(bad_reference),
        cmocka_unit_test(creeping),
        cmocka_unit_test(trembling_servo),
        cmocka_unit_test(hands_not_off),
        cmocka_unit_test(moved_once),
        cmocka_unit_test(failsafe_meanwhile),
        cmocka_unit_test(coarse_steps),
        cmocka_unit_test(raw_values),
        cmocka_unit_test(port_lost),
        cmocka_unit_test(left_early),
        cmocka_unit_test(jumps_in_the_same_report),
        cmocka_unit_test(held_values),
        cmocka_unit_test(together_within_the_limit),
        cmocka_unit_test(slow_and_fast_reports),
        cmocka_unit_test(lines_without_time),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
