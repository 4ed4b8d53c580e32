/* Milliseconds since boot, by Timer0. */
#ifndef BOARD_CLOCK_H
#define BOARD_CLOCK_H

#include <stdint.h>

void clock_init(void);

/* Wraps after 49.7 days.  Never disables interrupts. */
uint32_t clock_ms(void);

#endif
