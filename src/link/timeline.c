#include "link/timeline.h"

void timeline_init(struct timeline *t) {
    *t = (struct timeline){.link_ms = TIME_UNKNOWN, .host_us = TIME_UNKNOWN};
}

static int64_t host_growth_ms(const struct timeline *t, int64_t host_us) {
    if (t->host_us == TIME_UNKNOWN || host_us == TIME_UNKNOWN || host_us < t->host_us)
        return TIME_UNKNOWN;
    return (host_us - t->host_us) / 1000;
}

static int64_t growth_ms(const struct timeline *t, const struct report *r, int64_t host_us,
                         enum succession how) {
    bool both = t->has_t && report_has(r, KEY_T);
    int64_t host = host_growth_ms(t, host_us);
    if (both && how != FOLLOWS_REBOOT)
        return (uint32_t)(r->t_ms - t->t_ms);
    if (host != TIME_UNKNOWN)
        return host;
    /* A capture without host times: the dark time before the new boot is not in it. */
    return report_has(r, KEY_T) ? (int64_t)r->t_ms : TIME_UNKNOWN;
}

void timeline_report(struct timeline *t, const struct report *r, int64_t host_us,
                     enum succession how) {
    if (!t->begun) {
        t->begun = true;
        if (report_has(r, KEY_T) || host_us != TIME_UNKNOWN)
            t->link_ms = 0;
    } else {
        int64_t growth = growth_ms(t, r, host_us, how);
        if (growth == TIME_UNKNOWN)
            t->link_ms = TIME_UNKNOWN;
        else
            t->link_ms = t->link_ms == TIME_UNKNOWN ? 0 : t->link_ms + growth;
    }
    t->rough = !report_has(r, KEY_T);
    t->has_t = report_has(r, KEY_T);
    if (t->has_t)
        t->t_ms = r->t_ms;
    if (how == FOLLOWS_WRAP)
        t->wraps++;
    t->host_us = host_us;
}

int64_t timeline_at(const struct timeline *t, int64_t host_us) {
    int64_t growth = host_growth_ms(t, host_us);
    if (t->link_ms == TIME_UNKNOWN || growth == TIME_UNKNOWN)
        return t->link_ms;
    return t->link_ms + growth;
}
