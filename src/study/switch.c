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

enum { APART_US = 300 }; /* of the usual travel of 1000: well over any jitter */

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

/* How long it was held, at most: a begin that fell into a gap counts from the gap's begin. */
static int64_t held_at_most(const struct switch_finder *f, int64_t now_ms) {
    bool gap = f->from_ms - f->rest_ms > SWITCH_GAP_MS;
    return now_ms - (gap ? f->rest_ms : f->from_ms);
}

/* After an outage the press was possibly longer than what would be a stop. */
static bool is_stop(const struct switch_finder *f, int64_t now_ms) {
    int64_t held = held_at_most(f, now_ms);
    return !f->told && held >= SWITCH_SHORT_MS && (!f->broken || held < SWITCH_LONG_MS);
}

static enum switch_found still_away(struct switch_finder *f, int32_t value, int64_t now_ms) {
    int64_t held = now_ms - f->since_ms;
    if (held >= SWITCH_SETTLED_MS) {
        f->rest = value;
        f->rest_ms = now_ms;
        f->away = false;
        return SWITCH_NOTHING;
    }
    if (f->told || held < SWITCH_LONG_MS)
        return SWITCH_NOTHING;
    f->told = true;
    return SWITCH_LEAVE;
}

static void begin_away(struct switch_finder *f, int64_t now_ms) {
    f->away = true;
    f->told = f->broken = false;
    f->from_ms = f->since_ms = now_ms;
}

enum switch_found switch_feed(struct switch_finder *f, const struct moment *m) {
    int32_t value;
    if (m->event->kind == EVENT_ID)
        take_span(f, &m->event->id);
    if (!fresh_value(f, m, &value))
        return SWITCH_NOTHING;
    int64_t now_ms = m->link_ms;
    bool stale = f->fresh_ms != TIME_UNKNOWN && now_ms - f->fresh_ms > SWITCH_STALE_MS;
    f->fresh_ms = now_ms;
    if (!f->rest_known) {
        f->rest_known = true;
        f->rest = value;
        f->rest_ms = now_ms;
    }
    int64_t off = (int64_t)value - f->rest;
    bool apart = off > f->apart || off < -f->apart, was_away = f->away;
    f->broken |= stale;
    if (apart && !was_away)
        begin_away(f, now_ms);
    if (apart && stale) /* let go and pressed again meanwhile, perhaps */
        f->since_ms = now_ms;
    if (apart)
        return still_away(f, value, now_ms);
    bool stop = was_away && is_stop(f, now_ms);
    f->away = false;
    f->rest_ms = now_ms;
    return stop ? SWITCH_STOP : SWITCH_NOTHING;
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
