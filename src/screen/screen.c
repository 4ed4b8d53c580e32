#include "screen/screen.h"

#define NCURSES_WIDECHAR 1
#include <curses.h>
#include <errno.h>
#include <fcntl.h>
#include <langinfo.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/mman.h>
#include <termios.h>
#include <unistd.h>
#include <wchar.h>

enum {
    ESCAPE_WAIT_MS = 25, /* a lone Esc is taken for one after this */
    LAST_WAIT_MS = 500,  /* at the end a terminal that takes nothing is waited for so long */
};

struct screen {
    SCREEN *terminal;
    FILE *keys; /* /dev/tty where we opened it, else NULL */
    bool colour;
    WINDOW *pad; /* keys are read from it: from the screen itself ncurses would paint meanwhile */
    struct termios before;
    int terminal_fd; /* the same as standard output */
    int out;         /* the terminal, opened anew so that only we don't wait for it; -1: couldn't */
    int page;        /* memory that ncurses writes into */
    char *owed;      /* what the terminal has yet to take: [owed_from, owed_len) */
    size_t owed_from, owed_len, owed_room;
    int rows, columns; /* as last painted; 0 where nothing can be taken for painted */
    struct cell shown[GRID_ROWS_MAX * GRID_COLUMNS_MAX]; /* what ncurses was told last */
};

/* Colours that read on a dark and on a light ground: coloured text only where the shade stands out
 * from both, else a ground of its own.  -1 is the terminal's own.  With 256 colours there are
 * better middle shades than the eight. */
struct ink {
    short text8, ground8;
    short text256, ground256;
    attr_t with_colour; /* besides the colour */
    attr_t without;
};

static const struct ink inks[TONES] = {
    [TONE_PLAIN] = {-1, -1, -1, -1, A_NORMAL, A_NORMAL},
    [TONE_FAINT] = {-1, -1, -1, -1, A_DIM, A_DIM},
    [TONE_HEADING] = {-1, -1, -1, -1, A_BOLD, A_BOLD},
    [TONE_GOOD] = {COLOR_GREEN, -1, 28, -1, A_BOLD, A_BOLD},
    [TONE_CAUTION] = {COLOR_BLACK, COLOR_YELLOW, 16, 220, A_NORMAL, A_UNDERLINE | A_BOLD},
    [TONE_TROUBLE] = {COLOR_WHITE, COLOR_RED, 231, 160, A_BOLD, A_REVERSE | A_BOLD},
    [TONE_MARK] = {COLOR_MAGENTA, -1, 133, -1, A_NORMAL, A_UNDERLINE},
    [TONE_KEY] = {-1, -1, -1, -1, A_BOLD, A_BOLD},
    [TONE_BANNER] = {-1, -1, -1, -1, A_REVERSE, A_REVERSE},
};

bool screen_utf8(void) {
    return strcmp(nl_langinfo(CODESET), "UTF-8") == 0;
}

static void start_colours(struct screen *s, bool wanted) {
    const char *refused = getenv("NO_COLOR");
    s->colour = wanted && (refused == NULL || refused[0] == '\0') && has_colors();
    if (!s->colour || start_color() == ERR) {
        s->colour = false;
        return;
    }
    if (use_default_colors() == ERR) {
        s->colour = false; /* a ground that we can't leave alone: attributes say enough */
        return;
    }
    for (int tone = 0; tone < TONES; tone++) {
        const struct ink *ink = &inks[tone];
        bool many = COLORS >= 256;
        init_pair((short)(tone + 1), many ? ink->text256 : ink->text8,
                  many ? ink->ground256 : ink->ground8);
    }
}

/* --- writing without waiting ------------------------------------------------------------------
 * ncurses writes until the terminal has taken everything, and a terminal may take nothing for
 * hours (a suspended SSH session, Ctrl-S), while data must be read and recorded.  So it writes
 * into memory, and what is there is sent as the terminal takes it. */

static void sheet_open(struct screen *s) {
    s->out = open("/proc/self/fd/1", O_WRONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
    s->page = memfd_create("page", MFD_CLOEXEC);
    s->terminal_fd = fcntl(STDOUT_FILENO, F_DUPFD_CLOEXEC, 3);
    if (s->out >= 0 && s->page >= 0 && s->terminal_fd >= 0) {
        return;
    }
    if (s->out >= 0) {
        close(s->out);
    }
    s->out = -1;
}

static void sheet_close(struct screen *s) {
    const int fds[] = {s->out, s->page, s->terminal_fd};
    for (size_t i = 0; i < sizeof fds / sizeof fds[0]; i++) {
        if (fds[i] >= 0) {
            close(fds[i]);
        }
    }
    free(s->owed);
}

/* A stop (Ctrl-Z) between the two would give the modes back to the wrong descriptor. */
static void hold_stops(int how) {
    sigset_t stops;
    sigemptyset(&stops);
    sigaddset(&stops, SIGTSTP);
    sigprocmask(how, &stops, NULL);
}

static void sheet_begin(struct screen *s) {
    if (s->out >= 0) {
        hold_stops(SIG_BLOCK);
        dup2(s->page, STDOUT_FILENO);
    }
}

static void sheet_end(struct screen *s) {
    if (s->out < 0) {
        return;
    }
    dup2(s->terminal_fd, STDOUT_FILENO);
    hold_stops(SIG_UNBLOCK);
    off_t size = lseek(s->page, 0, SEEK_CUR); /* what this picture has written over the last one */
    size_t wanted = s->owed_len + (size_t)(size > 0 ? size : 0);
    char *room = size > 0 && wanted > s->owed_room ? realloc(s->owed, wanted) : s->owed;
    if (room != NULL && size > 0) {
        s->owed = room;
        s->owed_room = wanted > s->owed_room ? wanted : s->owed_room;
        ssize_t got = pread(s->page, s->owed + s->owed_len, (size_t)size, 0);
        s->owed_len += got > 0 ? (size_t)got : 0;
    } else if (size > 0) {
        screen_redraw(s); /* no memory: this frame is lost */
    }
    lseek(s->page, 0, SEEK_SET);
    screen_settle(s);
}

bool screen_settle(struct screen *s) {
    if (s->out < 0) {
        struct pollfd out = {.fd = STDOUT_FILENO, .events = POLLOUT};
        return poll(&out, 1, 0) == 1 && (out.revents & POLLOUT) != 0;
    }
    while (s->owed_from < s->owed_len) {
        ssize_t put = write(s->out, s->owed + s->owed_from, s->owed_len - s->owed_from);
        if (put < 0 && errno == EAGAIN) {
            return false;
        }
        if (put <= 0 && errno != EINTR) {
            break; /* the terminal is gone */
        }
        s->owed_from += put > 0 ? (size_t)put : 0;
    }
    s->owed_from = s->owed_len = 0;
    return true;
}

static bool settle_at_last(struct screen *s) {
    struct pollfd out = {.fd = STDOUT_FILENO, .events = POLLOUT};
    while (!screen_settle(s)) {
        if (poll(&out, 1, LAST_WAIT_MS) <= 0) {
            return false;
        }
    }
    return poll(&out, 1, LAST_WAIT_MS) == 1;
}

/* --- starting and stopping -------------------------------------------------------------------- */

static void start_modes(struct screen *s) {
    cbreak();
    noecho();
    nonl();
    s->pad = newpad(1, 1);
    keypad(s->pad, TRUE);
    nodelay(s->pad, TRUE);
    scrollok(stdscr, FALSE);
    leaveok(stdscr, TRUE);
    curs_set(0);
    set_escdelay(ESCAPE_WAIT_MS);
}

static FILE *open_keys(struct screen *s) {
    if (isatty(STDIN_FILENO)) {
        return stdin;
    }
    s->keys = fopen("/dev/tty", "re");
    return s->keys;
}

enum screen_fault screen_start(struct screen **out, bool colour) {
    *out = NULL;
    struct screen *s = calloc(1, sizeof *s);
    FILE *keys = s != NULL && isatty(STDOUT_FILENO) ? open_keys(s) : NULL;
    if (keys == NULL) {
        free(s);
        return SCREEN_NOT_A_TERMINAL;
    }
    tcgetattr(STDOUT_FILENO, &s->before);
    s->terminal = newterm(NULL, stdout, keys);
    bool blind = s->terminal != NULL && tigetstr("cup") == NULL; /* such as TERM=dumb */
    if (blind) {
        endwin();
        delscreen(s->terminal);
    }
    if (s->terminal == NULL || blind) {
        if (s->keys != NULL) {
            fclose(s->keys);
        }
        free(s);
        return SCREEN_UNKNOWN_TERM;
    }
    set_term(s->terminal);
    start_modes(s);
    start_colours(s, colour);
    sheet_open(s);
    *out = s;
    return SCREEN_OK;
}

void screen_stop(struct screen **s) {
    if (s == NULL || *s == NULL) {
        return;
    }
    struct screen *old = *s;
    *s = NULL;
    if (settle_at_last(old)) {
        endwin();
    } else { /* it takes no sequence now: at least the modes */
        tcsetattr(STDOUT_FILENO, TCSANOW, &old->before);
    }
    delwin(old->pad);
    delscreen(old->terminal);
    sheet_close(old);
    if (old->keys != NULL) {
        fclose(old->keys);
    }
    free(old);
}

int screen_fd(const struct screen *s) {
    return s->keys != NULL ? fileno(s->keys) : STDIN_FILENO;
}

void screen_size(const struct screen *s, int *rows, int *columns) {
    (void)s;
    getmaxyx(stdscr, *rows, *columns);
}

bool screen_resized(struct screen *s) {
    struct winsize size;
    if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) != 0 || size.ws_row == 0 || size.ws_col == 0) {
        return false;
    }
    int rows, columns;
    screen_size(s, &rows, &columns);
    if (rows == size.ws_row && columns == size.ws_col) {
        return false;
    }
    resize_term(size.ws_row, size.ws_col);
    s->rows = 0;
    clearok(curscr, TRUE); /* terminals move lines about when they change size */
    return true;
}

static void paint_cell(const struct screen *s, int row, int column, struct cell cell) {
    const struct ink *ink = &inks[cell.tone < TONES ? cell.tone : TONE_PLAIN];
    wchar_t text[2] = {(wchar_t)cell.rune, L'\0'};
    short pair = s->colour ? (short)(cell.tone + 1) : 0;
    cchar_t shown;
    if (setcchar(&shown, text, s->colour ? ink->with_colour : ink->without, pair, NULL) == OK) {
        /* at the last cell this says ERR, having drawn it: the cursor can't move on */
        (void)mvadd_wch(row, column, &shown);
    }
}

void screen_paint(struct screen *s, const struct grid *g) {
    if (s->rows != g->rows || s->columns != g->columns) {
        erase();
        memset(s->shown, 0, sizeof s->shown[0] * (size_t)(g->rows * g->columns));
        s->rows = g->rows;
        s->columns = g->columns;
    }
    int rows, columns;
    screen_size(s, &rows, &columns);
    for (int row = 0; row < g->rows && row < rows; row++) {
        for (int column = 0; column < g->columns && column < columns; column++) {
            struct cell cell = grid_cell(g, row, column);
            struct cell *shown = &s->shown[row * g->columns + column];
            if (cell.rune != shown->rune || cell.tone != shown->tone) {
                paint_cell(s, row, column, cell);
                *shown = cell;
            }
        }
    }
    wnoutrefresh(stdscr);
    sheet_begin(s);
    doupdate();
    sheet_end(s);
}

void screen_redraw(struct screen *s) {
    (void)s;
    clearok(curscr, TRUE);
}

static const struct {
    wint_t code;
    int press;
} key_codes[] = {
    {KEY_UP, PRESS_UP},       {KEY_DOWN, PRESS_DOWN},     {KEY_LEFT, PRESS_LEFT},
    {KEY_RIGHT, PRESS_RIGHT}, {KEY_PPAGE, PRESS_PAGE_UP}, {KEY_NPAGE, PRESS_PAGE_DOWN},
    {KEY_HOME, PRESS_HOME},   {KEY_END, PRESS_END},       {KEY_BACKSPACE, PRESS_BACKSPACE},
    {KEY_ENTER, PRESS_ENTER},
};

static int code_press(wint_t code) {
    for (size_t i = 0; i < sizeof key_codes / sizeof key_codes[0]; i++) {
        if (key_codes[i].code == code) {
            return key_codes[i].press;
        }
    }
    return PRESS_OTHER;
}

int screen_key(struct screen *s) {
    wint_t key = 0;
    int got = wget_wch(s->pad, &key);
    if (got == ERR) {
        return PRESS_NONE;
    }
    if (got == KEY_CODE_YES && key == KEY_RESIZE) {
        s->rows = 0; /* ncurses has cut or grown its own picture */
        return PRESS_RESIZE;
    }
    if (got == KEY_CODE_YES) {
        return code_press(key);
    }
    if (key == L'\n') {
        return PRESS_ENTER;
    }
    if (key == 0x7F || key == 0x08) {
        return PRESS_BACKSPACE;
    }
    return key == 0 ? PRESS_OTHER : (int)key;
}

void screen_bell(struct screen *s) {
    if (!screen_settle(s)) {
        return; /* a bell that rings late tells the wrong thing */
    }
    sheet_begin(s);
    beep();
    sheet_end(s);
}
