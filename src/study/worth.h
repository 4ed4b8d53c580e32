/* What a difference in loss is worth in decibels, by the curve of a range walk: as if B's signal
 * were so much stronger.  At one place cloglog(loss) = ln(-ln(1 - loss)) grows by the walk's slope
 * for ten times the distance, so the difference of two over the slope is one in log10(d), and 10 n
 * times that are decibels. */
#ifndef STUDY_WORTH_H
#define STUDY_WORTH_H

#include "study/compare.h"
#include "study/reach.h"

#define WORTH_N_FREE   2.0 /* free space */
#define WORTH_N_GROUND 4.0 /* two rays, near the ground and far out */

enum worth_lack {
    WORTH_LACKS_NOTHING,
    WORTH_LACKS_LOSS,  /* nothing was compared: see the comparison's lack */
    WORTH_NONE_OR_ALL, /* a side lost none, or all */
    WORTH_LACKS_SLOPE, /* the walk has no curve whose rise is sure: see its verdict */
};

/* All db: positive where B loses less. */
struct worth {
    enum worth_lack lack; /* WORTH_LACKS_NOTHING: what follows holds */
    double distance;      /* B's loss is that of A at so many times its distance */
    double free_db, ground_db;
    bool n_known;
    double n, db; /* by the walk's own exponent */
    double low_db,
        high_db; /* over the intervals of the difference and the slope, and over n (its 95 %
                    interval within 1 to 6, or 2..4); infinite where the loss of B may be 0 or 1 */
};

void worth_find(const struct compare *c, const struct reach *r, struct worth *out);

#endif
