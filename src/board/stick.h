/* From a stick's ADC reading to microseconds, by three points: low end, rest, high end. */
#ifndef BOARD_STICK_H
#define BOARD_STICK_H

#include <stdint.h>

/* `sum` of `looks` (at most 32) conversions; `point` in ADC counts, 0 to 1023, low above high
 * reverses.  The result is from 1000 to 2000. */
uint16_t stick_us(const int16_t point[3], uint16_t sum, uint8_t looks);

#endif
