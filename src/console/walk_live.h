/* The walk while it is walked: the same fold as afterwards, the plan, the walker's switch, and what
 * is to be heard.  A stop that the switch marks is an ordinary mark, which the caller feeds and
 * records. */
#ifndef CONSOLE_WALK_LIVE_H
#define CONSOLE_WALK_LIVE_H

#include "app/options.h"
#include "study/switch.h"
#include "view/walk.h"

enum { /* bells in a row */
       BELLS_STOP = 1,
       BELLS_ENOUGH = 2, /* the stop's time is over, or its packets decide: walk on */
       BELLS_DIED = 3,
};

struct walk_live {
    struct walk walk, frozen; /* frozen: of the picture that a pause holds */
    struct walker walker;     /* its plan serves the keys too */
    bool by_switch, planned;
    bool shown, hidden; /* shown: a walk is under way; hidden: but not wanted to be seen */
    bool paused;
    bool mark_due; /* `mark` is to be fed as an event */
    struct mark mark;
    int bells;
    bool told; /* that the open stop's packets are enough */
    struct walk_view view;
};

void walk_live_init(struct walk_live *l, const struct options *o);

/* After each event. */
void walk_live_moment(struct walk_live *l, const struct moment *m);

/* A mark that the switch calls for, to be fed at the time of the event before; false: none. */
bool walk_live_mark(struct walk_live *l, struct event *out);

/* The next stop of the plan, metres; negative: none. */
double walk_live_next(const struct walk_live *l);

/* What the pane shows now, NULL: nothing; link time has reached now_ms.  *bells gets what is to be
 * rung, 0 for none. */
const struct walk_view *walk_live_view(struct walk_live *l, int64_t now_ms, double rate_hz,
                                       bool paused, int *bells);

#endif
