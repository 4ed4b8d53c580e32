#include "emit/emit.h"

/* No tables and no string constants here: on an AVR they would sit in RAM. */

/* CRC-16/IBM-3740, a byte at a time: what eight shifts by the polynomial 0x1021 come to. */
static uint16_t crc_byte(uint16_t crc, uint8_t byte) {
    uint8_t x = (uint8_t)((crc >> 8) ^ byte);
    x = (uint8_t)(x ^ (x >> 4));
    return (uint16_t)((uint16_t)(crc << 8) ^ (uint16_t)((uint16_t)x << 12) ^
                      (uint16_t)((uint16_t)x << 5) ^ x);
}

static void put(struct emit *e, uint8_t byte) {
    e->crc = crc_byte(e->crc, byte);
    e->put(e->where, byte);
}

/* Bytes below `lowest` and outside ASCII would break the line, so that they become _. */
static void put_text(struct emit *e, const char *text, uint8_t lowest) {
    for (; *text != '\0'; text++) {
        uint8_t byte = (uint8_t)*text;
        put(e, byte < lowest || byte > 0x7E ? (uint8_t)'_' : byte);
    }
}

static void put_key(struct emit *e, const char *key) {
    put(e, ' ');
    put_text(e, key, 0x21);
    put(e, '=');
}

/* One digit of *rest, by counting down: an 8-bit part divides far slower. */
static uint8_t put_digit(struct emit *e, uint16_t *rest, uint16_t place, uint8_t begun) {
    uint8_t digit = '0';
    for (; *rest >= place; *rest = (uint16_t)(*rest - place))
        digit++;
    begun |= (uint8_t)(digit != '0');
    if (begun)
        put(e, digit);
    return begun;
}

/* Four digits, without leading zeros until something has begun. */
static uint8_t put_four(struct emit *e, uint16_t rest, uint8_t begun) {
    begun = put_digit(e, &rest, 1000, begun);
    begun = put_digit(e, &rest, 100, begun);
    begun = put_digit(e, &rest, 10, begun);
    return put_digit(e, &rest, 1, begun);
}

static void put_u32(struct emit *e, uint32_t value) {
    uint8_t begun = 0;
    uint32_t high = 0;
    if (value >= 10000u) {
        high = value / 10000u;
        value %= 10000u;
        if (high >= 10000u)
            begun = put_four(e, (uint16_t)(high / 10000u), begun);
        begun = put_four(e, (uint16_t)(high % 10000u), begun);
    }
    if (!put_four(e, (uint16_t)value, begun))
        put(e, '0');
}

static void put_i32(struct emit *e, int32_t value) {
    uint32_t size = (uint32_t)value;
    if (value < 0) {
        put(e, '-');
        size = 0u - size; /* right for INT32_MIN too */
    }
    put_u32(e, size);
}

static uint8_t hex_digit(uint8_t nibble) {
    return (uint8_t)(nibble < 10 ? '0' + nibble : 'A' - 10 + nibble);
}

static void put_hex(struct emit *e, uint8_t byte) {
    put(e, hex_digit(byte >> 4));
    put(e, hex_digit(byte & 15u));
}

void emit_begin(struct emit *e, emit_byte *put_byte, void *where, const char *word) {
    e->put = put_byte;
    e->where = where;
    e->crc = 0xFFFF;
    put_text(e, word, 0x21);
}

void emit_u32(struct emit *e, const char *key, uint32_t value) {
    put_key(e, key);
    put_u32(e, value);
}

void emit_i32(struct emit *e, const char *key, int32_t value) {
    put_key(e, key);
    put_i32(e, value);
}

void emit_word(struct emit *e, const char *key, const char *word) {
    if (*word == '\0')
        return;
    put_key(e, key);
    put_text(e, word, 0x21);
}

void emit_pair(struct emit *e, const char *key, uint32_t a, uint32_t b) {
    emit_u32(e, key, a);
    put(e, '/');
    put_u32(e, b);
}

static void put_value(struct emit *e, int32_t value) {
    if (value == EMIT_OFF) {
        put(e, '-');
    } else if (value == EMIT_HOLD) {
        put(e, 'h');
        put(e, 'o');
        put(e, 'l');
        put(e, 'd');
    } else {
        put_i32(e, value);
    }
}

void emit_list(struct emit *e, const char *key, const int32_t *values, uint8_t count) {
    uint8_t i;
    if (count == 0)
        return; /* " key=" alone would be no pair */
    if (count > 16)
        count = 16;
    put_key(e, key);
    for (i = 0; i < count; i++) {
        if (i > 0)
            put(e, ',');
        put_value(e, values[i]);
    }
}

void emit_pattern(struct emit *e, const char *key, const uint8_t history[8], uint8_t count) {
    if (count == 0)
        return;
    if (count > 64)
        count = 64;
    put_key(e, key);
    while (count-- > 0)
        put(e, (history[count >> 3] & (1u << (count & 7u))) != 0 ? 'o' : 'x');
}

void emit_hex(struct emit *e, const char *key, const uint8_t *bytes, uint8_t count) {
    uint8_t i;
    if (count == 0)
        return;
    put_key(e, key);
    for (i = 0; i < count; i++)
        put_hex(e, bytes[i]);
}

void emit_text(struct emit *e, const char *text) {
    if (*text == '\0')
        return;
    put(e, ' ');
    put_text(e, text, 0x20);
}

void emit_end(struct emit *e) {
    uint16_t crc = e->crc; /* what follows is not part of it */
    put(e, ' ');
    put(e, '*');
    put_hex(e, (uint8_t)(crc >> 8));
    put_hex(e, (uint8_t)(crc & 0xFFu));
    put(e, '\r');
    put(e, '\n');
}
