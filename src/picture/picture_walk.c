#include "picture/picture_walk.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "picture/sheet.h"
#include "text/walk_text.h"

struct walk_page {
    struct sheet sheet;
    const struct picture_walk *facts;
    struct axis x, y;
    struct picture_rect plot;
};

enum { CURVE_POINTS = 160 };

static bool shown(const struct walk_stop *stop) {
    return stop->distance_m > 0 && (stop->died || (stop->counted && stop->got + stop->lost > 0));
}

static double loss_of(const struct walk_stop *stop, struct walk_loss *loss) {
    walk_loss(stop, loss);
    return stop->died ? 100 : loss->known ? 100 * loss->rate : NAN;
}

static void bounds(const struct walk_page *w, double *near, double *far, double *top) {
    const struct walk *walk = w->facts->walk;
    *near = INFINITY;
    *far = 0;
    *top = 100 * w->facts->reach->loss_limit * 1.2;
    for (uint32_t i = 0; i < walk->count; i++) {
        const struct walk_stop *stop = &walk->stop[i];
        struct walk_loss loss;
        if (!shown(stop))
            continue;
        double at = loss_of(stop, &loss);
        *near = fmin(*near, stop->distance_m);
        *far = fmax(*far, stop->distance_m);
        *top = fmax(*top, fmax(at, loss.known && loss.high >= 0 ? 100 * loss.high : at));
    }
}

/* The interval of a stop's loss, with small ends, and its mark: a ring where the walker didn't face
 * the receiver, a cross where the link died. */
static void draw_stop(struct walk_page *w, const struct walk_stop *stop) {
    struct picture *p = w->sheet.p;
    struct picture_pen pen = {ROLE_INK, 1.3, DASH_SOLID};
    struct walk_loss loss;
    double x = axis_at(&w->x, stop->distance_m), at = loss_of(stop, &loss);
    if (isnan(at))
        return;
    if (!stop->died && loss.low >= 0 && loss.high >= 0) {
        double low = axis_at(&w->y, 100 * loss.low), high = axis_at(&w->y, 100 * loss.high);
        double half = p->size == PICTURE_CELLS ? 0 : 3.5;
        picture_line(p, pen, x, low, x, high);
        picture_line(p, pen, x - half, low, x + half, low);
        picture_line(p, pen, x - half, high, x + half, high);
    }
    enum picture_shape shape = stop->died ? SHAPE_CROSS : stop->facing[0] ? SHAPE_RING : SHAPE_DOT;
    picture_mark(p, stop->died ? ROLE_BAD : ROLE_INK, shape, x, axis_at(&w->y, at), 4.5);
}

/* The place along the curve, 0 to CURVE_POINTS: the nearest to the farthest stop. */
static double metres_of(const struct reach *r, int i) {
    return r->nearest_m * pow(r->farthest_m / r->nearest_m, (double)i / CURVE_POINTS);
}

enum line { LINE_CURVE, LINE_LOW, LINE_HIGH };

/* The curve, or an edge of its band, as far as the plot shows it. */
static void draw_line(struct walk_page *w, enum line line) {
    const struct reach *r = w->facts->reach;
    struct picture_pen pen = line == LINE_CURVE
                                 ? (struct picture_pen){ROLE_ACCENT, 2, DASH_SOLID}
                                 : (struct picture_pen){ROLE_ACCENT, 1.2, DASH_DASHED};
    bool open = false;
    for (int i = 0; i <= CURVE_POINTS; i++) {
        double m = metres_of(r, i);
        struct reach_at at = {0, 0, 0};
        reach_at(r, m, &at);
        double loss = 100 * (line == LINE_CURVE ? at.loss : line == LINE_LOW ? at.low : at.high);
        if (!open && loss <= w->y.to)
            picture_path(w->sheet.p, PICTURE_LINE, pen);
        else if (open && loss > w->y.to)
            picture_end(w->sheet.p);
        open = loss <= w->y.to;
        if (open)
            picture_to(w->sheet.p, axis_at(&w->x, m), axis_at(&w->y, loss));
    }
    if (open)
        picture_end(w->sheet.p);
}

static void draw_curve(struct walk_page *w) {
    if (!w->facts->reach->fit.known)
        return;
    picture_group(w->sheet.p, "how well the fit's curve is known");
    draw_line(w, LINE_LOW);
    draw_line(w, LINE_HIGH);
    draw_line(w, LINE_CURVE);
}

static void draw_limit(struct walk_page *w) {
    const struct reach *r = w->facts->reach;
    double limit = axis_at(&w->y, 100 * r->loss_limit);
    picture_line(w->sheet.p, (struct picture_pen){ROLE_BAD, 1.5, DASH_DOTTED}, w->plot.left, limit,
                 w->plot.right, limit);
}

/* Under the plot: the range with its interval, and its bounds on one side. */
static void draw_lanes(struct walk_page *w) {
    const struct reach *r = w->facts->reach;
    struct picture *p = w->sheet.p;
    if (r->verdict == REACH_CLOSED) {
        struct picture_rect lane = sheet_lane(&w->sheet, "range");
        double middle = (lane.top + lane.bottom) / 2;
        picture_group(p, "range with its interval");
        picture_line(p, (struct picture_pen){ROLE_ACCENT, 3, DASH_SOLID}, axis_at(&w->x, r->low_m),
                     middle, axis_at(&w->x, r->high_m), middle);
        picture_mark(p, ROLE_ACCENT, SHAPE_DIAMOND, axis_at(&w->x, r->m), middle, 6);
    }
    if (r->at_least_m <= 0 && isinf(r->at_most_m))
        return;
    struct picture_rect lane = sheet_lane(&w->sheet, "bounds");
    picture_group(p, "within the range, and beyond it");
    if (r->at_least_m > 0)
        picture_box(p, ROLE_GOOD,
                    (struct picture_rect){axis_at(&w->x, r->nearest_m), lane.top + 3,
                                          axis_at(&w->x, r->at_least_m), lane.bottom - 3});
    if (!isinf(r->at_most_m))
        picture_hatch(p, ROLE_BAD,
                      (struct picture_rect){axis_at(&w->x, r->at_most_m), lane.top + 2,
                                            axis_at(&w->x, r->farthest_m), lane.bottom - 2});
}

static void tell(struct walk_page *w) {
    const struct reach *r = w->facts->reach;
    struct sheet *s = &w->sheet;
    double limit = 100 * r->loss_limit;
    const char *after = w->facts->acked ? " after retries" : "";
    if (r->verdict == REACH_CLOSED)
        sheet_words(s, ROLE_INK, "Mean loss%s passes %g %% at %.0f m (%.0f to %.0f m, 95 %%).",
                    after, limit, r->m, r->low_m, r->high_m);
    else
        sheet_words(s, ROLE_INK, "Where loss%s passes %g %% can't be told: %s.", after, limit,
                    reach_word(r->verdict));
    if (r->at_least_m > 0)
        sheet_words(s, ROLE_INK, "At least %.0f m%s.", r->at_least_m,
                    r->at_least_m >= r->farthest_m ? ", as far as was walked" : "");
    if (!isinf(r->at_most_m) && r->verdict != REACH_CLOSED)
        sheet_words(s, ROLE_INK, "At most %.0f m.", r->at_most_m);
    if (r->verdict != REACH_CLOSED)
        sheet_words(s, ROLE_MUTED, "%s", reach_reason(r->verdict));
}

static bool any(const struct walk *walk, bool died) {
    for (uint32_t i = 0; i < walk->count; i++)
        if (shown(&walk->stop[i]) &&
            (died ? walk->stop[i].died : !walk->stop[i].died && walk->stop[i].facing[0]))
            return true;
    return false;
}

static void say_keys(struct walk_page *w) {
    const struct reach *r = w->facts->reach;
    struct sheet_key keys[9];
    int count = 0;
    keys[count++] =
        (struct sheet_key){SAMPLE_MARK, ROLE_INK, SHAPE_DOT, "a stop, with its interval (95 %)"};
    if (any(w->facts->walk, false))
        keys[count++] = (struct sheet_key){SAMPLE_MARK, ROLE_INK, SHAPE_RING, "turned away"};
    if (any(w->facts->walk, true))
        keys[count++] = (struct sheet_key){SAMPLE_MARK, ROLE_BAD, SHAPE_CROSS, "the link died"};
    if (r->fit.known) {
        keys[count++] = (struct sheet_key){SAMPLE_LINE, ROLE_ACCENT, SHAPE_DOT, "mean of places"};
        keys[count++] =
            (struct sheet_key){SAMPLE_DASHED, ROLE_ACCENT, SHAPE_DOT, "its band (95 %)"};
    }
    keys[count++] = (struct sheet_key){SAMPLE_DOTTED, ROLE_BAD, SHAPE_DOT, "limit"};
    if (r->verdict == REACH_CLOSED)
        keys[count++] = (struct sheet_key){SAMPLE_MARK, ROLE_ACCENT, SHAPE_DIAMOND,
                                           "range, with its interval (95 %)"};
    if (r->at_least_m > 0)
        keys[count++] =
            (struct sheet_key){SAMPLE_AREA, ROLE_GOOD, SHAPE_DOT, "within the range (95 %)"};
    if (!isinf(r->at_most_m))
        keys[count++] =
            (struct sheet_key){SAMPLE_HATCH, ROLE_BAD, SHAPE_DOT, "beyond the range (95 %)"};
    sheet_keys(&w->sheet, keys, count);
}

static void draw(struct walk_page *w) {
    double near, far, top;
    bounds(w, &near, &far, &top);
    if (!(far > 0)) {
        sheet_words(&w->sheet, ROLE_INK,
                    "There is no stop with a distance and packets: mark stops with s in the "
                    "console, give them to stops, or name the walker's channel with --switch.");
        return;
    }
    if (!sheet_brief(&w->sheet))
        tell(w);
    w->plot = sheet_plot(&w->sheet, 1.1, "loss, % of packets");
    axis_log(&w->x, near / 1.3, far * 1.3, sheet_most_x(&w->sheet));
    axis_place(&w->x, w->plot.left, w->plot.right);
    axis_linear(&w->y, 0, fmin(top, 100), 6);
    sheet_place_y(&w->sheet, &w->y, w->plot);
    picture_group(w->sheet.p, "loss over distance");
    const struct reach *r = w->facts->reach;
    if (r->verdict == REACH_CLOSED)
        picture_box(w->sheet.p, ROLE_BAND,
                    (struct picture_rect){axis_at(&w->x, r->low_m), w->plot.top,
                                          axis_at(&w->x, r->high_m), w->plot.bottom});
    sheet_grid_x(&w->sheet, w->plot, &w->x);
    sheet_axis_y(&w->sheet, w->plot, &w->y);
    draw_limit(w);
    draw_curve(w);
    for (uint32_t i = 0; i < w->facts->walk->count; i++)
        if (shown(&w->facts->walk->stop[i]))
            draw_stop(w, &w->facts->walk->stop[i]);
    draw_lanes(w);
    w->sheet.y += 2;
    sheet_axis_x(&w->sheet,
                 (struct picture_rect){w->plot.left, w->plot.top, w->plot.right, w->sheet.y}, &w->x,
                 "distance, m (logarithmic)");
    say_keys(w);
    if (sheet_brief(&w->sheet))
        tell(w);
}

void picture_walk(struct picture *p, enum picture_size size, const struct picture_walk *facts) {
    struct walk_page w = {.facts = facts};
    picture_init(p, size);
    picture_fit(p, facts->room);
    sheet_begin(&w.sheet, p, "The range walk", true);
    if (facts->file)
        sheet_words(&w.sheet, ROLE_MUTED, "%s", facts->file);
    picture_about(p, "Loss at %u stops over the distance, each with its interval%s; range: %s.",
                  facts->walk->count,
                  facts->reach->fit.known ? ", and the fitted curve within its 95 % band" : "",
                  reach_word(facts->reach->verdict));
    draw(&w);
    sheet_end(&w.sheet);
}
