#include "picture/picture_time.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/whole.h"
#include "text/unknown.h"

const char *time_words(char *out, size_t size, double ms) {
    long long whole = llround(ms / 1000);
    if (ms < 1000)
        snprintf(out, size, "%.0f ms", ms);
    else if (ms < 60000)
        snprintf(out, size, "%.1f s", ms / 1000);
    else if (ms < 3600000)
        snprintf(out, size, "%lld min %02lld s", whole / 60, whole % 60);
    else
        snprintf(out, size, "%lld h %02lld min", whole / 3600, whole / 60 % 60);
    return out;
}

bool time_begin(struct time_page *t, struct picture *p, const char *title,
                const struct picture_facts *facts) {
    *t = (struct time_page){.course = facts->course};
    sheet_begin(&t->sheet, p, title, true);
    if (facts->file)
        sheet_words(&t->sheet, ROLE_MUTED, "%s", facts->file);
    if (facts->s->reports == 0) {
        sheet_words(&t->sheet, ROLE_INK, "There is no report yet that could be drawn.");
        picture_about(p, "Nothing to draw: no report came.");
        return false;
    }
    if (t->course->end_ms <= 0 || t->course->bins == 0) {
        sheet_words(&t->sheet, ROLE_INK,
                    "There is no time to draw over: the receiver's lines have no t, and a capture "
                    "has no clock of its own.");
        picture_about(p, "Nothing to draw: time is unknown without t.");
        return false;
    }
    axis_time(&t->x, (double)t->course->end_ms, sheet_most_x(&t->sheet));
    axis_place(&t->x, t->sheet.left, t->sheet.right);
    /* A step of some 4 units on a desk, 3 on a phone, a dot on a terminal. */
    double least = p->size == PICTURE_CELLS ? 8 : p->size == PICTURE_NARROW ? 3 : 4;
    double bin =
        (t->sheet.right - t->sheet.left) * (double)t->course->bin_ms / (double)t->course->end_ms;
    t->group = bin >= least ? 1 : whole_u32(ceil(least / bin));
    return true;
}

uint32_t time_steps(const struct time_page *t) {
    return (t->course->bins + t->group - 1) / t->group;
}

void time_step(const struct time_page *t, uint32_t index, struct course_bin *bin, double *from_x,
               double *to_x) {
    uint32_t first = index * t->group;
    course_join(t->course, first, t->group, bin);
    *from_x = axis_at(&t->x, (double)first * (double)t->course->bin_ms);
    *to_x = axis_at(&t->x, (double)(first + t->group) * (double)t->course->bin_ms);
}

static const struct lane_look {
    const char *name, *brief; /* on the lane */
    const char *none;         /* in the sentence of what didn't happen */
    enum figure figure;       /* unknown when that is */
    bool point;
    enum picture_role role;
    enum picture_shape shape;
} looks[COURSE_LANES] = {
    [COURSE_OUTAGE] = {"outage", "outage", "outages over the limit", FIGURE_OUTAGES, false,
                       ROLE_BAD, SHAPE_DOT},
    [COURSE_FAILSAFE] = {"failsafe", "failsafe", "failsafe", FIGURE_FAILSAFE, false, ROLE_WARN,
                         SHAPE_DOT},
    [COURSE_RECEIVER] = {"receiver start", "rx start", "restarts of the receiver",
                         FIGURE_RECEIVER_RESTARTS, true, ROLE_BAD, SHAPE_DOWN},
    [COURSE_TRANSMITTER] = {"transmitter start", "tx start", "restarts of the transmitter",
                            FIGURE_TRANSMITTER_RESTARTS, true, ROLE_WARN, SHAPE_DIAMOND},
    [COURSE_CABLE] = {"lines missing", "no lines", "missing lines", FIGURE_MISSING_LINES, false,
                      ROLE_MUTED, SHAPE_DOT},
};

/* Outages are hatched, failsafe is full, what the cable ate is outlined: told apart without
 * colour as well, and by their lanes' names. */
static void draw_span(struct time_page *t, struct picture_rect lane, enum course_lane_id id,
                      const struct course_span *span) {
    const struct lane_look *look = &looks[id];
    struct picture *p = t->sheet.p;
    double from = axis_at(&t->x, (double)span->from_ms), to = axis_at(&t->x, (double)span->to_ms);
    double least = p->size == PICTURE_CELLS ? 4 : 2;
    if (look->point && to - from < 1) {
        picture_mark(p, look->role, look->shape, from, (lane.top + lane.bottom) / 2, 5);
        return;
    }
    if (to < from + least)
        to = from + least;
    struct picture_rect r = {from, lane.top + 2, to, lane.bottom - 2};
    if (p->size == PICTURE_CELLS)
        r = (struct picture_rect){from, lane.top, to, lane.bottom};
    if (id == COURSE_OUTAGE && to - from > 8 && p->size != PICTURE_CELLS) {
        picture_hatch(p, look->role, r);
        picture_line(p, (struct picture_pen){look->role, 1.5, DASH_SOLID}, r.left, r.top, r.left,
                     r.bottom);
        picture_line(p, (struct picture_pen){look->role, 1.5, DASH_SOLID}, r.right, r.top, r.right,
                     r.bottom);
    } else {
        picture_box(p, look->role, r);
    }
}

/* Too many to show each: how much of each step's time they took, as a column; the least that can
 * be seen where there was any. */
static void draw_density(struct time_page *t, struct picture_rect lane, enum course_lane_id id) {
    uint32_t most = 1;
    struct course_bin bin;
    double from, to, height = lane.bottom - lane.top;
    for (uint32_t i = 0; i < time_steps(t); i++) {
        time_step(t, i, &bin, &from, &to);
        most = bin.begun[id] > most ? bin.begun[id] : most;
    }
    for (uint32_t i = 0; i < time_steps(t); i++) {
        time_step(t, i, &bin, &from, &to);
        if (bin.begun[id] == 0 && bin.on_ms[id] == 0)
            continue;
        double share = looks[id].point
                           ? (double)bin.begun[id] / most
                           : (double)bin.on_ms[id] / (double)(t->group * t->course->bin_ms);
        picture_box(t->sheet.p, looks[id].role,
                    (struct picture_rect){from, lane.bottom - fmax(2, fmin(share, 1) * height), to,
                                          lane.bottom});
    }
}

static void draw_lane(struct time_page *t, enum course_lane_id id) {
    struct picture_rect lane =
        sheet_lane(&t->sheet, sheet_brief(&t->sheet) ? looks[id].brief : looks[id].name);
    const struct course_lane *l = &t->course->lane[id];
    picture_group(t->sheet.p, looks[id].name);
    if (l->more > 0) {
        draw_density(t, lane, id);
        return;
    }
    for (uint32_t i = 0; i < l->count; i++)
        draw_span(t, lane, id, &l->span[i]);
    if (l->open)
        draw_span(t, lane, id, &l->now);
}

static void join_words(char *out, size_t size, const char *word) {
    size_t len = strlen(out);
    snprintf(out + len, size - len, "%s%s", len > 0 ? ", " : "", word);
}

void time_lanes(struct time_page *t, const struct picture_facts *facts, struct picture_rect plot) {
    char none[200] = "", unknown[200] = "";
    bool crowded = false;
    for (int i = 0; i < COURSE_LANES; i++) {
        const char *why = unknown_why(facts->s, looks[i].figure);
        if (t->course->lane[i].count > 0 || t->course->lane[i].open) {
            draw_lane(t, (enum course_lane_id)i);
            crowded = crowded || t->course->lane[i].more > 0;
        } else if (!why) {
            join_words(none, sizeof none, looks[i].none);
        } else {
            char words[80];
            snprintf(words, sizeof words, strchr(why, ' ') ? "%s" : "%s (without %s)",
                     looks[i].none, why);
            join_words(unknown, sizeof unknown, words);
        }
    }
    struct picture_rect all = {t->sheet.left, plot.top, t->sheet.right, t->sheet.y + 2};
    t->sheet.y = all.bottom;
    sheet_axis_x(&t->sheet, all, &t->x, t->x.unit);
    if (crowded)
        sheet_words(&t->sheet, ROLE_MUTED,
                    "A lane with more than %d events shows how much of the time they took.",
                    COURSE_SPANS);
    if (none[0])
        sheet_words(&t->sheet, ROLE_MUTED, "None seen: %s.", none);
    if (unknown[0])
        sheet_words(&t->sheet, ROLE_MUTED, "Unknown: %s.", unknown);
}
