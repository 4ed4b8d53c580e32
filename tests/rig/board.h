/* One small board in the emulator: an ATmega328P at 16 MHz that runs a firmware's ELF, its radio,
 * sticks, switches, supply, servo pins and serial port.  Its clock is the cycle counter, so a tick
 * is a cycle.
 */
#ifndef RIG_BOARD_H
#define RIG_BOARD_H

#include "chip.h"

struct avr_t;

enum board_cause { CAUSE_POWER = 1, CAUSE_RESET = 2, CAUSE_BROWNOUT = 4, CAUSE_WATCHDOG = 8 };

enum { BOARD_CHANNELS = 8, BOARD_STICKS_COUNT = 6 };

enum board_note {
    NOTE_BOOT,  /* a: cause */
    NOTE_PULSE, /* a: channel from 1, b: width, ticks; the time is that of its end */
    NOTE_READ,  /* a: number of the frame whose payload was read out of the chip */
    NOTE_LATE   /* a: longest pause so far between two transactions with the radio, ticks */
};

typedef void board_told(void *context, int64_t now, enum board_note note, uint32_t a, uint32_t b);
typedef void board_byte(void *context, int64_t now, uint8_t byte);

/* A function whose calls are timed, by its address in the firmware. */
struct board_watch {
    uint32_t address; /* bytes; 0: none */
    uint16_t stack, back;
    bool inside;
    int64_t since, longest, sum;
    uint32_t calls;
};

enum { BOARD_WATCHES = 4 };

struct board {
    struct avr_t *avr;
    void (*core_reset)(struct avr_t *avr);
    struct chip *chip;
    bool servos; /* this end has servo outputs */
    board_told *told;
    board_byte *byte;
    void *context;

    uint16_t mv;       /* supply */
    uint16_t bod_mv;   /* brown-out level, 0 for none */
    uint16_t radio_mv; /* the radio's supply fails below */
    bool irq;          /* its pin's level as the processor was shown it */
    bool radio_cut;    /* it has none, whatever the board has */
    bool held;         /* in reset or without supply */
    bool fresh;        /* just reset */
    int64_t start;     /* while held: when it will start */
    enum board_cause cause;
    uint16_t stick[BOARD_STICKS_COUNT]; /* ADC counts */
    uint8_t closed;                     /* switches of port D, a bit each */
    uint32_t boots, crashes;

    int64_t rise[BOARD_CHANNELS];
    bool high[BOARD_CHANNELS];
    uint32_t reads;
    int64_t polled, pause;
    struct board_watch watch[BOARD_WATCHES];
    bool stepping;
    uint32_t noise; /* what RAM holds at power on */
};

/* False where the file is no firmware.  The board is without supply. */
bool board_init(struct board *b, struct chip *chip, const char *elf);

void board_supply(struct board *b, uint16_t mv, int64_t now);
void board_radio_cut(struct board *b, bool cut, int64_t now);

/* The reset button. */
void board_reset(struct board *b, int64_t now);

/* The main program runs into an endless loop; interrupts go on. */
void board_hang(struct board *b);

void board_close_switch(struct board *b, uint8_t bit, bool closed);

/* The receiver's jumper that asks for a sweep. */
void board_close_jumper(struct board *b, bool closed);

/* Runs to `until` or a few ticks beyond. */
void board_run(struct board *b, int64_t until);

#endif
