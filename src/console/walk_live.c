#include "console/walk_live.h"

#include "app/walk_file.h"
#include "base/whole.h"

void walk_live_init(struct walk_live *l, const struct options *o) {
    struct walk_limits limits;
    walk_file_limits(o, &limits);
    walk_init(&l->walk, &limits);
    l->by_switch = o->switch_channel > 0;
    l->planned = o->planned || l->by_switch;
    walker_init(&l->walker, l->by_switch ? o->switch_channel - 1 : 0, &o->plan,
                whole_i64(o->stay_s * 1000));
    l->shown = l->planned;
}

double walk_live_next(const struct walk_live *l) {
    bool more = l->planned && l->walker.next < l->walker.plan.count;
    return more ? l->walker.plan.metres[l->walker.next] : -1;
}

/* A stop marked by hand: the plan goes on behind it, and the switch's stop is over. */
static void marked_by_hand(struct walk_live *l, const struct mark *mark) {
    l->walker.due_ms = TIME_UNKNOWN;
    if (mark->type != MARK_STOP || mark->distance_m < 0)
        return;
    if (mark->distance_m == walk_live_next(l)) {
        l->walker.next++;
        return;
    }
    l->walker.next = 0;
    while (l->walker.next < l->walker.plan.count &&
           l->walker.plan.metres[l->walker.next] <= mark->distance_m)
        l->walker.next++;
}

static void find(struct walk_live *l, const struct moment *m) {
    double metres = -1;
    enum switch_found found = walker_feed(&l->walker, m, !l->walk.here, &metres);
    if (found == SWITCH_NOTHING || (found == SWITCH_LEAVE && !l->walk.here))
        return;
    l->mark_due = true;
    l->mark = (struct mark){.type = found == SWITCH_STOP ? MARK_STOP : MARK_LEAVE,
                            .distance_m = metres,
                            .text = slice_of("")};
    l->bells = found == SWITCH_STOP ? BELLS_STOP : BELLS_ENOUGH;
}

void walk_live_moment(struct walk_live *l, const struct moment *m) {
    uint32_t before = l->walk.count;
    bool was_here = l->walk.here, ours = l->mark_due;
    l->mark_due = false;
    walk_feed(&l->walk, m);
    if (l->walk.count > before)
        l->shown = true;
    if (l->walk.count > before || !l->walk.here)
        l->told = false;
    if (was_here && !l->walk.here && l->walk.stop[l->walk.count - 1].died)
        l->bells = BELLS_DIED;
    if (m->event->kind == EVENT_MARK && !ours)
        marked_by_hand(l, &m->event->mark);
    if (l->by_switch)
        find(l, m);
}

bool walk_live_mark(struct walk_live *l, struct event *out) {
    if (!l->mark_due)
        return false;
    *out = (struct event){.kind = EVENT_MARK, .host_us = TIME_UNKNOWN, .mark = l->mark};
    return true;
}

const struct walk_view *walk_live_view(struct walk_live *l, int64_t now_ms, double rate_hz,
                                       bool paused, int *bells) {
    const struct walk_stop *s = l->walk.here ? &l->walk.stop[l->walk.count - 1] : NULL;
    l->walk.limits.rate_hz = rate_hz;
    if (now_ms != TIME_UNKNOWN)
        walk_advance(&l->walk, now_ms);
    if (s && !l->by_switch && !l->told && walk_wanted_s(s, &l->walk.limits, rate_hz) == 0) {
        l->told = true;
        l->bells = BELLS_ENOUGH;
    }
    *bells = l->bells;
    l->bells = 0;
    if (paused && !l->paused)
        l->frozen = l->walk;
    l->paused = paused;
    l->view = (struct walk_view){.walk = paused ? &l->frozen : &l->walk,
                                 .rate_hz = rate_hz,
                                 .planned = l->planned,
                                 .next_m = walk_live_next(l),
                                 .by_switch = l->by_switch,
                                 .channel = l->walker.finder.channel + 1,
                                 .due_ms = l->walker.due_ms};
    return l->shown && !l->hidden ? &l->view : NULL;
}
