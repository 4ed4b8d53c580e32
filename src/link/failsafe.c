#include "link/failsafe.h"

#include <string.h>

static const struct time_bounds unknown = {TIME_UNKNOWN, TIME_UNKNOWN};

void failsafe_init(struct failsafe *f) {
    memset(f, 0, sizeof *f);
    f->report_ms = f->good_ms = TIME_UNKNOWN;
    f->idle_since = unknown;
}

static struct failsafe_event *newest(struct failsafe *f) {
    return f->open && f->count > 0 ? &f->event[f->count - 1] : NULL;
}

static void keep(struct failsafe *f, struct time_bounds between, bool unseen) {
    if (f->count == FAILSAFE_EVENTS_MAX)
        return;
    f->event[f->count++] = (struct failsafe_event){.enter = between,
                                                   .leave = unseen ? between : unknown,
                                                   .unseen = unseen,
                                                   .packet_ms = TIME_UNKNOWN,
                                                   .throttle = unknown,
                                                   .again = unknown};
}

static int64_t leave(struct failsafe *f, struct time_bounds between) {
    struct failsafe_event *e = newest(f);
    f->open = false;
    if (e == NULL)
        return TIME_UNKNOWN;
    e->leave = between;
    return between.high_ms == TIME_UNKNOWN || e->enter.low_ms == TIME_UNKNOWN
               ? TIME_UNKNOWN
               : between.high_ms - e->enter.low_ms;
}

/* Enters `entries` times between two reports; the last of them lasts, or none does. */
static void enter(struct failsafe *f, uint64_t entries, bool lasts, struct time_bounds between,
                  int64_t packet_ms) {
    f->entries += entries;
    for (uint64_t i = lasts ? 1 : 0; i < entries && f->count < FAILSAFE_EVENTS_MAX; i++)
        keep(f, between, true);
    f->open = lasts && entries > 0 && f->count < FAILSAFE_EVENTS_MAX;
    if (!f->open)
        return;
    keep(f, between, false);
    newest(f)->packet_ms = packet_ms;
    /* Idle since before the last packet proves nothing of this failsafe. */
    if (f->idle && packet_ms != TIME_UNKNOWN && f->idle_since.low_ms != TIME_UNKNOWN &&
        f->idle_since.high_ms > packet_ms)
        newest(f)->throttle = f->idle_since;
}

static void follow_throttle(struct failsafe *f, const struct failsafe_view *view,
                            struct time_bounds between) {
    bool idle = view->throttle == THROTTLE_IDLE;
    if (view->throttle == THROTTLE_UNKNOWN) {
        f->idle_known = f->idle = false;
        f->idle_since = unknown;
        return;
    }
    if (f->idle_known && idle && !f->idle) {
        f->idle_since = between;
        if (newest(f) != NULL && newest(f)->throttle.low_ms == TIME_UNKNOWN)
            newest(f)->throttle = between;
    } else if (!f->idle_known) {
        f->idle_since = unknown;
    }
    f->idle_known = true;
    f->idle = idle;
}

/* Entries since the report before, by the counter; -1 where it can't tell. */
static int64_t counted_entries(struct failsafe *f, const struct report *r, bool fresh_boot) {
    if (!report_has(r, KEY_FSN)) {
        f->counter_known = false;
        return -1;
    }
    uint32_t base = fresh_boot ? 0 : f->entry_counter;
    bool known = f->counter_known || fresh_boot;
    f->entry_counter = r->fsn;
    f->counter_known = true;
    return known ? (int64_t)(uint32_t)(r->fsn - base) : -1;
}

/* Entries to tell apart from the flag and the counter, and what the newest packet was before. */
static void follow_flag(struct failsafe *f, int64_t counted, const struct failsafe_view *view,
                        bool was, struct time_bounds between, struct failsafe_step *step) {
    bool now = f->active;
    uint64_t entered = counted >= 0 ? (uint64_t)counted : (now && !was && view->heard ? 1 : 0);
    if (was && (!now || entered > 0)) {
        step->lasted_ms = leave(f, between);
        step->left = true;
    }
    if (entered == 0)
        return;
    enter(f, entered, now, between, view->good_ms);
    step->entered = entered;
}

struct failsafe_step failsafe_report(struct failsafe *f, const struct report *r, int64_t link_ms,
                                     const struct failsafe_view *view) {
    struct failsafe_step step = {.lasted_ms = TIME_UNKNOWN};
    struct time_bounds between = {f->report_ms, link_ms};
    int64_t counted = counted_entries(f, r, view->fresh_boot);
    bool first = !f->known && !view->fresh_boot;
    bool was = f->known && f->active;
    f->report_ms = link_ms;
    follow_throttle(f, view, between);
    if (newest(f) != NULL && view->arrived && newest(f)->again.low_ms == TIME_UNKNOWN)
        newest(f)->again = between;
    if (!report_has(r, KEY_FS)) {
        f->known = false;
        if (counted > 0)
            enter(f, (uint64_t)counted, false, between, TIME_UNKNOWN);
        step.entered = counted > 0 ? (uint64_t)counted : 0;
    } else {
        f->known = true;
        f->active = r->fs != 0;
        /* What the first report of a connection shows began before it. */
        follow_flag(f, first && counted < 0 ? 0 : counted, view, was, between, &step);
    }
    f->good_ms = view->good_ms;
    return step;
}

void failsafe_restart(struct failsafe *f) {
    f->open = false;
    f->good_ms = TIME_UNKNOWN;
    f->active = false; /* whether reports tell of failsafe is known as before */
    f->counter_known = false;
}

static bool is_known(struct time_bounds b) {
    return b.low_ms != TIME_UNKNOWN && b.high_ms != TIME_UNKNOWN;
}

/* From one time, known to lie within `from`, to another; never less than nothing. */
static struct time_bounds between_of(struct time_bounds from, struct time_bounds to) {
    if (!is_known(from) || !is_known(to))
        return unknown;
    int64_t low = to.low_ms - from.high_ms, high = to.high_ms - from.low_ms;
    return (struct time_bounds){low > 0 ? low : 0, high > 0 ? high : 0};
}

/* The newest packet's time is a report's t less its age, both cut to whole ms. */
static struct time_bounds packet_of(const struct failsafe_event *e) {
    if (e->packet_ms == TIME_UNKNOWN)
        return unknown;
    return (struct time_bounds){e->packet_ms - 1, e->packet_ms + 1};
}

struct time_bounds failsafe_delay(const struct failsafe_event *e) {
    return between_of(packet_of(e), e->enter);
}

struct time_bounds failsafe_throttle_delay(const struct failsafe_event *e) {
    return between_of(packet_of(e), e->throttle);
}

struct time_bounds failsafe_recovery(const struct failsafe_event *e) {
    return between_of(e->again, e->leave);
}
