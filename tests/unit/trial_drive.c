#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "trial_drive.h"

#include "session/session.h"
#include "simulator/simulator.h"
#include "telemetry/telemetry.h"

enum { TICK_US = 50000, ACTS_MAX = 64, TRUTH_BYTES = 1 << 18 };

struct bytes {
    char *at;
    size_t len, size;
};

/* The road from an event on: the same for the live run and for what it recorded. */
struct road {
    struct bench *bench;
    struct book *book;
    struct snapshot s;
};

struct drive {
    struct drive_plan plan;
    struct trial_rules rules;
    struct road live;
    struct telemetry telemetry;
    struct bytes rows, line;
    int64_t now_us, tick_us;
    bool begun, over;
    int64_t over_us;
    uint32_t visit; /* of steps */
    bool done[ACTS_MAX];
    uint32_t visits[ACTS_MAX]; /* at which an act was done first, from 1 */
    char route[1000];
    char truth[TRUTH_BYTES];
    size_t truth_len;
};

static char *kept_rows;

static void bytes_add(struct bytes *b, const char *at, size_t len) {
    if (b->len + len + 1 > b->size) {
        b->size = (b->len + len) * 2 + 4096;
        b->at = realloc(b->at, b->size);
        assert_non_null(b->at);
    }
    memcpy(b->at + b->len, at, len);
    b->len += len;
    b->at[b->len] = '\0';
}

static void road_begin(struct road *r, const struct trial_rules *rules) {
    r->bench = bench_new(&rules->bench);
    r->book = book_new(rules);
    assert_non_null(r->bench);
    assert_non_null(r->book);
}

static void road_end(struct road *r) {
    bench_free(r->bench);
    book_free(r->book);
}

static void road_take(struct road *r, const struct event *e) {
    bench_feed(r->bench, e);
    bool wants = book_wants(r->book, e);
    if (wants)
        bench_glance(r->bench, &r->s);
    book_feed(r->book, bench_moment(r->bench), wants ? &r->s : NULL);
}

static void record(struct drive *d, const struct event *e) {
    char row[SESSION_ROW_MAX];
    struct text out;
    text_init(&out, row, sizeof row);
    if (e != NULL)
        session_row(&out, e);
    else
        session_header(&out);
    assert_false(out.full);
    bytes_add(&d->rows, out.at, out.len);
}

static void take(struct drive *d, const struct event *e) {
    record(d, e);
    road_take(&d->live, e);
}

static void note_step(struct drive *d, const char *name) {
    size_t len = strlen(d->route);
    snprintf(d->route + len, sizeof d->route - len, "%s%s", len > 0 ? " " : "", name);
    d->visit++;
    memset(d->done, 0, sizeof d->done);
}

static void take_row(struct drive *d, const char *text) {
    struct event e = {.kind = EVENT_ANSWER, .host_us = d->now_us};
    const struct trial_place *place;
    const char *step = strstr(text, " step=");
    e.text = slice_of(text);
    take(d, &e);
    if (step != NULL || strstr(text, " begin") != NULL)
        note_step(d, book_step(d->live.book, &place)->name);
    enum trial_id id;
    if (!book_running(d->live.book, &id) && !d->over) {
        d->over = true;
        d->over_us = d->now_us;
    }
}

static bool act_due(const struct drive *d, size_t i, const struct trial_step *step,
                    const struct trial_place *place) {
    const struct drive_act *act = &d->plan.acts[i];
    int64_t after_us = (int64_t)(act->after_s * 1e6);
    if (d->done[i] || (act->once && d->visits[i] != 0 && d->visits[i] != d->visit))
        return false;
    if (act->step == NULL)
        return d->visits[i] == 0 && d->now_us >= after_us;
    return strcmp(act->step, step->name) == 0 && d->now_us - place->since_us >= after_us;
}

static void act(struct drive *d) {
    char text[BOOK_TEXT];
    for (size_t i = 0; i < d->plan.act_count; i++) {
        const struct trial_place *place;
        const struct trial_step *step = book_step(d->live.book, &place);
        if (step == NULL || !act_due(d, i, step, place))
            continue;
        d->done[i] = true;
        d->visits[i] = d->visit;
        if (d->plan.acts[i].what == DRIVE_QUIT)
            book_row_quit(d->live.book, text);
        else if (d->plan.acts[i].what == DRIVE_SKIP)
            book_row_skip(d->live.book, text);
        else
            book_row_answer(d->live.book, text, d->plan.acts[i].answer);
        take_row(d, text);
    }
}

static void guide(struct drive *d) {
    char text[BOOK_TEXT];
    enum { TOO_MANY = 20 };
    int rows = 0;
    for (;;) {
        bench_glance(d->live.bench, &d->live.s);
        if (!book_row_due(d->live.book, &d->live.s, d->now_us, text))
            return;
        if (rows++ > TOO_MANY)
            fail_msg("the guide goes round in circles: %s", d->route);
        take_row(d, text);
    }
}

/* What the console would show meanwhile: whole lines without control characters. */
static void look(const struct drive *d) {
    struct trial_pane pane;
    const struct trial_place *place;
    if (book_step(d->live.book, &place) == NULL)
        return;
    book_pane(d->live.book, &d->live.s, &pane);
    assert_true(pane.lines <= TRIAL_LINES_MAX);
    assert_true(pane.progress <= 1);
    for (uint32_t i = 0; i < pane.lines; i++) {
        assert_non_null(memchr(pane.line[i], '\0', sizeof pane.line[i]));
        for (const char *c = pane.line[i]; *c != '\0'; c++)
            assert_false((unsigned char)*c < 0x20 || *c == 0x7F);
    }
}

static void tick(struct drive *d) {
    char text[BOOK_TEXT];
    bench_advance(d->live.bench, d->now_us);
    if (!d->begun && d->now_us >= (int64_t)(d->plan.begin_s * 1e6)) {
        d->begun = true;
        book_row_begin(text, d->plan.trial);
        take_row(d, text);
    }
    act(d);
    guide(d);
    look(d);
}

static void pass(struct drive *d, int64_t to_us) {
    while (d->tick_us <= to_us) {
        d->now_us = d->tick_us;
        d->tick_us += TICK_US;
        tick(d);
    }
    d->now_us = to_us > d->now_us ? to_us : d->now_us;
}

static void take_event(void *context, const struct event *e) {
    struct drive *d = context;
    take(d, e);
    guide(d);
}

struct drive *drive_new(const struct drive_plan *plan) {
    struct drive *d = calloc(1, sizeof *d);
    assert_non_null(d);
    assert_true(plan->act_count <= ACTS_MAX);
    d->plan = *plan;
    trial_rules_default(&d->rules);
    if (plan->rules != NULL)
        d->rules = *plan->rules;
    road_begin(&d->live, &d->rules);
    telemetry_init(&d->telemetry, take_event, d);
    record(d, NULL);
    return d;
}

static void feed_bytes(struct drive *d, const char *bytes, size_t len) {
    telemetry_feed(&d->telemetry, bytes, len, d->now_us);
}

void drive_line(struct drive *d, double at_s, const char *line) {
    pass(d, (int64_t)(at_s * 1e6));
    d->line.len = 0;
    bytes_add(&d->line, line, strlen(line));
    bytes_add(&d->line, "\r\n", 2);
    feed_bytes(d, d->line.at, d->line.len);
}

void drive_port(struct drive *d, double at_s, enum port_change change, const char *note) {
    pass(d, (int64_t)(at_s * 1e6));
    if (change == PORT_LOST || change == PORT_BACK || change == PORT_TAKEN)
        telemetry_rejoin(&d->telemetry, d->now_us);
    struct event e = {.kind = EVENT_PORT, .host_us = d->now_us};
    e.port.change = change;
    e.port.note = slice_of(note);
    take_event(d, &e);
}

static void put_line(void *where, const char *bytes, size_t len) {
    struct drive *d = where;
    bytes_add(&d->line, bytes, len);
}

static void put_truth(void *where, const char *bytes, size_t len) {
    struct drive *d = where;
    assert_true(d->truth_len + len < sizeof d->truth);
    memcpy(d->truth + d->truth_len, bytes, len);
    d->truth_len += len;
    d->truth[d->truth_len] = '\0';
}

void drive_scene(struct drive *d, int scene, uint64_t seed, double seconds) {
    struct simulator *p = simulator_new(scene, seed, put_line, d);
    int64_t from_us = d->now_us, length_us = (int64_t)(seconds * 1e6);
    assert_non_null(p);
    d->line.len = 0;
    for (int64_t at = 0; (at = simulator_next_us(p)) <= length_us;) {
        simulator_run(p, at);
        if (d->line.len == 0)
            continue;
        pass(d, from_us + at);
        feed_bytes(d, d->line.at, d->line.len);
        d->line.len = 0;
    }
    simulator_run(p, length_us);
    pass(d, from_us + length_us);
    d->truth_len = 0;
    simulator_truth_text(p, put_truth, d);
    simulator_free(p);
}

const char *drive_truth(const struct drive *d) {
    return d->truth;
}

void drive_until(struct drive *d, double at_s) {
    pass(d, (int64_t)(at_s * 1e6));
}

double drive_now_s(const struct drive *d) {
    return (double)d->now_us / 1e6;
}

/* --- judged again ----------------------------------------------------------------------------- */

static void again_event(void *context, const struct event *e) {
    road_take(context, e);
}

static void no_fault(void *context, const struct session_report *report) {
    (void)context;
    fail_msg("line %llu of the recording: %s", (unsigned long long)report->line,
             session_fault_name(report->fault));
}

static void same_finding(const struct trial_finding *a, const struct trial_finding *b) {
    assert_string_equal(a->name, b->name);
    assert_string_equal(a->text, b->text);
    assert_int_equal(a->verdict, b->verdict);
    assert_int_equal(a->measured, b->measured);
    assert_int_equal(a->aside, b->aside);
    assert_true(a->low == b->low && a->high == b->high);
    assert_true((a->missing == NULL) == (b->missing == NULL));
    if (a->missing != NULL)
        assert_string_equal(a->missing, b->missing);
}

static void same_entry(const struct book_entry *a, const struct book_entry *b) {
    assert_int_equal(a->id, b->id);
    assert_int_equal(a->ended, b->ended);
    assert_int_equal(a->quit, b->quit);
    assert_int_equal(a->port_lost, b->port_lost);
    assert_true(a->begun_ms == b->begun_ms && a->ended_ms == b->ended_ms);
    assert_string_equal(a->outcome.headline, b->outcome.headline);
    assert_string_equal(a->outcome.next, b->outcome.next);
    assert_int_equal(a->outcome.verdict, b->outcome.verdict);
    assert_int_equal(a->outcome.count, b->outcome.count);
    for (uint32_t i = 0; i < a->outcome.count; i++)
        same_finding(&a->outcome.finding[i], &b->outcome.finding[i]);
}

static void judge_again(struct drive *d) {
    struct road again;
    struct session_reader reader;
    static struct book_entry a, b;
    road_begin(&again, &d->rules);
    session_reader_init(&reader, again_event, no_fault, &again);
    session_reader_feed(&reader, d->rows.at, d->rows.len);
    session_reader_end(&reader);
    assert_int_equal(book_count(d->live.book), book_count(again.book));
    for (uint32_t i = 0; i < book_count(again.book); i++) {
        book_entry(d->live.book, i, &a);
        book_entry(again.book, i, &b);
        same_entry(&a, &b);
    }
    for (int id = 0; id < TRIALS; id++)
        assert_int_equal(book_stands(d->live.book, (enum trial_id)id, NULL),
                         book_stands(again.book, (enum trial_id)id, NULL));
    road_end(&again);
}

void drive_end(struct drive *d, struct drive_result *out) {
    const char *stale;
    telemetry_end(&d->telemetry, d->now_us);
    memset(out, 0, sizeof *out);
    judge_again(d);
    uint32_t count = book_count(d->live.book);
    for (uint32_t i = 0; i < count; i++) {
        struct book_entry entry;
        book_entry(d->live.book, i, &entry);
        if (entry.id == d->plan.trial)
            out->entry = entry;
    }
    out->outcome = out->entry.outcome;
    out->stands = book_stands(d->live.book, d->plan.trial, &stale);
    snprintf(out->stale, sizeof out->stale, "%s", stale != NULL ? stale : "");
    snprintf(out->route, sizeof out->route, "%s", d->route);
    out->ended_s = d->over ? (double)d->over_us / 1e6 : -1;
    free(kept_rows);
    out->rows = kept_rows = d->rows.at;
    road_end(&d->live);
    free(d->line.at);
    free(d);
}

const struct trial_finding *drive_finding(const struct drive_result *r, const char *name) {
    for (uint32_t i = 0; i < r->outcome.count; i++)
        if (strcmp(r->outcome.finding[i].name, name) == 0)
            return &r->outcome.finding[i];
    return NULL;
}

void drive_print(const struct drive_result *r) {
    print_message("route: %s\nended at %.1f s\n%s: %s\n", r->route, r->ended_s,
                  trial_verdict_name(r->outcome.verdict), r->outcome.headline);
    for (uint32_t i = 0; i < r->outcome.count; i++) {
        const struct trial_finding *f = &r->outcome.finding[i];
        print_message("  %-10s %s%s: %s%s%s\n", trial_verdict_name(f->verdict), f->name,
                      f->aside ? " (aside)" : "", f->text, f->missing ? "; missing " : "",
                      f->missing ? f->missing : "");
    }
    print_message("next: %s\n", r->outcome.next);
}
