/* base/: slices, numbers, text.  Numbers are checked against the C library in the C locale. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
/* cmocka wants those first */
#include <cmocka.h>
#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/bits.h"
#include "base/mask.h"
#include "base/number.h"
#include "base/percent.h"
#include "base/printable.h"
#include "base/slice.h"
#include "base/text.h"

#include "dice.h"

#define COUNT(table) (sizeof(table) / sizeof(table)[0])

/* ---- bits ----------------------------------------------------------------------------------- */

/* Rows of equal bits, taken one after the other, put the pattern together again; each is as long
 * as it can be. */
static void rows_of_bits(void **state) {
    (void)state;
    struct dice d = {64};
    unsigned whole = 0;
    for (int round = 0; round < 20000; round++) {
        uint32_t len = 1 + (uint32_t)dice_below(&d, 64), at = 0;
        double change = dice_share(&d) * dice_share(&d);
        uint64_t bits = 0, again = 0, ones = 0;
        bool bit = dice_chance(&d, 0.5);
        for (uint32_t i = 0; i < len; i++, bit = bit != dice_chance(&d, change)) {
            bits |= (uint64_t)bit << i;
            ones += bit;
        }
        assert_int_equal(bits_in(bits), ones);
        assert_true((bits == bits_ones(len)) == (ones == len));
        uint64_t rest = bits;
        for (uint32_t left = len, alike; (alike = bits_row(&rest, &left, &bit)) > 0; at += alike) {
            assert_int_equal(at + alike + left, len);
            assert_true(left == 0 || (bits >> (at + alike) & 1u) != bit);
            again |= bit ? bits_ones(alike) << at : 0;
            whole += alike == 64;
        }
        assert_int_equal(at, len);
        assert_true(again == bits && rest == 0);
    }
    assert_int_equal(bits_ones(0), 0);
    assert_true(whole > 0);
}

/* ---- many bytes at once --------------------------------------------------------------------- */

/* Both ways to find a character among 64, against looking at each. */
static void masks_agree(void **state) {
    (void)state;
    static const char near[] = {',', '"', '\n', '-', '!', '\0', (char)0xAC, (char)0xA2, '+', '\v'};
    struct dice dice = {1};
    for (int round = 0; round < 20000; round++) {
        char bytes[MASK_BYTES + 8];
        size_t off = dice_below(&dice, 8); /* from any address */
        for (size_t i = 0; i < sizeof bytes; i++)
            bytes[i] = round % 2 != 0 ? (char)dice_u64(&dice) : near[dice_below(&dice, 10)];
        for (size_t c = 0; c < 3; c++) {
            uint64_t expected = 0;
            for (size_t i = 0; i < MASK_BYTES; i++)
                expected |= (uint64_t)(bytes[off + i] == near[c]) << i;
            assert_true(mask_of(bytes + off, near[c]) == expected);
            assert_true(mask_any(bytes + off, near[c]) == expected);
            assert_true(mask_of_two(bytes + off, near[c], near[c + 1]) ==
                        (expected | mask_of(bytes + off, near[c + 1])));
        }
    }
}

/* Mostly bytes at the edges of what is printable. */
static char near_byte(struct dice *d) {
    static const char near[] = {' ', '~', '\x1F', '!', '\x7F', '\0', (char)0xA0, (char)0x9F, '\t'};
    uint64_t pick = dice_below(d, 64);
    return pick < sizeof near ? near[pick] : (char)(' ' + dice_below(d, 95));
}

/* Both ways to look for odd bytes, against looking at each. */
static void odd_ones_are_found(void **state) {
    (void)state;
    struct dice d = {3};
    unsigned plain = 0;
    for (int round = 0; round < 20000; round++) {
        char bytes[2 * MASK_BYTES + 8];
        size_t off = dice_below(&d, 8); /* from any address */
        bool good = true;
        for (size_t i = 0; i < sizeof bytes; i++)
            bytes[i] = (char)(' ' + dice_below(&d, 95));
        for (uint64_t i = dice_below(&d, 4); i > 0; i--)
            bytes[off + dice_below(&d, 2 * (uint64_t)MASK_BYTES)] = near_byte(&d);
        for (size_t i = 0; i < 2 * (size_t)MASK_BYTES; i++) {
            unsigned char byte = (unsigned char)bytes[off + i];
            good = good && byte >= 0x20 && byte <= 0x7E;
        }
        struct odd odd;
        struct odd_any any;
        odd_begin(&odd);
        odd_any_begin(&any);
        for (size_t i = 0; i < 2; i++) {
            odd_add(&odd, bytes + off + i * MASK_BYTES);
            odd_any_add(&any, bytes + off + i * MASK_BYTES);
        }
        assert_int_equal(odd_none(&odd), good);
        assert_int_equal(odd_any_none(&any), good);
        plain += good;
    }
    assert_in_range(plain, 2000, 18000); /* either answer is frequent */
}

/* ---- slices --------------------------------------------------------------------------------- */

static void cutting(void **state) {
    (void)state;
    static const struct {
        const char *legend, *text, *parts;
    } rows[] = {
        {"one part", "a", "[a]"},
        {"two parts", "a,b", "[a][b]"},
        {"an empty part behind", "a,", "[a][]"},
        {"an empty part before", ",a", "[][a]"},
        {"only separators", ",,", "[][][]"},
        {"an empty text is one empty part", "", "[]"},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        char buffer[64];
        struct text parts;
        text_init(&parts, buffer, sizeof buffer);
        struct slice rest = slice_of(rows[i].text);
        while (rest.at != NULL) {
            text_char(&parts, '[');
            text_slice(&parts, slice_cut(&rest, ','));
            text_char(&parts, ']');
        }
        print_message("  %s\n", rows[i].legend);
        assert_string_equal(buffer, rows[i].parts);
    }
}

static void parts_of_slices(void **state) {
    (void)state;
    static const struct {
        const char *legend;
        size_t from, to;
        const char *part;
    } rows[] = {
        {"inside", 1, 3, "el"},
        {"whole", 0, 5, "hello"},
        {"past the end", 3, 99, "lo"},
        {"begins past it", 7, 9, ""},
        {"ends before it begins", 3, 1, ""},
        {"empty", 2, 2, ""},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        print_message("  %s\n", rows[i].legend);
        assert_true(slice_is(slice_sub(slice_of("hello"), rows[i].from, rows[i].to), rows[i].part));
    }
    struct slice none = slice_of(NULL);
    assert_null(none.at);
    assert_true(slice_is(none, "") && slice_equal(none, slice_of("")) && slice_starts(none, ""));
    assert_true(slice_is(slice_sub(none, 0, 4), ""));
    assert_int_equal(slice_find(none, 'x'), 0);
    assert_int_equal(slice_find(slice_of("abc"), 'c'), 2);
    assert_int_equal(slice_find(slice_of("abc"), 'x'), 3);
    assert_false(slice_is(slice_of("abc"), "ab") || slice_is(slice_of("ab"), "abc"));
    assert_true(slice_starts(slice_of("abc"), "ab"));
    assert_false(slice_starts(slice_of("ab"), "abc"));
    assert_false(slice_equal(slice_of("abc"), slice_of("abd")));
}

/* ---- numbers -------------------------------------------------------------------------------- */

/* The contract: digits only (and a minus where signed), then whether the C library finds that it
 * fits.  0 good, 1 no number, 2 out of range. */
static enum number_fault by_library(const char *text, bool is_signed, bool wide, int64_t *s,
                                    uint64_t *u) {
    const char *digits = text + (is_signed && text[0] == '-');
    if (digits[0] == '\0' || digits[strspn(digits, "0123456789")] != '\0')
        return NUMBER_BAD;
    errno = 0;
    if (is_signed) {
        *s = strtoimax(text, NULL, 10);
        bool fits = wide || (*s >= INT32_MIN && *s <= INT32_MAX);
        return errno == ERANGE || !fits ? NUMBER_RANGE : NUMBER_OK;
    }
    *u = strtoumax(text, NULL, 10);
    return errno == ERANGE || (!wide && *u > UINT32_MAX) ? NUMBER_RANGE : NUMBER_OK;
}

static void compare_numbers(const char *text) {
    struct slice s = slice_of(text);
    int64_t want_s = 0, i64 = 77;
    uint64_t want_u = 0, u64 = 77;
    uint32_t u32 = 77;
    int32_t i32 = 77;
    enum number_fault fault = by_library(text, false, true, &want_s, &want_u);
    assert_int_equal(number_u64(s, &u64), fault);
    assert_true(u64 == (fault == NUMBER_OK ? want_u : 77));
    fault = by_library(text, false, false, &want_s, &want_u);
    assert_int_equal(number_u32(s, &u32), fault);
    assert_true(u32 == (fault == NUMBER_OK ? want_u : 77));
    fault = by_library(text, true, true, &want_s, &want_u);
    assert_int_equal(number_i64(s, &i64), fault);
    assert_true(i64 == (fault == NUMBER_OK ? want_s : 77));
    fault = by_library(text, true, false, &want_s, &want_u);
    assert_int_equal(number_i32(s, &i32), fault);
    assert_true(i32 == (fault == NUMBER_OK ? want_s : 77));
}

static void numbers_read(void **state) {
    (void)state;
    static const char *const texts[] = {
        "",
        "0",
        "-0",
        "7",
        "-7",
        "+7",
        " 7",
        "7 ",
        "7x",
        "-",
        "--7",
        "0x7",
        "007",
        "999999999",
        "000000000000000000000007",
        "2147483647",
        "2147483648",
        "-2147483648",
        "-2147483649",
        "4294967295",
        "4294967296",
        "9223372036854775807",
        "9223372036854775808",
        "-9223372036854775808",
        "-9223372036854775809",
        "18446744073709551615",
        "18446744073709551616",
        "99999999999999999999",
        "184467440737095516150",
        "1e3",
        "1.5",
        "99999999999999999999x",
    };
    for (size_t i = 0; i < COUNT(texts); i++) {
        print_message("  \"%s\"\n", texts[i]);
        compare_numbers(texts[i]);
    }
}

static void numbers_written(void **state) {
    (void)state;
    static const int64_t values[] = {0,         1,         -1,        9,         10,       -10,
                                     INT32_MAX, INT32_MIN, INT64_MAX, INT64_MIN, 123456789};
    for (size_t i = 0; i < COUNT(values); i++) {
        char ours[NUMBER_TEXT_MAX + 1] = {0}, library[32];
        ours[number_put_i64(ours, values[i])] = '\0';
        snprintf(library, sizeof library, "%" PRId64, values[i]);
        assert_string_equal(ours, library);
        ours[number_put_u64(ours, (uint64_t)values[i])] = '\0';
        snprintf(library, sizeof library, "%" PRIu64, (uint64_t)values[i]);
        assert_string_equal(ours, library);
    }
}

static void decimals_are_nearest(void **state) {
    (void)state;
    uint32_t seed = 1;
    for (int i = 0; i < 20000; i++) {
        char text[40];
        seed = seed * 1664525 + 1013904223;
        unsigned long whole = seed >> 8;
        seed = seed * 1664525 + 1013904223;
        int places = 1 + (int)(seed >> 29) % 7;
        snprintf(text, sizeof text, "%s%lu.%0*u", seed & 256 ? "-" : "", whole % 10000000, places,
                 (seed >> 9) % 10);
        double value = 0;
        assert_int_equal(number_decimal(slice_of(text), &value), NUMBER_OK);
        assert_true(value == strtod(text, NULL));
    }
}

static void decimals(void **state) {
    (void)state;
    static const struct {
        const char *text;
        enum number_fault fault;
    } rows[] = {
        {"0", NUMBER_OK},
        {"50.5", NUMBER_OK},
        {"-0.25", NUMBER_OK},
        {"999999999999999", NUMBER_OK},
        {"0.00000000000001", NUMBER_OK},
        {"1000000000000000", NUMBER_RANGE},
        {"0.0000000000000001", NUMBER_RANGE},
        {"99999999999999999999999", NUMBER_RANGE},
        {"", NUMBER_BAD},
        {"-", NUMBER_BAD},
        {".5", NUMBER_BAD},
        {"5.", NUMBER_BAD},
        {".", NUMBER_BAD},
        {"1.2.3", NUMBER_BAD},
        {"1e3", NUMBER_BAD},
        {"1,5", NUMBER_BAD},
        {"0x10", NUMBER_BAD},
        {"nan", NUMBER_BAD},
        {"letters, and many of them", NUMBER_BAD},
        {"1.-5", NUMBER_BAD},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        double value = 77;
        print_message("  \"%s\"\n", rows[i].text);
        assert_int_equal(number_decimal(slice_of(rows[i].text), &value), rows[i].fault);
        assert_true(value == (rows[i].fault == NUMBER_OK ? strtod(rows[i].text, NULL) : 77));
    }
}

static void hex(void **state) {
    (void)state;
    static const struct {
        const char *text;
        unsigned digits;
        bool good;
    } rows[] = {
        {"29B1", 4, true}, {"29b1", 4, true},   {"FFFFFFFF", 8, true},   {"0", 1, true},
        {"29B", 4, false}, {"29B10", 4, false}, {"29G1", 4, false},      {"0x29", 4, false},
        {"", 0, false},    {" 9B1", 4, false},  {"123456789", 9, false},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        uint32_t value = 77;
        assert_int_equal(number_hex(slice_of(rows[i].text), rows[i].digits, &value), rows[i].good);
        assert_true(value == (rows[i].good ? strtoul(rows[i].text, NULL, 16) : 77));
    }
}

/* ---- text ----------------------------------------------------------------------------------- */

static void text_fills_lines(void **state) {
    static const char *const lines[] = {"one two", "three",    "",     "  kept  as",
                                        "is",      "overlong", "word", "8bytes!x"};
    const char *rest = "one two three\n\n  kept  as is overlong word 8bytes!x";
    const size_t width[] = {7, 10, 10, 10, 7, 3, 4, 8};
    (void)state;
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
        const char *line = rest;
        size_t len = text_fill(line, width[i], &rest);
        assert_true(slice_is((struct slice){line, len}, lines[i]));
    }
    assert_string_equal(rest, "");
    assert_int_equal(text_fill(rest, 8, &rest), 0);
    assert_string_equal(rest, "");
}

static void text_drops_whole_pieces(void **state) {
    (void)state;
    char buffer[8];
    struct text t;
    text_init(&t, buffer, sizeof buffer);
    text_string(&t, "1234567");
    assert_string_equal(buffer, "1234567");
    assert_false(t.full);
    text_char(&t, '8');
    assert_string_equal(buffer, "1234567");
    assert_true(t.full);
    text_clear(&t);
    assert_string_equal(buffer, "");
    assert_false(t.full);
    text_format(&t, "%s", "12345678");
    assert_string_equal(buffer, "");
    assert_true(t.full);
    text_clear(&t);
    text_format(&t, "%d/%d", 12, 345);
    assert_string_equal(buffer, "12/345");
    text_u64(&t, 67);
    assert_string_equal(buffer, "12/345");
    text_clear(&t);
    text_i64(&t, -12345);
    text_slice(&t, (struct slice){NULL, 0});
    assert_string_equal(buffer, "-12345");
    assert_true(slice_is(text_view(&t), "-12345"));
    char one[1];
    text_init(&t, one, sizeof one);
    text_char(&t, 'x');
    assert_true(t.full && t.len == 0 && one[0] == '\0');
}

static void escaping_goes_there_and_back(void **state) {
    (void)state;
    char bytes[256], escaped[1200], back[300];
    for (int i = 0; i < 256; i++)
        bytes[i] = (char)i;
    struct text there, home;
    text_init(&there, escaped, sizeof escaped);
    text_init(&home, back, sizeof back);
    text_escape(&there, (struct slice){bytes, sizeof bytes});
    for (size_t i = 0; i < there.len; i++)
        assert_in_range((unsigned char)escaped[i], 0x20, 0x7E);
    assert_true(text_unescape(&home, text_view(&there)));
    assert_true(slice_equal(text_view(&home), (struct slice){bytes, sizeof bytes}));
}

static void malformed_escapes(void **state) {
    (void)state;
    static const struct {
        const char *text, *before;
        bool good;
    } rows[] = {
        {"plain", "plain", true}, {"a\\\\b", "a\\b", true}, {"\\x41", "A", true},
        {"\\x7e", "~", true},     {"ab\\", "ab", false},    {"ab\\x", "ab", false},
        {"ab\\x4", "ab", false},  {"ab\\xZZ", "ab", false}, {"ab\\n", "ab", false},
        {"\\\\\\", "\\", false},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        char buffer[32];
        struct text t;
        text_init(&t, buffer, sizeof buffer);
        assert_int_equal(text_unescape(&t, slice_of(rows[i].text)), rows[i].good);
        assert_string_equal(buffer, rows[i].before);
    }
}

/* ---- what may go to a terminal ----------------------------------------------------------------
 */

static void only_printable_is_left(void **state) {
    (void)state;
    static const struct {
        const char *legend, *text, *left;
    } rows[] = {
        {"nothing", "", ""},
        {"ASCII", "tug 7 ~", "tug 7 ~"},
        {"C0 and DEL", "a\x1B[2J\x07\t\n\x7F", "a?[2J????"},
        {"C1 as bytes",
         "\x9B"
         "31m\x80",
         "?31m?"},
        {"C1 in UTF-8",
         "\xC2\x9B"
         "31m\xC2\x85",
         "?31m?"},
        {"other scripts", "größe 日本 Ω \xD7\x90 \xE0\xB8\x81\xE0\xB9\x89 \xF0\x9F\x9A\xA2",
         "größe 日本 Ω \xD7\x90 \xE0\xB8\x81\xE0\xB9\x89 \xF0\x9F\x9A\xA2"},
        {"first after C1", "\xC2\xA0", "\xC2\xA0"},
        {"turns the direction", "\xE2\x80\xAE\xE2\x81\xA6\xE2\x80\x8F", "???"},
        {"unseen", "\xE2\x80\x8B\xEF\xBB\xBF\xC2\xAD\xE3\x85\xA4", "????"},
        {"ends a line", "\xE2\x80\xA8\xE2\x80\xA9", "??"},
        {"piles up", "e\xCC\x81\xCC\x81 a\xE2\x83\x9D", "e?? a?"},
        {"too long a form", "\xC0\xAF\xE0\x80\xAF\xF0\x80\x80\xAF", "?????????"},
        {"half a pair", "\xED\xA0\x80", "?"},
        {"beyond Unicode", "\xF4\x90\x80\x80\xF5", "??"},
        {"private, tag, none", "\xEE\x80\x80\xF3\xA0\x81\x81\xEF\xBF\xBE", "???"},
        {"broken off",
         "a\xE2\x82"
         "b\xE2\x82",
         "a??b??"},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        char out[80];
        print_message("  %s\n", rows[i].legend);
        assert_ptr_equal(printable(out, sizeof out, rows[i].text), out);
        assert_string_equal(out, rows[i].left);
    }
}

static void printable_is_cut_between_characters(void **state) {
    (void)state;
    static const char *const cuts[] = {"", "a", "a", "aß", "aß", "aß", "aß日", "aß日?", "aß日?"};
    for (size_t size = 1; size <= COUNT(cuts); size++) {
        char out[16];
        memset(out, '#', sizeof out);
        printable(out, size, "aß日\x1B");
        assert_string_equal(out, cuts[size - 1]);
        assert_int_equal(out[size], '#');
    }
}

static void percent_never_zero_width(void **state) {
    static const struct {
        double low, high;
        const char *span, *rate;
    } cases[] = {
        {0.0118, 0.0228, "1.2 to 2.3", "1.18"},
        {0.000012, 0.00031, "0.0012 to 0.031", "0.0012"},
        {0.05672, 0.05681, "5.67 to 5.68", "5.67"},
        {0, 0.9961, "0 to 100", "0.00"},
        {0.12345678, 0.12345679, "12.345678 to 12.345679", "12.35"},
        {0.0996, 0.5, "10 to 50", "9.96"},
        {1, 1, "100 to 100", "100.00"},
    };
    (void)state;
    for (size_t i = 0; i < COUNT(cases); i++) {
        char span[PERCENT_SPAN_MAX], rate[PERCENT_MAX];
        percent_span(span, cases[i].low, " to ", cases[i].high);
        percent_rate(rate, cases[i].low);
        assert_string_equal(span, cases[i].span);
        assert_string_equal(rate, cases[i].rate);
    }
}

static void spans_of_differences(void **state) {
    static const struct {
        double low, high;
        const char *span;
    } cases[] = {
        {-0.312, 1.24, "-0.31 to +1.2"},
        {-0.00412, -0.00409, "-0.00412 to -0.00409"},
        {0, 3, "0 to +3.0"},
        {918.2, 918.4, "+918.2 to +918.4"},
    };
    (void)state;
    for (size_t i = 0; i < COUNT(cases); i++) {
        char span[PERCENT_SPAN_MAX];
        percent_between(span, cases[i].low, " to ", cases[i].high, true);
        assert_string_equal(span, cases[i].span);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(masks_agree),
        cmocka_unit_test(odd_ones_are_found),
        cmocka_unit_test(rows_of_bits),
        cmocka_unit_test(cutting),
        cmocka_unit_test(parts_of_slices),
        cmocka_unit_test(numbers_read),
        cmocka_unit_test(numbers_written),
        cmocka_unit_test(decimals),
        cmocka_unit_test(decimals_are_nearest),
        cmocka_unit_test(hex),
        cmocka_unit_test(text_fills_lines),
        cmocka_unit_test(text_drops_whole_pieces),
        cmocka_unit_test(escaping_goes_there_and_back),
        cmocka_unit_test(malformed_escapes),
        cmocka_unit_test(percent_never_zero_width),
        cmocka_unit_test(spans_of_differences),
        cmocka_unit_test(only_printable_is_left),
        cmocka_unit_test(printable_is_cut_between_characters),
    };
    return cmocka_run_group_tests_name("base", tests, NULL, NULL);
}
