/* The wires to the radio chip.  The AVR's own SPI is in spi.c; a test puts a chip of its own here.
 */
#ifndef BOARD_SPI_H
#define BOARD_SPI_H

#include <stdbool.h>
#include <stdint.h>

void spi_init(void);

/* CSN low, so that the next byte is a command; and high again. */
void spi_select(void);
void spi_release(void);

/* Sends a byte, and returns the one that the chip gave meanwhile. */
uint8_t spi_swap(uint8_t byte);

/* The CE pin. */
void spi_enable(bool on);

#endif
