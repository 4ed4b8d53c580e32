#include <math.h>
#include <stdio.h>

#include "picture/picture_time.h"
#include "text/unknown.h"

#define LEAST_SPAN_V 0.2 /* of an axis */

static double mean_volts(const struct course_range *r) {
    return (double)r->sum / (double)r->count / 1000;
}

static void take(double *low, double *high, const struct course_range *r) {
    if (r->count == 0)
        return;
    *low = fmin(*low, r->low / 1000.0);
    *high = fmax(*high, r->high / 1000.0);
}

static void bounds(const struct time_page *t, const struct picture_facts *facts, double *low,
                   double *high) {
    *low = INFINITY;
    *high = -INFINITY;
    struct course_bin all;
    course_join(t->course, 0, t->course->bins, &all);
    take(low, high, &all.supply);
    take(low, high, &all.supply_low);
    if (facts->supply_alarm_mv > 0) {
        *low = fmin(*low, facts->supply_alarm_mv / 1000);
        *high = fmax(*high, facts->supply_alarm_mv / 1000);
    }
}

/* From each step's lowest to its highest value. */
static void draw_ranges(struct time_page *t, const struct axis *y) {
    for (uint32_t i = 0; i < time_steps(t); i++) {
        struct course_bin bin;
        double from, to;
        time_step(t, i, &bin, &from, &to);
        if (bin.supply_low.count == 0)
            continue;
        int32_t top = bin.supply.count > 0 ? bin.supply.high : bin.supply_low.high;
        picture_box(t->sheet.p, ROLE_BAND,
                    (struct picture_rect){from, axis_at(y, top / 1000.0), to,
                                          axis_at(y, bin.supply_low.low / 1000.0)});
    }
}

/* A curve through the steps' means, broken where nothing was told. */
static void draw_mean(struct time_page *t, const struct axis *y, bool transmitter) {
    struct picture_pen pen = {transmitter ? ROLE_SECOND : ROLE_ACCENT, 1.8, DASH_SOLID};
    bool open = false;
    for (uint32_t i = 0; i < time_steps(t); i++) {
        struct course_bin bin;
        double from, to;
        time_step(t, i, &bin, &from, &to);
        const struct course_range *r = transmitter ? &bin.transmitter : &bin.supply;
        if (open && r->count == 0)
            picture_end(t->sheet.p);
        else if (!open && r->count > 0)
            picture_path(t->sheet.p, PICTURE_LINE, pen);
        open = r->count > 0;
        if (open)
            picture_to(t->sheet.p, (from + to) / 2, axis_at(y, mean_volts(r)));
    }
    if (open)
        picture_end(t->sheet.p);
}

static void draw_alarm(struct time_page *t, struct picture_rect plot, const struct axis *y,
                       double volts) {
    char text[48];
    double at = axis_at(y, volts);
    picture_line(t->sheet.p, (struct picture_pen){ROLE_BAD, 1.5, DASH_DOTTED}, plot.left, at,
                 plot.right, at);
    snprintf(text, sizeof text, "alarm below %.2f V", volts);
    sheet_label(&t->sheet, ROLE_BAD, plot, plot.right, at, text);
}

static void say_keys(struct time_page *t, const struct snapshot *s) {
    const struct sheet_key keys[] = {
        {SAMPLE_LINE, ROLE_ACCENT, SHAPE_DOT, "mean"},
        {SAMPLE_AREA, ROLE_BAND, SHAPE_DOT,
         s->supply_min_known ? "down to the lowest (mvmin)" : "range at the reports"},
    };
    sheet_keys(&t->sheet, keys, 2);
}

static struct picture_rect plot_begin(struct time_page *t, double share, const char *measures,
                                      double low, double high, struct axis *y) {
    struct picture_rect plot = sheet_plot(&t->sheet, share, measures);
    double wider = fmax(0, (LEAST_SPAN_V - (high - low)) / 2); /* noise is no event */
    axis_linear(y, low - wider, high + wider, share < 1 ? 4 : 6);
    sheet_place_y(&t->sheet, y, plot);
    picture_group(t->sheet.p, measures);
    sheet_grid_x(&t->sheet, plot, &t->x);
    sheet_axis_y(&t->sheet, plot, y);
    return plot;
}

/* Often a battery of another voltage: a plot of its own, so that neither flattens the other. */
static void draw_transmitter(struct time_page *t) {
    struct course_bin all;
    double low = INFINITY, high = -INFINITY;
    struct axis y;
    course_join(t->course, 0, t->course->bins, &all);
    take(&low, &high, &all.transmitter);
    if (!(low <= high))
        return;
    plot_begin(t, 0.4, "supply of the transmitter, V", low, high, &y);
    draw_mean(t, &y, true);
}

static void say_unknown(struct time_page *t) {
    sheet_words(&t->sheet, ROLE_INK,
                "Supply is unknown: the receiver's lines have no mv and no mvmin.");
}

static void draw(struct time_page *t, const struct picture_facts *facts) {
    double low, high;
    struct axis y;
    bounds(t, facts, &low, &high);
    if (!(low <= high)) {
        say_unknown(t);
        return;
    }
    struct picture_rect plot = plot_begin(t, 1, "supply of the receiver, V", low, high, &y);
    draw_ranges(t, &y);
    draw_mean(t, &y, false);
    if (facts->supply_alarm_mv > 0)
        draw_alarm(t, plot, &y, facts->supply_alarm_mv / 1000);
    draw_transmitter(t);
    time_lanes(t, facts, plot);
    say_keys(t, facts->s);
    if (!facts->s->supply_min_known)
        sheet_words(&t->sheet, ROLE_MUTED, "Dips between reports: unknown without mvmin.");
}

void picture_supply(struct picture *p, enum picture_size size, const struct picture_facts *facts) {
    struct time_page t;
    picture_init(p, size);
    picture_fit(p, facts->room);
    if (time_begin(&t, p, "Supply over time", facts)) {
        const struct snapshot *s = facts->s;
        if (s->supply_known || s->supply_min_known)
            picture_about(p, "Voltage at the receiver over time; lowest %.2f V.",
                          s->supply_low_mv / 1000.0);
        else
            picture_about(p, "Voltage at the receiver over time: unknown without mv.");
        draw(&t, facts);
    } else if (facts->s->reports > 0 && !(t.course->keys & (1u << KEY_MV | 1u << KEY_MVMIN))) {
        say_unknown(&t);
    }
    sheet_end(&t.sheet);
}
