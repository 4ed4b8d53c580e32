/* Whether id lines go on being one board's: what airleash-telemetry(5) says of `end`, `fw` and
 * `addr`, read from lines as they come. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
/* cmocka needs the four above first */
#include <cmocka.h>

#include <string.h>

#include "console/board.h"
#include "telemetry/pairs.h"

static struct identity line(const char *pairs) {
    struct identity id = {0};
    enum damage_reason why;
    assert_true(identity_parse(slice_of(pairs), &id, &why));
    return id;
}

static enum board_news news(const struct board *b, const char *pairs) {
    struct identity id = line(pairs);
    return board_look(b, &id);
}

static void take(struct board *b, const char *pairs) {
    struct identity id = line(pairs);
    board_take(b, &id);
}

static void said(const struct board *b, const char *pairs, const char *wanted) {
    struct identity id = line(pairs);
    char words[BOARD_NEWS];
    board_words(b, &id, words);
    assert_string_equal(words, wanted);
}

/* The first line brings no news, nor does a key that comes or goes. */
static void knows_one_board(void **state) {
    (void)state;
    struct board b;
    board_init(&b);
    assert_int_equal(news(&b, "fw=tug-3 addr=c2c2"), BOARD_SAME);
    assert_int_equal(news(&b, ""), BOARD_SAME);
    take(&b, "end=rx rate=100");
    assert_int_equal(news(&b, "fw=tug-3 addr=c2c2"), BOARD_SAME);
    take(&b, "fw=tug-3 addr=c2c2");
    assert_int_equal(news(&b, "end=rx"), BOARD_SAME);
    take(&b, "end=rx");
    assert_int_equal(news(&b, "end=rx fw=tug-3 addr=c2c2 mhz=2450"), BOARD_SAME);
    said(&b, "end=rx fw=tug-3 addr=c2c2", "");
}

static void tells_what_changed(void **state) {
    (void)state;
    struct board b;
    board_init(&b);
    take(&b, "fw=tug-3 addr=c2c2");
    assert_int_equal(news(&b, "fw=tug-4 addr=c2c2"), BOARD_FIRMWARE);
    assert_int_equal(news(&b, "fw=tug-33"), BOARD_FIRMWARE);
    assert_int_equal(news(&b, "fw=tug-"), BOARD_FIRMWARE);
    assert_int_equal(news(&b, "addr=c2c3"), BOARD_ADDRESS);
    said(&b, "fw=tug-4", "The firmware is now tug-4, it was tug-3.");
    said(&b, "addr=c2c3", "The link's address is now c2c3, it was c2c2.");
    take(&b, "fw=tug-4"); /* after a yes that is the one */
    assert_int_equal(news(&b, "fw=tug-4"), BOARD_SAME);
    assert_int_equal(news(&b, "fw=tug-3"), BOARD_FIRMWARE);
}

/* Each end has its own names; a person's yes to the other end holds. */
static void tells_the_ends_apart(void **state) {
    (void)state;
    struct board b;
    board_init(&b);
    assert_int_equal(news(&b, "end=tx fw=tug-3"), BOARD_OTHER_END);
    said(&b, "end=tx", "This is the transmitter; a receiver is expected here.");
    take(&b, "end=tx fw=tug-tx-7"); /* a transmitter's port is recorded on purpose */
    assert_int_equal(news(&b, "end=tx fw=tug-tx-7"), BOARD_SAME);
    assert_int_equal(news(&b, "end=tx fw=tug-tx-8"), BOARD_FIRMWARE);
    assert_int_equal(news(&b, "end=rx fw=tug-3"), BOARD_OTHER_END);
    said(&b, "fw=tug-3", "This is the receiver; a transmitter is expected here.");
    take(&b, "end=rx fw=tug-3");
    assert_int_equal(news(&b, "end=rx fw=tug-3"), BOARD_SAME);
    assert_int_equal(news(&b, "end=tx fw=tug-tx-7"), BOARD_SAME);

    board_init(&b);
    take(&b, "fw=tug-3");
    assert_int_equal(news(&b, "end=tx"), BOARD_OTHER_END);
}

/* No name is too long to be told from another, up to BOARD_TEXT. */
static void compares_long_names(void **state) {
    (void)state;
    struct board b;
    char pairs[2][BOARD_TEXT + 40], words[BOARD_NEWS];
    board_init(&b);
    for (int i = 0; i < 2; i++) {
        strcpy(pairs[i], "fw=");
        memset(pairs[i] + 3, 'x', BOARD_TEXT + 30);
        pairs[i][3 + BOARD_TEXT - 2] = (char)('a' + i);
        pairs[i][3 + BOARD_TEXT + 30] = '\0';
    }
    take(&b, pairs[0]);
    assert_int_equal(news(&b, pairs[0]), BOARD_SAME);
    assert_int_equal(news(&b, pairs[1]), BOARD_FIRMWARE);
    struct identity id = line(pairs[1]);
    board_words(&b, &id, words);
    assert_non_null(strstr(words, "it was x"));
    assert_int_equal(words[strlen(words) - 1], '.'); /* nothing was cut off */
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(knows_one_board),
        cmocka_unit_test(tells_what_changed),
        cmocka_unit_test(tells_the_ends_apart),
        cmocka_unit_test(compares_long_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
