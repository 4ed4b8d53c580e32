#include "board/payload.h"

#define CHECKED (PAYLOAD_SIZE - 2)

static void put16(uint8_t *at, uint16_t value) {
    at[0] = (uint8_t)(value >> 8);
    at[1] = (uint8_t)value;
}

static uint16_t get16(const uint8_t *at) {
    return (uint16_t)((uint16_t)at[0] << 8 | at[1]);
}

static uint16_t code_of(uint16_t us) {
    if (us < PAYLOAD_LOWEST)
        return 0;
    if (us > PAYLOAD_HIGHEST)
        return PAYLOAD_HIGHEST - PAYLOAD_LOWEST;
    return (uint16_t)(us - PAYLOAD_LOWEST);
}

static void pack(const uint16_t *channel, uint8_t *to) {
    uint32_t held = 0; /* bits not yet written, at its low end */
    uint8_t bits = 0;
    for (uint8_t i = 0; i < PAYLOAD_CHANNELS; i++) {
        held = held << 11 | code_of(channel[i]);
        for (bits = (uint8_t)(bits + 11); bits >= 8; bits = (uint8_t)(bits - 8))
            *to++ = (uint8_t)(held >> (bits - 8));
    }
}

static void unpack(uint16_t *channel, const uint8_t *from) {
    uint32_t held = 0;
    uint8_t bits = 0;
    for (uint8_t i = 0; i < PAYLOAD_CHANNELS; i++) {
        for (; bits < 11; bits = (uint8_t)(bits + 8))
            held = held << 8 | *from++;
        bits = (uint8_t)(bits - 11);
        channel[i] = (uint16_t)(PAYLOAD_LOWEST + (held >> bits & 0x7FFu));
    }
}

/* Another polynomial than the radio's CRC: with the same one the radio's would come out alike for
 * all packets, and would check nothing that this one doesn't. */
static uint16_t checksum(const uint8_t *bytes) {
    uint16_t crc = 0xFFFF;
    for (uint8_t i = 0; i < CHECKED; i++) {
        crc ^= bytes[i];
        for (uint8_t bit = 0; bit < 8; bit++)
            crc = crc & 1 ? (uint16_t)(crc >> 1 ^ 0xA001) : (uint16_t)(crc >> 1);
    }
    return crc;
}

void payload_write(const struct payload *p, uint16_t owner, uint8_t bytes[PAYLOAD_SIZE]) {
    bytes[0] = PAYLOAD_VERSION;
    put16(bytes + 1, owner);
    put16(bytes + 3, p->tboot);
    put16(bytes + 5, p->seq);
    pack(p->channel, bytes + 7);
    put16(bytes + 18, p->mv);
    bytes[20] = (uint8_t)((uint8_t)(p->step << 4) | (p->steps & 15));
    put16(bytes + CHECKED, checksum(bytes));
}

bool payload_read(struct payload *p, uint16_t owner, const uint8_t *bytes, uint8_t length) {
    if (length != PAYLOAD_SIZE || bytes[0] != PAYLOAD_VERSION || get16(bytes + 1) != owner ||
        get16(bytes + CHECKED) != checksum(bytes))
        return false;
    p->tboot = get16(bytes + 3);
    p->seq = get16(bytes + 5);
    unpack(p->channel, bytes + 7);
    p->mv = get16(bytes + 18);
    p->step = bytes[20] >> 4;
    p->steps = bytes[20] & 15;
    return true;
}
