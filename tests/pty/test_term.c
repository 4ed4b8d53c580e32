/* The harness itself, against what ECMA-48 and xterm's control sequences say: a judge that can't
 * tell is no judge. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "term.h"

static struct term *start_shell(const char *script) {
    static const struct term_setup setup = {.rows = 24, .columns = 80, .folder = "/tmp"};
    char shell[] = "/bin/sh", option[] = "-c", text[512];
    snprintf(text, sizeof text, "%s", script);
    char *argv[] = {shell, option, text, NULL};
    return term_start(&setup, argv);
}

static int end(void **state) {
    term_free(*state);
    return 0;
}

static void sees_text_in_its_place(void **state) {
    struct term *t = *state = start_shell("printf 'one\\033[5;11Htw\\303\\266 3'; read x");
    int row = -1, column = -1;
    assert_true(term_wait(t, "tw\303\266"));
    assert_true(term_find(t, "3", &row, &column));
    assert_int_equal(row, 4);
    assert_int_equal(column, 14);
    assert_false(term_find(t, "four", &row, &column));
    const char *const in_order[] = {"tw", "3", NULL};
    assert_true(term_wait_row(t, in_order));
    term_send(t, "\r");
    assert_int_equal(term_wait_end(t), 0);
}

static const struct {
    const char *legend, *sequence; /* SGR, ECMA-48 8.3.117 */
    struct term_look look;
} looks[] = {
    {"nothing", "\\033[0m", {0}},
    {"bold", "\\033[1m", {.bold = true}},
    {"underlined", "\\033[4m", {.underline = true}},
    {"reverse", "\\033[7m", {.reverse = true}},
    {"coloured text", "\\033[31m", {.coloured = true}},
    {"coloured ground", "\\033[48;5;160m", {.coloured = true}},
};

static void sees_looks(void **state) {
    for (size_t i = 0; i < sizeof looks / sizeof looks[0]; i++) {
        char script[128];
        snprintf(script, sizeof script, "printf '%smark\\033[0m'; read x", looks[i].sequence);
        struct term *t = *state = start_shell(script);
        assert_true(term_wait(t, "mark"));
        struct term_look at = term_look_at(t, 0, 0), any = term_look_any(t);
        if (memcmp(&at, &looks[i].look, sizeof at) != 0 || memcmp(&any, &at, sizeof at) != 0)
            fail_msg("%s", looks[i].legend);
        term_free(t);
        *state = NULL;
    }
}

static void sees_modes(void **state) {
    struct term *t = *state =
        start_shell("stty -echo; printf '\\033[?1049h\\033[?25l\\007in'; read x; stty echo;"
                    "printf '\\033[?25h\\033[?1049lout'; read x; exit 3");
    struct termios before = term_modes(t);
    assert_true(before.c_lflag & ECHO);
    assert_true(term_wait(t, "in"));
    assert_true(term_altscreen(t));
    assert_false(term_cursor_visible(t));
    assert_int_equal(term_bells(t), 1);
    assert_false(term_modes(t).c_lflag & ECHO);
    term_send(t, "\r");
    assert_true(term_wait(t, "out"));
    assert_false(term_altscreen(t));
    assert_true(term_cursor_visible(t));
    assert_true(term_modes(t).c_lflag & ECHO);
    term_send(t, "\r");
    assert_int_equal(term_wait_end(t), 3);
}

static void tells_the_size(void **state) {
    struct term *t = *state = start_shell("read x; stty size; read x");
    term_resize(t, 15, 60);
    term_send(t, "\r");
    assert_true(term_wait(t, "15 60"));
}

static void counts_what_is_drawn_in_a_cell(void **state) {
    struct term *t = *state =
        start_shell("stty -echo; echo go; read x; printf '\\033[3;4Ha\\033[3;4Hb\\033[3;3H..'; "
                    "printf '\\033[5;1Hdone'; read x");
    assert_true(term_wait(t, "go"));
    term_count_cell(t, 2, 3);
    term_send(t, "\r");
    assert_true(term_wait(t, "done"));
    assert_int_equal(term_counted(t), 3);
}

static void keeps_the_bytes(void **state) {
    struct term *t = *state = start_shell("printf 'a\\033[1mb\\n'; kill -9 $$");
    assert_int_equal(term_wait_end(t), 1000 + 9);
    size_t len;
    const char *bytes = term_bytes(t, &len);
    assert_int_equal(len, 8);
    assert_memory_equal(bytes, "a\033[1mb\r\n", 8);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(sees_text_in_its_place, end),
        cmocka_unit_test_teardown(sees_looks, end),
        cmocka_unit_test_teardown(sees_modes, end),
        cmocka_unit_test_teardown(tells_the_size, end),
        cmocka_unit_test_teardown(counts_what_is_drawn_in_a_cell, end),
        cmocka_unit_test_teardown(keeps_the_bytes, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
