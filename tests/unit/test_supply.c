/* The trial of the supply, end to end: simulated scenes of a good and of a tired battery, and
 * lines for what they can't show.  Outside facts: the internal reference of an ATmega328P is 1.0 to
 * 1.2 V where 1.1 V is nominal (data sheet, internal voltage reference); a 16 MHz board on 5 V
 * wants 4.0 V and more (common practice). */
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

enum { BATTERY, REGULATOR, USB };

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

/* What a person does who follows the steps; the scenes move the sticks. */
static const struct drive_act good_acts[] = {
    {"power", 0, DRIVE_ANSWER, BATTERY, false}, {"connect", 0, DRIVE_ANSWER, 1, false},
    {"usb", 0, DRIVE_ANSWER, 1, false},         {"alone", 17, DRIVE_ANSWER, 1, false},
    {"together", 10, DRIVE_ANSWER, 1, false},   {"ask", 0, DRIVE_ANSWER, 1, false},
    {"throttle", 11, DRIVE_ANSWER, 1, false},   {"unplug", 8, DRIVE_ANSWER, 1, false},
};

static struct trial_rules tug_rules(void) {
    struct trial_rules rules;
    trial_rules_default(&rules);
    limits_one_motor(&rules.bench, 1, IDLE_LOW);
    snprintf(rules.bench.channel_name[0], NAME_MAX_BYTES, "rudder");
    snprintf(rules.bench.channel_name[2], NAME_MAX_BYTES, "thruster");
    snprintf(rules.bench.channel_name[3], NAME_MAX_BYTES, "winch");
    return rules;
}

static void run(struct drive_result *r, const char *scene, uint64_t seed,
                const struct trial_rules *rules, const struct drive_act *acts, size_t count) {
    struct drive_plan plan = {TRIAL_SUPPLY, 1, acts, count, rules};
    struct drive *d = drive_new(&plan);
    drive_scene(d, simulator_scene_find(scene), seed, 55);
    drive_end(d, r);
}

static void test_good_battery(void **state) {
    static struct drive_result r;
    struct trial_rules rules = tug_rules();
    (void)state;
    for (uint64_t seed = 1; seed <= 3; seed++) {
        run(&r, "servos", seed, &rules, good_acts, COUNT(good_acts));
        expect_all(&r, TRIAL_PASSED);
        assert_string_equal(r.route, "power connect rest alone together ask throttle");
        /* The model's stall currents are 1.3 A (winch), 0.9 A (rudder) and 0.63 A for the thruster
         * at that throw, its supply has 60 mohm: 78, 54 and 38 mV below rest, and noise. */
        expect(&r, "servo_4", TRIAL_PASSED, "1. channel 4 (winch)");
        expect(&r, "servo_1", TRIAL_PASSED, "2. channel 1 (rudder)");
        expect(&r, "servo_3", TRIAL_PASSED, "3. channel 3 (thruster)");
        expect(&r, "together", TRIAL_PASSED, "3 servos at once");
        expect(&r, "throttle", TRIAL_PASSED, "With the motor");
        expect(&r, "restarts", TRIAL_PASSED, "");
        expect(&r, "settings_lost", TRIAL_PASSED, "");
        assert_true(drive_finding(&r, "brownout")->aside);
        /* 78 mV for the winch, within the model's noise of 6 and 8 mV a reading */
        double low = drive_finding(&r, "servo_4")->low, rest = drive_finding(&r, "rest")->low;
        assert_true((rest - low) * 1.1 > 78 - 30 && (rest - low) * 1.1 < 78 + 40);
    }
}

static void test_tired_battery(void **state) {
    static struct drive_result r;
    struct trial_rules rules = tug_rules();
    (void)state;
    for (uint64_t seed = 1; seed <= 3; seed++) {
        run(&r, "tired", seed, &rules, good_acts, COUNT(good_acts));
        expect_all(&r, TRIAL_FAILED);
        expect(&r, "restarts", TRIAL_FAILED, "by brown-out");
        expect(&r, "together", TRIAL_FAILED, "the receiver restarted");
        assert_non_null(strstr(r.outcome.next, "BEC for the servos alone"));
    }
}

/* Told 5360 mV for the winch: without a calibration anything from 4873 to 5847 mV, which an alarm
 * at 4900 mV can't be held against; with one it can, on either side. */
static void test_reference_tolerance(void **state) {
    static struct drive_result r;
    struct trial_rules rules = tug_rules();
    (void)state;
    rules.supply_low_mv = 4900;
    run(&r, "servos", 1, &rules, good_acts, COUNT(good_acts));
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "rest", TRIAL_PASSED, "alarm at 4900 mV");
    expect(&r, "servo_4", TRIAL_NOT_SHOWN, "alarm at 4900 mV");
    expect(&r, "calibration", TRIAL_NOT_SHOWN, "9 %");
    assert_non_null(strstr(r.outcome.next, "meter_mv"));
    rules.supply_calibrated = true;
    rules.supply_scale = 1;
    run(&r, "servos", 1, &rules, good_acts, COUNT(good_acts));
    expect_all(&r, TRIAL_PASSED);
    rules.supply_scale = 0.9;
    run(&r, "servos", 1, &rules, good_acts, COUNT(good_acts));
    expect_all(&r, TRIAL_FAILED);
    expect(&r, "servo_4", TRIAL_FAILED, "alarm at 4900 mV");
    expect(&r, "restarts", TRIAL_PASSED, "");
}

static void test_brownout_headroom(void **state) {
    static struct drive_result r;
    struct trial_rules rules = tug_rules();
    (void)state;
    rules.supply_calibrated = true;
    rules.brownout_mv = 4300;
    run(&r, "servos", 1, &rules, good_acts, COUNT(good_acts));
    expect_all(&r, TRIAL_PASSED);
    expect(&r, "brownout", TRIAL_PASSED, "Headroom to brown-out at 4300 mV");
}

static void test_usb_is_refused(void **state) {
    static const struct drive_act usb[] = {{"power", 0, DRIVE_ANSWER, USB, false}};
    static struct drive_result r;
    struct trial_rules rules = tug_rules();
    (void)state;
    run(&r, "servos", 1, &rules, usb, COUNT(usb));
    assert_string_equal(r.route, "power");
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "power", TRIAL_NOT_SHOWN, "as you said");
    assert_int_equal(r.outcome.count, 1);
    rules.power = MODEL_POWER_USB;
    run(&r, "servos", 1, &rules, NULL, 0);
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "power", TRIAL_NOT_SHOWN, "says the model file");
    assert_true(r.ended_s >= 0);
}

static void test_model_says_the_power(void **state) {
    static struct drive_result r;
    struct trial_rules rules = tug_rules();
    (void)state;
    rules.power = MODEL_POWER_REGULATOR;
    run(&r, "servos", 1, &rules, good_acts + 1, COUNT(good_acts) - 1);
    expect_all(&r, TRIAL_PASSED);
    expect(&r, "power", TRIAL_PASSED, "a regulator (BEC), says the model file");
}

/* A rail that sits at 5.1 V is asked about; "no" ends it. */
static void test_like_usb(void **state) {
    struct drive_act acts[COUNT(good_acts)];
    static struct drive_result r;
    struct trial_rules rules = tug_rules();
    (void)state;
    memcpy(acts, good_acts, sizeof acts);
    acts[2].answer = 0;
    run(&r, "knocked", 1, &rules, acts, COUNT(acts));
    assert_string_equal(r.route, "power connect rest usb");
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "power", TRIAL_NOT_SHOWN, "as USB's does");
    /* "yes" goes on; but no servo moves in that scene */
    run(&r, "knocked", 1, &rules, good_acts, COUNT(good_acts));
    assert_string_equal(r.route, "power connect rest usb alone together unplug ask throttle");
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "servos", TRIAL_NOT_SHOWN, "none was seen to move alone");
    expect(&r, "together", TRIAL_NOT_SHOWN, "at most 0 of the 0");
    expect(&r, "throttle", TRIAL_NOT_SHOWN, "never above half");
}

static void test_no_yes_no_trial(void **state) {
    static const struct drive_act no[] = {{"power", 0, DRIVE_ANSWER, BATTERY, false},
                                          {"connect", 1, DRIVE_ANSWER, 0, false}};
    static struct drive_result r;
    struct trial_rules rules = tug_rules();
    (void)state;
    run(&r, "servos", 1, &rules, no, COUNT(no));
    assert_string_equal(r.route, "power connect");
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "rest", TRIAL_NOT_SHOWN, "not reached");
}

/* What was declined is not seen. */
static void test_without_the_motor(void **state) {
    struct drive_act acts[COUNT(good_acts)];
    static struct drive_result r;
    struct trial_rules rules = tug_rules();
    (void)state;
    memcpy(acts, good_acts, sizeof acts);
    acts[5].answer = 0;
    run(&r, "servos", 1, &rules, acts, COUNT(acts));
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "throttle", TRIAL_NOT_SHOWN, "declined");
    assert_non_null(strstr(r.outcome.headline, "With the motor: declined"));
}

/* Steps skipped, or Enter pressed before anything was done. */
static void test_wrong_paths(void **state) {
    static const struct {
        size_t act;
        struct drive_act instead;
        const char *finding;
    } cases[] = {
        {2, {"rest", 0, DRIVE_SKIP, 0, false}, "rest"},
        {2, {"rest", 4, DRIVE_SKIP, 0, false}, "rest"},
        {3, {"alone", 0, DRIVE_SKIP, 0, false}, "servos"},
        {3, {"alone", 0, DRIVE_ANSWER, 1, false}, "servos"},
        {4, {"together", 0, DRIVE_SKIP, 0, false}, "together"},
        {4, {"together", 1, DRIVE_ANSWER, 1, false}, "together"},
        {6, {"throttle", 0, DRIVE_ANSWER, 1, false}, "throttle"},
        {0, {"power", 0, DRIVE_SKIP, 0, false}, "power"},
        {6, {"throttle", 2, DRIVE_QUIT, 0, false}, "throttle"},
    };
    static struct drive_result r;
    struct trial_rules rules = tug_rules();
    (void)state;
    for (size_t i = 0; i < COUNT(cases); i++) {
        struct drive_act acts[COUNT(good_acts)];
        memcpy(acts, good_acts, sizeof acts);
        acts[cases[i].act] = cases[i].instead;
        run(&r, "servos", 1, &rules, acts, COUNT(acts));
        const struct trial_finding *f = drive_finding(&r, cases[i].finding);
        if (r.outcome.verdict != TRIAL_NOT_SHOWN || f == NULL || f->verdict == TRIAL_PASSED) {
            drive_print(&r);
            fail_msg("case %zu", i);
        }
    }
}

/* Lines of a rail (5.45 V where nothing else is said) with three servos on it, since a boot; `miss`
 * leaves a line out, `extra` are the keys beside. */
struct hand {
    double at_s;
    int channel, to;
};

static struct {
    int mv, pull; /* pull: by each servo that moves, mV */
    int boot;     /* reports up to the newest boot */
} rail = {5440, 80, 0};

static void play(struct drive *d, const struct hand *hands, size_t count, double from_s,
                 double to_s, const char *keys, double move_s, int miss) {
    for (int n = (int)(from_s * 20); n < (int)(to_s * 20); n++) {
        double now = n / 20.0, ch[4] = {1500, 1000, 1500, 1500};
        char line[300];
        int low = rail.mv;
        for (size_t i = 0; i < count; i++) {
            double part = (now - hands[i].at_s) / move_s;
            double *c = &ch[hands[i].channel];
            *c += (hands[i].to - *c) * (part < 0 ? 0 : part > 1 ? 1 : part);
            low -= part > 0 && part < 1.2 ? rail.pull : 0;
        }
        snprintf(line, sizeof line, "rx n=%d t=%d ch=%.0f,%.0f,%.0f,%.0f got=%d lost=0 ",
                 n + 1 - rail.boot, (n - rail.boot) * 50, ch[0], ch[1], ch[2], ch[3],
                 (n - rail.boot) * 2);
        size_t len = strlen(line);
        if (strstr(keys, "mvmin") != NULL)
            len += (size_t)snprintf(line + len, sizeof line - len, "mv=%d mvmin=%d ", rail.mv, low);
        else if (strstr(keys, "mv") != NULL)
            len += (size_t)snprintf(line + len, sizeof line - len, "mv=%d ", rail.mv);
        snprintf(line + len, sizeof line - len, "%s", strstr(keys, "reg") ? "reg=ok" : "fs=0");
        if (n != miss)
            drive_line(d, now, line);
    }
}

static const struct hand hands[] = {{14, 0, 1950}, {16, 0, 1500}, {19, 3, 1950}, {21, 3, 1500},
                                    {31, 0, 1050}, {31, 3, 1050}, {33, 0, 1500}, {33, 3, 1500},
                                    {41, 1, 1700}, {44, 1, 1000}};

static void by_lines(struct drive_result *r, const char *keys, double move_s, int miss) {
    struct trial_rules rules = tug_rules();
    struct drive_plan plan = {TRIAL_SUPPLY, 1, good_acts, COUNT(good_acts), &rules};
    struct drive *d = drive_new(&plan);
    play(d, hands, COUNT(hands), 0, 55, keys, move_s, miss);
    drive_end(d, r);
}

/* A rail that doesn't sag may be another source's: only the pulled battery tells. */
static void test_who_feeds_it(void **state) {
    static const struct hand late[] = {{14, 0, 1950}, {16, 0, 1500}, {19, 3, 1950}, {21, 3, 1500},
                                       {31, 0, 1050}, {31, 3, 1050}, {33, 0, 1500}, {33, 3, 1500},
                                       {50, 1, 1700}, {53, 1, 1000}};
    static const struct {
        const char *name, *boot; /* printed after 3 s without a line; NULL: the lines go on */
        int mv, pull;
        bool hole; /* the cable is out, the receiver runs on */
        enum trial_verdict verdict;
        const char *words;
    } cases[] = {
        {"sags", NULL, 5440, 80, false, TRIAL_PASSED, "runs on its battery"},
        {"pulled", "boot cause=power", 5440, 0, false, TRIAL_PASSED, "runs on its battery"},
        {"pulled, at USB's level", "boot cause=power", 5000, 0, false, TRIAL_PASSED, "its battery"},
        {"pulled, an old program", "boot", 5440, 0, false, TRIAL_PASSED, "runs on its battery"},
        {"not pulled", NULL, 5440, 0, false, TRIAL_NOT_SHOWN, "didn't go off"},
        {"USB's level, small sag", NULL, 5000, 30, false, TRIAL_NOT_SHOWN, "as USB's 5 V"},
        {"USB's level, it sags", NULL, 5000, 80, false, TRIAL_NOT_SHOWN, "as USB's 5 V"},
        {"reset by hand", "boot cause=reset", 5440, 0, false, TRIAL_NOT_SHOWN, "didn't go off"},
        {"a watchdog", "boot cause=watchdog", 5440, 0, false, TRIAL_NOT_SHOWN, "didn't go off"},
        {"the cable was out", NULL, 5440, 0, true, TRIAL_NOT_SHOWN, "didn't go off"},
    };
    static struct drive_result r;
    (void)state;
    for (size_t i = 0; i < COUNT(cases); i++) {
        struct trial_rules rules = tug_rules();
        struct drive_plan plan = {TRIAL_SUPPLY, 1, good_acts, COUNT(good_acts), &rules};
        struct drive *d = drive_new(&plan);
        bool off = cases[i].boot != NULL || cases[i].hole, asked = i > 0;
        const struct hand *moved = asked ? late : hands;
        rail.mv = cases[i].mv;
        rail.pull = cases[i].pull;
        play(d, moved, COUNT(late), 0, 41, "mvmin reg", 0.1, -1);
        if (cases[i].boot != NULL) {
            drive_line(d, 44, cases[i].boot);
            rail.boot = 44 * 20;
        }
        play(d, moved, COUNT(late), off ? 44.05 : 41, 75, "mvmin reg", 0.1, -1);
        drive_end(d, &r);
        rail.boot = 0;
        if (r.outcome.verdict != cases[i].verdict)
            print_message("%s\n", cases[i].name);
        expect_all(&r, cases[i].verdict);
        expect(&r, "power", cases[i].verdict, cases[i].words);
        assert_true(r.entry.ended);
    }
    rail.mv = 5440;
    rail.pull = 80;
}

static void test_missing_keys(void **state) {
    static struct drive_result r;
    (void)state;
    by_lines(&r, "mvmin reg", 0.1, -1);
    expect_all(&r, TRIAL_PASSED);
    by_lines(&r, "mv reg", 0.1, -1);
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "servo_1", TRIAL_NOT_SHOWN, "not shown without mvmin");
    assert_string_equal(drive_finding(&r, "servo_1")->missing, "mvmin");
    by_lines(&r, "reg", 0.1, -1);
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "rest", TRIAL_NOT_SHOWN, "mv and mvmin");
    by_lines(&r, "mvmin", 0.1, -1);
    expect_all(&r, TRIAL_NOT_SHOWN);
    assert_string_equal(drive_finding(&r, "settings_lost")->missing, "reg");
}

static void test_too_slow(void **state) {
    static struct drive_result r;
    (void)state;
    by_lines(&r, "mvmin reg", 1.0, -1); /* 450 us in a second */
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "servo_1", TRIAL_NOT_SHOWN, "too slowly");
}

/* A line missing on the cable may have held the dip. */
static void test_line_missing(void **state) {
    static struct drive_result r;
    (void)state;
    by_lines(&r, "mvmin reg", 0.1, 20 * 14 + 2);
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "servo_1", TRIAL_NOT_SHOWN, "lines are missing on the cable");
    expect(&r, "servo_4", TRIAL_PASSED, "");
}

static void test_port_lost(void **state) {
    static struct drive_result r;
    struct trial_rules rules = tug_rules();
    struct drive_plan plan = {TRIAL_SUPPLY, 1, good_acts, COUNT(good_acts), &rules};
    struct drive *d = drive_new(&plan);
    (void)state;
    play(d, hands, COUNT(hands), 0, 32, "mvmin reg", 0.1, -1);
    drive_port(d, 32, PORT_LOST, "");
    drive_port(d, 34, PORT_BACK, "");
    play(d, hands, COUNT(hands), 34.05, 55, "mvmin reg", 0.1, -1);
    drive_end(d, &r);
    assert_true(r.entry.port_lost);
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "together", TRIAL_NOT_SHOWN, "the port was lost");
}

/* The radio forgets while the receiver runs on. */
static void test_settings_lost(void **state) {
    static struct drive_result r;
    struct trial_rules rules = tug_rules();
    struct drive_plan plan = {TRIAL_SUPPLY, 1, good_acts, COUNT(good_acts), &rules};
    struct drive *d = drive_new(&plan);
    (void)state;
    play(d, hands, COUNT(hands), 0, 20, "mvmin reg", 0.1, -1);
    drive_line(d, 20.02,
               "rx n=401 t=20020 ch=1500,1000,1500,1950 got=800 lost=0 mv=5440 "
               "mvmin=5300 reg=default");
    play(d, hands, COUNT(hands), 20.05, 55, "mvmin reg", 0.1, -1);
    drive_end(d, &r);
    expect_all(&r, TRIAL_FAILED);
    expect(&r, "settings_lost", TRIAL_FAILED, "1 times while the receiver ran on (alone 1)");
    assert_non_null(strstr(r.outcome.next, "radio module"));
}

/* Who moved, how low it went, and who has to be snapped faster. */
static void test_pane(void **state) {
    static struct watched w;
    struct trial_pane pane;
    struct trial_rules rules = tug_rules();
    (void)state;
    watch_begin(&w, &trial_supply, &rules);
    watch_step(&w, 2);
    watch_lines(&w,
                "rx n=1 t=50 ch=1500,1000,1500,1500 mv=5440 mvmin=5440\n"
                "rx n=2 t=100 ch=1500,1000,1500,1500 mv=5440 mvmin=5430\n",
                &pane);
    assert_true(pane_says(&pane, "lowest at this step 5430 mV"));
    watch_step(&w, 4);
    watch_lines(&w,
                "rx n=3 t=150 ch=1950,1000,1500,1500 mv=5440 mvmin=5300\n"
                "rx n=4 t=200 ch=1950,1000,1500,1500 mv=5440 mvmin=5310\n"
                "rx n=5 t=3200 ch=1950,1000,1500,1500 mv=5440 mvmin=5440\n"
                "rx n=6 t=3250 ch=1950,1000,1500,1560 mv=5440 mvmin=5400\n",
                &pane);
    assert_true(pane_says(&pane, "channel 1 (rudder)           low 5300 mV, sag 130 mV"));
    assert_true(pane_says(&pane, "channel 4 (winch)            low 5400 mV, sag 30 mV  (too slow"));
    watch_end(&w);
}

static void by_hands(struct drive_result *r, const struct hand *moved, size_t count,
                     const struct trial_rules *rules) {
    struct drive_plan plan = {TRIAL_SUPPLY, 1, good_acts, COUNT(good_acts), rules};
    struct drive *d = drive_new(&plan);
    play(d, moved, count, 0, 55, "mvmin reg", 0.1, -1);
    drive_end(d, r);
}

/* Two at a time tell nothing of either; the throttle is no servo; all means all. */
static void test_alone_is_alone(void **state) {
    static const struct hand pair[] = {{14, 0, 1950}, {14, 3, 1950}, {16, 0, 1500},
                                       {16, 3, 1500}, {20, 1, 1700}, {22, 1, 1000}};
    static const struct hand two_of_three[] = {
        {14, 0, 1950}, {16, 0, 1500}, {18, 3, 1950}, {20, 3, 1500}, {22, 2, 1950},
        {24, 2, 1500}, {31, 0, 1050}, {31, 3, 1050}, {33, 0, 1500}, {33, 3, 1500}};
    static struct drive_result r;
    struct trial_rules rules = tug_rules();
    (void)state;
    by_hands(&r, pair, COUNT(pair), &rules);
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "servos", TRIAL_NOT_SHOWN, "none was seen to move alone");
    by_hands(&r, two_of_three, COUNT(two_of_three), &rules);
    expect_all(&r, TRIAL_NOT_SHOWN);
    expect(&r, "together", TRIAL_NOT_SHOWN, "at most 2 of the 3");
}

/* Told 5440 mV: the true supply is at most 5440 * 12/11 = 5935 mV. */
static void test_surely_low(void **state) {
    static struct drive_result r;
    struct trial_rules rules = tug_rules();
    (void)state;
    rules.bench.supply_low_mv = 5930;
    by_hands(&r, hands, COUNT(hands), &rules);
    expect(&r, "rest", TRIAL_NOT_SHOWN, "alarm at 5930 mV");
    rules.bench.supply_low_mv = 5940;
    by_hands(&r, hands, COUNT(hands), &rules);
    expect_all(&r, TRIAL_FAILED);
    expect(&r, "rest", TRIAL_FAILED, "alarm at 5940 mV");
}

/* A minimum that isn't known proves no headroom; one below a level at which it didn't reset says
 * that one of the two figures is wrong. */
static void test_brownout_unsure(void **state) {
    static struct drive_result r;
    struct trial_rules rules = tug_rules();
    (void)state;
    rules.brownout_mv = 4300;
    struct drive_plan plan = {TRIAL_SUPPLY, 1, good_acts, COUNT(good_acts), &rules};
    struct drive *d = drive_new(&plan);
    play(d, hands, COUNT(hands), 0, 55, "mv reg", 0.1, -1);
    drive_end(d, &r);
    expect(&r, "brownout", TRIAL_NOT_SHOWN, "Headroom to brown-out at 4300 mV");
    rules.brownout_mv = 6200;
    by_hands(&r, hands, COUNT(hands), &rules);
    expect(&r, "brownout", TRIAL_NOT_SHOWN, "at 6200 mV");
}

/* One servo alone restarts the receiver: it is that servo's fault. */
static void test_one_servo_restarts_it(void **state) {
    static struct drive_result r;
    struct trial_rules rules = tug_rules();
    struct drive_plan plan = {TRIAL_SUPPLY, 1, good_acts, COUNT(good_acts), &rules};
    struct drive *d = drive_new(&plan);
    (void)state;
    play(d, hands, COUNT(hands), 0, 14.2, "mvmin reg", 0.1, -1);
    drive_line(d, 14.21, "boot cause=brownout");
    play(d, hands, COUNT(hands), 14.25, 55, "mvmin reg", 0.1, -1);
    drive_end(d, &r);
    expect_all(&r, TRIAL_FAILED);
    expect(&r, "servo_1", TRIAL_FAILED, "the receiver restarted, so it went lower");
    expect(&r, "servo_4", TRIAL_PASSED, "");
    expect(&r, "restarts", TRIAL_FAILED, "1 by brown-out or power (alone 1)");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_alone_is_alone),
        cmocka_unit_test(test_surely_low),
        cmocka_unit_test(test_brownout_unsure),
        cmocka_unit_test(test_one_servo_restarts_it),
        cmocka_unit_test(test_pane),
        cmocka_unit_test(test_good_battery),
        cmocka_unit_test(test_tired_battery),
        cmocka_unit_test(test_reference_tolerance),
        cmocka_unit_test(test_brownout_headroom),
        cmocka_unit_test(test_usb_is_refused),
        cmocka_unit_test(test_model_says_the_power),
        cmocka_unit_test(test_like_usb),
        cmocka_unit_test(test_no_yes_no_trial),
        cmocka_unit_test(test_without_the_motor),
        cmocka_unit_test(test_wrong_paths),
        cmocka_unit_test(test_who_feeds_it),
        cmocka_unit_test(test_missing_keys),
        cmocka_unit_test(test_too_slow),
        cmocka_unit_test(test_line_missing),
        cmocka_unit_test(test_port_lost),
        cmocka_unit_test(test_settings_lost),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
