/* The guided trials: what stands at the end, and what each newest one showed. */
#ifndef PICTURE_PICTURE_TRIALS_H
#define PICTURE_PICTURE_TRIALS_H

#include "picture/picture.h"
#include "trial/book.h"

struct picture_trials {
    const char *file; /* NULL: not shown */
    const struct book *book;
};

void picture_trials(struct picture *p, enum picture_size size, const struct picture_trials *facts);

#endif
