#include <inttypes.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "view/charts.h"
#include "view/figure.h"
#include "view/keys.h"
#include "view/lay.h"
#include "view/page.h"

/* the made-up moments are shared with the screens that are typed out as text */
#include "../screen/scenes.c"

static struct grid grid, again;
static struct scene scene;
static char text[GRID_ROWS_MAX * (4 * GRID_COLUMNS_MAX + 2)];

static const char *drawn(int rows, int columns) {
    size_t len = 0;
    grid_resize(&grid, rows, columns);
    page_draw(&grid, &scene.s, &scene.p);
    for (int r = 0; r < grid.rows; r++) {
        len += grid_row_text(&grid, r, text + len);
        text[len++] = '\n';
    }
    text[len] = '\0';
    return text;
}

static const char *drawn_scene(const char *name, int rows, int columns) {
    assert_true(scene_make(&scene, name));
    grid.ascii = false;
    return drawn(rows, columns);
}

static void assert_shows(const char *screen, const char *part) {
    if (strstr(screen, part) == NULL) {
        fail_msg("\"%s\" isn't on the screen:\n%s", part, screen);
    }
}

static void assert_lacks(const char *screen, const char *part) {
    if (strstr(screen, part) != NULL) {
        fail_msg("\"%s\" is on the screen:\n%s", part, screen);
    }
}

/* "Some" is never rounded to none or to all, and nothing known is never a number. */
static void shares_keep_some_apart(void **state) {
    (void)state;
    static const struct {
        struct packet_count count;
        const char *want;
    } cases[] = {
        {{988, 12, true, false, false, 0, 0}, "1.2 % (12 of 1000)"},
        {{1000, 0, true, false, false, 0, 0}, "0.0 % (0 of 1000)"},
        {{0, 50, true, false, false, 0, 0}, "100.0 % (50 of 50)"},
        {{1, 9999, true, false, false, 0, 0}, ">99.9 % (9999 of 10000)"},
        {{9996, 4, true, false, false, 0, 0}, "0.04 % (4 of 10000)"},
        {{9995, 5, true, false, false, 0, 0}, "0.1 % (5 of 10000)"},
        {{99999, 1, true, false, false, 0, 0}, "<0.01 % (1 of 100000)"},
        {{0, 0, true, false, false, 0, 0}, "no packets"},
        {{0, 0, false, false, false, 0, 0}, "unknown"},
        {{50, 50, false, false, false, 0, 0}, "unknown"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char out[FIGURE_MAX];
        figure_loss(out, &cases[i].count);
        assert_string_equal(out, cases[i].want);
    }
    assert_true(figure_few(&(struct packet_count){299, 0, true, false, false, 0, 0}));
    assert_false(figure_few(&(struct packet_count){299, 1, true, false, false, 0, 0}));
}

static void times_at_their_edges(void **state) {
    (void)state;
    static const struct {
        int64_t ms;
        const char *span, *moment;
    } cases[] = {
        {0, "0 ms", "0:00:00.0"},
        {999, "999 ms", "0:00:00.9"},
        {1000, "1.00 s", "0:00:01.0"},
        {1250, "1.25 s", "0:00:01.2"},
        {9994, "9.99 s", "0:00:09.9"},
        {9995, "10.0 s", "0:00:09.9"},
        {119900, "119.9 s", "0:01:59.9"},
        {200000, "3 min 20 s", "0:03:20.0"},
        {7500000, "2 h 05 min", "2:05:00.0"},
        {TIME_UNKNOWN, "unknown", "-:--:--.-"},
        {-1500, "unknown", "-0:00:01.5"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char out[FIGURE_MAX];
        figure_span(out, cases[i].ms);
        assert_string_equal(out, cases[i].span);
        figure_moment(out, cases[i].ms, true);
        assert_string_equal(out, cases[i].moment);
    }
}

static void log_entries_in_words(void **state) {
    (void)state;
    static const struct {
        struct log_entry h;
        const char *want;
    } cases[] = {
        {{.kind = LOG_ENTRY_RECEIVER_RESTART, .a = BOOT_BROWNOUT},
         "receiver restarted (brown-out)"},
        {{.kind = LOG_ENTRY_RECEIVER_RESTART, .a = -1}, "receiver restarted (cause unknown)"},
        {{.kind = LOG_ENTRY_RECEIVER_RESTART, .a = BOOT_RESET, .b = 1},
         "receiver restarted by our opening the port (reset)"},
        {{.kind = LOG_ENTRY_RECEIVER_RESTART, .a = BOOT_POWER, .b = 2},
         "receiver started (power was off)"},
        {{.kind = LOG_ENTRY_FAILSAFE_LEFT, .a = 1250}, "failsafe left after 1.25 s"},
        {{.kind = LOG_ENTRY_OUTAGE_ENDED, .a = 430}, "linked again after an outage of 430 ms"},
        {{.kind = LOG_ENTRY_LINES_MISSING, .a = 3}, "3 lines missing on the cable"},
        {{.kind = LOG_ENTRY_LINES_MISSING, .a = 1}, "1 line missing on the cable"},
        {{.kind = LOG_ENTRY_DAMAGE, .a = DAMAGE_BAD_CHECKSUM, .b = 1},
         "line refused: checksum wrong"},
        {{.kind = LOG_ENTRY_DAMAGE, .a = DAMAGE_RANGE, .b = 4},
         "4 lines refused: number out of range"},
        {{.kind = LOG_ENTRY_DAMAGE, .a = 99, .b = 1}, "line refused: damaged"},
        {{.kind = LOG_ENTRY_SUPPLY_DIP, .a = 3410}, "supply dipped to 3.41 V"},
        {{.kind = LOG_ENTRY_POWER_STEP, .a = 1, .b = 4, .text = "reduced"},
         "transmit power now 1/4 (reduced)"},
        {{.kind = LOG_ENTRY_POWER_STEP, .a = 4, .b = 4}, "transmit power now 4/4"},
        {{.kind = LOG_ENTRY_CROWDED, .a = 83, .b = 9600},
         "lines fill 83 % of 9600 bit/s: print less, or faster"},
        {{.kind = LOG_ENTRY_MARK, .a = MARK_STOP, .b = 6250}, "stop at 62.5 m"},
        {{.kind = LOG_ENTRY_MARK, .a = MARK_STOP, .b = -1}, "stop, no distance given"},
        {{.kind = LOG_ENTRY_MARK, .a = MARK_TEXT, .b = -1, .text = "new capacitor"},
         "note: new capacitor"},
        {{.kind = LOG_ENTRY_SAY, .text = "hello"}, "receiver says: hello"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char out[160];
        page_log_entry_text(out, sizeof out, &cases[i].h);
        assert_string_equal(out, cases[i].want);
    }
    for (int kind = 0; kind < LOG_ENTRY_KINDS; kind++) {
        struct log_entry h = {.kind = (enum log_entry_kind)kind};
        char out[160] = "";
        page_log_entry_text(out, sizeof out, &h);
        assert_true(strlen(out) > 3);
    }
}

static void unknown_is_never_a_number(void **state) {
    (void)state;
    static const char *const scenes[] = {"bare", "nothing"};
    for (size_t i = 0; i < 2; i++) {
        const char *screen = drawn_scene(scenes[i], 24, 80);
        assert_shows(screen, "unknown");
        assert_lacks(screen, "%");
        assert_lacks(screen, " V,");
        assert_shows(screen, "transmitter ?");
        assert_shows(screen, "missing ?");
    }
    assert_shows(drawn_scene("bare", 24, 80), "no pat, got or seq");
    assert_true(scene_make(&scene, "calm"));
    scene.s.supply_min_known = false;
    assert_shows(drawn(50, 160), "dips ? (no mvmin)");
    assert_shows(drawn(24, 80), "dips ?");
}

static void outstanding_stays_out_of_totals(void **state) {
    (void)state;
    const char *screen = drawn_scene("silent", 24, 80);
    assert_shows(screen, "nothing for 430 ms, about 21 expected");
    assert_shows(screen, "0.6 % (212 of 37712)");
    assert_shows(screen, "4 before this one");
    scene.s.outages_unsure = 2;
    assert_shows(drawn(30, 160), "4 (+2 unsure) before this one over 100 ms");
    screen = drawn_scene("replay-end", 24, 80);
    assert_shows(screen, "no link for the last 3.55 s");
    assert_lacks(drawn_scene("calm", 24, 80), "expected");
    assert_true(scene_make(&scene, "silent"));
    scene.s.outstanding_known = false;
    assert_lacks(drawn(24, 80), "expected");
}

/* Every state by its word on every size that has room for one. */
static void states_by_word(void **state) {
    (void)state;
    static const struct {
        enum link_state state;
        const char *boxed, *plain;
    } cases[] = {
        {STATE_NO_LINES, "N O   L I N E S", "NO LINES"},
        {STATE_NO_REPORTS, "NO REPORTS", "NO REPORTS"},
        {STATE_NEVER_HEARD, "NO PACKETS YET", "NO PACKETS"},
        {STATE_LINKED, "L I N K E D", "LINKED"},
        {STATE_LOSSY, "L O S S Y", "LOSSY"},
        {STATE_OUTAGE, "O U T A G E", "OUTAGE"},
        {STATE_FAILSAFE, "F A I L S A F E", "FAILSAFE"},
        {STATE_LOCKED, "L O C K E D", "LOCKED"},
        {STATE_UNKNOWN, "U N K N O W N", "UNKNOWN"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_true(scene_make(&scene, "calm"));
        scene.s.state = cases[i].state;
        for (int ascii = 0; ascii < 2; ascii++) {
            grid.ascii = ascii != 0;
            assert_shows(drawn(24, 80), cases[i].boxed);
            assert_shows(drawn(50, 160), cases[i].boxed);
            assert_shows(drawn(2, 14), cases[i].plain);
        }
    }
}

static void eight_channels_fit_the_small_page(void **state) {
    (void)state;
    const char *screen = drawn_scene("calm", 24, 80);
    for (uint32_t i = 0; i < 8; i++) {
        assert_shows(screen, scene.s.channel[i].name);
    }
    assert_lacks(screen, "more");
    assert_shows(screen, "no pulses at this output");
    screen = drawn_scene("sixteen", 24, 80);
    assert_shows(screen, "and 7 more");
    screen = drawn_scene("sixteen", 29, 100);
    assert_shows(screen, "and 2 more");
    screen = drawn_scene("sixteen", 30, 100);
    assert_lacks(screen, "more");
}

static void log_entries_scroll_and_stop(void **state) {
    (void)state;
    assert_shows(drawn_scene("calm", 24, 80), "2 lines refused");
    scene.p.scroll = 4;
    assert_lacks(drawn(24, 80), "2 lines refused");
    assert_shows(drawn(24, 80), "4 newer below");
    scene.p.scroll = 100000;
    assert_shows(drawn(24, 80), "port opened");
    scene.p.scroll = -3;
    assert_shows(drawn(24, 80), "2 lines refused");
    scene.p.scroll = 0;
    for (int i = 0; i < 3 * LOG_ENTRIES_MAX; i++) {
        happen(&scene, LOG_ENTRY_LINES_MISSING, 800000 + i, 1000 + i, 0, "");
    }
    assert_shows(drawn(24, 80), "1383 lines missing");
    scene.p.scroll = LOG_ENTRIES_MAX;
    assert_shows(drawn(24, 80), "1256 lines missing");
    assert_lacks(drawn(24, 80), "1255 lines missing");
}

/* An alarm whose cause has its own line isn't told twice; one that hasn't is told. */
static void alarms_are_told_once(void **state) {
    (void)state;
    assert_lacks(drawn_scene("silent", 24, 80), "alarm");
    assert_shows(drawn_scene("thin", 24, 80), "loss over 10 s above the limit");
}

static void cautions_in_sight(void **state) {
    (void)state;
    const char *screen = drawn_scene("paused", 24, 80);
    assert_shows(screen, "PAUSED");
    assert_shows(screen, "PORT GONE");
    assert_shows(screen, "no space left on the disk");
    assert_shows(screen, "REDUCED TRANSMIT POWER");
    scene.p.far = true;
    assert_shows(drawn(24, 80), "PORT GONE");
    screen = drawn_scene("caution", 10, 40);
    assert_shows(screen, "y yes");
    assert_shows(screen, "LINKED");
    screen = drawn_scene("caution", 24, 80);
    assert_shows(screen, "L I N K E D");
    screen = drawn_scene("entry", 24, 80);
    assert_shows(screen, "> 62.5");
}

/* A long entry shows its end, where the person types. */
static void long_entry_shows_its_end(void **state) {
    (void)state;
    assert_true(scene_make(&scene, "entry"));
    scene.p.entry = "0123456789012345678901234567890123456789012345678901234567890123456789"
                    "0123456789 the end";
    assert_shows(drawn(24, 80), "789 the end");
}

static void assert_cells_clean(const char *name) {
    for (int r = 0; r < grid.rows; r++) {
        for (int c = 0; c < grid.columns; c++) {
            struct cell cell = grid_cell(&grid, r, c);
            if (cell.tone >= TONES || cell.rune < 0x20 ||
                (grid.ascii ? cell.rune > 0x7E : cell.rune >= 0x7F && cell.rune < 0xA0)) {
                fail_msg("%s at %dx%d: U+%04" PRIX32 " at row %d, column %d", name, grid.columns,
                         grid.rows, cell.rune, r, c);
            }
        }
    }
}

/* Every moment at every odd size: nothing outside, clean cells, and drawing twice draws the same.
 */
static void every_size_is_drawn(void **state) {
    (void)state;
    static const int rows[] = {1, 2, 3, 4, 5, 7, 10, 17, 18, 19, 20, 23, 24, 25, 31, 50, 200};
    static const int columns[] = {1, 2, 3, 5, 9, 20, 39, 79, 80, 81, 96, 99, 120, 139, 140, 400};
    for (size_t i = 0; i < scene_rows_count; i++) {
        assert_true(scene_make(&scene, scene_rows[i].name));
        for (size_t r = 0; r < sizeof rows / sizeof rows[0]; r++) {
            for (size_t c = 0; c < sizeof columns / sizeof columns[0]; c++) {
                grid.ascii = (r + c) % 2 == 0;
                grid_resize(&grid, rows[r], columns[c]);
                page_draw(&grid, &scene.s, &scene.p);
                assert_cells_clean(scene_rows[i].name);
                again.ascii = grid.ascii;
                grid_resize(&again, rows[r], columns[c]);
                page_draw(&again, &scene.s, &scene.p);
                page_draw(&again, &scene.s, &scene.p);
                size_t cells = (size_t)rows[r] * (size_t)columns[c];
                for (size_t k = 0; k < cells; k++) {
                    assert_int_equal(grid.cell[k].rune, again.cell[k].rune);
                    assert_int_equal(grid.cell[k].tone, again.cell[k].tone);
                }
            }
        }
    }
}

/* Text of the wire, the model file and the command line holds anything. */
static void hostile_text_stays_text(void **state) {
    (void)state;
    assert_true(scene_make(&scene, "paused"));
    strcpy(scene.s.firmware, "\x1B]0;x\x07\xFF");
    strcpy(scene.s.channel[0].name, "\x1B[31mrudder\n");
    scene.p.source = "/dev/\xC2\x9B"
                     "31m\r";
    scene.p.notice = "\x1B"
                     "c";
    scene.p.recording_trouble = "\t%s%n\xE2\x96";
    for (int i = 0; i < 6; i++) {
        happen(&scene, LOG_ENTRY_SAY, 1, 0, 0, "\x1B[2J\x7F");
    }
    for (int ascii = 0; ascii < 2; ascii++) {
        grid.ascii = ascii != 0;
        (void)drawn(50, 160);
        assert_cells_clean("hostile");
    }
}

/* Values that nobody expects: extremes of every range. */
static void extreme_values_are_drawn(void **state) {
    (void)state;
    assert_true(scene_make(&scene, "failsafe"));
    struct snapshot *s = &scene.s;
    s->total = s->last_10s = s->last_1s =
        (struct packet_count){UINT32_MAX, UINT32_MAX, true, false, false, 0, 0};
    s->lines_good = s->lines_damaged = s->lines_missing = s->outages = UINT64_MAX;
    s->outage_ms = s->longest_gap_ms = s->now_ms = INT64_MAX / 2;
    s->outstanding = UINT64_MAX;
    s->supply_mv = s->supply_low_mv = INT32_MAX;
    s->span_low = s->span_high = 1500;
    s->channel[0].value = INT32_MAX;
    s->channel[0].low = INT32_MIN + 1;
    s->channel[0].high = INT32_MAX;
    s->channel[0].rest = 1e300;
    s->channel[0].noise = 1e300;
    for (int far = 0; far < 2; far++) {
        scene.p.far = far != 0;
        (void)drawn(24, 80);
        assert_cells_clean("extreme");
        (void)drawn(50, 160);
        assert_cells_clean("extreme");
    }
}

/* What a chart doesn't want does what it does without, but never what closes it. */
static void keys_on_a_chart(void **state) {
    static const struct charts_view view;
    static const struct {
        int key;
        enum action live, replay;
    } rows[] = {{'c', ACTION_CHART_NEXT_OR_CLOSE, ACTION_CHART_NEXT_OR_CLOSE},
                {'q', ACTION_CHARTS_CLOSE, ACTION_CHARTS_CLOSE},
                {PRESS_UP, ACTION_CHART_UP, ACTION_CHART_UP},
                {PRESS_RIGHT, ACTION_CHART_NEXT, ACTION_CHART_NEXT},
                {'s', ACTION_STOP, ACTION_NONE},
                {' ', ACTION_PAUSE, ACTION_RUN},
                {PRESS_END, ACTION_NONE, ACTION_END}};
    struct trial_view list = {.show = TRIAL_SHOW_LIST};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct page p = {.charts = &view};
        assert_int_equal(page_action(&p, rows[i].key), rows[i].live);
        p.replay = REPLAY_RUNNING;
        assert_int_equal(page_action(&p, rows[i].key), rows[i].replay);
        p.trial = &list; /* it is in front */
        assert_int_equal(page_keys(&p), IN_TRIALS);
    }
    assert_int_equal(page_action(&(struct page){0}, 'c'), ACTION_CHARTS);
    assert_int_equal(page_action(&(struct page){0}, PRESS_RIGHT), ACTION_NONE);
}

/* Rows: the state and a heading above, keys below; on a large screen the first line too, in a
 * replay its own line; each caution takes one more. */
static void charts_have_room(void **state) {
    static const struct {
        int rows, columns, room_rows, room_columns;
        enum replay_mode replay;
        bool caution;
    } rows[] = {{24, 80, 20, 80, REPLAY_NONE, false},  {24, 80, 19, 80, REPLAY_PAUSED, false},
                {24, 80, 18, 80, REPLAY_PAUSED, true}, {12, 40, 9, 40, REPLAY_PAUSED, false},
                {9, 40, 5, 40, REPLAY_NONE, true},     {8, 40, 0, 0, REPLAY_NONE, true},
                {24, 39, 0, 0, REPLAY_NONE, false},    {1, 1, 0, 0, REPLAY_NONE, false},
                {50, 160, 46, 160, REPLAY_NONE, false}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct page p = {.replay = rows[i].replay, .reduced_power = rows[i].caution};
        int room_rows, room_columns;
        page_chart_room(rows[i].rows, rows[i].columns, &p, &room_rows, &room_columns);
        assert_int_equal(room_rows, rows[i].room_rows);
        assert_int_equal(room_columns, rows[i].room_columns);
    }
}

static void keys_are_told_apart(void **state) {
    (void)state;
    static const unsigned places[] = {IN_LIVE,  IN_REPLAY, IN_QUESTION, IN_HELP,
                                      IN_TRIAL, IN_TRIALS, IN_CHARTS};
    for (size_t i = 0; i < key_rows_count; i++) {
        const struct key_row *a = &key_rows[i];
        assert_true(strlen(a->help) <= 28 && strlen(a->help) > 0 && strlen(a->label) > 0);
        for (size_t p = 0; p < sizeof places / sizeof places[0]; p++) {
            if ((a->where & places[p]) != 0) {
                assert_int_equal(keys_action(a->key, places[p]), a->action);
            }
            for (size_t j = i + 1; j < key_rows_count; j++) {
                const struct key_row *b = &key_rows[j];
                bool together = (a->where & b->where & places[p]) != 0;
                assert_false(together && (a->key == b->key || a->key == b->also));
                assert_false(together && a->also != PRESS_NONE &&
                             (a->also == b->key || a->also == b->also));
            }
        }
    }
    for (int action = ACTION_NONE + 1; action < ACTIONS; action++) {
        bool found = false;
        for (size_t i = 0; i < key_rows_count; i++) {
            found = found || key_rows[i].action == (enum action)action;
        }
        assert_true(found);
    }
    assert_int_equal(keys_action(PRESS_NONE, IN_LIVE), ACTION_NONE);
    assert_int_equal(keys_action('s', IN_REPLAY), ACTION_NONE);
    assert_int_equal(keys_action('n', IN_QUESTION), ACTION_NO);
    assert_int_equal(keys_action('n', IN_LIVE), ACTION_NOTE);
}

/* The help lists every key that works where it is called. */
static void help_lists_every_key(void **state) {
    (void)state;
    static const struct {
        const char *scene;
        unsigned where;
    } cases[] = {{"calm", IN_LIVE}, {"replay", IN_REPLAY}};
    for (size_t i = 0; i < 2; i++) {
        assert_true(scene_make(&scene, cases[i].scene));
        scene.p.overlay = OVERLAY_HELP;
        grid.ascii = false;
        const char *screen = drawn(24, 80);
        for (size_t k = 0; k < key_rows_count; k++) {
            if ((key_rows[k].where & cases[i].where) != 0) {
                assert_shows(screen, key_rows[k].help);
            }
        }
    }
}

/* An input that ended because reading failed is told as that, and a replayed file too. */
static void failed_reading_is_no_end(void **state) {
    static const struct {
        bool failed, replay;
        const char *shows, *lacks;
    } cases[] = {{false, false, "END OF INPUT", "READING FAILED"},
                 {true, false, "READING FAILED", "END OF INPUT"},
                 {false, true, "at the end", "READING FAILED"},
                 {true, true, "READING FAILED", "END OF INPUT"}};
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_true(scene_make(&scene, "calm"));
        grid.ascii = false;
        scene.p.port = cases[i].replay ? LINK_OPEN : LINK_ENDED;
        scene.p.replay = cases[i].replay ? REPLAY_ENDED : REPLAY_NONE;
        scene.p.read_failed = cases[i].failed;
        const char *screen = drawn(24, 80);
        assert_shows(screen, cases[i].shows);
        assert_lacks(screen, cases[i].lacks);
    }
}

/* At 80 columns the bottom line has room for the charts, but at a stop, which may be left. */
static void bottom_line_names_the_charts(void **state) {
    static const struct {
        const char *scene;
        bool charts, leave;
    } cases[] = {{"calm", true, false},
                 {"way", true, false},
                 {"stop", false, true},
                 {"replay", true, false}};
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_true(scene_make(&scene, cases[i].scene));
        grid.ascii = false;
        const char *screen = drawn(24, 80);
        (cases[i].charts ? assert_shows : assert_lacks)(screen, "c chart");
        (cases[i].leave ? assert_shows : assert_lacks)(screen, "l leave");
        assert_shows(screen, cases[i].scene[0] == 'r' ? "- slower" : "n note");
    }
}

/* On a chart: its own keys, and those of the console that it doesn't take. */
static void help_on_a_chart_lists_its_keys(void **state) {
    static const struct charts_view chart = {.title = "Loss over time", .count = 1};
    static const char *const scenes[] = {"calm", "replay"};
    (void)state;
    for (size_t i = 0; i < 2; i++) {
        assert_true(scene_make(&scene, scenes[i]));
        scene.p.charts = &chart;
        scene.p.overlay = OVERLAY_HELP;
        grid.ascii = false;
        const char *screen = drawn(24, 80);
        for (size_t k = 0; k < key_rows_count; k++)
            if ((key_rows[k].where & IN_CHARTS) != 0)
                assert_shows(screen, key_rows[k].help);
        assert_shows(screen, "this page of keys");
        assert_shows(screen, i == 0 ? "a servo twitched just now" : "to its start");
        assert_lacks(screen, "events: one line older"); /* Up goes up the chart */
        assert_lacks(screen, "charts of the run so far");
        assert_lacks(screen, "its rest position"); /* what the page's signs mean */
    }
}

static void lines_wrap_between_words(void **state) {
    (void)state;
    static const struct {
        const char *text;
        int width;
        const char *want; /* lines divided by | */
    } cases[] = {
        {"throttle low, propeller off", 14, "throttle low,|propeller off"},
        {"one\ntwo", 20, "one|two"},
        {"one\n\ntwo", 20, "one||two"},
        {"unbreakable", 5, "unbre|akabl|e"},
        {"exact fit", 5, "exact|fit"},
        {"", 5, ""},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char out[100] = "";
        struct slice rest = slice_of(cases[i].text);
        while (rest.len > 0) {
            struct slice line = lay_line(&rest, cases[i].width);
            snprintf(out + strlen(out), sizeof out - strlen(out), "%s%.*s",
                     out[0] != '\0' || line.at != cases[i].text ? "|" : "", (int)line.len,
                     line.len > 0 ? line.at : "");
        }
        assert_string_equal(out, cases[i].want);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(shares_keep_some_apart),
        cmocka_unit_test(times_at_their_edges),
        cmocka_unit_test(log_entries_in_words),
        cmocka_unit_test(unknown_is_never_a_number),
        cmocka_unit_test(outstanding_stays_out_of_totals),
        cmocka_unit_test(states_by_word),
        cmocka_unit_test(eight_channels_fit_the_small_page),
        cmocka_unit_test(log_entries_scroll_and_stop),
        cmocka_unit_test(alarms_are_told_once),
        cmocka_unit_test(cautions_in_sight),
        cmocka_unit_test(long_entry_shows_its_end),
        cmocka_unit_test(every_size_is_drawn),
        cmocka_unit_test(hostile_text_stays_text),
        cmocka_unit_test(extreme_values_are_drawn),
        cmocka_unit_test(keys_on_a_chart),
        cmocka_unit_test(charts_have_room),
        cmocka_unit_test(keys_are_told_apart),
        cmocka_unit_test(help_lists_every_key),
        cmocka_unit_test(failed_reading_is_no_end),
        cmocka_unit_test(bottom_line_names_the_charts),
        cmocka_unit_test(help_on_a_chart_lists_its_keys),
        cmocka_unit_test(lines_wrap_between_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
