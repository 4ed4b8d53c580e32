#include "radio/chip.h"

static const struct rate {
    uint32_t kbps;
    double sensitivity_dbm, width_mhz, width_most_mhz, interrupt_us;
} rates[] = {
    {250, -94, 0.7, 0.8, 8.2},
    {1000, -85, 0.9, 1.0, 8.2},
    {2000, -82, 1.8, 2.0, 6.0},
};

enum { RATES = sizeof rates / sizeof *rates, PREAMBLE_BYTES = 1, CONTROL_BITS = 9 };

static const double amplified_better_db = 2;

static const struct rate *rate_of(uint32_t kbps) {
    for (int i = 0; i < RATES; i++)
        if (rates[i].kbps == kbps)
            return &rates[i];
    return &rates[1];
}

bool chip_has_rate(uint32_t kbps) {
    return rate_of(kbps)->kbps == kbps;
}

double chip_sensitivity_dbm(uint32_t kbps, bool amplified) {
    return rate_of(kbps)->sensitivity_dbm - (amplified ? amplified_better_db : 0);
}

double chip_step_dbm(uint32_t step) {
    return 6.0 * ((double)step - CHIP_STEPS);
}

double chip_width_mhz(uint32_t kbps) {
    return rate_of(kbps)->width_mhz;
}

double chip_width_most_mhz(uint32_t kbps) {
    return rate_of(kbps)->width_most_mhz;
}

static double frame_us(const struct chip_packet *p, uint32_t payload) {
    uint32_t bits = 8 * (PREAMBLE_BYTES + p->address + payload + p->crc) + CONTROL_BITS;
    return bits * 1000.0 / p->kbps;
}

double chip_air_us(const struct chip_packet *packet) {
    return frame_us(packet, packet->payload);
}

double chip_ack_us(const struct chip_packet *packet) {
    return frame_us(packet, 0);
}

double chip_cycle_us(const struct chip_packet *packet) {
    double upload_us = 8.0 * packet->payload / CHIP_SPI_MBIT_S;
    double one_way_us = upload_us + CHIP_SETTLE_US + chip_air_us(packet);
    double back_us = packet->acknowledged ? CHIP_SETTLE_US + chip_ack_us(packet) : 0;
    return one_way_us + back_us + rate_of(packet->kbps)->interrupt_us;
}

double chip_packets_hz(const struct chip_packet *packet) {
    return 1e6 / chip_cycle_us(packet);
}
