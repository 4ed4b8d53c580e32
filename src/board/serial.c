#include "board/serial.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#include "board/pins.h"

#define RING 512 /* a power of two above SERIAL_LINE */

/* The main program owns `fill`, the interrupt `tail`; `head` changes only while that interrupt is
 * masked.  So nothing here has to disable interrupts at large, which would delay servo edges. */
static uint8_t ring[RING];
static uint16_t fill;
static volatile uint16_t head, tail;

ISR(USART_UDRE_vect) {
    uint16_t at = tail;
    UDR0 = ring[at];
    at = (at + 1) & (RING - 1);
    tail = at;
    if (at == head)
        UCSR0B = 1 << TXEN0;
}

void serial_init(void) {
    UCSR0A =
        1 << U2X0; /* before the divisor: an emulator takes the speed from both when that comes */
    UBRR0 = BOARD_UBRR;
    UCSR0C = 1 << UCSZ01 | 1 << UCSZ00;
    UCSR0B = 1 << TXEN0; /* nothing is received: what a host sends can't disturb */
}

/* `tail` has two bytes; two readings alike can't have a change in them. */
static uint16_t sent_up_to(void) {
    uint16_t first = tail;
    for (uint16_t second = tail; second != first; second = tail)
        first = second;
    return first;
}

bool serial_room(void) {
    uint16_t used = (fill - sent_up_to()) & (RING - 1);
    return RING - 1 - used >= SERIAL_LINE;
}

void serial_put(void *unused, uint8_t byte) {
    (void)unused;
    ring[fill] = byte;
    fill = (fill + 1) & (RING - 1);
}

void serial_send(void) {
    UCSR0B = 1 << TXEN0;
    head = fill;
    UCSR0B = 1 << TXEN0 | 1 << UDRIE0;
}
