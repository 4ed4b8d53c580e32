#include <errno.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

#include "app/clock.h"
#include "app/commands.h"
#include "app/fold.h"
#include "app/print_out.h"
#include "app/words.h"
#include "base/printable.h"
#include "base/whole.h"
#include "console/awake.h"
#include "console/caution.h"
#include "console/decision.h"
#include "console/intake.h"
#include "console/output.h"
#include "console/signals.h"
#include "text/figures_text.h"

enum { PROGRESS_US = 200000 };

struct record {
    const struct options *options;
    struct setup setup;
    struct fold fold;
    struct decision decision;
    struct intake intake;
    struct output *output;
    int signals;
    int64_t begin_us, progress_us;
    bool progress;          /* standard error is a terminal */
    bool person;            /* standard input is one: somebody can be asked */
    uint64_t unasked;       /* id lines taken without asking that were told */
    bool unanswered;        /* a question that nobody was there for */
    enum intake_state told; /* what the person was told last of the port */
    bool trouble_told;      /* and of the file */
    bool unsafe_told;
    const char *end; /* why it ended, NULL while it runs */
    int status;
};

static void on_event(void *context, const struct event *event) {
    struct record *r = context;
    output_event(r->output, event);
    fold_event(&r->fold, event);
}

/* A recording can't be made of itself. */
static bool same_file(const char *in, const char *out) {
    struct stat a, b;
    bool known = strcmp(in, "-") == 0 ? fstat(STDIN_FILENO, &a) == 0 : stat(in, &a) == 0;
    return known && stat(out, &b) == 0 && a.st_dev == b.st_dev && a.st_ino == b.st_ino &&
           S_ISREG(a.st_mode);
}

static int usage(const char *text) {
    words_say("%s", text);
    fputs("See: airleash record --help\n", stderr);
    return STATUS_USAGE;
}

static int check(const struct options *o, struct source_error *error) {
    char why[WORDS_MAX];
    if (!o->out)
        return usage("record needs --out FILE.csv: where to write to");
    if (strcmp(o->out, "-") == 0)
        return usage("--out needs the name of a file, '-' is none");
    int status = decision_check(o);
    if (status != STATUS_ANSWER)
        return status;
    source_look(o->operands[0], error);
    if (error->fault != SOURCE_OK) {
        words_source(why, o->operands[0], error);
        words_say("%s", why);
        return STATUS_TROUBLE;
    }
    if (same_file(o->operands[0], o->out))
        return usage("--out names the very file that is read: choose another name");
    return STATUS_ANSWER;
}

static bool is_file(const char *path) {
    struct stat st;
    return stat(path, &st) == 0 && S_ISREG(st.st_mode);
}

static int open_output(struct record *r) {
    const struct options *o = r->options;
    char why[WORDS_MAX];
    r->output = output_open(o->out, o->force, why);
    if (!r->output) {
        words_say("%s%s", why,
                  !o->force && is_file(o->out) ? ", or overwrite it with --force" : "");
        return STATUS_TROUBLE;
    }
    bool port = r->intake.kind == SOURCE_SERIAL || r->intake.kind == SOURCE_TTY;
    output_facts(r->output, o->operands[0], port ? o->speed : 0);
    setup_tell(&r->setup, r->output);
    return STATUS_ANSWER;
}

/* Nothing was recorded: an empty file of ours would only be in the way. */
static void drop_output(struct record *r) {
    char why[WORDS_MAX];
    output_close(r->output, NULL, why);
    r->output = NULL;
    if (!r->options->force)
        unlink(r->options->out);
}

static int open_intake(struct record *r) {
    struct source_error error;
    char why[WORDS_MAX];
    if (intake_open(&r->intake, &error) == SOURCE_OK)
        return STATUS_ANSWER;
    words_source(why, r->options->operands[0], &error);
    words_say("%s", why);
    drop_output(r);
    return STATUS_TROUBLE;
}

static void clear_line(const struct record *r) {
    if (r->progress)
        fputs("\r\033[K", stderr);
}

static bool is_asking(const struct record *r) {
    return r->intake.state == INTAKE_ASKING || r->intake.state == INTAKE_DOUBTED;
}

/* The port waits for a person's yes.  Without one here the recording ends: nobody else would open
 * the port, or say whether these are the right lines. */
static void ask_person(struct record *r) {
    char text[WORDS_MAX];
    bool back = r->intake.state == INTAKE_ASKING;
    if (back)
        intake_ask(&r->intake, text);
    else
        intake_doubt(&r->intake, text);
    words_lines(text);
    if (r->person) {
        tcflush(STDIN_FILENO, TCIFLUSH); /* what was typed before the question is no answer */
        fputs(back ? "Open it? Type yes: " : "Type yes or no: ", stderr);
        return;
    }
    r->unanswered = true;
    r->end = back ? "nobody could be asked about the port that is back"
                  : "nobody could be asked about the board";
    words_say("nobody can be asked here: the recording ends, and is kept as far as it goes. Record "
              "again from a terminal, or with --yes where that is safe");
}

static void tell_port(struct record *r, enum intake_state state) {
    static const char *const words[] = {
        [INTAKE_SEARCHING] = "looking for the speed ...",
        [INTAKE_WAITING] = "the port is gone: plug it in again; recording goes on (Ctrl-C ends it)",
    };
    char why[WORDS_MAX];
    if (intake_refused(&r->intake, why)) {
        clear_line(r);
        words_say("%s", why);
    }
    if (r->intake.unasked != r->unasked) {
        r->unasked = r->intake.unasked;
        clear_line(r);
        words_say("an id line of another board, or another firmware, was taken because of --yes");
    }
    if (state == r->told)
        return;
    clear_line(r);
    if (is_asking(r))
        ask_person(r);
    else if (state == INTAKE_OPEN && r->told == INTAKE_SEARCHING)
        words_say("speed found: %d", r->intake.speed);
    else if (state == INTAKE_OPEN && r->told != INTAKE_OPEN && r->told != INTAKE_DOUBTED)
        words_say("the port is open again");
    else if (state < sizeof words / sizeof words[0] && words[state])
        words_say("%s", words[state]);
    r->told = state;
}

static void tell_output(struct record *r) {
    const char *trouble = output_trouble(r->output), *unsafe = output_unsafe(r->output);
    if (unsafe && !r->unsafe_told) {
        r->unsafe_told = true;
        clear_line(r);
        words_say("%s", unsafe);
    }
    if ((trouble != NULL) == r->trouble_told)
        return;
    r->trouble_told = trouble != NULL;
    clear_line(r);
    if (trouble)
        words_say("%s; up to 1 MB of rows is held meanwhile", trouble);
    else
        words_say("writing goes on");
}

/* One line, written over itself. */
static void tell_progress(struct record *r, int64_t now_us) {
    struct snapshot s;
    if (!r->progress || is_asking(r) || now_us - r->progress_us < PROGRESS_US)
        return;
    r->progress_us = now_us;
    fold_advance(&r->fold, intake_host_us(&r->intake));
    if (!fold_read(&r->fold, &s))
        return;
    char size[32], loss[32] = "loss unknown";
    words_size(size, sizeof size, output_bytes(r->output));
    uint64_t packets = s.total.got + s.total.lost;
    if (s.total.known && packets > 0)
        snprintf(loss, sizeof loss, "loss %.2f %%", 100 * (double)s.total.lost / (double)packets);
    int64_t seconds = (now_us - r->begin_us) / 1000000;
    fprintf(stderr, "\r\033[K%lld:%02lld  %s  %llu reports  %s  %s", (long long)(seconds / 60),
            (long long)(seconds % 60), link_state_name(s.state), (unsigned long long)s.reports,
            loss, size);
}

static void tell_expected(struct record *r) {
    const char *words = decision_expects(&r->decision);
    if (!words)
        return;
    clear_line(r);
    words_say("%s", words);
}

static void wake_intake(struct record *r) {
    enum intake_state state = intake_wake(&r->intake);
    tell_port(r, state);
    if (state == INTAKE_ENDED)
        r->end = r->intake.broken ? "reading failed" : "end of input";
    else if (state == INTAKE_NO_SPEED)
        r->end = "no usual speed gave a line";
    else if (state == INTAKE_NOT_LINES)
        r->end = "not a stream of lines";
}

/* The person answers whether the port may be reopened. */
static void answer_opening(struct record *r, bool yes) {
    struct source_error error;
    char why[WORDS_MAX];
    if (!yes) {
        words_say("not opened: yes opens it, Ctrl-C ends the recording");
        return;
    }
    if (intake_take(&r->intake, &error) != SOURCE_OK) {
        words_source(why, r->intake.stable, &error);
        words_say("%s", why);
    }
    tell_port(r, r->intake.state);
}

/* The person answers whether this is the right board. */
static void answer_board(struct record *r, bool yes) {
    if (yes) {
        intake_accept(&r->intake);
        words_say("taken: the recording goes on");
        tell_port(r, r->intake.state);
        return;
    }
    intake_let_go(&r->intake);
    r->end = "not the right board";
}

static void wake_keyboard(struct record *r) {
    char typed[64];
    ssize_t got = read(STDIN_FILENO, typed, sizeof typed - 1);
    if (got == 0 || (got < 0 && errno != EINTR && errno != EAGAIN))
        r->end = "end of the keyboard";
    if (got <= 0)
        return;
    typed[got] = '\0';
    if (r->intake.state == INTAKE_ASKING)
        answer_opening(r, words_is_yes(typed));
    else if (r->intake.state == INTAKE_DOUBTED)
        answer_board(r, words_is_yes(typed));
}

static int64_t end_us(const struct record *r) {
    double for_s = decision_for_s(&r->decision, r->options);
    return for_s > 0 ? r->begin_us + whole_i64(for_s * 1e6) : INT64_MAX;
}

static int64_t next_deadline_us(const struct record *r) {
    int64_t due_us = intake_deadline_us(&r->intake), stop_us = end_us(r);
    int64_t progress_us = r->progress ? r->progress_us + PROGRESS_US : INT64_MAX;
    /* Held rows are tried again each second, and a quiet port must still be synced. */
    int64_t flush_us = clock_us() + 1000000;
    due_us = stop_us < due_us ? stop_us : due_us;
    due_us = progress_us < due_us ? progress_us : due_us;
    return flush_us < due_us ? flush_us : due_us;
}

static void loop(struct record *r) {
    while (!r->end) {
        struct pollfd wait[] = {
            {.fd = intake_fd(&r->intake), .events = POLLIN},
            {.fd = r->signals, .events = POLLIN},
            {.fd = is_asking(r) ? STDIN_FILENO : -1, .events = POLLIN},
        };
        poll(wait, 3, clock_wait_ms(clock_us(), next_deadline_us(r)));
        /* Bytes first: their time is that of the read. */
        wake_intake(r);
        /* Then rows: whatever comes next, what was read is in the file. */
        output_flush(r->output, clock_us());
        tell_output(r);
        tell_expected(r);
        int signal = signals_take(r->signals);
        if (signal != 0)
            r->end = signals_name(signal);
        if (wait[2].revents != 0)
            wake_keyboard(r);
        if (clock_us() >= end_us(r))
            r->end = "time is up";
        if (r->decision.decided && !r->end)
            r->end = "decided";
        tell_progress(r, clock_us());
    }
}

/* What came, in short; an enum status. */
static int summary(struct record *r, uint64_t bytes) {
    struct snapshot s;
    char size[32];
    struct figures_facts facts = {.file = r->options->out, .rate_from = setup_rate_from(&r->setup)};
    if (!fold_read(&r->fold, &s)) {
        words_say("no memory left for figures");
        return STATUS_TROUBLE;
    }
    words_size(size, sizeof size, bytes);
    char out[WORDS_MAX];
    printf("Recorded %s into %s (%s).\n", size, printable(out, sizeof out, r->options->out),
           r->end);
    struct measures m;
    fold_measure(&r->fold, &m);
    figures_text(&s, &m, &facts, FIGURES_BRIEF, print_out, NULL);
    fflush(stdout);
    if (s.step_known && s.step < s.full_step)
        words_say("the transmitter was last seen below full power (step %u of %u): put it back to "
                  "full power before the model is used",
                  s.step, s.full_step);
    if (r->intake.bytes == 0 && r->intake.broken)
        return STATUS_TROUBLE; /* which is said */
    if (r->intake.bytes == 0)
        words_say("not one byte came: is it the right port, does the receiver run, and does it "
                  "print?");
    else if (s.lines_good == 0 || fold_unreadable(&s))
        words_say(
            "next to nothing of what came is telemetry: try another --speed, or --speed auto");
    else
        return STATUS_ANSWER;
    return STATUS_TROUBLE;
}

/* Ends the recording in good order. */
static int finish(struct record *r) {
    char why[WORDS_MAX];
    int status = STATUS_ANSWER;
    enum intake_state state = r->intake.state;
    clear_line(r);
    if (state == INTAKE_NOT_LINES) {
        words_say("'%s' is a recording already: see airleash figures, or airleash replay",
                  r->options->operands[0]);
        drop_output(r);
        return STATUS_TROUBLE;
    }
    if (state == INTAKE_NO_SPEED) {
        words_say("no usual speed gave a telemetry line: is it the right port, and does the "
                  "receiver run? To keep whatever comes, name its --speed");
        drop_output(r);
        return STATUS_TROUBLE;
    }
    intake_end(&r->intake, r->end);
    uint64_t bytes;
    bool whole = output_close(r->output, &bytes, why);
    r->output = NULL;
    status = summary(r, bytes);
    decision_end(&r->decision);
    if (!whole)
        words_say("%s", why);
    if (r->intake.broken) {
        intake_words(&r->intake, why);
        words_say("%s", why);
    }
    return whole && !r->intake.broken && !r->unanswered ? status : STATUS_TROUBLE;
}

static int run(struct record *r) {
    const struct options *o = r->options;
    int status = caution_ask(r->options->operands[0], r->options, &r->setup);
    if (status != STATUS_ANSWER)
        return status;
    struct model model;
    setup_model(&r->setup, &model);
    struct intake_wish wish = {o->operands[0], o->speed, o->yes, model.opening_harmless, o->yes};
    intake_init(&r->intake, &wish, on_event, r);
    /* From here on a signal ends the recording, not the program. */
    r->signals = signals_open();
    if ((status = open_output(r)) != STATUS_ANSWER)
        return status;
    if ((status = open_intake(r)) != STATUS_ANSWER)
        return status;
    r->begin_us = r->progress_us = clock_us();
    r->progress = isatty(STDERR_FILENO);
    r->person = isatty(STDIN_FILENO);
    r->told = INTAKE_OPEN;
    tell_port(r, r->intake.state);
    output_flush(r->output, r->begin_us); /* the facts: the first line may be long in coming */
    struct awake awake = {.pipe = -1};
    if (r->intake.kind != SOURCE_FILE)
        awake_begin(&awake);
    loop(r);
    awake_end(&awake);
    status = finish(r);
    intake_close(&r->intake);
    close(r->signals);
    return status;
}

int command_record(const struct options *o) {
    struct source_error error;
    int status = check(o, &error);
    if (status != STATUS_ANSWER)
        return status;
    struct record *r = calloc(1, sizeof *r);
    if (!r)
        return print_out_no_memory();
    r->options = o;
    status = setup_init(&r->setup, o);
    if (status == STATUS_ANSWER) {
        fold_init(&r->fold, &r->setup);
        status = decision_begin(&r->decision, o, &r->setup);
        if (status == STATUS_ANSWER && r->decision.on)
            fold_watch(&r->fold, decision_moment, &r->decision);
        if (status == STATUS_ANSWER)
            status = run(r);
        decision_release(&r->decision);
        fold_release(&r->fold);
    }
    setup_release(&r->setup);
    free(r);
    return status;
}
