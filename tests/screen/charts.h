/* Charts of the simulated receiver's scenes, drawn as the console draws them. */
#ifndef TESTS_SCREEN_CHARTS_H
#define TESTS_SCREEN_CHARTS_H

#include <stdbool.h>

#include "view/grid.h"

/* Draws the shot of that name into g, which has its size; false where there is none. */
bool charts_shot(const char *name, struct grid *g);

#endif
