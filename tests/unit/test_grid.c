#include <limits.h>
#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <wchar.h>

#include <cmocka.h>

#include "view/grid.h"

static struct grid grid;
static char row_text[4 * GRID_COLUMNS_MAX + 1];

static const char *row_of(int row) {
    grid_row_text(&grid, row, row_text);
    return row_text;
}

static void fresh(int rows, int columns, bool ascii) {
    grid.ascii = ascii;
    grid_resize(&grid, rows, columns);
}

static void sizes_are_cut(void **state) {
    (void)state;
    static const struct {
        int rows, columns, want_rows, want_columns;
    } cases[] = {
        {24, 80, 24, 80},
        {0, 0, 1, 1},
        {-5, 10, 1, 10},
        {1000, 1000, GRID_ROWS_MAX, GRID_COLUMNS_MAX},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        fresh(cases[i].rows, cases[i].columns, false);
        assert_int_equal(grid.rows, cases[i].want_rows);
        assert_int_equal(grid.columns, cases[i].want_columns);
    }
}

static void writes_outside_are_cut(void **state) {
    (void)state;
    fresh(2, 5, false);
    assert_int_equal(grid_text(&grid, 0, 3, TONE_PLAIN, "harbour"), 10);
    assert_int_equal(grid_text(&grid, 1, -2, TONE_PLAIN, "tug"), 1);
    grid_text(&grid, 2, 0, TONE_PLAIN, "below");
    grid_text(&grid, -1, 0, TONE_PLAIN, "above");
    assert_string_equal(row_of(0), "   ha");
    assert_string_equal(row_of(1), "g");
    assert_int_equal(grid_cell(&grid, 9, 9).rune, ' ');
    assert_int_equal(grid_cell(&grid, 0, 5).rune, ' ');
}

static void rows_lose_only_trailing_blanks(void **state) {
    (void)state;
    fresh(1, 10, false);
    grid_text(&grid, 0, 2, TONE_PLAIN, "a b");
    assert_int_equal(grid_row_text(&grid, 0, row_text), 5);
    assert_string_equal(row_text, "  a b");
    grid_clear(&grid);
    assert_int_equal(grid_row_text(&grid, 0, row_text), 0);
}

/* Well and ill formed UTF-8 after RFC 3629, section 4 (the grammar of UTF8-octets): one mark for
 * each byte that is no part of a character. */
static void utf8_by_rfc_3629(void **state) {
    (void)state;
    static const struct {
        const char *legend, *bytes, *want;
    } cases[] = {
        {"two bytes", "\xC2\xB5s", "\xC2\xB5s"},
        {"three bytes", "\xE2\x96\x88", "\xE2\x96\x88"},
        {"overlong slash in two", "\xC0\xAF", "??"},
        {"overlong in three", "\xE0\x80\xAF", "???"},
        {"surrogate D800", "\xED\xA0\x80", "???"},
        {"above 10FFFF", "\xF4\x90\x80\x80", "????"},
        {"lead without follower", "\xE2\x96", "??"},
        {"lead, then a letter",
         "\xE2"
         "A",
         "?A"},
        {"follower alone", "\x80", "?"},
        {"never a byte of UTF-8", "\xFE\xFF", "??"},
        {"latin-1 text", "K\xFCste", "K?ste"},
        {"four bytes, two columns wide", "\xF0\x9F\x9A\xA2", "?"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        fresh(1, 20, false);
        grid_text(&grid, 0, 0, TONE_PLAIN, cases[i].bytes);
        if (strcmp(row_of(0), cases[i].want) != 0) {
            fail_msg("%s: got \"%s\"", cases[i].legend, row_of(0));
        }
    }
}

/* Escape sequences from the wire: C0, DEL and C1 controls (ECMA-48) never become cells. */
static void controls_never_pass(void **state) {
    (void)state;
    fresh(1, 40, false);
    grid_text(&grid, 0, 0, TONE_PLAIN,
              "\x1B[2J\x07\r\n\t\x7F\xC2\x9B"
              "31m");
    assert_string_equal(row_of(0), "?[2J??????31m");
    for (uint32_t rune = 0; rune < 0x20; rune++) {
        grid_glyph(&grid, 0, 0, TONE_PLAIN, rune, 'x');
        assert_int_equal(grid_cell(&grid, 0, 0).rune, '?');
    }
    srand(1);
    for (int round = 0; round < 2000; round++) {
        char bytes[40];
        for (size_t i = 0; i < sizeof bytes; i++) {
            bytes[i] = (char)(rand() & 0xFF);
        }
        grid_slice(&grid, 0, 0, TONE_PLAIN, (struct slice){bytes, sizeof bytes});
        for (int c = 0; c < 40; c++) {
            uint32_t rune = grid_cell(&grid, 0, c).rune;
            assert_true(rune >= 0x20 && !(rune >= 0x7F && rune < 0xA0));
        }
    }
}

/* Whatever a cell takes is one column wide by the C library's own table (wcwidth of glibc). */
static void cells_are_one_column_by_wcwidth(void **state) {
    (void)state;
    assert_non_null(setlocale(LC_CTYPE, "C.UTF-8"));
    fresh(1, 4, false);
    unsigned taken = 0;
    for (uint32_t rune = 0x20; rune <= 0x10FFFF; rune++) {
        grid_glyph(&grid, 0, 0, TONE_PLAIN, rune, '?');
        uint32_t shown = grid_cell(&grid, 0, 0).rune;
        if (shown == rune && rune != '?') {
            taken++;
            if (wcwidth((wchar_t)rune) != 1) {
                fail_msg("U+%04X takes %d columns", rune, wcwidth((wchar_t)rune));
            }
        } else {
            assert_int_equal(shown, '?');
        }
    }
    assert_true(taken > 1000);
}

/* Text goes in and out of the grid unchanged; encoded by the C library (wcrtomb). */
static void text_comes_back_by_wcrtomb(void **state) {
    (void)state;
    assert_non_null(setlocale(LC_CTYPE, "C.UTF-8"));
    static const wchar_t runes[] = {L'A', 0xA0, 0xB5, 0x3BC, 0x7FF - 0x400, 0x2010, 0x2588, 0x25C6};
    fresh(1, 4, false);
    for (size_t i = 0; i < sizeof runes / sizeof runes[0]; i++) {
        char want[MB_LEN_MAX + 1];
        mbstate_t shift = {0};
        size_t len = wcrtomb(want, runes[i], &shift);
        want[len] = '\0';
        grid_text(&grid, 0, 0, TONE_PLAIN, want);
        assert_string_equal(row_of(0), want);
        assert_int_equal(grid_columns_of(want), 1);
    }
}

static void ascii_look_is_ascii(void **state) {
    (void)state;
    fresh(1, 40, true);
    grid_text(&grid, 0, 0, TONE_PLAIN, "1500 µs ±0.8 … ▁█ Küste");
    assert_string_equal(row_of(0), "1500 us ~0.8 ~ ?? K?ste");
    grid_glyph(&grid, 0, 0, TONE_PLAIN, 0x2588, '#');
    assert_int_equal(grid_cell(&grid, 0, 0).rune, '#');
}

static void tones_and_formats(void **state) {
    (void)state;
    fresh(2, 20, false);
    assert_int_equal(grid_format(&grid, 0, 1, TONE_TROUBLE, "%d ms", 430), 7);
    assert_string_equal(row_of(0), " 430 ms");
    assert_int_equal(grid_cell(&grid, 0, 1).tone, TONE_TROUBLE);
    assert_int_equal(grid_cell(&grid, 0, 0).tone, TONE_PLAIN);
    grid_fill(&grid, 0, 0, 5, 3, TONE_BANNER);
    assert_string_equal(row_of(0), "   0 ms");
    assert_int_equal(grid_cell(&grid, 1, 2).tone, TONE_BANNER);
    assert_int_equal(grid_cell(&grid, 1, 3).tone, TONE_PLAIN);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sizes_are_cut),
        cmocka_unit_test(writes_outside_are_cut),
        cmocka_unit_test(rows_lose_only_trailing_blanks),
        cmocka_unit_test(utf8_by_rfc_3629),
        cmocka_unit_test(controls_never_pass),
        cmocka_unit_test(cells_are_one_column_by_wcwidth),
        cmocka_unit_test(text_comes_back_by_wcrtomb),
        cmocka_unit_test(ascii_look_is_ascii),
        cmocka_unit_test(tones_and_formats),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
