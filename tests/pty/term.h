/* A program in a terminal that is judged by a terminal emulator (libvterm): started with a pinned
 * environment, fed with keys, and asked what its screen shows.  Waiting is for something to appear,
 * with a deadline; nothing sleeps for a fixed time. */
#ifndef TESTS_PTY_TERM_H
#define TESTS_PTY_TERM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/types.h>
#include <termios.h>

enum { TERM_DEADLINE_MS = 20000 };

struct term;

struct term_setup {
    int rows, columns;
    const char *folder;     /* the working folder and HOME */
    const char *const *env; /* more NAME=VALUE, or other values for the pinned ones; NULL: none */
};

/* Starts argv[0]; NULL when it couldn't be. */
struct term *term_start(const struct term_setup *setup, char *const argv[]);

/* Kills what still runs and frees; NULL is fine. */
void term_free(struct term *t);

pid_t term_pid(const struct term *t);

/* Takes what the program has written, waiting up to ms for the first of it; false when there was
 * nothing. */
bool term_pump(struct term *t, int ms);

/* Waits until some row holds text, or until none does; false at the deadline. */
bool term_wait(struct term *t, const char *text);
bool term_wait_gone(struct term *t, const char *text);

/* Waits until one row holds all of texts (NULL-terminated), in order. */
bool term_wait_row(struct term *t, const char *const *texts);

/* Waits until the program has ended: its exit status, 1000 + signal, or -1 at the deadline. */
int term_wait_end(struct term *t);

void term_send(struct term *t, const char *keys);
void term_resize(struct term *t, int rows, int columns);

/* Closes the terminal under the program, as a window that is shut. */
void term_hang_up(struct term *t);

/* The screen as UTF-8, rows ended by \n, without trailing blanks; lives until the next call. */
const char *term_text(struct term *t);

/* One row; lives as long. */
const char *term_row(struct term *t, int row);

/* Where text begins (columns are cells); false when it isn't there. */
bool term_find(struct term *t, const char *text, int *row, int *column);

struct term_look {
    bool bold, reverse, underline, coloured; /* coloured: text or ground isn't the default */
};
struct term_look term_look_at(const struct term *t, int row, int column);

/* All cells together: set where at least one cell is so. */
struct term_look term_look_any(const struct term *t);

bool term_cursor_visible(const struct term *t);
bool term_altscreen(const struct term *t);
unsigned term_bells(const struct term *t);
struct termios term_modes(const struct term *t);

/* Counts from now on how often this cell is drawn. */
void term_count_cell(struct term *t, int row, int column);
unsigned long term_counted(const struct term *t);

/* All bytes that the program wrote to its terminal, from the start. */
const char *term_bytes(const struct term *t, size_t *len);

#endif
