/* Does something come before the drops more than chance brings?  The events are held against the
 * series as they lie, and moved round in time as a whole, by every step that there is: that keeps
 * how each of them clumps, so that two things which both come in spells aren't taken for cause and
 * effect.  All candidates are moved by the same steps, so that they can be judged together
 * (stat/joint.h). */
#ifndef STUDY_CHANCE_H
#define STUDY_CHANCE_H

#include <stdbool.h>
#include <stdint.h>

enum {
    CHANCE_SHIFTS_MAX = 2400, /* in longer recordings a step is more than one cell */
    CHANCE_EVENTS_MAX = 1024,
    CHANCE_CELLS_LEAST = 200, /* fewer give no verdict: a window alone is 3 % of these */
};

struct chance_events {
    uint32_t count; /* of cell[] */
    int32_t cell[CHANCE_EVENTS_MAX];
    uint16_t weight[CHANCE_EVENTS_MAX]; /* events in that cell */
};

struct chance_test {
    uint32_t events;    /* whose surroundings are known */
    float above;        /* a value that a half, a quarter or a tenth of all moments lie above:
                           whichever sets the events apart best */
    uint32_t explained; /* events with a value above it, */
    double expected;    /* and how many of these chance gives */
    double effect;      /* how many times as often events come while the value lies above, as while
                           it doesn't; INFINITY where none comes otherwise */
    uint64_t bits[CHANCE_EVENTS_MAX / 64]; /* which event cells are explained */
};

/* How many arrangements a recording of so many cells gives: chance_test and chance_kinds fill as
 * many statistics.  0 where it has fewer than CHANCE_CELLS_LEAST. */
uint32_t chance_shifts(uint32_t cells);

/* values[cells], NAN where unknown; is replaced by the greatest value of each moment's window
 * [cell - before, cell + after].  row: chance_shifts(cells) statistics, how high the series lies
 * around the events, the first as they lie, the others with the events moved round; standardised.
 * An unknown value counts as a middling one.  work: `cells` floats and `cells` indexes of the
 * caller's.  False where the recording is too short, too few events have known surroundings
 * (least), or the series is constant. */
bool chance_test(float *values, uint32_t cells, int before, int after,
                 const struct chance_events *events, uint32_t least, float *work, uint32_t *index,
                 double *row, struct chance_test *out);

/* The same for kinds instead of amounts (headings): kinds[cells], -1 unknown.  The statistic is the
 * scatter of the event rates of the kinds; explained are events of the kind with the highest rate,
 * *worst. */
bool chance_kinds(const int8_t *kinds, uint32_t cells, const struct chance_events *events,
                  uint32_t least, double *row, struct chance_test *out, int *worst);

#endif
