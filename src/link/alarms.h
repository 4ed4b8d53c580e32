/* Alarms with hysteresis: raised at once, cleared when the cause has been gone for a while. */
#ifndef LINK_ALARMS_H
#define LINK_ALARMS_H

#include "link/snapshot.h"

enum { ALARM_CLEAR_MS = 2000, ALARM_EVENT_MS = 5000 };

struct alarm_state {
    bool raised;
    int64_t calm_since_ms; /* the cause has been gone since; TIME_UNKNOWN while it is there */
    int64_t changed_ms;    /* when it was last raised or cleared: a deadline's own time */
};

struct alarms {
    struct alarm_state state[ALARMS];
};

void alarms_init(struct alarms *a);

/* The alarm's cause at now_ms: `cause` raises, `calm` (which may be stricter than !cause) clears
 * once it has lasted hold_ms.  Returns 1 when it was raised, -1 when cleared, else 0.  With
 * now_ms unknown it clears at once. */
int alarms_set(struct alarms *a, enum alarm alarm, bool cause, bool calm, int64_t now_ms,
               int64_t hold_ms);

#endif
