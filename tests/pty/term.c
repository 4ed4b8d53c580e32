#include "term.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>
#include <vterm.h>

enum { ENV_MAX = 32, TEXT_BYTES = 512 * 1024, STEP_MS = 50 };

struct term {
    VTerm *vterm;
    VTermScreen *screen;
    int master; /* -1 once the program has closed its end */
    pid_t pid;
    bool reaped;
    int status; /* as waitpid gives it */
    bool cursor_visible, altscreen;
    unsigned bells;
    int counted_row, counted_column;
    unsigned long counted;
    char *bytes;
    size_t len, room;
    char *text;
};

static int64_t now_ms(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

/* --- what the emulator tells ------------------------------------------------------------------ */

static int on_property(VTermProp property, VTermValue *value, void *context) {
    struct term *t = context;
    if (property == VTERM_PROP_CURSORVISIBLE)
        t->cursor_visible = value->boolean;
    else if (property == VTERM_PROP_ALTSCREEN)
        t->altscreen = value->boolean;
    return 1;
}

static int on_bell(void *context) {
    struct term *t = context;
    t->bells++;
    return 1;
}

static int on_damage(VTermRect rect, void *context) {
    struct term *t = context;
    VTermPos at = {.row = t->counted_row, .col = t->counted_column};
    t->counted += vterm_rect_contains(rect, at) ? 1 : 0;
    return 1;
}

static const VTermScreenCallbacks callbacks = {
    .settermprop = on_property, .bell = on_bell, .damage = on_damage};

static bool is_utf8(const struct term_setup *setup) {
    for (const char *const *e = setup->env; e != NULL && *e != NULL; e++)
        if (strncmp(*e, "LC_ALL=", 7) == 0)
            return strstr(*e, "UTF-8") != NULL;
    return true;
}

static struct term *emulator_new(const struct term_setup *setup) {
    struct term *t = calloc(1, sizeof *t);
    if (t == NULL)
        return NULL;
    t->master = -1;
    t->cursor_visible = true;
    t->counted_row = t->counted_column = -1;
    t->text = malloc(TEXT_BYTES);
    t->vterm = vterm_new(setup->rows, setup->columns);
    vterm_set_utf8(t->vterm, is_utf8(setup));
    t->screen = vterm_obtain_screen(t->vterm);
    vterm_screen_set_callbacks(t->screen, &callbacks, t);
    vterm_screen_enable_altscreen(t->screen, 1); /* off by default */
    vterm_screen_reset(t->screen, 1);
    return t;
}

/* --- the program ------------------------------------------------------------------------------ */

static const char *const pinned[] = {"TERM=xterm-256color", "LC_ALL=C.UTF-8", "TZ=UTC",
                                     "PATH=/usr/bin:/bin", "ESCDELAY=25"};

/* Sets NAME=VALUE, in the place of an earlier NAME. */
static void env_put(const char **env, const char *entry) {
    size_t name = (size_t)(strchr(entry, '=') - entry) + 1, i = 0;
    while (env[i] != NULL && strncmp(env[i], entry, name) != 0)
        i++;
    if (i < ENV_MAX)
        env[i] = entry;
}

static _Noreturn void run_program(const struct term_setup *setup, char *const argv[]) {
    const char *env[ENV_MAX + 1] = {NULL};
    char home[1024];
    snprintf(home, sizeof home, "HOME=%s", setup->folder);
    for (size_t i = 0; i < sizeof pinned / sizeof pinned[0]; i++)
        env_put(env, pinned[i]);
    env_put(env, home);
    for (const char *const *e = setup->env; e != NULL && *e != NULL; e++)
        env_put(env, *e);
    signal(SIGPIPE, SIG_DFL);
    if (chdir(setup->folder) == 0)
        execve(argv[0], argv, (char *const *)env);
    _exit(126);
}

struct term *term_start(const struct term_setup *setup, char *const argv[]) {
    struct term *t = emulator_new(setup);
    struct winsize size = {.ws_row = (unsigned short)setup->rows,
                           .ws_col = (unsigned short)setup->columns};
    if (t == NULL)
        return NULL;
    t->pid = forkpty(&t->master, NULL, NULL, &size);
    if (t->pid == 0)
        run_program(setup, argv);
    if (t->pid < 0) {
        t->reaped = true;
        term_free(t);
        return NULL;
    }
    fcntl(t->master, F_SETFL, O_NONBLOCK);
    fcntl(t->master, F_SETFD, FD_CLOEXEC);
    return t;
}

static bool reap(struct term *t, int options) {
    if (!t->reaped)
        t->reaped = waitpid(t->pid, &t->status, options) == t->pid;
    return t->reaped;
}

void term_free(struct term *t) {
    if (t == NULL)
        return;
    if (!t->reaped && kill(t->pid, SIGKILL) == 0)
        reap(t, 0);
    if (t->master >= 0)
        close(t->master);
    vterm_free(t->vterm);
    free(t->bytes);
    free(t->text);
    free(t);
}

pid_t term_pid(const struct term *t) {
    return t->pid;
}

static void keep_bytes(struct term *t, const char *bytes, size_t len) {
    if (t->len + len > t->room) {
        size_t room = (t->len + len) * 2;
        char *grown = realloc(t->bytes, room);
        if (grown == NULL)
            abort();
        t->bytes = grown;
        t->room = room;
    }
    memcpy(t->bytes + t->len, bytes, len);
    t->len += len;
}

/* At most so much at a time, so that a program that never stops drawing can't keep us here. */
bool term_pump(struct term *t, int ms) {
    char block[16 * 1024];
    struct pollfd p = {.fd = t->master, .events = POLLIN};
    poll(&p, 1, ms);
    ssize_t got = t->master >= 0 ? read(t->master, block, sizeof block) : -1;
    if (got <= 0)
        return false;
    keep_bytes(t, block, (size_t)got);
    vterm_input_write(t->vterm, block, (size_t)got);
    vterm_screen_flush_damage(t->screen);
    return true;
}

/* --- waiting ---------------------------------------------------------------------------------- */

static bool row_holds(const char *text, const char *const *texts) {
    while (*text != '\0') {
        const char *end = strchr(text, '\n'), *at = text;
        size_t i = 0;
        for (; texts[i] != NULL; i++) {
            at = strstr(at, texts[i]);
            if (at == NULL || at > end)
                break;
            at += strlen(texts[i]);
        }
        if (texts[i] == NULL)
            return true;
        text = end + 1;
    }
    return false;
}

static bool wait_for(struct term *t, const char *const *texts, bool wanted) {
    int64_t deadline = now_ms() + TERM_DEADLINE_MS;
    for (;;) {
        if (row_holds(term_text(t), texts) == wanted)
            return true;
        if (now_ms() > deadline)
            return false;
        if (!term_pump(t, STEP_MS) && reap(t, WNOHANG)) {
            while (term_pump(t, 0))
                continue;
            return row_holds(term_text(t), texts) == wanted;
        }
    }
}

bool term_wait_row(struct term *t, const char *const *texts) {
    return wait_for(t, texts, true);
}

bool term_wait(struct term *t, const char *text) {
    const char *const texts[] = {text, NULL};
    return wait_for(t, texts, true);
}

bool term_wait_gone(struct term *t, const char *text) {
    const char *const texts[] = {text, NULL};
    return wait_for(t, texts, false);
}

int term_wait_end(struct term *t) {
    int64_t deadline = now_ms() + TERM_DEADLINE_MS;
    while (!reap(t, WNOHANG)) {
        if (now_ms() > deadline)
            return -1;
        if (!term_pump(t, STEP_MS))
            poll(NULL, 0, 1); /* its end is closed, but it isn't gone yet */
    }
    while (term_pump(t, 0))
        continue;
    return WIFEXITED(t->status) ? WEXITSTATUS(t->status) : 1000 + WTERMSIG(t->status);
}

/* --- the person ------------------------------------------------------------------------------- */

void term_send(struct term *t, const char *keys) {
    size_t len = strlen(keys), sent = 0;
    int64_t deadline = now_ms() + TERM_DEADLINE_MS;
    while (sent < len && now_ms() < deadline) {
        ssize_t put = write(t->master, keys + sent, len - sent);
        if (put > 0)
            sent += (size_t)put;
        else
            term_pump(t, 10);
    }
}

void term_resize(struct term *t, int rows, int columns) {
    struct winsize size = {.ws_row = (unsigned short)rows, .ws_col = (unsigned short)columns};
    vterm_set_size(t->vterm, rows, columns); /* before the program hears of it */
    ioctl(t->master, TIOCSWINSZ, &size);
}

void term_hang_up(struct term *t) {
    close(t->master);
    t->master = -1;
}

/* --- the screen ------------------------------------------------------------------------------- */

static VTermScreenCell cell_at(const struct term *t, int row, int column) {
    VTermScreenCell cell = {0};
    VTermPos at = {.row = row, .col = column};
    vterm_screen_get_cell(t->screen, at, &cell);
    return cell;
}

static size_t put_utf8(char *out, uint32_t rune) {
    if (rune < 0x80) {
        out[0] = (char)rune;
        return 1;
    }
    if (rune < 0x800) {
        out[0] = (char)(unsigned char)(0xC0 | rune >> 6);
        out[1] = (char)(unsigned char)(0x80 | (rune & 0x3F));
        return 2;
    }
    size_t at = 0;
    if (rune < 0x10000) {
        out[at++] = (char)(unsigned char)(0xE0 | rune >> 12);
    } else {
        out[at++] = (char)(unsigned char)(0xF0 | (rune >> 18 & 7));
        out[at++] = (char)(unsigned char)(0x80 | (rune >> 12 & 0x3F));
    }
    out[at++] = (char)(unsigned char)(0x80 | (rune >> 6 & 0x3F));
    out[at++] = (char)(unsigned char)(0x80 | (rune & 0x3F));
    return at;
}

/* One row; where[i] is the column of byte i when `where` is given. */
static size_t row_text(const struct term *t, int row, int columns, char *out, int *where) {
    size_t len = 0, kept = 0;
    for (int column = 0; column < columns; column++) {
        VTermScreenCell cell = cell_at(t, row, column);
        if (cell.chars[0] == UINT32_MAX) /* second half of a wide one */
            continue;
        bool blank = cell.chars[0] == 0 || cell.chars[0] == ' ';
        size_t from = len;
        if (blank)
            out[len++] = ' ';
        for (int i = 0; !blank && i < VTERM_MAX_CHARS_PER_CELL && cell.chars[i] != 0; i++)
            len += put_utf8(out + len, cell.chars[i]);
        for (size_t i = from; where != NULL && i < len; i++)
            where[i] = column;
        if (!blank)
            kept = len;
    }
    out[kept] = '\0';
    return kept;
}

const char *term_text(struct term *t) {
    int rows, columns;
    vterm_get_size(t->vterm, &rows, &columns);
    size_t len = 0;
    for (int row = 0; row < rows; row++) {
        len += row_text(t, row, columns, t->text + len, NULL);
        t->text[len++] = '\n';
    }
    t->text[len] = '\0';
    return t->text;
}

const char *term_row(struct term *t, int row) {
    int rows, columns;
    vterm_get_size(t->vterm, &rows, &columns);
    row_text(t, row, columns, t->text, NULL);
    return t->text;
}

bool term_find(struct term *t, const char *text, int *row, int *column) {
    int rows, columns;
    vterm_get_size(t->vterm, &rows, &columns);
    int where[8192];
    for (int r = 0; r < rows; r++) {
        row_text(t, r, columns, t->text, where);
        const char *at = strstr(t->text, text);
        if (at == NULL)
            continue;
        *row = r;
        *column = where[at - t->text];
        return true;
    }
    return false;
}

struct term_look term_look_at(const struct term *t, int row, int column) {
    VTermScreenCell cell = cell_at(t, row, column);
    return (struct term_look){.bold = cell.attrs.bold,
                              .reverse = cell.attrs.reverse,
                              .underline = cell.attrs.underline != 0,
                              .coloured = !VTERM_COLOR_IS_DEFAULT_FG(&cell.fg) ||
                                          !VTERM_COLOR_IS_DEFAULT_BG(&cell.bg)};
}

struct term_look term_look_any(const struct term *t) {
    struct term_look any = {0};
    int rows, columns;
    vterm_get_size(t->vterm, &rows, &columns);
    for (int row = 0; row < rows; row++)
        for (int column = 0; column < columns; column++) {
            struct term_look look = term_look_at(t, row, column);
            any.bold |= look.bold;
            any.reverse |= look.reverse;
            any.underline |= look.underline;
            any.coloured |= look.coloured;
        }
    return any;
}

bool term_cursor_visible(const struct term *t) {
    return t->cursor_visible;
}

bool term_altscreen(const struct term *t) {
    return t->altscreen;
}

unsigned term_bells(const struct term *t) {
    return t->bells;
}

struct termios term_modes(const struct term *t) {
    struct termios modes;
    memset(&modes, 0, sizeof modes);
    tcgetattr(t->master, &modes);
    return modes;
}

void term_count_cell(struct term *t, int row, int column) {
    t->counted_row = row;
    t->counted_column = column;
    t->counted = 0;
}

unsigned long term_counted(const struct term *t) {
    return t->counted;
}

const char *term_bytes(const struct term *t, size_t *len) {
    *len = t->len;
    return t->bytes != NULL ? t->bytes : "";
}
