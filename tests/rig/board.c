#include "board.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <simavr/avr_adc.h>
#include <simavr/avr_extint.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_spi.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <simavr/sim_irq.h>

#include "board/pins.h"

enum {
    MCUSR_ADDRESS = 0x54,
    RAM_BEGIN = 0x100,
    START_TICKS = 65 * TICKS_MS, /* start-up time with a crystal, slowly rising supply */
    POWER_ON_MV = 1000,          /* below it the next start is a power-on reset */
    SLICE = 160                  /* ticks that the core may run at once */
};

static const char servo_port[BOARD_CHANNELS] = {SERVO_PORTS};
static const uint8_t servo_bit[BOARD_CHANNELS] = {SERVO_BITS};

static avr_irq_t *pin(struct board *b, char port, int bit) {
    return avr_io_getirq(b->avr, (uint32_t)AVR_IOCTL_IOPORT_GETIRQ(port), bit);
}

static int64_t now_of(const struct board *b) {
    return (int64_t)b->avr->cycle;
}

static void note(struct board *b, enum board_note what, uint32_t one, uint32_t two) {
    if (b->told)
        b->told(b->context, now_of(b), what, one, two);
}

static void show_irq(struct board *b, bool again) {
    bool level = chip_irq(b->chip);
    if (level == b->irq && !again)
        return;
    b->irq = level;
    avr_raise_irq(pin(b, 'D', RADIO_IRQ), level);
}

static void on_ce(struct avr_irq_t *irq, uint32_t value, void *param) {
    struct board *b = param;
    (void)irq;
    chip_set_ce(b->chip, value & 1, now_of(b));
}

static void on_csn(struct avr_irq_t *irq, uint32_t value, void *param) {
    struct board *b = param;
    (void)irq;
    chip_set_csn(b->chip, value & 1, now_of(b));
    if (b->chip->reads != b->reads) {
        b->reads = b->chip->reads;
        note(b, NOTE_READ, b->chip->read_tag, 0);
    }
    if (value & 1)
        return;
    int64_t pause = now_of(b) - b->polled;
    if (b->polled > 0 && pause > b->pause) {
        b->pause = pause;
        note(b, NOTE_LATE, (uint32_t)pause, 0);
    }
    b->polled = now_of(b);
}

static void on_spi(struct avr_irq_t *irq, uint32_t value, void *param) {
    struct board *b = param;
    (void)irq;
    uint8_t answer = chip_spi(b->chip, (uint8_t)value, now_of(b));
    avr_raise_irq(avr_io_getirq(b->avr, AVR_IOCTL_SPI_GETIRQ(0), SPI_IRQ_INPUT), answer);
}

static void on_uart(struct avr_irq_t *irq, uint32_t value, void *param) {
    struct board *b = param;
    (void)irq;
    if (b->byte)
        b->byte(b->context, now_of(b), (uint8_t)value);
}

/* Millivolts that make the emulator's converter say the wanted count. */
static void on_adc(struct avr_irq_t *irq, uint32_t value, void *param) {
    struct board *b = param;
    union {
        uint32_t value;
        avr_adc_mux_t mux;
    } e = {.value = value};
    (void)irq;
    if (e.mux.kind != ADC_MUX_SINGLE || e.mux.src >= BOARD_STICKS_COUNT)
        return;
    uint32_t mv = ((uint32_t)b->stick[e.mux.src] * b->mv + 1022) / 1023;
    avr_raise_irq(avr_io_getirq(b->avr, AVR_IOCTL_ADC_GETIRQ, (int)e.mux.src), mv);
}

static void on_servo(struct avr_irq_t *irq, uint32_t value, void *param) {
    struct board *b = param;
    for (int i = 0; i < BOARD_CHANNELS; i++) {
        if (pin(b, servo_port[i], servo_bit[i]) != irq || b->high[i] == (value & 1))
            continue;
        b->high[i] = value & 1;
        if (b->high[i])
            b->rise[i] = now_of(b);
        else
            note(b, NOTE_PULSE, (uint32_t)i + 1, (uint32_t)(now_of(b) - b->rise[i]));
    }
}

/* The pins float while the processor is in reset; pull resistors on the board keep CSN high and CE
 * low.  The emulator doesn't tell that by itself, also not when its watchdog resets; and a pull-up
 * that stands on the same level as before the reset would not reach the pin. */
static void on_reset(struct avr_t *avr) {
    struct board *b = avr->custom.data;
    if (b->core_reset)
        b->core_reset(avr);
    for (char port = 'B'; port <= 'D'; port++)
        for (int bit = 0; bit < 8; bit++)
            avr_raise_irq(pin(b, port, bit), port == 'B' && bit == RADIO_CSN);
    b->polled = 0;
    b->fresh = true;
    for (int i = 0; i < BOARD_WATCHES; i++)
        b->watch[i].inside = false;
    b->boots++;
    note(b, NOTE_BOOT, b->held ? b->cause : CAUSE_WATCHDOG, 0);
}

/* The firmwares' loops feed the watchdog at each turn, and the emulator looks for that module from
 * the head of its list: there it is found soonest. */
static void watchdog_first(avr_t *avr) {
    for (avr_io_t **at = &avr->io_port; *at; at = &(*at)->next) {
        avr_io_t *io = *at;
        if (strcmp(io->kind, "watchdog") != 0)
            continue;
        *at = io->next;
        io->next = avr->io_port;
        avr->io_port = io;
        return;
    }
}

static void no_sleep(avr_t *avr, avr_cycle_count_t cycles) {
    (void)avr;
    (void)cycles;
}

static void connect(struct board *b) {
    avr_t *avr = b->avr;
    uint32_t flags = 0;
    avr_irq_register_notify(pin(b, 'B', RADIO_CE), on_ce, b);
    avr_irq_register_notify(pin(b, 'B', RADIO_CSN), on_csn, b);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_SPI_GETIRQ(0), SPI_IRQ_OUTPUT), on_spi, b);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT),
                            on_uart, b);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_OUT_TRIGGER), on_adc,
                            b);
    for (int i = 0; i < BOARD_CHANNELS; i++)
        avr_irq_register_notify(pin(b, servo_port[i], servo_bit[i]), on_servo, b);
    avr_ioctl(avr, AVR_IOCTL_UART_GET_FLAGS('0'), &flags);
    flags &= ~(uint32_t)(AVR_UART_FLAG_STDIO | AVR_UART_FLAG_POLL_SLEEP);
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
}

static void hold(struct board *b, enum board_cause cause) {
    b->held = true;
    b->cause = cause;
    b->start = INT64_MAX;
}

/* What the emulator has to say goes nowhere, except trouble. */
static void log_trouble(avr_t *avr, const int level, const char *format, va_list ap) {
    (void)avr;
    if (level <= LOG_ERROR)
        vfprintf(stderr, format, ap);
}

bool board_init(struct board *b, struct chip *chip, const char *elf) {
    elf_firmware_t firmware = {0};
    *b = (struct board){.chip = chip, .noise = 1};
    hold(b, CAUSE_POWER);
    avr_global_logger_set(log_trouble);
    if (elf_read_firmware(elf, &firmware) != 0 || firmware.flashsize == 0)
        return false;
    strcpy(firmware.mmcu, "atmega328p");
    firmware.frequency = 1000000u * TICKS_US;
    b->avr = avr_make_mcu_by_name(firmware.mmcu);
    if (!b->avr)
        return false;
    avr_init(b->avr);
    avr_load_firmware(b->avr, &firmware);
    watchdog_first(b->avr);
    b->avr->sleep = no_sleep;
    b->avr->run_cycle_limit = SLICE;
    b->avr->custom.data = b;
    b->core_reset = b->avr->reset;
    b->avr->reset = on_reset;
    connect(b);
    return true;
}

static void start(struct board *b) {
    avr_t *avr = b->avr;
    if (b->cause == CAUSE_POWER)
        for (uint32_t i = RAM_BEGIN; i <= avr->ramend; i++)
            avr->data[i] = (uint8_t)((b->noise = b->noise * 1664525u + 1013904223u) >> 24);
    avr_reset(avr);
    avr->data[MCUSR_ADDRESS] = (uint8_t)b->cause;
    b->held = false;
}

static void supply_radio(struct board *b, int64_t now) {
    chip_power(b->chip, b->mv >= b->radio_mv && b->mv > 0 && !b->radio_cut, now);
}

void board_supply(struct board *b, uint16_t mv, int64_t now) {
    uint16_t least = b->bod_mv > 0 ? b->bod_mv : 1800;
    b->mv = mv;
    b->avr->vcc = b->avr->avcc = b->avr->aref = mv;
    supply_radio(b, now);
    if (mv < POWER_ON_MV)
        hold(b, CAUSE_POWER);
    else if (mv < least && !b->held)
        hold(b, CAUSE_BROWNOUT);
    else if (mv < least)
        b->start = INT64_MAX;
    else if (b->held && b->start == INT64_MAX)
        b->start = now + START_TICKS;
}

void board_radio_cut(struct board *b, bool cut, int64_t now) {
    b->radio_cut = cut;
    supply_radio(b, now);
}

void board_reset(struct board *b, int64_t now) {
    hold(b, CAUSE_RESET);
    b->start = now + START_TICKS;
}

void board_hang(struct board *b) {
    b->avr->flash[b->avr->flashend - 1] = 0xFF; /* rjmp to itself */
    b->avr->flash[b->avr->flashend] = 0xCF;
    b->avr->pc = b->avr->flashend - 1;
}

void board_close_switch(struct board *b, uint8_t bit, bool closed) {
    b->closed = (uint8_t)((b->closed & ~(1u << bit)) | (unsigned)closed << bit);
    avr_ioport_external_t pull = {.name = 'D', .mask = b->closed, .value = 0};
    avr_ioctl(b->avr, AVR_IOCTL_IOPORT_SET_EXTERNAL('D'), &pull);
    if (!b->servos &&
        (bit == TX_SWITCH7_LOW || bit == TX_SWITCH7_HIGH || bit == TX_SWITCH8 || bit == TX_REDUCED))
        avr_raise_irq(pin(b, 'D', bit), !closed);
}

void board_close_jumper(struct board *b, bool closed) {
    avr_ioport_external_t pull = {.name = 'C', .mask = (unsigned)closed << RX_SWEEP_JUMPER};
    avr_ioctl(b->avr, AVR_IOCTL_IOPORT_SET_EXTERNAL('C'), &pull);
}

static void watch(struct board *b, struct board_watch *w) {
    const avr_t *avr = b->avr;
    uint16_t stack = (uint16_t)(avr->data[0x5D] | avr->data[0x5E] << 8);
    if (!w->inside && avr->pc == w->address) {
        w->inside = true;
        w->stack = stack;
        w->back = (uint16_t)(avr->data[stack + 1] << 8 | avr->data[stack + 2]);
        w->since = now_of(b);
    } else if (w->inside && stack == w->stack + 2 && avr->pc == 2u * w->back) {
        int64_t took = now_of(b) - w->since;
        w->inside = false;
        w->calls++;
        w->sum += took;
        if (took > w->longest)
            w->longest = took;
    }
}

/* While INT0 or INT1 is low the emulator would look at it after each instruction, though nobody has
 * enabled it; each reset switches that on. */
static void after_reset(struct board *b) {
    b->fresh = false;
    for (uint8_t i = 0; i < 8; i++)
        board_close_switch(b, i, b->closed >> i & 1);
    show_irq(b, true);
    for (uint8_t i = 0; i < 2; i++)
        avr_extint_set_strict_lvl_trig(b->avr, i, 0);
}

static void run_some(struct board *b) {
    if (b->fresh)
        after_reset(b);
    b->avr->run_cycle_limit = b->stepping ? 1 : SLICE;
    int state = avr_run(b->avr);
    for (int i = 0; i < BOARD_WATCHES; i++)
        if (b->watch[i].address)
            watch(b, &b->watch[i]);
    if (state == cpu_Done || state == cpu_Crashed) {
        b->crashes++;
        hold(b, CAUSE_POWER);
    }
}

void board_run(struct board *b, int64_t until) {
    if (b->held && b->start <= until) {
        b->avr->cycle = (avr_cycle_count_t)b->start;
        start(b);
    }
    while (!b->held && now_of(b) < until)
        run_some(b);
    if (b->held && now_of(b) < until)
        b->avr->cycle = (avr_cycle_count_t)until;
    chip_advance(b->chip, until);
    show_irq(b, false);
}
