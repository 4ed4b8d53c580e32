/* The band as the receiver's sweeps found it: a picture, and the words that go with it.  One look
 * for the console, where a key opens it over the page, and for text on paper. */
#ifndef VIEW_AIR_H
#define VIEW_AIR_H

#include "study/survey.h"
#include "view/parts.h"

/* The rows that it wants at this width; without a sweep they say how to make one. */
int air_rows(const struct survey *s, int columns);

/* Draws into the place; what doesn't fit is cut off at its end.  Returns the rows drawn. */
int air_draw(struct grid *g, const struct survey *s, struct place at);

#endif
