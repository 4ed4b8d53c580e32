/* The transmitter's ADC inputs and its supply, read in turn in the background.
 *
 * After each change of the input the first conversion is thrown away, since the sampling capacitor
 * still holds some of the input before; the band gap, a weak source, gets eight.  All of it takes
 * 12 ms, so that a value is at most 24 ms old.
 */
#ifndef BOARD_ANALOGUE_H
#define BOARD_ANALOGUE_H

#include <stdint.h>

#define ANALOGUE_LOOKS 16 /* conversions a value */

/* The first round is over after 30 ms. */
void analogue_init(void);

/* The sum of ANALOGUE_LOOKS conversions of input `i` (pins.h). */
uint16_t analogue_sum(uint8_t i);

/* The supply by the band gap, +-9 %. */
uint16_t analogue_mv(void);

#endif
