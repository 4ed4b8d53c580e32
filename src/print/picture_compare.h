/* Two sets of recordings: the loss of each, and the difference, with their intervals. */
#ifndef PRINT_PICTURE_COMPARE_H
#define PRINT_PICTURE_COMPARE_H

#include "print/picture.h"
#include "study/compare.h"

struct picture_compare {
    const struct compare *found;
    const struct side_samples *a, *b;
};

void picture_compare(struct picture *p, enum picture_size size,
                     const struct picture_compare *facts);

#endif
