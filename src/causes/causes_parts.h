/* What the files of the search for causes share. */
#ifndef CAUSES_CAUSES_PARTS_H
#define CAUSES_CAUSES_PARTS_H

#include "causes/causes.h"

enum { BEFORE_CELLS = DROP_BEFORE_MS / TRACE_CELL_MS };

/* What a cell says of a candidate; NAN unknown.  *memory begins as NAN and is the function's own.
 */
typedef float cell_value(const struct trace *t, uint32_t cell, int channel, float *memory);

struct candidate {
    const char *name;
    cell_value *value;   /* NULL: a fact, or a test of its own */
    uint32_t any_key;    /* it needs one of these keys, */
    const char *missing; /* else this is said */
    int before, after;   /* cells around a drop's begin */
    int stage;           /* place in a chain: the least is the most upstream */
    unsigned lines;      /* bits: chains run along one of these */
    bool twitch;         /* also a candidate for twitches */
    const char *next;
};
extern const struct candidate causes_candidates[CAUSES];

/* The candidate's value in each cell, NAN unknown.  What stands still by its own noise is level:
 * 0 for outputs and supplies.  work: `cells` floats. */
void causes_series(const struct trace *t, enum cause_id id, int channel, float *values,
                   float *work);

struct causes_rhythm {
    uint32_t events, explained; /* within a quarter of the turn, or with the usual gap */
    double expected, p, period_ms;
};
/* A clock faster than 2 Hz in the begins of loss runs; false: too few of them, or none searched. */
bool causes_rhythm(const struct trace *t, struct causes_rhythm *out);
/* Outages at regular intervals, from their begins in ms, ascending; work: `count` doubles.  False
 * with fewer than eight. */
bool causes_regular(const double *begin_ms, uint32_t count, double *work,
                    struct causes_rhythm *out);

/* Does loss change from stop to stop with the distance?  false: fewer than five stops. */
struct causes_distance {
    bool tested;
    uint32_t events, explained; /* losses at the farther half of the stops */
    double expected, effect;
    double rises, falls; /* one-sided p of Kendall's trend */
};
bool causes_distance(const struct trace *t, struct causes_distance *out);

/* Is the signal far below the link budget at every stop?  Stops whose strength is known (rssi), or
 * bounded by the carrier detector where the budget lies far enough above it.  false: fewer than
 * three of them, or no budget. */
struct causes_antenna {
    bool walked;          /* stops with a distance are marked */
    uint32_t stops, weak; /* that tell; of them far below the budget */
    double expected, p;
    double below_db; /* at each of the weak ones, at least */
};
bool causes_antenna(const struct trace *t, struct causes_antenna *out);

/* Do losses grow over the run?  false: it is too short, or a walk, where time and distance go
 * together. */
struct causes_drift {
    uint32_t events, explained; /* outages, or packets lost; those in the last third */
    double expected, effect;
    double p; /* one-sided, of Kendall's trend */
    const char *supply;
    double fall_mv;
};
/* outages: NULL where the losses are looked at. */
bool causes_drift(const struct trace *t, const struct chance_events *outages,
                  struct causes_drift *out);

#endif
