/* Interarrival jitter against RFC 3550 (2003), 6.4.1 and A.8 (and RFC 1889 before it). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
/* cmocka needs the four above first */
#include <cmocka.h>

#include "base/clock.h"
#include "dice.h"
#include "link/jitter.h"

static void assert_near(double got, double want, double by) {
    if (!(fabs(got - want) <= by))
        fail_msg("%.13g, not %.13g", got, want);
}

/* A.8's recursion over transit times 0, 16, 0, 16, 0; and the integer form that A.8 gives for
 * machines without fractions, which only this test uses. */
static void test_recursion(void **state) {
    (void)state;
    static const double want[] = {0, 1, 1.9375, 2.81640625, 3.640380859375};
    static const int32_t reported[] = {0, 1, 1, 2, 3};
    struct jitter j;
    int32_t scaled = 0, before = 0;
    jitter_init(&j);
    for (int i = 0; i < 5; i++) {
        int32_t transit = i % 2 == 0 ? 0 : 16;
        jitter_transit(&j, transit);
        if (i > 0)
            scaled += abs(transit - before) - ((scaled + 8) >> 4);
        before = transit;
        assert_near(j.ms, want[i], 1e-12);
        assert_int_equal(scaled >> 4, reported[i]);
        assert_int_equal(j.updates, i);
    }
    assert_true(j.peak_ms == 16);
}

/* Sent every 20 ms.  The recursion of 6.4.1 worked out beside it; transit times and the telemetry's
 * own road (arrival, packets since) must agree. */
static void test_series(void **state) {
    (void)state;
    static const int64_t arrival[] = {0, 20, 43, 60, 85, 100, 120, 141, 160};
    static const double want[] = {0,
                                  0,
                                  0.1875,
                                  0.36328125,
                                  0.653076171875,
                                  0.9247589111328,
                                  0.8669614791870,
                                  0.8752763867378,
                                  0.8830716125668};
    struct jitter by_transit, by_packet;
    jitter_init(&by_transit);
    jitter_init(&by_packet);
    for (int i = 0; i < 9; i++) {
        jitter_transit(&by_transit, (double)(arrival[i] - 20 * i));
        jitter_packet(&by_packet, 5000 + arrival[i], 1, 50);
        assert_near(by_transit.ms, want[i], 1e-10);
        assert_near(by_packet.ms, want[i], 1e-10);
    }
    assert_int_equal(by_packet.updates, 8);
}

/* Constant |D| = 1: J = 1 - (15/16)^k. */
static void test_step_response(void **state) {
    (void)state;
    struct jitter j;
    jitter_init(&j);
    jitter_transit(&j, 0);
    for (int k = 1; k <= 100; k++) {
        jitter_transit(&j, k); /* later and later, by 1 each time */
        assert_near(j.ms, 1 - pow(15.0 / 16, k), 1e-12);
        if (k == 16)
            assert_near(j.ms, 0.6439258695, 1e-9);
        if (k == 100)
            assert_near(j.ms, 0.9984255545, 1e-9);
    }
}

/* 6.4.1: J starts at 0, the first packet makes no difference; and across a restart the clocks and
 * numbers begin anew, so it makes none there either. */
static void test_breaks(void **state) {
    (void)state;
    struct jitter j;
    jitter_init(&j);
    assert_int_equal(j.updates, 0);
    jitter_packet(&j, 1000, 5, 100);
    assert_int_equal(j.updates, 0);
    assert_true(j.ms == 0);
    jitter_packet(&j, 1066, 5, 100); /* 66 ms for 50 ms: |D| = 16 */
    assert_true(j.ms == 1);
    jitter_break(&j);
    jitter_packet(&j, 40, 5, 100); /* after a restart: far off, and no difference */
    assert_int_equal(j.updates, 1);
    assert_true(j.ms == 1);
    jitter_packet(&j, 90, 5, 100);
    assert_int_equal(j.updates, 2);
    assert_true(j.ms == 15.0 / 16);
    /* what can't be told makes none either, nor does the packet after it */
    jitter_packet(&j, TIME_UNKNOWN, 5, 100);
    jitter_packet(&j, 190, 5, 100);
    jitter_packet(&j, 240, 5, 0);
    jitter_packet(&j, 290, 5, 100);
    jitter_packet(&j, 340, 0, 100);
    jitter_packet(&j, 390, 5, 100);
    assert_int_equal(j.updates, 2);
}

/* Packets that are lost between two reports change nothing: 7 packets later is 70 ms later. */
static void test_lost_between(void **state) {
    (void)state;
    struct jitter j;
    jitter_init(&j);
    jitter_packet(&j, 0, 1, 100);
    jitter_packet(&j, 70, 7, 100);
    jitter_packet(&j, 110, 4, 100);
    assert_int_equal(j.updates, 2);
    assert_true(j.ms == 0);
}

/* What the header says of whole milliseconds.  A perfectly regular link whose reports lie whole
 * milliseconds and a part f apart shows 2 f (1 - f), since the difference is f with probability 1 -
 * f and 1 - f with probability f; over all f that is a third. */
static double floor_jitter(uint64_t most_packets, double rate_hz) {
    struct jitter j;
    struct dice d = {3550};
    double sum = 0;
    int64_t sent = 0;
    jitter_init(&j);
    for (int i = 0; i < 200000; i++) {
        uint64_t packets = 1 + dice_below(&d, most_packets);
        sent += (int64_t)packets;
        jitter_packet(&j, (int64_t)floor((double)sent * 1000 / rate_hz), packets, rate_hz);
        sum += j.ms;
    }
    return sum / 200000;
}

static void test_floor(void **state) {
    (void)state;
    assert_near(floor_jitter(1, 100), 0, 1e-12);
    assert_near(floor_jitter(1, 1000 / 9.75), 0.375, 0.005);
    assert_near(floor_jitter(1000, 104.7), 1.0 / 3, 0.005);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_recursion),     cmocka_unit_test(test_series),
        cmocka_unit_test(test_step_response), cmocka_unit_test(test_breaks),
        cmocka_unit_test(test_lost_between),  cmocka_unit_test(test_floor),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
