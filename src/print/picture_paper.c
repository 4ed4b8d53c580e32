#include "print/picture_paper.h"

#include <math.h>
#include <stdio.h>

#include "print/sheet.h"

struct paper {
    struct sheet sheet;
    const struct picture_paper *facts;
    struct axis x, y;
    struct picture_rect plot;
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
    picture_line(p, (struct picture_pen){ROLE_BAD, 1.5, DASH_SOLID}, w->plot.left, needed,
                 w->plot.right, needed);
    double wanted = axis_at(&w->y, in->sensitivity_dbm + in->margin_db);
    if (in->margin_db > 0)
        picture_line(p, (struct picture_pen){ROLE_BAD, 1.3, DASH_DOTTED}, w->plot.left, wanted,
                     w->plot.right, wanted);
}

/* Where the link ended, its interval, and what paper still has in hand there. */
static void draw_range(struct paper *w) {
    const struct picture_paper *f = w->facts;
    struct picture *p = w->sheet.p;
    if (!f->by_range)
        return;
    double at = axis_at(&w->x, f->range_m);
    double top = axis_at(&w->y, level(f->in, f->range_m, false));
    double bottom = axis_at(&w->y, f->in->sensitivity_dbm);
    picture_line(p, (struct picture_pen){ROLE_INK, 2.5, DASH_SOLID}, at, top, at, bottom);
    picture_mark(p, ROLE_INK, SHAPE_DIAMOND, at, bottom, 5);
    char text[64];
    snprintf(text, sizeof text, "%s%.0f dB %s", f->by_range->at_most ? "at most " : "",
             fabs(f->by_range->db), f->by_range->db < 0 ? "better" : "missing");
    sheet_label(&w->sheet, ROLE_INK, w->plot, at, (top + bottom) / 2, text);
}

static void draw_interval(struct paper *w) {
    const struct picture_paper *f = w->facts;
    if (f->by_range && f->high_m > f->low_m && f->low_m > 0)
        picture_hatch(w->sheet.p, ROLE_SECOND,
                      (struct picture_rect){axis_at(&w->x, f->low_m), w->plot.top,
                                            axis_at(&w->x, f->high_m), w->plot.bottom});
}

static void draw_level(struct paper *w) {
    const struct picture_paper *f = w->facts;
    if (!f->by_level)
        return;
    double at = axis_at(&w->x, f->in->distance_m);
    double top = axis_at(&w->y, level(f->in, f->in->distance_m, false));
    double measured = axis_at(&w->y, f->level_dbm);
    picture_line(w->sheet.p, (struct picture_pen){ROLE_INK, 2.5, DASH_SOLID}, at, top, at,
                 measured);
    picture_mark(w->sheet.p, ROLE_INK, SHAPE_SQUARE, at, measured, 4.5);
}

static void say(struct paper *w) {
    const struct picture_paper *f = w->facts;
    const struct budget_inputs *in = f->in;
    struct budget_bracket range = budget_range_m(in, in->margin_db);
    if (range.free_space < range.plan * 1.01)
        sheet_words(&w->sheet, ROLE_INK,
                    "On paper %.0f m with %g dB in hand, at %u kbit/s and %.1f dBm.", range.plan,
                    in->margin_db, in->kbps, in->power_dbm);
    else
        sheet_words(&w->sheet, ROLE_INK,
                    "On paper %.0f to %.0f m with %g dB in hand, at %u kbit/s and %.1f dBm.",
                    range.plan, range.free_space, in->margin_db, in->kbps, in->power_dbm);
    if (!f->by_range && !f->by_level)
        sheet_words(&w->sheet, ROLE_MUTED,
                    "What the field shows is unknown: no range was walked (a walk with stops, or "
                    "--walked) and no level measured.");
    if (f->by_range && f->by_range->at_most)
        sheet_words(&w->sheet, ROLE_INK,
                    "In the field at least %.0f m, as far as was walked: at most %.0f dB are "
                    "missing.",
                    f->range_m, f->by_range->db);
    else if (f->by_range && f->by_range->high_db > f->by_range->low_db)
        sheet_words(&w->sheet, ROLE_INK,
                    "In the field %.0f m (%.0f to %.0f): %.0f dB are missing (%.0f to %.0f).",
                    f->range_m, f->low_m, f->high_m, f->by_range->db, f->by_range->low_db,
                    f->by_range->high_db);
    else if (f->by_range)
        sheet_words(&w->sheet, ROLE_INK, "In the field %.0f m: %.0f dB are missing.", f->range_m,
                    f->by_range->db);
    if (f->by_level)
        sheet_words(&w->sheet, ROLE_INK, "Measured at %.0f m: %.0f dBm, %.0f dB below paper.",
                    in->distance_m, f->level_dbm, f->by_level->db);
}

static void axes(struct paper *w) {
    const struct picture_paper *f = w->facts;
    struct budget_bracket end = budget_range_m(f->in, 0);
    double far = fmax(end.free_space * 1.3, f->by_range ? f->high_m * 1.5 : 0);
    double near = fmin(fmin(end.plan / 20, f->by_range ? f->low_m / 3 : end.plan), 10);
    axis_log(&w->x, fmax(near, 0.5), fmax(fmin(far, 1e6), 10), sheet_most_x(&w->sheet));
    axis_place(&w->x, w->plot.left, w->plot.right);
    double low = f->in->sensitivity_dbm - 10;
    if (f->by_level)
        low = fmin(low, f->level_dbm - 5);
    axis_linear(&w->y, low, level(f->in, w->x.from, true), 7);
    sheet_place_y(&w->sheet, &w->y, w->plot);
}

static void say_keys(struct paper *w) {
    struct sheet_key keys[7];
    int count = 0;
    keys[count++] =
        (struct sheet_key){SAMPLE_LINE, ROLE_ACCENT, SHAPE_DOT, "paper, over this ground"};
    keys[count++] = (struct sheet_key){SAMPLE_DASHED, ROLE_ACCENT, SHAPE_DOT, "in free space"};
    keys[count++] = (struct sheet_key){SAMPLE_LINE, ROLE_BAD, SHAPE_DOT, "what the receiver needs"};
    if (w->facts->in->margin_db > 0)
        keys[count++] = (struct sheet_key){SAMPLE_DOTTED, ROLE_BAD, SHAPE_DOT, "wanted in hand"};
    if (w->facts->by_range)
        keys[count++] =
            (struct sheet_key){SAMPLE_MARK, ROLE_INK, SHAPE_DIAMOND, "where the link ended"};
    if (w->facts->by_range && w->facts->high_m > w->facts->low_m)
        keys[count++] =
            (struct sheet_key){SAMPLE_HATCH, ROLE_SECOND, SHAPE_DOT, "its interval, 95 %"};
    if (w->facts->by_level)
        keys[count++] = (struct sheet_key){SAMPLE_MARK, ROLE_INK, SHAPE_SQUARE, "level measured"};
    sheet_keys(&w->sheet, keys, count);
}

void picture_paper(struct picture *p, enum picture_size size, const struct picture_paper *facts) {
    struct paper w = {.facts = facts};
    picture_init(p, size);
    sheet_begin(&w.sheet, p, "Paper against field", false);
    picture_about(p, "The level that arrives over the distance by the link budget, what the "
                     "receiver needs, and where the link ended in the field.");
    say(&w);
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
