/* The walk's pane: the stop where the walker is, and those before. */
#ifndef VIEW_WALK_H
#define VIEW_WALK_H

#include "study/walk.h"

struct walk_view {
    const struct walk *walk;
    double rate_hz; /* packets a second, 0 unknown */
    bool planned;   /* there is a plan, and its */
    double next_m;  /* next stop; negative: none (any more) */
    bool by_switch; /* whoever walks marks by the switch of channel ... */
    uint32_t channel;
    int64_t due_ms; /* link time at which the stop ends by itself, TIME_UNKNOWN: it doesn't */
};

/* What must be right before the first stop of a walk. */
extern const char walk_caution[];

#endif
