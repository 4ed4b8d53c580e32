/* The checksum by tables, as every machine can; telemetry_crc() gives the same and is quicker where
 * the processor multiplies without carries. */
#ifndef TELEMETRY_CRC_H
#define TELEMETRY_CRC_H

#include <stddef.h>
#include <stdint.h>

uint16_t crc_any(uint16_t crc, const unsigned char *at, size_t len);

#endif
