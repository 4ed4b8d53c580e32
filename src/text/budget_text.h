/* The link on paper, as text for people and as JSON. */
#ifndef TEXT_BUDGET_TEXT_H
#define TEXT_BUDGET_TEXT_H

#include "radio/budget.h"
#include "study/missing.h"
#include "text/figures_text.h"

/* What a walk's recording adds. */
struct budget_walk {
    const char *file;   /* as the person named it */
    struct reach reach; /* where the link ended */
    enum missing_known known;
    struct missing range;
    uint32_t level_stops; /* those that tell a level; 0: none */
    struct missing level;
    uint32_t step; /* power step of the walk, 0 unknown */
};

/* Whence an input is; that of a pair is given where both are. */
enum budget_source {
    BUDGET_ASSUMED, /* a usual value: budget_defaults */
    BUDGET_GIVEN,   /* by the person, or by what the person gave */
    BUDGET_TOLD,    /* by the recording */
};

struct budget_from {
    enum budget_source mhz, kbps, power, sensitivity, antennas, heights;
};

struct budget_facts {
    uint32_t step; /* power step of the chip, 0: the power was given */
    struct budget_from from;
    double walked_m;  /* as far as the link reached in the field; NAN unknown */
    double level_dbm; /* measured over the distance; NAN unknown */
    const struct missing *by_range, *by_level; /* of those two, NULL unknown */
    const struct budget_walk *walk;            /* NULL: none was given */
};

/* How many decibels are surely missing, by all that the field says; false: none surely are. */
bool budget_surely_missing(const struct budget_facts *facts, double *db);

/* Text with \n line ends. */
void budget_text(const struct budget_inputs *in, const struct budget *b,
                 const struct budget_facts *facts, say_put *put, void *where);

#endif
