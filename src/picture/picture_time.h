/* What the pictures over time share: the axis, the groups of bins, the lanes of events. */
#ifndef PICTURE_PICTURE_TIME_H
#define PICTURE_PICTURE_TIME_H

#include "picture/pictures.h"
#include "picture/sheet.h"

struct time_page {
    struct sheet sheet;
    const struct course *course;
    struct axis x;
    uint32_t group; /* bins joined for one step of a curve */
};

/* Title, file, axis; false where there is no time to draw over: the page then says so. */
bool time_begin(struct time_page *t, struct picture *p, const char *title,
                const struct picture_facts *facts);

/* The steps: index from 0 while below time_steps; the bin joined and where it lies on the page. */
uint32_t time_steps(const struct time_page *t);
void time_step(const struct time_page *t, uint32_t index, struct course_bin *bin, double *from_x,
               double *to_x);

/* The lanes of what happened, with the axis under the last of them.  Lanes without anything that
 * happened are named in a sentence. */
void time_lanes(struct time_page *t, const struct picture_facts *facts, struct picture_rect plot);

/* "12.3 s", "4 min 05 s". */
const char *time_words(char *out, size_t size, double ms);

#endif
