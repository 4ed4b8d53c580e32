#include "trial/layout.h"

#include <stdio.h>

void layout_init(struct layout *l) {
    *l = (struct layout){.swapped = true,
                         .wide_low = true,
                         .wide_high = true,
                         .narrow_low = true,
                         .narrow_high = true};
}

static bool normal(int32_t value) {
    return value >= LAYOUT_LOW && value <= LAYOUT_HIGH;
}

/* As 16 bits: a reader with sign shows 56325 as -9211. */
static int32_t other_way(int32_t value) {
    uint32_t bits = (uint32_t)value & 0xFFFFu;
    return (int32_t)((bits >> 8 | bits << 8) & 0xFFFFu);
}

/* The upper half of a 32-bit number: nothing, or the sign of a negative one. */
static bool upper_half(int32_t value, int32_t lower) {
    return value == 0 ? normal(lower)
                      : (value == 65535 || value == -1) && (lower < 0 || lower > 32767);
}

static void take_pairs(struct layout *l, const int32_t *v, uint32_t count) {
    bool pairs = count >= 2 && count % 2 == 0;
    l->wide_low &= pairs && count >= 4;
    l->wide_high &= pairs && count >= 4;
    l->narrow_low &= pairs;
    l->narrow_high &= pairs;
    for (uint32_t i = 0; pairs && i < count; i += 2) {
        bool bytes = v[i] >= 0 && v[i] < 256 && v[i + 1] >= 0 && v[i + 1] < 256;
        l->wide_low &= upper_half(v[i + 1], v[i]);
        l->wide_high &= upper_half(v[i], v[i + 1]);
        l->narrow_low &= bytes && normal(v[i] + 256 * v[i + 1]);
        l->narrow_high &= bytes && normal(v[i + 1] + 256 * v[i]);
    }
}

static void take_values(struct layout *l, const int32_t *v, uint32_t count) {
    for (uint32_t i = 0; i < count; i++) {
        bool first = i >= l->channels;
        l->low[i] = first || v[i] < l->low[i] ? v[i] : l->low[i];
        l->high[i] = first || v[i] > l->high[i] ? v[i] : l->high[i];
        l->swapped &= normal(other_way(v[i]));
        if (!l->odd_seen && !normal(v[i])) {
            l->odd_seen = true;
            l->odd = v[i];
        }
    }
    l->channels = count > l->channels ? count : l->channels;
    if (l->reports == 0 && count >= 2)
        for (int i = 0; i < 2; i++)
            l->pair[i] = v[i];
    take_pairs(l, v, count);
    l->reports++;
}

void layout_take(struct layout *l, const struct report *r) {
    if (report_has(r, KEY_IN) && r->in_count > 0) {
        take_values(l, r->in, r->in_count);
        return;
    }
    bool held = (report_has(r, KEY_FS) && r->fs != 0) || (report_has(r, KEY_LOCK) && r->lock != 0);
    if (held || r->ch_count == 0)
        return;
    for (uint32_t i = 0; i < r->ch_count; i++)
        if (r->ch[i] == CHANNEL_OFF)
            return; /* no value: of such an output nothing can be said */
    take_values(l, r->ch, r->ch_count);
}

/* --- the suspicion ---------------------------------------------------------------------------- */

static const char fixed_types[] =
    "Use types of a fixed width (int16_t) at both ends, write and read each byte by itself, and "
    "check the length.";

static uint32_t normal_channels(const struct layout *l) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < l->channels; i++)
        count += normal(l->low[i]) && normal(l->high[i]);
    return count;
}

static void say_order(const struct layout *l, struct layout_hint *out) {
    int32_t back = other_way(l->odd);
    out->kind = LAYOUT_ORDER;
    out->says = "The two bytes of each value stand in the other order at one end.";
    out->cure = fixed_types;
    snprintf(out->sum, sizeof out->sum, "%ld is %04lX in hex; the other way round, %04lX is %ld",
             (long)l->odd, (unsigned long)l->odd & 0xFFFFu, (unsigned long)back, (long)back);
}

static void say_wider(struct layout_hint *out) {
    out->kind = LAYOUT_WIDER;
    out->says = "One end packs numbers of 32 bits, the other reads 16: each comes as two channels.";
    out->cure = fixed_types;
    snprintf(out->sum, sizeof out->sum,
             "every second channel is 0 or 65535, the upper half of the one beside it");
}

/* The first pair, whose two bytes make a number. */
static void say_narrower(const struct layout *l, struct layout_hint *out) {
    int32_t low = l->pair[l->narrow_low ? 0 : 1], high = l->pair[l->narrow_low ? 1 : 0];
    out->kind = LAYOUT_NARROWER;
    out->says =
        "One end packs numbers of 16 bits, the other reads bytes: each comes as two channels.";
    out->cure = fixed_types;
    snprintf(out->sum, sizeof out->sum, "%ld and %ld are one number: %ld + 256 x %ld = %ld",
             (long)low, (long)high, (long)low, (long)high, (long)(low + 256 * high));
}

static bool say_raw(const struct layout *l, struct layout_hint *out) {
    static const struct { int32_t most, bits; } scales[] = {{255, 8}, {1023, 10}, {2047, 11}};
    int32_t low = l->low[0], high = l->high[0];
    for (uint32_t i = 1; i < l->channels; i++) {
        low = l->low[i] < low ? l->low[i] : low;
        high = l->high[i] > high ? l->high[i] : high;
    }
    if (low < 0 || high > 2047 || high <= 1)
        return false;
    uint32_t at = 0;
    while (high > scales[at].most)
        at++;
    out->kind = LAYOUT_RAW;
    out->says = "The values look like raw readings, not like pulses in µs.";
    out->cure = "Say unit=raw and span=low,high in the id line, or turn them into µs before they "
                "are sent.";
    snprintf(out->sum, sizeof out->sum,
             "all values lie in %ld..%ld: %ld bits hold 0..%ld, a servo wants 1000..2000 µs",
             (long)low, (long)high, (long)scales[at].bits, (long)scales[at].most);
    return true;
}

void layout_read(const struct layout *l, bool raw_unit, struct layout_hint *out) {
    *out = (struct layout_hint){.kind = LAYOUT_NONE};
    if (l->reports < LAYOUT_REPORTS || raw_unit)
        return;
    uint32_t looks_normal = normal_channels(l);
    if (looks_normal == l->channels)
        out->kind = LAYOUT_NORMAL;
    else if ((l->wide_low || l->wide_high) && looks_normal > 0) /* the lower halves do */
        say_wider(out);
    else if (l->swapped && looks_normal == 0)
        say_order(l, out);
    else if ((l->narrow_low || l->narrow_high) && looks_normal == 0)
        say_narrower(l, out);
    else if (looks_normal > 0 || !say_raw(l, out))
        out->kind = LAYOUT_UNEXPLAINED;
}
