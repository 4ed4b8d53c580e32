/* The receiver: radio in, eight servo pulses out, telemetry beside it. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <stddef.h>
#include <util/delay.h>

#include "board/clock.h"
#include "board/guard.h"
#include "board/lines.h"
#include "board/pins.h"
#include "board/radio.h"
#include "board/serial.h"
#include "board/servo.h"
#include "board/settings.h"
#include "board/spi.h"
#include "board/supply.h"
#include "board/uplink.h"

#define FIRMWARE "board-rx-1"

enum {
    PERIOD_MS = 1000 / BOARD_RATE,
    CHECK_MS = 25,        /* between two readings of the radio's registers */
    RETRY_MS = 1000,      /* between two attempts to set up a chip that doesn't take it */
    QUIET_FROM_MS = 8,    /* after a packet: none is expected for some time */
    QUIET_TO_MS = 10,     /* a look begins */
    QUIET_END_MS = 16,    /* a look that comes later doesn't count */
    LOST_LOOK_MS = 7,     /* between looks without a link; no divisor of the packets' period */
    ID_ROOM_MS = 20,      /* in this time an id line of 225 bytes is out */
    ID_PATIENCE_MS = 500, /* after that it doesn't wait for such a pause */
    SWEEP_TO = 83,        /* 2483 MHz, the last whole one in the band */
    SWEEP_PASSES = 100,   /* 84 carriers, some 0.25 ms each: 2 s in all */
    SWEEP_LINE = 14,      /* carriers a line */
};

static const struct uplink_rules rules = {
    .owner = BOARD_OWNER,
    .preset = {BOARD_PRESETS},
    .throttle = BOARD_THROTTLE - 1,
    .low_us = BOARD_LOW_US,
    .low_packets = BOARD_LOW_PACKETS,
    .hold_ms = BOARD_HOLD_MS,
};

static const struct radio radio = {
    .end = RADIO_RECEIVES,
    .rf_ch = BOARD_RF_CH,
    .kbps = BOARD_KBPS,
    .step = RADIO_STEPS,
    .size = PAYLOAD_SIZE,
    .address = {BOARD_ADDRESS},
};

static struct uplink uplink;

/* What the next report will say, and when that is. */
static struct rx_facts report;
static uint32_t report_ms, id_ms;
static struct lines_report line;
static bool printing;

/* Care of the radio. */
static struct {
    uint32_t check_ms, begin_ms;
    enum radio_state state;
    bool starting; /* powered up, not listening yet */
} care;

/* Looks for a carrier while no packet is expected. */
static struct {
    uint32_t last_ms, restart_ms;
    bool held;      /* the chip's bit still tells of the newest packet */
    bool restarted; /* reception began anew at restart_ms, to free the bit */
} look;

static void count_look(struct looks *l, bool hit) {
    if (l->looks == 255)
        return;
    l->looks++;
    l->hits += hit;
}

static void serve_radio(uint32_t now) {
    uint8_t bytes[PAYLOAD_SIZE];
    for (uint8_t i = 0; i < 3 && radio_arrived(); i++) { /* the chip holds three */
        bool carrier = radio_carrier();
        radio_take(&radio, bytes);
        look.held = true;
        if (uplink_take(&uplink, bytes, sizeof bytes, now))
            count_look(&report.heard, carrier);
    }
}

/* Between two packets, in the middle, where the link is up; now and then where it isn't. */
static void look_for_noise(uint32_t now) {
    if (care.state == RADIO_ABSENT || care.starting)
        return; /* nobody looks */
    uint32_t phase = (now - uplink.last_ms) % PERIOD_MS;
    if (look.restarted) {
        if (now - look.restart_ms < 2) /* 1 ms at least, and 170 us are needed */
            return;
        look.restarted = false;
        if (!uplink.fs && phase > QUIET_END_MS) /* kept too long by something else */
            return;
    } else if (uplink.fs ? now - look.last_ms < LOST_LOOK_MS
                         : phase < QUIET_FROM_MS || phase > QUIET_TO_MS ||
                               now - look.last_ms < QUIET_FROM_MS) {
        return;
    } else if (look.held) {
        spi_enable(false);
        spi_enable(true);
        look.held = false;
        look.restarted = true;
        look.restart_ms = now;
        return;
    }
    count_look(&report.noise, radio_carrier());
    look.last_ms = now;
}

static void begin_radio(uint32_t now) {
    radio_begin(&radio);
    care.begin_ms = now;
    care.starting = true;
    look.restarted = look.held = false;
}

/* A reading that isn't repeated at once was disturbed on its way: told, but nothing to mend. */
static void check_radio(uint32_t now) {
    care.state = radio_check(&radio);
    if (care.state > report.reg)
        report.reg = care.state;
    if (care.state == RADIO_OK)
        return;
    care.state = radio_check(&radio);
    if (care.state > report.reg)
        report.reg = care.state;
    uint32_t wait = care.state == RADIO_DEFAULT ? 2 * RADIO_START_MS : RETRY_MS;
    if (care.state == RADIO_OK || care.state == RADIO_ABSENT || now - care.begin_ms < wait)
        return;
    begin_radio(now);
    report.reinit++;
}

static void care_for_radio(uint32_t now) {
    if (care.starting && now - care.begin_ms > RADIO_START_MS) {
        care.starting = false;
        spi_enable(true);
    }
    if (now - care.check_ms < CHECK_MS)
        return;
    care.check_ms = now;
    check_radio(now);
}

static void print_id(void) {
    struct radio_facts facts;
    radio_read_facts(&radio, &facts);
    lines_id(serial_put, "rx", FIRMWARE, rules.preset, care.state == RADIO_ABSENT ? NULL : &facts);
    serial_send();
}

static void begin_report(uint32_t now) {
    report.n++;
    report.now_ms = now;
    report.mv = supply_mv();
    report.mvmin = supply_lowest_mv();
    lines_report_begin(&line, serial_put, &report, &uplink);
    printing = true;
    uplink_reported(&uplink);
    report.heard = report.noise = (struct looks){0, 0};
    report.reg = care.state;
}

/* Between two reports, so that none has to wait for it; where they leave no room, one gives way. */
static void print_id_when_due(uint32_t now) {
    static uint8_t told;
    uint32_t due = now - id_ms;
    if (due < BOARD_ID_MS || !serial_room())
        return;
    if (report_ms - now < ID_ROOM_MS && due < BOARD_ID_MS + ID_PATIENCE_MS)
        return;
    id_ms = now;
    if (servo_late() == told) {
        print_id();
        return;
    }
    told = servo_late();
    lines_say(serial_put, "servo edges came late");
    serial_send();
}

/* A report for which there is no room is skipped, and takes no number. */
static void print_when_due(uint32_t now) {
    if (printing) {
        printing = !lines_report_step(&line);
        if (!printing)
            serial_send();
    } else if ((int32_t)(now - report_ms) >= 0) {
        report_ms += BOARD_REPORT_MS;
        if (serial_room())
            begin_report(now);
    } else {
        print_id_when_due(now);
    }
}

/* At boot only. */
static void wait_for_room(void) {
    while (!serial_room())
        guard_alive();
}

static void say(const char *text) {
    wait_for_room();
    lines_say(serial_put, text);
    serial_send();
}

static void sweep(void) {
    uint8_t hits[SWEEP_TO + 1] = {0};
    say("sweep of the band, no link meanwhile");
    _delay_ms(RADIO_START_MS);
    for (uint8_t pass = 0; pass < SWEEP_PASSES; pass++) {
        guard_alive();
        for (uint8_t ch = 0; ch <= SWEEP_TO; ch++) {
            radio_tune(ch);
            spi_enable(true);
            _delay_us(RADIO_CARRIER_US + 20);
            spi_enable(false); /* this keeps the bit as it is */
            hits[ch] += radio_carrier();
        }
    }
    for (uint8_t ch = 0; ch <= SWEEP_TO; ch += SWEEP_LINE) {
        wait_for_room();
        lines_air(serial_put, 2400 + ch, SWEEP_PASSES, hits + ch, SWEEP_LINE);
        serial_send();
    }
}

static void start_outputs(void) {
    uint16_t us[PAYLOAD_CHANNELS];
    uplink_init(&uplink, &rules);
    uplink_outputs(&uplink, us);
    servo_set(us);
    servo_init();
}

static void start(void) {
    guard_init();
    PORTC |= 1 << RX_SWEEP_JUMPER;
    start_outputs();
    clock_init();
    serial_init();
    supply_init();
    spi_init();
    sei();
    lines_boot(serial_put, guard_cause());
    serial_send();
    say("mv rests on the band gap, good to 9 % until set by a meter");
    while (clock_ms() < RADIO_POWER_ON_MS)
        guard_alive();
    begin_radio(clock_ms());
    if ((PINC & 1 << RX_SWEEP_JUMPER) == 0) {
        sweep();
        begin_radio(clock_ms());
    }
    care.state = radio_check(&radio);
    wait_for_room();
    print_id();
    (void)supply_lowest_mv(); /* what came before the band gap was awake */
    report.reg = care.state;
    id_ms = report_ms = clock_ms();
}

int main(void) {
    uint16_t us[PAYLOAD_CHANNELS];
    start();
    for (;;) {
        guard_alive();
        uint32_t now = clock_ms();
        serve_radio(now);
        uplink_tick(&uplink, now);
        uplink_outputs(&uplink, us);
        servo_set(us);
        care_for_radio(now);
        look_for_noise(now);
        print_when_due(now);
    }
}
