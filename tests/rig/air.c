#include "air.h"

#include <string.h>

enum { KEEP_TICKS = 2 * TICKS_MS }; /* after its end, for who asks about power a moment ago */

void air_init(struct air *a, uint32_t seed, int path_db) {
    *a = (struct air){.seed = seed ? seed : 1};
    for (uint8_t i = 0; i < AIR_CHIPS; i++)
        for (uint8_t k = 0; k < AIR_CHIPS; k++)
            a->path_db[i][k] = path_db;
}

void air_join(struct air *a, struct chip *c) {
    c->air = a;
    c->id = a->chips;
    a->chip[a->chips++] = c;
}

/* xorshift32 */
static uint32_t dice(struct air *a) {
    a->seed ^= a->seed << 13;
    a->seed ^= a->seed >> 17;
    a->seed ^= a->seed << 5;
    return a->seed % 1000;
}

static bool lose(struct air *a) {
    a->counter++;
    switch (a->loss.kind) {
    case LOSS_RANDOM:
        return dice(a) < a->loss.a;
    case LOSS_BURSTS:
        a->bad = a->bad ? dice(a) >= a->loss.b : dice(a) < a->loss.a;
        return a->bad;
    case LOSS_EVERY:
        return a->counter % a->loss.a == 0;
    case LOSS_ALL:
        return true;
    default:
        return false;
    }
}

void air_begin(struct air *a, const struct chip *from, const struct frame *f, int64_t begin) {
    struct flight *best = NULL;
    for (uint8_t i = 0; i < AIR_FLIGHTS; i++) {
        struct flight *at = &a->flight[i];
        if (!best || !at->used || (best->used && at->end < best->end))
            best = at;
    }
    *best = (struct flight){.used = true, .from = from->id, .begin = begin, .frame = *f};
    if (from->id == 0 && a->resize != 0) {
        best->frame.length = (uint8_t)(best->frame.length + a->resize);
        frame_seal(&best->frame);
    }
    best->frame.tag = ++a->frames;
    best->end = begin + frame_ticks(&best->frame);
    best->told = (uint8_t)(1u << from->id);
}

void air_break(struct air *a, const struct chip *from, int64_t now) {
    for (uint8_t i = 0; i < AIR_FLIGHTS; i++) {
        struct flight *f = &a->flight[i];
        if (!f->used || f->from != from->id || f->end <= now)
            continue;
        f->end = now;
        f->told = (uint8_t)((1u << AIR_CHIPS) - 1);
    }
}

/* Whether the carrier is there for some of the time, or for all of it. */
static bool carrier_on(const struct carrier *c, int64_t from, int64_t to, bool all) {
    if (c->on <= 0)
        return false;
    int64_t phase = from % c->period;
    if (all)
        return c->on >= c->period || phase + (to - from) < c->on;
    return phase < c->on || phase + (to - from) >= c->period;
}

static int level(const struct air *a, const struct flight *f, uint8_t at) {
    return f->frame.dbm - a->path_db[f->from][at];
}

bool air_power(const struct air *a, const struct chip *at, uint8_t channel, int dbm, int64_t from,
               int64_t to) {
    for (uint8_t i = 0; i < AIR_FLIGHTS; i++) {
        const struct flight *f = &a->flight[i];
        if (f->used && f->from != at->id && f->frame.channel == channel && f->begin <= from &&
            f->end >= to && level(a, f, at->id) > dbm)
            return true;
    }
    return a->carrier.channel == channel && a->carrier.dbm > dbm &&
           carrier_on(&a->carrier, from, to, true);
}

/* Whether another signal on the frequency overlapped it at the receiver. */
static bool collided(const struct air *a, const struct flight *f, uint8_t at) {
    for (uint8_t i = 0; i < AIR_FLIGHTS; i++) {
        const struct flight *g = &a->flight[i];
        if (g->used && g != f && g->from != at && g->frame.channel == f->frame.channel &&
            g->begin < f->end && g->end > f->begin)
            return true;
    }
    return a->carrier.channel == f->frame.channel && a->carrier.dbm > level(a, f, at) - 12 &&
           carrier_on(&a->carrier, f->begin, f->end, false); /* C/I: 7 to 12 dB, table 9 */
}

static void hand(struct air *a, struct flight *f, struct chip *to) {
    enum outcome outcome;
    f->told |= (uint8_t)(1u << to->id);
    bool lost = f->from == 0 && to->id == 1 && lose(a);
    if (lost)
        outcome = DROPPED;
    else if (collided(a, f, to->id))
        outcome = COLLIDED;
    else
        outcome = chip_hear(to, &f->frame, level(a, f, to->id), f->begin, f->end);
    if (a->told)
        a->told(a->context, f, to, outcome);
}

void air_hand(struct air *a, struct chip *to, int64_t now) {
    for (;;) {
        struct flight *first = NULL;
        for (uint8_t i = 0; i < AIR_FLIGHTS; i++) {
            struct flight *f = &a->flight[i];
            if (f->used && f->end <= now && !(f->told >> to->id & 1) &&
                (!first || f->end < first->end))
                first = f;
        }
        if (!first)
            return;
        hand(a, first, to);
        uint8_t all = (uint8_t)((1u << a->chips) - 1);
        for (uint8_t i = 0; i < AIR_FLIGHTS; i++) {
            struct flight *f = &a->flight[i];
            if (f->used && (f->told & all) == all && f->end + KEEP_TICKS < now)
                f->used = false;
        }
    }
}
