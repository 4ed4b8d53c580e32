#include "picture/picture_trials.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "picture/sheet.h"
#include "text/trials_text.h"

/* Told apart by shape first: a full square, a cross, a ring, nothing but a dot. */
static const struct look {
    enum picture_shape shape;
    enum picture_role role;
} looks[] = {
    [TRIAL_NOT_TRIED] = {SHAPE_RING, ROLE_MUTED},
    [TRIAL_NOT_SHOWN] = {SHAPE_DIAMOND, ROLE_WARN},
    [TRIAL_PASSED] = {SHAPE_SQUARE, ROLE_GOOD},
    [TRIAL_FAILED] = {SHAPE_CROSS, ROLE_BAD},
};

static void mark(struct sheet *s, enum trial_verdict verdict, double x, enum picture_face face) {
    double height = picture_text_height(s->p, face);
    picture_mark(s->p, looks[verdict].role, looks[verdict].shape, x, s->y + height / 2, 5);
}

/* The newest entry of a kind; false: none. */
static bool newest(const struct book *book, enum trial_id id, struct book_entry *out) {
    for (uint32_t i = book_count(book); i > 0; i--) {
        book_entry(book, i - 1, out);
        if (out->id == id)
            return true;
    }
    return false;
}

static void draw_findings(struct sheet *s, const struct trial_outcome *outcome, double left) {
    double step = s->p->size == PICTURE_CELLS ? 24 : 16;
    for (uint32_t i = 0; i < outcome->count; i++) {
        const struct trial_finding *f = &outcome->finding[i];
        char text[sizeof f->text + 80];
        snprintf(text, sizeof text, "%s: %s%s%s%s", trial_verdict_name(f->verdict), f->text,
                 f->missing ? " (without " : "", f->missing ? f->missing : "",
                 f->missing ? ")" : "");
        mark(s, f->verdict, left + step / 2, FACE_SMALL);
        sheet_wrap(s, ROLE_INK, FACE_SMALL, left + step, text);
    }
}

static bool in_ms(const struct trial_finding *f) {
    return f->measured && f->high > f->low && f->unit && strcmp(f->unit, "ms") == 0;
}

/* The times that were measured: each is known to lie between two bounds. */
static void draw_times(struct sheet *s, const struct trial_outcome *outcome) {
    double most = 0, from = s->y;
    struct axis x;
    for (uint32_t i = 0; i < outcome->count; i++)
        if (in_ms(&outcome->finding[i]))
            most = fmax(most, outcome->finding[i].high);
    if (!(most > 0))
        return;
    axis_linear(&x, 0, most, sheet_most_x(s));
    axis_place(&x, s->left, s->right);
    picture_group(s->p, "times measured, each between its bounds");
    for (uint32_t i = 0; i < outcome->count; i++) {
        const struct trial_finding *f = &outcome->finding[i];
        char name[40];
        if (!in_ms(f))
            continue;
        snprintf(name, sizeof name, "%s", f->name);
        for (char *c = name; *c; c++)
            *c = *c == '_' ? ' ' : *c;
        struct picture_rect lane = sheet_lane(s, name);
        double middle = (lane.top + lane.bottom) / 2, least = axis_at(&x, f->low);
        picture_line(s->p, (struct picture_pen){ROLE_ACCENT, 5, DASH_SOLID}, least, middle,
                     fmax(axis_at(&x, f->high), least + 2), middle);
    }
    s->y += 2;
    sheet_axis_x(s, (struct picture_rect){s->left, from, s->right, s->y}, &x,
                 "time, ms, between the bounds that reports allow");
}

static void draw_kind(struct sheet *s, const struct book *book, enum trial_id id,
                      struct book_entry *entry) {
    const char *stale;
    char text[300];
    enum trial_verdict verdict = book_stands(book, id, &stale);
    double left = s->p->size == PICTURE_CELLS ? 0 : s->p->size == PICTURE_WIDE ? 14 : 10;
    double step = s->p->size == PICTURE_CELLS ? 24 : 18;
    snprintf(text, sizeof text, "%s: %s", trial_kinds[id]->name, trial_verdict_name(verdict));
    picture_group(s->p, text);
    s->y += s->p->size == PICTURE_CELLS ? 0 : 6;
    mark(s, verdict, left + step / 2, FACE_BODY);
    sheet_wrap(s, ROLE_INK, FACE_BODY, left + step, text);
    if (stale)
        sheet_wrap(s, ROLE_WARN, FACE_SMALL, left + step, stale);
    if (!newest(book, id, entry))
        return;
    sheet_wrap(s, ROLE_MUTED, FACE_SMALL, left + step, entry->outcome.headline);
    draw_findings(s, &entry->outcome, left + step);
    draw_times(s, &entry->outcome);
    if (entry->outcome.next[0])
        sheet_wrap(s, ROLE_INK, FACE_SMALL, left + step, entry->outcome.next);
}

void picture_trials(struct picture *p, enum picture_size size, const struct picture_trials *facts) {
    struct sheet s;
    struct book_entry entry;
    picture_init(p, size);
    sheet_begin(&s, p, "The guided trials", true);
    if (facts->file)
        sheet_words(&s, ROLE_MUTED, "%s", facts->file);
    picture_about(p, "What each kind of guided trial showed: passed, failed, not shown, or not "
                     "tried.");
    for (int id = 0; id < TRIALS; id++)
        if (trial_kinds[id])
            draw_kind(&s, facts->book, (enum trial_id)id, &entry);
    const struct sheet_key keys[] = {
        {SAMPLE_MARK, ROLE_GOOD, SHAPE_SQUARE, "passed"},
        {SAMPLE_MARK, ROLE_BAD, SHAPE_CROSS, "failed"},
        {SAMPLE_MARK, ROLE_WARN, SHAPE_DIAMOND, "not shown"},
        {SAMPLE_MARK, ROLE_MUTED, SHAPE_RING, "not tried"},
    };
    sheet_keys(&s, keys, 4);
    sheet_words(&s, ROLE_MUTED, "%s", trials_footer);
    sheet_end(&s);
}
