#include "link/timeline.h"

void timeline_init(struct timeline *t) {
    *t = (struct timeline){.link_ms = TIME_UNKNOWN, .host_us = TIME_UNKNOWN};
}

static int64_t host_growth_ms(const struct timeline *t, int64_t host_us) {
    if (t->host_us == TIME_UNKNOWN || host_us == TIME_UNKNOWN || host_us < t->host_us)
        return TIME_UNKNOWN;
    return (host_us - t->host_us) / 1000;
}

/* A clock that went back doesn't tell how long the report took: as long as the one before, and so
 * each that is missing. */
static int64_t growth_over_step(const struct timeline *t, const struct report *r) {
    if (counters_micros_wrapped(t->t_ms, r->t_ms))
        return (int64_t)r->t_ms + COUNTERS_MICROS_MS - t->t_ms;
    return t->growth_ms * (report_has(r, KEY_N) && r->n > t->n ? (int64_t)(r->n - t->n) : 1);
}

static int64_t growth_ms(const struct timeline *t, const struct report *r, int64_t host_us,
                         enum succession how) {
    bool has_t = report_has(r, KEY_T);
    if (has_t && t->has_t && how == FOLLOWS_STEP)
        return growth_over_step(t, r);
    if (has_t && t->has_t && how == FOLLOWS && r->t_ms < t->t_ms)
        return 0; /* the one before was damaged, and told of a later time */
    if (has_t && t->has_t && how != FOLLOWS_RESTART)
        return (uint32_t)(r->t_ms - t->t_ms);
    int64_t host = host_growth_ms(t, host_us);
    if (host != TIME_UNKNOWN)
        return host;
    /* A capture without host times: the dark time before the new boot is not in it. */
    return has_t ? (int64_t)r->t_ms : TIME_UNKNOWN;
}

static int64_t next_ms(const struct timeline *t, const struct report *r, int64_t host_us,
                       enum succession how) {
    if (!t->begun)
        return report_has(r, KEY_T) || host_us != TIME_UNKNOWN ? 0 : TIME_UNKNOWN;
    int64_t growth = growth_ms(t, r, host_us, how);
    if (growth == TIME_UNKNOWN)
        return TIME_UNKNOWN;
    return t->link_ms == TIME_UNKNOWN ? 0 : t->link_ms + growth;
}

void timeline_report(struct timeline *t, const struct report *r, int64_t host_us,
                     enum succession how) {
    int64_t before_ms = t->link_ms;
    t->link_ms = next_ms(t, r, host_us, how);
    t->growth_ms = before_ms != TIME_UNKNOWN && t->link_ms > before_ms ? t->link_ms - before_ms : 0;
    t->steps += how == FOLLOWS_STEP;
    t->begun = true;
    t->n = report_has(r, KEY_N) ? r->n : 0;
    t->has_t = report_has(r, KEY_T);
    t->rough = !t->has_t;
    if (t->has_t)
        t->t_ms = r->t_ms;
    t->wraps += how == FOLLOWS_WRAP;
    t->host_us = host_us;
}

int64_t timeline_at(const struct timeline *t, int64_t host_us) {
    int64_t growth = host_growth_ms(t, host_us);
    if (t->link_ms == TIME_UNKNOWN || growth == TIME_UNKNOWN)
        return t->link_ms;
    return t->link_ms + growth;
}
