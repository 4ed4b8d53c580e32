#include "view/trial.h"

#include <stdio.h>
#include <string.h>

#include "base/whole.h"
#include "view/lay.h"
#include "view/parts.h"

/* How a verdict looks: glyph first, tone after. */
static const struct {
    uint32_t rune;
    char ascii;
    enum tone tone;
} looks[] = {
    [TRIAL_NOT_TRIED] = {0x00B7, '.', TONE_FAINT},
    [TRIAL_NOT_SHOWN] = {0x25CB, '?', TONE_CAUTION},
    [TRIAL_PASSED] = {0x25CF, '+', TONE_GOOD},
    [TRIAL_FAILED] = {0x25B2, '!', TONE_TROUBLE},
};

/* Rows are drawn from the top; those before `skip` and after `rows` fall away. */
struct pen {
    struct grid *g; /* NULL: only counts */
    struct place at;
    int row, skip;
};

static bool visible(const struct pen *pen) {
    int row = pen->row - pen->skip;
    return pen->g != NULL && row >= 0 && row < pen->at.rows;
}

static int pen_row(const struct pen *pen) {
    return pen->at.row + pen->row - pen->skip;
}

/* A text in as many lines as it takes, all of them `indent` in. */
static void pen_text(struct pen *pen, int indent, enum tone tone, const char *text) {
    struct slice rest = slice_of(text);
    int width = pen->at.columns - indent;
    do {
        struct slice line = lay_line(&rest, width);
        if (visible(pen))
            grid_slice(pen->g, pen_row(pen), pen->at.column + indent, tone, line);
        pen->row++;
    } while (rest.len > 0);
}

static void pen_verdict(struct pen *pen, enum trial_verdict verdict, const char *text) {
    enum { INDENT = 13 };
    if (visible(pen)) {
        int row = pen_row(pen), column = pen->at.column;
        grid_glyph(pen->g, row, column, looks[verdict].tone, looks[verdict].rune,
                   looks[verdict].ascii);
        lay_text(pen->g, row, column + 2, column + INDENT, looks[verdict].tone,
                 trial_verdict_name(verdict));
    }
    pen_text(pen, INDENT, TONE_PLAIN, text);
}

/* --- the list --------------------------------------------------------------------------------- */

static void record_hint(struct grid *g, const struct trial_view *v, int row, struct place at) {
    int right = at.column + at.columns;
    if (v->live && !v->recorded) {
        int column = lay_text(g, row, at.column, right, TONE_CAUTION,
                              "Nothing is being recorded, so nothing will be kept:");
        column = lay_text(g, row, column + 1, right, TONE_KEY, "r");
        lay_text(g, row, column + 1, right, TONE_PLAIN, "records");
    }
}

static void row_draw(struct grid *g, const struct trial_row *r, int number, int row,
                     struct place at) {
    enum { NAME = 3, STANDS = 13, ABOUT = 26 };
    int right = at.column + at.columns;
    enum trial_verdict stands = r->stale != NULL ? TRIAL_NOT_SHOWN : r->stands;
    lay_format(g, row, at.column, right, TONE_KEY, "%d", number);
    lay_text(g, row, at.column + NAME, at.column + STANDS - 1, TONE_HEADING, r->name);
    grid_glyph(g, row, at.column + STANDS, looks[stands].tone, looks[stands].rune,
               looks[stands].ascii);
    lay_text(g, row, at.column + STANDS + 2, at.column + ABOUT - 1, looks[stands].tone,
             r->stale != NULL ? "unproven" : trial_verdict_name(stands));
    if (r->stale != NULL)
        lay_format(g, row, at.column + ABOUT, right, TONE_CAUTION, "since %s", r->stale);
    else
        lay_text(g, row, at.column + ABOUT, right, TONE_PLAIN, r->about);
}

static void list_draw(struct grid *g, const struct trial_view *v, struct place at) {
    int row = at.row + 1, end = at.row + at.rows;
    lay_heading(g, at.row, at.column, at.column + at.columns, "guided trials");
    for (int i = 0; i < TRIALS && row < end; i++)
        if (v->row[i].name != NULL)
            row_draw(g, &v->row[i], i + 1, row++, at);
    if (row + 1 < end)
        record_hint(g, v, ++row, at);
    if (row + 2 < end)
        lay_text(g, row + 2, at.column, at.column + at.columns, TONE_FAINT,
                 v->live ? "A number begins one. They prove what the bench can show, no more."
                         : "A number shows what the newest one came to.");
}

/* --- a step ----------------------------------------------------------------------------------- */

/* The first `most` of them, 0: all. */
static void choices_draw(struct pen *pen, const char *choices, uint32_t most) {
    char line[200];
    int column = 0;
    uint32_t number = 0;
    struct slice rest = slice_of(choices);
    while (rest.at != NULL && (most == 0 || number < most)) {
        struct slice one = slice_cut(&rest, '|');
        snprintf(line, sizeof line, "%u %.*s", ++number, (int)one.len, one.at);
        int width = grid_columns_of(line) + 3;
        if (column + width > pen->at.columns) {
            column = 0;
            pen->row++;
        }
        if (visible(pen)) {
            grid_text(pen->g, pen_row(pen), pen->at.column + column, TONE_PLAIN, line);
            lay_format(pen->g, pen_row(pen), pen->at.column + column, pen->at.column + column + 1,
                       TONE_KEY, "%u", number);
        }
        column += width;
    }
    pen->row++;
}

static void waits_draw(struct pen *pen, const struct trial_view *v) {
    enum { BAR = 10 };
    int right = pen->at.column + pen->at.columns, row = pen_row(pen);
    char seconds[24] = "";
    if (visible(pen) && v->step->waits != NULL) {
        if (v->lasted_s >= 0)
            snprintf(seconds, sizeof seconds, "%lld s", (long long)v->lasted_s);
        int left = lay_right(pen->g, row, pen->at.column, right, TONE_FAINT, seconds);
        if (v->pane.progress >= 0) {
            left -= BAR + 1;
            for (int i = 0; i < BAR; i++) {
                bool done = i < whole_i32(v->pane.progress * BAR + 0.5);
                grid_glyph(pen->g, row, left + i, done ? TONE_GOOD : TONE_FAINT,
                           done ? 0x2588 : 0x00B7, done ? '#' : '.');
            }
        }
        /* Where Enter tells that it is done, nothing here claims that it was seen. */
        bool seen = v->pane.seen && v->step->ask == ASK_NOTHING;
        int column = lay_text(pen->g, row, pen->at.column, left - 1, TONE_FAINT,
                              seen ? "seen:" : "waits for:");
        lay_text(pen->g, row, column + 1, left - 1, TONE_PLAIN, v->step->waits);
    }
    pen->row += v->step->waits != NULL;
}

struct prompt {
    const char *key, *what;
};

static int prompts_columns(const struct prompt *prompt, size_t count, int gap) {
    int columns = -gap;
    for (size_t i = 0; i < count; i++)
        columns += (prompt[i].key != NULL ? grid_columns_of(prompt[i].key) + 1 : 0) +
                   grid_columns_of(prompt[i].what) + gap;
    return columns;
}

/* In the pane's last row; closer together, and without what names no key, where it is narrow. */
static void prompts_draw(struct grid *g, struct place at, const struct prompt *prompt,
                         size_t count) {
    enum { WIDE_GAP = 3, GAP = 2 };
    int row = at.row + at.rows - 1, right = at.column + at.columns, column = at.column;
    if (prompt->key == NULL && prompts_columns(prompt, count, WIDE_GAP) > at.columns) {
        prompt++;
        count--;
    }
    int gap = prompts_columns(prompt, count, WIDE_GAP) > at.columns ? GAP : WIDE_GAP;
    for (size_t i = 0; i < count; i++) {
        bool key = prompt[i].key != NULL;
        if (key)
            column = lay_text(g, row, column, right, TONE_KEY, prompt[i].key) + 1;
        column =
            lay_text(g, row, column, right, key ? TONE_HEADING : TONE_FAINT, prompt[i].what) + gap;
    }
}

/* Over the pane's last rows, whatever stands there. */
static void question_draw(struct grid *g, const struct trial_question *q, struct place at) {
    int rows = at.rows < 3 ? at.rows : 3, row = at.row + at.rows - rows;
    struct prompt answers[] = {{"y", q->yes}, {"n", q->no}};
    grid_fill(g, row, at.column, rows, at.columns, TONE_PLAIN);
    if (rows > 1) {
        grid_glyph(g, at.row + at.rows - 2, at.column, TONE_CAUTION, 0x25B6, '>');
        lay_text(g, at.row + at.rows - 2, at.column + 2, at.column + at.columns, TONE_CAUTION,
                 q->ask);
    }
    prompts_draw(g, at, answers, 2);
}

/* What the person can press here, said in the pane's last row. */
static void prompt_draw(struct grid *g, const struct trial_view *v, struct place at) {
    static const struct prompt sure[] = {{"y", "yes, it is so: begin"}, {"n", "end the trial"}};
    static const struct prompt gate[] = {{"y", "begin"}, {"n", "end the trial"}};
    static const struct prompt yes[] = {{"y", "yes, it is so: go on"}, {"n", "end the trial"}};
    static const struct prompt either[] = {
        {"y", "yes"}, {"n", "no"}, {"k", "skip"}, {"Esc", "leave"}};
    static const struct prompt choice[] = {{"1-9", "choose"}, {"k", "skip"}, {"Esc", "leave"}};
    static const struct prompt ready[] = {
        {"Enter", "done, go on"}, {"k", "skip"}, {"Esc", "leave"}};
    static const struct prompt nothing[] = {
        {NULL, "goes on by itself"}, {"Enter", "go on unseen"}, {"k", "skip"}, {"Esc", "leave"}};
    if (!v->live)
        return;
    if (v->question != NULL)
        question_draw(g, v->question, at);
    else if (v->gate)
        prompts_draw(g, at, v->step->ask == ASK_YES ? sure : gate, 2);
    else if (v->step->ask == ASK_YES)
        prompts_draw(g, at, yes, 2);
    else if (v->step->ask == ASK_YES_NO)
        prompts_draw(g, at, either, 4);
    else if (v->step->ask == ASK_CHOICE)
        prompts_draw(g, at, choice, 3);
    else if (v->step->ask == ASK_READY)
        prompts_draw(g, at, ready, 3);
    else
        prompts_draw(g, at, nothing, 4);
}

static void caution_draw(struct pen *pen, const char *caution) {
    if (visible(pen))
        grid_glyph(pen->g, pen_row(pen), pen->at.column, TONE_TROUBLE, 0x25B2, '!');
    pen_text(pen, 2, TONE_CAUTION, caution);
}

/* The title makes room for the number of the step. */
static void step_heading(struct grid *g, const struct trial_view *v, struct place at) {
    char step[24];
    int right = at.column + at.columns;
    int columns = snprintf(step, sizeof step, " step %u", v->number);
    lay_heading(g, at.row, at.column, right - columns, v->title);
    lay_text(g, at.row, right - columns, right, TONE_FAINT, step);
}

static void step_draw(struct grid *g, const struct trial_view *v, struct place at) {
    int right = at.column + at.columns;
    step_heading(g, v, at);
    struct place inside = {at.row + 1, at.column, at.rows - 2, at.columns};
    struct pen pen = {g, inside, 0, 0};
    pen_text(&pen, 0, TONE_HEADING, v->step->say);
    if (v->step->caution != NULL)
        caution_draw(&pen, v->step->caution);
    waits_draw(&pen, v);
    if (v->step->ask == ASK_CHOICE && v->step->choices != NULL && !v->gate)
        choices_draw(&pen, v->step->choices, v->pane.choices);
    for (uint32_t i = 0; i < v->pane.lines; i++) {
        if (visible(&pen))
            lay_text(g, pen_row(&pen), at.column + 2, right, TONE_PLAIN, v->pane.line[i]);
        pen.row++;
    }
    if (v->live && !v->recorded && pen.row < inside.rows)
        record_hint(g, v, inside.row + inside.rows - 1, at);
    prompt_draw(g, v, at);
}

/* --- what it came to -------------------------------------------------------------------------- */

static void outcome_pen(struct pen *pen, const struct trial_view *v) {
    const struct trial_outcome *o = &v->outcome;
    char text[sizeof o->finding[0].text + 60], group[TRIAL_GROUP];
    pen_verdict(pen, o->verdict, o->headline);
    if (o->next[0] != '\0') {
        snprintf(text, sizeof text, "Next: %s", o->next);
        pen_text(pen, 13, TONE_HEADING, text);
    }
    pen->row++;
    for (uint32_t i = 0; i < o->count; i++) {
        const struct trial_finding *f = &o->finding[i];
        enum trial_told told = trial_group(o, i, group, sizeof group);
        if (told == TRIAL_TOLD_GROUP)
            pen_verdict(pen, f->verdict, group);
        if (told != TRIAL_TOLD_ALONE)
            continue;
        snprintf(text, sizeof text, "%s%s%s%s", f->text,
                 f->missing != NULL ? " (telemetry key " : "", f->missing != NULL ? f->missing : "",
                 f->missing != NULL ? ")" : "");
        pen_verdict(pen, f->verdict, text);
    }
    pen->row++;
    pen_text(pen, 0, TONE_FAINT,
             "A clean bench result is no clearance to fly or to run: local rules and licensed "
             "practice go first.");
}

int trial_outcome_lines(const struct trial_view *v, int columns) {
    struct pen pen = {NULL, {0, 0, 0, columns}, 0, 0};
    outcome_pen(&pen, v);
    return pen.row;
}

static void outcome_draw(struct grid *g, const struct trial_view *v, struct place at) {
    int right = at.column + at.columns, lines = trial_outcome_lines(v, at.columns);
    struct place inside = {at.row + 1, at.column, at.rows - 1, at.columns};
    int most = lines > inside.rows ? lines - inside.rows : 0;
    int skip = v->scroll < most ? v->scroll : most;
    struct pen pen = {g, inside, 0, skip};
    lay_heading(g, at.row, at.column, right, v->title);
    outcome_pen(&pen, v);
    if (lines - skip > inside.rows)
        lay_format(g, at.row, right - 18, right, TONE_FAINT, " %d more: Down ",
                   lines - skip - inside.rows);
    else if (skip > 0)
        lay_text(g, at.row, right - 18, right, TONE_FAINT, " end; Up: above ");
}

/* --- all -------------------------------------------------------------------------------------- */

void trial_draw(struct grid *g, const struct trial_view *v, struct place at) {
    if (at.rows < 2 || at.columns < 10)
        return;
    switch (v->show) {
    case TRIAL_SHOW_LIST:
        list_draw(g, v, at);
        break;
    case TRIAL_SHOW_STEP:
        step_draw(g, v, at);
        break;
    case TRIAL_SHOW_OUTCOME:
        outcome_draw(g, v, at);
        break;
    }
}
