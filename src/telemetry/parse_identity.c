#include "telemetry/parse.h"
#include "telemetry/value.h"

/* What span and safe may hold is what a channel may hold. */
static const struct report_field *const channel_field = &report_fields[KEY_CH];

static enum number_fault one_of(struct cursor *c, const char *no, const char *yes, bool *out) {
    struct slice value = value_text(c);
    *out = slice_is(value, yes);
    return *out || slice_is(value, no) ? NUMBER_OK : NUMBER_BAD;
}

static enum number_fault text(struct cursor *c, struct slice *out) {
    *out = value_text(c);
    return out->len > 0 ? NUMBER_OK : NUMBER_BAD;
}

static enum number_fault rate(struct cursor *c, double *out) {
    enum number_fault fault = number_decimal(value_text(c), out);
    return fault == NUMBER_OK && *out <= 0 ? NUMBER_RANGE : fault;
}

static enum number_fault channel_count(struct cursor *c, uint32_t *out) {
    enum number_fault fault = value_u32(c, out);
    return fault == NUMBER_OK && (*out < 1 || *out > CHANNELS_MAX) ? NUMBER_RANGE : fault;
}

static enum number_fault span(struct cursor *c, int32_t *low, int32_t *high) {
    enum number_fault first = value_i32(c, channel_field->low, channel_field->high, low);
    if (first == NUMBER_BAD || !cursor_at(c, ','))
        return NUMBER_BAD;
    c->at++;
    enum number_fault second = value_i32(c, channel_field->low, channel_field->high, high);
    if (second == NUMBER_BAD)
        return NUMBER_BAD;
    if (first != NUMBER_OK || second != NUMBER_OK || *low >= *high)
        return NUMBER_RANGE;
    return NUMBER_OK;
}

static enum number_fault preset(struct slice value, int32_t *out) {
    if (slice_is(value, "hold")) {
        *out = CHANNEL_HOLD;
        return NUMBER_OK;
    }
    if (slice_is(value, "off") || slice_is(value, "-")) {
        *out = CHANNEL_OFF;
        return NUMBER_OK;
    }
    enum number_fault fault = number_i32(value, out);
    if (fault == NUMBER_OK && (*out < channel_field->low || *out > channel_field->high))
        return NUMBER_RANGE;
    return fault;
}

static enum number_fault presets(struct cursor *c, struct identity *id) {
    struct slice rest = value_text(c);
    enum number_fault worst = NUMBER_OK;
    do {
        int32_t value = 0;
        enum number_fault fault = preset(slice_cut(&rest, ','), &value);
        if (fault == NUMBER_BAD)
            return NUMBER_BAD;
        if (fault == NUMBER_RANGE || id->safe_count == CHANNELS_MAX)
            worst = NUMBER_RANGE;
        else
            id->safe[id->safe_count++] = value;
    } while (rest.at != NULL);
    return worst;
}

static enum number_fault payload(struct cursor *c, struct identity *id) {
    struct cursor before = *c;
    id->dynamic_size = slice_is(value_text(c), "dyn");
    if (id->dynamic_size)
        return NUMBER_OK;
    *c = before;
    return value_u32(c, &id->size);
}

static enum number_fault read_value(struct cursor *c, enum identity_key key, struct identity *id) {
    switch (key) {
    case ID_END:
        return one_of(c, "rx", "tx", &id->transmitter);
    case ID_UNIT:
        return one_of(c, "us", "raw", &id->raw_unit);
    case ID_FW:
        return text(c, &id->fw);
    case ID_ADDR:
        return text(c, &id->addr);
    case ID_RATE:
        return rate(c, &id->rate_hz);
    case ID_CHANS:
        return channel_count(c, &id->chans);
    case ID_SPAN:
        return span(c, &id->span_low, &id->span_high);
    case ID_SAFE:
        return presets(c, id);
    case ID_SIZE:
        return payload(c, id);
    case ID_ACK:
        return value_flag(c, &id->ack);
    case ID_SEQMOD:
        return value_u32(c, &id->seqmod);
    case ID_MHZ:
        return value_u32(c, &id->mhz);
    case ID_HOP:
        return value_u32(c, &id->hop);
    case ID_KBPS:
        return value_u32(c, &id->kbps);
    case ID_AW:
        return value_u32(c, &id->aw);
    case ID_CRC:
        return value_u32(c, &id->crc);
    case ID_RETRIES:
        return value_u32(c, &id->retries);
    case IDENTITY_KEYS:
        break;
    }
    return NUMBER_BAD;
}

static unsigned find_key(struct slice name) {
    unsigned key = 0;
    while (key < IDENTITY_KEYS && !slice_is(name, identity_fields[key].key))
        key++;
    return key;
}

static enum number_fault pair(struct cursor *c, struct identity *id) {
    struct slice name;
    if (!value_key(c, &name))
        return NUMBER_BAD;
    unsigned key = find_key(name);
    if (key == IDENTITY_KEYS)
        return value_text(c).len > 0 ? NUMBER_OK : NUMBER_BAD;
    if (id->has >> key & 1u)
        return NUMBER_BAD;
    id->has |= 1u << key;
    return read_value(c, (enum identity_key)key, id);
}

enum parse_verdict parse_identity(struct slice pairs, struct event *event) {
    struct cursor c = {pairs.at, pairs.at + pairs.len};
    event->kind = EVENT_ID;
    event->id.pairs = pairs;
    if (pairs.len == 0)
        return PARSE_OK;
    do {
        enum number_fault fault = pair(&c, &event->id);
        if (fault == NUMBER_BAD || !cursor_done(&c))
            return PARSE_BAD;
        if (fault == NUMBER_RANGE)
            return PARSE_RANGE;
    } while (value_more(&c));
    return PARSE_OK;
}
