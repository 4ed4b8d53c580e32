/* The colours of the roles.  Text stands against the paper with a contrast of 4.5 or more, marks
 * and lines but the grid with 3 or more (WCAG 2.1, 1.4.3 and 1.4.11); a test works that out. */
#ifndef PICTURE_PALETTE_H
#define PICTURE_PALETTE_H

#include <stdint.h>

#include "picture/picture_out.h"

uint32_t palette_colour(enum picture_role role, enum picture_theme theme); /* 0xRRGGBB */

/* Size of a face, units. */
double palette_face_size(enum picture_face face);

#endif
