/* Telemetry out of a ring that the UART's interrupt empties: writing never waits. */
#ifndef BOARD_SERIAL_H
#define BOARD_SERIAL_H

#include <stdbool.h>
#include <stdint.h>

/* The longest line that may be printed, its CR LF included: 400 bytes before the line end. */
#define SERIAL_LINE 402

void serial_init(void);

/* The longest line fits now.  Ask before each line. */
bool serial_room(void);

/* An emit_byte; the line is sent from serial_send on. */
void serial_put(void *unused, uint8_t byte);
void serial_send(void);

#endif
