/* The nRF24L01+ class of chips, by their Product Specification v1.0 (2008): "table" and "section"
 * below are those of it.  Rates are 250, 1000 or 2000 kbit/s. */
#ifndef RADIO_CHIP_H
#define RADIO_CHIP_H

#include <stdbool.h>
#include <stdint.h>

enum {
    CHIP_STEPS = 4, /* of output power: -18, -12, -6, 0 dBm (tables 6 and 17), each within 4 dB */
    CHIP_PAYLOAD_MAX = 32,
    CHIP_SETTLE_US = 130, /* from standby to sending or receiving (table 16) */
    CHIP_CARRIER_DBM =
        -64,             /* carrier detection, one bit (section 6.4); 5 dB either way by warmth */
    CHIP_SPI_MBIT_S = 8, /* the bus in the specification's example of timing (table 19) */
    CHIP_AMPLIFIED_DBM = 20, /* typical amplified module (E01-ML01DP5 user manual v1.3) */
};

bool chip_has_rate(uint32_t kbps);

/* Sensitivity in dBm at 0.1 % bit errors (table 7).  Of a typical module with amplifiers both ways:
 * its manual prints -96 dBm at 250 kbit/s, 2 dB better than the chip; the same 2 dB are assumed at
 * the other rates. */
double chip_sensitivity_dbm(uint32_t kbps, bool amplified);

/* Output power of a step, 1 to 4. */
double chip_step_dbm(uint32_t step);

/* Width in MHz at 20 dB down, typical and greatest (table 6); the greatest is what must fit into a
 * band. */
double chip_width_mhz(uint32_t kbps);
double chip_width_most_mhz(uint32_t kbps);

struct chip_packet {
    uint32_t kbps;
    uint32_t payload, address, crc; /* bytes: 0..32, 3..5, 1..2 */
    bool acknowledged;
};

/* Time on the air: preamble byte, address, 9 bits of control, payload, CRC (section 7.3, table 19).
 * chip_ack_us is that of an empty acknowledgement. */
double chip_air_us(const struct chip_packet *packet);
double chip_ack_us(const struct chip_packet *packet);

/* From loading a payload to the interrupt that says it is done, which is what a packet takes at
 * least: upload over the bus, settling, air time, the interrupt's delay, and with an
 * acknowledgement a second settling and its air time (table 19, figure 15).  The delay isn't
 * printed for 250 kbit/s: that of 1 Mbit/s is taken.  chip_packets_hz is how many a second that
 * makes. */
double chip_cycle_us(const struct chip_packet *packet);
double chip_packets_hz(const struct chip_packet *packet);

#endif
