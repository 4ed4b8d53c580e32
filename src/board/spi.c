#include "board/spi.h"

#include <avr/io.h>

#include "board/pins.h"

/* Single-bit writes to port B are one instruction, so that no interrupt can come between. */

void spi_init(void) {
    PORTB |= 1 << RADIO_CSN;
    DDRB |= 1 << RADIO_CSN;
    DDRB |= 1 << RADIO_CE;
    DDRB |= 1 << RADIO_MOSI;
    DDRB |= 1 << RADIO_SCK;
    SPCR = 1 << SPE | 1 << MSTR | 1 << SPR0;
    SPSR = 1 << SPI2X; /* 16 MHz / 8: 2 MHz, which jumper leads bear */
}

void spi_select(void) {
    PORTB &= (uint8_t) ~(1 << RADIO_CSN);
}

void spi_release(void) {
    PORTB |= 1 << RADIO_CSN;
}

uint8_t spi_swap(uint8_t byte) {
    SPDR = byte;
    while ((SPSR & 1 << SPIF) == 0) {
        /* 4 us; the shift register needs no chip to answer */
    }
    return SPDR;
}

void spi_enable(bool on) {
    if (on)
        PORTB |= 1 << RADIO_CE;
    else
        PORTB &= (uint8_t) ~(1 << RADIO_CE);
}
