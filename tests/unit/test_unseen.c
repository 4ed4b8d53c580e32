/* What nobody saw is not told as seen: whatever keys a receiver prints and wherever they stop.
 * Expected values follow from the lines by the rules of airleash-telemetry(5). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "dice.h"
#include "link/bench.h"
#include "link/moment.h"
#include "study/course.h"
#include "telemetry/telemetry.h"

struct rig {
    struct bench *bench;
    struct course *course;
    struct telemetry decoder;
    int64_t host_us;
    struct snapshot now;
};

static void take(void *context, const struct event *e) {
    struct rig *g = context;
    bench_feed(g->bench, e);
    course_feed(g->course, bench_moment(g->bench));
}

static void rig_begin(struct rig *g) {
    struct bench_limits limits;
    bench_limits_default(&limits);
    g->bench = bench_new(&limits);
    g->course = malloc(sizeof *g->course);
    assert_true(g->bench != NULL && g->course != NULL);
    course_init(g->course);
    telemetry_init(&g->decoder, take, g);
    g->host_us = TIME_UNKNOWN;
}

static void rig_line(struct rig *g, const char *line) {
    telemetry_feed(&g->decoder, line, strlen(line), g->host_us);
    telemetry_feed(&g->decoder, "\n", 1, g->host_us);
}

static const struct snapshot *rig_read(struct rig *g) {
    bench_read(g->bench, &g->now);
    return &g->now;
}

static void rig_end(struct rig *g) {
    free(g->course);
    bench_free(g->bench);
}

/* --- the supply --------------------------------------------------------------------------------
 */

static void test_dip_told_by_mvmin_alone(void **state) {
    (void)state;
    static const int told[] = {5000, 3900, 5000, 5010};
    struct rig g;
    rig_begin(&g);
    for (int i = 0; i < 4; i++) {
        char line[80];
        snprintf(line, sizeof line, "rx n=%d t=%d ch=1500 mvmin=%d", i + 1, 50 * i, told[i]);
        rig_line(&g, line);
        /* A 5 V rail, so that its alarm stands at 4000 mV. */
        assert_int_equal(rig_read(&g)->alarm[ALARM_SUPPLY], i > 0);
    }
    assert_int_equal(g.now.supply_low_mv, 3900);
    assert_int_equal(g.now.supply_low_at_ms, 50);
    assert_true(g.now.supply_min_known && !g.now.supply_known);
    assert_int_equal(g.course->supply_highest_mv, 5010);
    rig_end(&g);
}

/* One run with any keys of the supply in any report: the lowest is the least of all values told. */
static void any_supply(struct dice *d) {
    struct rig g;
    int64_t least = INT64_MAX, most = 0;
    rig_begin(&g);
    for (int i = 0; i < 40; i++) {
        char line[120];
        int len = snprintf(line, sizeof line, "rx n=%d t=%d ch=1500", i + 1, 50 * i);
        for (int key = 0; key < 2; key++) {
            static const char *const keys[] = {"mv", "mvmin"};
            /* Now and then what no supply has: a damaged number, the greatest that a line holds. */
            int64_t mv = dice_chance(d, 0.02) ? INT64_C(4294967295) : (int64_t)dice_below(d, 9000);
            if (dice_chance(d, 0.4))
                continue;
            len += snprintf(line + len, sizeof line - (size_t)len, " %s=%lld", keys[key],
                            (long long)mv);
            mv = mv < INT32_MAX ? mv : INT32_MAX;
            least = mv < least ? mv : least;
            most = mv > most ? mv : most;
        }
        if (dice_chance(d, 0.3)) /* another supply */
            snprintf(line + len, sizeof line - (size_t)len, " tmv=%d", (int)dice_below(d, 9000));
        rig_line(&g, line);
        const struct snapshot *s = rig_read(&g);
        bool told = least != INT64_MAX;
        assert_int_equal(s->supply_known || s->supply_min_known, told);
        assert_int_equal(s->supply_low_mv, told ? least : 0);
        assert_int_equal(g.course->supply_highest_mv, most);
    }
    struct course_bin all;
    course_join(g.course, 0, g.course->bins, &all);
    assert_int_equal(all.supply_low.count > 0 ? all.supply_low.low : INT64_MAX, least);
    rig_end(&g);
}

static void test_lowest_is_the_least_told(void **state) {
    (void)state;
    struct dice d = {41};
    for (int run = 0; run < 300; run++)
        any_supply(&d);
}

/* --- outages -----------------------------------------------------------------------------------
 */

/* Silent since 100 ms, at 20 reports a second; then got grows, but age says that no packet came. */
static void test_counter_alone_ends_no_outage(void **state) {
    (void)state;
    struct rig g;
    rig_begin(&g);
    for (int i = 1; i <= 100; i++) {
        char line[120];
        int got = i < 60 ? 458 : 558;
        snprintf(line, sizeof line, "rx n=%d t=%d ch=1500 got=%d lost=0 age=%d", i, 50 * i, got,
                 50 * i - 100);
        if (i >= 2)
            rig_line(&g, line);
    }
    const struct snapshot *s = rig_read(&g);
    assert_true(s->silent_at_end);
    assert_int_equal(s->outages, 0);
    assert_int_equal(g.course->silences, 0);
    assert_int_equal(s->silence_ms, 4900);
    rig_end(&g);
}

/* Any values of any keys: an outage that ended was longer than the limit. */
static void any_reports(struct dice *d) {
    struct rig g;
    uint32_t t = 0, got = 0;
    bool clock = dice_chance(d, 0.7);
    rig_begin(&g);
    for (int i = 1; i <= 60; i++) {
        char line[200];
        uint32_t step = (uint32_t)dice_below(d, dice_chance(d, 0.1) ? 5000 : 100);
        t += step;
        got += dice_chance(d, 0.5) ? 0 : (uint32_t)dice_below(d, 5);
        g.host_us = dice_chance(d, 0.1) ? g.host_us : (int64_t)t * 1000;
        int len = snprintf(line, sizeof line, "rx ch=1500 got=%u age=%u lost=%u",
                           dice_chance(d, 0.05) ? (uint32_t)dice_below(d, 1000) : got,
                           (uint32_t)dice_below(d, dice_chance(d, 0.3) ? 10000 : 60),
                           (uint32_t)dice_below(d, 3));
        if (clock)
            len += snprintf(line + len, sizeof line - (size_t)len, " n=%d t=%u", i, t);
        if (dice_chance(d, 0.5))
            snprintf(line + len, sizeof line - (size_t)len, " gap=%u",
                     (uint32_t)dice_below(d, 300));
        if (dice_chance(d, 0.02))
            rig_line(&g, "boot cause=watchdog");
        rig_line(&g, line);
        const struct silence_step *silence = &bench_moment(g.bench)->silence;
        if (silence->ended) {
            assert_true(silence->low_ms > rig_read(&g)->outage_limit_ms);
            assert_true(silence->low_ms <= silence->high_ms);
        }
    }
    assert_int_equal(g.course->at_least[0], 0);
    rig_end(&g);
}

static void test_no_outage_is_shorter_than_the_limit(void **state) {
    (void)state;
    struct dice d = {43};
    for (int run = 0; run < 500; run++)
        any_reports(&d);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_dip_told_by_mvmin_alone),
        cmocka_unit_test(test_lowest_is_the_least_told),
        cmocka_unit_test(test_counter_alone_ends_no_outage),
        cmocka_unit_test(test_no_outage_is_shorter_than_the_limit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
