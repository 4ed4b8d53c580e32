/* The bench fed with lines: what it counts follows from the lines by the rules of
 * airleash-telemetry(5); expected values are worked out by hand beside each case.  Outside sources
 * are named where there is one. */
#include <math.h>
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
#include "link/channels.h"
#include "link/failsafe.h"
#include "link/lines.h"
#include "link/window.h"
#include "telemetry/telemetry.h"

struct rig {
    struct bench *bench;
    struct telemetry decoder;
    int64_t host_us;
    struct snapshot now;
};

static void to_bench(void *context, const struct event *e) {
    bench_feed(context, e);
}

static void rig_begin(struct rig *g, const struct bench_limits *limits) {
    struct bench_limits usual;
    bench_limits_default(&usual);
    g->bench = bench_new(limits ? limits : &usual);
    assert_non_null(g->bench);
    telemetry_init(&g->decoder, to_bench, g->bench);
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
    bench_free(g->bench);
}

/* --- packets by evidence ---------------------------------------------------------------------- */

struct packet_case {
    const char *legend;
    const char *lines[8];
    enum evidence evidence;
    uint64_t got, lost, order_unknown, missing_lines;
};

static const struct packet_case packet_cases[] = {
    {"pat: the first report is a baseline, its own pat counts",
     {"rx n=10 t=1000 ch=1500 got=100 lost=7 pat=oxo age=5",
      "rx n=11 t=1050 ch=1500 got=102 lost=7 pat=oo age=5"},
     EVIDENCE_PATTERN,
     4,
     1,
     0,
     0},
    {"pat absent where there was no packet",
     {"rx n=1 t=50 ch=1500 got=2 lost=0 pat=oo age=5", "rx n=2 t=100 ch=1500 got=2 lost=0 age=55"},
     EVIDENCE_PATTERN,
     2,
     0,
     0,
     0},
    {"pat without counters",
     {"rx n=1 t=50 ch=1500 pat=oo", "rx n=2 t=100 ch=1500 pat=xo"},
     EVIDENCE_PATTERN,
     3,
     1,
     0,
     0},
    {"got and lost: the baseline's counters are not this run's",
     {"rx n=5 t=250 ch=1500 got=100 lost=7 age=5", "rx n=6 t=300 ch=1500 got=103 lost=9 age=5"},
     EVIDENCE_COUNTERS,
     3,
     2,
     5,
     0},
    {"n=1: the boot's counters are all ours",
     {"rx n=1 t=50 ch=1500 got=2 lost=1 age=5", "rx n=2 t=100 ch=1500 got=4 lost=1 age=5"},
     EVIDENCE_COUNTERS,
     4,
     1,
     5,
     0},
    /* RFC 1889 (1996) App. A.3: expected = cycles + max - base + 1; base 65500, one wrap, max 99,
     * 130 received: expected 136, lost 6.  The baseline packet itself is not counted here. */
    {"got against seq, over a wrap",
     {"id end=rx seqmod=65536", "rx n=5 t=250 ch=1500 got=1000 seq=65500",
      "rx n=6 t=3000 ch=1500 got=1129 seq=99"},
     EVIDENCE_SEQUENCE,
     129,
     6,
     135,
     0},
    /* 50 a second over 2 s from the first good packet seen: 100 expected, 90 came. */
    {"got against the nominal rate",
     {"id end=tx rate=50", "rx n=5 t=1000 ch=1500 got=100 age=0",
      "rx n=6 t=2000 ch=1500 got=150 age=0", "rx n=7 t=3000 ch=1500 got=200 age=0",
      "rx n=8 t=4000 ch=1500 got=240 age=0"},
     EVIDENCE_RATE,
     140,
     10,
     150,
     0},
    {"a hole in n is the cable's: totals exact, order unknown",
     {"rx n=1 t=50 ch=1500 got=2 lost=0 pat=oo", "rx n=5 t=250 ch=1500 got=10 lost=2 pat=oo"},
     EVIDENCE_PATTERN,
     10,
     2,
     8,
     3},
    {"a hole that refused lines account for is damage",
     {"rx n=1 t=50 ch=1500 got=2 lost=0 pat=oo", "rx n=2 t=1x0 ch=1500 got=4 lost=0 pat=oo",
      "rx n=3 t=150 ch=1500 got=6 lost=0 pat=oo"},
     EVIDENCE_PATTERN,
     6,
     0,
     2,
     0},
    {"a full pattern with older packets that were all missing keeps its order",
     {"rx n=1 t=50 ch=1500 got=1 lost=0 pat=o",
      "rx n=2 t=2050 ch=1500 got=2 lost=99 "
      "pat=xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxo"},
     EVIDENCE_PATTERN,
     2,
     99,
     0,
     0},
    {"a counter damaged unseen is found by the reports after it, and taken back",
     {"rx n=1 t=50 ch=1500 got=2 lost=0", "rx n=2 t=100 ch=1500 got=100004 lost=0",
      "rx n=3 t=150 ch=1500 got=6 lost=0", "rx n=4 t=200 ch=1500 got=8 lost=0",
      "rx n=5 t=250 ch=1500 got=9 lost=1", "rx n=6 t=300 ch=1500 got=11 lost=1"},
     EVIDENCE_COUNTERS,
     11,
     1,
     12,
     0},
    {"no packet yet is not the same as not knowing",
     {"rx n=1 t=50 ch=1500 got=0 lost=0 fs=1", "rx n=2 t=100 ch=1500 got=0 lost=0 fs=1"},
     EVIDENCE_COUNTERS,
     0,
     0,
     0,
     0},
    {"bare numbers say nothing of packets",
     {"x", "1500,1500,1000", "1500,1500,1001"},
     EVIDENCE_NONE,
     0,
     0,
     0,
     0},
};

static void test_packets(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof packet_cases / sizeof packet_cases[0]; i++) {
        const struct packet_case *c = &packet_cases[i];
        struct rig g;
        rig_begin(&g, NULL);
        for (size_t k = 0; k < 8 && c->lines[k] != NULL; k++)
            rig_line(&g, c->lines[k]);
        const struct snapshot *s = rig_read(&g);
        if (s->evidence != c->evidence || s->total.got != c->got || s->total.lost != c->lost ||
            s->order_unknown != c->order_unknown || s->lines_missing != c->missing_lines)
            fail_msg("%s: evidence %s, got %llu, lost %llu, order unknown %llu, missing %llu",
                     c->legend, evidence_name(s->evidence), (unsigned long long)s->total.got,
                     (unsigned long long)s->total.lost, (unsigned long long)s->order_unknown,
                     (unsigned long long)s->lines_missing);
        assert_int_equal(s->total.known, c->evidence != EVIDENCE_NONE);
        rig_end(&g);
    }
}

static void test_estimate(void **state) {
    /* 256 numbers at 50 a second last 5.12 s; after 10 s of outage the count has gone round. */
    (void)state;
    struct rig g;
    rig_begin(&g, NULL);
    rig_line(&g, "id end=rx rate=50 seqmod=256");
    rig_line(&g, "rx n=1 t=50 ch=1500 got=2 lost=0 seq=1 pat=oo age=0");
    rig_line(&g, "rx n=201 t=10050 ch=1500 got=3 lost=243 seq=245 age=0 gap=10000");
    const struct snapshot *s = rig_read(&g);
    assert_int_equal(s->total.got, 3);
    assert_int_equal(s->total.lost, 0);
    assert_int_equal(s->lost_estimated, 500);
    rig_end(&g);
}

/* --- restarts --------------------------------------------------------------------------------- */

static void test_receiver_restart(void **state) {
    (void)state;
    struct rig g;
    rig_begin(&g, NULL);
    rig_line(&g, "rx n=5 t=5000 ch=1500 got=100 lost=3 pat=oo age=0");
    rig_line(&g, "rx n=1 t=300 ch=1500 got=4 lost=1 pat=oooxo age=0");
    const struct snapshot *s = rig_read(&g);
    assert_int_equal(s->receiver_restarts, 1);
    assert_int_equal(s->restarts_by_cause[BOOT_UNKNOWN], 1);
    assert_int_equal(s->total.got, 6);
    assert_int_equal(s->total.lost, 1);
    assert_int_equal(s->outages, 0); /* from the restart to its first packet is not observed */
    rig_line(&g, "boot cause=brownout");
    rig_line(&g, "rx n=1 t=100 ch=1500 got=1 lost=0 pat=o age=0");
    s = rig_read(&g);
    assert_int_equal(s->receiver_restarts, 2); /* told twice, counted once */
    assert_int_equal(s->restarts_by_cause[BOOT_BROWNOUT], 1);
    assert_int_equal(s->total.got, 7);
    rig_end(&g);
}

static void test_settings_lost(void **state) {
    /* The radio's registers at their defaults: once after a boot, where code is late, which is no
     * settings_lost, and once while the uptime goes on, which is. */
    (void)state;
    struct rig g;
    rig_begin(&g, NULL);
    rig_line(&g, "boot cause=power");
    rig_line(&g, "rx n=1 t=50 ch=1500 reg=default");
    rig_line(&g, "rx n=2 t=100 ch=1500 reg=ok");
    rig_line(&g, "rx n=3 t=150 ch=1500 reg=default");
    rig_line(&g, "rx n=4 t=200 ch=1500 reg=default");
    rig_line(&g, "rx n=5 t=250 ch=1500 reg=ok reinit=1");
    const struct snapshot *s = rig_read(&g);
    assert_int_equal(s->settings_lost, 1);
    assert_int_equal(s->registers_forgotten, 3);
    assert_int_equal(s->restart_count, 1);
    assert_true(s->restarts[0].kind == RESTART_RADIO && s->restarts[0].at_ms == 100);
    rig_end(&g);
}

static void test_uptime_wrap(void **state) {
    (void)state;
    struct rig g;
    rig_begin(&g, NULL);
    rig_line(&g, "rx n=50 t=4294967290 ch=1500 got=100 lost=3 pat=oo age=0");
    rig_line(&g, "rx n=51 t=44 ch=1500 got=102 lost=3 pat=oo age=0");
    const struct snapshot *s = rig_read(&g);
    assert_int_equal(s->receiver_restarts, 0);
    assert_int_equal(s->uptime_wraps, 1);
    assert_int_equal(s->link_ms, 50);
    assert_int_equal(s->total.got, 4);
    rig_end(&g);
}

struct restart_case {
    const char *legend;
    const char *lines[4];
    uint64_t restarts, lost;
};

static const struct restart_case transmitter_cases[] = {
    {"tboot changes",
     {"rx n=1 t=50 ch=1500 got=2 lost=0 pat=oo seq=900 tboot=7",
      "rx n=2 t=100 ch=1500 got=3 lost=0 pat=o seq=1 tboot=8"},
     1,
     0},
    {"seq drops, and it is no wrap",
     {"rx n=1 t=50 ch=1500 got=2 lost=0 pat=oo seq=900",
      "rx n=2 t=100 ch=1500 got=3 lost=0 pat=o seq=1"},
     1,
     0},
    {"seq wraps at its modulus",
     {"id end=rx seqmod=65536", "rx n=1 t=50 ch=1500 got=2 lost=0 pat=oo seq=65535",
      "rx n=2 t=100 ch=1500 got=4 lost=1 pat=oxo seq=2"},
     0,
     1},
    {"a wrap of an unstated modulus is found by the packets counted",
     {"rx n=1 t=50 ch=1500 got=2 lost=0 pat=oo seq=254",
      "rx n=2 t=100 ch=1500 got=4 lost=1 pat=oxo seq=1"},
     0,
     1},
    {"without a counter of losses nothing is lost across the start",
     {"rx n=1 t=50 ch=1500 got=2 seq=900 tboot=7", "rx n=2 t=100 ch=1500 got=3 seq=5 tboot=8"},
     1,
     0},
};

static void test_transmitter_restart(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof transmitter_cases / sizeof transmitter_cases[0]; i++) {
        const struct restart_case *c = &transmitter_cases[i];
        struct rig g;
        rig_begin(&g, NULL);
        for (size_t k = 0; k < 4 && c->lines[k] != NULL; k++)
            rig_line(&g, c->lines[k]);
        const struct snapshot *s = rig_read(&g);
        if (s->transmitter_restarts != c->restarts || s->total.lost != c->lost)
            fail_msg("%s: %llu restarts, %llu lost", c->legend,
                     (unsigned long long)s->transmitter_restarts,
                     (unsigned long long)s->total.lost);
        assert_int_equal(s->receiver_restarts, 0);
        rig_end(&g);
    }
}

static void open_port(struct rig *g, const char *note) {
    struct event e = {.kind = EVENT_PORT, .host_us = g->host_us};
    e.port.change = PORT_OPENED;
    e.port.note = slice_of(note);
    bench_feed(g->bench, &e);
}

static void test_opening_restart(void **state) {
    (void)state;
    static const struct {
        const char *legend, *note, *first;
        int64_t after_us;
        uint64_t opening, receiver;
    } cases[] = {
        {"booted with the opening", "speed=115200 kind=serial", "rx n=1 t=300 ch=1500 got=0 lost=0",
         2000000, 1, 0},
        {"told by its boot line", "speed=115200 kind=serial", "boot cause=reset", 1700000, 1, 0},
        {"ran on undisturbed", "speed=115200 kind=serial", "rx n=900 t=45000 ch=1500 got=9 lost=0",
         50000, 0, 0},
        {"switched on a minute later", "speed=115200 kind=serial", "boot cause=power", 60000000, 0,
         0},
        {"no serial port, no such line", "kind=tty", "rx n=1 t=300 ch=1500 got=0 lost=0", 2000000,
         0, 0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct rig g;
        rig_begin(&g, NULL);
        g.host_us = 1000000;
        open_port(&g, cases[i].note);
        g.host_us += cases[i].after_us;
        rig_line(&g, cases[i].first);
        const struct snapshot *s = rig_read(&g);
        if (s->opening_restarts != cases[i].opening || s->receiver_restarts != cases[i].receiver)
            fail_msg("%s: opening %llu, receiver %llu", cases[i].legend,
                     (unsigned long long)s->opening_restarts,
                     (unsigned long long)s->receiver_restarts);
        rig_end(&g);
    }
}

/* --- outage and failsafe --------------------------------------------------------------------- */

static void test_outage(void **state) {
    (void)state;
    struct rig g;
    rig_begin(&g, NULL);
    rig_line(&g, "id end=rx rate=50");
    rig_line(&g, "rx n=1 t=1000 ch=1500 got=10 lost=0 age=0 gap=20");
    rig_line(&g, "rx n=2 t=1050 ch=1500 got=10 lost=0 age=50 gap=50");
    assert_int_equal(rig_read(&g)->outages, 0);
    rig_line(&g, "rx n=3 t=1200 ch=1500 got=10 lost=0 age=200 gap=200");
    const struct snapshot *s = rig_read(&g);
    assert_int_equal(s->state, STATE_OUTAGE);
    assert_true(s->silent_at_end);
    assert_int_equal(s->outage_ms, 200);
    assert_int_equal(s->outstanding, 10); /* 200 ms at 50 a second; never in the totals */
    assert_int_equal(s->total.lost, 0);
    assert_int_equal(s->longest_gap_ms, 200);
    rig_line(&g, "rx n=4 t=1250 ch=1500 got=12 lost=10 age=10 gap=220");
    s = rig_read(&g);
    assert_int_equal(s->state, STATE_LINKED);
    assert_int_equal(s->outages, 1);
    assert_int_equal(s->longest_gap_ms, 220);
    assert_int_equal(s->longest_low_ms, 220);
    assert_int_equal(s->longest_at_ms, 0);
    assert_int_equal(s->total.lost, 10);
    rig_end(&g);
}

static void test_outage_without_gap(void **state) {
    /* Two packets came at some moments after the report at 1200 ms: the outage lasted at least the
     * 200 ms seen by then, at most up to the newest packet. */
    (void)state;
    struct rig g;
    rig_begin(&g, NULL);
    rig_line(&g, "rx n=1 t=1000 ch=1500 got=10 lost=0 age=0");
    rig_line(&g, "rx n=2 t=1200 ch=1500 got=10 lost=0 age=200");
    rig_line(&g, "rx n=3 t=1250 ch=1500 got=12 lost=10 age=10");
    const struct snapshot *s = rig_read(&g);
    assert_int_equal(s->outages, 1);
    assert_int_equal(s->longest_low_ms, 200);
    assert_int_equal(s->longest_gap_ms, 240);
    rig_end(&g);
}

static void test_outage_in_a_hole(void **state) {
    /* Over 250 ms of missing lines 12 packets came and none was lost, at 50 a second: no gap can be
     * longer than 20 ms and a ms of rounding.  Without the rate nobody knows. */
    (void)state;
    for (int with_rate = 0; with_rate < 2; with_rate++) {
        struct rig g;
        rig_begin(&g, NULL);
        if (with_rate)
            rig_line(&g, "id end=rx rate=50");
        rig_line(&g, "rx n=1 t=1000 ch=1500 got=10 lost=0 age=10 gap=20");
        rig_line(&g, "rx n=6 t=1250 ch=1500 got=22 lost=0 age=10 gap=20");
        const struct snapshot *s = rig_read(&g);
        assert_int_equal(s->outages, 0);
        assert_int_equal(s->outages_unsure, with_rate ? 0 : 1);
        assert_int_equal(s->longest_gap_ms, with_rate ? 21 : 250);
        rig_end(&g);
    }
}

static void test_failsafe(void **state) {
    (void)state;
    struct rig g;
    rig_begin(&g, NULL);
    rig_line(&g, "rx n=1 t=1000 ch=1500,1800 got=0 lost=0 fs=1 fsn=0");
    assert_int_equal(rig_read(&g)->state, STATE_NEVER_HEARD);
    rig_line(&g, "rx n=2 t=1050 ch=1500,1800 got=1 lost=0 age=0 fs=0 fsn=0");
    assert_int_equal(rig_read(&g)->failsafe_entries, 0); /* before the first packet is no entry */
    rig_line(&g, "rx n=3 t=1550 ch=1500,1800 got=1 lost=0 age=500 fs=0 fsn=0");
    rig_line(&g, "rx n=4 t=1600 ch=1500,1000 got=1 lost=0 age=550 fs=1 fsn=1");
    const struct snapshot *s = rig_read(&g);
    assert_int_equal(s->state, STATE_FAILSAFE);
    assert_int_equal(s->failsafe_entries, 1);
    assert_int_equal(s->failsafe_events[0].enter.low_ms, 550);
    assert_int_equal(s->failsafe_events[0].enter.high_ms, 600);
    assert_true(s->failsafe_events[0].leave.high_ms == TIME_UNKNOWN);
    rig_line(&g, "rx n=5 t=1650 ch=1500,1000 got=2 lost=29 age=10 fs=0 fsn=1 lock=1");
    s = rig_read(&g);
    assert_int_equal(s->state, STATE_LOCKED);
    assert_int_equal(s->failsafe_events[0].leave.low_ms, 600);
    assert_int_equal(s->failsafe_events[0].leave.high_ms, 650);
    rig_line(&g, "rx n=9 t=1850 ch=1500,1000 got=9 lost=32 age=10 fs=0 fsn=2 lock=0");
    s = rig_read(&g);
    assert_int_equal(s->failsafe_entries, 2); /* entered and left within the hole */
    assert_true(s->failsafe_events[1].unseen);
    rig_end(&g);
}

static void test_failsafe_delays(void **state) {
    /* Last packet at 1005 ms of uptime.  Failsafe is seen between the reports at 1500 and 1550, so
     * 494 to 546 ms later, since t and age are both cut to whole ms; the throttle (channel 2, idle
     * at 1000 +- 20, common practice) between 1550 and 1600.  The first packet comes between 2000
     * and 2050, failsafe goes between 2050 and 2100. */
    (void)state;
    struct rig g;
    struct bench_limits limits;
    bench_limits_default(&limits);
    limits_one_motor(&limits, 1, IDLE_LOW);
    rig_begin(&g, &limits);
    rig_line(&g, "rx n=1 t=1000 ch=1500,1800 got=10 lost=0 age=10 fs=0 fsn=0");
    rig_line(&g, "rx n=2 t=1050 ch=1500,1800 got=11 lost=0 age=45 fs=0 fsn=0");
    rig_line(&g, "rx n=3 t=1500 ch=1500,1800 got=11 lost=0 age=495 fs=0 fsn=0");
    rig_line(&g, "rx n=4 t=1550 ch=1500,1400 got=11 lost=0 age=545 fs=1 fsn=1");
    rig_line(&g, "rx n=5 t=1600 ch=1500,1015 got=11 lost=0 age=595 fs=1 fsn=1");
    rig_line(&g, "rx n=6 t=2000 ch=1500,1015 got=11 lost=0 age=995 fs=1 fsn=1");
    rig_line(&g, "rx n=7 t=2050 ch=1500,1015 got=13 lost=40 age=5 fs=1 fsn=1");
    rig_line(&g, "rx n=8 t=2100 ch=1500,1800 got=15 lost=40 age=5 fs=0 fsn=1");
    const struct failsafe_event *e = rig_read(&g)->failsafe_events;
    struct time_bounds delay = failsafe_delay(e), idle = failsafe_throttle_delay(e);
    struct time_bounds recovery = failsafe_recovery(e);
    assert_true(delay.low_ms == 494 && delay.high_ms == 546);
    assert_true(idle.low_ms == 544 && idle.high_ms == 596);
    assert_true(recovery.low_ms == 0 && recovery.high_ms == 100);
    rig_end(&g);
}

static void test_failsafe_throttle_was_idle(void **state) {
    /* A throttle that was low before proves nothing. */
    (void)state;
    struct rig g;
    struct bench_limits limits;
    bench_limits_default(&limits);
    limits_one_motor(&limits, 0, IDLE_LOW);
    rig_begin(&g, &limits);
    rig_line(&g, "rx n=1 t=1000 ch=1010 got=10 lost=0 age=10 fs=0 fsn=0");
    rig_line(&g, "rx n=2 t=1500 ch=1010 got=10 lost=0 age=510 fs=1 fsn=1");
    const struct failsafe_event *e = rig_read(&g)->failsafe_events;
    assert_true(failsafe_throttle_delay(e).low_ms == TIME_UNKNOWN);
    assert_true(failsafe_delay(e).low_ms == 9 && failsafe_delay(e).high_ms == 511);
    rig_end(&g);
}

static void test_absurd_counters(void **state) {
    /* Whatever a damaged line claims, it costs a bounded time. */
    (void)state;
    struct rig g;
    rig_begin(&g, NULL);
    rig_line(&g, "rx n=1 t=1000 ch=1500 got=10 lost=0 age=10 fs=0 fsn=0");
    for (int n = 2; n < 5; n++) { /* without a checksum the third that says so is believed */
        char line[120];
        snprintf(line, sizeof line,
                 "rx n=%d t=%d ch=1500 got=2000000000 lost=1000000000 age=5 fs=0 fsn=4000000000", n,
                 1000 + 50 * n);
        rig_line(&g, line);
    }
    const struct snapshot *s = rig_read(&g);
    assert_int_equal(s->failsafe_entries, 4000000000u);
    assert_int_equal(s->failsafe_count, FAILSAFE_EVENTS_MAX);
    assert_int_equal(s->total.got, 2000000000u);
    rig_end(&g);
}

/* --- channels, alarms, ticks ------------------------------------------------------------------ */

static void test_channel_noise(void **state) {
    /* 32 values that alternate by 2: squared deviations from their mean sum to 32, so the sample
     * standard deviation is sqrt(32/31). */
    (void)state;
    struct rig g;
    rig_begin(&g, NULL);
    for (int i = 0; i < 32; i++) {
        char line[80];
        snprintf(line, sizeof line, "rx n=%d t=%d ch=%d,%d,%d", i + 1, 50 * (i + 1),
                 1500 + 2 * (i % 2), 1000 + 30 * i, 1500 + i);
        rig_line(&g, line);
    }
    const struct snapshot *s = rig_read(&g);
    assert_true(s->channel[0].rest_known);
    assert_true(fabs(s->channel[0].noise - sqrt(32.0 / 31.0)) < 1e-12);
    assert_true(fabs(s->channel[0].rest - 1501) < 1e-12);
    assert_int_equal(s->channel[0].noise_peak, 2);
    assert_false(s->channel[1].rest_known);
    assert_false(s->channel[2].rest_known); /* a slow drift is no rest */
    assert_int_equal(s->channel[1].low, 1000);
    assert_int_equal(s->channel[1].high, 1930);
    assert_int_equal(s->channel[1].changes, 31);
    assert_string_equal(s->channel[1].name, "ch2");
    rig_end(&g);
}

static void test_rest_place(void **state) {
    /* Two blocks at 1500, then one held at 1700: the stick rests at 1500. */
    (void)state;
    struct rig g;
    rig_begin(&g, NULL);
    for (int i = 0; i < 96; i++) {
        char line[80];
        snprintf(line, sizeof line, "rx n=%d t=%d ch=%d", i + 1, 50 * (i + 1),
                 i < 64 ? 1500 : 1700);
        rig_line(&g, line);
    }
    const struct snapshot *s = rig_read(&g);
    assert_true(s->channel[0].rest_known && s->channel[0].rest == 1500);
    rig_end(&g);
}

static void test_correlation(void **state) {
    /* Channel 2 is channel 1 and a constant, channel 3 goes against it, channel 4 has a pattern
     * that is orthogonal to theirs over each block, channel 5 never changes. */
    (void)state;
    struct rig g;
    rig_begin(&g, NULL);
    for (int i = 0; i < 128; i++) {
        char line[96];
        int a = i % 2, b = i / 2 % 2;
        snprintf(line, sizeof line, "rx n=%d t=%d ch=%d,%d,%d,%d,1000", i + 1, 50 * (i + 1),
                 1500 + a, 1600 + a, 1700 - a, 1800 + b);
        rig_line(&g, line);
    }
    const struct snapshot *s = rig_read(&g);
    assert_true(s->channel[0].partner_known && fabs(fabs(s->channel[0].correlation) - 1) < 1e-12);
    assert_true(fabs(s->channel[1].correlation - 1) < 1e-12 && s->channel[1].partner == 0);
    assert_true(fabs(s->channel[2].correlation + 1) < 1e-12);
    assert_true(fabs(s->channel[3].correlation) < 1e-12);
    assert_false(s->channel[4].partner_known);
    assert_int_equal(s->channel[0].steps, 2);
    assert_int_equal(s->channel[4].steps, 1);
    rig_end(&g);
}

static void supply_line(struct rig *g, int i, int mvmin) {
    char line[80];
    snprintf(line, sizeof line, "rx n=%d t=%d ch=1500 mv=5000 mvmin=%d", i, 100 * i, mvmin);
    rig_line(g, line);
}

static void test_alarm_hysteresis(void **state) {
    /* Limit 4000 mV on a 5 V rail (common practice), clear above 4150 mV for 2 s. */
    (void)state;
    struct rig g;
    int i = 1;
    rig_begin(&g, NULL);
    supply_line(&g, i++, 4990);
    assert_false(rig_read(&g)->alarm[ALARM_SUPPLY]);
    supply_line(&g, i++, 3990);
    assert_true(rig_read(&g)->alarm[ALARM_SUPPLY]);
    for (int k = 0; k < 50; k++) /* above the limit, but not clear of it */
        supply_line(&g, i++, 4100);
    assert_true(rig_read(&g)->alarm[ALARM_SUPPLY]);
    for (int k = 0; k < 20; k++) /* 1.9 s since the first calm report */
        supply_line(&g, i++, 4900);
    assert_true(rig_read(&g)->alarm[ALARM_SUPPLY]);
    supply_line(&g, i++, 4900);
    assert_false(rig_read(&g)->alarm[ALARM_SUPPLY]);
    assert_int_equal(rig_read(&g)->supply_low_mv, 3990);
    rig_end(&g);
}

static void test_crowded_port(void **state) {
    /* 20 lines of 44 bytes a second are 8800 bits on the wire: 92 % of 9600, 46 % of 19200. */
    (void)state;
    static const struct {
        const char *note;
        int crowded;
    } cases[] = {{"kind=tty speed=9600", 1}, {"kind=tty speed=19200", 0}};
    for (size_t i = 0; i < 2; i++) {
        struct rig g;
        rig_begin(&g, NULL);
        g.host_us = 0;
        open_port(&g, cases[i].note);
        for (int k = 1; k <= 400; k++) {
            char line[80];
            g.host_us = 50000 * (int64_t)k;
            snprintf(line, sizeof line, "rx n=%03d t=%05d ch=1500,1500,1500 mv=50000", k, 50 * k);
            assert_int_equal(strlen(line), 43);
            rig_line(&g, line);
        }
        const struct snapshot *s = rig_read(&g);
        int seen = 0;
        for (uint64_t k = 0; k < s->log_entries; k++)
            seen += s->log_entry[k].kind == LOG_ENTRY_CROWDED;
        assert_int_equal(seen, cases[i].crowded);
        assert_true(fabs(s->load_peak - (i == 0 ? 8800 / 9600.0 : 8800 / 19200.0)) < 0.01);
        rig_end(&g);
    }
}

static void test_no_lines(void **state) {
    (void)state;
    struct rig g;
    rig_begin(&g, NULL);
    g.host_us = 0;
    open_port(&g, "kind=tty");
    rig_line(&g, "rx n=1 t=50 ch=1500 got=1 lost=0 age=0");
    bench_advance(g.bench, 1999999);
    assert_int_equal(rig_read(&g)->state, STATE_LINKED);
    bench_advance(g.bench, 9000000);
    const struct snapshot *s = rig_read(&g);
    assert_int_equal(s->state, STATE_NO_LINES);
    assert_true(s->alarm[ALARM_NO_LINES]);
    const struct log_entry *h = &s->log_entry[(s->log_entries - 1) % LOG_ENTRIES_MAX];
    assert_int_equal(h->kind, LOG_ENTRY_ALARM);
    assert_int_equal(h->host_us, 2000000); /* the deadline's time, not the call's */
    assert_int_equal(s->total.got, 1);
    rig_end(&g);
}

static void test_ten_seconds(void **state) {
    /* The sums kept up over ten seconds are those of the cells, whatever comes in what order. */
    (void)state;
    static struct window w;
    unsigned random = 7;
    int64_t now = 0;
    window_init(&w);
    for (int i = 0; i < 50000; i++) {
        random = random * 1103515245u + 12345u;
        unsigned r = random >> 16;
        now += r % 300 + (r % 4999 == 0 ? 70000 : 0);
        window_advance(&w, now);
        struct packet_step step = {.counted = true, .got = r % 4, .lost = r / 4 % 3};
        window_packets(&w, &step, now - r % 12000, now - r % 20);
        window_report(&w, now, r % 200);
        struct window_cell sum = window_sum(&w, 10000);
        assert_int_equal(sum.got, w.ten.got);
        assert_int_equal(sum.lost, w.ten.lost);
        assert_int_equal(sum.bytes, w.ten.bytes);
    }
}

/* Text just before a boot line is the boot loader's; text with a good line of any kind between
 * isn't. */
static void test_boot_text(void **state) {
    (void)state;
    struct event text = {.kind = EVENT_DAMAGE, .bytes = 9, .damage = {.reason = DAMAGE_PLAIN_TEXT}};
    struct event good[] = {{.kind = EVENT_SAY}, {.kind = EVENT_REPORT}, {.kind = EVENT_BOOT}};
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        struct lines l;
        uint64_t missing;
        bool between = good[i].kind != EVENT_BOOT;
        lines_init(&l);
        lines_damaged(&l, &text);
        if (good[i].kind == EVENT_REPORT)
            lines_report(&l, &good[i], false, &missing);
        else
            lines_good(&l, &good[i]);
        lines_damaged(&l, &text);
        lines_boot(&l);
        lines_boot(&l); /* what was the boot loader's is counted once */
        assert_int_equal(l.by_reason[DAMAGE_BOOT_TEXT], between ? 1 : 2);
        assert_int_equal(l.by_reason[DAMAGE_PLAIN_TEXT], between ? 1 : 0);
        assert_int_equal(l.good, 1);
        assert_int_equal(l.damaged, 2);
    }
}

/* The ends, told at once for all channels, are the least and the greatest value of each: with
 * channels that come and go, and such as are off. */
static void test_ends(void **state) {
    (void)state;
    static struct channels light, full;
    static struct channel_state ends[CHANNELS_MAX], also[CHANNELS_MAX];
    struct dice d = {1000};
    for (int round = 0; round < 200; round++) {
        int32_t low[CHANNELS_MAX] = {0}, high[CHANNELS_MAX] = {0};
        bool known[CHANNELS_MAX] = {false};
        double off = dice_chance(&d, 0.5) ? 0 : dice_share(&d);
        channels_init(&light);
        channels_init(&full);
        for (int i = 0; i < 40; i++) {
            struct report r = {.has = 1u << KEY_CH};
            uint8_t changed[CHANNELS_MAX];
            r.ch_count = (uint32_t)(dice_chance(&d, 0.8) ? 8 : dice_below(&d, CHANNELS_MAX + 1));
            for (uint32_t k = 0; k < CHANNELS_MAX; k++) {
                int32_t value = (int32_t)dice_below(&d, 2 + (uint64_t)i * 50) - 500;
                value = dice_chance(&d, 0.01) ? 100000 - (int32_t)k : value;
                r.ch[k] = dice_chance(&d, off) ? CHANNEL_OFF : value;
                if (k >= r.ch_count || r.ch[k] == CHANNEL_OFF)
                    continue;
                low[k] = known[k] && low[k] < value ? low[k] : value;
                high[k] = known[k] && high[k] > value ? high[k] : value;
                known[k] = true;
            }
            channels_ends(&light, &r);
            channels_report(&full, &r, changed);
            assert_int_equal(light.count, full.count);
        }
        channels_read(&light, ends);
        channels_read(&full, also);
        for (uint32_t k = 0; k < CHANNELS_MAX; k++) {
            assert_int_equal(ends[k].ends_known, known[k]);
            assert_int_equal(ends[k].low, low[k]);
            assert_int_equal(ends[k].high, high[k]);
            assert_int_equal(also[k].low, low[k]);
            assert_int_equal(also[k].high, high[k]);
        }
    }
}

static void feed_run(struct rig *g, bool ticks) {
    unsigned random = 12345;
    uint32_t got = 0, lost = 0;
    g->host_us = 0;
    open_port(g, "kind=tty");
    for (int i = 1; i <= 400; i++) {
        char line[160];
        random = random * 1103515245u + 12345u;
        bool gone = i > 100 && i < 140;
        uint32_t o = gone ? 0 : random >> 16 & 1u ? 2 : 1, x = gone ? 0 : 2 - o;
        got += o;
        lost += x;
        int age = gone ? (i - 100) * 50 : 5;
        snprintf(line, sizeof line, "rx n=%d t=%d ch=%d got=%u lost=%u age=%d gap=%d fs=%d fsn=%d",
                 i, 50 * i, 1500 + (int)(random >> 20 & 3u), got, lost, age, gone ? age : 40,
                 i > 110 && i<140, i> 110);
        g->host_us = 50000 * (int64_t)i + (random >> 24 & 7u) * 1000;
        if (ticks)
            for (int64_t k = g->host_us - 49000; k < g->host_us; k += 7001)
                bench_advance(g->bench, k);
        rig_line(g, line);
    }
}

static void test_ticks_change_no_figure(void **state) {
    (void)state;
    struct rig quiet, ticking;
    rig_begin(&quiet, NULL);
    rig_begin(&ticking, NULL);
    feed_run(&quiet, false);
    feed_run(&ticking, true);
    const struct snapshot *a = rig_read(&quiet), *b = rig_read(&ticking);
    const struct failsafe_event *ea = a->failsafe_events, *eb = b->failsafe_events;
    assert_int_equal(a->outages, 1);
    assert_int_equal(a->failsafe_count, 1);
    assert_memory_equal(ea, eb, sizeof *ea);
    quiet.now.failsafe_events = ticking.now.failsafe_events = NULL;
    quiet.now.log_entry = ticking.now.log_entry = NULL;
    quiet.now.restarts = ticking.now.restarts = NULL;
    assert_memory_equal(&quiet.now, &ticking.now, sizeof quiet.now);
    rig_end(&quiet);
    rig_end(&ticking);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_packets),
        cmocka_unit_test(test_estimate),
        cmocka_unit_test(test_receiver_restart),
        cmocka_unit_test(test_settings_lost),
        cmocka_unit_test(test_uptime_wrap),
        cmocka_unit_test(test_transmitter_restart),
        cmocka_unit_test(test_opening_restart),
        cmocka_unit_test(test_outage),
        cmocka_unit_test(test_outage_without_gap),
        cmocka_unit_test(test_outage_in_a_hole),
        cmocka_unit_test(test_failsafe),
        cmocka_unit_test(test_failsafe_delays),
        cmocka_unit_test(test_failsafe_throttle_was_idle),
        cmocka_unit_test(test_absurd_counters),
        cmocka_unit_test(test_boot_text),
        cmocka_unit_test(test_ends),
        cmocka_unit_test(test_channel_noise),
        cmocka_unit_test(test_rest_place),
        cmocka_unit_test(test_correlation),
        cmocka_unit_test(test_alarm_hysteresis),
        cmocka_unit_test(test_crowded_port),
        cmocka_unit_test(test_no_lines),
        cmocka_unit_test(test_ten_seconds),
        cmocka_unit_test(test_ticks_change_no_figure),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
