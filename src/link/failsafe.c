#include "link/failsafe.h"

#include <string.h>

void failsafe_init(struct failsafe *f) {
    memset(f, 0, sizeof *f);
    f->report_ms = TIME_UNKNOWN;
}

static void enter(struct failsafe *f, int64_t low, int64_t high, bool unseen) {
    f->entries++;
    if (f->count == FAILSAFE_EVENTS_MAX)
        return;
    f->event[f->count++] = (struct failsafe_event){.enter_low_ms = low,
                                                   .enter_high_ms = high,
                                                   .exit_low_ms = unseen ? low : TIME_UNKNOWN,
                                                   .exit_high_ms = unseen ? high : TIME_UNKNOWN,
                                                   .unseen = unseen};
}

static int64_t leave(struct failsafe *f, int64_t low, int64_t high) {
    if (!f->open || f->count == 0 || f->event[f->count - 1].exit_high_ms != TIME_UNKNOWN)
        return TIME_UNKNOWN;
    struct failsafe_event *e = &f->event[f->count - 1];
    e->exit_low_ms = low;
    e->exit_high_ms = high;
    return high == TIME_UNKNOWN || e->enter_low_ms == TIME_UNKNOWN ? TIME_UNKNOWN
                                                                   : high - e->enter_low_ms;
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

struct failsafe_step failsafe_report(struct failsafe *f, const struct report *r, int64_t link_ms,
                                     bool heard, bool fresh_boot) {
    struct failsafe_step step = {.lasted_ms = TIME_UNKNOWN};
    int64_t counted = counted_entries(f, r, fresh_boot);
    bool was = f->known && f->active;
    bool began_here = f->known || fresh_boot;
    int64_t from = f->report_ms;
    f->report_ms = link_ms;
    if (!report_has(r, KEY_FS)) {
        f->known = false;
        for (; counted > 0 && step.entered < FAILSAFE_EVENTS_MAX; counted--, step.entered++)
            enter(f, from, link_ms, true);
        return step;
    }
    f->known = true;
    f->active = r->fs != 0;
    bool now = f->active;
    /* Of `counted` entries the last is the one that lasts; the others came and went unseen. */
    int64_t entered = counted >= 0 ? counted : (now && !was && heard && began_here ? 1 : 0);
    if (was && (!now || entered > 0)) {
        step.lasted_ms = leave(f, from, link_ms);
        step.left = 1;
        f->open = false;
    }
    for (int64_t i = 0; i < entered; i++) {
        bool lasts = now && i == entered - 1;
        enter(f, from, link_ms, !lasts);
        f->open = lasts;
        step.entered++;
        step.left += lasts ? 0u : 1u;
    }
    return step;
}

void failsafe_reboot(struct failsafe *f) {
    f->open = false;
    f->active = false; /* whether reports tell of failsafe is known as before */
    f->counter_known = false;
}
