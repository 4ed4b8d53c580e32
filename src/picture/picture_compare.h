/* Two sets of recordings: the loss of each, and the difference, with their intervals. */
#ifndef PICTURE_PICTURE_COMPARE_H
#define PICTURE_PICTURE_COMPARE_H

#include "picture/picture.h"
#include "study/compare.h"

struct picture_compare {
    const struct compare *found;
    const struct side_samples *a, *b;
};

void picture_compare(struct picture *p, enum picture_size size,
                     const struct picture_compare *facts);

#endif
