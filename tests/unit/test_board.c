/* The portable half of the firmwares: payload, uplink, sticks, the radio's registers over a chip
 * that this test keeps, and the lines through the decoder, which shares no code with them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "board/lines.h"
#include "board/payload.h"
#include "board/radio.h"
#include "board/spi.h"
#include "board/stick.h"
#include "board/uplink.h"
#include "telemetry/telemetry.h"

/* ---- payload ----------------------------------------------------------------------------------
 */

/* The eleven bytes were computed as one 88-bit number by Python's int.to_bytes, the last two by
 * long division of such a number, which gives CRC-16/MODBUS' check value, 4B37 for "123456789". */
static const uint8_t known[PAYLOAD_SIZE] = {1,    0x7A, 0x19, 0x01, 0x02, 0xFF, 0xFE, 0x7D,
                                            0x07, 0xD2, 0xEE, 0x2D, 0xE0, 0x01, 0xFF, 0xDF,
                                            0x49, 0xF3, 0x13, 0x88, 0x14, 0xB8, 0x9F};
static const struct payload known_payload = {
    .tboot = 0x0102,
    .seq = 0xFFFE,
    .channel = {1500, 1000, 2000, 1234, 500, 2547, 1501, 999},
    .mv = 5000,
    .step = 1,
    .steps = 4,
};

static void payload_has_its_bytes(void **state) {
    uint8_t bytes[PAYLOAD_SIZE];
    struct payload p;
    (void)state;
    payload_write(&known_payload, 0x7A19, bytes);
    assert_memory_equal(bytes, known, PAYLOAD_SIZE);
    assert_true(payload_read(&p, 0x7A19, known, PAYLOAD_SIZE));
    assert_int_equal(p.tboot, 0x0102);
    assert_int_equal(p.seq, 0xFFFE);
    assert_memory_equal(p.channel, known_payload.channel, sizeof p.channel);
    assert_int_equal(p.mv, 5000);
    assert_int_equal(p.step, 1);
    assert_int_equal(p.steps, 4);
}

static void payload_keeps_every_value(void **state) {
    (void)state;
    for (uint16_t us = 0; us < 4000; us++) {
        uint16_t want = us < 500 ? 500 : us > 2547 ? 2547 : us; /* 11 bits from 500 on */
        for (uint8_t i = 0; i < PAYLOAD_CHANNELS; i++) {
            struct payload in = known_payload, out;
            uint8_t bytes[PAYLOAD_SIZE];
            in.channel[i] = us;
            payload_write(&in, 9, bytes);
            assert_true(payload_read(&out, 9, bytes, PAYLOAD_SIZE));
            in.channel[i] = want;
            assert_memory_equal(out.channel, in.channel, sizeof out.channel);
        }
    }
}

static void payload_is_refused(void **state) {
    static const struct {
        const char *legend;
        uint8_t length, version;
        uint16_t owner;
    } cases[] = {
        {"one byte short", PAYLOAD_SIZE - 1, 1, 0x7A19},
        {"one byte long", PAYLOAD_SIZE + 1, 1, 0x7A19},
        {"nothing", 0, 1, 0x7A19},
        {"the largest", 32, 1, 0x7A19},
        {"another version", PAYLOAD_SIZE, 2, 0x7A19},
        {"another owner", PAYLOAD_SIZE, 1, 0x7A18},
        {"its bytes swapped", PAYLOAD_SIZE, 1, 0x197A},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        uint8_t bytes[33] = {0};
        struct payload p = {.seq = 77};
        memcpy(bytes, known, PAYLOAD_SIZE);
        bytes[0] = cases[i].version;
        if (payload_read(&p, cases[i].owner, bytes, cases[i].length) || p.seq != 77)
            fail_msg("%s", cases[i].legend);
    }
}

/* A radio that loses its supply while it is read leaves the lines at one level. */
static void payload_torn_is_refused(void **state) {
    static const uint8_t levels[] = {0x00, 0xFF};
    (void)state;
    for (uint8_t whole = 0; whole < PAYLOAD_SIZE; whole++) {
        for (uint8_t i = 0; i < 2; i++) {
            uint8_t bytes[PAYLOAD_SIZE];
            struct payload p = {.seq = 77};
            memset(bytes, levels[i], sizeof bytes);
            memcpy(bytes, known, whole);
            assert_false(payload_read(&p, 0x7A19, bytes, sizeof bytes));
            assert_int_equal(p.seq, 77);
        }
    }
}

/* ---- uplink -----------------------------------------------------------------------------------
 */

static const struct uplink_rules rules = {
    .owner = 0x7A19,
    .preset = {1500, PRESET_HOLD, 1000, PRESET_OFF, 1400, 1500, 1600, 1700},
    .throttle = 2,
    .low_us = 1050,
    .low_packets = 5,
    .hold_ms = 500,
};

static bool feed(struct uplink *u, uint16_t tboot, uint16_t seq, uint16_t throttle, uint32_t at) {
    uint8_t bytes[PAYLOAD_SIZE];
    struct payload p = {.tboot = tboot, .seq = seq, .mv = 5000, .step = 4, .steps = 4};
    for (uint8_t i = 0; i < PAYLOAD_CHANNELS; i++)
        p.channel[i] = (uint16_t)(1200 + i);
    p.channel[2] = throttle;
    payload_write(&p, rules.owner, bytes);
    return uplink_take(u, bytes, PAYLOAD_SIZE, at);
}

/* As a report would print it. */
static const char *pattern(const struct uplink *u) {
    static char text[65];
    for (uint8_t i = 0; i < u->outcomes; i++) {
        uint8_t bit = (uint8_t)(u->outcomes - 1 - i);
        text[i] = u->history[bit / 8] >> (bit % 8) & 1 ? 'o' : 'x';
    }
    text[u->outcomes] = '\0';
    return text;
}

/* Numbers 65500 to 99 over one wrap are 136 packets: of those 130 arrive, 6 are lost (arithmetic of
 * RFC 3550, appendix A.3: extended highest number - first + 1 - received). */
static void counts_over_a_wrap(void **state) {
    struct uplink u;
    uint32_t at = 1000;
    (void)state;
    uplink_init(&u, &rules);
    for (uint16_t i = 0; i < 136; i++, at += 20)
        if (i != 7 && i != 30 && i != 31 && i != 36 && i != 37 && i != 38)
            assert_true(feed(&u, 1, (uint16_t)(65500 + i), 1000, at));
    assert_int_equal(u.got, 130);
    assert_int_equal(u.lost, 6);
    assert_int_equal(u.outcomes, 64);
    assert_string_equal(pattern(&u),
                        "ooooooooooooooooooooooooooooooooooooooooooooooooooooooooooooooo"
                        "o");
}

static void counts_packets(void **state) {
    static const struct {
        const char *legend;
        struct {
            uint16_t tboot, seq;
        } came[8];
        uint32_t got, lost;
        const char *pattern;
    } cases[] = {
        {"nothing is lost before the first", {{1, 500}}, 1, 0, "o"},
        {"in a row", {{1, 500}, {1, 501}, {1, 502}}, 3, 0, "ooo"},
        {"one and two missing", {{1, 500}, {1, 502}, {1, 505}}, 3, 3, "oxoxxo"},
        {"a copy isn't counted", {{1, 500}, {1, 500}, {1, 501}, {1, 501}}, 2, 0, "oo"},
        {"an old copy neither", {{1, 500}, {1, 502}, {1, 501}, {1, 503}}, 3, 1, "oxoo"},
        {"over the wrap", {{1, 65535}, {1, 1}}, 2, 1, "oxo"},
        {"the transmitter started again", {{1, 500}, {2, 1}, {2, 2}}, 3, 0, "ooo"},
        {"with the same number by chance", {{1, 500}, {2, 500}, {2, 502}}, 3, 1, "ooxo"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct uplink u;
        uplink_init(&u, &rules);
        for (uint32_t k = 0; k < 8 && cases[i].came[k].tboot; k++)
            feed(&u, cases[i].came[k].tboot, cases[i].came[k].seq, 1000, 100 + 20 * k);
        if (u.got != cases[i].got || u.lost != cases[i].lost ||
            strcmp(pattern(&u), cases[i].pattern) != 0)
            fail_msg("%s: got %u lost %u pat %s", cases[i].legend, (unsigned)u.got,
                     (unsigned)u.lost, pattern(&u));
    }
}

static void refused_ones_change_nothing_else(void **state) {
    struct uplink u;
    uint8_t bytes[PAYLOAD_SIZE] = {0};
    (void)state;
    uplink_init(&u, &rules);
    feed(&u, 1, 10, 1000, 100);
    assert_false(uplink_take(&u, bytes, PAYLOAD_SIZE, 110));
    assert_false(uplink_take(&u, known, PAYLOAD_SIZE - 1, 110));
    assert_int_equal(u.refused, 2);
    assert_int_equal(u.got, 1);
    assert_int_equal(u.last_ms, 100);
    assert_string_equal(pattern(&u), "o");
}

/* More missing than the pattern holds: the newest 64 outcomes, and the counter has them all. */
static void long_losses_fill_the_pattern(void **state) {
    struct uplink u;
    (void)state;
    uplink_init(&u, &rules);
    feed(&u, 1, 0, 1000, 0);
    uplink_reported(&u);
    feed(&u, 1, 201, 1000, 4020);
    assert_int_equal(u.lost, 200);
    assert_int_equal(strspn(pattern(&u), "x"), 63);
    assert_string_equal(pattern(&u) + 63, "o");
    uplink_reported(&u);
    assert_string_equal(pattern(&u), "");
}

/* 12 minutes are more than half a round of 65536 numbers at 50 a second. */
static void comes_back_after_half_a_round(void **state) {
    struct uplink u;
    (void)state;
    uplink_init(&u, &rules);
    feed(&u, 1, 0, 1000, 0);
    assert_true(feed(&u, 1, 36000, 1000, 720000));
    assert_int_equal(u.lost, 35999);
}

static void times_outages(void **state) {
    struct uplink u;
    (void)state;
    uplink_init(&u, &rules);
    feed(&u, 1, 1, 1000, 0xFFFFFF00u); /* the clock wraps meanwhile */
    feed(&u, 1, 3, 1000, 0xFFFFFF28u);
    feed(&u, 1, 4, 1000, 0xFFFFFF3Cu);
    assert_int_equal(uplink_gap(&u, 0xFFFFFF40u), 40);
    assert_int_equal(uplink_gap(&u, 0x00000004u), 200);
    uplink_reported(&u);
    assert_int_equal(uplink_gap(&u, 0xFFFFFF40u), 4);
    feed(&u, 1, 20, 1000, 0x00000100u);
    assert_int_equal(uplink_gap(&u, 0x00000100u), 452); /* begun before the report */
}

static void check_outputs(const struct uplink *u, const char *legend, const uint16_t *want) {
    uint16_t us[PAYLOAD_CHANNELS];
    uplink_outputs(u, us);
    if (memcmp(us, want, sizeof us) != 0)
        fail_msg("%s: %u,%u,%u,%u,...", legend, us[0], us[1], us[2], us[3]);
}

static void failsafe_and_lock(void **state) {
    static const uint16_t cold[8] = {1500, PRESET_OFF, 1000, PRESET_OFF, 1400, 1500, 1600, 1700};
    static const uint16_t locked[8] = {1200, 1201, 1000, 1203, 1204, 1205, 1206, 1207};
    static const uint16_t running[8] = {1200, 1201, 1800, 1203, 1204, 1205, 1206, 1207};
    static const uint16_t safe[8] = {1500, 1201, 1000, PRESET_OFF, 1400, 1500, 1600, 1700};
    struct uplink u;
    uint16_t seq = 0;
    (void)state;
    uplink_init(&u, &rules);
    uplink_tick(&u, 100000);
    assert_true(u.fs && u.lock);
    assert_int_equal(u.fsn, 0);
    check_outputs(&u, "before the first packet", cold);
    uint32_t at = 200000;
    for (; seq < 20; seq++, at += 20)
        feed(&u, 1, seq, 1800, at);
    assert_true(!u.fs && u.lock);
    check_outputs(&u, "throttle raised from the start", locked);
    for (int i = 0; i < 4; i++, seq++, at += 20)
        feed(&u, 1, seq, 1050, at);
    feed(&u, 1, seq++, 1051, at);
    for (int i = 0; i < 4; i++, seq++)
        feed(&u, 1, seq, 1050, at += 20);
    assert_true(u.lock); /* never five in a row */
    feed(&u, 1, seq++, 1050, at += 20);
    assert_false(u.lock);
    feed(&u, 1, seq++, 1800, at += 20);
    check_outputs(&u, "running", running);
    uplink_tick(&u, at + 499);
    assert_false(u.fs);
    uplink_tick(&u, at + 500);
    assert_true(u.fs && u.lock);
    assert_int_equal(u.fsn, 1);
    check_outputs(&u, "failsafe", safe);
    feed(&u, 1, seq++, 1800, at += 700);
    assert_true(!u.fs && u.lock);
    check_outputs(&u, "back with the throttle raised", locked);
    feed(&u, 1, seq++, 1800, at += 600); /* nobody called uplink_tick in time */
    assert_int_equal(u.fsn, 2);
}

/* ---- sticks -----------------------------------------------------------------------------------
 */

static void sticks_by_three_points(void **state) {
    static const struct {
        const char *legend;
        int16_t point[3];
        uint16_t count, us;
    } cases[] = {
        {"low end", {0, 512, 1023}, 0, 1000},
        {"rest", {0, 512, 1023}, 512, 1500},
        {"high end", {0, 512, 1023}, 1023, 2000},
        {"half way down", {0, 512, 1023}, 256, 1250},
        {"short travel", {377, 511, 644}, 377, 1000},
        {"its rest", {377, 511, 644}, 511, 1500},
        {"half way up", {400, 500, 700}, 600, 1750},
        {"beyond the low end", {377, 511, 644}, 300, 1000},
        {"beyond the high", {377, 511, 644}, 700, 2000},
        {"reversed low", {900, 500, 100}, 900, 1000},
        {"reversed", {900, 500, 100}, 200, 1875},
        {"no travel at all", {500, 500, 500}, 700, 1000},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        uint16_t us = stick_us(cases[i].point, (uint16_t)(16 * cases[i].count), 16);
        if (us != cases[i].us)
            fail_msg("%s: %u", cases[i].legend, us);
    }
}

/* ---- radio ------------------------------------------------------------------------------------
 */

/* A chip as its product specification (nRF24L01+, version 1.0, chapters 8 and 9) has it: commands,
 * reset values, addresses from the last byte on the air to the first. */
static struct {
    uint8_t reg[32][5];
    uint8_t fifo[3][32], packets;
    uint8_t sent[32], sent_len;
    bool selected, ce;
    uint8_t command, at;
    enum { SOUND, ZEROS, ONES } wires;
    uint8_t spoilt_reg, spoilt_bits; /* on reading */
} chip;

static void chip_power_on(void) {
    static const uint8_t reset[] = {0x08, 0x3F, 0x03, 0x03, 0x03, 0x02, 0x0E, 0x0E};
    memset(&chip, 0, sizeof chip);
    for (size_t i = 0; i < sizeof reset; i++)
        chip.reg[i][0] = reset[i];
    memset(chip.reg[0x0A], 0xE7, 5);
    memset(chip.reg[0x0B], 0xC2, 5);
    memset(chip.reg[0x10], 0xE7, 5);
}

void spi_init(void) {
}

void spi_select(void) {
    chip.selected = true;
    chip.command = 0xFF;
    chip.at = 0;
}

void spi_release(void) {
    if (chip.command == 0x61 && chip.packets > 0) {
        memmove(chip.fifo[0], chip.fifo[1], sizeof chip.fifo - sizeof chip.fifo[0]);
        chip.packets--;
    }
    chip.selected = false;
}

void spi_enable(bool on) {
    chip.ce = on;
}

static uint8_t chip_read(uint8_t reg, uint8_t at) {
    if (reg == 0x17)
        return (uint8_t)((chip.sent_len ? 0 : 0x10) | (chip.packets == 0 ? 0x01 : 0) |
                         (chip.packets == 3 ? 0x02 : 0));
    return reg == chip.spoilt_reg ? (uint8_t)(chip.reg[reg][at] ^ chip.spoilt_bits)
                                  : chip.reg[reg][at];
}

static uint8_t chip_answer(uint8_t byte) {
    if (chip.at++ == 0) {
        chip.command = byte;
        if (byte == 0xE1 || byte == 0xA0)
            chip.sent_len = 0;
        if (byte == 0xE2)
            chip.packets = 0;
        return (uint8_t)((chip.reg[7][0] & 0x70) | (chip.packets ? 0 : 0x0E));
    }
    uint8_t at = (uint8_t)(chip.at - 2), reg = chip.command & 0x1F;
    if (chip.command < 0x20)
        return chip_read(reg, at);
    if (chip.command < 0x40 && reg == 7)
        chip.reg[7][0] &= (uint8_t)~byte; /* events are cleared by ones */
    else if (chip.command < 0x40)
        chip.reg[reg][at] = byte;
    else if (chip.command == 0x61)
        return chip.fifo[0][at];
    else if (chip.command == 0xA0)
        chip.sent[chip.sent_len++] = byte;
    return 0;
}

uint8_t spi_swap(uint8_t byte) {
    assert_true(chip.selected);
    uint8_t answer = chip_answer(byte);
    return chip.wires == ZEROS ? 0 : chip.wires == ONES ? 0xFF : answer;
}

static const struct radio receiver = {.end = RADIO_RECEIVES,
                                      .rf_ch = 78,
                                      .kbps = 250,
                                      .step = 4,
                                      .size = PAYLOAD_SIZE,
                                      .address = {0xB3, 0x1D, 0x76, 0xC4, 0x5A}};

static void radio_sets_registers(void **state) {
    static const struct {
        const char *legend;
        uint8_t reg, value;
    } cases[] = {
        {"powered up, receiving, two CRC bytes, only RX_DR on IRQ", 0x00, 0x3F},
        {"no acknowledgements", 0x01, 0x00},
        {"pipe 0 alone", 0x02, 0x01},
        {"five address bytes", 0x03, 0x03},
        {"no repeats", 0x04, 0x00},
        {"2478 MHz", 0x05, 78},
        {"250 kbit/s, 0 dBm", 0x06, 0x26},
        {"payload size", 0x11, PAYLOAD_SIZE},
        {"nothing dynamic", 0x1C, 0x00},
        {"no features", 0x1D, 0x00},
    };
    static const uint8_t backwards[5] = {0x5A, 0xC4, 0x76, 0x1D, 0xB3};
    (void)state;
    chip_power_on();
    chip.packets = 2;
    radio_begin(&receiver);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        if (chip.reg[cases[i].reg][0] != cases[i].value)
            fail_msg("%s: %02X", cases[i].legend, chip.reg[cases[i].reg][0]);
    assert_memory_equal(chip.reg[0x0A], backwards, 5);
    assert_int_equal(chip.packets, 0);
    assert_false(chip.ce);
}

static void radio_sets_rate_and_power(void **state) {
    static const struct {
        uint16_t kbps;
        uint8_t step, value;
    } cases[] = {{250, 1, 0x20}, {250, 4, 0x26}, {1000, 4, 0x06}, {1000, 3, 0x04}, {2000, 2, 0x0A}};
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct radio r = receiver;
        struct radio_facts facts;
        r.kbps = cases[i].kbps;
        r.step = cases[i].step;
        chip_power_on();
        radio_begin(&r);
        assert_int_equal(chip.reg[6][0], cases[i].value);
        radio_read_facts(&r, &facts);
        assert_int_equal(facts.kbps, cases[i].kbps);
    }
}

static void radio_is_judged(void **state) {
    struct radio sender = receiver;
    (void)state;
    chip_power_on();
    assert_int_equal(radio_check(&receiver), RADIO_DEFAULT);
    radio_begin(&receiver);
    assert_int_equal(radio_check(&receiver), RADIO_OK);
    sender.end = RADIO_SENDS;
    assert_int_equal(radio_check(&sender), RADIO_DIFFERS);
    chip.wires = ZEROS;
    assert_int_equal(radio_check(&receiver), RADIO_ABSENT);
    chip.wires = ONES;
    assert_int_equal(radio_check(&receiver), RADIO_ABSENT);
    chip_power_on();
    radio_begin(&sender);
    assert_int_equal(radio_check(&sender), RADIO_OK);
    assert_int_equal(chip.reg[0][0], 0x5E); /* sending, only TX_DS on IRQ */
}

/* Each single bit that differs shows; RF_SETUP's lowest and its bit 6 mean nothing. */
static void radio_shows_every_bit(void **state) {
    static const uint8_t regs[] = {0, 1, 2, 3, 4, 5, 6, 0x11, 0x1C, 0x1D, 0x0A};
    (void)state;
    chip_power_on();
    radio_begin(&receiver);
    for (size_t i = 0; i < sizeof regs; i++)
        for (uint8_t bit = 0; bit < 8; bit++) {
            bool idle = regs[i] == 6 && (bit == 0 || bit == 6);
            chip.spoilt_reg = regs[i];
            chip.spoilt_bits = (uint8_t)(1 << bit);
            if (radio_check(&receiver) != (idle ? RADIO_OK : RADIO_DIFFERS))
                fail_msg("register %02X bit %u", regs[i], bit);
        }
}

static void radio_receives(void **state) {
    uint8_t bytes[32] = {0};
    (void)state;
    chip_power_on();
    radio_begin(&receiver);
    assert_false(radio_arrived());
    for (uint8_t i = 0; i < 3; i++)
        memset(chip.fifo[i], 0x11 * (i + 1), 32);
    chip.packets = 3;
    chip.reg[7][0] = 0x40;
    chip.reg[9][0] = 1;
    for (uint8_t i = 0; i < 3; i++) { /* the oldest first */
        assert_true(radio_arrived());
        radio_take(&receiver, bytes);
        assert_int_equal(bytes[0], 0x11 * (i + 1));
        assert_int_equal(bytes[PAYLOAD_SIZE - 1], 0x11 * (i + 1));
        assert_int_equal(bytes[PAYLOAD_SIZE], 0);
    }
    assert_false(radio_arrived());
    assert_int_equal(chip.reg[7][0], 0);
    assert_true(radio_carrier());
    chip.wires = ZEROS;
    assert_false(radio_arrived());
    assert_false(radio_carrier());
    chip.wires = ONES;
    assert_false(radio_arrived());
    assert_false(radio_carrier());
}

static void radio_sends(void **state) {
    struct radio sender = receiver;
    (void)state;
    sender.end = RADIO_SENDS;
    chip_power_on();
    radio_begin(&sender);
    for (int i = 0; i < 2; i++) /* the second takes the place of one that never went out */
        radio_load(&sender, known);
    assert_int_equal(chip.sent_len, PAYLOAD_SIZE);
    assert_memory_equal(chip.sent, known, PAYLOAD_SIZE);
    sender.step = 1;
    radio_set_power(&sender);
    assert_int_equal(chip.reg[6][0], 0x20);
}

/* ---- lines ------------------------------------------------------------------------------------
 */

static char paper[600];
static size_t written;

static void write_byte(void *unused, uint8_t byte) {
    (void)unused;
    assert_true(written < sizeof paper - 1);
    paper[written++] = (char)byte;
    paper[written] = '\0';
}

static void see(void *context, const struct event *event) {
    *(struct event *)context = *event;
}

static const struct event *decode(void) {
    static struct telemetry t;
    static struct event event;
    telemetry_init(&t, see, &event);
    telemetry_feed(&t, paper, written, 1000);
    if (t.tally.lines_good != 1 || t.tally.bytes_good != written)
        fail_msg("refused: %s", paper);
    return &event;
}

static void print_report(const struct rx_facts *facts, const struct uplink *u) {
    static struct lines_report line;
    struct uplink changing = *u;
    written = 0;
    lines_report_begin(&line, write_byte, facts, &changing);
    for (int steps = 0; !lines_report_step(&line); steps++) {
        changing.got++; /* what comes meanwhile belongs to the next report */
        assert_true(steps < 20);
    }
}

static void report_comes_back(void **state) {
    struct rx_facts facts = {.n = 7,
                             .now_ms = 1234,
                             .mv = 5006,
                             .mvmin = 4711,
                             .heard = {2, 3},
                             .noise = {1, 4},
                             .reg = RADIO_DEFAULT,
                             .reinit = 2};
    struct uplink u;
    (void)state;
    uplink_init(&u, &rules);
    feed(&u, 3, 10, 1800, 1180);
    feed(&u, 3, 12, 1800, 1220);
    print_report(&facts, &u);
    const struct report *r = &decode()->report;
    uint32_t all = (1u << REPORT_KEYS) - 1u;
    assert_int_equal(r->has, all & ~(1u << KEY_RSSI)); /* the chip has no RSSI */
    assert_int_equal(r->n, 7);
    assert_int_equal(r->t_ms, 1234);
    assert_int_equal(r->ch_count, 8);
    assert_int_equal(r->ch[2], 1000);
    assert_int_equal(r->in[2], 1800);
    assert_int_equal(r->lock, 1);
    assert_int_equal(r->seq, 12);
    assert_int_equal(r->tboot, 3);
    assert_int_equal(r->got, 2);
    assert_int_equal(r->lost, 1);
    assert_int_equal(r->pat_len, 3);
    assert_int_equal(r->pat, 5);
    assert_int_equal(r->age_ms, 14);
    assert_int_equal(r->gap_ms, 40);
    assert_int_equal(r->mvmin, 4711);
    assert_int_equal(r->heard_hits, 2);
    assert_int_equal(r->noise_looks, 4);
    assert_int_equal(r->reg, REGISTERS_DEFAULT);
    assert_int_equal(r->tstep, 4);
    assert_int_equal(r->tsteps, 4);
}

static void unknown_stays_away(void **state) {
    struct rx_facts facts = {.n = 1, .now_ms = 100, .reg = RADIO_ABSENT};
    struct uplink u;
    (void)state;
    uplink_init(&u, &rules);
    print_report(&facts, &u);
    const struct report *r = &decode()->report;
    uint32_t away = 1u << KEY_IN | 1u << KEY_SEQ | 1u << KEY_TBOOT | 1u << KEY_PAT | 1u << KEY_AGE |
                    1u << KEY_GAP | 1u << KEY_TMV | 1u << KEY_TSTEP;
    assert_int_equal(r->has & away, 0);
    assert_int_equal(r->fs, 1);
    assert_int_equal(r->fsn, 0);
    assert_int_equal(r->ch[1], CHANNEL_OFF);
    assert_int_equal(r->reg, REGISTERS_ABSENT);
}

/* 400 bytes before the line end are the format's limit (airleash-telemetry(5)).  The counters are
 * those of 49.7 days, when t wraps: 50 packets and 20 reports a second, a re-initialisation every
 * 25 ms; a full pattern means that a packet came a report ago at most. */
static void longest_report_fits(void **state) {
    struct rx_facts facts = {.n = 85899345,
                             .now_ms = UINT32_MAX,
                             .mv = UINT16_MAX,
                             .mvmin = UINT16_MAX,
                             .heard = {255, 255},
                             .noise = {255, 255},
                             .reg = RADIO_DEFAULT,
                             .reinit = 171798691};
    struct uplink u;
    (void)state;
    uplink_init(&u, &rules);
    for (uint16_t i = 0; i < 64; i++)
        feed(&u, 65535, (uint16_t)(65472 + i), 2547, 0);
    u.got = u.lost = u.refused = 214748364;
    u.fsn = 8589934;
    u.longest_ms = UINT32_MAX;
    u.last_ms = UINT32_MAX - 60;
    u.newest.mv = UINT16_MAX;
    u.newest.step = u.newest.steps = RADIO_STEPS;
    for (uint8_t i = 0; i < PAYLOAD_CHANNELS; i++)
        u.newest.channel[i] = 2547;
    u.lock = false;
    print_report(&facts, &u);
    assert_int_equal(decode()->kind, EVENT_REPORT);
    assert_true(written <= 402 && written > 380);
}

static void identity_comes_back(void **state) {
    struct radio_facts facts;
    (void)state;
    chip_power_on();
    radio_begin(&receiver);
    radio_read_facts(&receiver, &facts);
    written = 0;
    lines_id(write_byte, "rx", "board-rx-1", rules.preset, &facts);
    const struct identity *id = &decode()->id;
    assert_int_equal(id->has, (1u << IDENTITY_KEYS) - 1u);
    assert_false(id->transmitter);
    assert_true(id->rate_hz == 50.0);
    assert_int_equal(id->safe[1], CHANNEL_HOLD);
    assert_int_equal(id->safe[2], 1000);
    assert_int_equal(id->safe[3], CHANNEL_OFF);
    assert_int_equal(id->seqmod, 65536);
    assert_int_equal(id->mhz, 2478);
    assert_int_equal(id->kbps, 250);
    assert_true(slice_is(id->addr, "B31D76C45A"));
    assert_int_equal(id->aw, 5);
    assert_int_equal(id->crc, 2);
    assert_int_equal(id->size, PAYLOAD_SIZE);
    assert_int_equal(id->ack, 0);
}

/* What the chip holds is told, not what was meant; without a chip nothing is. */
static void identity_is_read_back(void **state) {
    struct radio_facts facts;
    (void)state;
    chip_power_on();
    radio_read_facts(&receiver, &facts);
    written = 0;
    lines_id(write_byte, "tx", "board-tx-1", NULL, &facts);
    const struct identity *id = &decode()->id;
    assert_true(id->transmitter);
    assert_int_equal(id->mhz, 2402);  /* the specification's reset values: channel 2, */
    assert_int_equal(id->kbps, 2000); /* 2 Mbit/s, */
    assert_int_equal(id->ack, 1);     /* acknowledgements on all pipes, */
    assert_int_equal(id->crc, 1);     /* one CRC byte, */
    assert_int_equal(id->retries, 3);
    assert_true(slice_is(id->addr, "E7E7E7E7E7"));
    written = 0;
    lines_id(write_byte, "rx", "board-rx-1", rules.preset, NULL);
    assert_int_equal(decode()->id.has & (1u << ID_MHZ | 1u << ID_ADDR | 1u << ID_SIZE), 0);
}

static void other_lines_come_back(void **state) {
    static const uint8_t hits[3] = {0, 100, 7};
    struct sending s = {.sent = 9, .mv = 4100, .step = 1, .sticks = 6};
    (void)state;
    written = 0;
    lines_boot(write_byte, "brownout");
    assert_int_equal(decode()->boot.cause, BOOT_BROWNOUT);
    written = 0;
    lines_air(write_byte, 2400, 100, hits, 3);
    const struct air_sweep *air = &decode()->air;
    assert_int_equal(air->count, 3);
    assert_int_equal(air->hits[1], 100);
    written = 0;
    lines_say(write_byte, "throttle low");
    assert_int_equal(decode()->kind, EVENT_SAY);
    written = 0;
    lines_sending(write_byte, &s);
    assert_int_equal(decode()->kind, EVENT_SAY);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(payload_has_its_bytes),
        cmocka_unit_test(payload_keeps_every_value),
        cmocka_unit_test(payload_is_refused),
        cmocka_unit_test(payload_torn_is_refused),
        cmocka_unit_test(counts_over_a_wrap),
        cmocka_unit_test(counts_packets),
        cmocka_unit_test(refused_ones_change_nothing_else),
        cmocka_unit_test(long_losses_fill_the_pattern),
        cmocka_unit_test(comes_back_after_half_a_round),
        cmocka_unit_test(times_outages),
        cmocka_unit_test(failsafe_and_lock),
        cmocka_unit_test(sticks_by_three_points),
        cmocka_unit_test(radio_sets_registers),
        cmocka_unit_test(radio_sets_rate_and_power),
        cmocka_unit_test(radio_is_judged),
        cmocka_unit_test(radio_shows_every_bit),
        cmocka_unit_test(radio_receives),
        cmocka_unit_test(radio_sends),
        cmocka_unit_test(report_comes_back),
        cmocka_unit_test(unknown_stays_away),
        cmocka_unit_test(longest_report_fits),
        cmocka_unit_test(identity_comes_back),
        cmocka_unit_test(identity_is_read_back),
        cmocka_unit_test(other_lines_come_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
