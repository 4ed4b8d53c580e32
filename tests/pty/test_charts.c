/* Charts in the console, end to end: the real program in a terminal emulator.  What a chart says is
 * held against what the commands print of the same file. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "world.h"

static const struct start plain = {0};

static void put_file(struct world *w, const char *name, const char *text) {
    char path[128];
    snprintf(path, sizeof path, "%s/%s", w->folder, name);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fputs(text, file);
    fclose(file);
}

/* A scene of the simulated receiver as a capture in the folder. */
static void put_scene(struct world *w, const char *scene, const char *name) {
    int status;
    char *lines =
        world_output(w, WORDS("simulate", "--lines", "--fast", "--scene", scene), &status);
    assert_int_equal(status, 0);
    put_file(w, name, lines);
    free(lines);
}

/* The line of a command's output in which `word` stands; to be freed. */
static char *line_with(struct world *w, const char *word, const char *const *arguments) {
    int status;
    char *text = world_output(w, arguments, &status), *line = strstr(text, word);
    if (line == NULL)
        world_fail(w, "the command doesn't say", word);
    while (line > text && line[-1] != '\n')
        line--;
    line = strndup(line, strcspn(line, "\n"));
    free(text);
    return line;
}

static void shows_what_was_replayed(void **state) {
    struct world *w = *state;
    put_scene(w, "demo", "demo.log");
    char *mean = line_with(w, "Mean loss", WORDS("chart", "demo.log", "--what", "loss"));
    char *longest = line_with(w, "longest", WORDS("chart", "demo.log", "--what", "outages"));
    world_run(w, plain, WORDS("replay", "demo.log", "--mute", "--pace", "0"));
    world_shows(w, "at the end");
    world_shows(w, "ch1");
    term_send(w->term, "c");
    world_shows_row(w, WORDS("Loss over time", "1 of 6"));
    world_shows(w, mean);
    world_shows_row(w, WORDS("transmitter start", "◆"));
    world_state(w, "linked");
    world_lacks(w, "ch1");
    term_send(w->term, "c");
    world_shows_row(w, WORDS("How long the outages were", "2 of 6"));
    world_shows(w, longest);
    term_send(w->term, "\033OC"); /* Right */
    world_shows_row(w, WORDS("Supply over time", "3 of 6"));
    term_send(w->term, "\033OD");
    world_shows_row(w, WORDS("How long the outages were", "2 of 6"));
    term_send(w->term, "?");
    world_shows_row(w, WORDS("Left", "the chart before"));
    world_shows_row(w, WORDS("f", "big view, read from 3 m"));
    world_lacks(w, "10 s back"); /* Left is the chart's */
    term_send(w->term, "\033");  /* closes the help, not the chart */
    world_hides(w, "the chart before");
    term_send(w->term, "q"); /* closes the chart, not the program */
    world_hides(w, "2 of 6");
    world_shows(w, "ch1");
    term_send(w->term, "c\033OD");
    world_shows_row(w, WORDS("Channels over time", "6 of 6"));
    term_send(w->term, "c"); /* behind the last one */
    world_hides(w, "6 of 6");
    world_shows(w, "ch1");
    /* Back at the start nothing has come yet; keys of the replay go on working on a chart. */
    term_send(w->term, "c -\033OH");
    world_shows(w, "There is no report yet");
    term_send(w->term, "]"); /* a minute of it */
    world_shows_row(w, WORDS("0", "10", "30", "50"));
    world_lacks(w, "minutes:seconds");
    term_send(w->term, "\033OF");
    world_shows(w, mean);
    world_shows(w, "minutes:seconds");
    free(mean);
    free(longest);
}

static void fits_the_screen(void **state) {
    static const struct {
        int rows, columns;
        const char *shows;
    } sizes[] = {{12, 40, "more: Down"},        {50, 160, "0:15"},
                 {24, 80, "transmitter start"}, {7, 40, "too small"},
                 {24, 39, "too small"},         {1, 1, NULL},
                 {12, 40, "rx start"},          {24, 80, "transmitter start"}};
    struct world *w = *state;
    put_scene(w, "demo", "demo.log");
    world_run(w, plain, WORDS("replay", "demo.log", "--mute", "--pace", "0"));
    world_shows(w, "at the end");
    term_send(w->term, "c");
    world_shows(w, "transmitter start");
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        term_resize(w->term, sizes[i].rows, sizes[i].columns);
        if (sizes[i].shows)
            world_shows(w, sizes[i].shows);
    }
    term_resize(w->term, 12, 40);
    world_shows(w, "more: Down");
    term_send(w->term, "\033[6~\033[6~"); /* PgDn */
    world_shows(w, "end; Up: above");
    world_shows(w, "an interval for.");
    term_send(w->term, "\033OA"); /* Up */
    world_shows(w, "1 more: Down");
}

/* Stops set, left and struck afterwards count as walk takes them. */
static void shows_the_walk_as_amended(void **state) {
    static const char *const adds[] = {"3.9:5",   "18.9:leave", "24.9:10", "39.9:leave",
                                       "49.9:20", "64.9:leave", "70:99"};
    struct world *w = *state;
    int status;
    put_scene(w, "walk", "walk.log");
    free(world_output(w, WORDS("record", "walk.log", "--out", "walk.csv"), &status));
    for (size_t i = 0; i < sizeof adds / sizeof adds[0]; i++)
        free(world_output(w, WORDS("stops", "walk.csv", "--add", adds[i]), &status));
    free(world_output(w, WORDS("stops", "walk.csv", "--strike", "7"), &status));
    char *told = line_with(w, "can't be told", WORDS("chart", "walk.csv", "--what", "walk"));
    world_run(w, plain, WORDS("replay", "walk.csv", "--mute", "--pace", "0"));
    world_shows(w, "at the end");
    term_send(w->term, "c\033OC\033OC\033OC");
    world_shows_row(w, WORDS("The range walk", "4 of 6"));
    world_shows(w, told);
    world_shows_row(w, WORDS("5", "10", "20"));
    world_lacks(w, "100");
    free(told);
}

/* A raw capture has no marks: its stops are the walker's, by the switch, as walk finds them; anew
 * when the replay went back. */
static void finds_the_walkers_stops(void **state) {
    struct world *w = *state;
    put_scene(w, "reduced", "walk.log");
    char *told = line_with(w, "Mean loss passes",
                           WORDS("chart", "walk.log", "--what", "walk", "--switch", "6", "--plan",
                                 "2,4,6,8,10,12,16,20", "--stay", "12"));
    world_run(w, plain,
              WORDS("replay", "walk.log", "--mute", "--pace", "0", "--switch", "6", "--plan",
                    "2,4,6,8,10,12,16,20", "--stay", "12"));
    world_shows(w, "at the end");
    term_send(w->term, "c\033OC\033OC\033OC");
    world_shows_row(w, WORDS("The range walk", "4 of 6"));
    world_shows(w, told);
    term_send(w->term, " \033OH"); /* paused at the start */
    world_shows(w, "There is no stop");
    term_send(w->term, "\033OF");
    world_shows(w, told);
    free(told);
}

static void goes_on_in_the_live_console(void **state) {
    struct world *w = *state;
    put_file(w, "card.ini", "[port]\nno_lines_ms = 600000\n");
    world_watch(w, plain, WORDS("--mute", "--model", "card.ini", "--out", "run.csv"));
    term_send(w->term, "c");
    world_shows(w, "There is no report yet");
    world_identity(w);
    world_reports(w, 60, 5, 0, "fs=0 mv=5020");
    world_shows(w, "None lost: at most");
    world_state(w, "linked");
    /* A pause holds the chart too, whichever is looked at. */
    term_send(w->term, "p");
    world_shows(w, "PAUSED");
    world_reports(w, 60, 4, 1, "fs=0 mv=5020");
    world_line(w, "say that was the last line");
    free(world_file_holds(w, "run.csv", "that was the last line"));
    term_send(w->term, "\033OC");
    world_shows(w, "0 outages longer than");
    term_send(w->term, "\033OD");
    world_shows(w, "None lost: at most");
    world_shows(w, "0.6"); /* of the axis while nothing was lost */
    term_send(w->term, "p");
    world_shows(w, "Mean loss");
    world_hides(w, "0.6");
    /* Marks are set without leaving the chart. */
    term_send(w->term, "s");
    world_shows(w, "how far is it");
    term_send(w->term, "25\r");
    world_hides(w, "how far is it");
    term_send(w->term, "l");
    world_reports(w, 1, 5, 0, "fs=0 mv=5020");
    world_shows(w, "1 of 6");
    term_send(w->term, "\033OC\033OC");
    world_shows(w, "supply of the receiver, V");
    term_send(w->term, "\033");
    world_shows(w, "ch1");
}

static void says_which_key_would_tell(void **state) {
    static const struct {
        const char *key, *says;
    } rows[] = {{"c", "Loss is unknown without"},
                {"c", "Outages are unknown without"},
                {"c", "have no mv and no mvmin"},
                {"c", "mark stops with s in the console"},
                {"c", "prints one as air lines"}};
    struct world *w = *state;
    put_scene(w, "bare", "bare.log");
    world_run(w, plain, WORDS("replay", "bare.log", "--mute", "--pace", "0", "--ascii"));
    world_shows(w, "at the end");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        term_send(w->term, rows[i].key);
        world_shows(w, rows[i].says);
    }
    for (const char *c = term_text(w->term); *c; c++)
        assert_true((unsigned char)*c < 0x7F);
}

int main(void) {
#define TEST(name) cmocka_unit_test_setup_teardown(name, world_begin, world_end)
    const struct CMUnitTest tests[] = {
        TEST(shows_what_was_replayed),   TEST(fits_the_screen),
        TEST(shows_the_walk_as_amended), TEST(goes_on_in_the_live_console),
        TEST(finds_the_walkers_stops),   TEST(says_which_key_would_tell),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
