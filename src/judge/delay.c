#include "judge/delay.h"

enum {
    HALF_MS = 500,       /* the clocks are compared over halves of seconds */
    UNTOLD_MS = 2000,    /* and packets watched over spans of 2 s */
    STALE = 2,           /* and so many halves later anew */
    LATE_MS = 100,       /* a line may come so late, or a clock be so coarse, without a reason */
    DRIFT_PERCENT = 10,  /* and an uncalibrated oscillator be so far off (common practice) */
    AFTERWARDS_MS = 3000 /* lines that were held up are through by then */
};

static bool offset_of(const struct delay_report *r, int64_t *offset_us) {
    if (!r->own_clock || r->host_us == TIME_UNKNOWN || r->link_ms == TIME_UNKNOWN)
        return false;
    *offset_us = r->host_us - r->link_ms * 1000;
    return true;
}

static int64_t larger(int64_t a, int64_t b) {
    return a > b ? a : b;
}

static void note_packet(struct delay_clocks *c, const struct delay_report *r) {
    int64_t span = r->link_ms / UNTOLD_MS, gap = r->link_ms - c->packet_ms;
    if (!r->arrived || r->link_ms == TIME_UNKNOWN)
        return;
    bool fresh = !c->packet_known || span < c->span || span - c->span >= STALE;
    int64_t untold = c->packet_known && gap > 0 && gap < UNTOLD_MS ? gap : 0;
    c->untold_before = fresh ? 0 : span > c->span ? c->untold : c->untold_before;
    c->untold = fresh || span > c->span ? untold : larger(untold, c->untold);
    c->span = span;
    c->packet_ms = r->link_ms;
    c->packet_known = true;
}

static void note_clocks(struct delay_clocks *c, const struct delay_report *r) {
    int64_t offset_us, half;
    if (!offset_of(r, &offset_us)) {
        c->known = false;
        return;
    }
    half = r->link_ms / HALF_MS;
    if (!c->known || half < c->half || half - c->half >= STALE) {
        c->known = true;
        c->half = half;
        c->newest = c->earlier = offset_us;
    } else if (half > c->half) {
        c->half = half;
        c->earlier = c->newest;
        c->newest = offset_us;
    } else if (offset_us < c->newest) {
        c->newest = offset_us;
    }
}

void delay_clocks_report(struct delay_clocks *c, const struct delay_report *r) {
    note_clocks(c, r);
    note_packet(c, r);
}

static int64_t age_ms(const struct delay_report *r) {
    return (int64_t)r->age_ms;
}

void delay_begin(struct delay_from *f, const struct delay_clocks *c, const struct delay_report *r) {
    *f = (struct delay_from){.known = r->link_ms != TIME_UNKNOWN && r->before_ms != TIME_UNKNOWN,
                             .at = {r->before_ms, r->link_ms},
                             .host_us = r->host_us,
                             .own_clock = r->own_clock,
                             .has_age = r->has_age,
                             .age_ms = r->age_ms,
                             .offset_known = c->known && r->own_clock,
                             .least_us = c->newest < c->earlier ? c->newest : c->earlier};
    f->offset_known = f->offset_known && offset_of(r, &f->offset_us);
    int64_t untold = larger(c->untold, c->untold_before);
    if (f->known && r->link_ms - untold < f->at.low_ms)
        f->at.low_ms = r->link_ms - untold;
    /* The packet came after the report before. */
    f->age_lies = f->known && r->has_age && age_ms(r) > r->link_ms - r->before_ms + LATE_MS;
}

/* Both are readings of one clock, so they keep together to a few ms. */
void delay_follow(struct delay_from *f, const struct delay_report *r) {
    enum { TICKS_MS = 5 };
    if (!f->known || !f->has_age || !r->has_age || r->link_ms == TIME_UNKNOWN)
        return;
    int64_t grew = age_ms(r) - (int64_t)f->age_ms, passed = r->link_ms - f->at.high_ms;
    int64_t allowed = f->own_clock ? TICKS_MS + passed / 100 : LATE_MS + passed / DRIFT_PERCENT;
    f->age_lies = f->age_lies || grew - passed > allowed || passed - grew > allowed;
}

void delay_mark(struct delay_to *to, const struct delay_report *r) {
    *to = (struct delay_to){.known = r->link_ms != TIME_UNKNOWN && r->before_ms != TIME_UNKNOWN,
                            .at = {r->before_ms, r->link_ms},
                            .host_us = r->host_us,
                            .age_high_ms = r->has_age ? (int64_t)r->age_ms + 1 : -1};
    to->offset_known = offset_of(r, &to->late_us);
    to->least_us = to->late_us;
}

void delay_after(struct delay_to *to, const struct delay_report *r) {
    int64_t offset_us;
    if (!to->known || !to->offset_known || !offset_of(r, &offset_us) ||
        r->host_us - to->host_us > (int64_t)AFTERWARDS_MS * 1000)
        return;
    if (offset_us < to->least_us)
        to->least_us = offset_us;
}

static int64_t at_least_0(int64_t ms) {
    return ms > 0 ? ms : 0;
}

/* By the receiver's clock, or by the host's where there is no other. */
static struct delay_bounds by_link(const struct delay_from *f, const struct delay_to *to) {
    /* Either reading is cut to whole ms. */
    int64_t slack = f->own_clock ? 1 : LATE_MS;
    struct delay_bounds b = {.low_ms = at_least_0(to->at.low_ms - f->at.high_ms - slack),
                             .high_ms = at_least_0(to->at.high_ms - f->at.low_ms + slack),
                             .age_lies = f->age_lies};
    b.apart_ms = b.high_ms - b.low_ms;
    if (f->age_lies && to->age_high_ms > b.high_ms)
        b.high_ms = to->age_high_ms;
    return b;
}

struct delay_bounds delay_of(const struct delay_from *f, const struct delay_to *to) {
    struct delay_bounds b = {.low_ms = TIME_UNKNOWN, .high_ms = TIME_UNKNOWN};
    if (!f->known || !to->known)
        return b;
    b = by_link(f, to);
    if (!f->offset_known || !to->offset_known)
        return b;
    int64_t late_ms = (to->late_us - f->least_us) / 1000;
    int64_t grown_ms = (to->least_us - f->offset_us) / 1000;
    int64_t allowed_ms = LATE_MS + b.high_ms / DRIFT_PERCENT;
    b.clock_slow = grown_ms > allowed_ms;
    b.clock_fast = late_ms < -allowed_ms;
    b.late_ms = at_least_0(late_ms);
    b.high_ms += b.late_ms;
    if (b.clock_slow)
        b.low_ms += grown_ms - allowed_ms;
    else if (late_ms < 0)
        b.low_ms = at_least_0(b.low_ms + late_ms);
    return b;
}

void delay_add(struct delay_span *s, int64_t link_ms, int64_t host_us) {
    s->link_ms += link_ms;
    if (host_us == TIME_UNKNOWN)
        s->no_host = true;
    else
        s->host_us += host_us;
}

int64_t delay_span_ms(const struct delay_span *s) {
    int64_t host_ms = s->host_us / 1000;
    return s->no_host || s->link_ms < host_ms ? s->link_ms : host_ms;
}

int64_t delay_surely_ms(const struct delay_from *f, const struct delay_report *r) {
    if (!f->known || r->link_ms == TIME_UNKNOWN)
        return -1;
    int64_t link_ms = at_least_0(r->link_ms - f->at.high_ms);
    if (f->host_us == TIME_UNKNOWN || r->host_us == TIME_UNKNOWN)
        return link_ms;
    int64_t host_ms = at_least_0((r->host_us - f->host_us) / 1000);
    return host_ms < link_ms ? host_ms : link_ms;
}
