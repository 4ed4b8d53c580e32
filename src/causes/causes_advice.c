#include "causes/causes_parts.h"

static bool told(const struct trace *t, enum report_key key) {
    return (t->keys & (1u << key)) != 0;
}

static bool any(const struct causes *found, enum cause_id id) {
    for (uint32_t i = 0; i < found->count; i++)
        if (found->cause[i].id == id && found->cause[i].tested)
            return true;
    return false;
}

/* The key that would tell most: outages come from supplies before anything else, shorter losses
 * from the air (common practice). */
static const char *missing_key(const struct trace *t, const struct causes *found) {
    bool outages = found->outages_tested >= CAUSES_EVENTS_LEAST;
    if (outages && !told(t, KEY_MVMIN))
        return "Print mvmin: outages come from a weak supply before anything else, and nothing "
               "here tells of it.";
    if (outages && !told(t, KEY_SEQ) && !told(t, KEY_LOST))
        return "Print seq: it tells whether the transmitter sent nothing, or nothing was heard.";
    if (!told(t, KEY_NOISE))
        return "Print noise: it tells whether others send on your carrier.";
    if (!told(t, KEY_PAT))
        return "Print pat: it tells losses that come by a clock from those that come by chance.";
    if (!told(t, KEY_MVMIN))
        return "Print mvmin: it tells a supply that dips from everything on the air.";
    return NULL;
}

const char *causes_advice(const struct trace *t, const struct causes *found) {
    if (found->count > 0 && found->cause[0].shown == CAUSE_SHOWN)
        return NULL;
    if (!t->counted)
        return "Print got and lost, or seq: without them losses are unknown, and none can be "
               "explained.";
    if (found->outages + found->losses == 0)
        return NULL;
    if (found->too_few != NULL)
        return "Record for longer, at the place and with the load where it drops most.";
    const char *key = missing_key(t, found);
    if (key != NULL)
        return key;
    if (!any(found, CAUSE_MOVE))
        return "Nothing moved in this recording. Propeller off, model held: move each servo by "
               "itself, then raise the throttle, and record again.";
    return "Halve the distance and record again. Where the losses go away it is distance or "
           "something in between: walk the range (airleash walk). Where they stay, sweep the band "
           "with the transmitter off.";
}
