/* What a console test has around it: a temporary folder, a pseudo-terminal that plays the
 * receiver's serial port, a receiver that counts as ours would, and the console in its terminal.
 * Whatever fails shows the screen. */
#ifndef TESTS_PTY_WORLD_H
#define TESTS_PTY_WORLD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "term.h"

struct world {
    char folder[64];
    const char *program;
    struct term *term;
    int port; /* master end, -1: none */
    char port_name[64];
    /* the receiver, as it counts */
    uint32_t n, t_ms, got, lost, age_ms;
};

/* Fixtures of cmocka. */
int world_begin(void **state);
int world_end(void **state);

/* Plugs the port in, or pulls it out. */
void world_plug(struct world *w);
void world_unplug(struct world *w);

/* A name in the folder that leads to the port plugged in now; made anew when it is there. */
const char *world_link(struct world *w, const char *name);

struct start {
    int rows, columns;      /* 0: 24 x 80 */
    const char *const *env; /* NULL: none but the pinned */
};

/* Starts the program with these arguments (NULL-terminated). */
void world_run(struct world *w, struct start how, const char *const *arguments);

/* Plugs a port in, starts watch on it with these further arguments, and waits for its page. */
void world_watch(struct world *w, struct start how, const char *const *further);

/* Bytes onto the wire, while the console goes on. */
void world_wire(struct world *w, const char *bytes, size_t len);
void world_line(struct world *w, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* The line by which the receiver says who it is: 100 packets a second, four channels. */
void world_identity(struct world *w);

/* So many reports, 50 ms apart, of `missing` and then `arrived` packets each (5 are sent in that
 * time), with more keys.  Without an arrived one the missing aren't known yet. */
void world_reports(struct world *w, int count, int arrived, int missing, const char *more);

/* Wait, and fail with the screen shown. */
void world_shows(struct world *w, const char *text);
void world_shows_row(struct world *w, const char *const *texts);
void world_shows_at(struct world *w, int row, const char *text);
void world_hides(struct world *w, const char *text);
void world_lacks(struct world *w, const char *text); /* not there now */
/* The link's state by its word, however the page spaces its letters; only the state's own rows
 * count. */
void world_state(struct world *w, const char *word);
void world_fail(struct world *w, const char *what, const char *about) __attribute__((noreturn));

/* Asserts; the screen is shown too. */
void world_check(struct world *w, bool holds, const char *what);

/* The file's text in the folder, NUL-terminated, to be freed; NULL when there is none.  The name
 * may be a pattern. */
char *world_file(struct world *w, const char *pattern);

/* Waits until the file holds text; its whole text, to be freed. */
char *world_file_holds(struct world *w, const char *pattern, const char *text);

/* The same, with nothing read from the terminal meanwhile. */
char *world_file_holds_unseen(struct world *w, const char *pattern, const char *text);

/* Runs the program without a terminal; its standard output, to be freed, and exit status. */
char *world_output(struct world *w, const char *const *arguments, int *status);

#define WORDS(...) ((const char *const[]){__VA_ARGS__, NULL})
#define NOTHING    ((const char *const[]){NULL})

#endif
