/* The range walk: loss over distance, stop by stop, with the fit and what it leaves open. */
#ifndef PICTURE_PICTURE_WALK_H
#define PICTURE_PICTURE_WALK_H

#include "picture/picture.h"
#include "study/reach.h"

struct picture_walk {
    const char *file; /* NULL: not shown */
    const struct walk *walk;
    const struct reach *reach;       /* of that walk */
    bool acked;                      /* loss is after retries */
    const struct picture_room *room; /* NULL: the usual page */
};

void picture_walk(struct picture *p, enum picture_size size, const struct picture_walk *facts);

#endif
