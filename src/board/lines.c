#include "board/lines.h"

#include <stddef.h>

#include "board/settings.h"

static const char *reg_word(enum radio_state state) {
    switch (state) {
    case RADIO_OK:
        return "ok";
    case RADIO_DEFAULT:
        return "default";
    case RADIO_ABSENT:
        return "absent";
    default:
        return "differs";
    }
}

static void channels(struct emit *e, const char *key, const uint16_t *us) {
    int32_t value[PAYLOAD_CHANNELS];
    for (uint8_t i = 0; i < PAYLOAD_CHANNELS; i++)
        value[i] = us[i] == PRESET_OFF ? EMIT_OFF : us[i] == PRESET_HOLD ? EMIT_HOLD : us[i];
    emit_list(e, key, value, PAYLOAD_CHANNELS);
}

/* The steps of a report, each some 30 to 60 bytes. */

static void outputs(struct lines_report *l) {
    uint16_t us[PAYLOAD_CHANNELS];
    uplink_outputs(&l->uplink, us);
    emit_u32(&l->emit, "n", l->report.n);
    emit_u32(&l->emit, "t", l->report.now_ms);
    channels(&l->emit, "ch", us);
}

static void sticks(struct lines_report *l) {
    if (l->uplink.any)
        channels(&l->emit, "in", l->uplink.newest.channel);
    emit_u32(&l->emit, "lock", l->uplink.lock);
}

static void newest(struct lines_report *l) {
    const struct uplink *u = &l->uplink;
    if (!u->any)
        return;
    emit_u32(&l->emit, "seq", u->newest.seq);
    emit_u32(&l->emit, "tboot", u->newest.tboot);
    emit_u32(&l->emit, "age", l->report.now_ms - u->last_ms);
    emit_u32(&l->emit, "gap", uplink_gap(u, l->report.now_ms));
}

static void counters(struct lines_report *l) {
    emit_u32(&l->emit, "got", l->uplink.got);
    emit_u32(&l->emit, "lost", l->uplink.lost);
    emit_u32(&l->emit, "refused", l->uplink.refused);
}

static void outcomes(struct lines_report *l) {
    emit_pattern(&l->emit, "pat", l->uplink.history, l->uplink.outcomes);
    emit_u32(&l->emit, "fs", l->uplink.fs);
    emit_u32(&l->emit, "fsn", l->uplink.fsn);
}

static void supply(struct lines_report *l) {
    emit_u32(&l->emit, "mv", l->report.mv);
    emit_u32(&l->emit, "mvmin", l->report.mvmin);
    if (!l->uplink.any)
        return;
    emit_u32(&l->emit, "tmv", l->uplink.newest.mv);
    emit_pair(&l->emit, "tstep", l->uplink.newest.step, l->uplink.newest.steps);
}

static void carrier(struct lines_report *l) {
    emit_pair(&l->emit, "heard", l->report.heard.hits, l->report.heard.looks);
    emit_pair(&l->emit, "noise", l->report.noise.hits, l->report.noise.looks);
}

static void chip(struct lines_report *l) {
    emit_word(&l->emit, "reg", reg_word(l->report.reg));
    emit_u32(&l->emit, "reinit", l->report.reinit);
    emit_end(&l->emit);
}

static void (*const steps[])(struct lines_report *) = {outputs,  sticks, newest,  counters,
                                                       outcomes, supply, carrier, chip};
#define STEPS (sizeof steps / sizeof steps[0])

void lines_report_begin(struct lines_report *l, emit_byte *put, const struct rx_facts *r,
                        const struct uplink *u) {
    l->report = *r;
    l->uplink = *u;
    l->step = 0;
    emit_begin(&l->emit, put, NULL, "rx");
}

bool lines_report_step(struct lines_report *l) {
    if (l->step < STEPS)
        steps[l->step++](l);
    return l->step == STEPS;
}

static void radio(struct emit *e, const struct radio_facts *f) {
    emit_u32(e, "mhz", f->mhz);
    emit_u32(e, "hop", 1);
    emit_u32(e, "kbps", f->kbps);
    emit_hex(e, "addr", f->address, f->aw);
    emit_u32(e, "aw", f->aw);
    emit_u32(e, "crc", f->crc);
    if (f->dynamic)
        emit_word(e, "size", "dyn");
    else
        emit_u32(e, "size", f->size);
    emit_u32(e, "ack", f->ack);
    emit_u32(e, "retries", f->retries);
}

void lines_id(emit_byte *put, const char *end, const char *fw, const uint16_t *preset,
              const struct radio_facts *facts) {
    struct emit e;
    const int32_t span[] = {1000, 2000};
    emit_begin(&e, put, NULL, "id");
    emit_word(&e, "end", end);
    emit_word(&e, "fw", fw);
    emit_u32(&e, "rate", BOARD_RATE);
    emit_u32(&e, "chans", PAYLOAD_CHANNELS);
    emit_word(&e, "unit", "us");
    emit_list(&e, "span", span, 2);
    if (preset)
        channels(&e, "safe", preset);
    emit_u32(&e, "seqmod", 65536);
    if (facts)
        radio(&e, facts);
    emit_end(&e);
}

void lines_boot(emit_byte *put, const char *cause) {
    struct emit e;
    emit_begin(&e, put, NULL, "boot");
    emit_word(&e, "cause", cause);
    emit_end(&e);
}

void lines_say(emit_byte *put, const char *text) {
    struct emit e;
    emit_begin(&e, put, NULL, "say");
    emit_text(&e, text);
    emit_end(&e);
}

void lines_sending(emit_byte *put, const struct sending *s) {
    struct emit e;
    int32_t adc[PAYLOAD_CHANNELS];
    for (uint8_t i = 0; i < s->sticks; i++)
        adc[i] = s->adc[i];
    emit_begin(&e, put, NULL, "say");
    emit_u32(&e, "sent", s->sent);
    channels(&e, "ch", s->us);
    emit_list(&e, "adc", adc, s->sticks);
    emit_pair(&e, "step", s->step, RADIO_STEPS);
    emit_u32(&e, "mv", s->mv);
    emit_word(&e, "reg", reg_word(s->reg));
    emit_u32(&e, "reinit", s->reinit);
    emit_end(&e);
}

void lines_air(emit_byte *put, uint16_t from_mhz, uint8_t per, const uint8_t *hits, uint8_t count) {
    struct emit e;
    int32_t value[16];
    for (uint8_t i = 0; i < count && i < 16; i++)
        value[i] = hits[i];
    emit_begin(&e, put, NULL, "air");
    emit_u32(&e, "from", from_mhz);
    emit_u32(&e, "step", 1);
    emit_u32(&e, "per", per);
    emit_list(&e, "hits", value, count);
    emit_end(&e);
}
