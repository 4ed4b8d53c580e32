#include <math.h>
#include <stdio.h>

#include "picture/picture_time.h"

static const char *unit(const struct snapshot *s) {
    return s->raw_unit ? "units" : "us";
}

static void draw_ranges(struct time_page *t, uint32_t channel, const struct axis *y) {
    double thin = t->sheet.p->size == PICTURE_CELLS ? 0 : 0.7;
    for (uint32_t i = 0; i < time_steps(t); i++) {
        struct course_bin bin;
        double from, to;
        time_step(t, i, &bin, &from, &to);
        const struct course_range *r = &bin.channel[channel];
        if (r->count > 0)
            picture_box(t->sheet.p, ROLE_BAND,
                        (struct picture_rect){from, axis_at(y, r->high) - thin, to,
                                              axis_at(y, r->low) + thin});
    }
}

static void draw_mean(struct time_page *t, uint32_t channel, const struct axis *y) {
    bool open = false;
    for (uint32_t i = 0; i < time_steps(t); i++) {
        struct course_bin bin;
        double from, to;
        time_step(t, i, &bin, &from, &to);
        const struct course_range *r = &bin.channel[channel];
        if (open && r->count == 0)
            picture_end(t->sheet.p);
        else if (!open && r->count > 0)
            picture_path(t->sheet.p, PICTURE_LINE,
                         (struct picture_pen){ROLE_ACCENT, 1.5, DASH_SOLID});
        open = r->count > 0;
        if (open)
            picture_to(t->sheet.p, (from + to) / 2, axis_at(y, (double)r->sum / (double)r->count));
    }
    if (open)
        picture_end(t->sheet.p);
}

static struct picture_rect draw_channel(struct time_page *t, const struct snapshot *s,
                                        uint32_t channel) {
    const struct channel_state *c = &s->channel[channel];
    char measures[80];
    if (c->ends_known)
        snprintf(measures, sizeof measures, "%s, %d to %d %s", c->name, c->low, c->high, unit(s));
    else
        snprintf(measures, sizeof measures, "%s, no pulses", c->name);
    struct picture_rect plot = sheet_plot(&t->sheet, 0.3, measures);
    struct axis y;
    axis_linear(&y, s->span_low, s->span_high, 3);
    sheet_place_y(&t->sheet, &y, plot);
    picture_group(t->sheet.p, c->name);
    sheet_grid_x(&t->sheet, plot, &t->x);
    sheet_axis_y(&t->sheet, plot, &y);
    draw_ranges(t, channel, &y);
    draw_mean(t, channel, &y);
    return plot;
}

static void draw(struct time_page *t, const struct picture_facts *facts) {
    const struct snapshot *s = facts->s;
    struct picture_rect plot = {0};
    if (s->channel_count == 0) {
        sheet_words(&t->sheet, ROLE_INK, "Channels are unknown: the receiver's lines have no ch.");
        return;
    }
    for (uint32_t i = 0; i < s->channel_count && i < CHANNELS_MAX; i++)
        plot = draw_channel(t, s, i);
    time_lanes(t, facts, plot);
    const struct sheet_key keys[] = {
        {SAMPLE_LINE, ROLE_ACCENT, SHAPE_DOT, "mean"},
        {SAMPLE_AREA, ROLE_BAND, SHAPE_DOT, "from lowest to highest"},
    };
    sheet_keys(&t->sheet, keys, 2);
}

void picture_channels(struct picture *p, enum picture_size size,
                      const struct picture_facts *facts) {
    struct time_page t;
    picture_init(p, size);
    picture_fit(p, facts->room);
    if (time_begin(&t, p, "Channels over time", facts)) {
        picture_about(p, "What the receiver put out on %u channels over time, each in a strip.",
                      facts->s->channel_count);
        draw(&t, facts);
    }
    sheet_end(&t.sheet);
}
