/* Guided trials by the keys of the real console, on what the simulated receiver prints: the port
 * gives its lines ten times as fast as they were. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#include "world.h"

static const struct start plain = {0};

/* A key for a text on the screen; each is pressed once. */
struct reply {
    const char *text, *keys;
    bool question; /* of a step: a key that comes at once is taken for one that was pressed twice */
};

static int64_t now_ms(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

enum { HESITATES_MS = 60 }; /* before a question is answered: 600 on a clock ten times as fast */

/* Feeds the lines, and answers what the screen asks, until `until` is there or the lines end. */
static void play(struct world *w, const char *lines, const struct reply *replies, size_t count,
                 const char *until) {
    enum { LINE_MS = 5 };
    size_t next = 0;
    int64_t due_ms = now_ms(), asked_ms = -1;
    while (*lines != '\0' && strstr(term_text(w->term), until) == NULL) {
        size_t len = strcspn(lines, "\n") + 1;
        world_wire(w, lines, len);
        lines += len;
        due_ms += LINE_MS;
        for (int64_t left; (left = due_ms - now_ms()) > 0;)
            term_pump(w->term, (int)left);
        bool asked = next < count && strstr(term_text(w->term), replies[next].text) != NULL;
        if (!asked)
            asked_ms = -1;
        else if (asked_ms < 0)
            asked_ms = now_ms();
        if (asked && (!replies[next].question || now_ms() - asked_ms >= HESITATES_MS)) {
            term_send(w->term, replies[next++].keys);
            asked_ms = -1;
        }
    }
    world_shows(w, until);
}

static char *scene(struct world *w, const char *seconds) {
    int status;
    char *lines = world_output(
        w, WORDS("simulate", "--lines", "--fast", "--scene", "failsafe", "--for", seconds),
        &status);
    assert_int_equal(status, 0);
    return lines;
}

static void judged(struct world *w, const char *text, int wanted) {
    int status;
    char *out = world_output(w, WORDS("judge", "trial.csv"), &status);
    assert_int_equal(status, wanted);
    if (strstr(out, text) == NULL)
        fail_msg("judge doesn't say '%s':\n%s", text, out);
    free(out);
}

static void put_file(struct world *w, const char *name, const char *text) {
    char path[sizeof w->folder + 16];
    snprintf(path, sizeof path, "%s/%s", w->folder, name);
    FILE *file = fopen(path, "we");
    assert_non_null(file);
    fputs(text, file);
    fclose(file);
}

static void remove_file(struct world *w, const char *name) {
    char path[sizeof w->folder + 16];
    snprintf(path, sizeof path, "%s/%s", w->folder, name);
    assert_int_equal(unlink(path), 0);
}

/* With a clock as fast as the lines are played. */
static void watch_fast(struct world *w, const char *const *further) {
    char shim[200];
    snprintf(shim, sizeof shim, "LD_PRELOAD=%s", getenv("FAST_CLOCK_SHIM"));
    const char *env[] = {shim, "FAST_CLOCK=10", NULL};
    world_watch(w, (struct start){.env = env}, further);
}

static void guides_through_failsafe(void **state) {
    static const struct reply replies[] = {
        {"loss", "v", false},
        {"A number begins one", "1", false},
        {"Propeller off", "y", false},
        {"Which channel is the throttle?", "2", false},
        {"do all motors stand still?", "y", true},
        {"Does every motor run now?", "y", true},
        {"The transmitter is still off", "y", true},
        {"Does every servo stand", "y", true},
        {"did all motors stand still?", "y", true},
        {"The transmitter is still off", "y", true},
        {"did all motors stand still?", "y", true},
        {"The transmitter is still off", "y", true},
        {"Press the receiver's reset button", "ky", false},
        {"Take the receiver's supply away", "ky", false},
        {"did all motors stand still?", "y", true},
        {"Transmitter stays on. Push", "ky", false},
        {"Then pull the supply wire", "ky", false},
        {"let the signal fade", "ky", false},
    };
    struct world *w = *state;
    char *lines = scene(w, "175");
    put_file(w, "tug.ini", "[channels]\n2 = throttle\n[failsafe]\n8 = off\n");
    watch_fast(w, WORDS("--mute", "--out", "trial.csv", "--model", "tug.ini"));
    play(w, lines, replies, sizeof replies / sizeof replies[0], "more: Down");
    world_shows(w, "passed");
    world_shows_row(w, WORDS("Motors at rest within"));
    world_lacks(w, "A clean bench result");
    for (int i = 0; i < 6; i++)
        term_send(w->term, " ");
    world_shows(w, "A clean bench result");
    term_send(w->term, "\033");
    world_shows(w, "events");
    term_send(w->term, "v");
    world_shows_row(w, WORDS("1", "failsafe", "passed"));
    term_send(w->term, "q");
    world_shows(w, "events");
    term_send(w->term, "q");
    assert_int_equal(term_wait_end(w->term), 0);
    free(lines);
    judged(w, "failsafe    passed", 0);
    remove_file(w, "tug.ini");
}

/* The keys of the trial and no others; while they are shown none of them is taken. */
static void helps_in_a_trial(void **state) {
    static const struct reply replies[] = {{"loss", "v", false},
                                           {"A number begins one", "1", false}};
    struct world *w = *state;
    char *lines = scene(w, "8");
    world_watch(w, (struct start){.rows = 40}, WORDS("--mute", "--out", "trial.csv"));
    play(w, lines, replies, 2, "Propeller off");
    world_shows(w, "? help");
    term_send(w->term, "?");
    world_shows(w, "leave the trial (asks)");
    world_lacks(w, "a stop of a walk");
    term_send(w->term, "y");
    term_send(w->term, "\033");
    world_hides(w, "leave the trial (asks)");
    world_shows(w, "Propeller off");
    term_send(w->term, "y");
    world_shows(w, "Which channel");
    free(lines);
}

static void leaves_when_asked(void **state) {
    static const struct reply replies[] = {{"loss", "v", false},
                                           {"A number begins one", "1", false},
                                           {"Propeller off", "y", false},
                                           {"Which channel", "2", false},
                                           {"do all motors stand still?", "y", true},
                                           {"Does every motor run now?", "y", true}};
    struct world *w = *state;
    char *lines = scene(w, "20");
    watch_fast(w, WORDS("--mute", "--out", "trial.csv"));
    play(w, lines, replies, 6, "Leave the throttle sticks up");
    term_send(w->term, "q");
    world_shows(w, "yes, leave it");
    term_send(w->term, "n");
    world_hides(w, "yes, leave it");
    world_shows(w, "Leave the throttle sticks up");
    term_send(w->term, "\033");
    world_shows(w, "yes, leave it");
    term_send(w->term, "y");
    world_shows(w, "Left before its end");
    term_send(w->term, "q");
    world_shows(w, "events");
    term_send(w->term, "q");
    assert_int_equal(term_wait_end(w->term), 0);
    free(lines);
    judged(w, "left before its end", 0);
}

/* Enter is no yes: only y begins what may hurt. */
static void asks_for_a_yes(void **state) {
    struct world *w = *state;
    world_watch(w, plain, WORDS("--mute"));
    world_identity(w);
    world_reports(w, 3, 5, 0, "fs=0");
    term_send(w->term, "v");
    world_shows(w, "A number begins one");
    world_shows(w, "Nothing is being recorded");
    term_send(w->term, "1");
    world_shows(w, "Propeller off");
    world_shows(w, "nothing is being recorded: r records");
    term_send(w->term, "\rk5");
    world_shows(w, "y begins the trial, n ends it");
    term_send(w->term, "r");
    world_shows(w, "recording into");
    world_shows(w, "Propeller off"); /* begun anew, so as to be in the recording */
    char *text = world_file_holds(w, "airleash-*.csv", "failsafe begin");
    assert_null(strstr(text, "failsafe skip"));
    assert_null(strstr(text, "failsafe answer"));
    free(text);
    term_send(w->term, "n");
    world_shows(w, "End the trial here?");
    term_send(w->term, "y");
    world_shows(w, "not shown");
    text = world_file_holds(w, "airleash-*.csv", "failsafe end");
    assert_non_null(strstr(text, "failsafe answer=no"));
    free(text);
}

static void replays_trials(void **state) {
    static const struct reply replies[] = {{"loss", "v", false},
                                           {"A number begins one", "1", false},
                                           {"Propeller off", "y", false},
                                           {"Which channel", "2", false},
                                           {"do all motors stand still?", "y", true},
                                           {"Does every motor run now?", "y", true}};
    struct world *w = *state;
    char *lines = scene(w, "20");
    watch_fast(w, WORDS("--mute", "--out", "trial.csv"));
    play(w, lines, replies, 6, "Leave the throttle sticks up");
    term_send(w->term, "qyqq");
    assert_int_equal(term_wait_end(w->term), 0);
    free(lines);
    world_run(w, plain, WORDS("replay", "trial.csv", "--mute", "--pace", "0.05"));
    world_shows(w, "Propeller off"); /* the pane follows the rows */
    world_lacks(w, "yes, it is so");
    term_send(w->term, "\033OF"); /* End */
    world_shows(w, "events");
    term_send(w->term, "v");
    world_shows_row(w, WORDS("failsafe", "not shown"));
    term_send(w->term, "1");
    world_shows(w, "Left before its end");
    term_send(w->term, "qq");
    assert_int_equal(term_wait_end(w->term), 0);
}

/* What a file told of the other end is in the recording, so that judge knows it without the file.
 */
static void records_the_other_end(void **state) {
    struct world *w = *state;
    int status;
    put_file(w, "other.log", "id end=tx fw=tug-tx-7 mhz=2476 kbps=250\n");
    world_watch(w, plain, WORDS("--mute", "--out", "trial.csv", "--other", "other.log"));
    world_identity(w);
    world_reports(w, 3, 5, 0, "fs=0");
    free(world_file_holds(w, "trial.csv", "other.transmitter=end=tx fw=tug-tx-7"));
    term_send(w->term, "q");
    assert_int_equal(term_wait_end(w->term), 0);
    remove_file(w, "other.log");
    char *out = world_output(w, WORDS("judge", "--json", "trial.csv"), &status);
    assert_int_equal(status, 0);
    assert_non_null(strstr(out, "\"fw\": \"tug-tx-7\""));
    assert_non_null(strstr(out, "\"mhz\": 2476"));
    free(out);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, world_begin, world_end)

int main(void) {
    const struct CMUnitTest tests[] = {
        TEST(guides_through_failsafe), TEST(helps_in_a_trial), TEST(leaves_when_asked),
        TEST(asks_for_a_yes),          TEST(replays_trials),   TEST(records_the_other_end),
    };
    if (getenv("ONLY") != NULL)
        cmocka_set_test_filter(getenv("ONLY"));
    return cmocka_run_group_tests(tests, NULL, NULL);
}
