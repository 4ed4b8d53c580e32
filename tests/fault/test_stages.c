/* What fails while somebody looks: the terminal, the port at each stage, the disk, the clocks.  The
 * real console in a terminal emulator, as in tests/pty/; calls fail by tests/tools/fault_shim.c
 * while the file `gate` is in the folder. */
#include <fcntl.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#include "world.h"

/* --- means ------------------------------------------------------------------------------------ */

/* An environment in which these calls fail while the gate is open. */
struct faults {
    char preload[300], faults[300], gate[128];
    const char *env[5];
};

static struct start faulty(struct world *w, struct faults *f, const char *what) {
    snprintf(f->preload, sizeof f->preload, "LD_PRELOAD=%s", getenv("FAULT_SHIM"));
    snprintf(f->faults, sizeof f->faults, "FAULTS=%s", what);
    snprintf(f->gate, sizeof f->gate, "FAULT_GATE=%s/gate", w->folder);
    f->env[0] = f->preload;
    f->env[1] = f->faults;
    f->env[2] = f->gate;
    f->env[3] = NULL;
    return (struct start){.rows = 40, .env = f->env};
}

static void gate(struct world *w, bool open) {
    char path[128];
    snprintf(path, sizeof path, "%s/gate", w->folder);
    if (!open) {
        unlink(path);
        return;
    }
    int fd = creat(path, 0600);
    world_check(w, fd >= 0, "the gate opens");
    close(fd);
}

static unsigned count(const char *text, const char *what) {
    unsigned found = 0;
    for (const char *at = text; (at = strstr(at, what)); at += strlen(what))
        found++;
    return found;
}

static void quit(struct world *w, int status) {
    term_send(w->term, "q");
    int ended = term_wait_end(w->term);
    if (ended != status) {
        fprintf(stderr, "exit status %d, not %d\n", ended, status);
        world_fail(w, "ended otherwise", "");
    }
}

static void good(struct world *w, unsigned lines, const char *missing) {
    char text[32];
    snprintf(text, sizeof text, "%u good", lines);
    world_shows_row(w, WORDS("lines", text, missing));
}

/* --- the terminal ----------------------------------------------------------------------------- */

/* A terminal that isn't the program's controlling one goes without a SIGHUP: it then says for ever
 * that it can be read. */
static void ends_when_the_terminal_goes_without_a_signal(void **state) {
    static const char *const modes[] = {"watch", "replay"};
    struct world *w = *state;
    for (size_t i = 0; i < 2; i++) {
        char script[512];
        if (i == 0)
            world_plug(w);
        snprintf(script, sizeof script, "'%s' %s %s --mute%s; echo $? >ended-%s", w->program,
                 modes[i], i == 0 ? w->port_name : "gone.csv", i == 0 ? " --out gone.csv" : "",
                 modes[i]);
        char setsid[] = "/usr/bin/setsid", wait[] = "--wait", shell[] = "/bin/sh", option[] = "-c";
        char *argv[] = {setsid, wait, shell, option, script, NULL};
        struct term_setup setup = {.rows = 24, .columns = 80, .folder = w->folder};
        term_free(w->term);
        w->term = term_start(&setup, argv);
        if (i == 0) {
            world_shows(w, "no line on the cable");
            world_reports(w, 10, 5, 0, "fs=0");
        }
        good(w, 10, "");
        term_hang_up(w->term);
        char name[32];
        snprintf(name, sizeof name, "ended-%s", modes[i]);
        free(world_file_holds_unseen(w, name, "\n"));
    }
    char *text = world_file(w, "gone.csv");
    assert_int_equal(count(text, "\nrx,"), 10);
    assert_int_equal(count(text, "\nend,"), 1);
    free(text);
}

/* Ctrl-Z and fg: what came meanwhile waits in the port, and is neither lost nor a fault. */
static void goes_on_after_a_stop(void **state) {
    struct world *w = *state;
    char script[512];
    world_plug(w);
    snprintf(script, sizeof script,
             "set -m; '%s' watch %s --mute --out stop.csv; echo stopped; read x; fg; echo over",
             w->program, w->port_name);
    char shell[] = "/bin/sh", option[] = "-c";
    char *argv[] = {shell, option, script, NULL};
    struct term_setup setup = {.rows = 40, .columns = 80, .folder = w->folder};
    w->term = term_start(&setup, argv);
    world_shows(w, "no line on the cable");
    world_reports(w, 5, 5, 0, "fs=0");
    good(w, 5, "");
    term_send(w->term, "\032");
    world_shows(w, "stopped");
    world_reports(w, 10, 5, 0, "fs=0"); /* less than a pseudo-terminal holds */
    term_send(w->term, "\r");
    good(w, 15, "0 missing");
    world_reports(w, 5, 5, 0, "fs=0");
    good(w, 20, "0 missing");
    term_send(w->term, "q");
    world_shows(w, "over");
    char *text = world_file_holds(w, "stop.csv", "\nend,");
    assert_int_equal(count(text, "\nrx,"), 20);
    assert_int_equal(count(text, "\ndamage,"), 0);
    free(text);
}

/* --- the port --------------------------------------------------------------------------------- */

static void replug(struct world *w) {
    world_unplug(w);
    world_shows(w, "PORT GONE");
    world_plug(w);
    world_link(w, "tug");
    world_hides(w, "PORT GONE");
}

/* With --yes: nothing tells one pseudo-terminal from another, and each would be asked about. */
static void watch_link(struct world *w, const char *out) {
    world_plug(w);
    world_run(w, (struct start){.rows = 40},
              WORDS("watch", world_link(w, "tug"), "--mute", "--yes", "--out", out));
    world_shows(w, "no line on the cable");
}

static void takes_a_port_that_goes_before_its_first_line(void **state) {
    struct world *w = *state;
    watch_link(w, "first.csv");
    replug(w);
    replug(w);
    world_identity(w);
    world_reports(w, 5, 5, 0, "fs=0");
    good(w, 6, "0 missing");
    world_shows_row(w, WORDS("restarts", "receiver 0"));
    quit(w, 0);
    char *text = world_file(w, "first.csv");
    assert_int_equal(count(text, ",lost\r"), 2);
    assert_int_equal(count(text, ",back:"), 2);
    assert_int_equal(count(text, "\nrx,"), 5);
    free(text);
}

/* The two halves never make one line, even where they would fit. */
static void cuts_the_line_where_the_port_went(void **state) {
    /* One write: the half is read with the line before it, and not lost in the port. */
    static const char half[] = "say casting off\nrx n=4004 t=200200 ch=1500,15",
                      rest[] = "00,1000,1800 got=1020\n";
    struct world *w = *state;
    watch_link(w, "half.csv");
    world_reports(w, 3, 5, 0, "fs=0");
    good(w, 3, "");
    world_wire(w, half, sizeof half - 1);
    world_shows(w, "casting off");
    replug(w);
    world_wire(w, rest, sizeof rest - 1);
    w->n++;
    w->t_ms += 50;
    world_reports(w, 3, 5, 0, "fs=0");
    good(w, 7, "");
    quit(w, 0);
    char *text = world_file(w, "half.csv");
    const char *damage = strstr(text, "\ndamage,"), *lost = strstr(text, ",lost\r");
    if (damage == NULL || lost == NULL || damage > lost || !strstr(damage, "ch=1500,15") ||
        strstr(text, "1500,1500,1000") != NULL)
        fail_msg("the line isn't cut:\n%s", damage != NULL ? damage : text);
    assert_int_equal(count(text, "\ndamage,"), 2);
    assert_int_equal(count(text, "\nrx,"), 6);
    free(text);
}

/* What was lost in the hole isn't known: the stop's counts come from the receiver's own counters,
 * which run on, and the packets of the time without lines are in them. */
static void counts_a_stop_across_a_hole(void **state) {
    struct world *w = *state;
    int status;
    watch_link(w, "walk.csv");
    world_identity(w);
    world_reports(w, 20, 5, 0, "fs=0");
    good(w, 21, "");
    term_send(w->term, "s10\r");
    world_shows(w, "marked");
    world_reports(w, 20, 5, 0, "fs=0");
    good(w, 41, "");
    replug(w);
    world_reports(w, 20, 5, 0, "fs=0");
    good(w, 61, "");
    term_send(w->term, "l");
    world_shows(w, "left the stop");
    world_reports(w, 5, 5, 0, "fs=0");
    good(w, 66, "");
    quit(w, 0);
    char *out = world_output(w, WORDS("walk", "walk.csv"), &status);
    assert_int_equal(status, 0);
    if (strstr(out, "held") == NULL || strstr(out, " 200 ") == NULL)
        fail_msg("not 40 reports of 5 packets:\n%s", out);
    free(out);
}

static void holds_a_port_that_went_while_let_go(void **state) {
    struct world *w = *state;
    watch_link(w, "let.csv");
    world_reports(w, 3, 5, 0, "fs=0");
    good(w, 3, "");
    term_send(w->term, "gy");
    world_shows(w, "PORT LET GO");
    world_unplug(w);
    char path[128];
    snprintf(path, sizeof path, "%s/tug", w->folder);
    unlink(path);
    term_send(w->term, "gy");
    world_shows(w, "is it plugged in?");
    world_shows(w, "PORT LET GO");
    world_plug(w);
    world_link(w, "tug");
    term_send(w->term, "gy");
    world_hides(w, "PORT LET GO");
    world_reports(w, 3, 5, 0, "fs=0");
    good(w, 6, "0 missing");
    quit(w, 0);
}

/* The second one is told who has it, and the first one loses nothing; the same for a program of
 * somebody else's that has taken the port, while ours waits to take it again. */
static void shares_a_port_with_nobody(void **state) {
    struct world *w = *state;
    char holder[64], line[600];
    FILE *said;
    watch_link(w, "mine.csv");
    world_reports(w, 3, 5, 0, "fs=0");
    good(w, 3, "");
    snprintf(holder, sizeof holder, "(pid %d)", (int)term_pid(w->term));
    static const char *const commands[] = {"record %s --out other.csv", "model %s", "watch %s"};
    for (size_t i = 0; i < sizeof commands / sizeof commands[0]; i++) {
        char command[256], all[700];
        snprintf(command, sizeof command, commands[i], w->port_name);
        snprintf(all, sizeof all, "cd %s; '%s' %s 2>&1 </dev/null; echo status $?", w->folder,
                 w->program, command);
        said = popen(all, "r");
        size_t len = fread(line, 1, sizeof line - 1, said);
        line[len] = '\0';
        pclose(said);
        if (!strstr(line, "is in use by ") || !strstr(line, holder) || !strstr(line, "status 3"))
            fail_msg("%s: %s", command, line);
    }
    assert_null(world_file(w, "other.csv"));
    world_reports(w, 3, 5, 0, "fs=0");
    good(w, 6, "0 missing");
    term_send(w->term, "gy");
    world_shows(w, "PORT LET GO");
    int other = open(w->port_name, O_RDWR | O_NOCTTY | O_CLOEXEC);
    assert_true(other >= 0 && flock(other, LOCK_EX | LOCK_NB) == 0);
    term_send(w->term, "gy");
    world_shows(w, "is in use by test_stages");
    world_shows(w, "PORT LET GO");
    close(other);
    term_send(w->term, "gy");
    world_hides(w, "PORT LET GO");
    quit(w, 0);
}

/* A port that came back may not be opened at once: its permissions come later. */
static void tries_again_until_it_may_open_the_port(void **state) {
    struct world *w = *state;
    struct faults f;
    world_plug(w);
    world_run(w, faulty(w, &f, "open@tug@1-2@EACCES"),
              WORDS("watch", world_link(w, "tug"), "--mute", "--yes", "--out", "may.csv"));
    world_shows(w, "no line on the cable");
    world_reports(w, 3, 5, 0, "fs=0");
    good(w, 3, "");
    gate(w, true);
    replug(w);
    world_reports(w, 3, 5, 0, "fs=0");
    good(w, 6, "0 missing");
    quit(w, 0);
}

/* Somebody else took the port while it was away: that is told, and when it is free it is taken. */
static void tells_who_has_the_port_that_came_back(void **state) {
    struct world *w = *state;
    watch_link(w, "back.csv");
    world_reports(w, 3, 5, 0, "fs=0");
    good(w, 3, "");
    world_unplug(w);
    world_shows(w, "PORT GONE");
    world_plug(w);
    int other = open(w->port_name, O_RDWR | O_NOCTTY | O_CLOEXEC);
    assert_true(other >= 0 && flock(other, LOCK_EX | LOCK_NB) == 0);
    world_link(w, "tug");
    world_shows(w, "is in use by test_stages");
    close(other);
    world_hides(w, "PORT GONE");
    world_reports(w, 3, 5, 0, "fs=0");
    good(w, 6, "0 missing");
    quit(w, 0);
}

static void tells_of_an_alarm_that_cannot_be_run(void **state) {
    struct world *w = *state;
    struct faults f;
    world_watch(w, faulty(w, &f, "fork@*@1+@EAGAIN"),
                WORDS("--mute", "--on-alarm", "touch alarmed"));
    gate(w, true);
    world_reports(w, 5, 5, 0, "fs=0");
    world_reports(w, 5, 0, 0, "fs=1");
    world_shows(w, "the alarm's command can't be started");
    world_state(w, "failsafe");
    quit(w, 0);
}

/* Calls that are interrupted, cut short or not ready change nothing. */
static void minds_no_interruption(void **state) {
    static const char *const rows[] = {
        "read@/dev/pts/*@1+@short",      "read@/dev/pts/*@1-100@EINTR",
        "read@/dev/pts/*@1-100@EAGAIN",  "poll@*@1-100@EINTR",
        "write@/dev/pts/*@1-200@short",  "write@/dev/pts/*@1-100@EAGAIN",
        "write@/dev/pts/*@1-100@EINTR",  "write@*/any.csv@1+@short",
        "write@*/any.csv@1-100@EINTR",   "write@*/any.csv@1-20@EAGAIN",
        "read@anon_inode*@1-100@EAGAIN",
    };
    struct world *w = *state;
    struct faults f;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char path[128];
        uint32_t begun = w->n;
        world_watch(w, faulty(w, &f, rows[i]), WORDS("--mute", "--out", "any.csv"));
        gate(w, true);
        world_reports(w, 60, 5, 0, "fs=0");
        good(w, 60, "0 missing");
        world_shows_row(w, WORDS("ch4", "1800"));
        world_shows_row(w, WORDS("q quit", "? help"));
        gate(w, false);
        quit(w, 0);
        char *text = world_file(w, "any.csv");
        if (count(text, "\nrx,") != w->n - begun || count(text, "\ndamage,") != 0 ||
            count(text, "\nend,") != 1)
            fail_msg("%s: not the rows that came:\n%s", rows[i], text);
        free(text);
        world_unplug(w);
        snprintf(path, sizeof path, "%s/any.csv", w->folder);
        unlink(path);
    }
}

/* --- trials ----------------------------------------------------------------------------------- */

/* A key for a text on the screen, the first ones in their order, each once. */
static const struct {
    const char *text, *keys;
} replies[] = {
    {"loss", "v"},
    {"A number begins one", "1"},
    {"Propeller off", "y"},
    {"Which channel is the throttle?", "2"},
    {"do all motors stand still?", "y"},
    {"Does every motor run now?", "y"},
    {"The transmitter is still off", "y"},
    {"Does every servo stand", "y"},
    {"did all motors stand still?", "y"},
    {"Press the receiver's reset button", "ky"},
    {"Take the receiver's supply away", "ky"},
    {"Transmitter stays on. Push", "ky"},
    {"Then pull the supply wire", "ky"},
    {"let the signal fade", "ky"},
};
enum { IN_ORDER = 4, REPLIES = sizeof replies / sizeof replies[0] };

static int64_t now_ms(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

struct person {
    size_t next;     /* reply, while they come in order */
    int64_t free_ms; /* presses nothing before that */
    size_t sees;     /* the reply whose text is there, REPLIES: none */
};

/* Hesitates, and lets a key have its effect. */
static void reply(struct world *w, struct person *p) {
    enum { HESITATES_MS = 60, EFFECT_MS = 150 };
    size_t from = p->next < IN_ORDER ? p->next : IN_ORDER;
    size_t to = p->next < IN_ORDER ? p->next + 1 : REPLIES, sees = REPLIES;
    for (size_t i = from; i < to; i++)
        if (strstr(term_text(w->term), replies[i].text) != NULL)
            sees = i;
    if (sees != p->sees)
        p->free_ms = now_ms() + HESITATES_MS;
    p->sees = sees;
    if (sees == REPLIES || now_ms() < p->free_ms)
        return;
    term_send(w->term, replies[sees].keys);
    p->next++;
    p->free_ms = now_ms() + EFFECT_MS;
}

/* When the transmitter goes off in the scene, ms from its first report. */
static const long offs_ms[] = {15900, 42900, 70900};

static bool in_hole(long at_ms, size_t holes) {
    for (size_t i = 0; i < holes; i++)
        if (at_ms >= offs_ms[i] - 500 && at_ms < offs_ms[i] + 1500)
            return true;
    return false;
}

/* The failsafe scene by the keys of a person, with the port gone at the first so many of these. */
static void play_with_holes(struct world *w, const char *lines, size_t holes) {
    enum { LINE_MS = 5 };
    struct person person = {.sees = REPLIES};
    int64_t due_ms = now_ms();
    const char *first = strstr(lines, " t=");
    long begin = strtol(first + 3, NULL, 10), at = 0;
    while (*lines != '\0' && strstr(term_text(w->term), "more: Down") == NULL) {
        size_t len = strcspn(lines, "\n") + 1;
        const char *time = memmem(lines, len, " t=", 3);
        at = time != NULL ? strtol(time + 3, NULL, 10) - begin : at;
        if (in_hole(at, holes) && w->port >= 0) {
            world_unplug(w);
            world_shows(w, "PORT GONE");
        } else if (!in_hole(at, holes) && w->port < 0) {
            world_plug(w);
            world_link(w, "tug");
            world_hides(w, "PORT GONE");
        }
        if (w->port >= 0)
            world_wire(w, lines, len);
        lines += len;
        due_ms = now_ms() > due_ms + 1000 ? now_ms() : due_ms + LINE_MS;
        for (int64_t left; (left = due_ms - now_ms()) > 0;)
            term_pump(w->term, (int)left);
        reply(w, &person);
    }
}

/* On a clock as fast as the lines are played. */
static void watch_fast(struct world *w, const char *out) {
    char shim[200];
    snprintf(shim, sizeof shim, "LD_PRELOAD=%s", getenv("FAST_CLOCK_SHIM"));
    const char *env[] = {shim, "FAST_CLOCK=10", NULL};
    world_plug(w);
    world_run(w, (struct start){.rows = 40, .env = env},
              WORDS("watch", world_link(w, "tug"), "--mute", "--yes", "--model", "tug.ini", "--out",
                    out));
    world_shows(w, "no line on the cable");
}

/* The port is gone when the transmitter goes off: nobody saw the motors come to rest, so nothing
 * says how fast they did. */
static void no_trial_passes_on_what_was_not_seen(void **state) {
    static const size_t holes[] = {0, 1, 3};
    struct world *w = *state;
    char path[sizeof w->folder + 16];
    int status;
    char *lines = world_output(
        w, WORDS("simulate", "--lines", "--fast", "--scene", "failsafe", "--for", "175"), &status);
    assert_int_equal(status, 0);
    snprintf(path, sizeof path, "%s/tug.ini", w->folder);
    FILE *model = fopen(path, "we");
    assert_non_null(model);
    fputs("[failsafe]\n8 = off\n", model);
    fclose(model);
    for (size_t i = 0; i < sizeof holes / sizeof holes[0]; i++) {
        char name[32];
        snprintf(name, sizeof name, "trial-%zu.csv", i);
        watch_fast(w, name);
        play_with_holes(w, lines, holes[i]);
        kill(term_pid(w->term), SIGTERM);
        term_wait_end(w->term);
        char *out = world_output(w, WORDS("judge", name), &status);
        bool passed = strstr(out, "failsafe    passed") != NULL;
        bool told = strstr(out, "the port was lost meanwhile") != NULL;
        if (passed != (holes[i] == 0) || told != (holes[i] > 0))
            fail_msg("with %zu holes:\n%s", holes[i], out);
        free(out);
        world_unplug(w);
    }
    assert_int_equal(unlink(path), 0);
    free(lines);
}

/* --- the disk --------------------------------------------------------------------------------- */

/* Full for longer than memory holds rows for: it is said at once, the console goes on, and the file
 * says how many rows it lacks. */
static void records_on_when_the_disk_has_room_again(void **state) {
    enum { FLOOD = 12000 }; /* of some 130 bytes each: more than the 1 MiB that is held */
    struct world *w = *state;
    struct faults f;
    int status;
    world_watch(w, faulty(w, &f, "write@*/full.csv@1+@ENOSPC"),
                WORDS("--mute", "--out", "full.csv"));
    world_reports(w, 5, 5, 0, "fs=0");
    good(w, 5, "");
    gate(w, true);
    world_reports(w, 1, 5, 0, "fs=0");
    world_shows(w, "ROWS ARE NOT WRITTEN");
    world_shows(w, "the disk is full");
    good(w, 6, "");
    world_reports(w, FLOOD, 5, 0, "fs=0");
    good(w, 6 + FLOOD, "0 missing");
    gate(w, false);
    world_hides(w, "ROWS ARE NOT WRITTEN");
    world_reports(w, 5, 5, 0, "fs=0");
    good(w, 11 + FLOOD, "0 missing");
    quit(w, 3);
    char *text = world_file(w, "full.csv");
    const char *row = strstr(text, "rows_missing=");
    assert_non_null(row);
    unsigned missing = (unsigned)strtoul(row + strlen("rows_missing="), NULL, 10);
    assert_int_equal(count(text, "rows_missing="), 1);
    assert_int_equal(count(text, "\nrx,") + missing, 11 + FLOOD);
    assert_true(missing > 1000);
    free(text);
    char *out = world_output(w, WORDS("figures", "full.csv"), &status);
    char wanted[64];
    snprintf(wanted, sizeof wanted, "%u", missing);
    assert_int_equal(status, 0);
    if (strstr(out, wanted) == NULL)
        fail_msg("figures don't count %s rows:\n%s", wanted, out);
    free(out);
}

/* Full to the end: how many rows are lost is said, those of seven reports and the end. */
static void tells_how_many_rows_a_full_disk_cost(void **state) {
    struct world *w = *state;
    struct faults f;
    world_watch(w, faulty(w, &f, "write@*/lost.csv@1+@ENOSPC"),
                WORDS("--mute", "--out", "lost.csv"));
    world_reports(w, 5, 5, 0, "fs=0");
    good(w, 5, "");
    gate(w, true);
    world_reports(w, 7, 5, 0, "fs=0");
    good(w, 12, "");
    term_send(w->term, "q");
    world_shows(w, "(8 rows are lost)");
    assert_int_equal(term_wait_end(w->term), 3);
    char *text = world_file(w, "lost.csv");
    assert_int_equal(count(text, "\nrx,"), 5);
    free(text);
}

static void tells_of_a_recording_that_was_deleted(void **state) {
    struct world *w = *state;
    char path[128];
    world_watch(w, (struct start){.rows = 40}, WORDS("--mute", "--out", "deleted.csv"));
    world_reports(w, 5, 5, 0, "fs=0");
    good(w, 5, "");
    snprintf(path, sizeof path, "%s/deleted.csv", w->folder);
    assert_int_equal(unlink(path), 0);
    world_reports(w, 5, 5, 0, "fs=0");
    good(w, 10, "");
    term_send(w->term, "q");
    world_shows(w, "'deleted.csv' was deleted while it was written");
    assert_int_equal(term_wait_end(w->term), 3);
}

/* The wall clock stands: a recording of another second would have the same name. */
static void never_takes_the_name_of_a_recording(void **state) {
    struct world *w = *state;
    struct faults f;
    gate(w, true);
    world_watch(w, faulty(w, &f, "realtime@*@1+@1767225600"), WORDS("--mute")); /* 2026 begins */
    for (int i = 0; i < 3; i++) {
        term_send(w->term, "r");
        world_shows(w, "● recording");
        world_reports(w, 5, 5, 0, "fs=0");
        good(w, 5 * ((unsigned)i + 1), "");
        term_send(w->term, "r");
        world_hides(w, "● recording");
    }
    quit(w, 0);
    static const char *const names[] = {"airleash-2026-01-01T00-00-00Z.csv",
                                        "airleash-2026-01-01T00-00-00Z-2.csv",
                                        "airleash-2026-01-01T00-00-00Z-3.csv"};
    for (size_t i = 0; i < 3; i++) {
        char *text = world_file(w, names[i]);
        assert_non_null(text);
        assert_int_equal(count(text, "\nrx,"), 5);
        free(text);
    }
}

/* A recording that can't be begun is no recording; the key begins one when there is room. */
static void begins_a_recording_when_it_can(void **state) {
    static const char *const rows[][2] = {
        {"open@airleash-*.csv@1+@EACCES", "not allowed to write"},
        {"write@*/airleash-*.csv@1+@ENOSPC", "the disk is full"},
    };
    struct world *w = *state;
    struct faults f;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        gate(w, true);
        world_watch(w, faulty(w, &f, rows[i][0]), WORDS("--mute"));
        world_reports(w, 5, 5, 0, "fs=0");
        term_send(w->term, "r");
        world_shows(w, rows[i][1]);
        world_lacks(w, "● recording");
        char *text = world_file(w, "airleash-*.csv");
        assert_null(text);
        gate(w, false);
        term_send(w->term, "r");
        world_shows(w, "● recording");
        world_reports(w, 5, 5, 0, "fs=0");
        good(w, 10, "0 missing");
        quit(w, 0);
        text = world_file(w, "airleash-*.csv");
        assert_int_equal(count(text, "\nrx,"), 5);
        free(text);
        world_unplug(w);
        char all[128];
        snprintf(all, sizeof all, "rm %s/airleash-*.csv", w->folder);
        assert_int_equal(system(all), 0);
    }
}

/* A sync that failed has lost what it has lost: a later one can't tell. */
static void tells_of_a_sync_that_failed(void **state) {
    static const char *const rows[] = {"fsync@*/sync.csv@1@EIO", "close@*-sync.csv@1@EIO"};
    struct world *w = *state;
    struct faults f;
    gate(w, true);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        world_watch(w, faulty(w, &f, rows[i]),
                    WORDS("--mute", "--out", i == 0 ? "sync.csv" : "and-sync.csv"));
        world_reports(w, 5, 5, 0, "fs=0");
        good(w, 5, "");
        term_send(w->term, "q");
        world_shows(w, "may be lost");
        assert_int_equal(term_wait_end(w->term), 3);
        world_unplug(w);
    }
}

/* --- reading ---------------------------------------------------------------------------------- */

static void tells_of_a_replay_that_cannot_be_read(void **state) {
    struct world *w = *state;
    struct faults f;
    watch_link(w, "read.csv");
    world_reports(w, 100, 5, 0, "fs=0");
    good(w, 100, "");
    quit(w, 0);
    world_run(w, faulty(w, &f, "read@*/read.csv@2+@EIO"),
              WORDS("replay", "read.csv", "--mute", "--pace", "0"));
    good(w, 100, "");
    gate(w, true);
    term_send(w->term, "\033OH");
    world_shows(w, "failed (input/output error)");
    world_shows(w, "READING FAILED");
    term_send(w->term, "q");
    assert_int_equal(term_wait_end(w->term), 3);
    world_shows(w, "failed (input/output error)"); /* after the screen too */
    gate(w, false);
    world_run(w, faulty(w, &f, "open@read.csv@1+@EACCES"),
              WORDS("replay", "read.csv", "--mute", "--pace", "0"));
    good(w, 100, "");
    gate(w, true);
    term_send(w->term, "\033OH");
    assert_int_equal(term_wait_end(w->term), 3);
    world_shows(w, "not allowed to read");
}

static void tells_of_a_pipe_that_cannot_be_read(void **state) {
    struct world *w = *state;
    struct faults f;
    char path[128];
    snprintf(path, sizeof path, "%s/lines.log", w->folder);
    FILE *file = fopen(path, "w");
    fputs("rx n=1 t=50 ch=1500 got=1 lost=0\nrx n=2 t=100 ch=1500 got=6 lost=0\n", file);
    fclose(file);
    gate(w, true);
    world_run(w, faulty(w, &f, "read@*/lines.log@2+@EIO"),
              WORDS("watch", "lines.log", "--mute", "--out", "kept.csv"));
    world_shows(w, "failed (input/output error)");
    world_shows(w, "READING FAILED");
    world_lacks(w, "END OF INPUT");
    good(w, 2, "");
    quit(w, 3);
    world_shows(w, "failed (input/output error)");
    /* The figures of what could be read say that they are no more than that. */
    world_run(w, faulty(w, &f, "read@*/lines.log@2+@EIO"),
              WORDS("figures", "lines.log", "--json", "--only", "time"));
    world_shows(w, "failed (input/output error)");
    world_shows_row(w, WORDS("read_to_end", "false"));
    world_shows_row(w, WORDS("reports", "2"));
    assert_int_equal(term_wait_end(w->term), 3);
    world_run(w, faulty(w, &f, "read@*/lines.log@2+@EIO"), WORDS("figures", "lines.log"));
    world_shows(w, "reading failed before its end");
    assert_int_equal(term_wait_end(w->term), 3);
}

/* --- clocks ----------------------------------------------------------------------------------- */

/* The wall clock an hour ahead and back: no time of a recording comes from it but its begin. */
static void minds_no_wall_clock(void **state) {
    struct world *w = *state;
    struct faults f;
    world_watch(w, faulty(w, &f, "realtime@*@1+@3600;realtime@*@1+@-7200"),
                WORDS("--mute", "--out", "clock.csv"));
    for (int i = 0; i < 4; i++) {
        gate(w, i % 2 == 0);
        world_reports(w, 5, 5, 0, "fs=0");
        good(w, 5 + 5 * (unsigned)i, "0 missing");
    }
    world_lacks(w, "slept");
    quit(w, 0);
    char *text = world_file(w, "clock.csv");
    long long before = 0;
    for (const char *row = text; (row = strstr(row, "\nrx,")); row++) {
        long long at = strtoll(row + 4, NULL, 10);
        assert_true(at >= before && at < 600000000);
        before = at;
    }
    assert_int_equal(count(text, "\nrx,"), 20);
    free(text);
}

/* The computer slept for an hour: a row tells of it, and it is no loss and no outage. */
static void tells_of_a_sleep(void **state) {
    struct world *w = *state;
    struct faults f;
    world_watch(w, faulty(w, &f, "clock@*@1+@3600"), WORDS("--mute", "--out", "slept.csv"));
    world_identity(w);
    world_reports(w, 10, 5, 0, "fs=0");
    good(w, 11, "0 missing");
    gate(w, true);
    char *text = world_file_holds(w, "slept.csv", "slept");
    assert_non_null(strstr(text, "seconds=3600"));
    free(text);
    world_reports(w, 10, 5, 0, "fs=0");
    good(w, 21, "0 missing");
    world_shows_row(w, WORDS("in all", "0 of 100"));
    quit(w, 0);
}

int main(void) {
#define TEST(name) cmocka_unit_test_setup_teardown(name, world_begin, world_end)
    const struct CMUnitTest tests[] = {
        TEST(ends_when_the_terminal_goes_without_a_signal),
        TEST(goes_on_after_a_stop),
        TEST(takes_a_port_that_goes_before_its_first_line),
        TEST(cuts_the_line_where_the_port_went),
        TEST(counts_a_stop_across_a_hole),
        TEST(holds_a_port_that_went_while_let_go),
        TEST(shares_a_port_with_nobody),
        TEST(tries_again_until_it_may_open_the_port),
        TEST(tells_who_has_the_port_that_came_back),
        TEST(tells_of_an_alarm_that_cannot_be_run),
        TEST(minds_no_interruption),
        TEST(no_trial_passes_on_what_was_not_seen),
        TEST(records_on_when_the_disk_has_room_again),
        TEST(tells_how_many_rows_a_full_disk_cost),
        TEST(tells_of_a_recording_that_was_deleted),
        TEST(never_takes_the_name_of_a_recording),
        TEST(begins_a_recording_when_it_can),
        TEST(tells_of_a_sync_that_failed),
        TEST(tells_of_a_replay_that_cannot_be_read),
        TEST(tells_of_a_pipe_that_cannot_be_read),
        TEST(minds_no_wall_clock),
        TEST(tells_of_a_sleep),
    };
    if (getenv("ONLY") != NULL)
        cmocka_set_test_filter(getenv("ONLY"));
    return cmocka_run_group_tests(tests, NULL, NULL);
}
