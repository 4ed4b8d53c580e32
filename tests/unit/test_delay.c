/* The time from the last packet, by clocks that agree, run slow, and stall: each against the time
 * that was true. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "judge/delay.h"

/* A receiver that reports each 50 ms of true time; its clock runs at `speed`, and stands still
 * between two true times. */
struct source {
    double speed, still_from_ms, still_to_ms;
    double held_from_ms, held_to_ms; /* lines of this time arrive at its end */
    bool no_host, no_t;
    uint32_t age_stops; /* 0: never */
    int told_each_ms;   /* the counters are brought up to date so seldom; 0: always */
    bool no_age;
};

static double clock_ms(const struct source *s, double true_ms) {
    double still = 0;
    if (true_ms > s->still_from_ms)
        still = (true_ms < s->still_to_ms ? true_ms : s->still_to_ms) - s->still_from_ms;
    return (true_ms - still) * s->speed;
}

static double arrives_ms(const struct source *s, double true_ms) {
    return true_ms >= s->held_from_ms && true_ms < s->held_to_ms ? s->held_to_ms : true_ms;
}

/* Packets until 5000 ms, reports for 8 s after that; what happens, happens delay_ms after the last
 * packet. */
static struct delay_bounds play(const struct source *s, double delay_ms) {
    enum { LAST_MS = 5000, EACH_MS = 50, PHASE_MS = 13, END_MS = 13000 };
    struct delay_clocks clocks = {0};
    struct delay_from from = {0};
    struct delay_to to = {0};
    int64_t before = TIME_UNKNOWN;
    for (int at = PHASE_MS; at < END_MS; at += EACH_MS) {
        double packet_ms = at < LAST_MS ? at - at % 20 : LAST_MS;
        double age = clock_ms(s, at) - clock_ms(s, packet_ms);
        struct delay_report r = {
            .before_ms = before,
            .host_us = s->no_host ? TIME_UNKNOWN : (int64_t)(arrives_ms(s, at) * 1000),
            .own_clock = !s->no_t,
            .has_age = !s->no_age,
            .age_ms = s->age_stops > 0 && age > s->age_stops ? s->age_stops : (uint32_t)age};
        r.link_ms = s->no_t ? r.host_us / 1000 : (int64_t)clock_ms(s, at);
        int told = s->told_each_ms > 0 ? s->told_each_ms : EACH_MS;
        r.arrived = at / told != (at - EACH_MS) / told && at - told < LAST_MS;
        delay_clocks_report(&clocks, &r);
        if (r.arrived)
            delay_begin(&from, &clocks, &r);
        else
            delay_follow(&from, &r);
        if (!to.known && at >= LAST_MS + delay_ms)
            delay_mark(&to, &r);
        else if (to.known)
            delay_after(&to, &r);
        before = r.link_ms;
    }
    return delay_of(&from, &to);
}

static void holds(struct delay_bounds b, double delay_ms, double width_ms) {
    double low = (double)b.low_ms, high = (double)b.high_ms;
    if (low > delay_ms || high < delay_ms || high - low > width_ms)
        fail_msg("%.0f ms isn't in [%lld, %lld], or that is wider than %.0f", delay_ms,
                 (long long)b.low_ms, (long long)b.high_ms, width_ms);
}

static void clocks_agree(void **state) {
    (void)state;
    struct source s = {.speed = 1};
    for (int delay_ms = 20; delay_ms < 3000; delay_ms += 7) {
        struct delay_bounds b = play(&s, delay_ms);
        holds(b, delay_ms, 104);
        assert_false(b.age_lies || b.clock_slow || b.clock_fast);
    }
}

static void no_second_clock(void **state) {
    (void)state;
    struct source s = {.speed = 1, .no_host = true};
    holds(play(&s, 500), 500, 104);
    s = (struct source){.speed = 1, .no_t = true};
    holds(play(&s, 500), 500, 320);
}

/* The longer time counts; the shorter one of the slow clock isn't believed. */
static void slow_clock(void **state) {
    (void)state;
    for (int percent = 30; percent <= 80; percent += 10) {
        struct source s = {.speed = percent / 100.0};
        struct delay_bounds b = play(&s, 2000);
        holds(b, 2000, 3000);
        assert_true(b.clock_slow && b.low_ms > 1000);
    }
    struct source s = {.speed = 1, .still_from_ms = 5200, .still_to_ms = 6100};
    struct delay_bounds b = play(&s, 1850);
    holds(b, 1850, 500);
    assert_true(b.clock_slow && b.low_ms > 1000);
}

/* A fast clock makes a delay long: both times are within the bounds. */
static void fast_clock(void **state) {
    (void)state;
    struct source s = {.speed = 3};
    struct delay_bounds b = play(&s, 300);
    assert_true(b.clock_fast && b.low_ms <= 300 && b.high_ms >= 900);
}

/* An oscillator that is a little off contradicts nothing. */
static void rough_clock(void **state) {
    (void)state;
    for (int percent = 94; percent <= 106; percent += 2) {
        struct source s = {.speed = percent / 100.0};
        struct delay_bounds b = play(&s, 600);
        holds(b, 600, 300);
        assert_false(b.clock_slow || b.clock_fast);
    }
}

/* Lines that are held up on their way make the bounds wide, not long: nothing is refuted by them.
 */
static void held_lines(void **state) {
    (void)state;
    struct source s = {.speed = 1, .held_from_ms = 5200, .held_to_ms = 6300};
    struct delay_bounds b = play(&s, 500);
    assert_true(b.low_ms <= 500 && b.high_ms >= 500);
    assert_false(b.clock_slow);
    s.held_from_ms = 4000; /* over the last packet */
    s.held_to_ms = 5100;
    b = play(&s, 500);
    assert_true(b.low_ms <= 500 && b.high_ms >= 500);
    assert_false(b.clock_slow);
}

static void age_that_stops(void **state) {
    (void)state;
    struct source s = {.speed = 1, .age_stops = 500};
    struct delay_bounds b = play(&s, 3000);
    holds(b, 3000, 104);
    assert_true(b.age_lies);
}

/* Counters that are brought up to date once a second tell of the last packet up to a second late.
 */
static void counters_that_lag(void **state) {
    (void)state;
    struct source s = {.speed = 1, .told_each_ms = 1000, .no_age = true};
    for (int delay_ms = 1100; delay_ms < 3000; delay_ms += 130)
        holds(play(&s, delay_ms), delay_ms, 2104);
}

static void nothing_known(void **state) {
    (void)state;
    struct delay_from from = {0};
    struct delay_to to = {0};
    struct delay_report r = {.link_ms = TIME_UNKNOWN, .before_ms = TIME_UNKNOWN};
    assert_int_equal(delay_of(&from, &to).low_ms, TIME_UNKNOWN);
    assert_int_equal(delay_of(&from, &to).high_ms, TIME_UNKNOWN);
    assert_int_equal(delay_surely_ms(&from, &r), -1);
}

/* Time that has surely passed is the least that either clock says. */
static void surely(void **state) {
    (void)state;
    struct delay_clocks clocks = {0};
    struct delay_from from;
    struct delay_report r = {
        .link_ms = 1000, .before_ms = 950, .host_us = 1000000, .own_clock = true};
    delay_begin(&from, &clocks, &r);
    r.link_ms = 3000;
    r.host_us = 1900000;
    assert_int_equal(delay_surely_ms(&from, &r), 900);
    r.host_us = 9000000;
    assert_int_equal(delay_surely_ms(&from, &r), 2000);
    r.host_us = TIME_UNKNOWN;
    assert_int_equal(delay_surely_ms(&from, &r), 2000);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clocks_agree),   cmocka_unit_test(no_second_clock),
        cmocka_unit_test(slow_clock),     cmocka_unit_test(fast_clock),
        cmocka_unit_test(rough_clock),    cmocka_unit_test(held_lines),
        cmocka_unit_test(age_that_stops), cmocka_unit_test(counters_that_lag),
        cmocka_unit_test(nothing_known),  cmocka_unit_test(surely),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
