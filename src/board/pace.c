#include "board/pace.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#include "board/pins.h"
#include "board/settings.h"

static volatile uint8_t armed;

ISR(TIMER1_COMPA_vect) {
    if (!armed)
        return;
    PORTB |= 1 << RADIO_CE;
    armed = 0;
}

void pace_init(void) {
    TCCR1A = 0;
    OCR1A = F_CPU / 8 / BOARD_RATE - 1;
    TCCR1B = 1 << WGM12 | 1 << CS11; /* half microseconds, 0 to OCR1A */
    TIMSK1 = 1 << OCIE1A;
}

/* The interrupt touches no 16-bit register, so that these two bytes belong together. */
uint16_t pace_phase(void) {
    return TCNT1 / 2;
}

void pace_arm(void) {
    armed = 1;
}

bool pace_armed(void) {
    return armed;
}
