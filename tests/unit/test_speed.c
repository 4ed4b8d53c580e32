/* The speed search against made-up receivers: what a board does is a table of rates at which its
 * lines decode.  The rates themselves are those of POSIX termios and of common serial chips; 1200
 * is left out since opening at it starts the boot loader of boards with native USB (common
 * practice). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
/* cmocka needs the four above first */
#include <cmocka.h>

#include "source/source.h"

enum { STEP_US = 50000, END_US = 60 * 1000000 };

struct board {
    const char *legend;
    int speed;        /* its own */
    int64_t from_us;  /* silent or in its boot loader before */
    unsigned garbage; /* bytes a step at another speed */
    unsigned good;    /* lines a step at its speed */
    unsigned bad;     /* refused lines a step at its speed */
    unsigned torn;    /* refused lines once, when its speed is set */
    int found;        /* what the search must say */
    int64_t at_most_us;
};

static const struct board boards[] = {
    {"usual speed, found at once", 115200, 0, 40, 1, 0, 0, 115200, 300000},
    {"the line under way is no evidence against", 115200, 0, 40, 1, 0, 1, 115200, 300000},
    {"second speed", 57600, 0, 40, 1, 0, 1, 57600, SPEED_TRY_US + 300000},
    {"a speed that termios lacks", 250000, 0, 40, 1, 0, 1, 250000, 6 * SPEED_TRY_US + 300000},
    {"last one", 1000000, 0, 40, 1, 0, 1, 1000000, 8 * SPEED_TRY_US + 300000},
    {"damaged lines: no early end, yet found", 38400, 0, 40, 2, 1, 0, 38400, 9 * SPEED_TRY_US},
    {"one line in ten decodes", 9600, 0, 40, 1, 9, 0, 9600, 9 * SPEED_TRY_US},
    {"nothing plugged in at the other end", 0, 0, 0, 0, 0, 0, 0, 9 * SPEED_TRY_US},
    {"noise that is no line: both rounds, then none", 0, 0, 40, 0, 0, 0, 0, 18 * SPEED_TRY_US},
    {"in its boot loader in the first round", 115200, 3 * SPEED_TRY_US, 40, 1, 0, 1, 115200,
     9 * SPEED_TRY_US + 300000},
};

static void search_board(const struct board *b) {
    struct speed_search s;
    int64_t now = 5000000, since = now, start = now; /* the clock need not begin at 0 */
    int speed = -1;
    speed_search_begin(&s, now);
    for (unsigned torn = b->torn; !speed_search_done(&s, &speed); now += STEP_US) {
        assert_true(now - start < END_US);
        bool heard = speed_search_rate(&s) == b->speed && now - start >= b->from_us;
        bool moved = speed_search_step(&s, now, heard ? 1000 : b->garbage, heard ? b->good : 0,
                                       heard ? b->bad + torn : 0);
        torn = moved ? b->torn : heard ? 0 : torn;
        assert_true(moved || now - since < SPEED_TRY_US);
        since = moved ? now : since;
    }
    if (speed != b->found)
        fail_msg("%s: %d, not %d", b->legend, speed, b->found);
    if (now - start > b->at_most_us + 20 * STEP_US)
        fail_msg("%s: took %lld ms", b->legend, (long long)(now - start) / 1000);
    assert_int_equal(speed_search_rate(&s), b->found);
}

static void test_boards(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof boards / sizeof *boards; i++)
        search_board(&boards[i]);
}

static void test_order(void **state) {
    (void)state;
    static const int order[] = {115200, 57600, 38400, 9600, 19200, 230400, 250000, 500000, 1000000};
    struct speed_search s;
    int speed;
    speed_search_begin(&s, 0);
    for (int i = 0; i < 9; i++) {
        assert_false(speed_search_done(&s, &speed));
        assert_int_equal(speed_search_rate(&s), order[i]);
        assert_false(speed_search_step(&s, i * (int64_t)SPEED_TRY_US + SPEED_TRY_US - 1, 0, 0, 0));
        assert_true(speed_search_step(&s, (i + 1) * (int64_t)SPEED_TRY_US, 0, 0, 0));
    }
    assert_true(speed_search_done(&s, &speed));
    assert_int_equal(speed, 0);
}

/* Bare numbers decode by chance at a wrong speed: the best share wins, and of equals the first. */
static void test_best_share_wins(void **state) {
    (void)state;
    static const unsigned lines[9][2] = {{1, 30}, {0, 8}, {6, 3}, {2, 40}, {6, 3},
                                         {0, 0},  {0, 9}, {0, 9}, {1, 12}};
    struct speed_search s;
    int speed;
    speed_search_begin(&s, 0);
    for (int i = 0; i < 9; i++)
        assert_true(
            speed_search_step(&s, (i + 1) * (int64_t)SPEED_TRY_US, 500, lines[i][0], lines[i][1]));
    assert_true(speed_search_done(&s, &speed));
    assert_int_equal(speed, 38400);
}

static void test_no_step_after_end(void **state) {
    (void)state;
    struct speed_search s;
    int speed;
    speed_search_begin(&s, 0);
    assert_true(speed_search_step(&s, 1, 500, 5, 0));
    assert_true(speed_search_done(&s, &speed));
    assert_false(speed_search_step(&s, 100 * (int64_t)SPEED_TRY_US, 500, 0, 50));
    assert_true(speed_search_done(&s, &speed));
    assert_int_equal(speed, 115200);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_boards),
        cmocka_unit_test(test_order),
        cmocka_unit_test(test_best_share_wins),
        cmocka_unit_test(test_no_step_after_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
