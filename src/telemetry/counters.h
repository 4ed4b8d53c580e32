/* What the last good report of this boot leaves behind, and whether the next agrees with it. */
#ifndef TELEMETRY_COUNTERS_H
#define TELEMETRY_COUNTERS_H

#include "telemetry/telemetry.h"

/* False when got, lost and pat of report contradict each other or the base. */
bool counters_agree(const struct telemetry_base *base, const struct report *report,
                    int64_t host_us);

/* How a report follows the one of the same stream that left the base behind.  Host times may be
 * TIME_UNKNOWN. */
enum succession {
    FOLLOWS,         /* same boot, next or later line */
    FOLLOWS_WRAP,    /* same boot, uptime went round 2^32 ms */
    FOLLOWS_STEP,    /* same boot, its clock went back while its counters ran on */
    FOLLOWS_RESTART, /* the receiver restarted between the two */
};
enum succession counters_search(const struct telemetry_base *base, const struct report *report,
                                int64_t host_us);

/* Whether uptime went round as micros() / 1000 does, after 2^32 us; and the time that it took. */
enum { COUNTERS_MICROS_MS = 4294967 };
static inline bool counters_micros_wrapped(uint32_t before_ms, uint32_t after_ms) {
    return before_ms > COUNTERS_MICROS_MS - 60000 && before_ms <= COUNTERS_MICROS_MS &&
           after_ms < 60000;
}

/* Whether a report that doesn't follow the last one follows the one before that, by no more than a
 * minute: then the last was damaged in a way that nothing in it showed, and nothing restarted. */
bool counters_amend(const struct telemetry_base *before, const struct telemetry_base *last,
                    const struct report *report);

/* The same.  The usual report has the very next number and an uptime that didn't go back, which
 * is told in place. */
static inline enum succession counters_succession(const struct telemetry_base *base,
                                                  const struct report *report, int64_t host_us) {
    const uint32_t keys = 1u << KEY_N | 1u << KEY_T;
    if ((base->has & report->has & keys) == keys && report->n == base->n + 1 &&
        report->t_ms >= base->t_ms)
        return FOLLOWS;
    return counters_search(base, report, host_us);
}

/* Makes a good report the base. */
static inline void counters_keep(struct telemetry_base *base, const struct report *report,
                                 int64_t host_us) {
    *base = (struct telemetry_base){
        .known = true,
        .has = report->has,
        .n = report->n,
        .t_ms = report->t_ms,
        .got = report->got,
        .lost = report->lost,
        .host_us = host_us,
    };
}

#endif
