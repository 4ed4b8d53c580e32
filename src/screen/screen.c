#include "screen/screen.h"

#define NCURSES_WIDECHAR 1
#include <curses.h>
#include <langinfo.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>
#include <wchar.h>

enum { ESCAPE_WAIT_MS = 25 }; /* a lone Esc is taken for one after this */

struct screen {
    SCREEN *terminal;
    FILE *keys; /* /dev/tty where we opened it, else NULL */
    bool colour;
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
    for (short tone = 0; tone < TONES; tone++) {
        const struct ink *ink = &inks[tone];
        bool many = COLORS >= 256;
        init_pair((short)(tone + 1), many ? ink->text256 : ink->text8,
                  many ? ink->ground256 : ink->ground8);
    }
}

static void start_modes(void) {
    cbreak();
    noecho();
    nonl();
    keypad(stdscr, TRUE);
    nodelay(stdscr, TRUE);
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
    s->terminal = newterm(NULL, stdout, keys);
    if (s->terminal == NULL) {
        if (s->keys != NULL) {
            fclose(s->keys);
        }
        free(s);
        return SCREEN_UNKNOWN_TERM;
    }
    set_term(s->terminal);
    start_modes();
    start_colours(s, colour);
    *out = s;
    return SCREEN_OK;
}

void screen_stop(struct screen **s) {
    if (s == NULL || *s == NULL) {
        return;
    }
    struct screen *old = *s;
    *s = NULL;
    endwin();
    delscreen(old->terminal);
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
    doupdate();
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
    int got = get_wch(&key);
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
    (void)s;
    beep();
    fflush(stdout);
}
