#include "link/alarms.h"

void alarms_init(struct alarms *a) {
    for (int i = 0; i < ALARMS; i++)
        a->state[i] = (struct alarm_state){.calm_since_ms = TIME_UNKNOWN};
}

int alarms_set(struct alarms *a, enum alarm alarm, bool cause, bool calm, int64_t now_ms,
               int64_t hold_ms) {
    struct alarm_state *s = &a->state[alarm];
    if (cause) {
        bool raised = !s->raised;
        s->raised = true;
        s->calm_since_ms = TIME_UNKNOWN;
        if (raised)
            s->changed_ms = now_ms;
        return raised ? 1 : 0;
    }
    if (!s->raised)
        return 0;
    if (!calm) {
        s->calm_since_ms = TIME_UNKNOWN;
        return 0;
    }
    if (s->calm_since_ms == TIME_UNKNOWN)
        s->calm_since_ms = now_ms;
    if (now_ms != TIME_UNKNOWN && now_ms - s->calm_since_ms < hold_ms)
        return 0;
    s->changed_ms = now_ms == TIME_UNKNOWN ? TIME_UNKNOWN : s->calm_since_ms + hold_ms;
    s->raised = false;
    s->calm_since_ms = TIME_UNKNOWN;
    return -1;
}
