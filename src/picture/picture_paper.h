/* Paper against field: the level that should arrive over the distance, what the receiver needs, and
 * where the link ended on a walk. */
#ifndef PICTURE_PICTURE_PAPER_H
#define PICTURE_PICTURE_PAPER_H

#include "picture/picture.h"
#include "text/budget_text.h"

struct picture_paper {
    const char *file; /* the walk's; NULL: none */
    const struct budget_inputs *in;
    const struct budget_facts *field; /* by_range counts more than the walk; NULL: paper alone */
};

void picture_paper(struct picture *p, enum picture_size size, const struct picture_paper *facts);

#endif
