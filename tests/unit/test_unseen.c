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

/* --- the supply -------------------------------------------------------------------------------- */

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

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_dip_told_by_mvmin_alone),
        cmocka_unit_test(test_lowest_is_the_least_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
