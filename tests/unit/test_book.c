/* The book of trials, with a toy for a kind: rows, the guide's own rules, what stands. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "trial_drive.h"

/* The toy passes when a report with ch1 above 1500 was seen at its second step. */
struct toy {
    bool up, twice;
    uint32_t entered, reports;
};

static const struct trial_step steps[] = {
    {.name = "caution", .say = "Mind your fingers.", .ask = ASK_YES},
    {.name = "up", .say = "Move it up.", .waits = "above 1500", .least_s = 1, .most_s = 10},
    {.name = "pick", .say = "Which?", .ask = ASK_CHOICE, .choices = "a battery|a regulator|USB"},
};

static void toy_begin(void *state, const struct trial_rules *rules) {
    struct toy *t = state;
    assert_false(t->up);
    assert_int_equal(rules->throttle_low_ms, 1000);
}

static void toy_take(void *state, const struct moment *m, const struct snapshot *s,
                     const struct trial_place *place, bool entered) {
    struct toy *t = state;
    assert_non_null(s);
    t->entered += entered;
    bool report = m->event->kind == EVENT_REPORT;
    t->reports += report;
    if (report && place->step == 1 && m->event->report.ch[0] > 1500)
        t->up = true;
}

static int toy_next(const void *state, const struct snapshot *s, const struct trial_place *place) {
    const struct toy *t = state;
    (void)s;
    if (place->step == 0)
        return place->answered ? 1 : TRIAL_STAY;
    if (place->step == 1)
        return t->up ? 2 : TRIAL_STAY;
    return place->answered ? TRIAL_GO_END : TRIAL_STAY;
}

static void toy_judge(const void *state, struct trial_outcome *out) {
    const struct toy *t = state;
    trial_find(out, "up", t->up ? TRIAL_PASSED : TRIAL_NOT_SHOWN, "entered %u, %u reports",
               t->entered, t->reports);
    out->verdict = trial_sum(out);
}

static const struct trial_kind toy = {.name = "failsafe",
                                      .title = "A toy",
                                      .about = "a toy",
                                      .steps = steps,
                                      .step_count = 3,
                                      .size = sizeof(struct toy),
                                      .begin = toy_begin,
                                      .take = toy_take,
                                      .next = toy_next,
                                      .judge = toy_judge};

const struct trial_kind *const trial_kinds[TRIALS] = {[TRIAL_FAILSAFE] = &toy};

static const struct drive_act all[] = {
    {.step = "caution", .after_s = 0.5, .answer = 1},
    {.step = "pick", .after_s = 0.5, .answer = 2},
};

static struct drive_result result;

static void lines(struct drive *d, double from_s, double to_s, int value) {
    char line[80];
    for (double at = from_s; at < to_s; at += 0.1) {
        snprintf(line, sizeof line, "rx t=%u ch=%d", (unsigned)(at * 1000), value);
        drive_line(d, at, line);
    }
}

static struct drive *begin(const struct drive_act *acts, size_t count) {
    struct drive_plan plan = {TRIAL_FAILSAFE, 1, acts, count, NULL};
    return drive_new(&plan);
}

static void test_passes(void **state) {
    (void)state;
    struct drive *d = begin(all, 2);
    lines(d, 0, 5, 1000);
    lines(d, 5, 8, 1600);
    drive_end(d, &result);
    assert_string_equal(result.route, "caution up pick");
    assert_int_equal(result.outcome.verdict, TRIAL_PASSED);
    assert_int_equal(result.stands, TRIAL_PASSED);
    assert_true(result.entry.ended);
    /* at once after 5 s, then half a second to the answer */
    assert_true(result.ended_s > 5.4 && result.ended_s < 5.7);
    assert_non_null(strstr(result.rows, "failsafe begin"));
    assert_non_null(strstr(result.rows, "failsafe answer=yes"));
    assert_non_null(strstr(result.rows, "failsafe step=pick"));
    assert_non_null(strstr(result.rows, "failsafe answer=USB"));
    assert_non_null(strstr(result.rows, "failsafe end"));
}

static void test_no_yes(void **state) {
    (void)state;
    static const struct drive_act no[] = {{.step = "caution", .after_s = 0.5, .answer = 0}};
    static const struct drive_act skip[] = {
        {.step = "caution", .after_s = 0.5, .what = DRIVE_SKIP}};
    const struct drive_act *acts[] = {no, skip};
    for (int i = 0; i < 2; i++) {
        struct drive *d = begin(acts[i], 1);
        lines(d, 0, 4, 1600);
        drive_end(d, &result);
        assert_string_equal(result.route, "caution");
        assert_int_equal(result.outcome.verdict, TRIAL_NOT_SHOWN);
        assert_true(result.ended_s > 0 && result.ended_s < 2);
    }
}

static void test_waits_no_longer(void **state) {
    (void)state;
    struct drive *d = begin(all, 2);
    lines(d, 0, 16, 1000);
    drive_end(d, &result);
    assert_string_equal(result.route, "caution up pick");
    assert_int_equal(result.outcome.verdict, TRIAL_NOT_SHOWN);
    assert_true(result.entry.ended);
    assert_true(result.ended_s > 11.9 && result.ended_s < 12.3); /* 1.5 s, then 10, then 0.5 */
}

/* What lasts at least a second isn't left before, though it is seen at once. */
static void test_lasts(void **state) {
    (void)state;
    struct drive *d = begin(all, 2);
    lines(d, 0, 5, 1600);
    drive_end(d, &result);
    assert_int_equal(result.outcome.verdict, TRIAL_PASSED);
    assert_true(result.ended_s > 2.9 && result.ended_s < 3.3);
}

static void test_skip_and_quit(void **state) {
    (void)state;
    static const struct drive_act skip[] = {{.step = "caution", .after_s = 0.5, .answer = 1},
                                            {.step = "up", .after_s = 0.2, .what = DRIVE_SKIP},
                                            {.step = "pick", .after_s = 0.5, .answer = 0}};
    struct drive *d = begin(skip, 3);
    lines(d, 0, 5, 1000);
    drive_end(d, &result);
    assert_string_equal(result.route, "caution up pick");
    assert_int_equal(result.outcome.verdict, TRIAL_NOT_SHOWN);
    static const struct drive_act quit[] = {{.step = "caution", .after_s = 0.5, .answer = 1},
                                            {.after_s = 4, .what = DRIVE_QUIT}};
    d = begin(quit, 2);
    lines(d, 0, 5, 1600); /* all was seen, but it didn't end in order */
    drive_end(d, &result);
    assert_int_equal(result.outcome.finding[0].verdict, TRIAL_PASSED);
    assert_int_equal(result.outcome.verdict, TRIAL_NOT_SHOWN);
    assert_int_equal(result.stands, TRIAL_NOT_SHOWN);
    assert_true(result.entry.quit);
    assert_false(result.entry.ended);
}

static void test_port_and_end_of_data(void **state) {
    (void)state;
    struct drive *d = begin(all, 2);
    lines(d, 0, 3, 1000);
    drive_port(d, 3, PORT_LOST, "");
    drive_port(d, 5, PORT_BACK, "");
    lines(d, 5, 5.5, 1600);
    drive_end(d, &result); /* still at the last step */
    assert_true(result.entry.port_lost);
    assert_false(result.entry.ended);
    assert_int_equal(result.outcome.verdict, TRIAL_NOT_SHOWN);
    assert_int_equal(result.stands, TRIAL_NOT_SHOWN);
}

static const char id_line[] = "id end=rx fw=tug-1 chans=2 span=1000,2000 safe=1500,1000";

static void passed_then(const char *line, const char *stale) {
    struct drive *d = begin(all, 2);
    drive_line(d, 0, id_line);
    lines(d, 0.1, 5, 1600);
    drive_line(d, 6, line);
    drive_line(d, 7, id_line); /* and back: still unproven */
    drive_end(d, &result);
    assert_int_equal(result.outcome.verdict, TRIAL_PASSED);
    assert_int_equal(result.stands, stale != NULL ? TRIAL_NOT_SHOWN : TRIAL_PASSED);
    if (stale == NULL)
        assert_string_equal(result.stale, "");
    else
        assert_non_null(strstr(result.stale, stale));
}

static void test_stale(void **state) {
    (void)state;
    passed_then(id_line, NULL);
    passed_then("id end=tx fw=other chans=7", NULL); /* the other end's */
    passed_then("id end=rx fw=tug-1", NULL);         /* says less, and nothing else */
    passed_then("id end=rx fw=tug-2 chans=2", "firmware changed");
    passed_then("id end=rx fw=tug-1 chans=3", "number of channels");
    passed_then("id end=rx fw=tug-1 span=900,2100", "span");
    passed_then("id end=rx fw=tug-1 safe=1500,hold", "presets");
}

static void feed(struct bench *bench, struct book *book, const char *text) {
    static struct snapshot s;
    struct event e = {.kind = EVENT_ANSWER, .host_us = TIME_UNKNOWN};
    e.text = slice_of(text);
    bench_feed(bench, &e);
    bench_read(bench, &s);
    book_feed(book, bench_moment(bench), &s);
}

/* Rows of another version, and more trials than are kept. */
static void test_rows(void **state) {
    (void)state;
    static const char *const odd[] = {"",
                                      "failsafe",
                                      "failsafe step=nowhere",
                                      "failsafe answer=perhaps",
                                      "magic begin",
                                      "bind begin",
                                      "bind end",
                                      "end",
                                      "failsafe  end"};
    struct trial_rules rules;
    trial_rules_default(&rules);
    struct bench *bench = bench_new(&rules.bench);
    struct book *book = book_new(&rules);
    struct book_entry entry;
    enum trial_id id;
    feed(bench, book, "failsafe end");
    assert_int_equal(book_count(book), 0);
    assert_int_equal(book_stands(book, TRIAL_FAILSAFE, NULL), TRIAL_NOT_TRIED);
    feed(bench, book, "failsafe begin");
    for (size_t i = 0; i < sizeof odd / sizeof odd[0]; i++) {
        const struct trial_place *place = NULL;
        feed(bench, book, odd[i]);
        assert_true(book_running(book, &id));
        assert_non_null(book_step(book, &place));
        assert_int_equal(place->step, 0);
        assert_false(place->answered);
    }
    feed(bench, book, "failsafe begin"); /* overtakes the first */
    assert_int_equal(book_count(book), 2);
    for (int i = 0; i < 50; i++)
        feed(bench, book, "failsafe begin");
    assert_int_equal(book_count(book), BOOK_ENTRIES_MAX + 1);
    book_entry(book, 0, &entry);
    assert_false(entry.ended);
    feed(bench, book, "failsafe end");
    assert_int_equal(book_count(book), BOOK_ENTRIES_MAX);
    book_entry(book, BOOK_ENTRIES_MAX - 1, &entry);
    assert_true(entry.ended);
    book_free(book);
    bench_free(bench);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_passes),          cmocka_unit_test(test_no_yes),
        cmocka_unit_test(test_waits_no_longer), cmocka_unit_test(test_lasts),
        cmocka_unit_test(test_skip_and_quit),   cmocka_unit_test(test_port_and_end_of_data),
        cmocka_unit_test(test_stale),           cmocka_unit_test(test_rows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
