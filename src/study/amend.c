#include "study/amend.h"

#include <math.h>
#include <string.h>

#include "base/number.h"
#include "base/whole.h"

/* --- one amendment ---------------------------------------------------------------------------- */

static const char *const keys[] = {
    [AMEND_ADD] = "amend_add", [AMEND_MOVE] = "amend_move", [AMEND_STRIKE] = "amend_strike"};

const char *amendment_key(enum amendment_kind kind) {
    return keys[kind];
}

bool amendment_kind_of(struct slice key, enum amendment_kind *kind) {
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++)
        if (slice_is(key, keys[i])) {
            *kind = (enum amendment_kind)i;
            return true;
        }
    return false;
}

static bool parse_seconds(struct slice text, int64_t *ms) {
    double seconds;
    if (number_decimal(text, &seconds) != NUMBER_OK || seconds < 0 || seconds > 1e9)
        return false;
    *ms = whole_i64(seconds * 1000 + 0.5);
    return true;
}

static bool parse_place(struct slice text, double *metres) {
    *metres = -1;
    if (slice_is(text, "leave"))
        return true;
    return number_decimal(text, metres) == NUMBER_OK && *metres >= 0 && *metres <= 1e6;
}

bool amendment_parse(enum amendment_kind kind, struct slice text, struct amendment *out) {
    struct slice rest = text, first = slice_cut(&rest, ':');
    *out = (struct amendment){.kind = kind, .at_ms = TIME_UNKNOWN, .distance_m = -1};
    if (kind == AMEND_STRIKE)
        return number_u32(text, &out->mark) == NUMBER_OK && out->mark > 0;
    if (rest.at == NULL)
        return false;
    if (kind == AMEND_ADD)
        return parse_seconds(first, &out->at_ms) && parse_place(rest, &out->distance_m);
    return number_u32(first, &out->mark) == NUMBER_OK && out->mark > 0 &&
           parse_seconds(rest, &out->at_ms);
}

static void put_seconds(struct text *out, int64_t ms) {
    text_format(out, "%lld.%03lld", (long long)(ms / 1000), (long long)(ms % 1000));
}

void amendment_text(const struct amendment *a, struct text *out) {
    if (a->kind != AMEND_ADD)
        text_u64(out, a->mark);
    if (a->kind == AMEND_MOVE)
        text_char(out, ':');
    if (a->kind != AMEND_STRIKE)
        put_seconds(out, a->at_ms);
    if (a->kind == AMEND_ADD && a->distance_m < 0)
        text_string(out, ":leave");
    else if (a->kind == AMEND_ADD)
        text_format(out, ":%.10g", a->distance_m);
}

/* --- the marks -------------------------------------------------------------------------------- */

static struct kept_mark *new_mark(struct marks *marks) {
    if (marks->count == MARKS_MAX) {
        marks->passed_over++;
        return NULL;
    }
    return &marks->mark[marks->count++];
}

void marks_take(struct marks *marks, const struct moment *m) {
    const struct mark *mark = &m->event->mark;
    if (m->event->kind != EVENT_MARK || mark->type == MARK_TWITCH || mark->type == MARK_TEXT)
        return;
    struct kept_mark *kept = new_mark(marks);
    if (!kept)
        return;
    *kept =
        (struct kept_mark){.type = mark->type, .distance_m = mark->distance_m, .at_ms = m->link_ms};
    if (mark->type == MARK_FACING)
        walk_copy_facing(kept->facing, mark->text);
}

bool marks_amend(struct marks *marks, const struct amendment *a) {
    if (a->kind != AMEND_ADD && a->mark > marks->count)
        return false;
    struct kept_mark *mark = a->kind == AMEND_ADD ? new_mark(marks) : &marks->mark[a->mark - 1];
    if (!mark)
        return false;
    if (a->kind == AMEND_ADD)
        *mark = (struct kept_mark){.type = a->distance_m < 0 ? MARK_LEAVE : MARK_STOP,
                                   .distance_m = a->distance_m,
                                   .at_ms = a->at_ms,
                                   .added = true};
    else if (a->kind == AMEND_MOVE) {
        mark->at_ms = a->at_ms;
        mark->moved = true;
    } else
        mark->struck = true;
    marks->amendments++;
    return true;
}

bool marks_about(struct marks *marks, struct slice key, struct slice value) {
    enum amendment_kind kind;
    struct amendment a;
    if (!amendment_kind_of(key, &kind))
        return false;
    if (!amendment_parse(kind, value, &a) || !marks_amend(marks, &a))
        marks->refused++;
    return true;
}

/* --- the second pass -------------------------------------------------------------------------- */

/* Insertion keeps marks of one moment in the order of their numbers. */
void marked_walk_init(struct marked_walk *w, struct walk *walk, const struct marks *marks) {
    *w = (struct marked_walk){.walk = walk, .marks = marks, .link_ms = TIME_UNKNOWN};
    for (uint32_t i = 0; i < marks->count; i++) {
        const struct kept_mark *mark = &marks->mark[i];
        if (mark->struck)
            continue;
        uint32_t at = w->count++;
        for (; at > 0 && marks->mark[w->order[at - 1]].at_ms > mark->at_ms; at--)
            w->order[at] = w->order[at - 1];
        w->order[at] = (uint16_t)i;
    }
}

static void mark_walk(struct walk *walk, const struct kept_mark *mark) {
    struct slice facing = slice_of(mark->facing);
    if (mark->type == MARK_LEAVE)
        walk_leave_at(walk, mark->at_ms);
    else if (mark->type == MARK_STOP)
        walk_stop_at(walk, mark->at_ms, mark->distance_m, facing);
    else if (walk->here)
        walk_stop_at(walk, mark->at_ms, walk->stop[walk->count - 1].distance_m, facing);
}

static void mark_until(struct marked_walk *w, int64_t before_ms) {
    for (; w->next < w->count; w->next++) {
        const struct kept_mark *mark = &w->marks->mark[w->order[w->next]];
        if (mark->at_ms >= before_ms)
            break;
        mark_walk(w->walk, mark);
    }
}

/* A mark at a report's own time comes after it, as a live one would. */
void marked_walk_feed(struct marked_walk *w, const struct moment *m) {
    if (m->link_ms != TIME_UNKNOWN)
        mark_until(w, m->link_ms);
    walk_feed_unmarked(w->walk, m);
    w->link_ms = m->link_ms;
}

void marked_walk_end(struct marked_walk *w) {
    if (w->link_ms != TIME_UNKNOWN)
        mark_until(w, w->link_ms + 1);
}
