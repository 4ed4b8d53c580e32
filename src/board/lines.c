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

/* What is only known once there was a packet. */
static void packet(struct emit *e, const struct report *r, const struct uplink *u) {
    channels(e, "in", u->newest.channel);
    emit_u32(e, "seq", u->newest.seq);
    emit_u32(e, "tboot", u->newest.tboot);
    emit_u32(e, "age", r->now_ms - u->last_ms);
    emit_u32(e, "gap", uplink_gap(u, r->now_ms));
    emit_u32(e, "tmv", u->newest.mv);
    emit_pair(e, "tstep", u->newest.step, u->newest.steps);
}

void lines_report(emit_byte *put, const struct report *r, const struct uplink *u) {
    struct emit e;
    uint16_t outputs[PAYLOAD_CHANNELS];
    uplink_outputs(u, outputs);
    emit_begin(&e, put, NULL, "rx");
    emit_u32(&e, "n", r->n);
    emit_u32(&e, "t", r->now_ms);
    channels(&e, "ch", outputs);
    emit_u32(&e, "lock", u->lock);
    emit_u32(&e, "got", u->got);
    emit_u32(&e, "lost", u->lost);
    emit_u32(&e, "refused", u->refused);
    emit_pattern(&e, "pat", u->history, u->outcomes);
    emit_u32(&e, "fs", u->fs);
    emit_u32(&e, "fsn", u->fsn);
    emit_u32(&e, "mv", r->mv);
    emit_u32(&e, "mvmin", r->mvmin);
    emit_pair(&e, "heard", r->heard.hits, r->heard.looks);
    emit_pair(&e, "noise", r->noise.hits, r->noise.looks);
    emit_word(&e, "reg", reg_word(r->reg));
    emit_u32(&e, "reinit", r->reinit);
    if (u->any)
        packet(&e, r, u);
    emit_end(&e);
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
