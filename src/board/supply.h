/* The controller's supply, by measuring the band gap against it: in the background, some 2400 times
 * a second, so that a dip of half a millisecond between two reports isn't missed.
 *
 * The band gap is 1.0 to 1.2 V: what is said may be 9 % too high or too low, always by the same
 * share.
 */
#ifndef BOARD_SUPPLY_H
#define BOARD_SUPPLY_H

#include <stdint.h>

/* Needs 1 ms until the first reading is right. */
void supply_init(void);

uint16_t supply_mv(void);

/* The lowest since the last call. */
uint16_t supply_lowest_mv(void);

#endif
