#include "stat/joint.h"

#include <math.h>
#include <stdbool.h>

#include "stat/sample.h"

static const double slack = 1e-9; /* equal sums in another order count as equal */

void stat_joint_standardise(double *row, size_t arrangements) {
    struct stat_moments m = {0};
    double sd;
    for (size_t i = 0; i < arrangements; i++)
        stat_moments_add(&m, row[i]);
    bool varies = stat_moments_sd(&m, &sd) && sd > 1e-12;
    for (size_t i = 0; i < arrangements; i++)
        row[i] = varies ? (row[i] - m.mean) / sd : 0;
}

/* Tests with the largest seen statistic first. */
static void strongest_first(const double *table, size_t tests, size_t arrangements, size_t *order) {
    for (size_t k = 0; k < tests; k++) {
        size_t at = k;
        for (; at > 0 && table[order[at - 1] * arrangements] < table[k * arrangements]; at--)
            order[at] = order[at - 1];
        order[at] = k;
    }
}

static double share_as_large(const double *most, size_t arrangements, double seen) {
    size_t count = 0;
    for (size_t i = 0; i < arrangements; i++)
        count += most[i] >= seen - slack * (1 + fabs(seen));
    return (double)count / (double)arrangements;
}

void stat_joint(const double *table, size_t tests, size_t arrangements, double *adjusted,
                size_t *order, double *most) {
    double least = 0;
    strongest_first(table, tests, arrangements, order);
    for (size_t i = 0; i < arrangements; i++)
        most[i] = -INFINITY;
    for (size_t k = tests; k-- > 0;) {
        const double *row = &table[order[k] * arrangements];
        for (size_t i = 0; i < arrangements; i++)
            most[i] = row[i] > most[i] ? row[i] : most[i];
        adjusted[order[k]] = share_as_large(most, arrangements, row[0]);
    }
    for (size_t k = 0; k < tests; k++) {
        least = adjusted[order[k]] > least ? adjusted[order[k]] : least;
        adjusted[order[k]] = least;
    }
}
