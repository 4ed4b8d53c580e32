/* The trial of the controls from the inside.  Private to src/trial/controls*.c. */
#ifndef JUDGE_CONTROLS_PARTS_H
#define JUDGE_CONTROLS_PARTS_H

#include "judge/follow.h"
#include "judge/travel.h"

#define NAME_OF(k, c) ((k)->map.label[c])

enum { STEP_CLEAR, STEP_STILL, STEP_MOVE, STEP_AGAIN, STEP_FLICK, STEP_WAY, STEP_MEANT };

/* Common practice, in µs of 1000: ends 1000 and 2000 +-20 or the builder's own, a stick comes back
 * within 10, throttle low at 1020 or less. */
enum { END_OFF = 20, SPREAD = 10, COARSE = 8 };

struct control {
    bool moved;     /* alone, so that `way` is its own */
    bool done;      /* to both ends, and it came back */
    uint32_t visit; /* in which this was */
    struct travel way;
    struct smooth smooth;
    struct follow follow;
    bool flicked;
    struct flicks flicks;
    bool asked, right;       /* the direction, as the person saw it */
    bool meant_asked, meant; /* that it doesn't simply follow its stick, as the person said */
};

struct controls {
    struct trial_rules rules;
    struct stick_map map;
    bool clear;   /* the yes */
    bool untimed; /* reports without any time: nothing can be measured in them */
    struct travel_calm calm;
    bool based;
    struct travel_base base;
    struct travel visit;
    struct smooth smooth; /* of this visit's mover */
    struct follow follow;
    uint32_t visits;
    struct flicks flicks;
    int32_t newest;    /* the channel of this or the last visit, -1 */
    uint16_t muddle;   /* what moved when more than one did, the last time */
    uint16_t ever;     /* channels that moved in any visit */
    uint16_t together; /* channels that only moved together with another */
    struct control of[CHANNELS_MAX];
    struct {
        bool known, ends;          /* before; low and high */
        int32_t before, low, high; /* each end in two reports in a row */
    } in[CHANNELS_MAX];            /* the sticks' own values, over all visits */
};

/* A channel that a stick drives, as far as the lines tell. */
bool controls_has_stick(const struct controls *k, uint32_t channel);
/* It comes back by itself to a rest that isn't an end. */
bool controls_comes_back(const struct controls *k, uint32_t channel);

/* How a channel hangs on the sticks' own values. */
struct drives {
    bool told;       /* the lines have the sticks' values */
    int32_t source;  /* the stick that moved it; negative: none, or more than one */
    bool mapped;     /* another stick than its own, and that one's own channel stood still */
    uint16_t others; /* channels that the same stick moves too */
    bool apart, dead;
    struct follow_figures follow;
};
void controls_drives(const struct controls *k, uint32_t channel, struct drives *out);
/* Something that only the builder can call right. */
bool controls_strange(const struct drives *d);
/* In words, for the finding and for the person who is asked whether it is meant. */
enum { DRIVES_WORDS = 120 };
const char *controls_drives_text(const struct controls *k, const struct drives *d,
                                 char out[DRIVES_WORDS]);

/* What it comes to; state is the struct controls. */
void controls_judge(const void *state, struct trial_outcome *out);

#endif
