#include "board/supply.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#include "board/settings.h"

#define BAND_GAP 0x0E
#define LOOKS    4 /* conversions of 104 us a reading */

/* mV = band gap * 1024 / ADC, for the sum of four. */
#define SCALE ((uint32_t)BOARD_BANDGAP_MV * 1024 * LOOKS)

/* Sums: a high one is a low supply. */
static volatile uint16_t newest, highest;

ISR(ADC_vect) {
    static uint16_t sum;
    static uint8_t looks;
    sum += ADC;
    if (++looks < LOOKS)
        return;
    newest = sum;
    if (sum > highest)
        highest = sum;
    sum = 0;
    looks = 0;
}

void supply_init(void) {
    ADMUX = 1 << REFS0 | BAND_GAP; /* the supply is the reference */
    DIDR0 = 0;
    ADCSRB = 0; /* free running */
    ADCSRA = 1 << ADEN | 1 << ADSC | 1 << ADATE | 1 << ADIE | 1 << ADPS2 | 1 << ADPS1 | 1 << ADPS0;
}

static uint16_t mv_of(uint16_t sum) {
    uint32_t mv = sum > 0 ? SCALE / sum : 0;
    return mv > 0xFFFF ? 0xFFFF : (uint16_t)mv;
}

/* Masks the ADC's interrupt alone; one that comes meanwhile is kept for later.  Writing ADIF as 0
 * leaves it as it is. */
static void mask(uint8_t on) {
    uint8_t control = ADCSRA & (uint8_t) ~(1 << ADIE | 1 << ADIF);
    ADCSRA = on ? control : control | 1 << ADIE;
}

uint16_t supply_mv(void) {
    mask(1);
    uint16_t sum = newest;
    mask(0);
    return mv_of(sum);
}

uint16_t supply_lowest_mv(void) {
    mask(1);
    uint16_t sum = highest;
    highest = newest;
    mask(0);
    return mv_of(sum);
}
