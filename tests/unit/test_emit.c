/* The encoder against check values from outside, against exact lines, and through the decoder,
 * which shares no code with it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "emit/emit.h"
#include "telemetry/telemetry.h"

struct paper {
    char text[600];
    size_t len;
};

static void write_byte(void *where, uint8_t byte) {
    struct paper *paper = where;
    assert_true(paper->len + 1 < sizeof paper->text);
    paper->text[paper->len++] = (char)byte;
    paper->text[paper->len] = '\0';
}

static void begin(struct emit *e, struct paper *paper, const char *word) {
    paper->len = 0;
    emit_begin(e, write_byte, paper, word);
}

/* Check values: CRC RevEng, "Catalogue of parametrised CRC algorithms", CRC-16/IBM-3740 (29B1; the
 * value of no bytes is its initial value); "A" was computed with Python's
 * binascii.crc_hqx(text, 0xFFFF). */
static void checks_against_catalogue(void **state) {
    static const struct {
        const char *legend, *text, *line;
    } cases[] = {
        {"the catalogue's check string", "123456789", "123456789 *29B1\r\n"},
        {"no bytes at all", "", " *FFFF\r\n"},
        {"one byte", "A", "A *B915\r\n"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct paper paper;
        struct emit e;
        begin(&e, &paper, cases[i].text);
        emit_end(&e);
        if (strcmp(paper.text, cases[i].line) != 0)
            fail_msg("%s: %s", cases[i].legend, paper.text);
    }
}

/* A second way to the same remainder: long division, bit by bit, of the message with 16 zero bits
 * appended, the initial value laid over its first 16 bits (the polynomial arithmetic as in
 * Williams, "A Painless Guide to CRC Error Detection Algorithms", 1993). */
static uint16_t divide(const char *text, size_t len) {
    uint32_t rest = 0;
    for (size_t bit = 0; bit < 8 * len + 16; bit++) {
        uint32_t next = bit < 8 * len ? (uint32_t)(uint8_t)text[bit / 8] >> (7 - bit % 8) & 1u : 0;
        if (bit < 16)
            next ^= 1u;
        rest = rest << 1 | next;
        if (rest & 0x10000u)
            rest ^= 0x11021u;
    }
    return (uint16_t)rest;
}

static void expect_checksum(const char *legend, const struct paper *paper) {
    char tail[12];
    assert_true(paper->len > 8);
    size_t body = paper->len - 8;
    snprintf(tail, sizeof tail, " *%04X\r\n", divide(paper->text, body));
    if (strcmp(paper->text + body, tail) != 0)
        fail_msg("%s: %s", legend, paper->text);
}

static void expect(const char *legend, struct paper *paper, const char *body) {
    expect_checksum(legend, paper);
    paper->text[paper->len - 8] = '\0';
    if (strcmp(paper->text, body) != 0)
        fail_msg("%s: got \"%s\", wanted \"%s\"", legend, paper->text, body);
}

static void numbers(void **state) {
    static const struct {
        uint32_t value;
        const char *line;
    } unsigned_cases[] = {{0, "rx k=0"},
                          {9, "rx k=9"},
                          {10, "rx k=10"},
                          {1000000000u, "rx k=1000000000"},
                          {4294967295u, "rx k=4294967295"}};
    static const struct {
        int32_t value;
        const char *line;
    } signed_cases[] = {{0, "rx k=0"},
                        {-1, "rx k=-1"},
                        {INT32_MAX, "rx k=2147483647"},
                        {INT32_MIN, "rx k=-2147483648"}};
    struct paper paper;
    struct emit e;
    (void)state;
    for (size_t i = 0; i < sizeof unsigned_cases / sizeof *unsigned_cases; i++) {
        begin(&e, &paper, "rx");
        emit_u32(&e, "k", unsigned_cases[i].value);
        emit_end(&e);
        expect("u32", &paper, unsigned_cases[i].line);
    }
    for (size_t i = 0; i < sizeof signed_cases / sizeof *signed_cases; i++) {
        begin(&e, &paper, "rx");
        emit_i32(&e, "k", signed_cases[i].value);
        emit_end(&e);
        expect("i32", &paper, signed_cases[i].line);
    }
}

static void words_and_text(void **state) {
    struct paper paper;
    struct emit e;
    (void)state;
    begin(&e, &paper, "boot");
    emit_word(&e, "cause", "brownout");
    emit_word(&e, "odd", "a b\tc\x7F\xE9");
    emit_word(&e, "empty", "");
    emit_end(&e);
    expect("word", &paper, "boot cause=brownout odd=a_b_c__");
    begin(&e, &paper, "say");
    emit_text(&e, "two words\n~ *\x80");
    emit_text(&e, "");
    emit_end(&e);
    expect("text", &paper, "say two words_~ *_");
}

static void pairs_and_lists(void **state) {
    static const int32_t mixed[] = {1500, EMIT_OFF, EMIT_HOLD, -100, 0};
    static const int32_t many[17] = {1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17};
    static const uint8_t address[] = {0x00, 0x9A, 0xFF, 0x54};
    struct paper paper;
    struct emit e;
    (void)state;
    begin(&e, &paper, "id");
    emit_list(&e, "safe", mixed, 5);
    emit_list(&e, "none", mixed, 0);
    emit_list(&e, "many", many, 17);
    expect("lists", (emit_end(&e), &paper),
           "id safe=1500,-,hold,-100,0 many=1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16");
    begin(&e, &paper, "id");
    emit_hex(&e, "addr", address, 4);
    emit_hex(&e, "none", address, 0);
    emit_pair(&e, "heard", 0, 4294967295u);
    expect("hex and pair", (emit_end(&e), &paper), "id addr=009AFF54 heard=0/4294967295");
}

static void patterns(void **state) {
    static const uint8_t history[8] = {0x01, 0, 0, 0, 0, 0, 0, 0xC0};
    static const struct {
        const char *legend;
        uint8_t count;
        const char *line;
    } cases[] = {
        {"none", 0, "rx"},
        {"the newest alone", 1, "rx pat=o"},
        {"oldest first", 3, "rx pat=xxo"},
        {"the oldest of 64 leads", 64,
         "rx pat=ooxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxo"},
        {"one more than 64 counts as 64", 65,
         "rx pat=ooxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxo"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct paper paper;
        struct emit e;
        begin(&e, &paper, "rx");
        emit_pattern(&e, "pat", history, cases[i].count);
        emit_end(&e);
        /* "rx" alone is shorter than any report, yet has its checksum */
        expect(cases[i].legend, &paper, cases[i].line);
    }
}

/* Through the decoder. */
struct seen {
    int events;
    struct event last;
};

static void see(void *context, const struct event *event) {
    struct seen *seen = context;
    seen->events++;
    seen->last = *event;
}

static const struct event *decode(struct seen *seen, const struct paper *paper) {
    static struct telemetry t;
    seen->events = 0;
    telemetry_init(&t, see, seen);
    telemetry_feed(&t, paper->text, paper->len, 1000);
    assert_int_equal(seen->events, 1);
    assert_int_equal(t.tally.lines_good, 1);
    assert_int_equal(t.tally.bytes_good, paper->len);
    return &seen->last;
}

static void report_comes_back(void **state) {
    static const int32_t ch[] = {1500, EMIT_OFF, -32768, 65535};
    static const uint8_t history[8] = {0xF6, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0x7F};
    struct paper paper;
    struct seen seen;
    struct emit e;
    (void)state;
    begin(&e, &paper, "rx");
    emit_u32(&e, "n", 4294967295u);
    emit_u32(&e, "t", 0);
    emit_list(&e, "ch", ch, 4);
    emit_u32(&e, "got", 61);
    emit_u32(&e, "lost", 3);
    emit_pattern(&e, "pat", history, 64);
    emit_pair(&e, "heard", 1, 61);
    emit_i32(&e, "rssi", -85);
    emit_word(&e, "reg", "default");
    emit_end(&e);
    const struct event *event = decode(&seen, &paper);
    assert_int_equal(event->kind, EVENT_REPORT);
    const struct report *r = &event->report;
    assert_int_equal(r->n, 4294967295u);
    assert_int_equal(r->ch_count, 4);
    assert_int_equal(r->ch[1], CHANNEL_OFF);
    assert_int_equal(r->ch[2], -32768);
    assert_int_equal(r->ch[3], 65535);
    assert_int_equal(r->pat_len, 64);
    /* oldest first on the wire and in bit 0: the encoder's history reversed */
    assert_true(r->pat == 0x6FFFFFFFFFFFFFFEu);
    assert_int_equal(report_arrived(r), 61);
    assert_int_equal(r->heard_looks, 61);
    assert_int_equal(r->rssi_dbm, -85);
    assert_int_equal(r->reg, REGISTERS_DEFAULT);
    assert_true(report_has(r, KEY_T) && !report_has(r, KEY_MV));
}

static void identity_comes_back(void **state) {
    static const int32_t safe[] = {1500, EMIT_HOLD, EMIT_OFF};
    static const uint8_t address[] = {0x54, 0x55, 0x47, 0x30, 0x37};
    struct paper paper;
    struct seen seen;
    struct emit e;
    (void)state;
    begin(&e, &paper, "id");
    emit_word(&e, "end", "rx");
    emit_list(&e, "safe", safe, 3);
    emit_hex(&e, "addr", address, 5);
    emit_end(&e);
    const struct event *event = decode(&seen, &paper);
    assert_int_equal(event->kind, EVENT_ID);
    assert_false(event->id.transmitter);
    assert_int_equal(event->id.safe_count, 3);
    assert_int_equal(event->id.safe[1], CHANNEL_HOLD);
    assert_int_equal(event->id.safe[2], CHANNEL_OFF);
    assert_true(slice_is(event->id.addr, "5455473037"));
}

static void every_flipped_bit_is_refused(void **state) {
    struct paper paper;
    struct seen seen = {0};
    struct emit e;
    (void)state;
    begin(&e, &paper, "rx");
    emit_list(&e, "ch", (const int32_t[]){1500, 1000}, 2);
    emit_end(&e);
    for (size_t bit = 0; bit < 8 * (paper.len - 2); bit++) {
        static struct telemetry t;
        struct paper bad = paper;
        bad.text[bit / 8] = (char)(bad.text[bit / 8] ^ (char)(1 << bit % 8));
        telemetry_init(&t, see, &seen);
        telemetry_feed(&t, paper.text, paper.len, 0); /* shows that there are checksums */
        telemetry_feed(&t, bad.text, bad.len, 1000);
        telemetry_end(&t, 2000);
        if (t.tally.lines_good != 1 && bit / 8 < paper.len - 6)
            fail_msg("bit %zu of %s let through", bit, paper.text);
        assert_true(t.tally.bytes_good + t.tally.bytes_refused == 2 * paper.len);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(checks_against_catalogue),
        cmocka_unit_test(numbers),
        cmocka_unit_test(words_and_text),
        cmocka_unit_test(pairs_and_lists),
        cmocka_unit_test(patterns),
        cmocka_unit_test(report_comes_back),
        cmocka_unit_test(identity_comes_back),
        cmocka_unit_test(every_flipped_bit_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
