#include "picture/picture_paper.h"

#include <math.h>
#include <stdio.h>

#include "picture/sheet.h"

/* Where the link ended in the field, as far as that is known. */
struct ended {
    enum missing_known known;
    const struct missing *missing; /* NULL: unknown, and nothing below holds */
    double at_m, low_m, high_m;
};

struct paper {
    struct sheet sheet;
    const struct picture_paper *facts;
    struct axis x, y;
    struct picture_rect plot;
    struct ended ended;
};

enum { CURVE_POINTS = 120 };

static double level(const struct budget_inputs *in, double distance_m, bool free_space) {
    struct budget_bracket margin = budget_margin_db(in, distance_m);
    return in->sensitivity_dbm + (free_space ? margin.free_space : margin.plan);
}

/* Distances on even steps of the axis. */
static double distance(const struct paper *w, int i) {
    return w->x.from * pow(w->x.to / w->x.from, (double)i / CURVE_POINTS);
}

static void curve_points(struct paper *w, bool free_space, bool back) {
    for (int i = 0; i <= CURVE_POINTS; i++) {
        double m = distance(w, back ? CURVE_POINTS - i : i);
        picture_to(w->sheet.p, axis_at(&w->x, m),
                   axis_at(&w->y, level(w->facts->in, m, free_space)));
    }
}

/* As far as it lies within the plot. */
static void curve_line(struct paper *w, bool free_space, struct picture_pen pen) {
    picture_path(w->sheet.p, PICTURE_LINE, pen);
    for (int i = 0; i <= CURVE_POINTS; i++) {
        double m = distance(w, i), dbm = level(w->facts->in, m, free_space);
        if (dbm < w->y.from)
            break;
        picture_to(w->sheet.p, axis_at(&w->x, m), axis_at(&w->y, dbm));
    }
    picture_end(w->sheet.p);
}

static void draw_curves(struct paper *w) {
    struct picture *p = w->sheet.p;
    picture_path(p, PICTURE_AREA, (struct picture_pen){ROLE_BAND, 0, DASH_SOLID});
    curve_points(w, true, false);
    curve_points(w, false, true);
    picture_end(p);
    curve_line(w, true, (struct picture_pen){ROLE_ACCENT, 1.3, DASH_DASHED});
    curve_line(w, false, (struct picture_pen){ROLE_ACCENT, 2, DASH_SOLID});
}

static void draw_needed(struct paper *w) {
    const struct budget_inputs *in = w->facts->in;
    struct picture *p = w->sheet.p;
    double needed = axis_at(&w->y, in->sensitivity_dbm);
    picture_line(p, (struct picture_pen){ROLE_BAD, 1.8, DASH_DASHDOT}, w->plot.left, needed,
                 w->plot.right, needed);
    double wanted = axis_at(&w->y, in->sensitivity_dbm + in->margin_db);
    if (in->margin_db > 0)
        picture_line(p, (struct picture_pen){ROLE_BAD, 1.3, DASH_DOTTED}, w->plot.left, wanted,
                     w->plot.right, wanted);
}

/* --- where the link ended --------------------------------------------------------------------- */

static void place(struct ended *e, enum missing_known known, const struct missing *m, double at_m,
                  double low_m, double high_m) {
    *e = (struct ended){known, m, at_m, low_m, high_m};
}

static void find_ended(struct ended *e, const struct budget_facts *f) {
    const struct budget_walk *w = f ? f->walk : NULL;
    const struct reach *r = w ? &w->reach : NULL;
    if (f && f->by_range)
        place(e, MISSING_INTERVAL, f->by_range, f->walked_m, f->walked_m, f->walked_m);
    else if (w && w->known == MISSING_INTERVAL)
        place(e, w->known, &w->range, r->m, r->low_m, r->high_m);
    else if (w && w->known == MISSING_BETWEEN)
        place(e, w->known, &w->range, sqrt(r->at_least_m * r->at_most_m), r->at_least_m,
              r->at_most_m);
    else if (w && w->known == MISSING_AT_MOST)
        place(e, w->known, &w->range, r->at_least_m, r->at_least_m, r->at_least_m);
    else if (w && w->known == MISSING_AT_LEAST)
        place(e, w->known, &w->range, r->at_most_m, r->at_most_m, r->at_most_m);
}

/* "12 dB missing", "at most 3 dB missing", "2 dB better". */
static void missing_words(char *out, size_t size, const struct ended *e) {
    double db = e->missing->db;
    if (e->known == MISSING_BETWEEN)
        snprintf(out, size, "%.0f to %.0f dB missing", e->missing->low_db, e->missing->high_db);
    else
        snprintf(out, size, "%s%.0f dB %s",
                 e->known == MISSING_AT_MOST    ? "at most "
                 : e->known == MISSING_AT_LEAST ? "at least "
                                                : "",
                 db < 0 && e->known == MISSING_INTERVAL ? -db : db,
                 db < 0 && e->known == MISSING_INTERVAL ? "better" : "missing");
}

/* Below what the receiver needs and beside the interval: nearer by no curve comes there. */
static void label(struct paper *w, const struct ended *e, double needed, const char *text) {
    struct picture *p = w->sheet.p;
    double gap = 0.6 * picture_text_height(p, FACE_BODY);
    double y = (needed + w->plot.bottom) / 2 + 0.3 * picture_text_height(p, FACE_BODY);
    double left = axis_at(&w->x, e->low_m) - gap, right = axis_at(&w->x, e->high_m) + gap;
    if (left - picture_text_width(p, FACE_BODY, text) > w->plot.left &&
        picture_text_fit(p, ROLE_INK, FACE_BODY, ANCHOR_END, left, y, text))
        return;
    if (right + picture_text_width(p, FACE_BODY, text) < w->plot.right &&
        picture_text_fit(p, ROLE_INK, FACE_BODY, ANCHOR_START, right, y, text))
        return;
    sheet_label(&w->sheet, ROLE_INK, w->plot, axis_at(&w->x, e->at_m), y, text);
}

/* Where the link ended, and what paper still has in hand there. */
static void draw_range(struct paper *w) {
    const struct ended *e = &w->ended;
    struct picture *p = w->sheet.p;
    if (!e->missing)
        return;
    double at = axis_at(&w->x, e->at_m);
    double top = axis_at(&w->y, level(w->facts->in, e->at_m, false));
    double bottom = axis_at(&w->y, w->facts->in->sensitivity_dbm);
    if (e->known != MISSING_BETWEEN) {
        picture_line(p, (struct picture_pen){ROLE_INK, 2.5, DASH_SOLID}, at, top, at, bottom);
        picture_mark(p, ROLE_INK, SHAPE_DIAMOND, at, bottom, 5);
    }
    char text[64];
    missing_words(text, sizeof text, e);
    label(w, e, bottom, text);
}

static void draw_interval(struct paper *w) {
    const struct ended *e = &w->ended;
    if (e->missing && e->high_m > e->low_m && e->low_m > 0)
        picture_hatch(w->sheet.p, ROLE_SECOND,
                      (struct picture_rect){axis_at(&w->x, e->low_m), w->plot.top,
                                            axis_at(&w->x, e->high_m), w->plot.bottom});
}

static bool has_level(const struct paper *w) {
    return w->facts->field && w->facts->field->by_level;
}

static void draw_level(struct paper *w) {
    const struct budget_inputs *in = w->facts->in;
    if (!has_level(w))
        return;
    double at = axis_at(&w->x, in->distance_m);
    double top = axis_at(&w->y, level(in, in->distance_m, false));
    double measured = axis_at(&w->y, w->facts->field->level_dbm);
    picture_line(w->sheet.p, (struct picture_pen){ROLE_INK, 2.5, DASH_SOLID}, at, top, at,
                 measured);
    picture_mark(w->sheet.p, ROLE_INK, SHAPE_SQUARE, at, measured, 4.5);
}

/* --- words ------------------------------------------------------------------------------------ */

static void say_range(struct paper *w) {
    const struct ended *e = &w->ended;
    char text[64];
    missing_words(text, sizeof text, e);
    if (e->known == MISSING_INTERVAL && e->high_m > e->low_m)
        sheet_words(&w->sheet, ROLE_INK, "In the field %.3g m (%.3g to %.3g): %s (%.0f to %.0f).",
                    e->at_m, e->low_m, e->high_m, text, e->missing->low_db, e->missing->high_db);
    else if (e->known == MISSING_BETWEEN)
        sheet_words(&w->sheet, ROLE_INK, "In the field between %.3g and %.3g m: %s.", e->low_m,
                    e->high_m, text);
    else
        sheet_words(&w->sheet, ROLE_INK, "In the field %s%.3g m%s: %s.",
                    e->known == MISSING_AT_MOST    ? "at least "
                    : e->known == MISSING_AT_LEAST ? "at most "
                                                   : "",
                    e->at_m, e->known == MISSING_AT_MOST ? ", as far as that was shown" : "", text);
}

static void say_field(struct paper *w) {
    const struct budget_facts *f = w->facts->field;
    if (w->ended.missing)
        say_range(w);
    if (has_level(w))
        sheet_words(&w->sheet, ROLE_INK, "Measured at %.3g m: %.0f dBm, %.0f dB %s paper.",
                    w->facts->in->distance_m, f->level_dbm, fabs(f->by_level->db),
                    f->by_level->db < 0 ? "above" : "below");
    if (f && f->walk && f->walk->level_stops > 0)
        sheet_words(&w->sheet, ROLE_INK, "Level at %u stop%s: %.0f dB below paper (%.0f to %.0f).",
                    f->walk->level_stops, f->walk->level_stops == 1 ? "" : "s", f->walk->level.db,
                    f->walk->level.low_db, f->walk->level.high_db);
    if (!w->ended.missing && !has_level(w))
        sheet_words(&w->sheet, ROLE_MUTED,
                    "Where the link ends in the field is unknown: a walk with stops would tell, or "
                    "--walked, or a measured level.");
}

static void tell(struct paper *w) {
    const struct budget_inputs *in = w->facts->in;
    struct budget_bracket range = budget_range_m(in, in->margin_db);
    if (w->facts->file)
        sheet_words(&w->sheet, ROLE_MUTED, "%s", w->facts->file);
    if (range.free_space < range.plan * 1.01)
        sheet_words(&w->sheet, ROLE_INK,
                    "On paper %.0f m with %g dB in hand, at %u kbit/s and %.1f dBm.", range.plan,
                    in->margin_db, in->kbps, in->power_dbm);
    else
        sheet_words(&w->sheet, ROLE_INK,
                    "On paper %.0f to %.0f m with %g dB in hand, at %u kbit/s and %.1f dBm.",
                    range.plan, range.free_space, in->margin_db, in->kbps, in->power_dbm);
    say_field(w);
}

static void axes(struct paper *w) {
    const struct picture_paper *f = w->facts;
    const struct ended *e = &w->ended;
    struct budget_bracket end = budget_range_m(f->in, 0);
    double far = fmax(end.free_space * 1.3, e->missing ? e->high_m * 1.5 : 0);
    double near = fmin(fmin(end.plan / 20, e->missing ? e->low_m / 3 : end.plan), 10);
    axis_log(&w->x, fmax(near, 0.5), fmax(fmin(far, 1e6), 10), sheet_most_x(&w->sheet));
    axis_place(&w->x, w->plot.left, w->plot.right);
    double low = f->in->sensitivity_dbm - 10;
    if (has_level(w))
        low = fmin(low, f->field->level_dbm - 5);
    if (e->missing)
        low = fmin(low, level(f->in, e->at_m, false) - 5);
    axis_linear(&w->y, low, level(f->in, w->x.from, true), 7);
    sheet_place_y(&w->sheet, &w->y, w->plot);
}

static void say_keys(struct paper *w) {
    static const char *const where[] = {
        [MISSING_INTERVAL] = "where the link ended",
        [MISSING_AT_MOST] = "good as far as here",
        [MISSING_AT_LEAST] = "bad from here on",
    };
    struct sheet_key keys[7];
    int count = 0;
    keys[count++] =
        (struct sheet_key){SAMPLE_LINE, ROLE_ACCENT, SHAPE_DOT, "paper, over this ground"};
    keys[count++] = (struct sheet_key){SAMPLE_DASHED, ROLE_ACCENT, SHAPE_DOT, "in free space"};
    keys[count++] =
        (struct sheet_key){SAMPLE_DASHDOT, ROLE_BAD, SHAPE_DOT, "what the receiver needs"};
    if (w->facts->in->margin_db > 0)
        keys[count++] = (struct sheet_key){SAMPLE_DOTTED, ROLE_BAD, SHAPE_DOT, "wanted in hand"};
    if (w->ended.missing && w->ended.known != MISSING_BETWEEN)
        keys[count++] =
            (struct sheet_key){SAMPLE_MARK, ROLE_INK, SHAPE_DIAMOND, where[w->ended.known]};
    if (w->ended.missing && w->ended.high_m > w->ended.low_m)
        keys[count++] =
            (struct sheet_key){SAMPLE_HATCH, ROLE_SECOND, SHAPE_DOT,
                               w->ended.known == MISSING_BETWEEN ? "somewhere here the link ended"
                                                                 : "its interval, 95 %"};
    if (has_level(w))
        keys[count++] = (struct sheet_key){SAMPLE_MARK, ROLE_INK, SHAPE_SQUARE, "level measured"};
    sheet_keys(&w->sheet, keys, count);
}

void picture_paper(struct picture *p, enum picture_size size, const struct picture_paper *facts) {
    struct paper w = {.facts = facts};
    find_ended(&w.ended, facts->field);
    picture_init(p, size);
    sheet_begin(&w.sheet, p, "Paper against field", false);
    picture_about(p, "The level that arrives over the distance by the link budget, what the "
                     "receiver needs, and where the link ended in the field.");
    tell(&w);
    w.plot = sheet_plot(&w.sheet, 1.1, "level at the receiver, dBm");
    axes(&w);
    picture_group(p, "level over distance");
    sheet_grid_x(&w.sheet, w.plot, &w.x);
    sheet_axis_y(&w.sheet, w.plot, &w.y);
    draw_curves(&w);
    draw_interval(&w);
    draw_needed(&w);
    draw_range(&w);
    draw_level(&w);
    sheet_axis_x(&w.sheet, w.plot, &w.x, "distance, m (logarithmic)");
    say_keys(&w);
    sheet_end(&w.sheet);
}
