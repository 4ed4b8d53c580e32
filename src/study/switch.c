#include "study/switch.h"

#include "base/number.h"

/* --- the plan --------------------------------------------------------------------------------- */

void plan_default(struct plan *plan) {
    *plan = (struct plan){.count = 10, .metres = {5, 10, 20, 30, 40, 50, 60, 80, 100, 120}};
}

bool plan_parse(struct slice text, struct plan *out) {
    *out = (struct plan){0};
    while (text.at != NULL) {
        struct slice part = slice_cut(&text, ',');
        double metres;
        if (out->count == PLAN_MAX || number_decimal(part, &metres) != NUMBER_OK || metres < 0 ||
            metres > 1e6)
            return false;
        out->metres[out->count++] = metres;
    }
    return out->count > 0;
}

/* --- the switch ------------------------------------------------------------------------------- */

enum { APART_US = 300 }; /* of the usual travel of 1000: well over any tremble */

void switch_init(struct switch_finder *f, uint32_t channel) {
    *f = (struct switch_finder){.channel = channel, .apart = APART_US, .fresh_ms = TIME_UNKNOWN};
}

/* The channel as received with a fresh packet. */
static bool fresh_value(const struct switch_finder *f, const struct moment *m, int32_t *value) {
    const struct report *r = &m->event->report;
    if (m->event->kind != EVENT_REPORT || m->link_ms == TIME_UNKNOWN || !m->packets.arrived ||
        (report_has(r, KEY_FS) && r->fs != 0))
        return false;
    bool in = report_has(r, KEY_IN);
    if (f->channel >= (in ? r->in_count : r->ch_count))
        return false;
    *value = in ? r->in[f->channel] : r->ch[f->channel];
    return *value != CHANNEL_OFF;
}

/* In a raw unit the travel is what the receiver says. */
static void take_span(struct switch_finder *f, const struct identity *id) {
    if (!id->transmitter && identity_has(id, ID_SPAN) && id->span_high > id->span_low)
        f->apart = (id->span_high - id->span_low) * 3 / 10;
}

static enum switch_found back(struct switch_finder *f, int64_t now_ms) {
    int64_t held = now_ms - f->from_ms;
    f->away = false;
    return !f->told && held >= SWITCH_SHORT_MS ? SWITCH_STOP : SWITCH_NOTHING;
}

static enum switch_found still_away(struct switch_finder *f, int32_t value, int64_t now_ms) {
    int64_t held = now_ms - f->from_ms;
    if (held >= SWITCH_SETTLED_MS) {
        f->rest = value;
        f->away = false;
        return SWITCH_NOTHING;
    }
    if (f->told || held < SWITCH_LONG_MS)
        return SWITCH_NOTHING;
    f->told = true;
    return SWITCH_LEAVE;
}

enum switch_found switch_feed(struct switch_finder *f, const struct moment *m) {
    int32_t value;
    if (m->event->kind == EVENT_ID)
        take_span(f, &m->event->id);
    if (!fresh_value(f, m, &value))
        return SWITCH_NOTHING;
    bool stale = f->fresh_ms == TIME_UNKNOWN || m->link_ms - f->fresh_ms > SWITCH_STALE_MS;
    f->fresh_ms = m->link_ms;
    if (!f->rest_known) {
        f->rest_known = true;
        f->rest = value;
    }
    int64_t off = (int64_t)value - f->rest;
    bool apart = off > f->apart || off < -f->apart;
    if (f->away && !apart && !stale)
        return back(f, m->link_ms);
    if (f->away && apart && !stale)
        return still_away(f, value, m->link_ms);
    /* Begins to be held, or what was held before a silence is forgotten: it may have been let go
     * and pressed again meanwhile. */
    f->away = apart;
    f->told = apart && stale;
    f->from_ms = m->link_ms;
    return SWITCH_NOTHING;
}

/* --- the walker ------------------------------------------------------------------------------- */

void walker_init(struct walker *w, uint32_t channel, const struct plan *plan, int64_t stay_ms) {
    *w = (struct walker){.plan = *plan, .stay_ms = stay_ms, .due_ms = TIME_UNKNOWN};
    switch_init(&w->finder, channel);
}

enum switch_found walker_feed(struct walker *w, const struct moment *m, bool died, double *metres) {
    enum switch_found found = switch_feed(&w->finder, m);
    if (died)
        w->due_ms = TIME_UNKNOWN;
    if (found == SWITCH_STOP && w->next == w->plan.count) {
        w->beyond++;
        found = SWITCH_NOTHING;
    }
    if (found == SWITCH_STOP) {
        *metres = w->plan.metres[w->next++];
        w->presses++;
        w->due_ms = m->link_ms + w->stay_ms;
        return SWITCH_STOP;
    }
    bool report = m->event->kind == EVENT_REPORT && m->link_ms != TIME_UNKNOWN;
    if (report && w->due_ms != TIME_UNKNOWN && m->link_ms >= w->due_ms)
        found = SWITCH_LEAVE;
    if (found == SWITCH_LEAVE)
        w->due_ms = TIME_UNKNOWN;
    return found;
}
