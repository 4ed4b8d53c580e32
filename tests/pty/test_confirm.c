/* Accidental keys in a guided trial, by the keys of the real console: what ends, skips or passes
 * over something waits for a y, and the key that asked never confirms. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "world.h"

static const struct { int rows, columns; } sizes[] = {{24, 80}, {20, 45}, {50, 160}};

static const struct start plain = {0};

static void forget(struct world *w, const char *name) {
    char path[128];
    snprintf(path, sizeof path, "%s/%s", w->folder, name);
    unlink(path);
}

/* The rows of trials so far, their texts one after the other, each ended by ';'. */
static const char *trial_rows(struct world *w, const char *name) {
    static char rows[2000];
    size_t len = 0;
    char *text = world_file(w, name);
    rows[0] = '\0';
    for (const char *at = text; at != NULL && (at = strstr(at, "\ntrial,")) != NULL;) {
        const char *end = strchr(++at, '\r'), *note = end;
        while (note[-1] != ',')
            note--;
        len += (size_t)snprintf(rows + len, sizeof rows - len, "%.*s;", (int)(end - note), note);
    }
    free(text);
    return rows;
}

static void rows_are(struct world *w, const char *name, const char *wanted) {
    const char *rows = trial_rows(w, name);
    if (strcmp(rows, wanted) != 0)
        world_fail(w, "other rows of the trial", rows);
}

static void begin(struct world *w, struct start how, const char *number) {
    world_watch(w, how, WORDS("--mute", "--out", "trial.csv"));
    world_identity(w);
    world_reports(w, 3, 5, 0, "fs=0");
    term_send(w->term, "v");
    world_shows(w, "guided trials");
    term_send(w->term, number);
}

/* `key` asks, and says so; neither itself again nor anything but y and no answers, and each no
 * leads back to the step. */
static void asks(struct world *w, const char *key, const char *question, const char *step) {
    static const char *const noes[] = {"n", "\033", "q"};
    for (size_t i = 0; i < 3; i++) {
        char twice[8];
        snprintf(twice, sizeof twice, "%s%s", key, strpbrk(key, "q\033") == NULL ? key : "");
        term_send(w->term, twice);
        world_shows(w, question);
        world_shows(w, "y yes");
        world_shows(w, "n no");
        term_send(w->term, "\r k1r ");
        world_reports(w, 1, 5, 0, "fs=0");
        world_shows(w, question);
        term_send(w->term, noes[i]);
        world_hides(w, question);
        world_shows(w, step);
    }
}

/* In every size: the questions are whole, and nothing of twenty minutes is lost by any key. */
static void keeps_a_soak(void **state) {
    static const char step[] = "Leave everything on.",
                      begun[] = "soak begin;soak answer=yes;soak step=soak;";
    struct world *w = *state;
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        begin(w, (struct start){.rows = sizes[i].rows, .columns = sizes[i].columns}, "7");
        world_shows(w, "Propeller off");
        term_send(w->term, "y");
        world_shows(w, step);
        asks(w, "\r", "Go on without having seen it?", step);
        asks(w, "k", "Skip this step? It won't be shown then.", step);
        asks(w, "\033", "Leave the trial?", step);
        asks(w, "q", "Leave the trial?", step);
        asks(w, "r", "Stop recording in the middle of a trial?", step);
        term_send(w->term, "gvcn17ypf"); /* which mean nothing here */
        world_reports(w, 3, 5, 0, "fs=0");
        world_shows(w, step);
        world_lacks(w, "CAUTION");
        rows_are(w, "trial.csv", begun);
        char *text = world_file(w, "trial.csv");
        assert_null(strstr(text, "\nend,"));
        free(text);
        term_send(w->term, "\r");
        world_shows(w, "Go on without having seen it?");
        term_send(w->term, "y");
        world_hides(w, step);
        free(world_file_holds(w, "trial.csv", "soak end"));
        rows_are(w, "trial.csv",
                 "soak begin;soak answer=yes;soak step=soak;soak answer=ready;soak end;");
        term_send(w->term, "qq");
        assert_int_equal(term_wait_end(w->term), 0);
        forget(w, "trial.csv");
        world_unplug(w);
    }
}

/* y does what was asked: leaves, skips, stops the recording. */
static void does_what_was_confirmed(void **state) {
    struct world *w = *state;
    begin(w, plain, "7");
    world_shows(w, "Propeller off");
    term_send(w->term, "y");
    world_shows(w, "Leave everything on.");
    term_send(w->term, "ry");
    free(world_file_holds(w, "trial.csv", "\nend,"));
    world_shows(w, "recorded ");
    world_shows(w, "Leave everything on."); /* the trial goes on */
    term_send(w->term, "r");                /* and a new recording needs no yes */
    world_shows(w, "the trial began before the recording");
    term_send(w->term, "ky");
    free(world_file_holds(w, "airleash-*.csv", "soak skip"));
    free(world_file_holds(w, "airleash-*.csv", "soak end"));
    term_send(w->term, "qq");
    assert_int_equal(term_wait_end(w->term), 0);
}

/* One key begins every trial: y.  Enter and digits say so; n asks, and ends it. */
static void begins_every_trial_by_y(void **state) {
    static const struct {
        const char *number, *gate, *after;
    } rows[] = {{"1", "Propeller off", "Which channel"},
                {"2", "Propeller off", "Touch nothing"},
                {"3", "Propeller off", "Hands off"},
                {"4", "propeller off", "Hands off everything"},
                {"5", "What powers the receiver", "1 battery"},
                {"6", "You will tap", "This is the calm time"},
                {"7", "Propeller off", "Leave everything on."}};
    struct world *w = *state;
    world_watch(w, (struct start){.rows = 40}, WORDS("--mute", "--out", "trial.csv"));
    world_identity(w);
    world_reports(w, 3, 5, 0, "fs=0");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        term_send(w->term, "v");
        world_shows(w, "A number begins one");
        term_send(w->term, rows[i].number);
        world_shows(w, rows[i].gate);
        world_shows(w, "begin   n end the trial");
        world_shows(w, "step 1");
        term_send(w->term, "\r12k");
        world_shows(w, "y begins the trial, n ends it");
        world_shows(w, rows[i].gate);
        world_lacks(w, rows[i].after);
        term_send(w->term, "n");
        world_shows(w, "End the trial here?");
        term_send(w->term, "n");
        world_hides(w, "End the trial here?");
        term_send(w->term, "y");
        world_shows(w, rows[i].after);
        term_send(w->term, "\033");
        world_shows(w, "Leave the trial?");
        term_send(w->term, "y");
        world_hides(w, "Leave the trial?");
        term_send(w->term, "v");
        world_shows(w, "events");
    }
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        term_send(w->term, "v");
        world_shows(w, "A number begins one");
        term_send(w->term, rows[i].number);
        world_shows(w, rows[i].gate);
        term_send(w->term, "ny");
        world_hides(w, rows[i].gate);
        world_shows(w, "not shown");
        term_send(w->term, "v");
        world_shows(w, "events");
    }
}

/* The step was done while it was asked about: the y that comes then is no answer to the next. */
static void forgets_a_question_with_its_step(void **state) {
    struct world *w = *state;
    begin(w, plain, "2");
    world_shows(w, "Propeller off");
    term_send(w->term, "y");
    world_shows(w, "Touch nothing");
    term_send(w->term, "k");
    world_shows(w, "Skip this step?");
    while (strstr(term_text(w->term), "Switch the transmitter on,") == NULL) {
        world_reports(w, 1, 5, 0, "fs=0");
        term_pump(w->term, 50);
    }
    world_shows(w, "step 3");
    world_shows(w, "Skip this step?");
    term_send(w->term, "y");
    world_hides(w, "Skip this step?");
    world_shows(w, "Switch the transmitter on,");
    rows_are(w, "trial.csv", "bind begin;bind answer=yes;bind step=look;bind step=on;");
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, world_begin, world_end)

int main(void) {
    const struct CMUnitTest tests[] = {
        TEST(keeps_a_soak),
        TEST(does_what_was_confirmed),
        TEST(begins_every_trial_by_y),
        TEST(forgets_a_question_with_its_step),
    };
    if (getenv("ONLY") != NULL)
        cmocka_set_test_filter(getenv("ONLY"));
    return cmocka_run_group_tests(tests, NULL, NULL);
}
