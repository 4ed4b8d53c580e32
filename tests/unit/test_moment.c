/* What an event meant for the link: packets of a report placed in time, their order, restarts. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "link/moment.h"
#include "telemetry/telemetry.h"

struct seen {
    struct bench *bench;
    uint32_t reports, restarts, forgot;
    struct packet_share whole, early, late; /* of all, up to and after split_ms */
    int64_t split_ms;
    struct loss_runs runs;
    double first_ms, last_ms;
};

static void take(void *context, const struct event *event) {
    struct seen *s = context;
    bench_feed(s->bench, event);
    const struct moment *m = bench_moment(s->bench);
    assert_ptr_equal(m->event, event);
    s->restarts += m->restarted;
    s->forgot += m->radio_forgot;
    if (event->kind != EVENT_REPORT) {
        assert_int_equal(moment_packets(m), 0);
        return;
    }
    s->reports++;
    struct packet_share early = moment_share(m, INT64_MIN, s->split_ms);
    struct packet_share late = moment_share(m, s->split_ms, INT64_MAX);
    assert_int_equal(early.got + early.lost + late.got + late.lost, moment_packets(m));
    s->early.got += early.got;
    s->early.lost += early.lost;
    s->late.got += late.got;
    s->late.lost += late.lost;
    moment_runs(m, INT64_MIN, INT64_MAX, &s->runs);
    if (moment_packets(m) > 0) {
        s->first_ms = moment_packet_ms(m, 0);
        s->last_ms = moment_packet_ms(m, moment_packets(m) - 1);
    }
}

static void feed(struct seen *s, const char *text) {
    struct bench_limits limits;
    struct telemetry t;
    bench_limits_default(&limits);
    limits.rate_hz = 50;
    s->bench = bench_new(&limits);
    assert_non_null(s->bench);
    telemetry_init(&t, take, s);
    telemetry_feed(&t, text, strlen(text), TIME_UNKNOWN);
    telemetry_end(&t, TIME_UNKNOWN);
    bench_free(s->bench);
}

/* Packets every 20 ms; a report every 100 ms, its newest packet 10 ms old. */
static void test_packets_are_placed(void **state) {
    (void)state;
    struct seen s = {.split_ms = 70};
    feed(&s, "rx n=7 t=1000 ch=1500 got=100 lost=0 age=10\n"
             "rx n=8 t=1100 ch=1500 got=103 lost=2 pat=oxxoo age=10\n");
    assert_int_equal(s.reports, 2);
    /* Link time begins at the first report: packets at 10, 30, 50, 70 and 90 ms. */
    assert_true(fabs(s.first_ms - 10) < 1e-9);
    assert_true(fabs(s.last_ms - 90) < 1e-9);
    assert_int_equal(s.early.got, 2);
    assert_int_equal(s.early.lost, 2);
    assert_int_equal(s.late.got, 1);
    assert_int_equal(s.late.lost, 0);
    assert_int_equal(s.runs.runs, 1);
    assert_int_equal(s.runs.lost, 2);
}

/* Counters without a pattern: the order is unknown, so no loss run is made up. */
static void test_no_order_no_runs(void **state) {
    (void)state;
    struct seen s = {.split_ms = 1000000};
    feed(&s, "rx n=7 t=1000 ch=1500 got=100 lost=0 age=10\n"
             "rx n=8 t=1100 ch=1500 got=103 lost=2 age=10\n");
    assert_int_equal(s.early.got, 3);
    assert_int_equal(s.early.lost, 2);
    assert_int_equal(s.runs.packets, 0);
}

static void test_restart_and_settings_lost(void **state) {
    (void)state;
    struct seen s = {.split_ms = 0};
    feed(&s, "rx n=7 t=1000 ch=1500 got=100 lost=0 reg=ok\n"
             "rx n=8 t=1100 ch=1500 got=105 lost=0 reg=default\n"
             "boot cause=brownout\n"
             "rx n=1 t=400 ch=1500 got=2 lost=0 pat=oo reg=ok age=5\n");
    assert_int_equal(s.forgot, 1);
    assert_int_equal(s.restarts, 1);
    assert_int_equal(s.early.got + s.late.got, 7);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_packets_are_placed),
        cmocka_unit_test(test_no_order_no_runs),
        cmocka_unit_test(test_restart_and_settings_lost),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
