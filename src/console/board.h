/* Whether the `id` lines of a port go on being those of one board, the one that is expected there.
 * Pure. */
#ifndef CONSOLE_BOARD_H
#define CONSOLE_BOARD_H

#include "telemetry/event.h"

enum board_news {
    BOARD_SAME,      /* nothing new, or nothing was known before */
    BOARD_OTHER_END, /* the transmitter where a receiver is expected, or the other way round */
    BOARD_FIRMWARE,  /* another `fw` than before */
    BOARD_ADDRESS,   /* another `addr` than before */
};

enum {
    BOARD_TEXT = 96,  /* longer names are compared so far */
    BOARD_NEWS = 240, /* what board_words writes at most */
};

struct board_end {
    bool known, refused;                   /* an id line of this end was taken; it isn't expected */
    char fw[BOARD_TEXT], addr[BOARD_TEXT]; /* "": not told */
};

struct board {
    struct board_end end[2]; /* receiver, transmitter */
};

/* A receiver is expected. */
void board_init(struct board *b);

/* What this line says that is new.  A key that wasn't there before is no news. */
enum board_news board_look(const struct board *b, const struct identity *id);

/* Takes the line as this board's own. */
void board_take(struct board *b, const struct identity *id);

/* The news in one sentence, "The firmware is now tug-4, it was tug-3."; "" for none. */
void board_words(const struct board *b, const struct identity *id, char out[static BOARD_NEWS]);

#endif
