/* Small moves for laying out a page: text cut to its place, rules, frames, wrapped lines.  `right`
 * is the column after the last one that may be used. */
#ifndef VIEW_LAY_H
#define VIEW_LAY_H

#include "view/grid.h"

/* Text cut at `right`, the cut shown by a mark; returns the column after it. */
int lay_text(struct grid *g, int row, int column, int right, enum tone tone, const char *text);
int lay_format(struct grid *g, int row, int column, int right, enum tone tone, const char *format,
               ...) __attribute__((format(printf, 6, 7)));

/* The same, where the end of the text matters most: a path loses its front. */
int lay_tail(struct grid *g, int row, int column, int right, enum tone tone, const char *text);

/* Text that ends at `right`; drawn only when it begins at `least` or after.  Returns its first
 * column, or `right` when it wasn't drawn. */
int lay_right(struct grid *g, int row, int least, int right, enum tone tone, const char *text);

/* A heading with a rule up to `right`. */
void lay_heading(struct grid *g, int row, int column, int right, const char *title);

/* A frame around rows x columns, its inside blank; `heavy` stands out without colour too. */
void lay_frame(struct grid *g, int row, int column, int rows, int columns, enum tone tone,
               bool heavy);

/* Cuts the next line of at most `width` columns off *rest, at a newline or between words. */
struct slice lay_line(struct slice *rest, int width);

#endif
