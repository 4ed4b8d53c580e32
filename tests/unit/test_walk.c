/* The range walk stop by stop.  The lines are made here, 100 packets a second and a report each
 * 50 ms, so that what lies within a stop is known exactly; the rules for a stop that fails are
 * common practice (airleash(1) states them). */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "link/bench.h"
#include "simulator/simulator.h"
#include "study/amend.h"
#include "study/switch.h"
#include "telemetry/telemetry.h"

enum { REPORT_MS = 50, SENT = 5 };

struct rig {
    struct bench *bench;
    struct telemetry decoder;
    struct walk walk;
    struct walker *walker; /* NULL: none */
    struct marks *marks;   /* the first pass, or NULL */
    struct marked_walk *marked;
    uint32_t host_ms; /* the host's clock, which goes on over a restart */
    uint32_t n, t_ms, got, lost,
        quiet; /* as the receiver counts; quiet: sent since the last good */
    uint32_t fs, fsn, away;
    const char *more;
    uint32_t seen_late; /* fresh reports of the tenth press, by channel 6 */
};

static void take(void *context, const struct event *e) {
    struct rig *g = context;
    double metres;
    bench_feed(g->bench, e);
    const struct moment *m = bench_moment(g->bench);
    if (g->marks)
        marks_take(g->marks, m);
    if (g->marked)
        marked_walk_feed(g->marked, m);
    else
        walk_feed(&g->walk, m);
    if (!g->walker)
        return;
    if (e->kind == EVENT_REPORT && m->link_ms > 207000 && m->packets.arrived)
        g->seen_late += e->report.in_count == 6 && e->report.in[5] > 1500;
    enum switch_found found = walker_feed(g->walker, m, !g->walk.here, &metres);
    if (found == SWITCH_STOP)
        walk_stop_at(&g->walk, m->link_ms, metres, slice_of(""));
    else if (found == SWITCH_LEAVE)
        walk_leave_at(&g->walk, m->link_ms);
}

static struct rig *rig_new(void) {
    struct rig *g = calloc(1, sizeof *g);
    struct bench_limits usual;
    struct walk_limits limits;
    assert_non_null(g);
    bench_limits_default(&usual);
    usual.rate_hz = 100;
    g->bench = bench_new(&usual);
    assert_non_null(g->bench);
    walk_limits_default(&limits);
    walk_init(&g->walk, &limits);
    telemetry_init(&g->decoder, take, g);
    g->more = "";
    return g;
}

static void rig_free(struct rig *g) {
    bench_free(g->bench);
    free(g);
}

static void line(struct rig *g, const char *text) {
    telemetry_feed(&g->decoder, text, strlen(text), (int64_t)g->host_ms * 1000);
    telemetry_feed(&g->decoder, "\n", 1, (int64_t)g->host_ms * 1000);
}

/* One report on five packets; `pat` ends in `o`, or is empty: none arrived of five. */
static void report(struct rig *g, const char *pat) {
    char text[LINE_BYTES_MAX], outcome[PATTERN_MAX + 1] = "", told[PATTERN_MAX + 8] = "";
    g->n++;
    g->t_ms += REPORT_MS;
    g->host_ms += REPORT_MS;
    if (pat[0] == '\0') {
        g->quiet += SENT;
    } else {
        size_t lead = g->quiet < PATTERN_MAX - SENT ? g->quiet : PATTERN_MAX - SENT;
        memset(outcome, 'x', lead);
        strcpy(outcome + lead, pat);
        for (const char *c = pat; *c != '\0'; c++)
            *(*c == 'o' ? &g->got : &g->lost) += 1;
        g->lost += g->quiet;
        g->quiet = 0;
        snprintf(told, sizeof told, "pat=%s ", outcome);
    }
    snprintf(text, sizeof text, "rx n=%u t=%u ch=1500,%u got=%u lost=%u %sage=%u fs=%u fsn=%u%s",
             g->n, g->t_ms, g->away ? 2000u : 1000u, g->got, g->lost, told, g->quiet * 10, g->fs,
             g->fsn, g->more);
    line(g, text);
}

static void reports(struct rig *g, int count, const char *pat) {
    for (int i = 0; i < count; i++)
        report(g, pat);
}

/* `late_ms` after the newest report. */
static void mark(struct rig *g, enum mark_type type, double metres, const char *text,
                 uint32_t late_ms) {
    struct event e = {.kind = EVENT_MARK, .host_us = (int64_t)(g->host_ms + late_ms) * 1000};
    e.mark.type = type;
    e.mark.distance_m = metres;
    e.mark.text = slice_of(text);
    take(g, &e);
}

static unsigned faults(const struct rig *g, uint32_t stop, unsigned *unsure) {
    return walk_judge(&g->walk.stop[stop], &g->walk.limits, unsure);
}

/* --- packets ---------------------------------------------------------------------------------- */

static void test_counts_what_lies_within_the_stop(void **state) {
    (void)state;
    struct rig *g = rig_new();
    struct walk_stop *s = &g->walk.stop[0];
    reports(g, 21, "oxooo"); /* on the way: no stop's */
    mark(g, MARK_STOP, 25, "", 0);
    reports(g, 100, "ooxoo");
    mark(g, MARK_LEAVE, -1, "", 0);
    reports(g, 20, "xoooo");
    assert_int_equal(g->walk.count, 1);
    assert_true(s->distance_m == 25);
    assert_int_equal(s->from_ms, 1000); /* link time begins at the first report */
    assert_int_equal(s->to_ms, 6000);
    assert_false(s->open);
    assert_true(s->counted);
    assert_int_equal(s->got, 400);
    assert_int_equal(s->lost, 100);
    assert_int_equal(s->runs.runs, 100);
    assert_int_equal(s->runs.packets, 500);
    assert_false(s->order_unknown);
    assert_int_equal(s->block_ms, 2000);
    assert_int_equal(s->blocks, 2);
    for (int i = 0; i < 2; i++) {
        assert_int_equal(s->block[i].got, 160);
        assert_int_equal(s->block[i].lost, 40);
    }
    assert_int_equal(s->block[2].got + s->block[2].lost, 100); /* the begun one */
    assert_false(s->died);
    rig_free(g);
}

/* A mark between two reports parts the packets of the later one: five at 10 ms from each other, the
 * newest with the report, so 25 ms after a report two lie before the mark. */
static void test_parts_a_report(void **state) {
    (void)state;
    struct rig *g = rig_new();
    reports(g, 11, "ooooo");
    mark(g, MARK_STOP, 10, "", 25);
    reports(g, 10, "xoxoo");
    mark(g, MARK_STOP, 20, "", 35);
    reports(g, 10, "ooooo");
    const struct walk_stop *a = &g->walk.stop[0], *b = &g->walk.stop[1];
    assert_int_equal(a->from_ms, 525);
    assert_int_equal(a->to_ms, 1035);
    assert_int_equal(a->got, 10 * 3 - 1 + 3); /* less the `o` at 20 ms, and three of the next */
    assert_int_equal(a->lost, 10 * 2 - 1);
    assert_int_equal(b->got, 2 + 9 * 5);
    assert_int_equal(b->lost, 0);
    assert_true(b->open);
    assert_int_equal(b->to_ms, 1500);
    rig_free(g);
}

static void test_blocks_widen(void **state) {
    (void)state;
    struct rig *g = rig_new();
    const struct walk_stop *s = &g->walk.stop[0];
    report(g, "ooooo");
    mark(g, MARK_STOP, 10, "", 0);
    reports(g, 41 * 100, "oxooo"); /* 205 s: 51 blocks of 4 s, and a quarter */
    assert_int_equal(s->block_ms, 4000);
    assert_int_equal(s->blocks, 51);
    uint64_t got = 0, lost = 0;
    for (uint32_t i = 0; i < s->blocks; i++) {
        assert_int_equal(s->block[i].got, 320);
        assert_int_equal(s->block[i].lost, 80);
    }
    for (size_t i = 0; i < WALK_BLOCKS_MAX; i++) {
        got += s->block[i].got;
        lost += s->block[i].lost;
    }
    assert_int_equal(got, s->got);
    assert_int_equal(lost, s->lost);
    rig_free(g);
}

/* Lines lost on the cable are no packets lost on the air: the counters carry the totals across, and
 * the link didn't die. */
static void test_a_hole_is_no_death(void **state) {
    (void)state;
    struct rig *g = rig_new();
    const struct walk_stop *s = &g->walk.stop[0];
    reports(g, 10, "ooooo");
    mark(g, MARK_STOP, 10, "", 0);
    reports(g, 10, "ooooo");
    g->n += 100; /* 5 s of lines that never came */
    g->t_ms += 5000;
    g->host_ms += 5000;
    g->got += 490;
    g->lost += 10;
    reports(g, 10, "ooooo");
    assert_false(s->died);
    assert_true(s->open);
    assert_int_equal(s->got, 590);
    assert_int_equal(s->lost, 10);
    assert_true(s->order_unknown);
    rig_free(g);
}

/* --- gaps and the link's death ---------------------------------------------------------------- */

static void test_longest_gap(void **state) {
    (void)state;
    struct rig *g = rig_new();
    const struct walk_stop *s = &g->walk.stop[0];
    unsigned unsure;
    report(g, "ooooo");
    reports(g, 8, ""); /* before the stop */
    reports(g, 10, "ooooo");
    mark(g, MARK_STOP, 10, "", 0);
    g->more = " gap=10";
    reports(g, 100, "ooooo");
    assert_int_equal(s->longest_gap_ms, 10);
    assert_int_equal(faults(g, 0, &unsure), 0);
    assert_int_equal(unsure, 0);
    g->more = "";
    reports(g, 3, "");
    g->more = " gap=160";
    report(g, "ooooo");
    assert_int_equal(s->longest_gap_ms, 160);
    assert_int_equal(faults(g, 0, &unsure) & WALK_GAP, 0);
    g->more = "";
    reports(g, 4, "");
    g->more = " gap=210"; /* 200 ms without, and the first of the next five 10 ms later */
    report(g, "ooooo");
    assert_int_equal(s->longest_gap_ms, 210);
    assert_int_equal(s->longest_gap_low_ms, 210);
    assert_int_equal(faults(g, 0, &unsure), WALK_GAP | WALK_LOSS); /* 35 of 545 */
    rig_free(g);
}

/* Half of an outage before the mark belongs to the way. */
static void test_a_gap_is_cut_at_the_mark(void **state) {
    (void)state;
    struct rig *g = rig_new();
    reports(g, 10, "ooooo");
    reports(g, 4, "");
    mark(g, MARK_STOP, 10, "", 0);
    reports(g, 2, "");
    report(g, "xxxxo");
    assert_int_equal(g->walk.stop[0].longest_gap_ms, 150);
    assert_int_equal(g->walk.stop[0].longest_gap_low_ms, 150);
    rig_free(g);
}

static void test_a_lost_link_closes_the_stop(void **state) {
    (void)state;
    struct rig *g = rig_new();
    const struct walk_stop *s = &g->walk.stop[0];
    unsigned unsure;
    reports(g, 21, "ooooo");
    mark(g, MARK_STOP, 70, "", 0);
    reports(g, 100, "ooooo");
    reports(g, 59, ""); /* 2.95 s */
    assert_false(s->died);
    report(g, "");
    assert_true(s->died);
    assert_false(g->walk.here);
    assert_int_equal(s->to_ms, 6000 + 3000);
    assert_int_equal(s->got, 500);
    assert_int_equal(s->lost, 0); /* nobody knows yet */
    reports(g, 20, "");
    assert_int_equal(s->dead_ms, 4000);
    assert_int_equal(s->longest_gap_ms, 3000); /* within the stop */
    report(g, "xxxxo");
    reports(g, 20, "ooooo");
    /* 405 packets in 4050 ms, 404 of them missing; 300 within the stop. */
    assert_int_equal(s->lost, 300);
    assert_int_equal(s->got, 500);
    assert_int_equal(s->dead_ms, 4000);
    assert_int_equal(faults(g, 0, &unsure), WALK_DIED | WALK_GAP | WALK_LOSS);
    rig_free(g);
}

/* The same when the outage is first known by the packet that ends it: no lines meanwhile. */
static void test_a_death_nobody_saw(void **state) {
    (void)state;
    struct rig *g = rig_new();
    const struct walk_stop *s = &g->walk.stop[0];
    reports(g, 21, "ooooo");
    mark(g, MARK_STOP, 70, "", 0);
    reports(g, 20, "ooooo");
    g->n += 99;
    g->t_ms += 4950;
    g->host_ms += 4950;
    g->quiet = 499;
    report(g, "o");
    assert_true(s->died);
    assert_int_equal(s->to_ms, 2000 + 3000);
    assert_int_equal(s->dead_ms, 5000);
    assert_int_equal(s->got, 100);
    assert_int_equal(s->lost, 300);
    rig_free(g);
}

static void test_a_stop_where_the_link_was_dead_already(void **state) {
    (void)state;
    struct rig *g = rig_new();
    reports(g, 21, "ooooo");
    reports(g, 40, "");
    mark(g, MARK_STOP, 80, "", 0);
    reports(g, 59, "");
    assert_false(g->walk.stop[0].died);
    report(g, "");
    assert_true(g->walk.stop[0].died);
    assert_int_equal(g->walk.stop[0].got, 0);
    rig_free(g);
}

/* --- what else a stop keeps ------------------------------------------------------------------- */

static void test_keeps_what_the_reports_say(void **state) {
    (void)state;
    struct rig *g = rig_new();
    const struct walk_stop *s = &g->walk.stop[0];
    unsigned unsure;
    g->more = " rssi=-40 heard=5/5 tstep=4/4 mv=5100 mvmin=4000";
    reports(g, 10, "ooooo");
    mark(g, MARK_STOP, 30, "", 0);
    g->more = " rssi=-70 heard=3/5 tstep=1/4 mv=5100 mvmin=4900";
    reports(g, 50, "ooooo");
    g->more = " rssi=-74 heard=5/5 tstep=1/4 mv=5100 mvmin=5000";
    g->fs = 1;
    g->fsn = 1;
    reports(g, 40, "ooooo");
    g->fs = 0;
    g->fsn = 3; /* twice more between two reports */
    reports(g, 10, "ooooo");
    mark(g, MARK_LEAVE, -1, "", 0);
    g->fsn = 9;
    g->more = "";
    reports(g, 10, "ooooo");
    assert_int_equal(s->failsafes, 3);
    assert_true(s->failsafe_known);
    assert_int_equal(s->rssi.count, 100);
    assert_true(fabs(s->rssi.mean - -72) < 1e-9);
    assert_int_equal(s->heard_hits, 50 * 3 + 50 * 5);
    assert_int_equal(s->heard_looks, 500);
    assert_int_equal(s->step, 1);
    assert_int_equal(s->steps, 4);
    assert_int_equal(s->supply_low_mv, 4900);
    assert_int_equal(faults(g, 0, &unsure), WALK_FAILSAFE);
    rig_free(g);
}

static void test_restarts_fail_a_stop(void **state) {
    (void)state;
    struct rig *g = rig_new();
    unsigned unsure;
    g->more = " tboot=7";
    reports(g, 10, "ooooo");
    mark(g, MARK_STOP, 30, "", 0);
    reports(g, 100, "ooooo");
    line(g, "boot cause=brownout");
    g->n = g->t_ms = g->got = g->lost = 0;
    reports(g, 1, "ooooo");
    assert_int_equal(g->walk.stop[0].receiver_restarts, 1);
    assert_int_equal(faults(g, 0, &unsure), WALK_RESTART);
    mark(g, MARK_STOP, 40, "", 0);
    g->more = " tboot=8";
    reports(g, 100, "ooooo");
    assert_int_equal(g->walk.stop[1].transmitter_restarts, 1);
    assert_int_equal(g->walk.stop[1].receiver_restarts, 0);
    rig_free(g);
}

/* What our opening of the port did is no fault of the link. */
static void test_our_opening_fails_no_stop(void **state) {
    (void)state;
    struct rig *g = rig_new();
    struct event e = {.kind = EVENT_PORT, .port.change = PORT_BACK};
    reports(g, 10, "ooooo");
    mark(g, MARK_STOP, 30, "", 0);
    reports(g, 100, "ooooo");
    e.host_us = (int64_t)g->host_ms * 1000;
    e.port.note = slice_of("kind=serial speed=115200");
    take(g, &e);
    line(g, "boot cause=reset");
    g->n = g->t_ms = g->got = g->lost = 0;
    reports(g, 10, "ooooo");
    assert_int_equal(g->walk.stop[0].receiver_restarts, 0);
    assert_int_equal(g->walk.stop[0].got, 550);
    rig_free(g);
}

static void test_headings_part_a_stop(void **state) {
    (void)state;
    static const struct {
        const char *said, *kept;
    } rows[] = {
        {"90 degrees", "90 degrees"},
        {"180", "180"},
        {"0 degrees", ""},
        {"360", ""},
        {"away", "away"},
        /* cut before the two-byte character that no longer fits */
        {"12345678901234567890 12\xC3\xA4", "12345678901234567890 12"},
    };
    struct rig *g = rig_new();
    report(g, "ooooo");
    mark(g, MARK_FACING, -1, "90 degrees", 0); /* at no stop: of none */
    mark(g, MARK_STOP, 30, "", 0);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        reports(g, 20, "ooooo");
        mark(g, MARK_FACING, -1, rows[i].said, 0);
        const struct walk_stop *s = &g->walk.stop[i + 1];
        assert_int_equal(g->walk.count, i + 2);
        assert_true(s->distance_m == 30);
        assert_string_equal(s->facing, rows[i].kept);
        assert_true(walk_loss_limit(s, &g->walk.limits) == (rows[i].kept[0] ? 0.05 : 0.01));
        assert_int_equal(g->walk.stop[i].got, 100);
    }
    rig_free(g);
}

static void test_marks_that_make_no_stop(void **state) {
    (void)state;
    struct rig *g = rig_new();
    mark(g, MARK_STOP, 10, "", 0); /* before the first report: no link time */
    assert_int_equal(g->walk.marks_untimed, 1);
    reports(g, 2, "ooooo");
    mark(g, MARK_STOP, 10, "", 0);
    reports(g, 2, "ooooo");
    mark(g, MARK_STOP, -1, "", 0);
    assert_int_equal(g->walk.marks_no_place, 1);
    assert_false(g->walk.here);
    assert_int_equal(g->walk.count, 1);
    for (int i = 0; i < WALK_STOPS_MAX; i++) {
        mark(g, MARK_STOP, i, "", 0);
        report(g, "ooooo");
    }
    assert_int_equal(g->walk.count, WALK_STOPS_MAX);
    assert_int_equal(g->walk.passed_over, 1);
    rig_free(g);
}

/* --- verdicts --------------------------------------------------------------------------------- */

static void test_first_failed_and_held(void **state) {
    (void)state;
    struct rig *g = rig_new();
    static const double metres[] = {10, 40, 30, 60, 20};
    double at = -1;
    report(g, "ooooo");
    for (size_t i = 0; i < 5; i++) {
        mark(g, MARK_STOP, metres[i], "", 0);
        reports(g, 80, metres[i] >= 40 ? "oxooo" : "ooooo");
    }
    assert_true(walk_first_failed(&g->walk, &at));
    assert_true(at == 40);
    assert_true(walk_held_to(&g->walk, &at));
    assert_true(at == 30);
    rig_free(g);
}

/* 500 packets in 10 s, `lost` of them one by one, spread evenly. */
static struct walk_stop shown_stop(double metres, unsigned lost) {
    struct walk_stop s = {.distance_m = metres,
                          .counted = true,
                          .to_ms = 10000,
                          .longest_gap_ms = 40,
                          .longest_gap_low_ms = 20,
                          .failsafe_known = true};
    for (unsigned i = 0; i < 500; i++) {
        bool gone = lost > 0 && i % (500 / lost) == 1 && s.lost < lost;
        stat_loss_take(&s.runs, !gone, 1);
        *(gone ? &s.lost : &s.got) += 1;
    }
    return s;
}

static enum walk_verdict verdict_of(const struct walk_stop *s) {
    struct walk_limits limits;
    walk_limits_default(&limits);
    return walk_verdict(s, &limits);
}

/* Nothing holds that wasn't seen to hold. */
static void test_verdict_needs_evidence(void **state) {
    (void)state;
    struct walk_stop s = shown_stop(10, 0);
    assert_int_equal(verdict_of(&s), WALK_HELD);
    s.failsafe_known = false; /* no gap, so no failsafe of lost packets */
    assert_int_equal(verdict_of(&s), WALK_HELD);
    s.longest_gap_ms = s.longest_gap_low_ms = TIME_UNKNOWN;
    assert_int_equal(verdict_of(&s), WALK_NOT_SHOWN);
    s = shown_stop(10, 0);
    s.longest_gap_ms = 300; /* from 20 ms: perhaps too long */
    assert_int_equal(verdict_of(&s), WALK_NOT_SHOWN);
    s = shown_stop(10, 0);
    s.got = 299;
    assert_int_equal(verdict_of(&s), WALK_NOT_SHOWN);
    s.counted = false; /* numbers without counts */
    s.got = 0;
    assert_int_equal(verdict_of(&s), WALK_NOT_SHOWN);
    s = shown_stop(10, 0);
    s.to_ms = s.from_ms;
    assert_int_equal(verdict_of(&s), WALK_EMPTY);
    s = shown_stop(10, 0);
    s.got = 0;
    assert_int_equal(verdict_of(&s), WALK_EMPTY);
    s.died = true; /* nothing came since nothing could */
    assert_int_equal(verdict_of(&s), WALK_FAILED);
}

static void test_verdict_of_a_loss(void **state) {
    (void)state;
    struct walk_limits limits;
    walk_limits_default(&limits);
    struct walk_stop s = shown_stop(10, 6);
    assert_int_equal(verdict_of(&s), WALK_DOUBTFUL); /* 1.2 %, of which chance may be a part */
    s = shown_stop(10, 25);
    assert_int_equal(verdict_of(&s), WALK_FAILED);
    s = shown_stop(10, 0);
    limits.loss_facing = 0.001; /* none of 500 lost: 0.6 % may be */
    assert_int_equal(walk_verdict(&s, &limits), WALK_NOT_SHOWN);
}

/* The order of packets unknown: by the counts of blocks, and by nothing where there are fewer than
 * five. */
static void test_verdict_without_order(void **state) {
    (void)state;
    static const unsigned lost[5] = {5, 4, 6, 5, 5};
    struct walk_stop s = shown_stop(10, 25);
    s.order_unknown = true;
    assert_int_equal(verdict_of(&s), WALK_DOUBTFUL);
    s.blocks = 5;
    for (int i = 0; i < 5; i++)
        s.block[i] = (struct walk_block){100 - lost[i], lost[i]};
    assert_int_equal(verdict_of(&s), WALK_FAILED);
    s.lost = 2;
    s.got = 498;
    for (unsigned i = 0; i < 5; i++)
        s.block[i] = (struct walk_block){i % 2 ? 99 : 100, i % 2};
    assert_int_equal(verdict_of(&s), WALK_NOT_SHOWN); /* 0 1 0 1 0: the limit is in the interval */
}

/* Doubtful stops end what held, stops that show nothing don't, empty ones are nowhere. */
static void test_bounds_of_a_walk(void **state) {
    (void)state;
    static struct walk w;
    struct walk_limits limits;
    double at = -1;
    walk_limits_default(&limits);
    walk_init(&w, &limits);
    assert_false(walk_held_to(&w, &at));
    w.stop[w.count++] = shown_stop(10, 0);
    w.stop[w.count] = shown_stop(20, 0);
    w.stop[w.count++].got = 100; /* few */
    w.stop[w.count++] = shown_stop(40, 0);
    w.stop[w.count] = shown_stop(400, 0);
    w.stop[w.count].to_ms = 0;
    w.stop[w.count++].got = 0;
    assert_true(walk_held_to(&w, &at));
    assert_true(at == 40);
    assert_false(walk_first_failed(&w, &at));
    w.stop[w.count++] = shown_stop(30, 6); /* doubtful */
    assert_true(walk_held_to(&w, &at));
    assert_true(at == 10);
    w.stop[w.count++] = shown_stop(80, 50);
    assert_true(walk_first_failed(&w, &at));
    assert_true(at == 80);
}

/* At 1 packet a second there are 1000 ms between two packets that both came. */
static void test_gap_limit_of_slow_packets(void **state) {
    (void)state;
    struct walk_limits limits;
    walk_limits_default(&limits);
    assert_int_equal(walk_gap_limit(&limits), 200);
    limits.rate_hz = 50;
    assert_int_equal(walk_gap_limit(&limits), 200);
    limits.rate_hz = 1;
    assert_int_equal(walk_gap_limit(&limits), 3000);
    struct walk_stop s = shown_stop(10, 0);
    s.longest_gap_ms = s.longest_gap_low_ms = 1001;
    assert_int_equal(walk_verdict(&s, &limits), WALK_HELD);
    limits.gap_given = true;
    assert_int_equal(walk_gap_limit(&limits), 200);
    assert_int_equal(walk_verdict(&s, &limits), WALK_FAILED);
}

/* None lost: 300 packets, by the rule of three at 1 %; 60 at 5 % are too few still. */
static void test_how_much_longer(void **state) {
    (void)state;
    struct rig *g = rig_new();
    const struct walk_stop *s = &g->walk.stop[0];
    const struct walk_limits *limits = &g->walk.limits;
    report(g, "ooooo");
    mark(g, MARK_STOP, 10, "", 0);
    reports(g, 20, "ooooo");
    assert_true(walk_wanted_s(s, limits, 0) < 0);
    assert_true(fabs(walk_wanted_s(s, limits, 100) - 2) < 1e-9);
    reports(g, 40, "ooooo");
    assert_true(walk_wanted_s(s, limits, 100) == 0);
    reports(g, 4, "oxooo"); /* 4 of 320: near the limit, so it takes longer */
    double near = walk_wanted_s(s, limits, 100);
    assert_true(near > 10);
    reports(g, 60, "oxooo"); /* far above it now, and the interval says so */
    assert_true(walk_wanted_s(s, limits, 100) == 0);
    rig_free(g);
}

/* --- the switch ------------------------------------------------------------------------------- */

static struct walker *walker_new(struct rig *g, const char *plan, int64_t stay_ms) {
    struct walker *w = calloc(1, sizeof *w);
    struct plan p;
    assert_non_null(w);
    assert_true(plan_parse(slice_of(plan), &p));
    walker_init(w, 1, &p, stay_ms);
    g->walker = w;
    return w;
}

static void press(struct rig *g, int ms) {
    g->away = 1;
    reports(g, ms / REPORT_MS, "ooooo");
    g->away = 0;
    report(g, "ooooo");
}

static void test_a_press_marks_the_next_stop(void **state) {
    (void)state;
    struct rig *g = rig_new();
    struct walker *w = walker_new(g, "5,12.5", 4000);
    reports(g, 21, "ooooo");
    press(g, 600); /* too short */
    assert_int_equal(g->walk.count, 0);
    press(g, 1000);
    assert_int_equal(g->walk.count, 1);
    assert_int_equal(g->walk.stop[0].from_ms, 1000 + 650 + 1050);
    reports(g, 100, "ooooo"); /* 5 s; it lasts for four */
    assert_false(g->walk.here);
    assert_int_equal(g->walk.stop[0].to_ms, 2700 + 4000);
    press(g, 2900);
    assert_int_equal(g->walk.count, 2);
    assert_true(g->walk.stop[1].distance_m == 12.5);
    press(g, 3500); /* long: under way */
    assert_false(g->walk.here);
    assert_int_equal(g->walk.stop[1].to_ms, g->walk.stop[1].from_ms + 50 + 3000);
    press(g, 1000);
    assert_int_equal(g->walk.count, 2);
    assert_int_equal(w->beyond, 1);
    free(w);
    rig_free(g);
}

static void test_only_fresh_packets_press(void **state) {
    (void)state;
    struct rig *g = rig_new();
    struct walker *w = walker_new(g, "5,10,20", 4000);
    reports(g, 20, "ooooo");
    g->fs = 1; /* the presets stand at the other end */
    g->away = 1;
    reports(g, 20, "ooooo");
    g->fs = g->away = 0;
    reports(g, 20, "ooooo");
    assert_int_equal(g->walk.count, 0);
    g->away = 1; /* stale: the value stands, but nothing comes */
    reports(g, 20, "");
    g->away = 0;
    reports(g, 20, "ooooo");
    assert_int_equal(g->walk.count, 0);
    g->away = 1; /* an outage within the press may hide that it was let go */
    reports(g, 10, "ooooo");
    reports(g, 35, "");
    reports(g, 20, "ooooo");
    g->away = 0;
    reports(g, 10, "ooooo");
    assert_int_equal(g->walk.count, 0);
    g->away = 1; /* turned over for good: that is its rest now */
    reports(g, 250, "ooooo");
    assert_int_equal(g->walk.count, 0);
    g->away = 0;
    reports(g, 20, "ooooo");
    g->away = 1;
    report(g, "ooooo");
    assert_int_equal(g->walk.count, 1);
    free(w);
    rig_free(g);
}

/* `before`, `within` and `after` are reports without a packet around and between `held` ones. */
static void test_a_press_with_gaps(void **state) {
    (void)state;
    static const struct {
        int before, held, within, again, after;
        bool stop;
    } rows[] = {
        {0, 3, 25, 0, 0, true},  /* its end fell into an outage */
        {12, 3, 0, 0, 0, true},  /* its begin did */
        {8, 3, 8, 0, 0, true},   /* both */
        {3, 10, 0, 0, 0, false}, /* too short, for all of the gap before it */
        {0, 3, 2, 3, 0, false},  /* and with one within it */
        {0, 3, 25, 3, 0, true},  /* an outage in the middle */
        {0, 3, 58, 0, 0, false}, /* perhaps long, and that means: under way */
        {25, 45, 0, 0, 0, true},  {18, 45, 0, 0, 0, true}, /* an outage before it only */
        {0, 5, 30, 40, 0, false}, /* in all 3.75 s: let go and pressed again, or not */
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rig *g = rig_new();
        struct walker *w = walker_new(g, "5,10,20", 4000);
        reports(g, 20, "ooooo");
        reports(g, rows[i].before, "");
        g->away = 1;
        reports(g, rows[i].held, "ooooo");
        reports(g, rows[i].within, "");
        reports(g, rows[i].again, "ooooo");
        g->away = 0;
        reports(g, 10, "ooooo");
        assert_int_equal(g->walk.count, rows[i].stop);
        free(w);
        rig_free(g);
    }
}

/* Held for 3 s after an outage is under way, whatever was before it. */
static void test_leaving_after_a_outage(void **state) {
    (void)state;
    struct rig *g = rig_new();
    struct walker *w = walker_new(g, "5,10,20", 60000);
    reports(g, 20, "ooooo");
    press(g, 1000);
    assert_true(g->walk.here);
    g->away = 1;
    reports(g, 3, "ooooo");
    reports(g, 25, "");
    reports(g, 60, "ooooo");
    assert_true(g->walk.here);
    reports(g, 1, "ooooo");
    assert_false(g->walk.here);
    g->away = 0;
    reports(g, 5, "ooooo");
    assert_int_equal(g->walk.count, 1);
    free(w);
    rig_free(g);
}

static void test_plans(void **state) {
    (void)state;
    static const struct {
        const char *text;
        bool good;
        uint32_t count;
    } rows[] = {
        {"5", true, 1},      {"5,10,20", true, 3}, {"7.5,0", true, 2}, {"", false, 0},
        {"5,,10", false, 0}, {"5,", false, 0},     {"5 m", false, 0},  {"-5", false, 0},
        {"1e3", false, 0},   {"nan", false, 0},
    };
    struct plan plan;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_int_equal(plan_parse(slice_of(rows[i].text), &plan), rows[i].good);
        if (rows[i].good)
            assert_int_equal(plan.count, rows[i].count);
    }
    plan_default(&plan);
    for (uint32_t i = 1; i < plan.count; i++)
        assert_true(plan.metres[i] > plan.metres[i - 1]);
}

static void put_line(void *where, const char *bytes, size_t len) {
    struct rig *g = where;
    telemetry_feed(&g->decoder, bytes, len, TIME_UNKNOWN);
}

/* Ten stops of the simulated walk by its switch (channel 6), from its lines alone.  Its script
 * lets go of the switch 1 s after it came to the stop, and walks on 15 s later.  With these seeds
 * no packet gets through while the tenth press lasts: nobody could know of that one.  With seed 2
 * the ends of two more fall into outages of over a second. */
static void walk_by_the_switch(uint64_t seed) {
    static const int64_t let_go_ms[] = {4000,   25000,  50000,  75000,  100000,
                                        121000, 142000, 163000, 184000, 209000};
    static const double metres[] = {5, 10, 20, 30, 40, 45, 50, 55, 60, 70};
    struct rig *g = rig_new();
    struct walker *w = walker_new(g, "5,10,20,30,40,45,50,55,60,70", PLAN_STAY_MS);
    struct simulator *p = simulator_new(simulator_scene_find("walk"), seed, put_line, g);
    w->finder.channel = 5;
    assert_non_null(p);
    simulator_run(p, 260000000);
    simulator_free(p);
    assert_int_equal(g->seen_late, 0);
    assert_int_equal(g->walk.count, 9);
    for (int i = 0; i < 9; i++) {
        const struct walk_stop *s = &g->walk.stop[i];
        assert_true(s->distance_m == metres[i]);
        int64_t late = s->from_ms + 115 - let_go_ms[i]; /* its first report comes at 115 ms */
        assert_true(late >= 0 && late < 1500);
        if (!s->died)
            assert_true(s->to_ms - s->from_ms >= PLAN_STAY_MS &&
                        s->to_ms - s->from_ms < PLAN_STAY_MS + 1000);
    }
    free(w);
    rig_free(g);
}

static void test_a_whole_walk_by_the_switch(void **state) {
    (void)state;
    for (uint64_t seed = 1; seed <= 5; seed++)
        walk_by_the_switch(seed);
}

/* --- amended marks ---------------------------------------------------------------------------- */

static void test_amendments_read_and_write(void **state) {
    (void)state;
    static const struct {
        enum amendment_kind kind;
        const char *text, *written; /* NULL: refused */
    } rows[] = {
        {AMEND_ADD, "12.5:30", "12.500:30"},
        {AMEND_ADD, "0:7.25", "0.000:7.25"},
        {AMEND_ADD, "90:leave", "90.000:leave"},
        {AMEND_ADD, "90", NULL},
        {AMEND_ADD, "90:", NULL},
        {AMEND_ADD, "-1:5", NULL},
        {AMEND_ADD, "1:-5", NULL},
        {AMEND_MOVE, "3:61.25", "3:61.250"},
        {AMEND_MOVE, "0:61", NULL},
        {AMEND_MOVE, "3", NULL},
        {AMEND_STRIKE, "12", "12"},
        {AMEND_STRIKE, "0", NULL},
        {AMEND_STRIKE, "1:2", NULL},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct amendment a, again;
        char buffer[AMENDMENT_TEXT];
        struct text text;
        enum amendment_kind kind;
        text_init(&text, buffer, sizeof buffer);
        assert_int_equal(amendment_parse(rows[i].kind, slice_of(rows[i].text), &a),
                         rows[i].written != NULL);
        if (!rows[i].written)
            continue;
        amendment_text(&a, &text);
        assert_string_equal(buffer, rows[i].written);
        assert_true(amendment_parse(rows[i].kind, slice_of(buffer), &again));
        assert_int_equal(again.at_ms, a.at_ms);
        assert_int_equal(again.mark, a.mark);
        assert_true(amendment_kind_of(slice_of(amendment_key(a.kind)), &kind));
        assert_int_equal(kind, a.kind);
    }
}

/* The same lines, three times marked: rightly; wrongly; and wrongly with the amendments that mend
 * it.  The third gives what the first does. */
static void walk_lines(struct rig *g, bool rightly) {
    reports(g, 21, "ooooo"); /* the last one at 1 s */
    mark(g, MARK_STOP, 10, "", 0);
    reports(g, 60, "oxooo"); /* 4 s */
    if (rightly)
        mark(g, MARK_LEAVE, -1, "", 20);
    reports(g, 20, "ooxoo"); /* 5 s */
    if (rightly)
        mark(g, MARK_STOP, 20, "", 0);
    reports(g, 10, "oooxo");
    mark(g, MARK_FACING, -1, "away", 0); /* at 5.5 s: parts the stop */
    reports(g, 10, "oooxo");             /* 6 s */
    mark(g, MARK_STOP, rightly ? 99 : 20, "", 0);
    reports(g, 30, "ooooo");
    if (!rightly)
        mark(g, MARK_STOP, 50, "", 0); /* by mistake */
    reports(g, 30, "ooooo");
}

static void test_amended_marks_count_as_if_set_so(void **state) {
    (void)state;
    static const struct {
        const char *key, *value;
    } about[] = {{"amend_add", "4.020:leave"}, {"amend_move", "3:5"}, {"amend_strike", "4"},
                 {"amend_add", "6:99"},        {"amend_strike", "9"}, {"amend_move", "1"},
                 {"program", "airleash"}};
    struct rig *right = rig_new(), *wrong = rig_new(), *mended = rig_new();
    struct marks *marks = calloc(1, sizeof *marks);
    struct marked_walk *marked = calloc(1, sizeof *marked);
    assert_true(marks && marked);
    walk_lines(right, true);
    wrong->marks = marks;
    walk_lines(wrong, false);
    for (size_t i = 0; i < sizeof about / sizeof about[0]; i++)
        assert_int_equal(marks_about(marks, slice_of(about[i].key), slice_of(about[i].value)),
                         i < 6);
    assert_int_equal(marks->amendments, 4);
    assert_int_equal(marks->refused, 2);
    mended->marked = marked;
    marked_walk_init(marked, &mended->walk, marks);
    walk_lines(mended, false);
    marked_walk_end(marked);
    assert_int_equal(right->walk.count, 4);
    assert_int_equal(mended->walk.count, 4);
    assert_string_equal(mended->walk.stop[2].facing, "away");
    assert_int_not_equal(wrong->walk.stop[0].to_ms, right->walk.stop[0].to_ms);
    for (int i = 0; i < 4; i++)
        assert_memory_equal(&mended->walk.stop[i], &right->walk.stop[i], sizeof(struct walk_stop));
    free(marks);
    free(marked);
    rig_free(right);
    rig_free(wrong);
    rig_free(mended);
}

/* More marks than there is room for are counted; what was kept stays as it is. */
static void test_marks_beyond_the_room(void **state) {
    (void)state;
    struct marks *marks = calloc(1, sizeof *marks);
    struct event e = {.kind = EVENT_MARK};
    struct amendment one_more = {.kind = AMEND_ADD, .at_ms = 1, .distance_m = 7};
    assert_non_null(marks);
    for (int i = 0; i < MARKS_MAX + 3; i++) {
        struct moment m = {.event = &e, .link_ms = i};
        e.mark.distance_m = i;
        marks_take(marks, &m);
    }
    assert_int_equal(marks->count, MARKS_MAX);
    assert_int_equal(marks->passed_over, 3);
    assert_true(marks->mark[MARKS_MAX - 1].distance_m == MARKS_MAX - 1);
    assert_false(marks_amend(marks, &one_more));
    assert_true(marks_about(marks, slice_of("amend_add"), slice_of("1:5")));
    assert_int_equal(marks->refused, 1);
    assert_int_equal(marks->amendments, 0);
    assert_true(marks_about(marks, slice_of("amend_strike"), slice_of("512")));
    assert_true(marks->mark[MARKS_MAX - 1].struck);
    free(marks);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_counts_what_lies_within_the_stop),
        cmocka_unit_test(test_parts_a_report),
        cmocka_unit_test(test_blocks_widen),
        cmocka_unit_test(test_a_hole_is_no_death),
        cmocka_unit_test(test_longest_gap),
        cmocka_unit_test(test_a_gap_is_cut_at_the_mark),
        cmocka_unit_test(test_a_lost_link_closes_the_stop),
        cmocka_unit_test(test_a_death_nobody_saw),
        cmocka_unit_test(test_a_stop_where_the_link_was_dead_already),
        cmocka_unit_test(test_keeps_what_the_reports_say),
        cmocka_unit_test(test_restarts_fail_a_stop),
        cmocka_unit_test(test_our_opening_fails_no_stop),
        cmocka_unit_test(test_headings_part_a_stop),
        cmocka_unit_test(test_marks_that_make_no_stop),
        cmocka_unit_test(test_first_failed_and_held),
        cmocka_unit_test(test_verdict_needs_evidence),
        cmocka_unit_test(test_verdict_of_a_loss),
        cmocka_unit_test(test_verdict_without_order),
        cmocka_unit_test(test_bounds_of_a_walk),
        cmocka_unit_test(test_gap_limit_of_slow_packets),
        cmocka_unit_test(test_how_much_longer),
        cmocka_unit_test(test_a_press_marks_the_next_stop),
        cmocka_unit_test(test_only_fresh_packets_press),
        cmocka_unit_test(test_a_press_with_gaps),
        cmocka_unit_test(test_leaving_after_a_outage),
        cmocka_unit_test(test_plans),
        cmocka_unit_test(test_a_whole_walk_by_the_switch),
        cmocka_unit_test(test_amendments_read_and_write),
        cmocka_unit_test(test_amended_marks_count_as_if_set_so),
        cmocka_unit_test(test_marks_beyond_the_room),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
