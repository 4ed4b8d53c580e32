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

/* Fits the curve; the verdict is REACH_CLOSED where the fit alone would close it. */
void reach_curve(const struct reach_points *points, const struct reach_settings *settings,
                 struct reach *out);

/* Exponent and flip. */
void reach_signal(const struct reach_points *points, const struct reach_settings *settings,
                  struct reach *out);

#endif
