#include "frame.h"

#include <string.h>

enum { PREAMBLE_BITS = 8, CONTROL_BITS = 9 };

uint16_t frame_crc(const uint8_t *bit, uint16_t count, uint8_t bytes) {
    uint16_t top = bytes == 2 ? 0x8000 : 0x80, polynomial = bytes == 2 ? 0x1021 : 0x07;
    uint16_t mask = bytes == 2 ? 0xFFFF : 0xFF, crc = mask;
    for (uint16_t i = 0; i < count; i++) {
        bool out = (crc & top) != 0;
        crc = (uint16_t)(crc << 1 & mask);
        if (out != (bit[i] != 0))
            crc ^= polynomial;
    }
    return crc;
}

static void put(struct frame *f, uint16_t value, uint8_t bits) {
    while (bits-- > 0)
        f->bit[f->bits++] = (uint8_t)(value >> bits & 1);
}

void frame_seal(struct frame *f) {
    const struct format *o = &f->format;
    f->bits = 0;
    put(f, o->address[0] & 0x80 ? 0xAA : 0x55, PREAMBLE_BITS); /* 7.3.1 */
    for (uint8_t i = 0; i < o->aw; i++)
        put(f, o->address[i], 8);
    if (o->enhanced) {
        put(f, f->length, 6);
        put(f, f->pid, 2);
        put(f, f->no_ack, 1);
    }
    for (uint8_t i = 0; i < f->length; i++)
        put(f, f->payload[i], 8);
    uint16_t crc = frame_crc(f->bit + PREAMBLE_BITS, (uint16_t)(f->bits - PREAMBLE_BITS), o->crc);
    if (o->crc > 0)
        put(f, crc, (uint8_t)(8 * o->crc));
}

int64_t frame_ticks(const struct frame *f) {
    return (int64_t)f->bits * 1000 * TICKS_US / f->kbps;
}

/* A reader of bits that goes on into the noise after the frame's end. */
struct head {
    const struct frame *f;
    uint16_t at;
    uint32_t noise;
    uint8_t bit[FRAME_BITS]; /* read so far, from the address on */
    uint16_t count;
};

static uint16_t take(struct head *h, uint8_t bits) {
    uint16_t value = 0;
    while (bits-- > 0) {
        h->noise = h->noise * 1664525u + 1013904223u;
        uint8_t bit = h->at < h->f->bits ? h->f->bit[h->at] : (uint8_t)(h->noise >> 31);
        h->at++;
        if (h->count < FRAME_BITS)
            h->bit[h->count++] = bit;
        value = (uint16_t)(value << 1 | bit);
    }
    return value;
}

bool frame_read(const struct frame *f, const struct format *want, uint8_t size, uint32_t noise,
                struct frame *out) {
    struct head h = {.f = f, .at = PREAMBLE_BITS, .noise = noise};
    for (uint8_t i = 0; i < want->aw; i++)
        if (take(&h, 8) != want->address[i])
            return false;
    *out = (struct frame){
        .format = *want, .channel = f->channel, .kbps = f->kbps, .dbm = f->dbm, .tag = f->tag};
    out->length = size;
    if (want->enhanced) {
        uint8_t length = (uint8_t)take(&h, 6);
        out->pid = (uint8_t)take(&h, 2);
        out->no_ack = take(&h, 1) != 0;
        if (want->dynamic)
            out->length = length;
    }
    if (out->length > FRAME_PAYLOAD)
        return false;
    for (uint8_t i = 0; i < out->length; i++)
        out->payload[i] = (uint8_t)take(&h, 8);
    if (want->crc == 0)
        return true;
    uint16_t crc = frame_crc(h.bit, h.count, want->crc);
    return take(&h, (uint8_t)(8 * want->crc)) == crc;
}
