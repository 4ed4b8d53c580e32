#include "picture/picture_compare.h"

#include <math.h>
#include <stdio.h>

#include "base/percent.h"
#include "picture/sheet.h"
#include "text/compare_text.h"

struct compare_page {
    struct sheet sheet;
    const struct picture_compare *facts;
    struct axis x;
};

static double rate_of(const struct sample *s) {
    uint64_t all = s->got + s->lost;
    return s->counted && all > 0 ? 100 * (double)s->lost / (double)all : NAN;
}

static double greatest(const struct side_samples *samples, const struct side *side) {
    double most = 100 * side->loss.high;
    for (uint32_t i = 0; i < samples->count; i++) {
        double rate = rate_of(samples->sample[i]);
        most = rate > most ? rate : most;
    }
    return most;
}

/* An interval on a lane: a line with ends, and the estimate. */
static void interval(struct compare_page *c, struct picture_rect lane, enum picture_role role,
                     double low, double value, double high) {
    struct picture *p = c->sheet.p;
    double middle = (lane.top + lane.bottom) / 2, half = p->size == PICTURE_CELLS ? 0 : 5;
    double from = axis_at(&c->x, low), to = axis_at(&c->x, high);
    picture_line(p, (struct picture_pen){role, 2.5, DASH_SOLID}, from, middle, to, middle);
    picture_line(p, (struct picture_pen){role, 1.5, DASH_SOLID}, from, middle - half, from,
                 middle + half);
    picture_line(p, (struct picture_pen){role, 1.5, DASH_SOLID}, to, middle - half, to,
                 middle + half);
    picture_mark(p, role, SHAPE_DIAMOND, axis_at(&c->x, value), middle, 6);
}

static void draw_side(struct compare_page *c, const char *name, const struct side_samples *samples,
                      const struct side *side, enum picture_role role) {
    struct picture_rect lane = sheet_lane(&c->sheet, name);
    picture_group(c->sheet.p, name);
    interval(c, lane, role, 100 * side->loss.low, 100 * side->rate, 100 * side->loss.high);
    if (samples->count < 2)
        return;
    struct picture_rect each = sheet_lane(&c->sheet, "each recording");
    double middle = (each.top + each.bottom) / 2;
    for (uint32_t i = 0; i < samples->count; i++) {
        double rate = rate_of(samples->sample[i]);
        if (!isnan(rate))
            picture_mark(c->sheet.p, role, SHAPE_RING, axis_at(&c->x, rate), middle, 4);
    }
}

/* Two lanes at most a side, whose names must differ for who only hears them. */
static void draw_sides(struct compare_page *c) {
    const struct compare *found = c->facts->found;
    double top = fmax(greatest(c->facts->a, &found->a), greatest(c->facts->b, &found->b));
    axis_linear(&c->x, 0, fmin(fmax(top, 0.1), 100), sheet_most_x(&c->sheet));
    axis_place(&c->x, c->sheet.left, c->sheet.right);
    double from = c->sheet.y;
    draw_side(c, "before (A)", c->facts->a, &found->a, ROLE_SECOND);
    draw_side(c, "after (B)", c->facts->b, &found->b, ROLE_ACCENT);
    c->sheet.y += 2;
    sheet_axis_x(&c->sheet, (struct picture_rect){c->sheet.left, from, c->sheet.right, c->sheet.y},
                 &c->x, "loss, % of packets");
}

static void draw_difference(struct compare_page *c) {
    const struct compare *found = c->facts->found;
    double low = 100 * found->difference.limits.low, high = 100 * found->difference.limits.high;
    struct sheet *s = &c->sheet;
    axis_linear(&c->x, fmin(low, 0), fmax(high, 0), sheet_most_x(s));
    axis_place(&c->x, s->left, s->right);
    double from = s->y;
    struct picture_rect lane = sheet_lane(s, "B less A");
    picture_group(s->p, "the difference with its interval");
    double zero = axis_at(&c->x, 0);
    picture_line(s->p, (struct picture_pen){ROLE_MUTED, 1.5, DASH_SOLID}, zero, lane.top - 3, zero,
                 lane.bottom + 2);
    interval(c, lane, ROLE_INK, low, 100 * found->difference.rate, high);
    s->y += 2;
    sheet_axis_x(s, (struct picture_rect){s->left, from, s->right, s->y}, &c->x,
                 "difference of loss, points");
}

static void tell(struct compare_page *c) {
    const struct compare *found = c->facts->found;
    struct sheet *s = &c->sheet;
    sheet_words(s, ROLE_INK, "B against A: %s.", compare_verdict_name(found->verdict));
    if (found->verdict == COMPARE_REFUSED) {
        sheet_words(s, ROLE_INK, "Why: %s.", compare_lack_words(found));
        return;
    }
    char span[PERCENT_SPAN_MAX];
    percent_between(span, 100 * found->difference.limits.low, " to ",
                    100 * found->difference.limits.high, true);
    sheet_words(s, ROLE_INK, "Loss %.2f %% (A), %.2f %% (B); B less A %+.2f points, %s (95 %%).",
                100 * found->a.rate, 100 * found->b.rate, 100 * found->difference.rate, span);
    if (found->verdict == COMPARE_ALIKE || found->verdict == COMPARE_UNDECIDED)
        sheet_words(s, ROLE_INK,
                    found->verdict == COMPARE_ALIKE
                        ? "No difference larger than %.2f points (95 %%)."
                        : "A difference of up to %.2f points isn't ruled out (95 %%).",
                    100 * found->largest);
    if (compare_doubt_name(found->doubt))
        sheet_words(s, ROLE_WARN, "The difference may be drift: %s.",
                    compare_doubt_name(found->doubt));
}

void picture_compare(struct picture *p, enum picture_size size,
                     const struct picture_compare *facts) {
    struct compare_page c = {.facts = facts};
    picture_init(p, size);
    sheet_begin(&c.sheet, p, "Did the change help?", true);
    picture_about(p, "Loss of %u recordings before a change and %u after it: %s.", facts->a->count,
                  facts->b->count, compare_verdict_name(facts->found->verdict));
    tell(&c);
    if (facts->found->verdict != COMPARE_REFUSED) {
        draw_sides(&c);
        draw_difference(&c);
        const struct sheet_key keys[] = {
            {SAMPLE_MARK, ROLE_INK, SHAPE_DIAMOND, "with its interval, 95 %"},
            {SAMPLE_MARK, ROLE_INK, SHAPE_RING, "one recording"},
        };
        sheet_keys(&c.sheet, keys, facts->a->count + facts->b->count > 2 ? 2 : 1);
    }
    for (unsigned i = 0; compare_note(facts->found, i); i++)
        sheet_words(&c.sheet, ROLE_MUTED, "Note: %s.", compare_note(facts->found, i));
    sheet_end(&c.sheet);
}
