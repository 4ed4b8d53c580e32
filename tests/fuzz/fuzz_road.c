/* Any bytes down the whole road: decoded as lines or read as a recording, through the bench, the
 * studies and the trials, onto the screen and into text and JSON.  What comes out holds no control
 * character, whatever went in; nothing crashes.
 *
 * The first byte: bit 0 a recording (else lines), bits 1 and 2 the size of the screen, bit 3 the
 * ASCII look, bits 4 to 6 the trial that is begun (7: none, and causes are searched for, which
 * takes long), bit 7 whether host times are known. */
#include <stdlib.h>
#include <string.h>

#include "session/session.h"
#include "study/switch.h"
#include "text/causes_text.h"
#include "text/figures_text.h"
#include "text/trials_text.h"
#include "text/walk_text.h"
#include "view/page.h"
#include "view/trial.h"
#include "view/walk.h"
#include "json/json.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

struct road {
    struct bench *bench;
    struct book *book;
    struct bench_limits limits;
    struct trace trace;
    struct walk walk;
    struct walker walker;
    struct survey survey;
    int64_t host_us;
};

static void travel(void *context, const struct event *event);

static void study(struct road *r, const struct moment *m) {
    double metres;
    walk_feed(&r->walk, m);
    enum switch_found found = walker_feed(&r->walker, m, false, &metres);
    if (found == SWITCH_STOP)
        walk_stop_at(&r->walk, m->link_ms, metres, slice_of(""));
    else if (found == SWITCH_LEAVE)
        walk_leave_at(&r->walk, m->link_ms);
    trace_feed(&r->trace, m);
    survey_feed(&r->survey, m->event);
}

/* The guide's rows, as the console would add them. */
static void guide(struct road *r) {
    char row[BOOK_TEXT];
    struct snapshot s;
    for (int i = 0; i < 4; i++) {
        bench_glance(r->bench, &s);
        if (!book_row_due(r->book, &s, r->host_us, row))
            return;
        struct event e = {.kind = EVENT_ANSWER, .host_us = r->host_us, .text = slice_of(row)};
        bench_feed(r->bench, &e);
        bench_glance(r->bench, &s);
        book_feed(r->book, bench_moment(r->bench), &s);
    }
}

static void travel(void *context, const struct event *event) {
    struct road *r = context;
    struct snapshot s;
    if (event->host_us != TIME_UNKNOWN)
        r->host_us = event->host_us;
    bench_feed(r->bench, event);
    study(r, bench_moment(r->bench));
    bool wants = book_wants(r->book, event);
    if (wants)
        bench_glance(r->bench, &s);
    book_feed(r->book, bench_moment(r->bench), wants ? &s : NULL);
    guide(r);
}

static void begin_trial(struct road *r, unsigned trial) {
    char row[BOOK_TEXT];
    if (trial >= TRIALS)
        return;
    book_row_begin(row, (enum trial_id)trial);
    struct event e = {.kind = EVENT_ANSWER, .host_us = r->host_us, .text = slice_of(row)};
    travel(r, &e);
}

static void decode(struct road *r, bool timed, const char *bytes, size_t len) {
    struct telemetry t;
    telemetry_init(&t, travel, r);
    for (size_t at = 0; at < len; at += 200) { /* 10 ms of a serial line at 200 kbit/s */
        r->host_us = timed ? (int64_t)at * 50 : TIME_UNKNOWN;
        telemetry_feed(&t, bytes + at, len - at < 200 ? len - at : 200, r->host_us);
        if (timed)
            bench_advance(r->bench, r->host_us + 5000);
    }
    telemetry_end(&t, r->host_us);
}

static void read_rows(struct road *r, const char *bytes, size_t len) {
    static struct session_reader reader;
    session_reader_init(&reader, travel, NULL, r);
    session_reader_feed(&reader, bytes, len);
    session_reader_end(&reader);
}

/* --- what comes out --------------------------------------------------------------------------- */

static void clean(void *where, const char *bytes, size_t len) {
    (void)where;
    for (size_t i = 0; i < len; i++)
        if (((unsigned char)bytes[i] < 0x20 && bytes[i] != '\n') || bytes[i] == 0x7F)
            abort();
}

static void clean_json(char *json) {
    if (json != NULL)
        clean(NULL, json, strlen(json));
    free(json);
}

static void draw(const struct road *r, const struct snapshot *s, unsigned shape) {
    static const int sizes[][2] = {{24, 80}, {50, 160}, {3, 10}, {12, 40}};
    static struct grid g;
    struct walk_view walk = {.walk = &r->walk, .rate_hz = s->rate_hz, .due_ms = TIME_UNKNOWN};
    struct trial_view trial = {.show = TRIAL_SHOW_LIST, .live = true};
    struct page p = {.source = "fuzz", .survey = &r->survey, .replay_length_us = TIME_UNKNOWN};
    g.ascii = (shape & 4) != 0;
    for (int kind = 0; kind < 4; kind++) {
        p.walk = kind == 1 ? &walk : NULL;
        p.trial = kind == 2 ? &trial : NULL;
        p.far = kind == 3;
        const struct trial_place *place;
        const struct trial_step *step = book_step(r->book, &place);
        if (kind == 2 && step != NULL) {
            trial.show = TRIAL_SHOW_STEP;
            trial.step = step;
            trial.title = "";
            book_pane(r->book, s, &trial.pane);
        }
        grid_resize(&g, sizes[shape & 3][0], sizes[shape & 3][1]);
        page_draw(&g, s, &p);
        for (int i = 0; i < g.rows * g.columns; i++) {
            uint32_t rune = g.cell[i].rune;
            if (rune < 0x20 || (rune >= 0x7F && rune < 0xA0) || (g.ascii && rune > 0x7E))
                abort();
        }
    }
}

static void tell(struct road *r, const struct snapshot *s, bool why) {
    static struct causes found, twitched;
    struct measures m;
    bench_measure(r->bench, &m);
    struct figures_facts facts = {.file = "fuzz", .survey = &r->survey};
    figures_text(s, &m, &facts, FIGURES_ALL, clean, NULL);
    clean_json(figures_json(s, &m, &facts));
    struct reach_settings settings;
    struct reach reach;
    struct reduced reduced;
    reach_settings_default(&settings);
    reach_find(r->walk.stop, r->walk.count, &settings, &reach);
    reduced_find(&r->walk, &reach, s->full_step, false, 0, &reduced);
    struct walk_facts walk = {.file = "fuzz", .reach = &reach, .reduced = &reduced};
    walk_text(&r->walk, &walk, clean, NULL);
    clean_json(walk_json(&r->walk, &walk));
    struct trials_facts trials = {.file = "fuzz", .recording = true};
    trials_text(r->book, &trials, clean, NULL);
    clean_json(trials_json(r->book, &trials));
    trace_end(&r->trace);
    if (!why || !causes_find(&r->trace, &found) || !causes_twitches(&r->trace, &twitched))
        return;
    struct causes_facts causes = {.file = "fuzz",
                                  .s = s,
                                  .trace = &r->trace,
                                  .found = &found,
                                  .twitched = &twitched,
                                  .all = true};
    causes_text(&causes, clean, NULL);
    clean_json(causes_json(&causes));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static struct road r;
    static const struct plan plan = {.count = 3, .metres = {5, 10, 20}};
    struct trial_rules rules;
    struct walk_limits walk_limits;
    struct snapshot s;
    if (size == 0)
        return 0;
    memset(&r, 0, sizeof r);
    trial_rules_default(&rules);
    bench_limits_default(&r.limits);
    limits_one_motor(&r.limits, 1, IDLE_LOW);
    limits_one_motor(&rules.bench, 1, IDLE_LOW);
    r.bench = bench_new(&r.limits);
    r.book = book_new(&rules);
    walk_limits_default(&walk_limits);
    walk_init(&r.walk, &walk_limits);
    walker_init(&r.walker, 5, &plan, 15000);
    survey_init(&r.survey);
    if (r.bench != NULL && r.book != NULL && trace_init(&r.trace, &r.limits)) {
        begin_trial(&r, data[0] >> 4 & 7u);
        if ((data[0] & 1u) != 0)
            read_rows(&r, (const char *)data + 1, size - 1);
        else
            decode(&r, (data[0] & 128u) != 0, (const char *)data + 1, size - 1);
        bench_read(r.bench, &s);
        draw(&r, &s, data[0] >> 1 & 7u);
        tell(&r, &s, (data[0] >> 4 & 7u) == 7);
    }
    trace_release(&r.trace);
    book_free(r.book);
    bench_free(r.bench);
    return 0;
}
