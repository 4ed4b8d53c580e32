/* The transmitter: sticks and switches in, 50 packets a second out. */
#include <avr/eeprom.h>
#include <avr/interrupt.h>
#include <avr/io.h>
#include <stddef.h>

#include "board/analogue.h"
#include "board/clock.h"
#include "board/guard.h"
#include "board/lines.h"
#include "board/pace.h"
#include "board/payload.h"
#include "board/pins.h"
#include "board/radio.h"
#include "board/serial.h"
#include "board/settings.h"
#include "board/spi.h"
#include "board/stick.h"

#define FIRMWARE "board-tx-1"

enum {
    /* Within the 20 ms from one packet to the next. */
    SENT_US = 3000,  /* the longest packet, 1.1 ms and 0.13 to begin, is out */
    LOAD_US = 16000, /* the newest stick values go into the chip */
    RETRY_MS = 1000, /* between two attempts to set up a chip that doesn't take it */
    SAY_MS = 1000,
    REDUCED_STEP = 1, /* -18 dBm */
};

static const int16_t points[TX_ANALOGUE * 3] = {BOARD_STICKS};

static struct radio radio = {
    .end = RADIO_SENDS,
    .rf_ch = BOARD_RF_CH,
    .kbps = BOARD_KBPS,
    .step = RADIO_STEPS,
    .size = PAYLOAD_SIZE,
    .address = {BOARD_ADDRESS},
};

static struct payload payload;
static struct sending sending = {.sticks = TX_ANALOGUE};
static uint32_t begin_ms, say_ms, id_ms;

static bool closed(uint8_t bit) {
    return (PIND & 1 << bit) == 0;
}

static void read_controls(void) {
    for (uint8_t i = 0; i < TX_ANALOGUE; i++) {
        uint16_t sum = analogue_sum(i);
        sending.adc[i] = (sum + ANALOGUE_LOOKS / 2) / ANALOGUE_LOOKS;
        payload.channel[i] = stick_us(points + 3 * i, sum, ANALOGUE_LOOKS);
    }
    payload.channel[6] = closed(TX_SWITCH7_LOW) ? 1000 : closed(TX_SWITCH7_HIGH) ? 2000 : 1500;
    payload.channel[7] = closed(TX_SWITCH8) ? 2000 : 1000;
}

static void set_power(void) {
    uint8_t step = closed(TX_REDUCED) ? REDUCED_STEP : RADIO_STEPS;
    if (step == radio.step)
        return;
    radio.step = step;
    radio_set_power(&radio);
}

/* Each packet has its own number, also one that a dead chip never sent: it is missing on the air.
 */
static void load(void) {
    uint8_t bytes[PAYLOAD_SIZE];
    set_power();
    read_controls();
    payload.seq++;
    payload.mv = analogue_mv();
    payload.step = radio.step;
    payload.steps = RADIO_STEPS;
    payload_write(&payload, BOARD_OWNER, bytes);
    radio_load(&radio, bytes);
    pace_arm();
    sending.sent++;
}

static void check_radio(uint32_t now) {
    sending.reg = radio_check(&radio);
    bool forgot = sending.reg == RADIO_DEFAULT;
    if (!forgot && (sending.reg != RADIO_DIFFERS || now - begin_ms < RETRY_MS))
        return;
    radio_begin(&radio); /* up again well before the next packet is loaded */
    begin_ms = now;
    sending.reinit++;
}

static void print_id(void) {
    struct radio_facts facts;
    radio_read_facts(&radio, &facts);
    lines_id(serial_put, "tx", FIRMWARE, NULL, sending.reg == RADIO_ABSENT ? NULL : &facts);
    serial_send();
}

static void print_when_due(uint32_t now) {
    if (!serial_room())
        return;
    if (now - id_ms >= BOARD_ID_MS) {
        id_ms = now;
        print_id();
    } else if (now - say_ms >= SAY_MS) {
        say_ms = now;
        sending.mv = payload.mv;
        sending.step = payload.step;
        for (uint8_t i = 0; i < PAYLOAD_CHANNELS; i++)
            sending.us[i] = payload.channel[i];
        lines_sending(serial_put, &sending);
        serial_send();
    }
}

/* A number that each start changes; erased EEPROM gives 0 to the first.  A cell bears 100000. */
static uint16_t next_start(void) {
    uint16_t *cell = (uint16_t *)0;
    uint16_t number = eeprom_read_word(cell) + 1;
    eeprom_write_word(cell, number);
    return number;
}

static void start(void) {
    guard_init();
    PORTD |= 1 << TX_SWITCH7_LOW | 1 << TX_SWITCH7_HIGH | 1 << TX_SWITCH8 | 1 << TX_REDUCED;
    clock_init();
    serial_init();
    analogue_init();
    spi_init();
    payload.tboot = next_start();
    sei();
    lines_boot(serial_put, guard_cause());
    serial_send();
    while (clock_ms() < RADIO_POWER_ON_MS)
        guard_alive();
    radio_begin(&radio);
    begin_ms = clock_ms();
    sending.reg = radio_check(&radio);
    print_id();
    id_ms = say_ms = begin_ms;
    pace_init();
}

int main(void) {
    bool loaded = false;
    start();
    for (;;) {
        guard_alive();
        bool beaten = loaded && !pace_armed(); /* before the phase, which must belong after it */
        uint16_t phase = pace_phase();
        if (!loaded && phase >= LOAD_US) {
            load();
            loaded = true;
        } else if (beaten && phase >= SENT_US) {
            uint32_t now = clock_ms();
            loaded = false;
            spi_enable(false);
            check_radio(now);
            print_when_due(now);
        }
    }
}
