#include "telemetry/pairs.h"

#include <stddef.h>

#include "base/number.h"
#include "telemetry/words.h"

static const double rate_max_hz = 1e6;

enum { VALUE_LOW = -32768, VALUE_HIGH = 65535 };

/* Cuts the next key=value off *rest; false on a piece that isn't one. */
static bool next_pair(struct slice *rest, struct slice *key, struct slice *value) {
    struct slice pair = slice_cut(rest, ' ');
    size_t equals = slice_find(pair, '=');
    *key = slice_sub(pair, 0, equals);
    *value = slice_sub(pair, equals + 1, pair.len);
    return key->len > 0 && equals < pair.len;
}

static struct slice start_of(struct slice pairs) {
    return pairs.len > 0 ? pairs : (struct slice){NULL, 0};
}

static bool fail(enum damage_reason *why, enum damage_reason reason) {
    *why = reason;
    return false;
}

static bool judge(enum number_fault fault, enum damage_reason *why) {
    if (fault == NUMBER_OK)
        return true;
    return fail(why, fault == NUMBER_RANGE ? DAMAGE_RANGE : DAMAGE_BAD_NUMBER);
}

static bool take_u32(struct slice value, uint32_t low, uint32_t high, uint32_t *out,
                     enum damage_reason *why) {
    if (!judge(number_u32(value, out), why))
        return false;
    return (*out >= low && *out <= high) || fail(why, DAMAGE_RANGE);
}

static bool take_channel(struct slice value, int32_t *out, enum damage_reason *why) {
    if (!judge(number_i32(value, out), why))
        return false;
    return (*out >= VALUE_LOW && *out <= VALUE_HIGH) || fail(why, DAMAGE_RANGE);
}

/* One of two words; *second tells which. */
static bool take_word(struct slice value, const char *first, const char *other, bool *second,
                      enum damage_reason *why) {
    *second = slice_is(value, other);
    return *second || slice_is(value, first) || fail(why, DAMAGE_RANGE);
}

static bool take_rate(struct slice value, double *out, enum damage_reason *why) {
    if (!judge(number_decimal(value, out), why))
        return false;
    return (*out > 0 && *out <= rate_max_hz) || fail(why, DAMAGE_RANGE);
}

static bool take_span(struct slice value, struct identity *id, enum damage_reason *why) {
    struct slice rest = value;
    struct slice low = slice_cut(&rest, ',');
    if (!rest.at)
        return fail(why, DAMAGE_BAD_NUMBER);
    if (!take_channel(low, &id->span_low, why) || !take_channel(rest, &id->span_high, why))
        return false;
    return id->span_low < id->span_high || fail(why, DAMAGE_RANGE);
}

static bool take_safe(struct slice value, struct identity *id, enum damage_reason *why) {
    id->safe_count = 0;
    for (struct slice rest = value; rest.at;) {
        struct slice one = slice_cut(&rest, ',');
        if (id->safe_count == CHANNELS_MAX)
            return fail(why, DAMAGE_RANGE);
        int32_t *safe = &id->safe[id->safe_count++];
        if (slice_is(one, "hold"))
            *safe = CHANNEL_HOLD;
        else if (slice_is(one, "off"))
            *safe = CHANNEL_OFF;
        else if (!take_channel(one, safe, why))
            return false;
    }
    return true;
}

static bool take_text(struct slice value, struct slice *out, enum damage_reason *why) {
    *out = value;
    return value.len > 0 || fail(why, DAMAGE_BAD_NUMBER);
}

static bool take_size(struct slice value, struct identity *id, enum damage_reason *why) {
    id->size = 0;
    id->dynamic_size = slice_is(value, "dyn");
    return id->dynamic_size || take_u32(value, 0, UINT32_MAX, &id->size, why);
}

static bool identity_value(struct identity *id, enum identity_key key, struct slice value,
                           enum damage_reason *why) {
    switch (key) {
    case ID_END:
        return take_word(value, "rx", "tx", &id->transmitter, why);
    case ID_FW:
        return take_text(value, &id->fw, why);
    case ID_RATE:
        return take_rate(value, &id->rate_hz, why);
    case ID_CHANS:
        return take_u32(value, 1, CHANNELS_MAX, &id->chans, why);
    case ID_UNIT:
        return take_word(value, "us", "raw", &id->raw_unit, why);
    case ID_SPAN:
        return take_span(value, id, why);
    case ID_SAFE:
        return take_safe(value, id, why);
    case ID_SEQMOD:
        return take_u32(value, 0, UINT32_MAX, &id->seqmod, why);
    case ID_MHZ:
        return take_u32(value, 0, UINT32_MAX, &id->mhz, why);
    case ID_HOP:
        return take_u32(value, 0, UINT32_MAX, &id->hop, why);
    case ID_KBPS:
        return take_u32(value, 0, UINT32_MAX, &id->kbps, why);
    case ID_ADDR:
        return take_text(value, &id->addr, why);
    case ID_AW:
        return take_u32(value, 0, UINT32_MAX, &id->aw, why);
    case ID_CRC:
        return take_u32(value, 0, UINT32_MAX, &id->crc, why);
    case ID_SIZE:
        return take_size(value, id, why);
    case ID_ACK:
        return take_u32(value, 0, 1, &id->ack, why);
    case ID_RETRIES:
        return take_u32(value, 0, UINT32_MAX, &id->retries, why);
    case IDENTITY_KEYS:
        break;
    }
    return true;
}

static enum identity_key identity_key_of(struct slice name) {
    for (int key = 0; key < IDENTITY_KEYS; key++) {
        if (slice_is(name, identity_fields[key].key))
            return (enum identity_key)key;
    }
    return IDENTITY_KEYS;
}

bool identity_parse(struct slice pairs, struct identity *id, enum damage_reason *why) {
    *id = (struct identity){.pairs = pairs};
    struct slice key, value;
    for (struct slice rest = start_of(pairs); rest.at;) {
        if (!next_pair(&rest, &key, &value))
            return fail(why, DAMAGE_PLAIN_TEXT);
        enum identity_key known = identity_key_of(key);
        if (known == IDENTITY_KEYS)
            continue;
        if (!identity_value(id, known, value, why))
            return false;
        id->has |= 1u << known;
    }
    return true;
}

bool boot_parse(struct slice pairs, struct boot *boot, enum damage_reason *why) {
    *boot = (struct boot){.cause = BOOT_UNKNOWN, .pairs = pairs};
    struct slice key, value;
    for (struct slice rest = start_of(pairs); rest.at;) {
        if (!next_pair(&rest, &key, &value))
            return fail(why, DAMAGE_PLAIN_TEXT);
        if (slice_is(key, "cause") && !boot_cause_of(value, &boot->cause))
            boot->cause = BOOT_UNKNOWN;
    }
    return true;
}

static bool take_hits(struct slice value, struct air_sweep *air, enum damage_reason *why) {
    air->count = 0;
    for (struct slice rest = value; rest.at;) {
        if (air->count == AIR_STEPS_MAX)
            return fail(why, DAMAGE_RANGE);
        if (!take_u32(slice_cut(&rest, ','), 0, UINT32_MAX, &air->hits[air->count], why))
            return false;
        air->count++;
    }
    return true;
}

enum { AIR_FROM = 1, AIR_STEP = 2, AIR_PER = 4, AIR_HITS = 8, AIR_ALL = 15 };

static bool air_value(struct air_sweep *air, struct slice key, struct slice value, unsigned *seen,
                      enum damage_reason *why) {
    if (slice_is(key, "from")) {
        *seen |= AIR_FROM;
        return take_u32(value, 0, UINT32_MAX, &air->from_mhz, why);
    }
    if (slice_is(key, "step")) {
        *seen |= AIR_STEP;
        return take_u32(value, 1, UINT32_MAX, &air->step_mhz, why);
    }
    if (slice_is(key, "per")) {
        *seen |= AIR_PER;
        return take_u32(value, 1, UINT32_MAX, &air->per, why);
    }
    if (slice_is(key, "hits")) {
        *seen |= AIR_HITS;
        return take_hits(value, air, why);
    }
    return true;
}

bool air_parse(struct slice pairs, struct air_sweep *air, enum damage_reason *why) {
    *air = (struct air_sweep){.pairs = pairs};
    unsigned seen = 0;
    struct slice key, value;
    for (struct slice rest = start_of(pairs); rest.at;) {
        if (!next_pair(&rest, &key, &value))
            return fail(why, DAMAGE_PLAIN_TEXT);
        if (!air_value(air, key, value, &seen, why))
            return false;
    }
    if (seen != AIR_ALL)
        return fail(why, DAMAGE_BAD_NUMBER);
    for (uint32_t i = 0; i < air->count; i++) {
        if (air->hits[i] > air->per)
            return fail(why, DAMAGE_RANGE);
    }
    return true;
}
