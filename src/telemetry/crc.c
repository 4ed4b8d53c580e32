#include "telemetry/crc_tables.h"
#include "telemetry/telemetry.h"

static uint16_t crc_byte(uint16_t crc, unsigned char byte) {
    return (uint16_t)(crc << 8 ^ crc_tables[0][crc >> 8 ^ byte]);
}

/* Eight bytes a step: their look-ups don't wait for one another, which byte by byte they do. */
uint16_t telemetry_crc(uint16_t crc, const char *bytes, size_t len) {
    const unsigned char *at = (const unsigned char *)bytes;
    for (; len >= 8; at += 8, len -= 8) {
        unsigned high = crc >> 8 ^ at[0];
        unsigned low = (crc & 0xFF) ^ at[1];
        crc = (uint16_t)(crc_tables[7][high] ^ crc_tables[6][low] ^ crc_tables[5][at[2]] ^
                         crc_tables[4][at[3]] ^ crc_tables[3][at[4]] ^ crc_tables[2][at[5]] ^
                         crc_tables[1][at[6]] ^ crc_tables[0][at[7]]);
    }
    for (; len > 0; at++, len--)
        crc = crc_byte(crc, *at);
    return crc;
}
