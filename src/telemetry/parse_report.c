#include <string.h>

#include "telemetry/parse.h"
#include "telemetry/value.h"

static void *member(struct report *r, size_t offset) {
    return (char *)r + offset;
}

static enum number_fault registers(struct cursor *c, uint32_t *out) {
    return registers_of(value_text(c), out) ? NUMBER_OK : NUMBER_BAD;
}

static bool at_separator(const struct cursor *c) {
    return cursor_done(c) || *c->at == ',';
}

static enum number_fault channel(struct cursor *c, int32_t low, int32_t high, int32_t *out) {
    if (cursor_at(c, '-')) {
        struct cursor after = {c->at + 1, c->end};
        if (at_separator(&after)) {
            *c = after;
            *out = CHANNEL_OFF;
            return NUMBER_OK;
        }
    }
    return value_i32(c, low, high, out);
}

/* Takes values as nearly all are, pulse widths in us, which have four digits, up to the first that
 * isn't; true when that was the last. */
static bool usual_channels(struct cursor *c, int32_t *out, uint32_t *count) {
    const uint64_t ones = 0x01010101;
    const char *at = c->at;
    uint32_t n = 0;
    bool done = false;
    while (!done && n < CHANNELS_MAX && c->end - at >= 8) {
        uint64_t digits = (eight_bytes(at) & 0xFFFFFFFF) ^ ones * '0';
        bool odd = (((digits + ones * 0x76) | digits) & ones << 7) != 0;
        if (odd || (at[4] != ',' && at[4] != ' '))
            break;
        digits = digits * 10 + (digits >> 8); /* pairs, in every other byte */
        out[n++] = (int32_t)((digits & 0xFF) * 100 + (digits >> 16 & 0xFF));
        done = at[4] == ' ';
        at += done ? 4 : 5;
    }
    *count = n;
    c->at = at;
    return done;
}

/* 1 to CHANNELS_MAX values with commas; `-` is CHANNEL_OFF.  Walks on past what is out of range, so
 * that what is no number behind it is still found. */
static enum number_fault channels(struct cursor *c, const struct report_field *field, int32_t *out,
                                  uint32_t *count) {
    enum number_fault worst = NUMBER_OK;
    uint32_t n;
    if (usual_channels(c, out, &n)) {
        *count = n;
        return NUMBER_OK;
    }
    for (;;) {
        int32_t value = 0;
        enum number_fault fault = channel(c, field->low, field->high, &value);
        if (fault == NUMBER_BAD || !at_separator(c))
            return NUMBER_BAD;
        if (fault == NUMBER_RANGE || n == CHANNELS_MAX)
            worst = NUMBER_RANGE;
        else
            out[n++] = value;
        if (!cursor_at(c, ','))
            break;
        c->at++;
    }
    *count = n;
    return worst;
}

static enum number_fault bounded_u32(struct cursor *c, const struct report_field *field,
                                     uint32_t *out) {
    enum number_fault fault = value_u32(c, out);
    if (fault != NUMBER_OK || field->high == 0)
        return fault;
    return *out <= (uint32_t)field->high ? NUMBER_OK : NUMBER_RANGE;
}

static enum number_fault read_value(struct cursor *c, enum report_key key, struct report *r) {
    const struct report_field *field = &report_fields[key];
    void *at = member(r, field->offset);
    switch (field->shape) {
    case SHAPE_U32:
        return bounded_u32(c, field, at);
    case SHAPE_I32:
        return value_i32(c, field->low, field->high, at);
    case SHAPE_FLAG:
        return value_flag(c, at);
    case SHAPE_PAIR:
        return value_pair(c, at, (uint32_t *)at + 1);
    case SHAPE_PATTERN:
        return value_pattern(c, &r->pat, &r->pat_len);
    case SHAPE_CHANNELS:
        return channels(c, field, at, key == KEY_CH ? &r->ch_count : &r->in_count);
    case SHAPE_REGISTERS:
        return registers(c, at);
    }
    return NUMBER_BAD;
}

static unsigned find_key(struct slice name) {
    unsigned key = 0;
    while (key < REPORT_KEYS && !slice_is(name, report_fields[key].key))
        key++;
    return key;
}

static uint8_t digits_within(const struct report_field *field) {
    uint8_t digits = 0;
    for (int64_t most = 9; field->high > 0 && most <= field->high; most = 10 * most + 9)
        digits++;
    return field->high > 0 ? digits : 8;
}

/* No key is longer than seven letters, so that it fits eight bytes with its `=`. */
static void learn(struct telemetry *t, struct telemetry_guess *guess, unsigned key,
                  const char *text, size_t len) {
    const struct report_field *field = &report_fields[key];
    char bytes[8] = {0}, mask[8] = {0};
    if (len > sizeof bytes)
        return;
    memcpy(bytes, text, len);
    memset(mask, 0xFF, len);
    *guess = (struct telemetry_guess){
        .text = eight_bytes(bytes),
        .mask = eight_bytes(mask),
        .number = (uint16_t)(field->shape == SHAPE_U32 ? field->offset : 0),
        .next = &t->guess[key],
        .bit = UINT32_C(1) << key,
        .key = (uint8_t)key,
        .len = (uint8_t)len,
        .digits = digits_within(field),
    };
}

/* A receiver prints its keys in the same order each time, though not every key: what followed the
 * key before in the last line that had it is tried first, with one comparison. */
static inline bool is_guessed(const struct telemetry_guess *guess, const char *at,
                              const char *readable) {
    return readable - at >= 8 && (eight_bytes(at) & guess->mask) == guess->text;
}

/* Takes `key=` of a known key; REPORT_KEYS, and nothing taken, when none stands here. */
static unsigned take_key(struct telemetry *t, struct telemetry_guess *guess, struct cursor *c) {
    if (is_guessed(guess, c->at, c->end)) {
        c->at += guess->len;
        return guess->key;
    }
    struct cursor ahead = *c;
    struct slice name;
    if (!value_key(&ahead, &name))
        return REPORT_KEYS;
    unsigned key = find_key(name);
    if (key < REPORT_KEYS) {
        learn(t, guess, key, c->at, (size_t)(ahead.at - c->at));
        *c = ahead;
    }
    return key;
}

static bool keep_unknown(struct telemetry *t, struct cursor *c, struct slice *extra) {
    const char *start = c->at;
    struct slice key;
    if (!value_key(c, &key) || value_text(c).len == 0)
        return false;
    size_t len = (size_t)(c->at - start);
    if (extra->len > 0)
        t->scratch[extra->len++] = ' ';
    memcpy(t->scratch + extra->len, start, len);
    *extra = (struct slice){t->scratch, extra->len + len};
    return true;
}

/* The pairs of a report as they are taken. */
struct taking {
    struct telemetry *t;
    struct report *r;
    const char *readable;          /* bytes up to here can be read, beyond a pair as well */
    uint32_t unwanted, seen;       /* bits as in report.has */
    struct telemetry_guess *guess; /* what followed the known key before */
};

/* A pair of any kind, of which nothing is known but where it stands. */
static enum parse_verdict take_pair(struct taking *k, const char *at, const char *end) {
    struct cursor c = {at, k->readable};
    unsigned key = take_key(k->t, k->guess, &c);
    if (key == REPORT_KEYS)
        return keep_unknown(k->t, &c, &k->r->extra) ? PARSE_OK : PARSE_BAD;
    uint32_t bit = UINT32_C(1) << key;
    if (k->seen & bit || c.at == end)
        return PARSE_BAD;
    k->seen |= bit;
    k->guess = &k->t->guess[key];
    if (k->unwanted & bit)
        return PARSE_OK;
    enum number_fault fault = read_value(&c, (enum report_key)key, k->r);
    if (fault == NUMBER_BAD || c.at != end)
        return PARSE_BAD;
    return fault == NUMBER_OK ? PARSE_OK : PARSE_RANGE;
}

/* A pair as nearly all are: of the guessed key, and a plain number or unwanted.  False, and nothing
 * taken, when it isn't that. */
static inline bool take_usual(const struct taking *k, const struct telemetry_guess *guess,
                              uint32_t seen, const char *at, const char *end) {
    const char *value = at + guess->len;
    size_t len = (size_t)(end - value);
    if (!is_guessed(guess, at, k->readable) || len == 0 || (seen & guess->bit) != 0)
        return false;
    if ((k->unwanted & guess->bit) != 0)
        return true;
    return guess->number != 0 && len <= guess->digits && k->readable - value >= 8 &&
           value_u32_of(value, len, member(k->r, guess->number));
}

/* What changes with each usual pair is kept out of *k, or else it were in memory. */
enum parse_verdict parse_report(struct telemetry *t, struct slice line, uint32_t unwanted,
                                struct event *event) {
    struct taking k = {.t = t,
                       .r = &event->report,
                       .readable = t->scan.line.at + t->scan.line.len,
                       .unwanted = unwanted};
    struct telemetry_guess *guess = &t->guess[REPORT_KEYS];
    struct scan_walk walk = scan_walk(&t->scan);
    const char *at = scan_next(&walk), *end = line.at + line.len; /* at first behind the word */
    uint32_t seen = 0;
    event->kind = EVENT_REPORT;
    if (at == end)
        return PARSE_BAD;
    while (at < end) {
        const char *from = at + 1;
        at = scan_next(&walk);
        if (take_usual(&k, guess, seen, from, at)) {
            seen |= guess->bit;
            guess = guess->next;
            continue;
        }
        k.seen = seen;
        k.guess = guess;
        enum parse_verdict verdict = take_pair(&k, from, at);
        if (verdict != PARSE_OK)
            return verdict;
        seen = k.seen;
        guess = k.guess;
    }
    event->report.has = seen & ~unwanted;
    return seen >> KEY_CH & 1u ? PARSE_OK : PARSE_BAD;
}
