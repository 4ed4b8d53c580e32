/* The search for causes: what the trace keeps, the test against chance, each candidate on lines in
 * which it is the cause, and what is said when a key is missing. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "causes/causes_parts.h"
#include "dice.h"
#include "simulator/simulator.h"
#include "stat/joint.h"
#include "telemetry/telemetry.h"

/* --- a run ------------------------------------------------------------------------------------ */

struct run {
    struct telemetry telemetry;
    struct bench *bench;
    struct bench_limits limits;
    struct trace trace;
    const char *without; /* this key is taken out of each line, with the checksum */
    char line[512];
    size_t len;
    int64_t host_us;
};

static struct causes found; /* too large for the stack of a sanitized build */

static void take(void *context, const struct event *event) {
    struct run *r = context;
    bench_feed(r->bench, event);
    trace_feed(&r->trace, bench_moment(r->bench));
}

static void begin(struct run *r) {
    memset(r, 0, sizeof *r);
    bench_limits_default(&r->limits);
    limits_one_motor(&r->limits, 1, IDLE_LOW);
    r->bench = bench_new(&r->limits);
    assert_non_null(r->bench);
    assert_true(trace_init(&r->trace, &r->limits));
    telemetry_init(&r->telemetry, take, r);
    r->host_us = TIME_UNKNOWN;
}

static void end(struct run *r) {
    telemetry_end(&r->telemetry, r->host_us);
    trace_end(&r->trace);
}

static void release(struct run *r) {
    bench_free(r->bench);
    trace_release(&r->trace);
}

static void say(struct run *r, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void say(struct run *r, const char *format, ...) {
    char line[512];
    va_list list;
    va_start(list, format);
    int len = vsnprintf(line, sizeof line, format, list);
    va_end(list);
    telemetry_feed(&r->telemetry, line, (size_t)len, r->host_us);
}

static void mark(struct run *r, enum mark_type type, double distance_m, const char *text) {
    struct event e = {.kind = EVENT_MARK, .host_us = r->host_us};
    e.mark.type = type;
    e.mark.distance_m = distance_m;
    e.mark.text = slice_of(text);
    take(r, &e);
}

/* Takes " key=value" and the checksum out. */
static void strip(char *line, const char *key) {
    char pattern[32];
    snprintf(pattern, sizeof pattern, " %s=", key);
    char *at = strstr(line, pattern);
    if (at != NULL) {
        char *after = at + 1 + strcspn(at + 1, " ");
        memmove(at, after, strlen(after) + 1);
    }
    char *sum = strstr(line, " *");
    if (sum != NULL)
        *sum = '\0';
}

static void put(void *where, const char *bytes, size_t len) {
    struct run *r = where;
    for (size_t i = 0; i < len; i++) {
        if (bytes[i] == '\r')
            continue;
        if (bytes[i] != '\n') {
            if (r->len < sizeof r->line - 2)
                r->line[r->len++] = bytes[i];
            continue;
        }
        r->line[r->len] = '\0';
        if (r->without != NULL)
            strip(r->line, r->without);
        say(r, "%s\n", r->line);
        r->len = 0;
    }
}

static void play(struct run *r, const char *scene, uint64_t seed, int64_t seconds,
                 const char *without) {
    begin(r);
    r->without = without;
    struct simulator *p = simulator_new(simulator_scene_find(scene), seed, put, r);
    assert_non_null(p);
    simulator_run(p, seconds * 1000000);
    simulator_free(p);
    end(r);
}

static const struct cause *cause_of(enum cause_id id, bool outages) {
    for (uint32_t i = 0; i < found.count; i++)
        if (found.cause[i].id == id && found.cause[i].outages == outages)
            return &found.cause[i];
    return NULL;
}

/* --- the trace -------------------------------------------------------------------------------- */

/* Packets every 20 ms, a report every 100 ms: what is lost when is known exactly. */
static void drops_are_found(void **state) {
    struct run r;
    (void)state;
    begin(&r);
    say(&r, "id end=rx rate=50\n");
    say(&r, "rx n=7 t=1000 ch=1500,1000 got=100 lost=0 age=10 mv=5000 mvmin=4950\n");
    say(&r, "rx n=8 t=1100 ch=1700,1000 got=104 lost=1 pat=oooxo age=10 mv=5000 mvmin=4500\n");
    say(&r, "rx n=9 t=1200 ch=1700,1000 got=109 lost=1 pat=ooooo age=10 mv=5000 mvmin=4950\n");
    say(&r, "rx n=10 t=2200 ch=1700,1000 got=154 lost=6 pat=%s age=10 mv=5000 mvmin=4950\n",
        "oooooooooooooooooooooooooooooooooooooooxxxxxoooooo");
    say(&r, "rx n=11 t=2300 ch=1700,1000 got=159 lost=6 pat=ooooo age=10 mv=5000 mvmin=4950\n");
    end(&r);
    assert_int_equal(r.trace.drops, 2);
    /* Link time begins with the first report; packets lie at 10, 30, 50, 70 (lost), 90 ms. */
    assert_int_equal(r.trace.drop[0].from_ms, 70);
    assert_int_equal(r.trace.drop[0].lost, 1);
    assert_false(trace_outage(&r.trace.drop[0]));
    /* The five missing ones are the 40th to the 44th of fifty after 190 ms: 990 to 1070 ms. */
    assert_in_range(r.trace.drop[1].from_ms, 970, 990);
    assert_int_equal(r.trace.drop[1].lost, 5);
    assert_true(trace_outage(&r.trace.drop[1]));
    assert_true(r.trace.drop[1].outage);
    assert_int_equal(r.trace.loss_times, 1);
    assert_true(fabs(r.trace.loss_ms[0] - 70) < 1e-9);
    struct cause_before b;
    causes_before(&r.trace, &r.trace.drop[0], &b);
    assert_true(b.known);
    assert_int_equal(b.dip_mv, 500);
    assert_int_equal(b.channel, 0);
    assert_int_equal(b.way, 200);
    assert_int_equal(b.noise_looks, 0);
    release(&r);
}

/* Not the air's: what a hole in the lines hides, our own opening, a restart. */
static void facts_are_kept_apart(void **state) {
    struct run r;
    (void)state;
    begin(&r);
    say(&r, "rx n=7 t=1000 ch=1500,1000 got=100 lost=0 age=10\n");
    say(&r, "rx n=9 t=1200 ch=1500,1000 got=106 lost=4 age=10\n");
    say(&r, "boot cause=watchdog\n");
    say(&r, "rx n=1 t=300 ch=1500,1000 got=5 lost=0 pat=ooooo age=10\n");
    end(&r);
    assert_int_equal(r.trace.holes, 1);
    assert_int_equal(r.trace.restarts[BOOT_WATCHDOG], 1);
    assert_true(r.trace.drop[0].hole);
    assert_true(causes_find(&r.trace, &found));
    assert_non_null(found.too_few);
    assert_int_equal(cause_of(CAUSE_WATCHDOG, true)->shown,
                     CAUSE_NOT_SHOWN); /* in the hole's drop */
    release(&r);
}

/* --- the test against chance ------------------------------------------------------------------ */

static double p_of(const double *row, uint32_t cells) {
    static double most[CHANCE_SHIFTS_MAX];
    double p;
    size_t order;
    stat_joint(row, 1, chance_shifts(cells), &p, &order, most);
    return p;
}

/* By its construction p is uniform where nothing hangs together, although both series clump. */
static void chance_keeps_its_level(void **state) {
    enum { CELLS = 2400, ROUNDS = 300 };
    static float values[CELLS], work[CELLS];
    static uint32_t index[CELLS];
    static double row[CHANCE_SHIFTS_MAX];
    static struct chance_events events;
    struct dice dice = {7};
    int below = 0, tested = 0;
    (void)state;
    for (int round = 0; round < ROUNDS; round++) {
        float level = 0;
        bool spell = false;
        events.count = 0;
        for (int32_t i = 0; i < CELLS; i++) {
            level = 0.9F * level + (float)dice_share(&dice) - 0.5F;
            values[i] = level;
            if (dice_share(&dice) < 0.02)
                spell = !spell;
            if (spell && dice_share(&dice) < 0.1 && events.count < CHANCE_EVENTS_MAX) {
                events.cell[events.count] = i;
                events.weight[events.count++] = 1;
            }
        }
        struct chance_test test;
        if (!chance_test(values, CELLS, 6, 0, &events, 10, work, index, row, &test))
            continue;
        tested++;
        below += p_of(row, CELLS) <= 0.05;
    }
    assert_true(tested > 280);
    assert_in_range(below, 4, 27); /* 15 expected; within three standard deviations */
}

static void chance_finds_what_is_there(void **state) {
    enum { CELLS = 1200 };
    static float values[CELLS], work[CELLS];
    static uint32_t index[CELLS];
    static double row[CHANCE_SHIFTS_MAX];
    static struct chance_events events;
    struct dice dice = {11};
    struct chance_test test;
    (void)state;
    memset(values, 0, sizeof values);
    events.count = 0;
    for (int k = 0; k < 20; k++) { /* a pulse three cells before each event, and nowhere else */
        int32_t at = 50 + k * 55 + (int32_t)(dice_share(&dice) * 30);
        values[at - 3] = 1;
        events.cell[events.count] = at;
        events.weight[events.count++] = 1;
    }
    assert_true(chance_test(values, CELLS, 6, 0, &events, 10, work, index, row, &test));
    assert_int_equal(test.events, 20);
    assert_int_equal(test.explained, 20);
    assert_true(p_of(row, CELLS) <= 0.01); /* seven shifts keep each pulse in its window */
    assert_true(isinf(test.effect));
    /* A constant series, too few events, too short a run: no test. */
    memset(values, 0, sizeof values);
    assert_false(chance_test(values, CELLS, 6, 0, &events, 10, work, index, row, &test));
    events.count = 9;
    values[5] = 1;
    assert_false(chance_test(values, CELLS, 6, 0, &events, 10, work, index, row, &test));
    assert_false(chance_test(values, 199, 6, 0, &events, 1, work, index, row, &test));
}

/* --- candidates ------------------------------------------------------------------------------- */

static void chains_of_the_scenes(void **state) {
    static const struct {
        const char *scene;
        bool outages;
        enum cause_id members[3]; /* all of them shown, in this order; CAUSES ends */
    } rows[] = {
        {"weak", true, {CAUSE_MOVE, CAUSE_BROWNOUT, CAUSES}},
        {"sag", true, {CAUSE_MOVE, CAUSE_SUPPLY, CAUSE_SETTINGS_LOST}},
        {"loose", true, {CAUSE_TRANSMITTER, CAUSES, CAUSES}},
        {"beacon", false, {CAUSE_RHYTHM, CAUSES, CAUSES}},
        {"motor", false, {CAUSE_THROTTLE, CAUSE_INTERFERENCE, CAUSES}},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct run r;
        play(&r, rows[i].scene, 2, 600, NULL);
        assert_true(causes_find(&r.trace, &found));
        uint32_t at = 0;
        for (int k = 0; k < 3 && rows[i].members[k] != CAUSES; k++) {
            while (at < found.count && (found.cause[at].id != rows[i].members[k] ||
                                        found.cause[at].outages != rows[i].outages))
                at++;
            if (at == found.count || found.cause[at].shown != CAUSE_SHOWN)
                fail_msg("%s: no %s, or not in this place", rows[i].scene,
                         cause_name(rows[i].members[k]));
            assert_true(k == 0 || found.cause[at].chain >= 0);
        }
        release(&r);
    }
}

static void rhythm_has_its_period(void **state) {
    struct run r;
    (void)state;
    play(&r, "beacon", 3, 600, NULL);
    assert_true(causes_find(&r.trace, &found));
    const struct cause *c = cause_of(CAUSE_RHYTHM, false);
    assert_int_equal(c->shown, CAUSE_SHOWN);
    /* 100 time units of 1024 us: IEEE 802.11's usual beacon interval.  The receiver's clock may be
     * off by a fraction of a percent. */
    assert_true(fabs(c->figure - 102.4) < 0.5);
    assert_string_equal(causes_ticks(&r.trace, c->figure), "the interval of a Wi-Fi beacon");
    assert_null(causes_ticks(&r.trace, 77));
    release(&r);
}

/* Without the key that would show it, each says so and names it. */
static void a_missing_key_is_named(void **state) {
    static const struct {
        const char *scene, *key;
        enum cause_id id;
        bool outages;
    } rows[] = {
        {"weak", "mvmin", CAUSE_SUPPLY, true},
        {"weak", "reg", CAUSE_SETTINGS_LOST, true},
        {"busy", "noise", CAUSE_INTERFERENCE, false},
        {"busy", "heard", CAUSE_SIGNAL, false},
        {"busy", "tmv", CAUSE_TRANSMITTER_SUPPLY, false},
        {"busy", "pat", CAUSE_RHYTHM, false},
        {"busy", "rate", CAUSE_RETRIES, false},
        {"loose", "tboot", CAUSE_STRANGER, true},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct run r;
        play(&r, rows[i].scene, 1, 420, rows[i].key);
        assert_true(causes_find(&r.trace, &found));
        const struct cause *c = cause_of(rows[i].id, rows[i].outages);
        if (c == NULL || c->shown != CAUSE_CANT_TELL || c->missing == NULL ||
            strstr(c->missing, rows[i].key) == NULL)
            fail_msg("%s without %s: %s", rows[i].scene, rows[i].key,
                     c == NULL    ? "not there"
                     : c->missing ? c->missing
                                  : "told");
        release(&r);
    }
}

/* The throttle is no candidate before somebody says which channel it is. */
static void throttle_must_be_named(void **state) {
    struct run r;
    (void)state;
    begin(&r);
    limits_one_motor(&r.limits, -1, IDLE_LOW);
    struct simulator *p = simulator_new(simulator_scene_find("motor"), 1, put, &r);
    simulator_run(p, 120 * 1000000);
    simulator_free(p);
    end(&r);
    assert_true(causes_find(&r.trace, &found));
    assert_int_equal(cause_of(CAUSE_THROTTLE, false)->shown, CAUSE_CANT_TELL);
    release(&r);
}

/* The sparks' share of the time rises with the throttle: so must loss, step by step. */
static void loss_rises_with_the_throttle(void **state) {
    struct run r;
    struct throttle_step step[THROTTLE_STEPS];
    (void)state;
    play(&r, "motor", 4, 600, NULL);
    assert_true(causes_throttle(&r.trace, step));
    for (int i = 0; i < THROTTLE_STEPS; i++) {
        assert_true(step[i].interval_known);
        assert_true(step[i].low <= step[i].loss && step[i].loss <= step[i].high);
        assert_true(step[i].from <= step[i].to);
    }
    assert_true(step[THROTTLE_STEPS - 1].low > step[0].high);
    release(&r);
    play(&r, "motor", 4, 30, NULL);
    assert_false(causes_throttle(&r.trace, step));
    release(&r);
}

struct lines { /* reports every 100 ms, five packets each */
    struct run *r;
    uint32_t n, t, got, lost, seq;
};

/* One report, whose five packets are lost (1) as the bits of `lost` say, oldest first. */
static void report(struct lines *l, unsigned lost, uint32_t tboot, const char *more) {
    char pat[6] = "ooooo";
    for (int i = 0; i < 5; i++) {
        bool missing = (lost >> i & 1u) != 0;
        pat[i] = missing ? 'x' : 'o';
        l->got += !missing;
        l->lost += missing;
    }
    l->n++;
    l->t += 100;
    l->seq += 5;
    l->r->host_us = (int64_t)l->t * 1000;
    say(l->r, "rx n=%u t=%u ch=1500,1000 seq=%u tboot=%u got=%u lost=%u pat=%s age=5%s\n", l->n,
        l->t, l->seq % 65536, tboot, l->got, l->lost, pat, more);
}

static void begin_lines(struct lines *l, struct run *r, const char *id) {
    begin(r);
    *l = (struct lines){.r = r, .n = 10, .t = 10000, .got = 500, .seq = 500};
    r->host_us = 10000000;
    say(r, "id end=rx seqmod=65536 %s\n", id);
}

static void headings_and_distances(void **state) {
    static const char *const headings[] = {"bow", "port", "stern", "starboard"};
    struct run r;
    struct lines l;
    struct dice dice = {5};
    (void)state;
    begin_lines(&l, &r, "rate=50");
    for (int turn = 0; turn < 24; turn++) {
        mark(&r, MARK_FACING, -1, headings[turn % 4]);
        for (int i = 0; i < 100; i++) /* 10 s; the stern loses ten times as much */
            report(&l, dice_share(&dice) < (turn % 4 == 2 ? 0.2 : 0.02) ? 4 : 0, 1, "");
    }
    end(&r);
    assert_true(causes_find(&r.trace, &found));
    const struct cause *c = cause_of(CAUSE_HEADING, false);
    assert_int_equal(c->shown, CAUSE_SHOWN);
    assert_string_equal(r.trace.heading[(int)c->figure], "stern");
    assert_int_equal(cause_of(CAUSE_DISTANCE, false)->shown, CAUSE_CANT_TELL);
    release(&r);

    begin_lines(&l, &r, "rate=50");
    for (int stop = 0; stop < 10; stop++) {
        mark(&r, MARK_STOP, 5 * (stop + 1), "");
        for (int i = 0; i < 100; i++)
            report(&l, dice_share(&dice) < 0.03 * stop ? 4 : 0, 1, "");
        mark(&r, MARK_LEAVE, -1, "");
    }
    end(&r);
    assert_true(causes_find(&r.trace, &found));
    assert_int_equal(cause_of(CAUSE_DISTANCE, false)->shown, CAUSE_SHOWN);
    assert_int_equal(cause_of(CAUSE_HEADING, false)->shown, CAUSE_CANT_TELL);
    release(&r);
}

/* Two transmitters take turns: their start numbers come back. */
static void a_stranger_is_no_restart(void **state) {
    struct run r;
    struct lines l;
    (void)state;
    begin_lines(&l, &r, "rate=50");
    for (int i = 0; i < 900; i++)
        report(&l, 0, i / 40 % 2 == 0 ? 17 : 99, "");
    end(&r);
    assert_true(r.trace.transmitter_returns >= 10);
    assert_true(causes_find(&r.trace, &found));
    assert_int_equal(cause_of(CAUSE_STRANGER, true)->shown, CAUSE_SHOWN);
    assert_int_equal(cause_of(CAUSE_TRANSMITTER, true)->shown, CAUSE_NOT_SHOWN);
    release(&r);
}

/* Seven stops at which the signal lies so far below free space between two dipoles at 0 dBm, which
 * arrives with 4.3 - 40.2 - 20 log m dBm at 2440 MHz (Friis). */
static const struct cause *walk_below(struct run *r, const struct budget_inputs *in, int below_db) {
    static const double stops[] = {3, 5, 8, 10, 12, 15, 20};
    struct lines l;
    begin_lines(&l, r, "rate=50");
    r->trace.budget = in;
    for (size_t k = 0; k < sizeof stops / sizeof stops[0]; k++) {
        char more[24];
        snprintf(more, sizeof more, " rssi=%d",
                 (int)lround(4.3 - 40.2 - 20 * log10(stops[k])) - below_db);
        mark(r, MARK_STOP, stops[k], "");
        for (int i = 0; i < 60; i++)
            report(&l, i % 10 == 0 ? 1 : 0, 1, more);
        mark(r, MARK_LEAVE, -1, "");
    }
    end(r);
    assert_true(causes_find(&r->trace, &found));
    return cause_of(CAUSE_ANTENNA, false);
}

static void an_antenna_is_weak_against_the_budget(void **state) {
    struct run r;
    struct budget_inputs in;
    (void)state;
    budget_defaults(&in);
    in.power_dbm = 0;
    in.sensitivity_dbm = -94;
    const struct cause *c = walk_below(&r, &in, 22);
    assert_int_equal(c->shown, CAUSE_SHOWN);
    assert_int_equal(c->explained, 7);
    assert_true(fabs(c->figure - 22) < 2);
    release(&r);
    assert_int_equal(walk_below(&r, &in, 10)->shown, CAUSE_NOT_SHOWN); /* hand and hull */
    release(&r);
    in.power_dbm = -18; /* it is the power that is low, and that is known */
    assert_int_equal(walk_below(&r, &in, 22)->shown, CAUSE_NOT_SHOWN);
    release(&r);
    assert_int_equal(walk_below(&r, NULL, 22)->shown, CAUSE_CANT_TELL);
    release(&r);
}

/* Ten minutes; losses grow from the begin on, or are the same all along. */
static const struct cause *drift_by(struct run *r, double growth, bool falls) {
    struct lines l;
    struct dice dice = {7};
    begin_lines(&l, r, "rate=50");
    for (int i = 0; i < 6000; i++) {
        char more[24];
        snprintf(more, sizeof more, " mv=%d", 5000 - (falls ? i / 20 : 0));
        report(&l, dice_share(&dice) < 0.02 + growth * i / 6000 ? 2 : 0, 1, more);
    }
    end(r);
    assert_true(causes_find(&r->trace, &found));
    return cause_of(CAUSE_DRIFT, false);
}

static void losses_that_grow_are_a_drift(void **state) {
    struct run r;
    (void)state;
    const struct cause *c = drift_by(&r, 0.2, true);
    assert_int_equal(c->shown, CAUSE_SHOWN);
    assert_string_equal(c->supply, "receiver");
    assert_true(fabs(c->figure - 270) < 10); /* from the mean of the first tenth to the last's */
    release(&r);
    c = drift_by(&r, 0.2, false);
    assert_int_equal(c->shown, CAUSE_SHOWN);
    assert_null(c->supply);
    release(&r);
    assert_int_equal(drift_by(&r, 0, true)->shown, CAUSE_NOT_SHOWN); /* a battery is no cause yet */
    release(&r);
}

/* One start number that comes and goes may be a damaged line. */
static void one_return_is_no_stranger(void **state) {
    struct run r;
    struct lines l;
    (void)state;
    begin_lines(&l, &r, "rate=50");
    for (int i = 0; i < 900; i++)
        report(&l, 0, i == 400 ? 99 : 17, "");
    end(&r);
    assert_true(causes_find(&r.trace, &found));
    assert_int_equal(cause_of(CAUSE_STRANGER, true)->shown, CAUSE_NOT_SHOWN);
    assert_int_equal(cause_of(CAUSE_TRANSMITTER, true)->shown, CAUSE_NOT_SHOWN);
    release(&r);
}

/* Acknowledged and none missing, yet only 50 a second arrive of 80 sent. */
static void retries_show_in_the_rate(void **state) {
    struct run r;
    struct lines l;
    (void)state;
    begin_lines(&l, &r, "rate=80 ack=1");
    for (int i = 0; i < 600; i++)
        report(&l, 0, 1, "");
    end(&r);
    assert_true(causes_find(&r.trace, &found));
    const struct cause *c = cause_of(CAUSE_RETRIES, false);
    assert_int_equal(c->shown, CAUSE_SHOWN);
    assert_true(fabs(c->figure - 50) < 1);
    release(&r);

    begin_lines(&l, &r, "rate=50 ack=1");
    for (int i = 0; i < 600; i++)
        report(&l, 0, 1, "");
    end(&r);
    assert_true(causes_find(&r.trace, &found));
    assert_int_equal(cause_of(CAUSE_RETRIES, false)->shown, CAUSE_NOT_SHOWN);
    release(&r);
}

/* Marks half a second to a second after a dip: the dip is found; marks at random: nothing is. */
static void twitches_look_back(void **state) {
    (void)state;
    for (int random = 0; random < 2; random++) {
        struct run r;
        struct lines l;
        struct dice dice = {21};
        begin_lines(&l, &r, "rate=50");
        uint32_t dip_at = 30, press_at = UINT32_MAX;
        for (uint32_t i = 0; i < 3000; i++) {
            bool dips = i == dip_at;
            report(&l, 0, 1, dips ? " mv=5000 mvmin=4300" : " mv=5000 mvmin=4960");
            if (dips) {
                uint32_t wait = random != 0 ? (uint32_t)(30 + dice_share(&dice) * 150)
                                            : (uint32_t)(5 + dice_share(&dice) * 5);
                press_at = i + wait;
                dip_at = i + 200 + (uint32_t)(dice_share(&dice) * 60);
            }
            if (i == press_at)
                mark(&r, MARK_TWITCH, -1, "");
        }
        end(&r);
        assert_true(r.trace.twitches >= 8);
        assert_true(causes_twitches(&r.trace, &found));
        const struct cause *c = cause_of(CAUSE_SUPPLY, false);
        assert_non_null(c);
        assert_int_equal(c->shown, random != 0 ? CAUSE_NOT_SHOWN : CAUSE_SHOWN);
        release(&r);
    }
}

static void few_twitches_tell_nothing(void **state) {
    struct run r;
    struct lines l;
    (void)state;
    begin_lines(&l, &r, "rate=50");
    for (int i = 0; i < 1000; i++) {
        report(&l, 0, 1, i % 200 == 100 ? " mv=5000 mvmin=4300" : " mv=5000 mvmin=4960");
        if (i % 250 == 107)
            mark(&r, MARK_TWITCH, -1, "");
    }
    end(&r);
    assert_true(causes_twitches(&r.trace, &found));
    assert_string_equal(found.too_few, "fewer than five marks");
    for (uint32_t i = 0; i < found.count; i++)
        assert_int_not_equal(found.cause[i].shown, CAUSE_SHOWN);
    release(&r);
}

/* The port goes away and comes back, once by our opening with a restart: the lead's, no drop's. */
static void the_port_is_no_drop(void **state) {
    struct run r;
    struct lines l;
    struct event port = {.kind = EVENT_PORT};
    (void)state;
    begin_lines(&l, &r, "rate=50");
    for (int i = 0; i < 40; i++)
        report(&l, 0, 1, "");
    uint32_t drops = r.trace.drops;
    port.host_us = r.host_us;
    port.port.change = PORT_LOST;
    take(&r, &port);
    port.port.change = PORT_SLEPT;
    take(&r, &port);
    port.port.change = PORT_BACK;
    take(&r, &port);
    assert_int_equal(r.trace.port_losses, 1);
    assert_int_equal(r.trace.drops, drops);
    end(&r);
    release(&r);
}

/* The failsafe comes and goes half a second before each twitch: found; else no change of it is. */
static void twitches_by_the_failsafe(void **state) {
    struct run r;
    struct lines l;
    (void)state;
    begin_lines(&l, &r, "rate=50");
    for (int i = 0; i < 3000; i++) {
        int at = i % 200 - i / 200 % 7 * 3;
        report(&l, 0, 1, at == 100 ? " fs=1 fsn=1" : " fs=0 fsn=1");
        if (at == 106)
            mark(&r, MARK_TWITCH, -1, "");
    }
    end(&r);
    assert_true(causes_twitches(&r.trace, &found));
    const struct cause *c = cause_of(CAUSE_FAILSAFE, false);
    assert_non_null(c);
    assert_int_equal(c->shown, CAUSE_SHOWN);
    release(&r);
}

/* --- facts about who fell silent -------------------------------------------------------------- */

/* A report every 100 ms with five packets, but from one time to another. */
static void silent_lines(struct run *r, bool sent, bool printed) {
    uint32_t n = 0, got = 0, lost = 0, seq = 100;
    begin(r);
    say(r, "id end=rx rate=50 seqmod=65536\n");
    for (uint32_t t = 100; t <= 70000; t += 100) {
        uint32_t phase = t % 5000;
        bool silent = phase >= 4000 && phase < 4600;
        if (silent) {
            seq += sent ? 5 : 0;
            lost += sent ? 5 : 0;
            if (!printed)
                continue;
            say(r, "rx n=%u t=%u ch=1500 seq=%u got=%u lost=%u age=%u\n", ++n, t, seq, got,
                lost - (sent ? (phase - 4000) / 20 + 5 : 0), phase - 4000 + 105);
            continue;
        }
        got += 5;
        seq += 5;
        say(r, "rx n=%u t=%u ch=1500 seq=%u got=%u lost=%u age=5 gap=%d\n", ++n, t, seq, got, lost,
            phase == 4600 ? 620 : 20);
    }
    end(r);
    assert_true(causes_find(&r->trace, &found));
}

static bool is_shown(enum cause_id id, bool outages) {
    const struct cause *c = cause_of(id, outages);
    return c != NULL && c->shown == CAUSE_SHOWN;
}

static void who_fell_silent(void **state) {
    struct run r;
    (void)state;
    silent_lines(&r, false, true); /* the sequence number stands still */
    assert_true(is_shown(CAUSE_PAUSE, true));
    assert_int_equal(cause_of(CAUSE_PAUSE, true)->explained, 14);
    assert_false(is_shown(CAUSE_STALL, true));
    assert_true(is_shown(CAUSE_RHYTHM, true));
    assert_true(fabs(cause_of(CAUSE_RHYTHM, true)->figure - 5000) < 50);
    release(&r);
    silent_lines(&r, true, false); /* no report, and no line is missing */
    assert_true(is_shown(CAUSE_STALL, true));
    assert_false(is_shown(CAUSE_PAUSE, true));
    release(&r);
    silent_lines(&r, true, true); /* they were sent and lost */
    assert_false(is_shown(CAUSE_STALL, true));
    assert_false(is_shown(CAUSE_PAUSE, true));
    release(&r);
}

/* Gaps at random, as of fades, have no rhythm; every 5 s with two missing has. */
static void outages_by_the_clock(void **state) {
    double begin[40], work[40], at = 0;
    struct causes_rhythm rhythm;
    struct dice dice = {77};
    unsigned accused = 0;
    (void)state;
    for (int run = 0; run < 500; run++) {
        at = 0;
        for (int i = 0; i < 20; i++)
            begin[i] = at += 1000 - 4000 * log(1 - dice_share(&dice));
        accused += causes_regular(begin, 20, work, &rhythm) && rhythm.p < 0.005;
    }
    assert_true(accused <= 2);
    at = 0;
    for (int i = 0; i < 20; i++)
        begin[i] = at += i == 7 || i == 12 ? 10000 : 5000 + 60 * dice_share(&dice);
    assert_true(causes_regular(begin, 20, work, &rhythm));
    assert_true(rhythm.p < 1e-9);
    assert_int_equal(rhythm.explained, 19);
    assert_false(causes_regular(begin, 7, work, &rhythm));
}

/* An output that jitters by 5 us, always just before the losses, is no cause; by 60 us it is. */
static void trembling_is_no_move(void **state) {
    (void)state;
    for (int far = 0; far < 2; far++) {
        struct run r;
        uint32_t got = 0, lost = 0, seq = 0;
        struct dice dice = {5};
        begin(&r);
        int next = 30;
        for (int i = 1; i <= 1200; i++) {
            bool moves = i == next, loses = i == next + 3;
            int us = 1500 + (moves ? far != 0 ? 60 : 5 : 0);
            got += loses ? 4 : 5;
            lost += loses;
            seq += 5;
            char pat[] = "ooooo";
            if (loses)
                pat[dice_below(&dice, 4)] = 'x';
            say(&r, "rx n=%d t=%d ch=%d seq=%u got=%u lost=%u pat=%s age=5\n", i, 100 * i, us, seq,
                got, lost, pat);
            next = loses ? i + 20 + (int)dice_below(&dice, 60) : next;
        }
        end(&r);
        assert_true(causes_find(&r.trace, &found));
        assert_true(found.losses_tested >= CAUSES_EVENTS_LEAST);
        assert_int_equal(is_shown(CAUSE_MOVE, false), far);
        assert_int_equal(causes_advice(&r.trace, &found) == NULL, far);
        release(&r);
    }
}

/* A servo leaps and the supply dips right after each restart: the restart is no less its own. */
static void a_consequence_is_no_cause(void **state) {
    struct run r;
    struct dice dice = {9};
    int boot = 1, next = 25;
    (void)state;
    begin(&r);
    for (int i = 1, n = 1; i <= 1500; i++, n++) {
        bool leaps = n <= 5 && i > 20;
        if (i == next) {
            say(&r, "boot cause=watchdog\n");
            n = 1;
            boot = i;
            leaps = true;
            next = i + 15 + (int)dice_below(&dice, 60);
        }
        say(&r, "rx n=%d t=%d ch=%d got=%d lost=0 age=5 mv=5000 mvmin=%d\n", n,
            100 * (i - boot + 1), leaps ? 1500 + 60 * (n % 2) : 1500, 5 * (i - boot + 1),
            leaps ? 4500 : 4980);
    }
    end(&r);
    assert_true(causes_find(&r.trace, &found));
    assert_true(is_shown(CAUSE_WATCHDOG, true));
    assert_false(is_shown(CAUSE_SUPPLY, true));
    assert_false(is_shown(CAUSE_MOVE, true));
    release(&r);
}

static void power_is_a_cause(void **state) {
    struct run r;
    (void)state;
    begin(&r);
    for (int i = 1; i <= 60; i++) {
        if (i % 20 == 0)
            say(&r, "boot cause=power\n");
        say(&r, "rx n=%d t=%d ch=1500 got=%d lost=0 age=5\n", i % 20 + 1, 100 * (i % 20 + 1),
            5 * (i % 20 + 1));
    }
    end(&r);
    assert_true(causes_find(&r.trace, &found));
    assert_true(is_shown(CAUSE_POWER, true));
    assert_false(is_shown(CAUSE_RESTART, true));
    assert_string_equal(found.too_few, "the recording is too short");
    assert_true(found.enough_s >= 50);
    release(&r);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(drops_are_found),
        cmocka_unit_test(facts_are_kept_apart),
        cmocka_unit_test(chance_keeps_its_level),
        cmocka_unit_test(chance_finds_what_is_there),
        cmocka_unit_test(chains_of_the_scenes),
        cmocka_unit_test(rhythm_has_its_period),
        cmocka_unit_test(a_missing_key_is_named),
        cmocka_unit_test(throttle_must_be_named),
        cmocka_unit_test(loss_rises_with_the_throttle),
        cmocka_unit_test(headings_and_distances),
        cmocka_unit_test(an_antenna_is_weak_against_the_budget),
        cmocka_unit_test(losses_that_grow_are_a_drift),
        cmocka_unit_test(one_return_is_no_stranger),
        cmocka_unit_test(a_stranger_is_no_restart),
        cmocka_unit_test(retries_show_in_the_rate),
        cmocka_unit_test(twitches_look_back),
        cmocka_unit_test(few_twitches_tell_nothing),
        cmocka_unit_test(the_port_is_no_drop),
        cmocka_unit_test(twitches_by_the_failsafe),
        cmocka_unit_test(who_fell_silent),
        cmocka_unit_test(outages_by_the_clock),
        cmocka_unit_test(trembling_is_no_move),
        cmocka_unit_test(a_consequence_is_no_cause),
        cmocka_unit_test(power_is_a_cause),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
