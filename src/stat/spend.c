#include "stat/spend.h"

#include <math.h>

#include "stat/distribution.h"

static const double pocock[SPEND_LOOKS_MAX] = {1.960, 2.178, 2.289, 2.361, 2.413};
static const double late[SPEND_LOOKS_MAX] = {1.960, 1.977, 2.004, 2.024, 2.040};

bool stat_spend(enum spend_shape shape, int looks, int look, struct spend_hurdle *out) {
    if (looks < 1 || looks > SPEND_LOOKS_MAX || look < 1 || look > looks)
        return false;
    if (shape == SPEND_POCOCK)
        out->z = pocock[looks - 1];
    else
        out->z = late[looks - 1] * sqrt((double)looks / (double)look);
    out->p = 2 * stat_normal_tail(out->z);
    return true;
}
