/* The live console: one poll loop.  Data first, then rows to the file, then keys, then deadlines,
 * then at most one repaint: what was measured is safe before anybody looks at it. */
#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "app/clock.h"
#include "app/commands.h"
#include "app/words.h"
#include "base/number.h"
#include "base/printable.h"
#include "base/whole.h"
#include "console/awake.h"
#include "console/caution.h"
#include "console/console.h"
#include "console/decision.h"
#include "console/intake.h"
#include "console/output.h"
#include "console/serve.h"
#include "console/signals.h"
#include "console/trial_live.h"
#include "console/walk_live.h"

struct watch {
    const struct options *options;
    struct setup setup;
    struct fold fold;
    struct decision decision;
    int64_t end_us; /* when the time is up, INT64_MAX never */
    struct intake intake;
    struct output *output;
    int64_t output_from_us; /* host time at which the recording began */
    uint64_t output_rows;
    char output_name[64];       /* of a recording begun by key */
    char last_words[WORDS_MAX]; /* said after the screen is gone */
    char trouble[WORDS_MAX];    /* the first of a file, said then too */
    bool unsafe_told;
    bool simulated;  /* its port is our own simulated receiver's */
    bool port_asked; /* the question that the port's state wants was asked */
    struct console console;
    struct walk_live walk;
    struct trial_live trial;
    struct charts_live charts;
    int signals;
    int ended_by; /* a signal, 0 none */
    bool person;  /* keys and signals are to be looked at, as they last were at: */
    int64_t person_us;
    int64_t paced_us; /* how fast bytes come, and how long to let them gather */
    uint64_t paced_bytes;
    int64_t hold_us;
};

static void keep_event(struct watch *w, const struct event *event) {
    fold_event(&w->fold, event);
    w->console.dirty = true;
    if (w->output == NULL)
        return;
    struct event moved = *event;
    if (moved.host_us != TIME_UNKNOWN)
        moved.host_us -= w->output_from_us;
    output_event(w->output, &moved);
    w->output_rows++;
}

/* Studies that run live see each event after the bench. */
static void take_moment(void *context, const struct moment *m) {
    struct watch *w = context;
    walk_live_moment(&w->walk, m);
    trial_live_moment(&w->trial, m);
    charts_live_moment(&w->charts, m);
    if (w->decision.on)
        decision_moment(&w->decision, m);
}

/* An event, and the mark that whoever walks set with it by the switch. */
static void take_event(void *context, const struct event *event) {
    struct watch *w = context;
    struct event mark;
    keep_event(w, event);
    if (walk_live_mark(&w->walk, &mark)) {
        mark.host_us = event->host_us;
        keep_event(w, &mark);
    }
}

/* --- recording -------------------------------------------------------------------------------- */

static bool begin_recording(struct watch *w, const char *path, char *why) {
    w->output = output_open(path, false, why);
    if (w->output == NULL)
        return false;
    int64_t now = intake_host_us(&w->intake);
    w->output_from_us = now == TIME_UNKNOWN ? 0 : now;
    w->output_rows = 0;
    output_facts(w->output, w->intake.path, w->intake.speed);
    setup_tell(&w->setup, w->output);
    w->console.page.recording_path = output_path(w->output);
    return true;
}

static void trouble_keep(struct watch *w, const char *why) {
    if (w->trouble[0] == '\0')
        snprintf(w->trouble, sizeof w->trouble, "%s", why);
}

static void end_recording(struct watch *w, const char *why_ended) {
    if (w->output == NULL)
        return;
    char path[WORDS_MAX], why[WORDS_MAX];
    int64_t now = intake_host_us(&w->intake);
    struct event end = {.kind = EVENT_END,
                        .host_us = now == TIME_UNKNOWN ? now : now - w->output_from_us};
    end.text = slice_of(why_ended);
    output_event(w->output, &end);
    snprintf(path, sizeof path, "%s", output_path(w->output));
    bool whole = output_close(w->output, NULL, why);
    w->output = NULL;
    w->console.page.recording = false;
    w->console.page.recording_path = NULL;
    if (whole)
        snprintf(w->last_words, sizeof w->last_words, "recorded %llu rows into %.300s",
                 (unsigned long long)w->output_rows, path);
    else {
        snprintf(w->last_words, sizeof w->last_words, "%s", why);
        trouble_keep(w, why);
    }
}

/* Two may begin in one second, and the wall clock may be put back. */
static void name_recording(struct watch *w, const char *wall) {
    enum { MOST = 99 };
    snprintf(w->output_name, sizeof w->output_name, "airleash-%s.csv", wall);
    for (int i = 2; i <= MOST && access(w->output_name, F_OK) == 0; i++)
        snprintf(w->output_name, sizeof w->output_name, "airleash-%s-%d.csv", wall, i);
}

static void toggle_recording(struct watch *w, int64_t now_us) {
    char why[WORDS_MAX];
    if (w->output != NULL) {
        end_recording(w, "by key");
        console_notice(&w->console, now_us, "%s", w->last_words);
        return;
    }
    char wall[CLOCK_TEXT];
    clock_wall(wall);
    for (char *c = wall; *c != '\0'; c++)
        if (*c == ':')
            *c = '-';
    name_recording(w, wall);
    if (begin_recording(w, w->output_name, why)) {
        console_notice(&w->console, now_us, "recording into %s", w->output_name);
        trial_live_recording(&w->trial, &w->console, intake_host_us(&w->intake), now_us);
    } else
        console_notice(&w->console, now_us, "%s", why);
}

static void write_rows(struct watch *w, int64_t now_us) {
    struct page *p = &w->console.page;
    p->recording = w->output != NULL;
    if (w->output == NULL)
        return;
    output_flush(w->output, now_us);
    p->recording_bytes = output_bytes(w->output);
    p->recording_trouble = output_trouble(w->output);
    const char *unsafe = output_unsafe(w->output);
    if (unsafe && !w->unsafe_told)
        console_notice(&w->console, now_us, "%s", unsafe);
    w->unsafe_told = unsafe != NULL;
}

/* --- marks and the port ----------------------------------------------------------------------- */

static void mark(struct watch *w, enum mark_type type, double distance_m, const char *text,
                 int64_t now_us) {
    struct event e = {.kind = EVENT_MARK, .host_us = intake_host_us(&w->intake)};
    e.mark.type = type;
    e.mark.distance_m = distance_m;
    e.mark.text = slice_of(text);
    take_event(w, &e);
    console_notice(&w->console, now_us, "marked%s",
                   w->output != NULL ? "" : ", but nothing is being recorded: r begins");
}

/* Nothing typed: the next stop of the plan, if there is one. */
static void mark_stop(struct watch *w, int64_t now_us) {
    double distance = walk_live_next(&w->walk);
    bool planned = w->console.entry[0] == '\0' && distance >= 0;
    if (!planned &&
        (number_decimal(slice_of(w->console.entry), &distance) != NUMBER_OK || distance < 0)) {
        console_notice(&w->console, now_us,
                       "not marked: a distance is a number of metres, such as 25 or 7.5");
        return;
    }
    mark(w, MARK_STOP, distance, "", now_us);
}

static void mark_next(struct watch *w, int64_t now_us) {
    double distance = walk_live_next(&w->walk);
    if (distance >= 0)
        mark(w, MARK_STOP, distance, "", now_us);
    else
        console_notice(&w->console, now_us,
                       w->walk.planned
                           ? "the plan has no more stops: s marks another"
                           : "there is no plan: s marks a stop, or give --plan 5,10,20");
}

static void ask_stop(struct watch *w) {
    char text[400], planned[64] = "";
    double next = walk_live_next(&w->walk);
    if (next >= 0)
        snprintf(planned, sizeof planned, " Enter alone: %.10g m, as planned.", next);
    snprintf(text, sizeof text,
             "A stop of the walk: how far is it from receiver to transmitter, in metres?%s\n"
             "%s",
             planned, w->walk.walk.count == 0 ? walk_caution : "Mind traffic, water and people.");
    console_ask(&w->console, ASKED_STOP, text);
}

static void ask_taking(struct watch *w) {
    char text[WORDS_MAX];
    intake_ask(&w->intake, text);
    console_ask(&w->console, ASKED_TAKE, text);
}

static void take_port(struct watch *w, int64_t now_us) {
    struct source_error error;
    char why[WORDS_MAX];
    if (intake_take(&w->intake, &error) == SOURCE_OK) {
        console_notice(&w->console, now_us, "the port is open again");
        return;
    }
    words_source(why, w->intake.path, &error);
    console_notice(&w->console, now_us, "%s", why);
}

static void port_key(struct watch *w, int64_t now_us) {
    switch (w->intake.state) {
    case INTAKE_OPEN:
    case INTAKE_SEARCHING:
        console_ask(&w->console, ASKED_RELEASE, words_release);
        break;
    case INTAKE_LET_GO:
    case INTAKE_ASKING:
        ask_taking(w);
        break;
    default:
        console_notice(&w->console, now_us, "there is no port to release now");
    }
}

static void release_port(struct watch *w, int64_t now_us) {
    intake_let_go(&w->intake);
    console_notice(&w->console, now_us,
                   "the port is released for another program; g opens it again");
}

/* A no to what the port wanted; it stays as it is until g. */
static void port_declined(struct watch *w, enum asked what, int64_t now_us) {
    if (what == ASKED_BOARD && w->intake.state == INTAKE_DOUBTED)
        release_port(w, now_us);
    else if (what == ASKED_TAKE)
        console_notice(&w->console, now_us, "not opened; g asks again");
}

/* Questions that the port's state asks by itself, one at a time. */
static void ask_for_port(struct watch *w, int64_t now_us) {
    char text[WORDS_MAX], all[WORDS_MAX + 60];
    enum intake_state state = w->intake.state;
    bool doubted = state == INTAKE_DOUBTED, asking = state == INTAKE_ASKING;
    if (state != INTAKE_OPEN && state != INTAKE_SEARCHING)
        console_drop(&w->console, ASKED_RELEASE);
    if (!doubted)
        console_drop(&w->console, ASKED_BOARD);
    if (!asking && state != INTAKE_LET_GO)
        console_drop(&w->console, ASKED_TAKE);
    if (!doubted && !asking)
        w->port_asked = false;
    if ((!doubted && !asking) || w->port_asked)
        return;
    if (doubted)
        intake_doubt(&w->intake, text);
    else
        intake_ask(&w->intake, text);
    snprintf(all, sizeof all, "%s%s", text,
             doubted ? "\nWith n the port is released; g opens it again." : "");
    w->port_asked = console_interrupt(&w->console, doubted ? ASKED_BOARD : ASKED_TAKE, all, now_us);
}

static void do_action(struct watch *w, enum action action, int64_t now_us) {
    switch (action) {
    case ACTION_STOP:
        ask_stop(w);
        break;
    case ACTION_NEXT_STOP:
        mark_next(w, now_us);
        break;
    case ACTION_WALK:
        w->walk.hidden = w->walk.shown && !w->walk.hidden;
        w->walk.shown = true;
        break;
    case ACTION_FULL_POWER:
        console_full_power(&w->console, now_us);
        break;
    case ACTION_FACING:
        console_ask(&w->console, ASKED_FACING, "Which way does the model face now?");
        break;
    case ACTION_NOTE:
        console_ask(&w->console, ASKED_NOTE, "A note:");
        break;
    case ACTION_LEAVE:
        mark(w, MARK_LEAVE, -1, "", now_us);
        break;
    case ACTION_TWITCH:
        mark(w, MARK_TWITCH, -1, "", now_us);
        break;
    case ACTION_RECORD:
        toggle_recording(w, now_us);
        break;
    case ACTION_PORT:
        port_key(w, now_us);
        break;
    default:
        break;
    }
}

static void do_answer(struct watch *w, enum asked answered, int64_t now_us) {
    switch (answered) {
    case ASKED_STOP:
        mark_stop(w, now_us);
        break;
    case ASKED_FACING:
        mark(w, MARK_FACING, -1, w->console.entry, now_us);
        break;
    case ASKED_NOTE:
        mark(w, MARK_TEXT, -1, w->console.entry, now_us);
        break;
    case ASKED_TAKE:
        take_port(w, now_us);
        break;
    case ASKED_RELEASE:
        release_port(w, now_us);
        break;
    case ASKED_BOARD:
        intake_accept(&w->intake);
        break;
    default:
        port_declined(w, w->console.declined, now_us);
    }
}

/* --- the loop --------------------------------------------------------------------------------- */

static void show_intake(struct watch *w, enum intake_state before, int64_t now_us) {
    enum intake_state state = w->intake.state;
    struct page *p = &w->console.page;
    p->port = intake_reads(&w->intake)                             ? LINK_OPEN
              : state == INTAKE_LET_GO                             ? LINK_LET_GO
              : state == INTAKE_ASKING                             ? LINK_BACK
              : state == INTAKE_ENDED || state == INTAKE_NOT_LINES ? LINK_ENDED
                                                                   : LINK_WAITING;
    p->read_failed = state == INTAKE_ENDED && w->intake.broken;
    char why[WORDS_MAX];
    if (intake_refused(&w->intake, why))
        console_notice(&w->console, now_us, "%s", why);
    ask_for_port(w, now_us);
    if (state == before)
        return;
    w->console.dirty = true;
    if (state == INTAKE_WAITING)
        console_notice(&w->console, now_us, "the port is gone: waiting for it to come back");
    else if (state == INTAKE_NO_SPEED)
        console_notice(&w->console, now_us,
                       "no usual speed gave a line: check the wiring, or give --speed");
    else if (state == INTAKE_NOT_LINES)
        console_notice(&w->console, now_us,
                       "this is a recording, not lines: q quits; then airleash replay shows it");
    else if (state == INTAKE_ENDED && w->intake.broken) {
        intake_words(&w->intake, why);
        trouble_keep(w, why);
        console_notice(&w->console, now_us, "%s", why);
    } else if (state == INTAKE_ENDED)
        console_notice(&w->console, now_us, "that was the end of the input; q quits");
}

enum { PERSON_US = 100000 }; /* a window's new size waits no longer than this */

/* In a flood each wait would end with the next few bytes; the lines are taken by the kilobyte then,
 * which a picture can't show and a receive buffer easily holds. */
static int64_t pace_reading(struct watch *w, int64_t now_us, int64_t due, struct pollfd *port) {
    enum {
        SPAN_US = 20000,
        FLOOD_HZ = 100000,
        NO_PORT_HZ = 1500000,
        HELD_BYTES = 1200,
        HELD_US = 4000
    };
    int64_t span = now_us - w->paced_us;
    if (span >= SPAN_US) {
        double rate = (double)(w->intake.bytes - w->paced_bytes) * 1e6 / (double)span;
        w->hold_us = rate >= FLOOD_HZ ? whole_i64(HELD_BYTES * 1e6 / rate) : 0;
        w->console.frame_us = rate >= FLOOD_HZ ? CONSOLE_FLOOD_US : CONSOLE_FRAME_US;
        if (rate >= NO_PORT_HZ) /* a pipe or a pseudo-terminal, whose writer waits */
            w->hold_us = HELD_US;
        w->paced_us = now_us;
        w->paced_bytes = w->intake.bytes;
    }
    if (w->hold_us < 1000 || w->intake.state != INTAKE_OPEN)
        return due;
    int64_t until = now_us + (w->hold_us < HELD_US ? w->hold_us : HELD_US);
    port->fd = -1;
    return until < due ? until : due;
}

static void wait_for_something(struct watch *w, int64_t now_us) {
    int64_t due = console_deadline_us(&w->console, now_us);
    int64_t intake_due = intake_deadline_us(&w->intake);
    /* In any other state nobody reads what is there, and poll() would come back at once. */
    bool reading = intake_reads(&w->intake);
    struct pollfd fds[] = {
        {.fd = w->signals, .events = POLLIN},
        {.fd = screen_fd(w->console.screen), .events = POLLIN},
        {.fd = reading ? intake_fd(&w->intake) : -1, .events = POLLIN},
    };
    if (intake_due < due)
        due = intake_due;
    int64_t trial_due = trial_live_deadline_us(&w->trial, now_us);
    if (trial_due < due)
        due = trial_due;
    if (w->end_us < due)
        due = w->end_us;
    due = pace_reading(w, now_us, due, &fds[2]);
    int ready = clock_poll(fds, 3, now_us, due);
    /* A new size of the window comes as a signal, which may fall between two waits. */
    w->person = ready < 0 || fds[0].revents != 0 || fds[1].revents != 0 ||
                now_us - w->person_us >= PERSON_US;
    if ((fds[1].revents & (POLLHUP | POLLERR | POLLNVAL)) != 0)
        w->console.quit = true; /* the terminal is gone, though it says that it can be read */
}

static void show_walk(struct watch *w) {
    struct console *c = &w->console;
    int bells = 0;
    c->page.walk = walk_live_view(&w->walk, c->now.now_ms, c->now.rate_hz, c->page.paused, &bells);
    if (bells > 0)
        console_bells(c, bells);
}

/* Before another program is started, which would hold it up. */
static void first_picture(struct watch *w) {
    int64_t now = clock_us();
    console_read(&w->console, &w->fold, now);
    show_walk(w);
    console_paint(&w->console, now);
}

static void loop(struct watch *w) {
    while (!w->console.quit && w->ended_by == 0) {
        wait_for_something(w, clock_us());
        int64_t now = clock_us();
        enum intake_state before = w->intake.state;
        intake_wake(&w->intake);
        show_intake(w, before, now);
        write_rows(w, now);
        const char *expected = decision_expects(&w->decision);
        if (expected)
            console_notice(&w->console, now, "%s", expected);
        enum action action;
        enum asked answered;
        while (w->person && console_key(&w->console, now, &action, &answered)) {
            if (!trial_live_action(&w->trial, &w->console, &action, intake_host_us(&w->intake),
                                   now))
                do_action(w, action, now);
            do_answer(w, answered, now);
        }
        fold_advance(&w->fold, intake_host_us(&w->intake));
        trial_live_wake(&w->trial, &w->console, intake_host_us(&w->intake));
        if (console_wants(&w->console, now))
            console_read(&w->console, &w->fold, now);
        show_walk(w);
        console_paint(&w->console, now);
        if (w->person) {
            w->ended_by = signals_take(w->signals);
            w->person_us = now;
        }
        if (w->decision.decided || clock_us() >= w->end_us)
            w->console.quit = true;
    }
}

/* --- the commands ----------------------------------------------------------------------------- */

/* Creates the recording only where there is something to record. */
static int open_source(struct watch *w, const char *path) {
    struct source_error error;
    char why[WORDS_MAX];
    struct model model;
    setup_model(&w->setup, &model);
    source_look(path, &error);
    if (error.fault == SOURCE_OK) {
        struct intake_wish wish = {path, w->options->speed, w->options->yes || w->simulated,
                                   model.opening_harmless, false};
        intake_init(&w->intake, &wish, take_event, w);
        if (w->options->out != NULL && !begin_recording(w, w->options->out, why)) {
            words_say("%s", why);
            return STATUS_TROUBLE;
        }
        if (intake_open(&w->intake, &error) == SOURCE_OK)
            return STATUS_ANSWER;
    }
    words_source(why, path, &error);
    words_say("%s", why);
    return STATUS_TROUBLE;
}

static int run_console(struct watch *w, const char *path) {
    int status = open_source(w, path);
    if (status == STATUS_ANSWER) {
        status = console_open(&w->console, w->options, IN_LIVE, path);
        if (status == STATUS_ANSWER) {
            w->console.patterns_only = w->walk.by_switch;
            w->console.charts = &w->charts;
            w->console.page.recording_path = w->output ? output_path(w->output) : NULL;
            struct awake awake;
            first_picture(w);
            awake_begin(&awake);
            double for_s = decision_for_s(&w->decision, w->options);
            w->end_us = for_s > 0 ? clock_us() + whole_i64(for_s * 1e6) : INT64_MAX;
            loop(w);
            awake_end(&awake);
        }
        console_close(&w->console);
        telemetry_end(&w->intake.telemetry, intake_host_us(&w->intake)); /* the open line's row */
        intake_close(&w->intake);
    }
    end_recording(w, w->ended_by != 0 ? signals_name(w->ended_by) : "quit");
    char last[WORDS_MAX];
    if (w->last_words[0] != '\0' && strcmp(w->last_words, w->trouble) != 0)
        puts(printable(last, sizeof last, w->last_words));
    if (w->trouble[0] != '\0') {
        words_say("%s", w->trouble);
        status = status == STATUS_ANSWER ? STATUS_TROUBLE : status;
    }
    decision_end(&w->decision);
    console_last_words(&w->console);
    return status;
}

static int watch_path(const struct options *o, const char *path, bool simulated) {
    struct watch *w = calloc(1, sizeof *w);
    if (w == NULL) {
        words_say("not enough memory");
        return STATUS_TROUBLE;
    }
    w->options = o;
    w->simulated = simulated;
    int status = setup_init(&w->setup, o);
    if (status == STATUS_ANSWER && !simulated)
        status = caution_ask(path, o, &w->setup);
    fold_init(&w->fold, &w->setup);
    walk_live_init(&w->walk, o);
    charts_live_begin(&w->charts, &w->walk.walk);
    if (status == STATUS_ANSWER)
        status = decision_begin(&w->decision, o, &w->setup);
    fold_watch(&w->fold, take_moment, w);
    trial_live_init(&w->trial, &w->fold, take_event, w);
    if (status == STATUS_ANSWER && o->other != NULL)
        status = trials_other(&w->trial.trials, o->other);
    w->signals = signals_open();
    if (status == STATUS_ANSWER)
        status = run_console(w, path);
    if (w->signals >= 0)
        close(w->signals);
    trial_live_release(&w->trial);
    decision_release(&w->decision);
    fold_release(&w->fold);
    setup_release(&w->setup);
    free(w);
    return status;
}

int command_watch(const struct options *o) {
    int status = decision_check(o);
    if (status != STATUS_ANSWER)
        return status;
    if (o->operand_count > 0)
        return watch_path(o, o->operands[0], false);
    struct source_port ports[1];
    int count = source_list(ports, 1);
    if (count == 1) {
        fprintf(stderr, "watching %s, the only port there is\n", ports[0].path);
        return watch_path(o, ports[0].path, false);
    }
    words_say(count > 1 ? "there are several ports: airleash ports lists them; name one"
                        : "there is no serial port: plug in the receiver, or try airleash demo");
    return STATUS_USAGE;
}

int command_demo(const struct options *o) {
    char path[SERVE_NAME];
    struct serve serve = {.scene = o->scene, .seed = o->seed};
    pid_t child = serve_fork(&serve, path);
    if (child < 0) {
        words_say("can't start the simulated receiver: %s", strerror(errno));
        return STATUS_TROUBLE;
    }
    int status = watch_path(o, path, true);
    kill(child, SIGTERM);
    waitpid(child, NULL, 0);
    return status;
}
