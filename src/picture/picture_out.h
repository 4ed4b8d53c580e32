/* What a picture becomes: SVG, or rows of a terminal. */
#ifndef PICTURE_PICTURE_OUT_H
#define PICTURE_PICTURE_OUT_H

#include "picture/picture.h"
#include "text/say.h"

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
