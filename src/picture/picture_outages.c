/* How long the outages were: how many lasted at least so long.  Reports tell the length of a
 * outage only within bounds, so that the curve is a band. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/whole.h"
#include "picture/picture_time.h"
#include "text/unknown.h"

static uint64_t longer(const uint64_t *count, uint32_t from) {
    uint64_t sum = 0;
    for (uint32_t i = from; i < COURSE_LENGTHS; i++)
        sum += count[i];
    return sum;
}

static uint32_t first_bin(const uint64_t *count) {
    uint32_t i = 0;
    while (i + 1 < COURSE_LENGTHS && count[i] == 0)
        i++;
    return i;
}

static uint32_t last_bin(const uint64_t *count) {
    uint32_t i = COURSE_LENGTHS - 1;
    while (i > 0 && count[i] == 0)
        i--;
    return i;
}

/* A descending stair, which falls where an outage's length is reached: at the upper end of its bin,
 * or (low) at the lower one, so that the true length lies between the two stairs. */
static void stair(struct picture *p, const uint64_t *count, const struct axis *x,
                  const struct axis *y, bool low, bool back) {
    uint32_t from = first_bin(count), to = last_bin(count);
    for (uint32_t k = 0; k <= to - from; k++) {
        uint32_t i = back ? to - k : from + k;
        if (count[i] == 0)
            continue;
        double at = axis_at(x, course_length_ms(low ? i : i + 1) / 1000);
        double before = axis_at(y, (double)longer(count, i));
        double after = axis_at(y, (double)longer(count, i + 1));
        picture_to(p, at, back ? after : before);
        picture_to(p, at, back ? before : after);
    }
}

static void draw_band(struct picture *p, const struct course *c, struct picture_rect plot,
                      const struct axis *x, const struct axis *y) {
    double all = axis_at(y, (double)c->outages);
    picture_path(p, PICTURE_AREA, (struct picture_pen){ROLE_BAND, 0, DASH_SOLID});
    picture_to(p, plot.left, all);
    stair(p, c->at_most, x, y, false, false);
    stair(p, c->at_least, x, y, true, true);
    picture_to(p, plot.left, all);
    picture_end(p);
    picture_path(p, PICTURE_LINE, (struct picture_pen){ROLE_ACCENT, 1.8, DASH_SOLID});
    picture_to(p, plot.left, all);
    stair(p, c->at_most, x, y, false, false);
    picture_end(p);
    picture_path(p, PICTURE_LINE, (struct picture_pen){ROLE_ACCENT, 1.3, DASH_DASHED});
    picture_to(p, plot.left, all);
    stair(p, c->at_least, x, y, true, false);
    picture_end(p);
}

static void draw(struct sheet *s, const struct picture_facts *facts) {
    const struct course *c = facts->course;
    struct picture_rect plot = sheet_plot(s, 1, "outages that lasted at least so long");
    double limit = (double)facts->s->outage_limit_ms / 1000;
    double longest = course_length_ms(last_bin(c->at_most) + 1) / 1000;
    struct axis x, y;
    axis_log(&x, fmin(limit, course_length_ms(first_bin(c->at_least)) / 1000) * 0.8, longest * 1.5,
             sheet_most_x(s));
    axis_place(&x, plot.left, plot.right);
    double most = fmax((double)c->outages, 2); /* whole steps only */
    axis_linear(&y, 0, most, most < 5 ? whole_i32(most) + 1 : 6);
    sheet_place_y(s, &y, plot);
    picture_group(s->p, "lengths of the outages");
    sheet_grid_x(s, plot, &x);
    sheet_axis_y(s, plot, &y);
    draw_band(s->p, c, plot, &x, &y);
    double at = axis_at(&x, limit);
    picture_line(s->p, (struct picture_pen){ROLE_BAD, 1.5, DASH_DOTTED}, at, plot.top, at,
                 plot.bottom);
    sheet_axis_x(s, plot, &x, "length, s (logarithmic)");
    const struct sheet_key keys[] = {
        {SAMPLE_LINE, ROLE_ACCENT, SHAPE_DOT, "at most"},
        {SAMPLE_DASHED, ROLE_ACCENT, SHAPE_DOT, "at least"},
        {SAMPLE_AREA, ROLE_BAND, SHAPE_DOT, "between: as closely as reports tell"},
        {SAMPLE_DOTTED, ROLE_BAD, SHAPE_DOT, "limit"},
    };
    sheet_keys(s, keys, 4);
}

static void tell(struct sheet *s, const struct picture_facts *facts) {
    const struct snapshot *now = facts->s;
    const char *why = unknown_why(now, FIGURE_OUTAGES);
    char limit[32], longest[32];
    time_words(limit, sizeof limit, (double)now->outage_limit_ms);
    if (why) {
        sheet_words(
            s, ROLE_INK,
            strchr(why, ' ') ? "Outages are unknown: %s." : "Outages are unknown without %s.", why);
        return;
    }
    time_words(longest, sizeof longest, (double)now->longest_gap_ms);
    sheet_words(s, ROLE_INK, "%llu outage%s longer than %s; longest %s.",
                (unsigned long long)now->outages, now->outages == 1 ? "" : "s", limit, longest);
    if (now->outages_unsure > 0)
        sheet_words(s, ROLE_MUTED, "%llu more may have been: the reports don't tell.",
                    (unsigned long long)now->outages_unsure);
    if (now->silent_at_end)
        sheet_words(s, ROLE_MUTED, "The one still open at the end is not among them.");
}

void picture_outages(struct picture *p, enum picture_size size, const struct picture_facts *facts) {
    struct sheet s;
    picture_init(p, size);
    picture_fit(p, facts->room);
    sheet_begin(&s, p, "How long the outages were", false);
    if (facts->file)
        sheet_words(&s, ROLE_MUTED, "%s", facts->file);
    picture_about(p, "How many of %llu outages lasted at least so long.",
                  (unsigned long long)facts->course->outages);
    tell(&s, facts);
    if (facts->course->outages > 0)
        draw(&s, facts);
    sheet_end(&s);
}
