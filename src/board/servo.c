#include "board/servo.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <stdbool.h>

#include "board/pins.h"

#define TICKS_US  16
#define FRAME     ((uint32_t)SERVO_FRAME_US * TICKS_US)
#define OFF_TICKS (1000 * TICKS_US) /* the place that a silent channel keeps in the frame */
#define FIRST     32000             /* ticks from the start to the first edge */
#define LONGEST   30000             /* ticks between two interrupts, below a turn of the timer */
#define FIXED     20                /* cycles that wait_and_write takes at least, and some more */

static const char ports[SERVO_CHANNELS] = {SERVO_PORTS};
static const uint8_t bits[SERVO_CHANNELS] = {SERVO_BITS};

/* What the interrupt puts out, changed by it alone. */
static struct {
    uint16_t width[SERVO_CHANNELS]; /* ticks */
    bool on[SERVO_CHANNELS];
    uint8_t base_c, base_d; /* the other bits of the ports: pull-ups */
    uint8_t c, d;           /* to be written at the next edge */
    uint16_t due;           /* when */
    uint32_t rest;          /* of the pause after the last pulse, beyond `due` */
    uint8_t edge;           /* 0 begins channel 1, 8 ends channel 8 */
} out;

/* What the main program wants; taken at the next frame while `fresh`. */
static uint16_t next_width[SERVO_CHANNELS];
static bool next_on[SERVO_CHANNELS];
static volatile uint8_t fresh;
static volatile uint8_t late;

/* Waits until a moment that depends on `due` alone, in steps of one cycle, then writes both ports.
 * A turn of the loop takes 4 cycles; the two lowest bits of what is left add 0 to 3. */
static inline void wait_and_write(uint8_t due, uint8_t d, uint8_t c) {
    __asm__ volatile(
        "lds __tmp_reg__, %[timer]\n\t"
        "sub %[left], __tmp_reg__\n\t"
        "subi %[left], %[fixed]\n\t"
        "1: subi %[left], 4\n\t"
        "nop\n\t"
        "brcc 1b\n\t"
        "sbrc %[left], 0\n\t"
        "rjmp .+0\n\t"
        "sbrc %[left], 1\n\t"
        "rjmp .+0\n\t"
        "sbrc %[left], 1\n\t"
        "rjmp .+0\n\t"
        "out %[portd], %[d]\n\t"
        "out %[portc], %[c]\n\t"
        : [left] "+d"(due)
        : [timer] "n"(_SFR_MEM_ADDR(TCNT1L)), [fixed] "n"(FIXED), [portd] "I"(_SFR_IO_ADDR(PORTD)),
          [portc] "I"(_SFR_IO_ADDR(PORTC)), [d] "r"(d), [c] "r"(c));
}

static void take_fresh(void) {
    if (!fresh)
        return;
    for (uint8_t i = 0; i < SERVO_CHANNELS; i++) {
        out.width[i] = next_width[i];
        out.on[i] = next_on[i];
    }
    fresh = 0;
}

static void prepare_pulse(uint8_t channel) {
    out.c = out.base_c;
    out.d = out.base_d;
    if (channel >= SERVO_CHANNELS || !out.on[channel])
        return;
    uint8_t bit = (uint8_t)(1 << bits[channel]);
    if (ports[channel] == 'C')
        out.c |= bit;
    else
        out.d |= bit;
}

/* The pause after the last pulse is longer than a turn of the timer. */
static void wait_on(void) {
    uint16_t part = out.rest > 2 * (uint32_t)LONGEST ? LONGEST : (uint16_t)out.rest;
    out.due += part;
    out.rest -= part;
    if (out.rest > 0)
        return;
    take_fresh();
    prepare_pulse(0);
}

/* Edge `out.edge` has been made; what comes next, and when. */
static void plan(void) {
    if (out.edge == 0)
        out.rest = FRAME;
    if (out.edge < SERVO_CHANNELS) {
        uint16_t width = out.width[out.edge];
        out.due += width;
        out.rest -= width;
        out.edge++;
        prepare_pulse(out.edge);
    } else {
        out.edge = 0;
        wait_on();
    }
}

ISR(TIMER1_COMPA_vect) {
    if (out.edge == 0 && out.rest > 0) {
        wait_on(); /* still in the pause */
    } else {
        int16_t left = (int16_t)(out.due - TCNT1);
        if (left >= 2 * FIXED) {
            wait_and_write((uint8_t)out.due, out.d, out.c);
        } else {
            PORTD = out.d;
            PORTC = out.c;
            if (late < 255)
                late++;
        }
        plan();
    }
    OCR1A = out.due - SERVO_EARLY;
}

void servo_init(void) {
    for (uint8_t i = 0; i < SERVO_CHANNELS; i++) {
        out.width[i] = OFF_TICKS;
        if (ports[i] == 'C')
            DDRC |= (uint8_t)(1 << bits[i]);
        else
            DDRD |= (uint8_t)(1 << bits[i]);
    }
    out.base_c = PORTC;
    out.base_d = PORTD;
    take_fresh();
    prepare_pulse(0);
    TCCR1A = 0;
    TCCR1B = 1 << CS10;
    out.due = TCNT1 + FIRST;
    OCR1A = out.due - SERVO_EARLY;
    TIFR1 = 1 << OCF1A;
    TIMSK1 = 1 << OCIE1A;
}

void servo_set(const uint16_t *us) {
    fresh = 0; /* half of the new ones must not be taken */
    for (uint8_t i = 0; i < SERVO_CHANNELS; i++) {
        uint16_t width = us[i] > SERVO_HIGHEST ? SERVO_HIGHEST : us[i];
        next_on[i] = width >= SERVO_LOWEST;
        next_width[i] = next_on[i] ? (uint16_t)(width * TICKS_US) : OFF_TICKS;
    }
    fresh = 1;
}

uint8_t servo_late(void) {
    return late;
}
