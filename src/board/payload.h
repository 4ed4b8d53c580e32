/* What one radio packet carries, as explicit bytes, so that the width of an int and the order of
 * its bytes don't matter.  Big-endian:
 *
 *     byte  0      PAYLOAD_VERSION
 *           1..2   owner
 *           3..4   start number of the transmitter (tboot)
 *           5..6   sequence number
 *           7..17  channels 1 to 8, 11 bits each, the highest bit first: microseconds - 500
 *          18..19  transmitter's supply, mV
 *          20      power step (high four bits) of so many (low four bits)
 *          21..22  CRC-16/MODBUS of bytes 0 to 20: the chip checks what comes over the air, this
 *                  what comes out of the chip, which may lose its supply in the midst of it
 */
#ifndef BOARD_PAYLOAD_H
#define BOARD_PAYLOAD_H

#include <stdbool.h>
#include <stdint.h>

#define PAYLOAD_VERSION  1
#define PAYLOAD_SIZE     23
#define PAYLOAD_CHANNELS 8
#define PAYLOAD_LOWEST   500  /* microseconds that 11 bits can say */
#define PAYLOAD_HIGHEST  2547 /* 500 + 2047 */

struct payload {
    uint16_t tboot;
    uint16_t seq;
    uint16_t channel[PAYLOAD_CHANNELS]; /* microseconds */
    uint16_t mv;
    uint8_t step, steps;
};

/* Channels beyond the range are set to its end. */
void payload_write(const struct payload *p, uint16_t owner, uint8_t bytes[PAYLOAD_SIZE]);

/* False, and nothing changed, where length, version, owner or checksum are wrong. */
bool payload_read(struct payload *p, uint16_t owner, const uint8_t *bytes, uint8_t length);

#endif
