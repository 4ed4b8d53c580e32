/* 50 packets a second by Timer1: its interrupt raises CE, which sends what the chip has been given
 * before.  The moment doesn't depend on what the main program does. */
#ifndef BOARD_PACE_H
#define BOARD_PACE_H

#include <stdbool.h>
#include <stdint.h>

void pace_init(void);

/* Microseconds since the last beat. */
uint16_t pace_phase(void);

/* A packet waits in the chip; the next beat sends it. */
void pace_arm(void);

/* It hasn't been sent yet. */
bool pace_armed(void);

#endif
