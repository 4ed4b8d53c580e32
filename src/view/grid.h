/* A grid of cells: what a screen shows, as data.  Row 0 is the top, column 0 the left; every cell
 * holds one single-width character and a tone.  Writes outside are cut off, never an error.  No
 * terminal is needed, so tests compare grids as text. */
#ifndef VIEW_GRID_H
#define VIEW_GRID_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/slice.h"

enum { GRID_ROWS_MAX = 200, GRID_COLUMNS_MAX = 400 };

/* What a cell means; screen/ turns it into colour or, in monochrome, into bold, dim or reverse. */
enum tone {
    TONE_PLAIN,
    TONE_FAINT, /* little evidence, or secondary */
    TONE_HEADING,
    TONE_GOOD,
    TONE_CAUTION,
    TONE_TROUBLE,
    TONE_MARK,   /* what the person set */
    TONE_KEY,    /* a key to press */
    TONE_BANNER, /* a caution across the whole width */
    TONES
};

struct cell {
    uint32_t rune; /* Unicode; in the ASCII look below 0x7F only */
    uint8_t tone;
};

struct grid {
    int rows, columns;
    bool ascii; /* the terminal has no UTF-8: glyph pairs give their ASCII side */
    struct cell cell[GRID_ROWS_MAX * GRID_COLUMNS_MAX];
};

/* Sets the size, cut to the limits above (at least 1 x 1), and clears all cells to blanks. */
void grid_resize(struct grid *g, int rows, int columns);
void grid_clear(struct grid *g);

/* Writes UTF-8 text at row, column; returns the column after it.  Control characters and anything
 * not single-width become '?': no byte from the wire reaches a terminal raw. */
int grid_text(struct grid *g, int row, int column, enum tone tone, const char *text);
int grid_slice(struct grid *g, int row, int column, enum tone tone, struct slice text);
int grid_format(struct grid *g, int row, int column, enum tone tone, const char *format, ...)
    __attribute__((format(printf, 5, 6)));

/* One character: `rune` where the terminal has UTF-8, else `ascii`. */
void grid_glyph(struct grid *g, int row, int column, enum tone tone, uint32_t rune, char ascii);

/* Blanks with a tone; and the columns that a text takes. */
void grid_fill(struct grid *g, int row, int column, int rows, int columns, enum tone tone);
int grid_columns_of(const char *text);

/* The cell, or a blank one outside. */
struct cell grid_cell(const struct grid *g, int row, int column);

/* The row as UTF-8 without trailing blanks, NUL-terminated, into out of at least
 * 4 * GRID_COLUMNS_MAX + 1 bytes; returns its length. */
size_t grid_row_text(const struct grid *g, int row, char *out);

#endif
