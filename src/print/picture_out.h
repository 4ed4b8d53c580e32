/* What a picture becomes: its text form, SVG, or rows of a terminal.
 *
 * The text form, for the helper program: one thing a line, fields divided by one space, places in
 * units with one decimal, equal pictures give equal bytes.
 *   airleash-picture 1
 *   page WIDTH HEIGHT
 *   title TEXT
 *   about TEXT
 *   group TEXT
 *   line ROLE WIDTH DASH COUNT X Y ...       dash: solid, dashed, dotted, dashdot
 *   segments ROLE WIDTH DASH COUNT X Y ...   in pairs
 *   area ROLE COUNT X Y ...
 *   box ROLE X Y X Y
 *   mark ROLE SHAPE RADIUS X Y
 *   words ROLE FACE ANCHOR WIDTH X Y TEXT    face: title, body, small; anchor: start, middle, end
 *   end
 * TEXT goes to the line's end and holds no control character. */
#ifndef PRINT_PICTURE_OUT_H
#define PRINT_PICTURE_OUT_H

#include "print/picture.h"
#include "print/say.h"

void picture_lines(const struct picture *p, say_put *put, void *where);

enum picture_theme { THEME_LIGHT, THEME_DARK };

/* SVG with real text, a title and a description.  Alone: a file of its own, in one theme.  Within
 * a page: `prefix` makes its ids unique there, and the page's style has picture_style's rules. */
void picture_svg(const struct picture *p, enum picture_theme theme, say_put *put, void *where);
void picture_svg_within(const struct picture *p, const char *prefix, say_put *put, void *where);
/* Rules of CSS for the roles: class "picture" on the svg element. */
void picture_style(enum picture_theme theme, say_put *put, void *where);

/* A picture of PICTURE_CELLS as rows of characters, 79 where it wasn't fitted, with \n; braille
 * dots and block characters (UTF-8), or plain ASCII. False: no memory. */
bool picture_cells(const struct picture *p, bool ascii, say_put *put, void *where);

/* The same cell by cell, row by row from the left, blank ones left out: one character of a single
 * width, and what it belongs to. */
typedef void picture_take(void *where, int row, int column, uint32_t rune, enum picture_role role);
bool picture_each_cell(const struct picture *p, bool ascii, picture_take *take, void *where);

#endif
