/* The terminal, through ncurses, and nowhere else.  There is one screen a process, since ncurses
 * has one; setlocale(LC_CTYPE, "") comes before everything here.  No call blocks. */
#ifndef SCREEN_SCREEN_H
#define SCREEN_SCREEN_H

#include <stdbool.h>

#include "view/grid.h"
#include "view/keys.h"

enum screen_fault {
    SCREEN_OK,
    SCREEN_NOT_A_TERMINAL, /* output goes elsewhere, or there is no terminal to read keys from */
    SCREEN_UNKNOWN_TERM,   /* TERM is unset, or terminfo doesn't know it */
};

struct screen; /* ours: screen_start .. screen_stop */

/* Whether the locale's characters are UTF-8: the caller sets grid.ascii where they aren't. */
bool screen_utf8(void);

/* Takes the terminal over: standard output, keys from standard input or, where that is no terminal
 * (a pipe is being watched), from /dev/tty.  colour false, NO_COLOR in the environment or a
 * terminal without colours: attributes only.  *out is NULL unless SCREEN_OK. */
enum screen_fault screen_start(struct screen **out, bool colour);

/* Gives the terminal back as it was; NULL is fine, so is a second call on the same pointer. */
void screen_stop(struct screen **s);

/* To poll for keys. */
int screen_fd(const struct screen *s);

void screen_size(const struct screen *s, int *rows, int *columns);

/* The size may have changed (SIGWINCH): asks the terminal; true when it is another one now. */
bool screen_resized(struct screen *s);

/* Shows the grid; ncurses sends only what differs from what is shown. */
void screen_paint(struct screen *s, const struct grid *g);

/* Sends what the terminal hasn't taken yet of what was painted; true when that is all of it.  Until
 * then nothing more is to be painted. */
bool screen_settle(struct screen *s);

/* What is shown can't be trusted: the next paint sends everything. */
void screen_redraw(struct screen *s);

/* The next key, PRESS_NONE when there is none; PRESS_RESIZE calls for screen_resized. */
int screen_key(struct screen *s);

void screen_bell(struct screen *s);

#endif
