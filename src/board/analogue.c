#include "board/analogue.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#include "board/pins.h"
#include "board/settings.h"

#define BAND_GAP 0x0E
#define SCALE    ((uint32_t)BOARD_BANDGAP_MV * 1024 * ANALOGUE_LOOKS)
#define CONTROL  (1 << ADEN | 1 << ADIE | 1 << ADPS2 | 1 << ADPS1 | 1 << ADPS0)

static const uint8_t mux[TX_ANALOGUE + 1] = {TX_ADC, BAND_GAP};
static volatile uint16_t sums[TX_ANALOGUE + 1];

static void turn_to(uint8_t input) {
    ADMUX = 1 << REFS0 | mux[input];
}

ISR(ADC_vect) {
    static uint8_t input, looks;
    static uint16_t sum;
    uint8_t passed_over = input < TX_ANALOGUE ? 1 : 8;
    if (looks++ >= passed_over)
        sum += ADC;
    if (looks == passed_over + ANALOGUE_LOOKS) {
        sums[input] = sum;
        sum = 0;
        looks = 0;
        input = input < TX_ANALOGUE ? input + 1 : 0;
        turn_to(input);
    }
    ADCSRA = CONTROL | 1 << ADSC;
}

void analogue_init(void) {
    DIDR0 = 0x3F; /* no digital input at PC0 to PC5 */
    ADCSRB = 0;
    turn_to(0);
    ADCSRA = CONTROL | 1 << ADSC;
}

/* Two readings alike can't have a change in them. */
uint16_t analogue_sum(uint8_t i) {
    uint16_t first = sums[i];
    for (uint16_t second = sums[i]; second != first; second = sums[i])
        first = second;
    return first;
}

uint16_t analogue_mv(void) {
    uint16_t sum = analogue_sum(TX_ANALOGUE);
    uint32_t mv = sum > 0 ? SCALE / sum : 0;
    return mv > 0xFFFF ? 0xFFFF : (uint16_t)mv;
}
