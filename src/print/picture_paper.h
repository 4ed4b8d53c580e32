/* Paper against field: the level that should arrive over the distance, what the receiver needs, and
 * where the link ended on a walk. */
#ifndef PRINT_PICTURE_PAPER_H
#define PRINT_PICTURE_PAPER_H

#include "print/picture.h"
#include "radio/budget.h"
#include "study/missing.h"

struct picture_paper {
    const struct budget_inputs *in;
    const struct missing *by_range; /* NULL: no range was walked */
    double range_m, low_m, high_m;  /* of by_range */
    const struct missing *by_level; /* NULL: no level was measured */
    double level_dbm;               /* of by_level, at in->distance_m */
};

void picture_paper(struct picture *p, enum picture_size size, const struct picture_paper *facts);

#endif
