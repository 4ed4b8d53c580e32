/* The virtual radio chip against the nRF24L01+ Product Specification v1.0 (Nordic, 2008): sections
 * and tables are named beside the checks.  Times are those of the specification, in us. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "air.h"

#define US(x) ((int64_t)((x)*TICKS_US))

enum { LOG = 64 };

struct bench {
    struct air air;
    struct chip tx, rx;
    int64_t now;
    struct {
        uint8_t from, at;
        int64_t begin, end;
        enum outcome outcome;
    } log[LOG];
    uint32_t logged;
};

static void told(void *context, const struct flight *f, const struct chip *at, enum outcome o) {
    struct bench *b = context;
    assert_true(b->logged < LOG);
    b->log[b->logged].from = f->from;
    b->log[b->logged].at = at->id;
    b->log[b->logged].begin = f->begin;
    b->log[b->logged].end = f->end;
    b->log[b->logged++].outcome = o;
}

static void until(struct bench *b, int64_t when) {
    for (; b->now < when; b->now += US(1)) {
        chip_advance(&b->tx, b->now);
        chip_advance(&b->rx, b->now);
    }
}

static void pass(struct bench *b, double us) {
    until(b, b->now + US(us));
}

/* One transaction; the answer to the last byte. */
static uint8_t send(struct bench *b, struct chip *c, const uint8_t *bytes, int count) {
    uint8_t answer = 0;
    chip_set_csn(c, false, b->now);
    for (int i = 0; i < count; i++)
        answer = chip_spi(c, bytes[i], b->now);
    chip_set_csn(c, true, b->now);
    return answer;
}

static uint8_t get(struct bench *b, struct chip *c, uint8_t reg) {
    return send(b, c, (uint8_t[]){reg, 0xFF}, 2);
}

static void set(struct bench *b, struct chip *c, uint8_t reg, uint8_t value) {
    send(b, c, (uint8_t[]){(uint8_t)(0x20 | reg), value}, 2);
}

static uint8_t status(struct bench *b, struct chip *c) {
    return send(b, c, (uint8_t[]){0xFF}, 1);
}

static void begin(struct bench *b) {
    *b = (struct bench){0};
    air_init(&b->air, 1, 40);
    b->air.told = told;
    b->air.context = b;
    chip_init(&b->tx);
    chip_init(&b->rx);
    air_join(&b->air, &b->tx);
    air_join(&b->air, &b->rx);
    chip_power(&b->tx, true, 0);
    chip_power(&b->rx, true, 0);
    pass(b, 100000); /* 6.1.1 */
}

static void write_payload(struct bench *b, int length, uint8_t first) {
    uint8_t bytes[33] = {0xA0};
    for (int i = 0; i < length; i++)
        bytes[1 + i] = (uint8_t)(first + i);
    send(b, &b->tx, bytes, 1 + length);
}

static void pulse(struct bench *b) {
    chip_set_ce(&b->tx, true, b->now);
    pass(b, 12);
    chip_set_ce(&b->tx, false, b->now);
}

/* Both in the plain format, 1 Mbit/s, 32 bytes, listening. */
static void plain_link(struct bench *b) {
    begin(b);
    for (int i = 0; i < 2; i++) {
        struct chip *c = i == 0 ? &b->tx : &b->rx;
        set(b, c, 0x01, 0x00);
        set(b, c, 0x04, 0x00);
        set(b, c, 0x06, 0x06);
        set(b, c, 0x11, 32);
        set(b, c, 0x00, (uint8_t)(0x0E | i));
    }
    pass(b, 1500);
    chip_set_ce(&b->rx, true, b->now);
    pass(b, 200);
}

static enum outcome send_one(struct bench *b) {
    uint32_t before = b->logged;
    write_payload(b, 32, 1);
    pulse(b);
    pass(b, 2500);
    assert_int_equal(b->logged, before + 1);
    return b->log[before].outcome;
}

/* Table 28, each register's reset value; addresses have five equal bytes. */
static void test_reset_values(void **state) {
    static const struct {
        uint8_t reg, bytes, value;
    } rows[] = {
        {0x00, 1, 0x08}, {0x01, 1, 0x3F}, {0x02, 1, 0x03}, {0x03, 1, 0x03}, {0x04, 1, 0x03},
        {0x05, 1, 0x02}, {0x06, 1, 0x0E}, {0x07, 1, 0x0E}, {0x08, 1, 0x00}, {0x09, 1, 0x00},
        {0x0A, 5, 0xE7}, {0x0B, 5, 0xC2}, {0x0C, 1, 0xC3}, {0x0D, 1, 0xC4}, {0x0E, 1, 0xC5},
        {0x0F, 1, 0xC6}, {0x10, 5, 0xE7}, {0x11, 1, 0x00}, {0x12, 1, 0x00}, {0x13, 1, 0x00},
        {0x14, 1, 0x00}, {0x15, 1, 0x00}, {0x16, 1, 0x00}, {0x17, 1, 0x11}, {0x1C, 1, 0x00},
        {0x1D, 1, 0x00},
    };
    struct bench b;
    (void)state;
    begin(&b);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint8_t bytes[6] = {rows[i].reg};
        for (int k = 1; k <= rows[i].bytes; k++)
            assert_int_equal(send(&b, &b.tx, bytes, 1 + k), rows[i].value);
    }
}

/* 8.3.1: STATUS comes out with each command; addresses are written least byte first; on the air the
 * highest goes first (7.3.2). */
static void test_spi(void **state) {
    static const uint8_t write[] = {0x30, 1, 2, 3, 4, 5};
    uint8_t read[6] = {0x10};
    struct bench b;
    (void)state;
    begin(&b);
    assert_int_equal(status(&b, &b.tx), 0x0E);
    assert_int_equal(send(&b, &b.tx, (uint8_t[]){0x10}, 1), 0x0E);
    send(&b, &b.tx, write, sizeof write);
    for (int i = 1; i <= 5; i++)
        assert_int_equal(send(&b, &b.tx, read, 1 + i), i);
    set(&b, &b.tx, 0x00, 0x0A);
    pass(&b, 1500);
    write_payload(&b, 4, 9);
    chip_set_ce(&b.tx, true, b.now);
    pass(&b, 200);
    for (int i = 0; i < 5; i++)
        assert_int_equal(b.tx.frame.format.address[i], 5 - i);
    assert_int_equal(b.tx.faults[FAULT_ACTIVE_WRITE], 0);
    set(&b, &b.tx, 0x05, 3);
    assert_int_equal(b.tx.faults[FAULT_ACTIVE_WRITE], 1);
}

/* CRC-16 with that polynomial and start is CRC-16/IBM-3740: 29B1 for "123456789". */
static void test_crc(void **state) {
    const char *text = "123456789";
    uint8_t bit[72 + 16];
    (void)state;
    for (int i = 0; i < 72; i++)
        bit[i] = (uint8_t)(text[i / 8] >> (7 - i % 8) & 1);
    uint16_t crc = frame_crc(bit, 72, 2);
    assert_int_equal(crc, 0x29B1);
    crc = frame_crc(bit, 72, 1); /* and its own CRC behind it leaves nothing */
    for (int i = 0; i < 8; i++)
        bit[72 + i] = (uint8_t)(crc >> (7 - i) & 1);
    assert_int_equal(frame_crc(bit, 80, 1), 0);
}

/* Table 19's formula, (8 * (1 + A + N + C) + 9) / rate, and without the 9 in the plain format. */
static void test_time_on_air(void **state) {
    static const struct {
        uint16_t kbps;
        uint8_t aw, length, crc;
        bool enhanced;
        double us;
    } rows[] = {
        {250, 5, 32, 2, true, 1316.0}, {1000, 5, 32, 2, true, 329.0},
        {2000, 5, 32, 2, true, 164.5}, {250, 5, 0, 2, true, 292.0},
        {1000, 5, 0, 2, true, 73.0},   {2000, 5, 0, 2, true, 36.5},
        {250, 5, 12, 2, true, 676.0},  {250, 5, 32, 2, false, 1280.0},
        {1000, 3, 1, 1, false, 48.0},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct frame f = {.kbps = rows[i].kbps, .length = rows[i].length};
        f.format.aw = rows[i].aw;
        f.format.crc = rows[i].crc;
        f.format.enhanced = rows[i].enhanced;
        frame_seal(&f);
        assert_int_equal(frame_ticks(&f), US(rows[i].us));
    }
}

/* Table 16: 1.5 ms from power-down, 130 us from standby to TX. */
static void test_start_and_settling(void **state) {
    struct bench b;
    (void)state;
    begin(&b);
    set(&b, &b.tx, 0x01, 0x00);
    set(&b, &b.tx, 0x04, 0x00);
    write_payload(&b, 32, 0);
    int64_t up = b.now;
    set(&b, &b.tx, 0x00, 0x0A);
    chip_set_ce(&b.tx, true, b.now);
    pass(&b, 2500);
    assert_int_equal(b.logged, 1);
    assert_int_equal(b.log[0].begin, up + US(1500) + US(130));
    write_payload(&b, 32, 0); /* standby-II: CE is high, the FIFO was empty */
    int64_t loaded = b.now;
    pass(&b, 2500);
    assert_int_equal(b.log[1].begin, loaded + US(130));
    assert_int_equal(status(&b, &b.tx), 0x2E);
}

/* A frame that begins before the receiver has settled is not heard. */
static void test_receiver_settling(void **state) {
    struct bench b;
    (void)state;
    for (int early = 0; early < 2; early++) {
        plain_link(&b);
        chip_set_ce(&b.rx, false, b.now);
        write_payload(&b, 32, 0);
        chip_set_ce(&b.tx, true, b.now);
        pass(&b, early ? 2 : 0); /* the sender settles for 130 us too */
        chip_set_ce(&b.rx, true, b.now);
        pass(&b, 2000);
        assert_int_equal(b.log[0].outcome, early ? DEAF : HEARD);
    }
}

static void test_ce_pulse(void **state) {
    struct bench b;
    (void)state;
    plain_link(&b);
    write_payload(&b, 32, 0);
    chip_set_ce(&b.tx, true, b.now);
    pass(&b, 9);
    chip_set_ce(&b.tx, false, b.now);
    pass(&b, 1000);
    assert_int_equal(b.logged, 0);
    assert_int_equal(b.tx.faults[FAULT_SHORT_CE], 1);
    pulse(&b);
    pass(&b, 1000);
    assert_int_equal(b.logged, 1);
}

/* 7.5.2, 8.3: three payloads, the fourth is dropped; RX_DR is cleared by a 1, not by reading. */
static void test_receive_fifo(void **state) {
    struct bench b;
    (void)state;
    plain_link(&b);
    assert_true(chip_irq(&b.rx));
    for (int i = 0; i < 3; i++)
        assert_int_equal(send_one(&b), HEARD);
    assert_int_equal(send_one(&b), NO_ROOM);
    assert_int_equal(get(&b, &b.rx, 0x17), 0x12);
    assert_int_equal(status(&b, &b.rx), 0x40); /* RX_DR, pipe 0 */
    assert_false(chip_irq(&b.rx));
    set(&b, &b.rx, 0x07, 0x40);
    assert_true(chip_irq(&b.rx));
    assert_int_equal(status(&b, &b.rx), 0x00);
    for (int i = 0; i < 3; i++)
        assert_int_equal(send(&b, &b.rx, (uint8_t[33]){0x61}, 33), 32); /* the last byte */
    assert_int_equal(status(&b, &b.rx), 0x0E);
    assert_int_equal(get(&b, &b.rx, 0x17), 0x11);
    assert_int_equal(b.rx.faults[FAULT_ACTIVE_WRITE], 0); /* STATUS may be written while active */
    send_one(&b);
    send(&b, &b.rx, (uint8_t[]){0xE2}, 1);
    assert_int_equal(status(&b, &b.rx), 0x4E);
}

static void test_send_fifo(void **state) {
    struct bench b;
    (void)state;
    plain_link(&b);
    for (int i = 0; i < 3; i++)
        write_payload(&b, 32, 0);
    assert_int_equal(status(&b, &b.tx), 0x0F);
    assert_int_equal(get(&b, &b.tx, 0x17), 0x21);
    write_payload(&b, 32, 0);
    assert_int_equal(b.tx.faults[FAULT_TX_OVERFLOW], 1);
    pulse(&b); /* a pulse sends one */
    pass(&b, 2000);
    assert_int_equal(b.logged, 1);
    send(&b, &b.tx, (uint8_t[]){0xE1}, 1);
    assert_int_equal(get(&b, &b.tx, 0x17), 0x11);
}

static void test_irq_masks(void **state) {
    static const uint8_t masks[] = {0x40, 0x20};
    struct bench b;
    (void)state;
    for (int i = 0; i < 2; i++) {
        plain_link(&b);
        struct chip *c = i == 0 ? &b.rx : &b.tx;
        assert_int_equal(send_one(&b), HEARD);
        assert_false(chip_irq(c));
        set(&b, c, 0x00, (uint8_t)(get(&b, c, 0x00) | masks[i]));
        assert_true(chip_irq(c));
    }
}

/* 6.4: above -64 dBm, 130 + 40 us after RX is enabled; latched when RX ends. */
static void test_carrier(void **state) {
    static const struct {
        int dbm;
        double us;
        uint8_t rpd;
    } rows[] = {{-60, 168, 0}, {-60, 172, 1}, {-64, 500, 0}, {-63, 500, 1}};
    struct bench b;
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        plain_link(&b);
        chip_set_ce(&b.rx, false, b.now);
        b.air.carrier = (struct carrier){.channel = 2, .dbm = rows[i].dbm, .period = 16, .on = 16};
        chip_set_ce(&b.rx, true, b.now);
        pass(&b, rows[i].us);
        assert_int_equal(get(&b, &b.rx, 0x09), rows[i].rpd);
        chip_set_ce(&b.rx, false, b.now);
        b.air.carrier.on = 0;
        pass(&b, 100);
        assert_int_equal(get(&b, &b.rx, 0x09), rows[i].rpd);
        chip_set_ce(&b.rx, true, b.now);
        pass(&b, 300);
        assert_int_equal(get(&b, &b.rx, 0x09), 0);
    }
}

/* Short signals don't set it: 40 us without a break are needed. */
static void test_carrier_short(void **state) {
    struct bench b;
    int seen[2] = {0, 0};
    (void)state;
    plain_link(&b);
    for (int i = 0; i < 2; i++) {
        b.air.carrier = (struct carrier){.channel = 2, .dbm = -30, .period = US(200)};
        b.air.carrier.on = US(i == 0 ? 38 : 60);
        for (int k = 0; k < 200; k++) {
            pass(&b, 7);
            seen[i] += get(&b, &b.rx, 0x09);
        }
    }
    assert_int_equal(seen[0], 0);
    assert_true(seen[1] > 0);
}

static void test_carrier_of_packet(void **state) {
    struct bench b;
    (void)state;
    plain_link(&b); /* -40 dBm at the receiver */
    assert_int_equal(send_one(&b), HEARD);
    assert_int_equal(get(&b, &b.rx, 0x09), 1);
    set(&b, &b.tx, 0x06, 0x00); /* -18 dBm */
    b.air.path_db[0][1] = 50;
    assert_int_equal(send_one(&b), HEARD);
    assert_int_equal(get(&b, &b.rx, 0x09), 0);
    b.air.path_db[0][1] = 68; /* table 7: -85 dBm at 1 Mbit/s */
    assert_int_equal(send_one(&b), WEAK);
}

/* What one end has otherwise keeps the packet out. */
static void test_mismatch(void **state) {
    static const struct {
        const char *legend;
        uint8_t reg, value;
        enum outcome outcome;
    } rows[] = {
        {"alike", 0x11, 32, HEARD},
        {"frequency", 0x05, 3, DEAF},
        {"2 Mbit/s", 0x06, 0x0E, DEAF},
        {"250 kbit/s", 0x06, 0x26, DEAF},
        {"size", 0x11, 31, NO_MATCH},
        {"size", 0x11, 30, NO_MATCH},
        {"pipe off", 0x11, 0, NO_MATCH},
        {"CRC of one byte", 0x00, 0x0B, NO_MATCH},
        {"address width", 0x03, 2, NO_MATCH},
        {"control field", 0x04, 1, NO_MATCH},
        {"acknowledges", 0x01, 1, NO_MATCH},
        {"no pipe enabled", 0x02, 0, NO_MATCH},
        {"no CRC reads it", 0x00, 0x03, HEARD},
    };
    struct bench b;
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        plain_link(&b);
        chip_set_ce(&b.rx, false, b.now);
        set(&b, &b.rx, rows[i].reg, rows[i].value);
        chip_set_ce(&b.rx, true, b.now);
        pass(&b, 200);
        enum outcome got = send_one(&b);
        if (got != rows[i].outcome)
            fail_msg("%s: %d", rows[i].legend, got);
    }
}

/* 7.6: pipes 2 to 5 share four bytes with pipe 1. */
static void test_pipes(void **state) {
    static const uint8_t pipe1[] = {0x2B, 0xF1, 2, 3, 4, 5}, to[] = {0x30, 0xCD, 2, 3, 4, 5};
    struct bench b;
    (void)state;
    plain_link(&b);
    chip_set_ce(&b.rx, false, b.now);
    send(&b, &b.rx, pipe1, sizeof pipe1);
    set(&b, &b.rx, 0x0E, 0xCD); /* pipe 4 */
    set(&b, &b.rx, 0x15, 32);
    set(&b, &b.rx, 0x02, 0x10);
    send(&b, &b.tx, to, sizeof to);
    chip_set_ce(&b.rx, true, b.now);
    pass(&b, 200);
    assert_int_equal(send_one(&b), HEARD);
    assert_int_equal(status(&b, &b.rx), 0x40 | 4 << 1);
}

/* Dynamic length (7.3.4): the receiver learns the length from the control field. */
static void test_dynamic(void **state) {
    struct bench b;
    (void)state;
    begin(&b);
    for (int i = 0; i < 2; i++) {
        struct chip *c = i == 0 ? &b.tx : &b.rx;
        set(&b, c, 0x1D, 0x04);
        set(&b, c, 0x1C, 0x01);
        set(&b, c, 0x00, (uint8_t)(0x0E | i));
    }
    pass(&b, 1500);
    chip_set_ce(&b.rx, true, b.now);
    pass(&b, 200);
    write_payload(&b, 7, 1);
    pulse(&b);
    pass(&b, 1000);
    assert_int_equal(send(&b, &b.rx, (uint8_t[]){0x60, 0xFF}, 2), 7);
    assert_int_equal(send(&b, &b.rx, (uint8_t[8]){0x61}, 8), 7);
    assert_int_equal(status(&b, &b.tx), 0x2E);
}

/* Table 19, figure 15: CE to TX_DS = 130 + TOA + 130 + TACK, 662 us at 1 Mbit/s and 32 bytes. */
static void test_acknowledged(void **state) {
    struct bench b;
    (void)state;
    begin(&b);
    for (int i = 0; i < 2; i++) {
        struct chip *c = i == 0 ? &b.tx : &b.rx;
        set(&b, c, 0x06, 0x06);
        set(&b, c, 0x04, 0x13); /* 500 us, 3 times */
        set(&b, c, 0x11, 32);
        set(&b, c, 0x00, (uint8_t)(0x0E | i));
    }
    pass(&b, 1500);
    chip_set_ce(&b.rx, true, b.now);
    pass(&b, 200);
    write_payload(&b, 32, 1);
    int64_t began = b.now;
    chip_set_ce(&b.tx, true, b.now);
    until(&b, began + US(661));
    assert_true(chip_irq(&b.tx));
    until(&b, began + US(664));
    assert_false(chip_irq(&b.tx));
    chip_set_ce(&b.tx, false, b.now);
    assert_int_equal(status(&b, &b.tx), 0x2E);
    set(&b, &b.tx, 0x07, 0x20);

    b.air.path_db[1][0] = 200; /* the acknowledgement doesn't come back */
    b.logged = 0;
    write_payload(&b, 32, 2);
    pulse(&b);
    pass(&b, 5000);
    int sent = 0;
    int64_t end = 0;
    for (uint32_t i = 0; i < b.logged; i++) {
        if (b.log[i].from != 0)
            continue;
        assert_int_equal(b.log[i].outcome, sent == 0 ? HEARD : HEARD_AGAIN);
        if (sent++ > 0)
            assert_int_equal(b.log[i].begin - end, US(500)); /* ARD: end to start */
        end = b.log[i].end;
    }
    assert_int_equal(sent, 4);
    assert_int_equal(status(&b, &b.tx), 0x1E);
    assert_int_equal(get(&b, &b.tx, 0x08), 0x13);
    set(&b, &b.tx, 0x05, 2); /* writing RF_CH clears the count of lost packets */
    assert_int_equal(get(&b, &b.tx, 0x08), 0x03);
}

static void test_forgets(void **state) {
    struct bench b;
    (void)state;
    plain_link(&b);
    send_one(&b);
    chip_power(&b.rx, false, b.now);
    assert_int_equal(get(&b, &b.rx, 0x05), 0xFF);
    b.rx.stuck = 0x00;
    assert_int_equal(get(&b, &b.rx, 0x05), 0x00);
    pass(&b, 5);
    chip_power(&b.rx, true, b.now);
    set(&b, &b.rx, 0x05, 40);
    assert_int_equal(b.rx.faults[FAULT_RESET_SPI], 2);
    pass(&b, 100000);
    assert_int_equal(get(&b, &b.rx, 0x05), 0x02);
    assert_int_equal(get(&b, &b.rx, 0x17), 0x11);
    assert_int_equal(get(&b, &b.rx, 0x00), 0x08);
}

/* The older chip has no 250 kbit/s and keeps FEATURE locked until ACTIVATE. */
static void test_older_chip(void **state) {
    struct bench b;
    (void)state;
    begin(&b);
    b.tx.plus = false;
    chip_power(&b.tx, false, b.now);
    chip_power(&b.tx, true, b.now);
    pass(&b, 100000);
    set(&b, &b.tx, 0x06, 0x26);
    assert_int_equal(get(&b, &b.tx, 0x06), 0x06);
    assert_int_equal(chip_kbps(&b.tx), 1000);
    set(&b, &b.tx, 0x1D, 0x04);
    assert_int_equal(get(&b, &b.tx, 0x1D), 0x00);
    send(&b, &b.tx, (uint8_t[]){0x50, 0x73}, 2);
    set(&b, &b.tx, 0x1D, 0x04);
    assert_int_equal(get(&b, &b.tx, 0x1D), 0x04);
    set(&b, &b.rx, 0x06, 0x26);
    assert_int_equal(chip_kbps(&b.rx), 250);
}

static void test_air(void **state) {
    struct bench b;
    int heard = 0;
    (void)state;
    plain_link(&b);
    b.air.loss = (struct loss){.kind = LOSS_EVERY, .a = 4};
    for (int i = 0; i < 12; i++) {
        heard += send_one(&b) == HEARD;
        send(&b, &b.rx, (uint8_t[]){0xE2}, 1);
    }
    assert_int_equal(heard, 9);
    b.air.loss.kind = LOSS_NONE;
    struct frame f = b.tx.frame;
    b.logged = 0;
    air_begin(&b.air, &b.tx, &f, b.now + US(10));
    air_begin(&b.air, &b.tx, &f, b.now + US(300)); /* overlaps the first */
    air_begin(&b.air, &b.tx, &f, b.now + US(700));
    pass(&b, 2000);
    assert_int_equal(b.logged, 3);
    assert_int_equal(b.log[0].outcome, COLLIDED);
    assert_int_equal(b.log[1].outcome, COLLIDED);
    assert_int_equal(b.log[2].outcome, HEARD);
    b.air.carrier = (struct carrier){.channel = 2, .dbm = -45, .period = 16, .on = 16};
    send(&b, &b.rx, (uint8_t[]){0xE2}, 1);
    assert_int_equal(send_one(&b), COLLIDED);
    b.air.carrier.channel = 40;
    assert_int_equal(send_one(&b), HEARD);
    b.air.resize = -1; /* shorter by a byte: the CRC is not where the receiver looks */
    send(&b, &b.rx, (uint8_t[]){0xE2}, 1);
    assert_int_equal(send_one(&b), NO_MATCH);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reset_values),
        cmocka_unit_test(test_spi),
        cmocka_unit_test(test_crc),
        cmocka_unit_test(test_time_on_air),
        cmocka_unit_test(test_start_and_settling),
        cmocka_unit_test(test_receiver_settling),
        cmocka_unit_test(test_ce_pulse),
        cmocka_unit_test(test_receive_fifo),
        cmocka_unit_test(test_send_fifo),
        cmocka_unit_test(test_irq_masks),
        cmocka_unit_test(test_carrier),
        cmocka_unit_test(test_carrier_short),
        cmocka_unit_test(test_carrier_of_packet),
        cmocka_unit_test(test_mismatch),
        cmocka_unit_test(test_pipes),
        cmocka_unit_test(test_dynamic),
        cmocka_unit_test(test_acknowledged),
        cmocka_unit_test(test_forgets),
        cmocka_unit_test(test_older_chip),
        cmocka_unit_test(test_air),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
