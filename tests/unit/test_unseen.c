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
#include "link/log_entries.h"
#include "link/measure.h"
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
            /* Now and then what no supply has: the greatest that a line may hold. */
            int64_t mv = dice_chance(d, 0.02) ? 99999 : (int64_t)dice_below(d, 9000);
            if (dice_chance(d, 0.4))
                continue;
            len += snprintf(line + len, sizeof line - (size_t)len, " %s=%lld", keys[key],
                            (long long)mv);
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
    assert_int_equal(g.course->outages, 0);
    assert_int_equal(s->outage_ms, 4900);
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
        const struct outage_step *outage = &bench_moment(g.bench)->outage;
        if (outage->ended) {
            assert_true(outage->low_ms > rig_read(&g)->outage_limit_ms);
            assert_true(outage->low_ms <= outage->high_ms);
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

/* --- while it runs -----------------------------------------------------------------------------
 */

/* Printed at at_ms, and read then. */
static void line_at(struct rig *g, int64_t at_ms, const char *line) {
    g->host_us = at_ms * 1000;
    rig_line(g, line);
}

static enum link_state state_at(struct rig *g, int64_t at_ms) {
    bench_advance(g->bench, at_ms * 1000);
    return rig_read(g)->state;
}

static uint64_t count_of(const struct snapshot *s, enum log_entry_kind kind, int64_t a, int64_t b) {
    uint64_t count = 0;
    for (uint64_t i = 0; i < s->log_entries; i++)
        count += s->log_entry[i].kind == kind && s->log_entry[i].a == a && s->log_entry[i].b == b;
    return count;
}

/* So many good reports, 20 a second, of 50 packets a second; returns when the last was printed. */
static int64_t good_reports(struct rig *g, int from, int count, const char *form) {
    int64_t at_ms = 0;
    for (int i = from; i < from + count; i++) {
        char line[160];
        at_ms = 50 * i;
        snprintf(line, sizeof line, form, i, 50 * i, 5 * i / 2, 5 * i / 2);
        line_at(g, at_ms, line);
    }
    return at_ms;
}

static const char counted[] = "rx ch=1500 n=%d t=%d got=%d lost=0 seq=%d age=5";

static void test_reports_stop_while_lines_come(void **state) {
    (void)state;
    struct rig g;
    rig_begin(&g);
    line_at(&g, 0, "id rate=50 seqmod=0");
    int64_t last_ms = good_reports(&g, 1, 60, counted);
    assert_int_equal(state_at(&g, last_ms), STATE_LINKED);
    assert_true(g.now.last_10s.known);
    for (int i = 1; i <= 10; i++) {
        line_at(&g, last_ms + 1000 * i, "say the battery is fine");
        enum link_state now = rig_read(&g)->state;
        assert_int_equal(now, i < 2 ? STATE_LINKED : STATE_NO_REPORTS);
        assert_int_equal(g.now.alarm[ALARM_NO_REPORTS], i >= 2);
        assert_false(g.now.alarm[ALARM_NO_LINES] || (i >= 2 && g.now.last_10s.known));
    }
    assert_int_equal(g.now.reports_age_ms, 10000);
    assert_true(g.now.outage_ms == TIME_UNKNOWN); /* for how long none came, nobody knows */
    assert_false(g.now.reports_repeat);
    /* The line says it once; then the lines stop as well, and nothing of it is well again. */
    assert_int_equal(state_at(&g, last_ms + 15000), STATE_NO_LINES);
    assert_int_equal(count_of(&g.now, LOG_ENTRY_ALARM, ALARM_NO_REPORTS, 1), 1);
    assert_int_equal(count_of(&g.now, LOG_ENTRY_ALARM, ALARM_NO_REPORTS, 0), 0);
    good_reports(&g, 400, 1, counted);
    assert_int_equal(rig_read(&g)->state, STATE_LINKED);
    assert_int_equal(count_of(&g.now, LOG_ENTRY_ALARM, ALARM_NO_REPORTS, 0), 1);
    rig_end(&g);
}

static void test_lines_stop_with_the_reports(void **state) {
    (void)state;
    struct rig g;
    rig_begin(&g);
    int64_t last_ms = good_reports(&g, 1, 60, counted);
    assert_int_equal(state_at(&g, last_ms + 1999), STATE_LINKED);
    assert_int_equal(state_at(&g, last_ms + 2000), STATE_NO_LINES);
    assert_false(g.now.alarm[ALARM_NO_REPORTS]);
    line_at(&g, last_ms + 9000, "say hello"); /* a line is back, a report isn't */
    assert_int_equal(state_at(&g, last_ms + 9001), STATE_NO_REPORTS);
    rig_end(&g);
}

/* Receivers that hang while something goes on printing, ten times a second for 6 s. */
static void test_reports_that_repeat(void **state) {
    (void)state;
    static const struct {
        const char *legend, *form; /* i from 1, at 100 i ms after the last good report */
        enum link_state state;
    } cases[] = {
        {"the same line", "rx ch=1500 n=60 t=3000 got=150 lost=0 seq=150 age=5", STATE_NO_REPORTS},
        {"t moves on, the rest stands", "rx ch=1500 n=60 t=%2$d got=150 lost=0 seq=150 age=5",
         STATE_NO_REPORTS},
        {"n moves on, t stands", "rx ch=1500 n=%1$d t=3000 got=150 lost=0 seq=150 age=5",
         STATE_NO_REPORTS},
        {"n and t move on, the counters stand",
         "rx ch=1500 n=%1$d t=%2$d got=150 lost=0 seq=150 age=5", STATE_OUTAGE},
        {"without n and t, the counters stand", "rx ch=1500 got=150 lost=0 seq=150", STATE_OUTAGE},
        {"bare numbers from then on", "1500,1500", STATE_OUTAGE},
    };
    for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct rig g;
        rig_begin(&g);
        int64_t last_ms = good_reports(&g, 1, 60, counted);
        for (int i = 1; i <= 60; i++) {
            char line[160];
            snprintf(line, sizeof line, cases[k].form, 60 + i, 3000 + 100 * i);
            line_at(&g, last_ms + 100 * i, line);
        }
        const struct snapshot *s = rig_read(&g);
        print_message("%s: %s\n", cases[k].legend, link_state_name(s->state));
        assert_int_equal(s->state, cases[k].state);
        assert_true(s->lines_missing == 0 && s->receiver_restarts == 0);
        assert_false(s->last_10s.known);
        assert_int_equal(s->reports_repeat, cases[k].state == STATE_NO_REPORTS);
        rig_end(&g);
    }
}

/* One report a second, of one packet a second: slow, but linked all the time. */
static void test_slow_reports_are_reports(void **state) {
    (void)state;
    struct rig g;
    rig_begin(&g);
    line_at(&g, 0, "id rate=1 seqmod=0");
    for (int i = 1; i <= 30; i++) {
        char line[120];
        snprintf(line, sizeof line, "rx ch=1500 n=%d t=%d got=%d lost=0 seq=%d age=30", i, 1000 * i,
                 i, i);
        line_at(&g, 1000 * i, line);
        assert_int_equal(state_at(&g, 1000 * i + 900), STATE_LINKED);
        assert_true(g.now.last_10s.known);
    }
    rig_end(&g);
}

/* --- loss in an outage -------------------------------------------------------------------------
 */

/* Loss above the limit, then nothing for 30 s: the loss is unknown, and no event says that it fell.
 */
static void test_outage_ends_no_loss_alarm(void **state) {
    (void)state;
    struct rig g;
    int lost = 0, got = 0;
    rig_begin(&g);
    line_at(&g, 0, "id rate=50 seqmod=0");
    for (int i = 1; i <= 900; i++) {
        char line[120];
        bool away = i > 300 && i <= 700;
        if (!away) {
            got += 2;
            lost += i <= 300; /* a third of them; later all come */
        }
        snprintf(line, sizeof line, "rx ch=1500 n=%d t=%d got=%d lost=%d age=%d", i, 50 * i, got,
                 lost, away ? 50 * (i - 300) + 5 : 5);
        line_at(&g, 50 * i, line);
        const struct snapshot *s = rig_read(&g);
        if (i == 300)
            assert_true(s->state == STATE_LOSSY && s->alarm[ALARM_LOSS] && s->last_10s.known);
        if (away && i > 310) {
            assert_int_equal(s->state, STATE_OUTAGE);
            assert_true(s->alarm[ALARM_LOSS] && !s->last_10s.known && !s->last_1s.known);
            assert_int_equal(count_of(s, LOG_ENTRY_ALARM, ALARM_LOSS, 0), 0);
        }
    }
    assert_int_equal(g.now.state, STATE_LINKED);
    assert_false(g.now.alarm[ALARM_LOSS]);
    assert_int_equal(count_of(&g.now, LOG_ENTRY_ALARM, ALARM_LOSS, 0), 1);
    rig_end(&g);
}

/* After a restart of the receiver no packet has come yet: what came before says nothing of now. */
static void test_restart_makes_the_last_seconds_unknown(void **state) {
    (void)state;
    struct rig g;
    rig_begin(&g);
    good_reports(&g, 1, 60, counted);
    line_at(&g, 3050, "boot cause=brownout");
    for (int i = 1; i <= 40; i++) {
        char line[80];
        snprintf(line, sizeof line, "rx ch=1500 n=%d t=%d got=0 lost=0", i, 50 * i);
        line_at(&g, 3050 + 50 * i, line);
        assert_int_equal(rig_read(&g)->state, STATE_NEVER_HEARD);
        assert_false(g.now.last_10s.known);
    }
    rig_end(&g);
}

/* A supply that was too low and is told of no more is not well again. */
static void test_supply_no_longer_told(void **state) {
    (void)state;
    struct rig g;
    rig_begin(&g);
    for (int i = 1; i <= 200; i++) {
        char line[80];
        snprintf(line, sizeof line, i <= 20 ? "rx ch=1500 n=%d t=%d mv=%d" : "rx ch=1500 n=%d t=%d",
                 i, 50 * i, i < 10 ? 5000 : 3800);
        line_at(&g, 50 * i, line);
    }
    assert_true(rig_read(&g)->alarm[ALARM_SUPPLY]);
    assert_int_equal(count_of(&g.now, LOG_ENTRY_ALARM, ALARM_SUPPLY, 0), 0);
    rig_end(&g);
}

/* --- what lies in an outage ---------------------------------------------------------------------
 */

/* A transmitter of 50 packets a second that is heard but from 10 to 20 s; 20 reports a second, 40
 * s.
 */
struct outage_case {
    const char *legend, *id, *form; /* of n, t, got, lost, seq, age */
    bool off;                       /* it sent nothing meanwhile, else all was lost */
    bool counted;                   /* its receiver tells of losses */
    int boot_ms;                    /* the receiver restarts then; 0: never */
};

static void play_outage(struct rig *g, const struct outage_case *c) {
    int got = 0, lost = 0, seq = 100, heard = 0, good_ms = 0, n = 0, base_ms = 0;
    rig_line(g, c->id);
    for (int ms = 10; ms <= 40000; ms += 10) {
        bool away = ms > 10000 && ms <= 20000, sent = ms % 20 == 0 && !(away && c->off);
        seq += sent;
        if (sent && !away) {
            lost += c->counted && heard > 0 ? seq - heard - 1 : 0;
            heard = seq;
            good_ms = ms;
            got++;
        }
        if (c->boot_ms > 0 && ms == c->boot_ms) {
            rig_line(g, "boot cause=watchdog");
            got = lost = heard = n = good_ms = 0;
            base_ms = ms;
        }
        char line[160];
        bool aged = good_ms > 0;
        snprintf(line, sizeof line, c->form, ++n, ms - base_ms, got, lost, heard, ms - good_ms);
        if (!aged && strstr(line, " age=") != NULL) /* last: left out before the first packet */
            *strstr(line, " age=") = '\0';
        if (ms % 50 == 0)
            line_at(g, ms, line);
        else
            n--;
    }
}

static const struct outage_case outage_cases[] = {
    {"switched off", "id rate=50", "rx ch=1500 n=%d t=%d got=%d lost=%d seq=%d age=%d", true, true,
     0},
    {"switched off, no rate", "id fw=a", "rx ch=1500 n=%d t=%d got=%d lost=%d seq=%d age=%d", true,
     true, 0},
    {"switched off, got and seq", "id rate=50 seqmod=65536",
     "rx ch=1500 n=%d t=%d got=%d extra=%d seq=%d age=%d", true, false, 0},
    {"out of range", "id rate=50", "rx ch=1500 n=%d t=%d got=%d lost=%d seq=%d age=%d", false, true,
     0},
    {"out of range, got and seq", "id rate=50 seqmod=65536",
     "rx ch=1500 n=%d t=%d got=%d extra=%d seq=%d age=%d", false, false, 0},
    {"receiver restarts in it", "id rate=50", "rx ch=1500 n=%d t=%d got=%d lost=%d seq=%d age=%d",
     false, true, 15000},
};

/* In no bin of the outage a packet was received; none is lost that wasn't sent, or that the
 * receiver was away for. */
static void test_outage_is_not_lossless(void **state) {
    (void)state;
    for (size_t k = 0; k < sizeof outage_cases / sizeof outage_cases[0]; k++) {
        const struct outage_case *c = &outage_cases[k];
        struct rig g;
        rig_begin(&g);
        play_outage(&g, c);
        const struct snapshot *s = rig_read(&g);
        struct course_bin within;
        uint32_t first = 10250 / COURSE_BIN_MS, last = 19500 / COURSE_BIN_MS;
        bool lost = !c->off && c->boot_ms == 0;
        assert_int_equal(g.course->bin_ms, COURSE_BIN_MS);
        course_join(g.course, first, last - first, &within);
        print_message("%s: %d got, %d lost in it\n", c->legend, (int)within.got, (int)within.lost);
        assert_int_equal(within.got, 0);
        assert_int_equal(s->total.lost, lost ? 500 : 0);
        assert_true(lost ? within.lost >= 450 : within.lost == 0);
        assert_int_equal(s->unsent, !lost);
        assert_int_equal(s->outages, 1);
        struct measures m;
        bench_measure(g.bench, &m);
        if (s->unsent > 0)
            assert_true(m.ground == GROUND_NONE && m.why != NULL);
        rig_end(&g);
    }
}

/* Of all runs above, what happened is listed in the order of its times. */
static void test_events_stand_in_their_order(void **state) {
    (void)state;
    for (size_t k = 0; k < sizeof outage_cases / sizeof outage_cases[0]; k++) {
        struct rig g;
        int64_t before_ms = INT64_MIN;
        rig_begin(&g);
        play_outage(&g, &outage_cases[k]);
        const struct snapshot *s = rig_read(&g);
        assert_true(s->log_entries > 2 && s->log_entries < LOG_ENTRIES_MAX);
        for (uint64_t i = 0; i < s->log_entries; i++) {
            if (s->log_entry[i].at_ms == TIME_UNKNOWN)
                continue;
            assert_true(s->log_entry[i].at_ms >= before_ms);
            before_ms = s->log_entry[i].at_ms;
        }
        rig_end(&g);
    }
}

/* More of them than the ring holds, at any times: the newest of the ring are in order, no time is
 * lost, and what has no time stays behind what came before it. */
static void test_ring_of_events_in_any_order(void **state) {
    (void)state;
    struct dice d = {47};
    static struct log_entries h;
    for (int i = 0; i < 5000; i++) {
        int64_t at_ms = (int64_t)i * 10 - (int64_t)dice_below(&d, 300);
        log_entries_add(&h, LOG_ENTRY_SAY, dice_chance(&d, 0.02) ? TIME_UNKNOWN : at_ms, i, 0, 0,
                        (struct slice){"", 0});
        assert_int_equal(h.count, i + 1);
        int64_t before_ms = INT64_MIN;
        uint64_t kept = h.count < LOG_ENTRIES_MAX ? h.count : LOG_ENTRIES_MAX;
        for (uint64_t k = h.count - kept; k < h.count; k++) {
            int64_t now_ms = h.ring[k % LOG_ENTRIES_MAX].at_ms;
            assert_true(now_ms == TIME_UNKNOWN || now_ms >= before_ms);
            before_ms =
                now_ms == TIME_UNKNOWN ? INT64_MIN : now_ms; /* a time may be older than that */
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_dip_told_by_mvmin_alone),
        cmocka_unit_test(test_lowest_is_the_least_told),
        cmocka_unit_test(test_counter_alone_ends_no_outage),
        cmocka_unit_test(test_no_outage_is_shorter_than_the_limit),
        cmocka_unit_test(test_reports_stop_while_lines_come),
        cmocka_unit_test(test_lines_stop_with_the_reports),
        cmocka_unit_test(test_reports_that_repeat),
        cmocka_unit_test(test_slow_reports_are_reports),
        cmocka_unit_test(test_outage_ends_no_loss_alarm),
        cmocka_unit_test(test_restart_makes_the_last_seconds_unknown),
        cmocka_unit_test(test_supply_no_longer_told),
        cmocka_unit_test(test_outage_is_not_lossless),
        cmocka_unit_test(test_events_stand_in_their_order),
        cmocka_unit_test(test_ring_of_events_in_any_order),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
