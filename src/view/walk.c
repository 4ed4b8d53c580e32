#include "view/walk.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>

#include "base/text.h"
#include "view/figure.h"
#include "view/lay.h"
#include "view/parts.h"

const char walk_caution[] =
    "Before you walk: failsafe trial passed? Model held or tied down, propeller off or wheels "
    "free, a helper beside it. Mind traffic, water and people.";

enum { LONG_S = 600 }; /* a longer forecast is told as "long" */

static const struct walk_stop *stop_here(const struct walk *w) {
    return w->here ? &w->stop[w->count - 1] : NULL;
}

static int title_draw(struct grid *g, const struct walk_view *v, int row, int column, int right) {
    const struct walk_stop *s = stop_here(v->walk);
    char title[96], span[FIGURE_MAX];
    if (s != NULL) {
        figure_span(span, s->to_ms - s->from_ms);
        snprintf(title, sizeof title, "walk: stop %" PRIu32 " at %.4g m%s%s, %s here",
                 v->walk->count, s->distance_m, s->facing[0] != '\0' ? ", facing " : "", s->facing,
                 span);
    } else if (v->next_m >= 0) {
        snprintf(title, sizeof title, "walk: under way, next stop at %.4g m", v->next_m);
    } else {
        snprintf(title, sizeof title,
                 v->planned ? "walk: under way, the plan is done" : "walk: under way");
    }
    lay_heading(g, row, column, right, title);
    return row + 1;
}

static void loss_draw(struct grid *g, const struct walk_stop *s, int row, int column, int right) {
    struct packet_count count = {.got = s->got, .lost = s->lost, .known = s->counted};
    struct loss_interval interval = {.kind = LOSS_UNKNOWN};
    char loss[FIGURE_MAX], bounds[FIGURE_MAX], gap[FIGURE_MAX] = "unknown";
    count.high_known = s->counted && walk_loss_interval(s, &interval);
    count.low_known = count.high_known && interval.kind == LOSS_RUNS;
    count.low = interval.low;
    count.high = interval.high;
    figure_loss(loss, &count);
    figure_bounds(bounds, &count);
    if (s->longest_gap_ms != TIME_UNKNOWN)
        figure_span(gap, s->longest_gap_ms);
    int at = lay_text(g, row, column, right, TONE_HEADING, "loss ");
    at = lay_text(g, row, at, right, figure_few(&count) ? TONE_FAINT : TONE_PLAIN, loss);
    at = lay_text(g, row, at, right, TONE_FAINT, bounds);
    at = lay_text(g, row, at, right, TONE_HEADING, "  gap ");
    at = lay_text(g, row, at, right, TONE_PLAIN, gap);
    at = lay_text(g, row, at, right, TONE_HEADING, "  failsafe ");
    if (s->failsafe_known)
        lay_format(g, row, at, right, s->failsafes > 0 ? TONE_TROUBLE : TONE_PLAIN, "%" PRIu64,
                   s->failsafes);
    else
        lay_text(g, row, at, right, TONE_FAINT, "unknown");
}

/* How much longer, in seconds that a person can count. */
static void wanted_draw(struct grid *g, const struct walk_view *v, const struct walk_stop *s,
                        int row, int column, int right) {
    double left = walk_wanted_s(s, &v->walk->limits, v->rate_hz);
    char text[96];
    if (v->due_ms != TIME_UNKNOWN)
        snprintf(text, sizeof text, "stay %.0f s more%s",
                 ceil(fmax(0, (double)(v->due_ms - s->to_ms) / 1000)),
                 left == 0 ? "; the packets are enough already" : "");
    else if (left < 0)
        snprintf(text, sizeof text, "how long to stay is unknown: no packet rate");
    else if (left == 0)
        snprintf(text, sizeof text, "ENOUGH: the packets decide; walk on");
    else if (left > LONG_S)
        snprintf(text, sizeof text, "the loss is near the limit: many minutes would not decide it");
    else
        snprintf(text, sizeof text, "about %.0f s more until the packets are enough", ceil(left));
    lay_text(g, row, column, right, left == 0 ? TONE_GOOD : TONE_HEADING, text);
}

static void under_way_draw(struct grid *g, const struct walk_view *v, int row, int column,
                           int right) {
    char text[120];
    if (v->by_switch)
        snprintf(text, sizeof text,
                 "channel %" PRIu32 " to its other end for a second and back marks the stop",
                 v->channel);
    else
        snprintf(text, sizeof text, "s marks a stop%s",
                 v->next_m >= 0 ? ", . the planned one" : "");
    lay_text(g, row, column, right, TONE_PLAIN, text);
}

/* What whoever walks should mind just now. */
static void advice_draw(struct grid *g, const struct walk *w, int row, int column, int right) {
    const struct walk_stop *last = w->count > 0 ? &w->stop[w->count - 1] : NULL;
    if (w->here)
        lay_text(g, row, column, right, TONE_CAUTION,
                 "shift a metre or two and turn slowly here: a fade isn't the distance");
    else if (last != NULL && last->died)
        lay_format(g, row, column, right, TONE_TROUBLE,
                   "THE LINK DIED at %.4g m: come nearer, step by step", last->distance_m);
    else
        lay_text(g, row, column, right, TONE_CAUTION, "mind traffic, water and people");
}

/* In as many rows as there are; nothing was marked yet, so they are free. */
static void caution_draw(struct grid *g, int row, int end, int column, int right) {
    const char *text = walk_caution;
    while (row < end && *text != '\0') {
        const char *line = text;
        size_t len = text_fill(line, (size_t)(right - column), &text);
        lay_format(g, row++, column, right, TONE_CAUTION, "%.*s", (int)len, line);
    }
}

/* "25 m held", "40 m FAILED", newest last. */
static int stop_draw(struct grid *g, const struct walk *w, const struct walk_stop *s, int row,
                     int column, int right) {
    static const struct {
        const char *word;
        enum tone tone;
    } told[] = {[WALK_HELD] = {"held", TONE_GOOD},
                [WALK_FAILED] = {"FAILED", TONE_TROUBLE},
                [WALK_DOUBTFUL] = {"not shown", TONE_CAUTION},
                [WALK_NOT_SHOWN] = {"not shown", TONE_FAINT},
                [WALK_EMPTY] = {"no packets", TONE_FAINT}};
    enum walk_verdict verdict = walk_verdict(s, &w->limits);
    column = lay_format(g, row, column, right, TONE_PLAIN, "%.4g m%s ", s->distance_m,
                        s->facing[0] != '\0' ? " turned" : "");
    return lay_text(g, row, column, right, told[verdict].tone, told[verdict].word);
}

enum { STOP_COLUMNS = 19 };

static void finished_draw(struct grid *g, const struct walk *w, struct place at) {
    int across = at.columns / STOP_COLUMNS, room = across * at.rows;
    int finished = (int)w->count - (w->here ? 1 : 0);
    int first = finished > room ? finished - room : 0;
    for (int i = first; i < finished; i++) {
        int place = i - first, column = at.column + place % across * STOP_COLUMNS;
        stop_draw(g, w, &w->stop[i], at.row + place / across, column, column + STOP_COLUMNS - 1);
    }
}

void walk_draw(struct grid *g, const struct walk_view *v, struct place at) {
    int right = at.column + at.columns, end = at.row + at.rows;
    const struct walk_stop *s = stop_here(v->walk);
    int row = title_draw(g, v, at.row, at.column, right);
    if (s != NULL && row < end)
        loss_draw(g, s, row++, at.column, right);
    if (s != NULL && row < end)
        wanted_draw(g, v, s, row++, at.column, right);
    if (s == NULL && row < end)
        under_way_draw(g, v, row++, at.column, right);
    if (v->walk->count == 0)
        caution_draw(g, row, end, at.column, right);
    else if (row < end)
        advice_draw(g, v->walk, row++, at.column, right);
    if (row < end && at.columns >= STOP_COLUMNS)
        finished_draw(g, v->walk, (struct place){row, at.column, end - row, at.columns});
}
