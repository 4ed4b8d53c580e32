/* A radio chip of the nRF24L01+ class: set up, read back, receive, send.  No acknowledgements, one
 * pipe (0), fixed payload size, two CRC bytes.  Talks through spi.h; never waits.
 *
 * Numbers and register names are those of the chip's product specification, version 1.0.
 */
#ifndef BOARD_RADIO_H
#define BOARD_RADIO_H

#include <stdbool.h>
#include <stdint.h>

#define RADIO_POWER_ON_MS 100 /* supply to the first command */
#define RADIO_START_MS    5   /* radio_begin to CE: 4.5 ms with the slowest crystal */
#define RADIO_CARRIER_US  170 /* CE to a valid carrier bit: 130 + 40 us */
#define RADIO_STEPS       4   /* power steps; RADIO_STEPS is full power */
#define RADIO_ADDRESS     5

enum radio_end { RADIO_RECEIVES, RADIO_SENDS };

/* A report tells the last of these that was seen.  RADIO_DEFAULT beats RADIO_ABSENT, which comes
 * just before it where the chip lost its power, and passes sooner. */
enum radio_state { RADIO_OK, RADIO_DIFFERS, RADIO_ABSENT, RADIO_DEFAULT };

struct radio {
    enum radio_end end;
    uint8_t rf_ch;
    uint16_t kbps; /* 250, 1000, 2000 */
    uint8_t step;  /* 1 to RADIO_STEPS */
    uint8_t size;  /* payload */
    uint8_t address[RADIO_ADDRESS];
};

/* What the chip says of itself. */
struct radio_facts {
    uint16_t mhz, kbps;
    uint8_t address[RADIO_ADDRESS]; /* in the order on the air */
    uint8_t aw, crc, size, ack, retries;
    bool dynamic;
};

/* Writes every register that matters, empties the FIFOs, powers up; CE stays low. */
void radio_begin(const struct radio *r);

/* Reads them all back, once. */
enum radio_state radio_check(const struct radio *r);
void radio_read_facts(const struct radio *r, struct radio_facts *facts);

/* A packet has come. */
bool radio_arrived(void);

/* Takes the oldest of up to three out of the chip. */
void radio_take(const struct radio *r, uint8_t *bytes);

/* Energy on the carrier, above about -64 dBm.  Held by the chip from a packet on until CE falls. */
bool radio_carrier(void);

/* Tunes to 2400 + rf_ch MHz, for a sweep; CE must be low. */
void radio_tune(uint8_t rf_ch);

/* Puts one packet into the chip; the next rise of CE sends it. */
void radio_load(const struct radio *r, const uint8_t *bytes);

/* Writes the power step of r. */
void radio_set_power(const struct radio *r);

#endif
