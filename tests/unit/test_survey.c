/* The survey of the band, fed with lines through the decoder.  What is right: sums of the lines'
 * own numbers; for the advice the rules that study/survey.h states; the band's ends are those of EN
 * 300 328 and 47 CFR 15.247. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "simulator/simulator.h"
#include "study/survey.h"
#include "telemetry/telemetry.h"
#include "view/air.h"

struct rig {
    struct telemetry telemetry;
    struct survey survey;
};

static void take(void *context, const struct event *event) {
    survey_feed(&((struct rig *)context)->survey, event);
}

static void begin(struct rig *r) {
    telemetry_init(&r->telemetry, take, r);
    survey_init(&r->survey);
}

static void feed(struct rig *r, const char *text) {
    telemetry_feed(&r->telemetry, text, strlen(text), TIME_UNKNOWN);
}

/* A line of carriers from..to (MHz, included), all with the same hits. */
static void sweep(struct rig *r, int from, int to, int per, int hits) {
    char line[LINE_BYTES_MAX + 2];
    int len = snprintf(line, sizeof line, "air from=%d step=1 per=%d hits=", from, per);
    for (int mhz = from; mhz <= to; mhz++)
        len += snprintf(line + len, sizeof line - (size_t)len, mhz > from ? ",%d" : "%d", hits);
    snprintf(line + len, sizeof line - (size_t)len, "\n");
    feed(r, line);
}

static void adds_sweeps(void **state) {
    static struct rig r;
    (void)state;
    begin(&r);
    feed(&r, "air from=2400 step=1 per=100 hits=1,2,3\n");
    feed(&r, "air from=2403 step=2 per=50 hits=4,5\n");
    assert_int_equal(r.survey.sweeps, 1);
    feed(&r, "rx ch=1500\n");
    feed(&r, "air from=2400 step=1 per=100 hits=10,0,0\n");
    assert_int_equal(r.survey.sweeps, 2);
    assert_int_equal(r.survey.lines, 3);
    assert_int_equal(r.survey.hits[0], 11);
    assert_int_equal(r.survey.looks[0], 200);
    assert_int_equal(r.survey.hits[5], 5);
    assert_int_equal(r.survey.looks[5], 50);
    assert_int_equal(r.survey.looks[4], 0);
    assert_true(survey_peak(&r.survey) > 0.0999 && survey_peak(&r.survey) < 0.1001);
}

/* Frequencies of another band, and any numbers that a line can hold. */
static void bears_anything(void **state) {
    static struct rig r;
    (void)state;
    begin(&r);
    feed(&r, "air from=4294967295 step=4294967295 per=4294967295 hits=0,1,2\n");
    feed(&r, "air from=0 step=0 per=3 hits=0,1,2\n");
    feed(&r, "air from=2400 step=0 per=4294967295 hits=4294967295,4294967295\n");
    struct survey_advice a;
    survey_advise(&r.survey, &a);
    assert_int_equal(r.survey.outside, 3 * UINT64_C(4294967295) + 9);
    assert_int_equal(r.survey.hits[0], 2 * UINT64_C(4294967295));
    assert_false(a.best.known); /* 2400 MHz: half of its signal would be outside */
}

static void suggests_the_quietest(void **state) {
    static struct rig r;
    struct survey_advice a;
    (void)state;
    begin(&r);
    sweep(&r, 2400, 2419, 100, 30);
    sweep(&r, 2420, 2439, 100, 4);
    sweep(&r, 2440, 2459, 100, 0);
    sweep(&r, 2460, 2483, 100, 12);
    survey_advise(&r.survey, &a);
    /* the middle of the empty stretch is farthest from anything heard */
    assert_true(a.best.known && a.best.hits == 0);
    assert_int_equal(a.best.mhz, 2449); /* 2450 is as good: the lower one */
    assert_int_equal(a.best.clear_mhz, 10);
    assert_int_equal(a.best.looks, 500);
    assert_true(a.best.high > 0.007 && a.best.high < 0.008); /* Wilson, 0 of 500 */
    assert_true(a.second.known);
    assert_true(abs((int)a.second.mhz - (int)a.best.mhz) >= SURVEY_APART_MHZ);
    /* 10 MHz below: 2437 to 2441 have 4, 4, 4, 0, 0; 10 above they have 24 */
    assert_int_equal(a.second.mhz, 2439);
    assert_int_equal(a.second.hits, 12);
    assert_false(a.now.known);
    feed(&r, "id end=tx mhz=2470 kbps=250\n"); /* not the receiver's */
    feed(&r, "id end=rx mhz=2410 kbps=250\n");
    survey_advise(&r.survey, &a);
    assert_int_equal(a.now.mhz, 2410);
    assert_int_equal(a.now.hits, 150);
    assert_true(a.width_mhz > 0.79 && a.width_mhz < 0.81);
}

/* Beyond the band all is quiet, and still nothing there is suggested, at any rate. */
static void stays_inside(void **state) {
    static const char *const ids[] = {"", "id end=rx kbps=250\n", "id end=rx kbps=1000\n",
                                      "id end=rx kbps=2000\n"};
    static struct rig r;
    (void)state;
    for (size_t i = 0; i < sizeof ids / sizeof *ids; i++) {
        struct survey_advice a;
        begin(&r);
        feed(&r, ids[i]);
        sweep(&r, 2400, 2483, 100, 0);
        for (int mhz = 2401; mhz <= 2483; mhz++)
            r.survey.hits[mhz - 2400] = (uint64_t)(90 - (mhz - 2400));
        sweep(&r, 2484, 2525, 100, 0);
        survey_advise(&r.survey, &a);
        assert_true(a.best.known && a.second.known);
        assert_in_range(a.best.mhz, 2401, i == 0 || i == 3 ? 2482 : 2483);
        assert_true(band_holds(a.second.mhz, a.width_mhz));
        assert_in_range(a.best.mhz, 2480, 2483); /* and the quietest of those */
    }
}

static void wants_looks(void **state) {
    static struct rig r;
    struct survey_advice a;
    (void)state;
    begin(&r);
    survey_advise(&r.survey, &a);
    assert_false(a.best.known || a.second.known || a.now.known);
    sweep(&r, 2400, 2483, SURVEY_LOOKS_LEAST - 1, 0);
    survey_advise(&r.survey, &a);
    assert_false(a.best.known);
    sweep(&r, 2430, 2434, 1, 0);
    survey_advise(&r.survey, &a);
    assert_true(a.best.known);
    assert_in_range(a.best.mhz, 2430, 2434);
    assert_false(a.second.known); /* none far enough */
}

static void counts_a_network(void **state) {
    static struct rig r;
    uint64_t hits, looks;
    (void)state;
    begin(&r);
    sweep(&r, 2400, 2483, 100, 1);
    survey_wifi(&r.survey, 6, &hits, &looks);
    assert_int_equal(hits, 21); /* 2427 to 2447 */
    assert_int_equal(looks, 2100);
    survey_wifi(&r.survey, 13, &hits, &looks);
    assert_int_equal(hits, 21); /* 2462 to 2482 */
}

/* --- the simulated park -------------------------------------------------------------------- */

static void put(void *where, const char *bytes, size_t len) {
    telemetry_feed(where, bytes, len, TIME_UNKNOWN);
}

/* Networks on 1 and 11 are heard, that on 6 is too faint for one bit: quiet is no proof. */
static void finds_what_is_strong(void **state) {
    static struct rig r;
    (void)state;
    for (uint64_t seed = 1; seed <= 5; seed++) {
        struct survey_advice a;
        uint64_t hits, looks;
        begin(&r);
        struct simulator *p =
            simulator_new(simulator_scene_find("survey"), seed, put, &r.telemetry);
        simulator_run(p, 3000000);
        simulator_free(p);
        survey_advise(&r.survey, &a);
        assert_int_equal(r.survey.sweeps, 1);
        assert_int_equal(r.survey.kbps, 1000);
        /* 19 of its 21 carriers, 18 % of the time; binomial deviation of 1900 looks 0.9 % */
        survey_wifi(&r.survey, 1, &hits, &looks);
        assert_in_range(hits, 19 * 100 * 0.14, 19 * 100 * 0.22);
        survey_wifi(&r.survey, 6, &hits, &looks);
        assert_int_equal(hits, 0);
        assert_true(a.best.known && a.best.hits == 0 && a.second.known && a.second.hits == 0);
        assert_int_equal(a.now.mhz, 2450);
    }
}

/* --- the picture ------------------------------------------------------------------------------ */

static void draw_into(struct grid *g, const struct survey *s, int columns, char *out, size_t size) {
    size_t len = 0;
    g->ascii = true;
    grid_resize(g, air_rows(s, columns), columns);
    assert_int_equal(air_draw(g, s, (struct place){0, 0, g->rows, columns}), g->rows);
    for (int row = 0; row < g->rows; row++) {
        char text[4 * GRID_COLUMNS_MAX + 1];
        grid_row_text(g, row, text);
        len += (size_t)snprintf(out + len, size - len, "%s\n", text);
    }
}

static void draws_the_band(void **state) {
    static struct rig r;
    static struct grid g;
    static char text[8192];
    (void)state;
    begin(&r);
    draw_into(&g, &r.survey, 79, text, sizeof text);
    assert_non_null(strstr(text, "No sweep"));
    sweep(&r, 2400, 2483, 100, 0);
    sweep(&r, 2440, 2440, 100, 100); /* one carrier, half of its looks by now */
    draw_into(&g, &r.survey, 79, text, sizeof text);
    assert_non_null(strstr(text, " 50 %                     #\n"));
    assert_non_null(strstr(text, "  0 %                     #\n"));
    assert_non_null(strstr(text, "One bit a look sees only strong signals"));
    assert_non_null(strstr(text, "a column is 2 MHz"));
    draw_into(&g, &r.survey, 100, text, sizeof text);
    assert_non_null(strstr(text, "a column is 1 MHz"));
    for (int columns = 1; columns < 79; columns++) /* in any width */
        draw_into(&g, &r.survey, columns, text, sizeof text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(adds_sweeps),           cmocka_unit_test(bears_anything),
        cmocka_unit_test(suggests_the_quietest), cmocka_unit_test(stays_inside),
        cmocka_unit_test(wants_looks),           cmocka_unit_test(counts_a_network),
        cmocka_unit_test(finds_what_is_strong),  cmocka_unit_test(draws_the_band),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
