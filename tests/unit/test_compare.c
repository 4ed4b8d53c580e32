/* Samples, comparisons and baselines.  What R says of a whole comparison: tests/outside/compare.R;
 * how often it errs: tests/tools/compare_coverage.c. */
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
#include "stat/mover.h"
#include "study/baseline.h"
#include "study/compare.h"
#include "study/until.h"
#include "telemetry/telemetry.h"
#include "text/compare_text.h"

/* --- runs of lines ---------------------------------------------------------------------------- */

struct road {
    struct bench *bench;
    struct sample *sample;
    struct until *until; /* or NULL */
};

static void take(void *context, const struct event *event) {
    struct road *r = context;
    bench_feed(r->bench, event);
    sample_feed(r->sample, bench_moment(r->bench));
    if (r->until)
        until_feed(r->until, bench_moment(r->bench));
}

struct scene {
    int seconds, ack; /* ack: below 0 no id line says */
    double loss;
    uint64_t seed;
    const char *without; /* this key is left out of each line, "" none */
    uint32_t mv, noise_hits;
    struct until *until;
};

static void put(char *line, const struct scene *s, const char *key, const char *value) {
    if (strcmp(key, s->without) == 0)
        return;
    strcat(line, " ");
    strcat(line, key);
    strcat(line, "=");
    strcat(line, value);
}

static void put_number(char *line, const struct scene *s, const char *key, uint32_t value) {
    char text[16];
    snprintf(text, sizeof text, "%u", value);
    put(line, s, key, text);
}

static void put_line(struct telemetry *t, const struct scene *s, uint32_t n, struct dice *d,
                     uint32_t *got, uint32_t *lost) {
    char line[400] = "rx", pat[6] = "";
    for (int i = 0; i < 5; i++) { /* the last always arrives: no packet is left open */
        pat[i] = i < 4 && dice_chance(d, s->loss * 1.25) ? 'x' : 'o';
        *(pat[i] == 'x' ? lost : got) += 1;
    }
    put_number(line, s, "n", n);
    put_number(line, s, "t", 1000 + n * 100);
    put(line, s, "ch", "1500");
    put_number(line, s, "seq", *got + *lost);
    put_number(line, s, "got", *got);
    put_number(line, s, "lost", *lost);
    put(line, s, "pat", pat);
    put_number(line, s, "age", 3 + (uint32_t)dice_below(d, 2));
    put(line, s, "fs", "0");
    put_number(line, s, "mv", s->mv);
    put_number(line, s, "mvmin", s->mv - 40);
    char noise[16];
    snprintf(noise, sizeof noise, "%u/10", s->noise_hits);
    put(line, s, "noise", noise);
    put(line, s, "reg", "ok");
    strcat(line, "\n");
    telemetry_feed(t, line, strlen(line), TIME_UNKNOWN);
}

static void run(struct sample *sample, const struct scene *s) {
    struct bench_limits limits;
    struct telemetry t;
    struct snapshot end;
    bench_limits_default(&limits);
    sample_init(sample, 0);
    struct road road = {bench_new(&limits), sample, s->until};
    assert_non_null(road.bench);
    telemetry_init(&t, take, &road);
    char id[64] = "id end=rx rate=50\n";
    if (s->ack >= 0)
        snprintf(id, sizeof id, "id end=rx rate=50 ack=%d\n", s->ack);
    if (strcmp(s->without, "rate") != 0)
        telemetry_feed(&t, id, strlen(id), TIME_UNKNOWN);
    struct dice dice = {s->seed};
    uint32_t got = 0, lost = 0;
    for (uint32_t n = 1; n <= (uint32_t)s->seconds * 10; n++)
        put_line(&t, s, n, &dice, &got, &lost);
    telemetry_end(&t, TIME_UNKNOWN);
    bench_read(road.bench, &end);
    sample_take(sample, &end);
    bench_free(road.bench);
}

static const struct scene plain = {
    .seconds = 60, .ack = 0, .loss = 0.05, .seed = 1, .without = "", .mv = 5000, .noise_hits = 1};

static struct compare compare_of(const struct sample *const *a, uint32_t na,
                                 const struct sample *const *b, uint32_t nb) {
    struct compare found;
    assert_true(
        compare_find(&(struct side_samples){a, na}, &(struct side_samples){b, nb}, 999, &found));
    return found;
}

static struct compare compare_two(const struct sample *a, const struct sample *b) {
    return compare_of(&a, 1, &b, 1);
}

static struct sample own[8];

/* own[0..] A and B in turn. */
static void run_pairs(uint32_t pairs, double loss_a, double loss_b, double step) {
    for (uint32_t i = 0; i < 2 * pairs; i++) {
        struct scene s = plain;
        s.seed = i + 1;
        s.loss = (i % 2 == 0 ? loss_a : loss_b) + step * (double)(i / 2);
        run(&own[i], &s);
    }
}

static struct compare compare_pairs(uint32_t pairs) {
    const struct sample *a[4], *b[4];
    for (uint32_t i = 0; i < pairs; i++) {
        a[i] = &own[2 * i];
        b[i] = &own[2 * i + 1];
    }
    return compare_of(a, pairs, b, pairs);
}

static void set_begun(uint32_t count, const char *const *begun) {
    for (uint32_t i = 0; i < count; i++)
        snprintf(own[i].begun, sizeof own[i].begun, "%s", begun[i]);
}

/* --- samples ---------------------------------------------------------------------------------- */

static void test_blocks_hold_all(void **state) {
    (void)state;
    run(&own[0], &plain);
    uint64_t got = 0, lost = 0, supplies = 0;
    for (uint32_t i = 0; i <= own[0].full; i++) {
        got += own[0].block[i].got;
        lost += own[0].block[i].lost;
        supplies += own[0].block[i].supplies;
        assert_int_equal(own[0].block[i].supply_low_mv, 4960);
    }
    assert_int_equal(got, own[0].got);
    assert_int_equal(lost, own[0].lost);
    assert_int_equal(own[0].runs.lost, lost);
    assert_int_equal(supplies, 600);
    /* 100 packets a block of 2 s, give or take where a report ends. */
    for (uint32_t i = 1; i < own[0].full; i++)
        assert_in_range(own[0].block[i].got + own[0].block[i].lost, 99, 101);
    /* Each age is 3 or 4 ms, so that half the differences of transit are 1 ms, half 0. */
    struct compare c = compare_two(&own[0], &own[0]);
    assert_true(fabs(c.figure[COMPARE_JITTER].a - 0.5) < 0.1);
}

static void test_long_run_merges(void **state) {
    (void)state;
    struct scene s = plain;
    s.seconds = 1500; /* 750 blocks of 2 s */
    run(&own[0], &s);
    assert_int_equal(own[0].block_ms, 4000);
    uint64_t packets = 0;
    for (uint32_t i = 0; i <= own[0].full; i++)
        packets += own[0].block[i].got + own[0].block[i].lost;
    assert_int_equal(packets, own[0].got + own[0].lost);
    assert_in_range(own[0].full, 374, 375);
}

/* --- MOVER ------------------------------------------------------------------------------------ */

/* Newcombe 1998, Stat. Med. 17:873, method 10 is MOVER with score limits: 56/70 against 48/80,
 * 9/10 against 3/10, 10/10 against 0/10 (as printed, to four places). */
static void test_mover_is_newcombe(void **state) {
    (void)state;
    static const struct {
        uint64_t x1, n1, x2, n2;
        double low, high;
    } rows[] = {{56, 70, 48, 80, 0.0524, 0.3339},
                {9, 10, 3, 10, 0.1705, 0.8090},
                {10, 10, 0, 10, 0.6075, 1.0000}};
    for (size_t i = 0; i < 3; i++) {
        struct mover x = {(double)rows[i].x1 / (double)rows[i].n1,
                          stat_wilson(rows[i].x1, rows[i].n1, 0.95)};
        struct mover y = {(double)rows[i].x2 / (double)rows[i].n2,
                          stat_wilson(rows[i].x2, rows[i].n2, 0.95)};
        struct stat_interval d = stat_mover_difference(&x, &y);
        assert_true(fabs(d.low - rows[i].low) < 5e-5);
        assert_true(fabs(d.high - rows[i].high) < 5e-5);
    }
}

/* By its definition: at a limit of the ratio, x less ratio times y has a limit of 0. */
static void test_mover_ratio(void **state) {
    (void)state;
    struct mover x = {0.04, {0.03, 0.06}}, y = {0.05, {0.02, 0.09}};
    struct stat_interval r = stat_mover_ratio(&x, &y);
    struct mover low = {r.low * y.value, {r.low * y.limits.low, r.low * y.limits.high}};
    struct mover high = {r.high * y.value, {r.high * y.limits.low, r.high * y.limits.high}};
    assert_true(fabs(stat_mover_difference(&x, &low).low) < 1e-12);
    assert_true(fabs(stat_mover_difference(&x, &high).high) < 1e-12);
    y.limits.low = 0;
    assert_true(isinf(stat_mover_ratio(&x, &y).high));
    x = (struct mover){0, {0, 0.01}};
    assert_true(stat_mover_ratio(&x, &y).low == 0);
}

/* --- verdicts --------------------------------------------------------------------------------- */

static void test_a_single_pair_is_never_helped(void **state) {
    (void)state;
    run_pairs(1, 0.10, 0.02, 0);
    struct compare c = compare_pairs(1);
    assert_int_equal(c.verdict, COMPARE_DIFFERS);
    assert_int_equal(c.doubt, COMPARE_SINGLE);
    assert_true(c.difference.rate < 0 && c.difference.limits.high < 0 && c.p <= 0.05);
    assert_true(c.ratio.known && c.ratio.high_known && c.ratio.limits.high < 1);
}

static void test_repeats_tell(void **state) {
    (void)state;
    run_pairs(2, 0.10, 0.02, 0);
    struct compare c = compare_pairs(2);
    assert_int_equal(c.verdict, COMPARE_HELPED);
    assert_false(c.order_known);
    assert_non_null(compare_note(&c, 0)); /* only if they took turns */
    run_pairs(2, 0.02, 0.10, 0);
    assert_int_equal(compare_pairs(2).verdict, COMPARE_WORSE);
    assert_false(compare_pairs(2).whole);
}

static void test_order_counts(void **state) {
    (void)state;
    static const char *const turns[] = {"2026-05-01T10:00:00Z", "2026-05-01T10:05:00Z",
                                        "2026-05-01T10:15:00Z", "2026-05-01T10:10:00Z"};
    static const char *const first[] = {"2026-05-01T10:00:00Z", "2026-05-01T10:10:00Z",
                                        "2026-05-01T10:05:00Z", "2026-05-01T10:15:00Z"};
    run_pairs(2, 0.10, 0.02, 0);
    set_begun(4, turns);
    struct compare c = compare_pairs(2);
    assert_int_equal(c.verdict, COMPARE_HELPED);
    assert_true(c.order_known);
    assert_null(compare_note(&c, 0));
    set_begun(4, first);
    c = compare_pairs(2);
    assert_int_equal(c.verdict, COMPARE_DIFFERS);
    assert_int_equal(c.doubt, COMPARE_ORDER);
}

/* A's recordings 2 and 12 %, B's 7 and 17 %: more lost in B than chance gives, but no more than
 * from one recording to the next. */
static void test_scatter_is_no_proof(void **state) {
    (void)state;
    run_pairs(2, 0.02, 0.07, 0.10);
    struct compare c = compare_pairs(2);
    assert_true(c.verdict == COMPARE_DIFFERS || c.verdict == COMPARE_UNDECIDED);
    if (c.verdict == COMPARE_DIFFERS)
        assert_int_equal(c.doubt, COMPARE_SCATTER);
}

/* Four a side: 70 ways to deal whole recordings out, of which the one seen and its mirror are the
 * farthest apart: p is 2/70 at the least. */
static void test_whole_recordings(void **state) {
    (void)state;
    run_pairs(4, 0.10, 0.02, 0);
    struct compare c = compare_pairs(4);
    assert_true(c.whole);
    assert_int_equal(c.verdict, COMPARE_HELPED);
    assert_true(fabs(c.p - 2.0 / 70) < 1e-12);
}

static void test_alike(void **state) {
    (void)state;
    struct scene s = plain;
    s.seconds = 600;
    run(&own[0], &s);
    s.seed = 2;
    run(&own[1], &s);
    struct compare c = compare_two(&own[0], &own[1]);
    assert_int_equal(c.verdict, COMPARE_ALIKE);
    assert_true(c.largest < c.margin && c.margin > 0.015 && c.margin < 0.018);
    assert_true(c.more_minutes < 0);
}

static void test_too_short(void **state) {
    (void)state;
    struct scene s = plain;
    s.seconds = 12; /* 5 blocks */
    s.loss = 0.3;
    run(&own[0], &s);
    s.loss = 0.05;
    run(&own[1], &s);
    struct compare c = compare_two(&own[0], &own[1]);
    assert_int_equal(c.verdict, COMPARE_UNDECIDED);
    assert_false(c.tested);
    assert_true(c.more_minutes > 0 && c.more_minutes < 2);
}

/* More minutes, as told, do decide: tried on many pairs that one minute leaves open. */
static void test_more_minutes(void **state) {
    (void)state;
    unsigned asked = 0, decided = 0;
    for (uint64_t seed = 1; seed <= 60; seed++) {
        struct scene s = plain;
        s.seconds = 20;
        s.seed = 2 * seed;
        run(&own[0], &s);
        s.seed++;
        s.loss = 0.035;
        run(&own[1], &s);
        struct compare c = compare_two(&own[0], &own[1]);
        if (c.verdict != COMPARE_UNDECIDED || c.more_minutes < 0 || c.more_minutes > 20)
            continue;
        asked++;
        s.seconds += (int)(c.more_minutes * 60);
        run(&own[1], &s);
        s.seed--;
        s.loss = plain.loss;
        run(&own[0], &s);
        decided += compare_two(&own[0], &own[1]).verdict != COMPARE_UNDECIDED;
    }
    assert_true(asked >= 20);
    assert_true(decided * 2 > asked); /* "likely" */
}

static void test_retries_are_never_compared(void **state) {
    (void)state;
    struct scene s = plain;
    run(&own[0], &s);
    s.ack = 1;
    run(&own[1], &s);
    struct compare c = compare_two(&own[0], &own[1]);
    assert_int_equal(c.verdict, COMPARE_REFUSED);
    assert_int_equal(c.lack, COMPARE_ACK_DIFFERS);
    c = compare_two(&own[1], &own[1]);
    assert_int_not_equal(c.verdict, COMPARE_REFUSED);
    s.ack = -1;
    run(&own[1], &s);
    c = compare_two(&own[0], &own[1]);
    assert_int_not_equal(c.verdict, COMPARE_REFUSED);
    assert_non_null(strstr(compare_note(&c, 0), "retries"));
}

static void test_none_lost(void **state) {
    (void)state;
    struct scene s = plain;
    s.loss = 0;
    run(&own[0], &s);
    run(&own[1], &plain);
    struct compare c = compare_two(&own[0], &own[1]);
    assert_false(c.ratio.known);
    assert_false(c.ratio.high_known);
    assert_int_equal(c.verdict, COMPARE_DIFFERS);
    c = compare_two(&own[0], &own[0]);
    assert_true(c.difference.rate == 0 && c.difference.limits.high > 0);
}

/* --- what a key tells ------------------------------------------------------------------------- */

static void sink(void *where, const char *bytes, size_t len) {
    char *text = where;
    assert_true(strlen(text) + len < 8000);
    strncat(text, bytes, len);
}

static void test_key_by_key(void **state) {
    (void)state;
    static const struct {
        const char *key;
        enum compare_figure_id figure; /* that falls away */
        const char *words;
    } rows[] = {
        {"mv", COMPARE_SUPPLY, "supply    can't tell without mv (B's lines)"},
        {"mvmin", COMPARE_DIPS, "dips      can't tell without mvmin (B's lines)"},
        {"noise", COMPARE_NOISE, "noise     can't tell without noise (B's lines)"},
        {"rate", COMPARE_JITTER, "jitter    can't tell without rate (B's lines)"},
        {"fs", COMPARE_FIGURES, "failsafe  can't tell without fs (B's lines)"},
        {"reg", COMPARE_FIGURES, "registers can't tell without reg (B's lines)"},
    };
    run(&own[0], &plain);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct scene s = plain;
        s.without = rows[i].key;
        run(&own[1], &s);
        const struct sample *a = &own[0], *b = &own[1];
        struct compare c = compare_two(a, b);
        assert_int_not_equal(c.verdict, COMPARE_REFUSED);
        for (int k = 0; k < COMPARE_FIGURES; k++)
            assert_int_equal(c.figure[k].known_b, k != (int)rows[i].figure);
        char text[8000] = "";
        compare_text(&c, &(struct side_samples){&a, 1}, &(struct side_samples){&b, 1}, NULL, sink,
                     text);
        if (strstr(text, rows[i].words) == NULL)
            fail_msg("without %s:\n%s", rows[i].key, text);
    }
}

/* Weaker evidence is named; without any the loss is not compared, the rest is. */
static void test_evidence_falls(void **state) {
    (void)state;
    struct scene s = plain;
    run(&own[0], &plain);
    s.without = "pat";
    run(&own[1], &s);
    struct compare c = compare_two(&own[0], &own[1]);
    assert_false(c.b.ordered);
    assert_true(c.a.ordered);
    assert_non_null(strstr(compare_note(&c, 0), "evidence"));
    s.without = "t"; /* and a capture without host times */
    run(&own[1], &s);
    c = compare_two(&own[0], &own[1]);
    assert_int_equal(c.lack, COMPARE_LACKS_TIME);
    struct sample bare = own[0];
    bare.counted = false;
    c = compare_two(&own[0], &bare);
    assert_int_equal(c.lack, COMPARE_LACKS_LOSS_B);
    assert_true(c.figure[COMPARE_SUPPLY].known_b);
}

static void test_usb_tells_no_supply(void **state) {
    (void)state;
    run(&own[0], &plain);
    run(&own[1], &plain);
    own[1].usb = true;
    struct compare c = compare_two(&own[0], &own[1]);
    assert_false(c.figure[COMPARE_SUPPLY].known_b);
    assert_false(c.figure[COMPARE_DIPS].known_b);
}

static void test_other_figures(void **state) {
    (void)state;
    struct scene s = plain;
    run(&own[0], &s);
    s.noise_hits = 4;
    s.mv = 4800;
    s.seed = 2;
    run(&own[1], &s);
    struct compare c = compare_two(&own[0], &own[1]);
    assert_int_equal(c.figure[COMPARE_NOISE].answer, COMPARE_HIGHER);
    assert_int_equal(c.figure[COMPARE_SUPPLY].answer, COMPARE_LOWER);
    assert_int_equal(c.figure[COMPARE_DIPS].answer, COMPARE_LOWER);
    assert_int_equal(c.figure[COMPARE_JITTER].answer, COMPARE_SAME);
    assert_true(fabs(c.figure[COMPARE_NOISE].b - 0.4) < 1e-12);
    assert_true(fabs(c.figure[COMPARE_SUPPLY].a - 5000) < 1e-9);
}

/* --- baselines -------------------------------------------------------------------------------- */

struct kept {
    char text[100000];
    size_t len;
};

static void keep(void *where, const char *bytes, size_t len) {
    struct kept *k = where;
    assert_true(k->len + len < sizeof k->text);
    memcpy(k->text + k->len, bytes, len);
    k->len += len;
}

/* How many recordings the text gives; below 0: minus the number of the bad line. */
static int read_back(const char *text, size_t len, struct sample *into) {
    struct baseline_reader r = {false, false, 0};
    struct slice rest = {text, len};
    int line = 0, done = 0;
    while (rest.at != NULL && rest.len > 0) {
        line++;
        enum baseline_step step = baseline_line(&r, slice_cut(&rest, '\n'), into + done);
        if (step == BASELINE_BAD)
            return -line;
        done += step == BASELINE_DONE;
    }
    return done;
}

static void test_baseline_gives_the_same(void **state) {
    (void)state;
    static struct kept kept;
    kept.len = 0;
    run_pairs(1, 0.10, 0.02, 0);
    snprintf(own[0].name, sizeof own[0].name, "p\xc3\xb6nd \\1\n.csv");
    snprintf(own[0].begun, sizeof own[0].begun, "2026-05-01T10:00:00Z");
    own[0].usb = true;
    baseline_head(keep, &kept);
    baseline_write(&own[0], keep, &kept);
    baseline_write(&own[1], keep, &kept);
    assert_true(baseline_recognises(kept.text, BASELINE_HEAD));
    assert_int_equal(read_back(kept.text, kept.len, &own[2]), 2);
    assert_string_equal(own[2].name, own[0].name);
    assert_string_equal(own[2].begun, own[0].begun);
    struct compare before = compare_two(&own[0], &own[1]), after = compare_two(&own[2], &own[3]);
    assert_true(before.difference.rate == after.difference.rate);
    assert_true(before.difference.limits.low == after.difference.limits.low);
    assert_true(before.p == after.p);
    assert_memory_equal(&before.a, &after.a, sizeof before.a);
    for (int i = 0; i < COMPARE_FIGURES; i++)
        assert_true(fabs(before.figure[i].a - after.figure[i].a) < 1e-4);
}

static void test_baseline_refuses(void **state) {
    (void)state;
    static const struct {
        const char *text;
        int line;
    } rows[] = {
        {"airleash-baseline 2\n", 1},
        {"airleash-baseline 1\nblock 1 2 3 4 5 6 7 8 9 10\n", 2},
        {"airleash-baseline 1\nrecording\nhue 3\n", 3},
        {"airleash-baseline 1\nrecording\ngot -3\n", 3},
        {"airleash-baseline 1\nrecording\nack maybe\n", 3},
        {"airleash-baseline 1\nrecording\nblock 1 2 3\n", 3},
        {"airleash-baseline 1\nrecording\nblock 1 2 3 4 5 6 7 8 11 10\n", 3},
        {"airleash-baseline 1\nrecording\nblock 1 2 3 4 5 6 7 8 9 10 11\n", 3},
        {"airleash-baseline 1\nrecording\nname \\xZZ\n", 3},
        {"airleash-baseline 1\nrecording\nblock_ms 10\nend\n", 4},
        {"airleash-baseline 1\nrecording\ncounted 1\nend\n", 4},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_int_equal(read_back(rows[i].text, strlen(rows[i].text), own), -rows[i].line);
    assert_false(baseline_recognises("kind,host_us,", 13));
    assert_false(baseline_recognises("airleash-base", 13));
}

/* --- the evidence budget ---------------------------------------------------------------------- */

static void run_until(struct until *u, const struct until_plan *plan, double loss, int seconds,
                      int ack) {
    struct scene s = plain;
    s.loss = loss;
    s.seconds = seconds;
    s.ack = ack;
    s.until = u;
    assert_true(until_init(u, plan, 0));
    run(&own[7], &s);
    until_end(u);
    until_release(u);
}

static void test_until_limit(void **state) {
    (void)state;
    static struct until u;
    struct until_plan plan = {.question = UNTIL_LIMIT, .limit = 0.02, .seconds = 200};
    run_until(&u, &plan, 0.10, 200, 0);
    assert_int_equal(u.looks, 5);
    assert_int_equal(u.verdict, UNTIL_ABOVE);
    assert_true(u.limits.low > 0.02 && u.counted_s < 200);
    run_until(&u, &plan, 0.002, 200, 0);
    assert_int_equal(u.verdict, UNTIL_BELOW);
    run_until(&u, &plan, 0.02, 200, 0);
    assert_int_equal(u.verdict, UNTIL_UNDECIDED);
    assert_int_equal(u.taken, 5);
}

/* Never before 20 blocks, however clear it is; and an end before them leaves it open. */
static void test_until_needs_blocks(void **state) {
    (void)state;
    static struct until u;
    struct until_plan plan = {.question = UNTIL_LIMIT, .limit = 0.02, .seconds = 90};
    run_until(&u, &plan, 0.5, 30, 0);
    assert_int_equal(u.looks, 2); /* at 45 and 90 s */
    assert_int_equal(u.verdict, UNTIL_UNDECIDED);
    run_until(&u, &plan, 0.5, 90, 0);
    assert_int_equal(u.verdict, UNTIL_ABOVE);
    assert_true(u.counted_s >= 45 && u.counted_s < 50);
}

static void test_until_differs(void **state) {
    (void)state;
    static struct until u;
    const struct sample *reference = &own[0];
    struct scene s = plain;
    s.seconds = 200;
    run(&own[0], &s);
    struct until_plan plan = {
        .question = UNTIL_DIFFERS, .reference = {&reference, 1}, .seconds = 200};
    run_until(&u, &plan, 0.15, 200, 0);
    assert_int_equal(u.verdict, UNTIL_ABOVE);
    run_until(&u, &plan, 0.05, 200, 0);
    assert_int_equal(u.verdict, UNTIL_UNDECIDED);
    run_until(&u, &plan, 0.15, 200, 1);
    assert_int_equal(u.verdict, UNTIL_REFUSED);
}

/* Twice the packets a second, half the time; a tighter limit, longer. */
static void test_until_expects(void **state) {
    (void)state;
    static struct until u;
    struct until_plan plan = {.question = UNTIL_LIMIT, .limit = 0.01, .seconds = 1000};
    assert_true(until_init(&u, &plan, 0));
    double at_50 = until_expected_s(&u, 50), at_200 = until_expected_s(&u, 200);
    assert_true(at_50 >= 200 && at_50 <= 600 && at_200 == 200);
    u.plan.limit = 0.0001;
    assert_true(until_expected_s(&u, 50) < 0);
    assert_true(until_expected_s(&u, 0) < 0);
    until_release(&u);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_blocks_hold_all),
        cmocka_unit_test(test_long_run_merges),
        cmocka_unit_test(test_mover_is_newcombe),
        cmocka_unit_test(test_mover_ratio),
        cmocka_unit_test(test_a_single_pair_is_never_helped),
        cmocka_unit_test(test_repeats_tell),
        cmocka_unit_test(test_order_counts),
        cmocka_unit_test(test_scatter_is_no_proof),
        cmocka_unit_test(test_whole_recordings),
        cmocka_unit_test(test_alike),
        cmocka_unit_test(test_too_short),
        cmocka_unit_test(test_more_minutes),
        cmocka_unit_test(test_retries_are_never_compared),
        cmocka_unit_test(test_none_lost),
        cmocka_unit_test(test_key_by_key),
        cmocka_unit_test(test_evidence_falls),
        cmocka_unit_test(test_usb_tells_no_supply),
        cmocka_unit_test(test_other_figures),
        cmocka_unit_test(test_baseline_gives_the_same),
        cmocka_unit_test(test_baseline_refuses),
        cmocka_unit_test(test_until_limit),
        cmocka_unit_test(test_until_needs_blocks),
        cmocka_unit_test(test_until_differs),
        cmocka_unit_test(test_until_expects),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
