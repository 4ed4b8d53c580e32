#include "world.h"

#include <ctype.h>
#include <errno.h>
#include <fcntl.h>
#include <glob.h>
#include <poll.h>
#include <pty.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

enum { ARGUMENTS_MAX = 16, STEP_MS = 20 };

static int64_t deadline_ms(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000 + TERM_DEADLINE_MS;
}

static bool is_over(int64_t deadline) {
    return deadline_ms() - TERM_DEADLINE_MS > deadline;
}

int world_begin(void **state) {
    struct world *w = calloc(1, sizeof *w);
    if (w == NULL)
        return -1;
    w->port = -1;
    w->n = 4000; /* it has run for a while */
    w->t_ms = 200000;
    w->got = 1000;
    w->lost = 50;
    w->program = getenv("AIRLEASH");
    snprintf(w->folder, sizeof w->folder, "/tmp/airleash-pty-XXXXXX");
    *state = w;
    return w->program != NULL && mkdtemp(w->folder) != NULL ? 0 : -1;
}

static void remove_folder(struct world *w) {
    char pattern[128];
    glob_t found;
    snprintf(pattern, sizeof pattern, "%s/*", w->folder);
    if (glob(pattern, 0, NULL, &found) == 0) {
        for (size_t i = 0; i < found.gl_pathc; i++)
            unlink(found.gl_pathv[i]);
        globfree(&found);
    }
    rmdir(w->folder);
}

int world_end(void **state) {
    struct world *w = *state;
    term_free(w->term);
    world_unplug(w);
    remove_folder(w);
    free(w);
    return 0;
}

/* --- failing ---------------------------------------------------------------------------------- */

void world_fail(struct world *w, const char *what, const char *about) {
    if (w->term != NULL)
        fprintf(stderr, "--- the screen:\n%s---\n", term_text(w->term));
    fail_msg("%s%s%s", what, about[0] != '\0' ? ": " : "", about);
    abort(); /* not reached */
}

void world_check(struct world *w, bool holds, const char *what) {
    if (!holds)
        world_fail(w, what, "");
}

void world_shows(struct world *w, const char *text) {
    if (!term_wait(w->term, text))
        world_fail(w, "never shown", text);
}

void world_shows_row(struct world *w, const char *const *texts) {
    if (!term_wait_row(w->term, texts))
        world_fail(w, "no row with all of it, which begins", texts[0]);
}

void world_shows_at(struct world *w, int row, const char *text) {
    int64_t deadline = deadline_ms();
    while (strstr(term_row(w->term, row), text) == NULL) {
        if (is_over(deadline))
            world_fail(w, "not in its row", text);
        term_pump(w->term, STEP_MS);
    }
}

void world_hides(struct world *w, const char *text) {
    if (!term_wait_gone(w->term, text))
        world_fail(w, "never went away", text);
}

void world_lacks(struct world *w, const char *text) {
    if (strstr(term_text(w->term), text) != NULL)
        world_fail(w, "shown, but should not be", text);
}

/* The first rows in capitals without blanks: so "L I N K E D" and "LINKED" are one word. */
static bool state_is(struct world *w, const char *word) {
    enum { STATE_ROWS = 5 };
    char top[4096], wanted[64];
    size_t len = 0;
    int row = 0;
    for (const char *c = term_text(w->term); *c != '\0' && row < STATE_ROWS; c++) {
        row += *c == '\n' ? 1 : 0;
        if (*c != ' ' && len + 1 < sizeof top)
            top[len++] = *c;
    }
    top[len] = '\0';
    len = 0;
    for (const char *c = word; *c != '\0'; c++)
        if (*c != ' ')
            wanted[len++] = (char)toupper((unsigned char)*c);
    wanted[len] = '\0';
    return strstr(top, wanted) != NULL;
}

void world_state(struct world *w, const char *word) {
    int64_t deadline = deadline_ms();
    while (!state_is(w, word)) {
        if (is_over(deadline))
            world_fail(w, "not in the state", word);
        term_pump(w->term, STEP_MS);
    }
}

/* --- the port --------------------------------------------------------------------------------- */

void world_plug(struct world *w) {
    struct termios modes;
    int other = -1;
    if (openpty(&w->port, &other, w->port_name, NULL, NULL) != 0)
        world_fail(w, "no pseudo-terminal", strerror(errno));
    /* raw before anybody opens it, so that nothing of ours comes back as an echo */
    tcgetattr(other, &modes);
    cfmakeraw(&modes);
    tcsetattr(other, TCSANOW, &modes);
    close(other);
    fcntl(w->port, F_SETFL, O_NONBLOCK);
    fcntl(w->port, F_SETFD, FD_CLOEXEC);
}

void world_unplug(struct world *w) {
    if (w->port >= 0)
        close(w->port);
    w->port = -1;
}

static void path_of(const struct world *w, const char *name, char *path, size_t size) {
    snprintf(path, size, "%s/%s", w->folder, name);
}

const char *world_link(struct world *w, const char *name) {
    char path[256];
    path_of(w, name, path, sizeof path);
    unlink(path);
    if (symlink(w->port_name, path) != 0)
        world_fail(w, "no link", strerror(errno));
    return name;
}

void world_wire(struct world *w, const char *bytes, size_t len) {
    size_t sent = 0;
    int64_t deadline = deadline_ms();
    while (sent < len && !is_over(deadline)) {
        ssize_t put = write(w->port, bytes + sent, len - sent);
        if (put > 0) {
            sent += (size_t)put;
            deadline = deadline_ms();
            continue;
        }
        term_pump(w->term, STEP_MS); /* it reads no more: perhaps it waits for its terminal */
    }
    if (sent < len)
        world_fail(w, "the console doesn't read its port", "");
}

void world_line(struct world *w, const char *format, ...) {
    char line[512];
    va_list arguments;
    va_start(arguments, format);
    int len = vsnprintf(line, sizeof line - 1, format, arguments);
    va_end(arguments);
    line[len] = '\n';
    world_wire(w, line, (size_t)len + 1);
}

void world_identity(struct world *w) {
    world_line(w, "id end=rx fw=tug-harbour-3 rate=100 chans=4 unit=us seqmod=0 mhz=2450 kbps=250");
}

void world_reports(struct world *w, int count, int arrived, int missing, const char *more) {
    for (int i = 0; i < count; i++) {
        char pattern[96] = "";
        w->n++;
        w->t_ms += 50;
        if (arrived > 0) {
            w->got += (uint32_t)arrived;
            w->lost += (uint32_t)missing;
            w->age_ms = 4;
            snprintf(pattern, sizeof pattern, " pat=%.*s%.*s", missing, "xxxxxxxxxxxxxxxx", arrived,
                     "oooooooooooooooo");
        } else {
            w->age_ms += 50;
        }
        world_line(w, "rx n=%u t=%u ch=1500,%u,1000,1800 got=%u lost=%u%s age=%u%s%s", w->n,
                   w->t_ms, 1400 + w->n % 100, w->got, w->lost, pattern, w->age_ms,
                   more[0] != '\0' ? " " : "", more);
    }
}

/* --- the program ------------------------------------------------------------------------------ */

static void arguments_put(struct world *w, char **argv, const char *const *more) {
    size_t count = 0;
    while (argv[count] != NULL)
        count++;
    for (; *more != NULL; more++) {
        if (count + 1 >= ARGUMENTS_MAX)
            world_fail(w, "too many arguments", "");
        argv[count++] = (char *)(uintptr_t)*more;
    }
}

void world_run(struct world *w, struct start how, const char *const *arguments) {
    char *argv[ARGUMENTS_MAX] = {(char *)(uintptr_t)w->program};
    struct term_setup setup = {.rows = how.rows > 0 ? how.rows : 24,
                               .columns = how.columns > 0 ? how.columns : 80,
                               .folder = w->folder,
                               .env = how.env};
    arguments_put(w, argv, arguments);
    term_free(w->term);
    w->term = term_start(&setup, argv);
    if (w->term == NULL)
        world_fail(w, "not started", w->program);
}

void world_watch(struct world *w, struct start how, const char *const *further) {
    const char *arguments[ARGUMENTS_MAX] = {"watch", NULL};
    size_t count = 1;
    if (w->port < 0)
        world_plug(w);
    arguments[count++] = w->port_name;
    for (; *further != NULL && count + 1 < ARGUMENTS_MAX; further++)
        arguments[count++] = *further;
    world_run(w, how, arguments);
    world_shows(w, "no line on the cable");
}

/* --- files and other commands ----------------------------------------------------------------- */

static char *read_all(FILE *file) {
    size_t len = 0, room = 65536;
    char *text = malloc(room);
    for (size_t got = 1; text != NULL && got > 0; len += got) {
        if (len + 4096 > room)
            text = realloc(text, room *= 2);
        got = text != NULL ? fread(text + len, 1, 4095, file) : 0;
    }
    if (text != NULL)
        text[len] = '\0';
    return text;
}

char *world_file(struct world *w, const char *pattern) {
    char path[256];
    glob_t found;
    path_of(w, pattern, path, sizeof path);
    if (glob(path, 0, NULL, &found) != 0)
        return NULL;
    FILE *file = fopen(found.gl_pathv[0], "re");
    globfree(&found);
    char *text = file != NULL ? read_all(file) : NULL;
    if (file != NULL)
        fclose(file);
    return text;
}

static char *file_holds(struct world *w, const char *pattern, const char *wanted, bool pump) {
    char *text = NULL;
    int64_t deadline = deadline_ms();
    do {
        free(text);
        text = world_file(w, pattern);
        if (text != NULL && strstr(text, wanted) != NULL)
            return text;
        if (!pump || w->term == NULL || !term_pump(w->term, STEP_MS))
            poll(NULL, 0, 1);
    } while (!is_over(deadline));
    fprintf(stderr, "--- %s:\n%s---\n", pattern, text != NULL ? text : "(no such file)\n");
    free(text);
    world_fail(w, "not in the file", wanted);
}

char *world_file_holds(struct world *w, const char *pattern, const char *wanted) {
    return file_holds(w, pattern, wanted, true);
}

char *world_file_holds_unseen(struct world *w, const char *pattern, const char *wanted) {
    return file_holds(w, pattern, wanted, false);
}

char *world_output(struct world *w, const char *const *arguments, int *status) {
    int ends[2];
    char *argv[ARGUMENTS_MAX] = {(char *)(uintptr_t)w->program};
    arguments_put(w, argv, arguments);
    if (pipe2(ends, O_CLOEXEC) != 0)
        world_fail(w, "no pipe", strerror(errno));
    pid_t child = fork();
    if (child == 0) {
        dup2(ends[1], STDOUT_FILENO);
        if (chdir(w->folder) == 0)
            execv(argv[0], argv);
        _exit(126);
    }
    close(ends[1]);
    FILE *file = fdopen(ends[0], "r");
    char *text = read_all(file);
    fclose(file);
    int how = 0;
    waitpid(child, &how, 0);
    *status = WIFEXITED(how) ? WEXITSTATUS(how) : 1000 + WTERMSIG(how);
    return text;
}
