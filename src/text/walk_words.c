#include "text/walk_text.h"

#include <math.h>

#include "base/text.h"

enum { FEW_PACKETS = 300 };

void walk_plan(const struct walk *w, const struct reach *r, bool drive, struct walk_plan *out) {
    *out = (struct walk_plan){.share = drive ? 0.5 : 0.25, .planned_m = -1};
    out->failed = walk_first_failed(w, &out->first_failed_m);
    out->held = walk_held_to(w, &out->held_to_m);
    out->at_least = out->held && !out->failed;
    if (!out->held)
        return;
    double end = out->failed ? out->first_failed_m : out->held_to_m;
    double range = r->verdict == REACH_CLOSED ? r->low_m : r->at_most_m;
    double planned = out->share * fmin(end, range);
    out->by = range < end ? PLAN_RANGE : out->failed ? PLAN_FAILED : PLAN_HELD;
    out->by = planned > out->held_to_m ? PLAN_ALL_HELD : out->by;
    out->planned_m = fmin(planned, out->held_to_m);
}

void walk_plan_words(char *out, size_t size, const struct walk_plan *plan) {
    static const char *const of[] = {[PLAN_FAILED] = "the first failure",
                                     [PLAN_HELD] = "what held",
                                     [PLAN_RANGE] = "the lower end of the range"};
    struct text t;
    text_init(&t, out, size);
    if (plan->by == PLAN_ALL_HELD)
        text_string(&t, ": as far as it held");
    else
        text_format(&t, ": %s of %s (common practice)", plan->share < 0.5 ? "a quarter" : "half",
                    of[plan->by]);
}

void walk_loss(const struct walk_stop *stop, struct walk_loss *out) {
    uint64_t packets = stop->got + stop->lost;
    struct loss_interval interval;
    *out = (struct walk_loss){.low = -1, .high = -1};
    if (!stop->counted || packets == 0) {
        out->why = stop->counted ? "no packet at this stop" : "got";
        return;
    }
    out->known = true;
    out->rate = (double)stop->lost / (double)packets;
    if (!walk_loss_interval(stop, &interval)) {
        out->why = stop->got == 0 ? "no packet arrived" : "pat"; /* no order, and few blocks */
        return;
    }
    out->method = interval.method;
    out->low = interval.low;
    out->high = interval.high;
}

const char *walk_fault_name(unsigned fault) {
    switch (fault) {
    case WALK_LOSS:
        return "loss";
    case WALK_GAP:
        return "gap";
    case WALK_FAILSAFE:
        return "failsafe";
    case WALK_RESTART:
        return "restart";
    default:
        return "link died";
    }
}

const char *walk_verdict_word(enum walk_verdict verdict) {
    static const char *const words[] = {[WALK_HELD] = "held",
                                        [WALK_FAILED] = "failed",
                                        [WALK_DOUBTFUL] = "not shown",
                                        [WALK_NOT_SHOWN] = "not shown",
                                        [WALK_EMPTY] = "not counted"};
    return words[verdict];
}

/* ", gap" or ": loss" where it is the first. */
static void add(struct text *t, bool *any, const char *words) {
    text_string(t, *any ? ", " : ": ");
    text_string(t, words);
    *any = true;
}

static const char *open_loss(const struct walk_stop *s) {
    struct loss_interval interval;
    if (!s->counted || s->got + s->lost == 0)
        return "loss unknown without got";
    if (s->got + s->lost < FEW_PACKETS)
        return "few packets";
    if (!walk_loss_interval(s, &interval))
        return "loss (no interval without pat)";
    return s->lost > 0 ? "loss (its interval spans the limit)" : "few packets for this limit";
}

static const char *open_words(unsigned bit, const struct walk_stop *s) {
    if (bit == WALK_LOSS)
        return open_loss(s);
    if (bit == WALK_GAP)
        return s->longest_gap_ms == TIME_UNKNOWN ? "gaps unknown without age or gap"
                                                 : "gap (its bounds span the limit)";
    return "failsafe unknown without fs";
}

void walk_verdict_text(char *out, size_t size, const struct walk_stop *stop,
                       const struct walk_limits *limits) {
    unsigned unsure, faults = walk_judge(stop, limits, &unsure);
    enum walk_verdict verdict = walk_verdict(stop, limits);
    struct text t;
    bool any = false;
    text_init(&t, out, size);
    text_string(&t, walk_verdict_word(verdict));
    if (verdict == WALK_EMPTY) {
        text_string(&t, stop->to_ms <= stop->from_ms ? ": it lasted no time" : ": no packets");
        return;
    }
    for (unsigned bit = 1; bit <= WALK_DIED; bit <<= 1)
        if ((faults & ~unsure & bit) != 0)
            add(&t, &any, walk_fault_name(bit));
    if (stop->died)
        text_format(&t, ", no packet for %.1f s or more", (double)stop->dead_ms / 1000);
    for (unsigned bit = 1; bit <= WALK_DIED; bit <<= 1)
        if ((unsure & bit) != 0)
            add(&t, &any, open_words(bit, stop));
}
