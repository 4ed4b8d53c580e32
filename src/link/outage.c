#include "link/outage.h"

#include "base/whole.h"

void outage_init(struct outage *s) {
    *s = (struct outage){.good_ms = TIME_UNKNOWN,
                         .report_ms = TIME_UNKNOWN,
                         .longest_low_ms = TIME_UNKNOWN,
                         .longest_high_ms = TIME_UNKNOWN,
                         .longest_at_ms = TIME_UNKNOWN};
}

/* The longest run of missing packets in a pattern whose order is known: a gap of that many packet
 * intervals and one more. */
static uint64_t longest_missing(const struct packet_step *step) {
    uint64_t longest = step->missing_before, run = step->missing_before;
    for (uint32_t i = 0; i < step->order_len; i++) {
        run = (step->order >> i & 1u) != 0 ? 0 : run + 1;
        if (run > longest)
            longest = run;
    }
    return longest;
}

/* [low, high] of the longest gap that closed between the report before and this one. */
static void closed_gap(const struct outage *s, const struct report *r,
                       const struct packet_step *step, bool hole, double rate_hz, int64_t *low,
                       int64_t *high) {
    int64_t span = step->good_ms - s->good_ms;
    int64_t seen =
        s->report_ms != TIME_UNKNOWN && s->report_ms > s->good_ms ? s->report_ms - s->good_ms : 0;
    *low = seen < span ? seen : span;
    *high = span;
    uint64_t packets = step->got + step->lost;
    /* So many packets missing make no longer gap than in one run. */
    if (step->counted && rate_hz > 0 && step->estimated == 0 && step->evidence != EVIDENCE_RATE) {
        int64_t most = whole_i64((double)(step->lost + 1) * 1000.0 / rate_hz + 1);
        if (most < *high)
            *high = most > *low ? most : *low;
    }
    if (step->counted && step->got == 1 && step->estimated == 0) {
        *low = *high;
    } else if (!hole && report_has(r, KEY_GAP)) {
        /* `gap` covers the one still open too; when that is the longest, the closed ones are
         * shorter than it. */
        int64_t gap = (int64_t)r->gap_ms < span ? (int64_t)r->gap_ms : span;
        *high = gap;
        if (!report_has(r, KEY_AGE) || r->gap_ms > r->age_ms)
            *low = gap;
    } else if (step->counted && rate_hz > 0 && step->order_len + step->missing_before == packets) {
        int64_t gap = whole_i64((double)(longest_missing(step) + 1) * 1000.0 / rate_hz + 1);
        *high = gap < *high ? gap : *high;
    }
    if (*low > *high)
        *low = *high;
}

static void keep_longest(struct outage *s, int64_t low, int64_t high) {
    if (s->longest_high_ms != TIME_UNKNOWN && high <= s->longest_high_ms)
        return;
    s->longest_low_ms = low;
    s->longest_high_ms = high;
    s->longest_at_ms = s->good_ms;
}

static int64_t larger(int64_t a, int64_t b) {
    return a > b ? a : b;
}

static void close_outage(struct outage *s, const struct report *r, const struct packet_step *step,
                         bool hole, double rate_hz, struct outage_step *out) {
    int64_t low, high;
    closed_gap(s, r, step, hole, rate_hz, &low, &high);
    if (s->open) { /* it lasted at least as long as it was seen, whatever age and gap say */
        low = larger(low, s->report_ms - s->good_ms);
        high = larger(high, low);
    }
    keep_longest(s, low, high);
    *out = (struct outage_step){.closed = true, .gap_low_ms = low, .gap_high_ms = high};
    if (!s->open && low <= s->limit_ms && high > s->limit_ms) {
        s->unsure++;
    } else if (s->open || low > s->limit_ms) {
        out->ended = true;
        out->low_ms = low;
        out->high_ms = high;
        out->from_ms = s->good_ms;
        s->outages++;
    }
    s->open = false;
}

struct outage_step outage_report(struct outage *s, const struct report *r,
                                 const struct packet_step *step, int64_t link_ms, bool hole,
                                 double rate_hz) {
    struct outage_step out = {0};
    if (link_ms == TIME_UNKNOWN)
        return out;
    if (step->arrived && s->good_ms != TIME_UNKNOWN)
        close_outage(s, r, step, hole, rate_hz, &out);
    s->good_ms = step->good_ms;
    s->report_ms = link_ms;
    if (!s->open && s->good_ms != TIME_UNKNOWN && link_ms - s->good_ms > s->limit_ms) {
        s->open = true;
        out.began = true;
        out.from_ms = s->good_ms;
    }
    return out;
}

struct outage_step outage_restart(struct outage *s) {
    struct outage_step out = {0};
    if (s->open) {
        int64_t seen = s->report_ms - s->good_ms;
        keep_longest(s, seen, seen);
        out = (struct outage_step){
            .ended = true, .low_ms = seen, .high_ms = seen, .from_ms = s->good_ms};
        s->outages++;
    }
    s->open = false;
    s->good_ms = TIME_UNKNOWN;
    return out;
}

bool outage_longest(const struct outage *s, int64_t *low_ms, int64_t *high_ms, int64_t *at_ms) {
    struct outage with_open = *s;
    if (s->good_ms != TIME_UNKNOWN && s->report_ms > s->good_ms)
        keep_longest(&with_open, s->report_ms - s->good_ms, s->report_ms - s->good_ms);
    *low_ms = with_open.longest_low_ms;
    *high_ms = with_open.longest_high_ms;
    *at_ms = with_open.longest_at_ms;
    return with_open.longest_high_ms != TIME_UNKNOWN;
}
