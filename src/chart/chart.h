/* The helper program: a picture's text form (print/picture_out.h) in, PNG or PDF out. */
#ifndef CHART_CHART_H
#define CHART_CHART_H

#include <stdio.h>

#include "print/picture_out.h"

/* Reads the text form, changing `text`, a NUL-terminated string.  0, or the number of the first
 * line that isn't right; `why` then says what is wrong, a static text. */
unsigned chart_read(struct picture *p, char *text, const char **why);

enum chart_form { CHART_PNG, CHART_PDF };

/* Draws it into a file; false on trouble, which `why` then says (static text). */
bool chart_draw(const struct picture *p, enum chart_form form, enum picture_theme theme, FILE *out,
                const char **why);

#endif
