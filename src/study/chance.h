/* Does something come before the drops more than chance brings?  The series is held against the
 * events as they lie, and against itself moved round in time: that keeps how each of them clumps,
 * so that two things which both come in spells aren't taken for cause and effect. */
#ifndef STUDY_CHANCE_H
#define STUDY_CHANCE_H

#include <stdbool.h>
#include <stdint.h>

enum {
    CHANCE_SHIFTS = 1999,
    CHANCE_EVENTS_MAX = 1024,
    CHANCE_CELLS_LEAST = 240,
};

struct chance_events {
    uint32_t count; /* of cell[] */
    int32_t cell[CHANCE_EVENTS_MAX];
    uint16_t weight[CHANCE_EVENTS_MAX]; /* events in that cell */
};

struct chance_test {
    uint32_t events; /* whose surroundings are known */
    double p;        /* one-sided: the series lies higher around the events than around as many
                        moments moved round */
    double z;
    float above;        /* a value that a half, a quarter or a tenth of all moments lie above:
                           whichever sets the events apart best */
    uint32_t explained; /* events with a value above it, */
    double expected;    /* and how many of these chance gives */
    double effect;      /* how many times as often events come while the value lies above, as while
                           it doesn't; INFINITY where none comes otherwise */
    uint64_t bits[CHANCE_EVENTS_MAX / 64]; /* which event cells are explained */
};

/* values[cells], NAN where unknown; is replaced by the greatest value of each moment's window
 * [cell - before, cell + after].  work: `cells` floats and `cells` indexes of the caller's.  False
 * where the recording is too short, too few events have known surroundings (least), or the series
 * is constant. */
bool chance_test(float *values, uint32_t cells, int before, int after,
                 const struct chance_events *events, uint32_t least, uint64_t seed, float *work,
                 uint32_t *index, struct chance_test *out);

/* The same for kinds instead of amounts (headings): kinds[cells], -1 unknown.  The statistic is the
 * scatter of the event rates of the kinds; explained are events of the kind with the highest rate,
 * *worst. */
bool chance_kinds(const int8_t *kinds, uint32_t cells, const struct chance_events *events,
                  uint32_t least, uint64_t seed, struct chance_test *out, int *worst);

#endif
