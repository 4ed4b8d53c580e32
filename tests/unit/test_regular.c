/* Regularity of reports, and the receiver's clock against the host's. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
/* cmocka needs the four above first */
#include <cmocka.h>

#include "dice.h"
#include "link/regular.h"

static void assert_near(const char *what, double got, double want, double by) {
    if (!(fabs(got - want) <= by))
        fail_msg("%s: %.12g, not %.12g", what, got, want);
}

/* --- intervals -------------------------------------------------------------------------------- */

/* NIST StRD, NumAcc1: 10000001, 10000003, 10000002 have mean 10000002 and standard deviation 1. */
static void test_small_spread(void **state) {
    (void)state;
    static const int64_t length[] = {10000001, 10000003, 10000002};
    struct regular g;
    int64_t at = 500;
    regular_init(&g);
    regular_report(&g, at, TIME_UNKNOWN, true);
    assert_int_equal(g.intervals, 0);
    assert_true(regular_sd_ms(&g) < 0);
    for (int i = 0; i < 3; i++)
        regular_report(&g, at += length[i], TIME_UNKNOWN, true);
    assert_int_equal(g.intervals, 3);
    assert_near("mean", g.mean_ms, 10000002, 1e-8);
    assert_near("sd", regular_sd_ms(&g), 1, 1e-8);
    assert_int_equal(g.shortest_ms, 10000001);
    assert_int_equal(g.longest_ms, 10000003);
    assert_int_equal(g.longest_at_ms, 500 + 10000001);
    assert_false(regular_drift(&g).known); /* no host times */
}

/* Only reports that follow each other directly make an interval. */
static void test_holes(void **state) {
    (void)state;
    struct regular g;
    regular_init(&g);
    regular_report(&g, 0, TIME_UNKNOWN, true);
    regular_report(&g, 50, TIME_UNKNOWN, true);
    regular_report(&g, 250, TIME_UNKNOWN, false); /* lines are missing */
    regular_report(&g, 301, TIME_UNKNOWN, true);
    regular_restart(&g);
    regular_report(&g, 2000, TIME_UNKNOWN, true);
    regular_report(&g, 2049, TIME_UNKNOWN, true);
    regular_report(&g, TIME_UNKNOWN, TIME_UNKNOWN, true);
    regular_report(&g, 2200, TIME_UNKNOWN, true);
    assert_int_equal(g.intervals, 3);
    assert_near("mean", g.mean_ms, 50, 1e-12);
    assert_near("sd", regular_sd_ms(&g), 1, 1e-12);
}

/* --- the clock -------------------------------------------------------------------------------- */

/* One line in each of 32 blocks.  SciPy 1.10.1, scipy.stats.theilslopes(late, t), gives the slope
 * 0.116254269670996 and the limits 0.0935768147542473, 0.136653507440024 (µs late per ms). */
static void test_slopes(void **state) {
    (void)state;
    static const int64_t late_us[] = {5120, 4870, 6030, 5990, 5410, 7000, 6120, 5230,
                                      6890, 6010, 7450, 6400, 9800, 6650, 7020, 6800,
                                      7900, 7105, 7630, 7200, 8210, 7777, 7400, 8800,
                                      8020, 7950, 8460, 9990, 8500, 8330, 9010, 8700};
    struct regular g;
    regular_init(&g);
    for (int i = 0; i < 32; i++) {
        int64_t t_ms = 1000 * i + 37 * i % 400;
        regular_report(&g, t_ms, t_ms * 1000 + late_us[i], true);
        if (i == 15)
            assert_false(regular_drift(&g).known); /* too short a time */
    }
    struct regular_drift d = regular_drift(&g);
    assert_true(d.known);
    assert_int_equal(d.span_ms, 31347);
    /* host = receiver (1 + s): the receiver is ahead by 1 / (1 + s) - 1 */
    assert_near("drift", d.ppm, (1 / 1.000116254269670996 - 1) * 1e6, 1e-6);
    assert_near("low", d.low_ppm, (1 / 1.000136653507440024 - 1) * 1e6, 1e-6);
    assert_near("high", d.high_ppm, (1 / 1.0000935768147542473 - 1) * 1e6, 1e-6);
}

/* A cable and a host: 3 ms at least, an exponential rest, and now and then a stall that holds all
 * lines back until it ends. */
struct cable {
    struct dice dice;
    double mean_us, stall;
    int64_t stall_end_us, newest_us;
};

static int64_t through(struct cable *c, int64_t sent_us) {
    if (dice_chance(&c->dice, c->stall))
        c->stall_end_us = sent_us + (int64_t)dice_below(&c->dice, 400000);
    int64_t at = sent_us + 3000 - (int64_t)(c->mean_us * log(1 - dice_share(&c->dice)));
    at = at > c->stall_end_us ? at : c->stall_end_us;
    c->newest_us = at > c->newest_us ? at : c->newest_us;
    return c->newest_us;
}

/* Reports every 50 ms of a receiver whose clock is ahead by ppm, for so many seconds. */
static void run(struct regular *g, struct cable *c, double ppm, int64_t from_us, int seconds,
                int64_t uptime_ms) {
    for (int i = 0; i < seconds * 20; i++) {
        double rx_ms = 50.0 * i;
        int64_t sent_us = from_us + (int64_t)(rx_ms * 1000 / (1 + ppm / 1e6));
        regular_report(g, uptime_ms + (int64_t)rx_ms, through(c, sent_us), i > 0);
    }
}

struct drift_case {
    const char *legend;
    double ppm;
    int seconds;
    double mean_us, stall;
    double by; /* ppm */
};

static const struct drift_case drift_cases[] = {
    {"quartz, quiet cable", 40, 120, 200, 0, 5},
    {"quartz, busy host", -40, 600, 5000, 0.01, 5},
    {"ceramic resonator", 3000, 120, 500, 0.002, 10},
    {"ceramic resonator, the other way", -3000, 120, 500, 0.002, 10},
    {"an hour", 15, 3600, 20000, 0.01, 1},
};

static void test_drifts(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof drift_cases / sizeof drift_cases[0]; i++) {
        const struct drift_case *c = &drift_cases[i];
        struct cable cable = {.dice = {77 + i}, .mean_us = c->mean_us, .stall = c->stall};
        struct regular g;
        regular_init(&g);
        run(&g, &cable, c->ppm, 0, c->seconds, 0);
        struct regular_drift d = regular_drift(&g);
        assert_true(d.known);
        assert_near(c->legend, d.ppm, c->ppm, c->by);
        assert_true(d.low_ppm <= d.ppm && d.ppm <= d.high_ppm);
        assert_near(c->legend, d.low_ppm, c->ppm, 4 * c->by);
        assert_near(c->legend, d.high_ppm, c->ppm, 4 * c->by);
    }
}

/* Host times that are no clock's tell no drift; a receiver whose clock divider is set wrongly has
 * one. */
static void test_host_without_clock(void **state) {
    (void)state;
    static const struct {
        double us_a_ms; /* host time for each ms of the receiver's */
        bool known;
    } cases[] = {
        {0, false},        /* the host's clock stood */
        {0.0744, false},   /* a capture, piped in */
        {-1000, false},    /* it ran backwards */
        {30000, false},    /* the reader was held up, again and again */
        {2000, true},      /* half the speed: 8 MHz set for 16 */
        {16000, true},     /* a sixteenth */
        {1000 / 8., true}, /* eight times as fast */
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct regular g;
        regular_init(&g);
        for (int64_t ms = 0; ms <= 60000; ms += 50)
            regular_report(&g, ms, (int64_t)((double)ms * cases[i].us_a_ms), ms > 0);
        struct regular_drift d = regular_drift(&g);
        assert_int_equal(d.known, cases[i].known);
        assert_int_equal(d.untimed, !cases[i].known);
        if (d.known) /* (receiver / host - 1), worked out by hand from the case */
            assert_near("drift", d.ppm, (1000 / cases[i].us_a_ms - 1) * 1e6, 1000);
        else
            assert_true(d.ppm == 0 && d.low_ppm == 0 && d.high_ppm == 0);
    }
}

/* The interval over many runs with the true drift known: of 95 % nominal, at least 90 %. */
static void test_coverage(void **state) {
    (void)state;
    int inside = 0;
    for (uint64_t round = 1; round <= 400; round++) {
        struct cable cable = {.dice = {round * 7919}, .mean_us = 3000, .stall = 0.005};
        double ppm = dice_share(&cable.dice) * 200 - 100;
        struct regular g;
        regular_init(&g);
        run(&g, &cable, ppm, 0, 90, 0);
        struct regular_drift d = regular_drift(&g);
        inside += d.known && d.low_ppm <= ppm && ppm <= d.high_ppm;
    }
    print_message("drift: %d of 400 intervals hold the truth\n", inside);
    assert_true(inside >= 360);
}

/* The longest stretch between restarts tells; a restart is no drift. */
static void test_restarts(void **state) {
    (void)state;
    struct cable cable = {.dice = {5}, .mean_us = 300};
    struct regular g;
    regular_init(&g);
    run(&g, &cable, 50, 0, 40, 0);
    struct regular_drift first = regular_drift(&g);
    regular_restart(&g);
    run(&g, &cable, 50, 50000000, 200, 49000); /* carried on by the host's clock, roughly */
    struct regular_drift longer = regular_drift(&g);
    regular_restart(&g);
    run(&g, &cable, 50, 400000000, 35, 0);
    struct regular_drift last = regular_drift(&g);
    assert_true(first.known && longer.known && last.known);
    assert_true(first.span_ms > 35000 && first.span_ms < 40000); /* less a block at each end */
    assert_true(longer.span_ms > 180000 && longer.span_ms < 200000);
    assert_true(last.ppm == longer.ppm && last.span_ms == longer.span_ms);
    assert_near("drift", last.ppm, 50, 5);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_small_spread),
        cmocka_unit_test(test_holes),
        cmocka_unit_test(test_slopes),
        cmocka_unit_test(test_drifts),
        cmocka_unit_test(test_host_without_clock),
        cmocka_unit_test(test_coverage),
        cmocka_unit_test(test_restarts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
