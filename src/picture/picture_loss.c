#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/percent.h"
#include "picture/picture_time.h"
#include "text/unknown.h"

static double share(const struct course_bin *bin) {
    uint64_t all = bin->got + bin->lost;
    return all > 0 ? (double)bin->lost / (double)all : NAN;
}

static double greatest(const struct time_page *t) {
    double greatest = 0;
    for (uint32_t i = 0; i < time_steps(t); i++) {
        struct course_bin bin;
        course_join(t->course, i * t->group, t->group, &bin);
        greatest = fmax(greatest, share(&bin));
    }
    return greatest;
}

/* On a terminal two rows say enough, of which the mean's line leaves one. */
static struct picture_rect ground(const struct picture *p, struct picture_rect plot, double from,
                                  double to) {
    double high = p->size == PICTURE_CELLS ? 32 : INFINITY;
    return (struct picture_rect){from, fmax(plot.top, plot.bottom - high), to, plot.bottom};
}

static void draw_outage(struct time_page *t, struct picture_rect plot, double from_ms,
                        double to_ms) {
    static const double narrow = 10; /* hatched, so many of these take too many points */
    struct picture *p = t->sheet.p;
    struct picture_rect r = ground(p, plot, axis_at(&t->x, from_ms), axis_at(&t->x, to_ms));
    if (r.right - r.left > narrow)
        picture_hatch(p, ROLE_BAD, r);
    else if (p->size != PICTURE_CELLS)
        picture_box(p, ROLE_BAND,
                    (struct picture_rect){r.left, r.top, fmax(r.right, r.left + 1), r.bottom});
}

/* Outages over the whole height, behind the columns: without one nothing is known of the loss in
 * them.  Returns whether there is one. */
static bool draw_outages(struct time_page *t, struct picture_rect plot) {
    const struct course_lane *lane = &t->course->lane[COURSE_OUTAGE];
    for (uint32_t i = 0; i < lane->count; i++)
        draw_outage(t, plot, (double)lane->span[i].from_ms, (double)lane->span[i].to_ms);
    if (lane->open)
        draw_outage(t, plot, (double)lane->now.from_ms, (double)lane->now.to_ms);
    return lane->count > 0 || lane->open;
}

/* Most of a step lies in an outage. */
static bool in_outage(const struct time_page *t, const struct course_bin *bin) {
    return 2 * bin->on_ms[COURSE_OUTAGE] >= (int64_t)t->group * t->course->bin_ms;
}

/* A column of each step; where no packet was counted the ground is hatched: that is no zero. */
static bool draw_steps(struct time_page *t, struct picture_rect plot, const struct axis *y) {
    struct picture *p = t->sheet.p;
    bool unseen = false;
    for (uint32_t i = 0; i < time_steps(t); i++) {
        struct course_bin bin;
        double from, to;
        time_step(t, i, &bin, &from, &to);
        double loss = share(&bin);
        if (!isnan(loss) && loss > 0) {
            picture_box(p, ROLE_ACCENT,
                        (struct picture_rect){from, axis_at(y, 100 * loss), to, plot.bottom});
        } else if (isnan(loss) && to - from > 0.5 && !in_outage(t, &bin)) {
            picture_hatch(p, ROLE_MUTED, ground(p, plot, from, to));
            unseen = true;
        }
    }
    return unseen;
}

static bool has_interval(const struct measures *m) {
    return m->ground == GROUND_RUNS || m->ground == GROUND_COUNTS;
}

/* One loss for all of the run, in its outages as well. */
static bool has_mean(const struct measures *m) {
    return m->loss_known && m->ground != GROUND_NOT_STEADY && m->ground != GROUND_NONE;
}

/* The run's mean over the columns, and how well it is known, in the margin where no column hides
 * it.
 */
static void draw_mean(struct time_page *t, const struct measures *m, struct picture_rect plot,
                      const struct axis *y) {
    struct picture *p = t->sheet.p;
    struct picture_pen pen = {ROLE_INK, 1.5, DASH_SOLID};
    if (!has_mean(m))
        return;
    double x = plot.right + (p->size == PICTURE_CELLS ? 12 : 7), half = 3;
    double mean = axis_at(y, 100 * m->loss), low = axis_at(y, 100 * m->low);
    double high = axis_at(y, 100 * m->high);
    picture_line(p, (struct picture_pen){ROLE_INK, 1.5, DASH_DASHED}, plot.left, mean, plot.right,
                 mean);
    if (!has_interval(m))
        return;
    picture_line(p, pen, x, low, x, high);
    picture_line(p, pen, x - half, low, x + half, low);
    picture_line(p, pen, x - half, high, x + half, high);
    picture_mark(p, ROLE_INK, SHAPE_DOT, x, mean, 2.5);
}

static void say_mean(struct time_page *t, const struct picture_facts *facts) {
    const struct measures *m = facts->m;
    struct sheet *s = &t->sheet;
    char span[PERCENT_SPAN_MAX], drop[PERCENT_SPAN_MAX + 48] = "";
    if (!m->loss_known)
        return;
    if (m->high_if_drop_1s > 0) {
        percent_text(span, m->high_if_drop_1s);
        snprintf(drop, sizeof drop, "; at most %s %% if a drop of 1 s may come", span);
    }
    switch (m->ground) {
    case GROUND_RUNS:
    case GROUND_COUNTS:
        percent_span(span, m->low, " to ", m->high);
        sheet_words(s, ROLE_INK, "Mean loss%s %.2f %%, %s %% (95 %%)%s.",
                    facts->s->acked ? " after retries" : "", 100 * m->loss, span, drop);
        break;
    case GROUND_NONE_LOST:
        sheet_words(s, ROLE_INK, "None lost: at most %.2g loss runs a minute (95 %%).",
                    m->drops_a_minute);
        break;
    case GROUND_NOT_STEADY:
        sheet_words(s, ROLE_INK,
                    "Mean loss %.2f %%; it changed over the run, so that there is no one loss to "
                    "give an interval for.",
                    100 * m->loss);
        break;
    case GROUND_NONE:
        sheet_words(s, ROLE_INK, "Mean loss %.2f %%; no confidence interval%s%s.", 100 * m->loss,
                    m->why ? ": " : "", m->why ? m->why : "");
        break;
    }
}

static void say_keys(struct time_page *t, const struct measures *m, bool unseen, bool outages) {
    char columns[64], length[32];
    struct sheet_key keys[5];
    int count = 0;
    snprintf(columns, sizeof columns, "loss, columns of %s",
             time_words(length, sizeof length, (double)(t->group * t->course->bin_ms)));
    keys[count++] = (struct sheet_key){SAMPLE_AREA, ROLE_ACCENT, SHAPE_DOT, columns};
    if (has_mean(m))
        keys[count++] = (struct sheet_key){SAMPLE_DASHED, ROLE_INK, SHAPE_DOT, "mean of the run"};
    if (has_interval(m))
        keys[count++] =
            (struct sheet_key){SAMPLE_MARK, ROLE_INK, SHAPE_DOT, "with its interval, 95 %"};
    if (unseen)
        keys[count++] =
            (struct sheet_key){SAMPLE_HATCH, ROLE_MUTED, SHAPE_DOT, "no packet counted"};
    if (outages)
        keys[count++] = (struct sheet_key){SAMPLE_HATCH, ROLE_BAD, SHAPE_DOT,
                                           "outage: unknown without a column"};
    sheet_keys(&t->sheet, keys, count);
}

static void draw(struct time_page *t, const struct picture_facts *facts) {
    const struct measures *m = facts->m;
    if (!sheet_brief(&t->sheet))
        say_mean(t, facts);
    struct picture_rect plot = sheet_plot(&t->sheet, 1, "loss, % of packets");
    struct axis y;
    double top = fmax(100 * greatest(t), fmax(1, m->loss_known ? 100 * m->high : 0));
    axis_linear(&y, 0, fmin(top, 100), 6);
    sheet_place_y(&t->sheet, &y, plot);
    picture_group(t->sheet.p, "loss over time");
    sheet_grid_x(&t->sheet, plot, &t->x);
    sheet_axis_y(&t->sheet, plot, &y);
    bool outages = draw_outages(t, plot), unseen = draw_steps(t, plot, &y);
    draw_mean(t, m, plot, &y);
    time_lanes(t, facts, plot);
    say_keys(t, m, unseen, outages);
    if (sheet_brief(&t->sheet))
        say_mean(t, facts);
}

static void say_unknown(struct time_page *t, const struct picture_facts *facts) {
    const char *why = unknown_why(facts->s, FIGURE_LOST);
    if (why)
        sheet_words(&t->sheet, ROLE_INK,
                    strchr(why, ' ') ? "Loss is unknown: %s." : "Loss is unknown without %s.", why);
}

void picture_loss(struct picture *p, enum picture_size size, const struct picture_facts *facts) {
    struct time_page t;
    picture_init(p, size);
    picture_fit(p, facts->room);
    if (time_begin(&t, p, "Loss over time", facts)) {
        char span[32];
        picture_about(p,
                      "Share of packets lost over %s. Below, in lanes: outages over the limit "
                      "(%llu), failsafe, restarts of the receiver (%llu) and of the transmitter, "
                      "missing lines.",
                      time_words(span, sizeof span, (double)facts->course->end_ms),
                      (unsigned long long)facts->s->outages,
                      (unsigned long long)facts->s->receiver_restarts);
        say_unknown(&t, facts);
        draw(&t, facts);
    } else if (facts->s->reports > 0) {
        say_unknown(&t, facts);
    }
    sheet_end(&t.sheet);
}
