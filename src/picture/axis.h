/* An axis: values to places on the page, and ticks at round values. */
#ifndef PICTURE_AXIS_H
#define PICTURE_AXIS_H

#include <stdbool.h>

enum { AXIS_TICKS = 24, AXIS_LABEL = 24 };

struct axis {
    double from, to;       /* values at the ends, from < to; of a logarithmic one above 0 */
    double at_from, at_to; /* their places */
    bool log;
    int ticks;
    double tick[AXIS_TICKS];
    char label[AXIS_TICKS][AXIS_LABEL]; /* empty: a tick without one */
    const char *unit;                   /* of axis_time: what the labels are in; else NULL */
};

/* The step of 1, 2 or 5 times a power of ten, the smallest with which at most `most` steps span
 * `span`; both above 0. */
double axis_step(double span, int most);

/* low..high widened to whole steps, at most `most` ticks (3 or more).  high <= low: widened. */
void axis_linear(struct axis *a, double low, double high, int most);
/* 0 < low < high.  The ends as they are; ticks at 1, 2 and 5, or 1 alone, times powers of ten. */
void axis_log(struct axis *a, double low, double high, int most);
/* Times from 0 to span_ms, the end as it is; ticks at round times, and their unit in words. */
void axis_time(struct axis *a, double span_ms, int most);

void axis_place(struct axis *a, double at_from, double at_to);

/* Where a value lies; beyond the ends it is put at the end. */
double axis_at(const struct axis *a, double value);

#endif
