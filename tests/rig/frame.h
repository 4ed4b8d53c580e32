/* One frame on the virtual air, bit by bit, as the nRF24L01+ Product Specification v1.0 lays it out
 * (7.3 and appendix B): preamble, address, in the enhanced format a control field of 9 bits,
 * payload, CRC.  A receiver that is set up otherwise reads the same bits otherwise, and its CRC
 * then fails as it does in the chip.
 *
 * Time in the rig is counted in ticks of 1/16 us: one cycle of a 16 MHz board, a whole number of
 * them for a bit at each rate.
 */
#ifndef RIG_FRAME_H
#define RIG_FRAME_H

#include <stdbool.h>
#include <stdint.h>

enum { TICKS_US = 16, TICKS_MS = 16000, FRAME_PAYLOAD = 32, FRAME_BITS = 8 * 40 + 9 };

/* What sender and receiver must agree on to understand each other. */
struct format {
    bool enhanced;      /* with the control field */
    bool dynamic;       /* the control field tells the length */
    uint8_t aw;         /* address bytes, 3 to 5 */
    uint8_t address[5]; /* in the order on the air */
    uint8_t crc;        /* bytes, 0 to 2 */
};

struct frame {
    struct format format;
    uint8_t channel; /* 2400 + channel MHz */
    uint16_t kbps;
    int8_t dbm;   /* radiated */
    uint32_t tag; /* its number, for the rig's own truth */
    uint8_t pid;
    bool no_ack;
    uint8_t length;
    uint8_t payload[FRAME_PAYLOAD];
    uint16_t bits; /* how many, by frame_seal */
    uint8_t bit[FRAME_BITS];
};

/* Writes the bits from the fields above them. */
void frame_seal(struct frame *f);

/* Time on air, ticks. */
int64_t frame_ticks(const struct frame *f);

/* Reads the bits as a receiver does that expects `want` and, where not dynamic, `size` bytes.
 * False where address or CRC is wrong; what lies beyond the frame's end reads as noise from
 * `noise`. */
bool frame_read(const struct frame *f, const struct format *want, uint8_t size, uint32_t noise,
                struct frame *out);

/* CRC over single bits (each byte of `bit` is one): 1 byte x^8+x^2+x+1 from 0xFF, 2 bytes
 * x^16+x^12+x^5+1 from 0xFFFF (7.3.5). */
uint16_t frame_crc(const uint8_t *bit, uint16_t count, uint8_t bytes);

#endif
