#include "simulator/shore.h"

/* Where each stick comes to rest (a little off, as they do) and how much its reading jitters, in
 * 4096ths of a µs; switches don't. */
static const struct {
    int32_t rest, jitter;
} sticks[STICKS] = {
    [RUDDER] = {1497, 2900}, [THROTTLE] = {1004, 2600}, [THRUSTER] = {1503, 3300},
    [WINCH] = {1499, 2700},  [LIGHT] = {1000, 0},       [MARKER] = {1000, 0},
};

void shore_init(struct shore *s, uint64_t seed) {
    *s = (struct shore){.owner = SHORE_OWNER, .power_step = 4};
    chance_init(&s->chance, seed, 2);
    s->tboot = (uint16_t)chance_between(&s->chance, 1, 90);
    for (int i = 0; i < STICKS; i++)
        s->sticks[i].from = s->sticks[i].to = sticks[i].rest;
}

void shore_start(struct shore *s) {
    s->on = true;
    s->tboot++;
    s->seq = 0;
}

static int32_t position(const struct stick *k, int64_t now_us) {
    int64_t gone = now_us - k->start_us;
    if (gone >= k->span_us)
        return k->to;
    int64_t x = gone * 4096 / k->span_us; /* a hand starts and stops gently: 3x^2 - 2x^3 */
    int64_t part = (3 * 4096 - 2 * x) * x / 4096 * x / 4096;
    return (int32_t)(k->from + (k->to - k->from) * part / 4096);
}

void shore_move(struct shore *s, int64_t now_us, int stick, int32_t to, int32_t span_ms) {
    struct stick *k = &s->sticks[stick];
    k->from = position(k, now_us);
    k->to = to != 0 ? to : sticks[stick].rest;
    k->start_us = now_us;
    k->span_us = (int64_t)span_ms * 1000;
}

void shore_play(struct shore *s, int64_t now_us, uint32_t mask, int32_t reach, int32_t pause_ms) {
    for (int i = 0; i < STICKS; i++) {
        if ((mask >> i & 1u) == 0)
            continue;
        s->sticks[i].reach = reach;
        s->sticks[i].pause_us = (int64_t)pause_ms * 1000;
        s->sticks[i].play_us = now_us;
        if (reach == 0)
            shore_move(s, now_us, i, 0, 300);
    }
}

static void play(struct shore *s, int64_t now_us, int i) {
    struct stick *k = &s->sticks[i];
    if (k->reach == 0 || now_us < k->play_us)
        return;
    int32_t span_ms = chance_between(&s->chance, 180, 600);
    int32_t low = i == THROTTLE ? 0 : -k->reach; /* the throttle rests at its low end */
    int32_t to = chance_hits(&s->chance, 22000) ? 0 : chance_between(&s->chance, low, k->reach);
    shore_move(s, now_us, i, to == 0 ? 0 : sticks[i].rest + to, span_ms);
    k->play_us = now_us + span_ms * 1000 + chance_wait(&s->chance, k->pause_us);
}

void shore_wear(struct shore *s, int stick, int32_t jitter, int32_t wild) {
    if (stick < 0) {
        s->shared = jitter;
        return;
    }
    s->sticks[stick].jitter = jitter;
    s->sticks[stick].wild = (uint32_t)wild * 65536 / 10000;
}

/* What is worn adds to a value, µs; draws nothing where nothing is. */
static int32_t faults(struct shore *s, const struct stick *k, int32_t shared) {
    int32_t value = shared;
    if (k->jitter != 0)
        value += chance_normal(&s->chance) * k->jitter / 4096;
    if (k->wild != 0 && chance_hits(&s->chance, k->wild))
        value += chance_between(&s->chance, 0, 1) == 0 ? -256 : 256; /* one bit of its high byte */
    return value;
}

static int32_t reading(struct shore *s, int64_t now_us, int i, int32_t shared) {
    int32_t value = position(&s->sticks[i], now_us);
    if (sticks[i].jitter != 0)
        value += faults(s, &s->sticks[i], shared);
    if (sticks[i].jitter != 0)
        value += (chance_normal(&s->chance) * sticks[i].jitter / 4096 + 4096 * 8 + 2048) / 4096 - 8;
    return value < 988 ? 988 : value > 2012 ? 2012 : value;
}

static int32_t packed(const struct shore *s, int32_t value) {
    uint32_t bits = (uint32_t)value;
    return s->swapped ? (int32_t)((bits >> 8 | bits << 8) & 0xFFFFu) : value;
}

void shore_packet(struct shore *s, int64_t now_us, struct packet *out) {
    int32_t shared = 0;
    if (s->shared != 0)
        shared = chance_normal(&s->chance) * s->shared / 4096;
    for (int i = 0; i < STICKS; i++) {
        play(s, now_us, i);
        out->in[i] = packed(s, reading(s, now_us, i, shared));
    }
    out->owner = s->owner;
    out->tboot = s->tboot;
    out->seq = s->seq++; /* modulus 65536 */
    /* 10 mV a minute down, and a fresh battery after an hour and a half */
    out->tmv = (uint32_t)(7920 - (now_us / 6000000) % 900 + chance_between(&s->chance, -9, 9));
    out->tstep = s->power_step;
}
