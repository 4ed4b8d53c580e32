/* What the parts of the reach share; not for others. */
#ifndef STUDY_REACH_PARTS_H
#define STUDY_REACH_PARTS_H

#include "study/reach.h"

struct reach_point {
    const struct walk_stop *stop;
    double x;             /* log10 metres */
    double lost, packets; /* the assumed ones included */
};
struct reach_points {
    uint32_t count;
    struct reach_point at[WALK_STOPS_MAX]; /* ascending distance */
};

/* Chooses the stops and puts them in order; fills the result's counts and facing. */
void reach_choose(const struct walk_stop *stops, uint32_t count, struct reach_points *points,
                  struct reach *out);

/* How often more than independent packets the losses of a stop vary, 1 or more. */
double reach_bursts(const struct reach_points *points);

/* Quantiles of the range's posterior: at_least_m and at_most_m are one-sided at the level of the
 * settings, low_m and high_m enclose it.  They may lie outside the walk. */
struct reach_range {
    double low_m, at_least_m, m, at_most_m, high_m;
};

/* Integrates over the slope, the spread by place and the range: time is bounded, about 20 ms for
 * 12 stops and 85 for 64.
 * False, and nothing written: no curve comes near these stops. */
bool reach_fit_find(const struct reach_points *points, const struct reach_settings *settings,
                    struct reach_range *range, struct reach_fit *fit);

/* The loss that belongs to the curve's i-th distance, a share. */
double reach_curve_loss(int i);

/* Exponent and flip. */
void reach_signal(const struct reach_points *points, const struct reach_settings *settings,
                  struct reach *out);

#endif
