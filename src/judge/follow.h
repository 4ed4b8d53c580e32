/* How a stick moves, and how its output follows it.
 *
 * A hand moves a stick smoothly.  Two turns of direction within three reports are more than it can
 * do (a thumb swings at some 5 to 6 Hz at most; common practice), so they are a potentiometer's or
 * a wire's.  A steady movement that is sampled at other times than it was sent looks uneven without
 * being so: how uneven it is rests on the packets' own times, where the reports have `age`.
 *
 * An output is a function of its stick: at the same place of the stick it stands at the same value.
 * One that comes late, sticks, or freezes for a while stands at two. */
#ifndef JUDGE_FOLLOW_H
#define JUDGE_FOLLOW_H

#include "judge/sticks.h"
#include "link/moment.h"

enum { SMOOTH_BINS = 64 };

struct smooth {
    uint16_t backs[SMOOTH_BINS];    /* lesser of two steps of which the second goes back, µs */
    uint32_t chain;                 /* reports in a row up to now, at most 3 */
    int32_t value[3], step[3];      /* the newest last; step: from the one before */
    int64_t report_ms[3], at_ms[3]; /* at_ms: of the packet that the value came with */
    uint16_t
        uneven[SMOOTH_BINS]; /* how far a value lies from the line through its neighbours, µs */
    uint16_t
        turns[SMOOTH_BINS]; /* least of three steps of which each goes against the one before */
    uint32_t turn_worst;    /* µs */
    uint32_t changes, dwells, moves; /* steps: above the noise; next to none between two of these;
                                        of a movement slow enough to be judged */
    double moved, waited_ms; /* sum of the moves' steps, µs, and of all reports' distances */
    uint32_t reports;
    int32_t quantum; /* least step seen, in the values' own unit; 0 none */
    bool timed;      /* packets' own times were known */
};
/* `value` of the report m, a report that tells of the sticks. */
void smooth_add(struct smooth *s, const struct stick_map *map, const struct moment *m,
                int32_t value);
void smooth_break(struct smooth *s); /* reports in between are missing or tell nothing */

enum smooth_kind {
    SMOOTH_UNKNOWN, /* too little movement */
    SMOOTH_RARE,    /* too few reports a second: a hand could have done it */
    SMOOTH_FAST,    /* moved too fast for the reports */
    SMOOTH_UNTIMED, /* no turns, but whether it is even can't be told without `age` */
    SMOOTH_EVEN,
    SMOOTH_CLICKS, /* leaps and stands, never back: a ratchet */
    SMOOTH_UNEVEN, /* leaps, seldom back */
    SMOOTH_JUMPS,  /* goes back and forth as no hand does */
};
struct smooth_figures {
    enum smooth_kind kind;
    double uneven;         /* as a standard deviation of each value, µs; negative: unknown */
    double limit;          /* for that, µs */
    uint32_t backs;        /* steps back that are above the noise */
    uint32_t turns, worst; /* times that it turned twice, and the worst of them, µs */
    double report_ms;      /* mean distance of the reports */
};
/* noise: the limit at rest, µs. */
void smooth_read(const struct smooth *s, const struct stick_map *map, double noise,
                 struct smooth_figures *out);

enum {
    FOLLOW_BINS = 48,
    FOLLOW_APART = 100 /* µs; a steep curve or a filter of 50 ms keeps below */
};

struct follow {
    int32_t source;  /* the stick's value, from 1; 0: not known */
    uint32_t chain;  /* reports in a row with the stick nearly still */
    int32_t in, out; /* of the report before */
    bool before;
    struct {
        bool seen;
        int32_t low, high; /* of the output, each in two reports in a row */
    } bin[FOLLOW_BINS];    /* by the stick's value, a 32nd of the span each, a quarter beyond it */
};
enum { FOLLOW_CHAIN = 3 }; /* reports in a row before one is believed */
void follow_begin(struct follow *f, int32_t source);
void follow_add(struct follow *f, const struct stick_map *map, int32_t in, int32_t out);
void follow_break(struct follow *f);

struct follow_figures {
    bool known;        /* seen at two places of the stick at least */
    bool reversed;     /* the output falls where the stick's value rises */
    double apart;      /* farthest that it stood from itself at one place of the stick, own unit; */
    int32_t at;        /* there, */
    int32_t low, high; /* between these */
    double dead;       /* widest part of the stick's way, its ends left out, in which the output
                          stands; own unit, known to a 16th of the span */
};
void follow_read(const struct follow *f, const struct stick_map *map, struct follow_figures *out);

#endif
