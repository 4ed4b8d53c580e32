/* Charts in the console without a console: when one is drawn anew, what a pause holds, scrolling.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "console/charts_live.h"

enum { ROWS = 20, COLUMNS = 80, SECOND = 1000000 };

static struct charts_live live;
static struct survey survey;
static struct snapshot snapshot;

/* Twenty seconds, a packet in ten lost. */
static void begin(void) {
    memset(&live, 0, sizeof live);
    charts_live_begin(&live, NULL);
    live.course.bins = 80;
    live.course.end_ms = 20000;
    live.course.counted = true;
    for (int i = 0; i < 80; i++)
        live.course.bin[i] = (struct course_bin){.got = 9, .lost = 1};
    snapshot = (struct snapshot){.reports = 400, .total = {720, 80, true, true, true, 0.05, 0.15}};
}

static void figure(double loss) {
    struct measures m = {
        .loss_known = true, .ground = GROUND_RUNS, .loss = loss, .low = loss / 2, .high = loss * 2};
    charts_live_read(&live, &survey, &m, 0);
}

/* Whether the chart, at that time, has the text in one of its rows. */
static bool shows(int64_t now_us, const char *text) {
    const struct charts_view *v = charts_live_view(&live, &snapshot, ROWS, COLUMNS, true, now_us);
    assert_non_null(v);
    for (int row = 0; row < v->rows; row++) {
        char line[PICTURE_COLUMNS_MOST + 1] = "";
        for (int i = 0; i < v->columns; i++)
            line[i] = (char)v->cell[row * v->columns + i].rune;
        if (strstr(line, text))
            return true;
    }
    return false;
}

static void is_drawn_twice_a_second(void **state) {
    (void)state;
    begin();
    figure(0.1);
    assert_null(charts_live_view(&live, &snapshot, ROWS, COLUMNS, true, SECOND));
    assert_true(charts_live_action(&live, ACTION_CHARTS));
    assert_true(shows(SECOND, "Mean loss 10.00 %, 5.0 to 20 %"));
    figure(0.2);
    assert_false(shows(SECOND + 499999, "Mean loss 20.00 %"));
    assert_true(shows(SECOND + 500000, "Mean loss 20.00 %"));
    figure(0.3);
    charts_live_view(&live, &snapshot, ROWS - 1, COLUMNS, true, SECOND + 500001); /* another size */
    assert_true(shows(SECOND + 500002, "Mean loss 30.00 %"));
    figure(0.4);
    charts_live_action(&live, ACTION_CHART_NEXT);
    charts_live_action(&live, ACTION_CHART_BEFORE);
    assert_true(shows(SECOND + 500003, "Mean loss 40.00 %"));
    charts_live_action(&live, ACTION_CHARTS_CLOSE);
    assert_null(charts_live_view(&live, &snapshot, ROWS, COLUMNS, true, 9 * SECOND));
    assert_false(charts_live_action(&live, ACTION_QUIT));
}

static void is_held_by_a_pause(void **state) {
    (void)state;
    begin();
    figure(0.1);
    charts_live_action(&live, ACTION_CHARTS);
    charts_live_pause(&live, true);
    figure(0.2);
    live.course.end_ms = 3600000;
    live.course.bin_ms = 60000;
    assert_true(shows(SECOND, "Mean loss 10.00 %"));
    assert_true(shows(3 * SECOND, "Mean loss 10.00 %"));
    assert_true(shows(3 * SECOND, "seconds"));
    assert_false(shows(3 * SECOND, "minutes"));
    charts_live_pause(&live, false);
    assert_true(shows(4 * SECOND, "Mean loss 20.00 %"));
    assert_true(shows(4 * SECOND, "minutes"));
}

static void scrolls_within_the_chart(void **state) {
    (void)state;
    begin();
    figure(0.1);
    charts_live_action(&live, ACTION_CHARTS);
    const struct charts_view *v = charts_live_view(&live, &snapshot, 8, 40, true, SECOND);
    int most = v->rows - 8;
    assert_true(most > 2);
    charts_live_action(&live, ACTION_CHART_UP);
    assert_int_equal(charts_live_view(&live, &snapshot, 8, 40, true, SECOND)->scroll, 0);
    charts_live_action(&live, ACTION_CHART_DOWN);
    assert_int_equal(charts_live_view(&live, &snapshot, 8, 40, true, SECOND)->scroll, 1);
    for (int i = 0; i < 9; i++)
        charts_live_action(&live, ACTION_CHART_PAGE_DOWN);
    assert_int_equal(charts_live_view(&live, &snapshot, 8, 40, true, SECOND)->scroll, most);
    charts_live_action(&live, ACTION_CHART_NEXT);
    assert_int_equal(charts_live_view(&live, &snapshot, 8, 40, true, SECOND)->scroll, 0);
}

/* From the first to behind the last, and round by the arrows. */
static void steps_through_all(void **state) {
    (void)state;
    begin();
    figure(0.1);
    charts_live_action(&live, ACTION_CHARTS);
    int count = charts_live_view(&live, &snapshot, ROWS, COLUMNS, true, SECOND)->count;
    for (int i = 1; i <= count; i++) {
        const struct charts_view *v =
            charts_live_view(&live, &snapshot, ROWS, COLUMNS, true, SECOND);
        assert_int_equal(v->number, i);
        charts_live_action(&live, ACTION_CHART_NEXT_OR_CLOSE);
    }
    assert_false(live.open);
    charts_live_action(&live, ACTION_CHARTS);
    charts_live_action(&live, ACTION_CHART_BEFORE);
    assert_int_equal(charts_live_view(&live, &snapshot, ROWS, COLUMNS, true, SECOND)->number,
                     count);
    charts_live_action(&live, ACTION_CHART_NEXT);
    assert_int_equal(charts_live_view(&live, &snapshot, ROWS, COLUMNS, true, SECOND)->number, 1);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(is_drawn_twice_a_second),
        cmocka_unit_test(is_held_by_a_pause),
        cmocka_unit_test(scrolls_within_the_chart),
        cmocka_unit_test(steps_through_all),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
