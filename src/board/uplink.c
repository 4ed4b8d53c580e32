#include "board/uplink.h"

/* A number that runs backwards within this time is an old copy.  After a longer outage it may as
 * well be half a round of the sequence number further on. */
#define STALE_MS 1000

void uplink_init(struct uplink *u, const struct uplink_rules *rules) {
    *u = (struct uplink){.rules = rules, .fs = true, .lock = true};
}

static void push_outcome(struct uplink *u, uint8_t arrived) {
    for (uint8_t i = 0; i < 8; i++) {
        uint8_t carry = u->history[i] >> 7;
        u->history[i] = (uint8_t)(u->history[i] << 1 | arrived);
        arrived = carry;
    }
    if (u->outcomes < 64)
        u->outcomes++;
}

static void count_missing(struct uplink *u, uint16_t missing) {
    u->lost += missing;
    if (missing > 64)
        missing = 64;
    while (missing-- > 0)
        push_outcome(u, 0);
}

/* How many numbers lie between the newest packet and this one; -1 for a copy. */
static int32_t missing_before(const struct uplink *u, const struct payload *p, uint32_t outage) {
    if (!u->any || p->tboot != u->newest.tboot)
        return 0;
    uint16_t step = (uint16_t)(p->seq - u->newest.seq);
    if (step == 0 || (step >= 0x8000u && outage < STALE_MS))
        return -1;
    return (int32_t)step - 1;
}

static void watch_throttle(struct uplink *u) {
    if (u->newest.channel[u->rules->throttle] > u->rules->low_us)
        u->low_run = 0;
    else if (u->low_run < u->rules->low_packets)
        u->low_run++;
    if (u->low_run >= u->rules->low_packets)
        u->lock = false;
}

bool uplink_take(struct uplink *u, const uint8_t *bytes, uint8_t length, uint32_t now_ms) {
    struct payload p;
    if (!payload_read(&p, u->rules->owner, bytes, length)) {
        u->refused++;
        return false;
    }
    uplink_tick(u, now_ms); /* failsafe that was due counts, also where this packet ends it */
    uint32_t outage = now_ms - u->last_ms;
    int32_t missing = missing_before(u, &p, outage);
    if (missing < 0)
        return false;
    count_missing(u, (uint16_t)missing);
    push_outcome(u, 1);
    if (u->any && outage > u->longest_ms)
        u->longest_ms = outage;
    u->got++;
    u->newest = p;
    u->last_ms = now_ms;
    u->any = true;
    u->fs = false;
    watch_throttle(u);
    return true;
}

void uplink_tick(struct uplink *u, uint32_t now_ms) {
    if (u->fs || now_ms - u->last_ms < u->rules->hold_ms)
        return;
    u->fs = u->lock = true;
    u->low_run = 0;
    u->fsn++;
}

static uint16_t safe_value(const struct uplink *u, uint8_t i) {
    if (u->rules->preset[i] != PRESET_HOLD)
        return u->rules->preset[i];
    return u->any && i != u->rules->throttle ? u->newest.channel[i] : PRESET_OFF;
}

void uplink_outputs(const struct uplink *u, uint16_t channel[PAYLOAD_CHANNELS]) {
    for (uint8_t i = 0; i < PAYLOAD_CHANNELS; i++) {
        bool safe = u->fs || (u->lock && i == u->rules->throttle);
        channel[i] = safe ? safe_value(u, i) : u->newest.channel[i];
    }
}

uint32_t uplink_gap(const struct uplink *u, uint32_t now_ms) {
    uint32_t open = now_ms - u->last_ms;
    return open > u->longest_ms ? open : u->longest_ms;
}

void uplink_reported(struct uplink *u) {
    u->outcomes = 0;
    u->longest_ms = 0;
}
