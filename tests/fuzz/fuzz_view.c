/* Any bytes on the screen: lines or a recording through the bench, then the page with every pane
 * and overlay at any size.  Only printable characters stand in the cells, in the ASCII look only
 * ASCII, and nothing is written outside the page.
 *
 * Eight bytes tell the shape, then come three texts divided by line ends (notice, question, entry),
 * then what is decoded: a recording where it begins as one. */
#include <stdlib.h>
#include <string.h>

#include "session/session.h"
#include "telemetry/telemetry.h"
#include "view/keys.h"
#include "view/page.h"
#include "view/trial.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { SHAPE_BYTES = 8, OUTSIDE = 0x5A5A5A };

struct run {
    struct bench *bench;
    struct book *book;
    struct survey survey;
    struct walk walk;
    struct snapshot s;
};

static void take(void *context, const struct event *e) {
    struct run *r = context;
    struct snapshot s;
    bench_feed(r->bench, e);
    survey_feed(&r->survey, e);
    walk_feed(&r->walk, bench_moment(r->bench));
    bool wants = book_wants(r->book, e);
    if (wants)
        bench_glance(r->bench, &s);
    book_feed(r->book, bench_moment(r->bench), wants ? &s : NULL);
}

static void feed(struct run *r, const char *bytes, size_t len) {
    static struct session_reader reader;
    struct telemetry t;
    if (len > 5 && memcmp(bytes, "kind,", 5) == 0) {
        session_reader_init(&reader, take, NULL, r);
        session_reader_feed(&reader, bytes, len);
        session_reader_end(&reader);
        return;
    }
    telemetry_init(&t, take, r);
    for (size_t at = 0; at < len; at += 200)
        telemetry_feed(&t, bytes + at, len - at < 200 ? len - at : 200, (int64_t)at * 50);
    telemetry_end(&t, (int64_t)len * 50);
}

static void check(const struct grid *g, int rows, int columns) {
    if (g->rows != rows || g->columns != columns)
        abort();
    for (int i = 0; i < GRID_ROWS_MAX * GRID_COLUMNS_MAX; i++) {
        uint32_t rune = g->cell[i].rune;
        bool inside = i < rows * columns;
        if (!inside && rune != OUTSIDE)
            abort();
        if (inside && (rune < 0x20 || (rune >= 0x7F && rune < 0xA0) || (g->ascii && rune > 0x7E) ||
                       g->cell[i].tone >= TONES))
            abort();
    }
}

/* What a file or a port could be called, and what a person may type. */
static const char *text_of(char **from) {
    char *line = *from != NULL ? strsep(from, "\n") : NULL;
    return line != NULL && line[0] != '\0' ? line : NULL;
}

static void show_trial(struct trial_view *v, const struct run *r, uint8_t byte) {
    const struct trial_place *place;
    const struct trial_step *step = book_step(r->book, &place);
    uint32_t count = book_count(r->book);
    struct book_entry entry;
    static const struct trial_question question = {"Is that so?", "yes, it is so", "no"};
    *v = (struct trial_view){.show = TRIAL_SHOW_LIST,
                             .live = (byte & 1) != 0,
                             .recorded = (byte & 2) != 0,
                             .question = (byte & 4) != 0 ? &question : NULL,
                             .gate = (byte & 64) != 0,
                             .ended = (byte & 8) != 0,
                             .lasted_s = (int8_t)byte,
                             .scroll = byte >> 4,
                             .title = trial_kinds[byte % TRIALS]->title};
    for (int i = 0; i < TRIALS; i++) {
        v->row[i].name = trial_kinds[i]->name;
        v->row[i].about = trial_kinds[i]->about;
        v->row[i].stands = book_stands(r->book, (enum trial_id)i, &v->row[i].stale);
    }
    if ((byte & 16) != 0 && step != NULL) {
        v->show = TRIAL_SHOW_STEP;
        v->step = step;
        v->number = place->nth;
        book_pane(r->book, &r->s, &v->pane);
    } else if ((byte & 32) != 0 && count > 0) {
        v->show = TRIAL_SHOW_OUTCOME;
        book_entry(r->book, count - 1, &entry);
        v->outcome = entry.outcome;
    }
}

static void page_of(struct page *p, const uint8_t *shape, char **texts) {
    *p = (struct page){.far = (shape[3] & 1) != 0,
                       .paused = (shape[3] & 2) != 0,
                       .recording = (shape[3] & 4) != 0,
                       .sound = (shape[3] & 8) != 0,
                       .reduced_power = (shape[3] & 16) != 0,
                       .overlay = (enum overlay)(shape[4] % (OVERLAY_LEAVE + 1)),
                       .port = shape[4] >> 5 & 3,
                       .scroll = (int8_t)shape[5],
                       .replay = (enum replay_mode)(shape[6] & 3),
                       .replay_pace = shape[6] >> 2,
                       .replay_at_us = (int64_t)shape[5] << (shape[6] & 31),
                       .replay_length_us = (shape[6] & 1) != 0 ? TIME_UNKNOWN : 1000000,
                       .recording_bytes = (uint64_t)shape[5] << (shape[6] & 31)};
    p->notice = text_of(texts);
    p->question = text_of(texts);
    p->entry = text_of(texts);
    p->source = p->entry != NULL ? p->entry : "fuzz";
    p->recording_path = p->notice;
    p->recording_trouble = (shape[3] & 32) != 0 ? p->question : NULL;
}

static void draw(const struct run *r, const uint8_t *shape, char *texts) {
    static struct grid g;
    static struct trial_view trial;
    struct page p;
    int rows = 1 + shape[0] % GRID_ROWS_MAX, columns = 1 + (shape[1] + 256 * (shape[2] & 1));
    columns = columns < GRID_COLUMNS_MAX ? columns : GRID_COLUMNS_MAX;
    struct walk_view walk = {.walk = &r->walk,
                             .rate_hz = r->s.rate_hz,
                             .planned = (shape[2] & 2) != 0,
                             .next_m = (int8_t)shape[5],
                             .by_switch = (shape[2] & 4) != 0,
                             .channel = 1 + (shape[5] & 15u),
                             .due_ms = (shape[2] & 8) != 0 ? shape[5] * 1000 : TIME_UNKNOWN};
    page_of(&p, shape, &texts);
    p.survey = (shape[2] & 16) != 0 ? NULL : &r->survey;
    p.walk = (shape[2] & 32) != 0 ? &walk : NULL;
    show_trial(&trial, r, shape[7]);
    p.trial = (shape[2] & 64) != 0 ? &trial : NULL;
    g.ascii = (shape[2] & 128) != 0;
    for (int i = 0; i < GRID_ROWS_MAX * GRID_COLUMNS_MAX; i++)
        g.cell[i].rune = OUTSIDE;
    grid_resize(&g, rows, columns);
    page_draw(&g, &r->s, &p);
    check(&g, rows, columns);
    trial_outcome_lines(&trial, columns);
    for (int key = 0; key < 256; key++)
        keys_action(key, page_keys(&p));
}

/* The line end behind the third text, or the end. */
static size_t texts_end(const uint8_t *data, size_t size) {
    size_t at = 0;
    for (int lines = 0; at < size && lines < 3; at++)
        lines += data[at] == '\n';
    return at;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static struct run r;
    static const int max_text = 2000;
    char texts[2001];
    struct trial_rules rules;
    struct walk_limits walk_limits;
    if (size < SHAPE_BYTES)
        return 0;
    size_t len = texts_end(data + SHAPE_BYTES, size - SHAPE_BYTES);
    const char *rest = (const char *)data + SHAPE_BYTES + len;
    memset(texts, 0, sizeof texts);
    memcpy(texts, data + SHAPE_BYTES, len < (size_t)max_text ? len : (size_t)max_text);
    memset(&r, 0, sizeof r);
    trial_rules_default(&rules);
    walk_limits_default(&walk_limits);
    limits_one_motor(&rules.bench, 1, IDLE_LOW);
    r.bench = bench_new(&rules.bench);
    r.book = book_new(&rules);
    survey_init(&r.survey);
    walk_init(&r.walk, &walk_limits);
    if (r.bench != NULL && r.book != NULL) {
        feed(&r, rest, size - SHAPE_BYTES - len);
        bench_read(r.bench, &r.s);
        draw(&r, data, texts);
    }
    book_free(r.book);
    bench_free(r.bench);
    return 0;
}
