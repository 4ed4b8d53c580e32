#include "board/clock.h"

#include <avr/interrupt.h>
#include <avr/io.h>

static volatile uint32_t ms;

ISR(TIMER0_COMPA_vect) {
    ms++;
}

void clock_init(void) {
    TCCR0A = 1 << WGM01;
    TCCR0B = 1 << CS01 | 1 << CS00; /* 16 MHz / 64 / 250: 1 kHz exactly */
    OCR0A = 249;
    TIMSK0 = 1 << OCIE0A;
}

/* Four bytes aren't read at once; two readings alike can't have a tick in them. */
uint32_t clock_ms(void) {
    uint32_t first = ms;
    for (uint32_t second = ms; second != first; second = ms)
        first = second;
    return first;
}
