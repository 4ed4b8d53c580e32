"""Prints src/telemetry/crc_tables.h: python3 tests/tools/make_crc_tables.py > src/telemetry/crc_tables.h"""

POLYNOMIAL = 0x1021


def one_byte(value):
    crc = value << 8
    for _ in range(8):
        crc = (crc << 1 ^ (POLYNOMIAL if crc & 0x8000 else 0)) & 0xFFFF
    return crc


tables = [[one_byte(i) for i in range(256)]]
for _ in range(7):
    # One more zero byte behind the byte that the table before stands for.
    tables.append([(v << 8 & 0xFFFF) ^ tables[0][v >> 8] for v in tables[-1]])



def power(n):
    """What x to the n leaves when divided by the polynomial."""
    rest = 1
    for _ in range(n):
        rest = (rest << 1 ^ (POLYNOMIAL if rest & 0x8000 else 0)) & 0xFFFF
    return rest


print("""/* Made by tests/tools/make_crc_tables.py, not by hand.  Row k holds, for each byte, what it adds
 * to the CRC when k more bytes follow it. */
#ifndef TELEMETRY_CRC_TABLES_H
#define TELEMETRY_CRC_TABLES_H

#include <stdint.h>

/* clang-format off */
static const uint16_t crc_tables[8][256] = {""")
for table in tables:
    print("    {")
    for i in range(0, 256, 12):
        print("        " + " ".join("0x%04X," % v for v in table[i:i + 12]))
    print("    },")
print("""};
/* clang-format on */

/* What a polynomial is worth that stands so many bits higher. */""")
print("enum { " + ", ".join(f"CRC_X{n} = 0x{power(n):04X}" for n in (128, 192, 256, 320)) + " };")
print("""
#endif""")
