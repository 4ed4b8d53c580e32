#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/clock.h"
#include "app/commands.h"
#include "app/feed.h"
#include "app/fold.h"
#include "app/print_out.h"
#include "app/words.h"
#include "base/whole.h"
#include "console/caution.h"
#include "console/intake.h"
#include "console/signals.h"
#include "text/model_text.h"

enum { WATCH_S = 8 /* so that an id line, which comes every few seconds, is among it */ };

struct watching {
    struct setup setup;
    struct fold fold;
    struct model_seen seen;
    struct intake intake;
};

static void on_event(void *context, const struct event *event) {
    struct watching *w = context;
    model_seen_event(&w->seen, event);
    fold_event(&w->fold, event);
}

/* Reads until the time is up, the source ends, or a signal comes. */
static void watch(struct watching *w, int signals, double for_s) {
    int64_t begun_us = INT64_MAX; /* looking for the speed doesn't count */
    for (;;) {
        int64_t end_us = begun_us == INT64_MAX ? INT64_MAX : begun_us + whole_i64(for_s * 1e6);
        int64_t due_us = intake_deadline_us(&w->intake);
        struct pollfd wait[] = {{.fd = intake_fd(&w->intake), .events = POLLIN},
                                {.fd = signals, .events = POLLIN}};
        poll(wait, 2, clock_wait_ms(clock_us(), due_us < end_us ? due_us : end_us));
        enum intake_state state = intake_wake(&w->intake);
        if (state == INTAKE_OPEN && begun_us == INT64_MAX)
            begun_us = clock_us();
        if ((state != INTAKE_OPEN && state != INTAKE_SEARCHING) || signals_take(signals) != 0 ||
            clock_us() >= end_us)
            return;
    }
}

static int read_live(struct watching *w, const struct options *o) {
    struct source_error error;
    char why[WORDS_MAX];
    int status = caution_ask(o->operands[0], o, &w->setup);
    if (status != STATUS_ANSWER)
        return status;
    struct intake_wish wish = {o->operands[0], o->speed, o->yes, false, false};
    intake_init(&w->intake, &wish, on_event, w);
    if (intake_open(&w->intake, &error) != SOURCE_OK) {
        words_source(why, o->operands[0], &error);
        words_say("%s", why);
        return STATUS_TROUBLE;
    }
    double for_s = o->for_s > 0 ? o->for_s : WATCH_S;
    int signals = signals_open();
    if (isatty(STDERR_FILENO))
        words_say("watching for %g s: move each stick once, the throttle left low", for_s);
    watch(w, signals, for_s);
    enum intake_state state = w->intake.state;
    intake_end(&w->intake, "time is up");
    intake_close(&w->intake);
    close(signals);
    if (w->intake.broken) {
        intake_words(&w->intake, why);
        words_say("%s", why);
        return STATUS_TROUBLE;
    }
    if (state == INTAKE_DOUBTED)
        words_say("another board's id line came: the model file holds what was seen until then");
    if (state == INTAKE_WAITING || state == INTAKE_ASKING)
        words_say("the port is gone: the model file holds what was seen until then");
    return STATUS_ANSWER;
}

static int answer(struct watching *w, const char *path) {
    static struct snapshot s;
    if (!fold_read(&w->fold, &s))
        return print_out_no_memory();
    if (s.reports == 0 || fold_unreadable(&s)) {
        words_say(
            "nothing to make a model file of on '%s': no telemetry line came; try --speed auto, or "
            "see what comes with airleash watch",
            path);
        return STATUS_TROUBLE;
    }
    w->seen.s = &s;
    w->seen.where = strcmp(path, "-") == 0 ? "standard input" : path;
    model_text(&w->seen, print_out, NULL);
    return STATUS_ANSWER;
}

static int run(struct watching *w, const struct options *o) {
    const char *path = o->operands[0];
    struct source_error error;
    struct feed_facts fed;
    char why[WORDS_MAX];
    enum source_kind kind = source_look(path, &error);
    int status;
    if (error.fault != SOURCE_OK) {
        words_source(why, path, &error);
        words_say("%s", why);
        return STATUS_TROUBLE;
    }
    if (kind == SOURCE_FILE || strcmp(path, "-") == 0)
        status = feed_all(path, on_event, w, &fed);
    else
        status = read_live(w, o);
    return status == STATUS_ANSWER ? answer(w, path) : status;
}

int command_model(const struct options *o) {
    struct watching *w = calloc(1, sizeof *w);
    if (!w)
        return print_out_no_memory();
    int status = setup_init(&w->setup, o);
    if (status == STATUS_ANSWER) {
        fold_init(&w->fold, &w->setup);
        status = run(w, o);
        fold_release(&w->fold);
    }
    setup_release(&w->setup);
    free(w);
    return status;
}
