#include "telemetry/counters.h"

enum {
    WRAP_WINDOW_MS = 60000, /* how near to 2^32 ms, on either side, a wrap is believed */
    WRAP_WINDOW_NO = 3000,  /* the same of the report's number: a minute at 50 a second */
    STALL_MS = 2000,        /* uptime may lag the host's clock by this much, or by a fifth */
    STALL_FRACTION = 5,
};

static bool both(const struct telemetry_base *a, const struct report *b, enum report_key key) {
    return (a->has & b->has) >> key & 1u;
}

static bool went_back(uint32_t from, uint32_t to) {
    return to - from >= UINT32_C(1) << 31;
}

static bool near_wrap(uint32_t before_ms, uint32_t after_ms) {
    return before_ms > UINT32_MAX - WRAP_WINDOW_MS && after_ms < WRAP_WINDOW_MS;
}

/* True when the number ran on, if need be over 2^32. */
static bool runs_on(uint32_t before, uint32_t after) {
    bool wraps = before > UINT32_MAX - WRAP_WINDOW_NO && after < WRAP_WINDOW_NO;
    return after > before || wraps;
}

/* True when uptime grew far less than the host's clock.  Bytes that waited in a buffer look like
 * that too, but the line after them has the very next number, and after a restart it hardly can.
 * A number that merely went up proves nothing: a receiver that restarted in a long hole counts past
 * the old number just as its uptime passes the old uptime. */
static bool lags_host(const struct telemetry_base *a, const struct report *b, int64_t b_host_us) {
    if (a->host_us == TIME_UNKNOWN || b_host_us == TIME_UNKNOWN)
        return false;
    if (both(a, b, KEY_N) && b->n == a->n + 1)
        return false;
    int64_t host_ms = (b_host_us - a->host_us) / 1000;
    int64_t lag_ms = host_ms - (int64_t)(b->t_ms - a->t_ms);
    return lag_ms > STALL_MS && lag_ms > host_ms / STALL_FRACTION;
}

/* True when the counters ran on, though the uptime went back: micros() / 1000 does that every 71.6
 * minutes, an edited clock at any time.  After a restart all of them are small again; a great
 * number that passed the old one in a hole would have taken the uptime with it.  The number alone
 * is believed only where micros() went round. */
static bool clock_stepped(const struct telemetry_base *a, const struct report *b) {
    enum { GREAT = 100 };
    if (!both(a, b, KEY_N) || !runs_on(a->n, b->n) || a->n == 0 ||
        (b->n != a->n + 1 && a->n < GREAT))
        return false;
    bool got = both(a, b, KEY_GOT), lost = both(a, b, KEY_LOST);
    if ((got && (b->got < a->got || b->got == 0)) || (lost && b->lost < a->lost))
        return false;
    return (got && a->got > 0) || counters_micros_wrapped(a->t_ms, b->t_ms);
}

/* The same number at the same uptime is one line seen twice, not a restart.  Where the uptime moved
 * on and nothing else did, an interrupt prints what a hung main loop left; a first report may be
 * that of the next boot, though. */
static bool is_repeated(const struct telemetry_base *a, const struct report *b) {
    bool got_stands = both(a, b, KEY_GOT) && b->got == a->got;
    return b->n == a->n && (b->t_ms == a->t_ms || (b->n > 1 && got_stands));
}

static enum succession by_uptime(const struct telemetry_base *a, const struct report *b,
                                 int64_t b_host_us) {
    bool numbered = both(a, b, KEY_N);
    if (b->t_ms < a->t_ms) {
        if (numbered && runs_on(a->n, b->n) && near_wrap(a->t_ms, b->t_ms))
            return FOLLOWS_WRAP;
        if (clock_stepped(a, b))
            return FOLLOWS_STEP;
        return FOLLOWS_RESTART;
    }
    if (numbered && !runs_on(a->n, b->n) && !is_repeated(a, b))
        return FOLLOWS_RESTART;
    return lags_host(a, b, b_host_us) ? FOLLOWS_RESTART : FOLLOWS;
}

enum succession counters_search(const struct telemetry_base *a, const struct report *b,
                                int64_t b_host_us) {
    if (both(a, b, KEY_T))
        return by_uptime(a, b, b_host_us);
    if (both(a, b, KEY_N) && !runs_on(a->n, b->n))
        return FOLLOWS_RESTART;
    if (both(a, b, KEY_GOT) && went_back(a->got, b->got))
        return FOLLOWS_RESTART;
    return FOLLOWS;
}

/* A counter that grew by `growth`, and didn't go back, while the pattern shows `shown` of its
 * packets. */
static bool fits(uint32_t growth, uint32_t shown, bool exact) {
    return exact ? growth == shown : growth >= shown && !went_back(0, growth);
}

/* Without n a hole can't be seen, and none is assumed unless a line was refused in between. */
static bool is_next(const struct telemetry_base *base, const struct report *r) {
    return both(base, r, KEY_N) ? r->n == base->n + 1 : !base->hole;
}

static bool agrees_with_base(const struct telemetry_base *base, const struct report *r) {
    bool pattern = report_has(r, KEY_PAT);
    bool exact = pattern && r->pat_len < PATTERN_MAX && is_next(base, r);
    uint32_t arrived = pattern ? report_arrived(r) : 0;
    uint32_t missing = pattern ? r->pat_len - arrived : 0;
    return (!both(base, r, KEY_GOT) || fits(r->got - base->got, arrived, exact)) &&
           (!both(base, r, KEY_LOST) || fits(r->lost - base->lost, missing, exact));
}

/* Counters that began at zero with this boot hold at least what the pattern shows. */
static bool agrees_alone(const struct report *r) {
    if (!report_has(r, KEY_PAT))
        return true;
    uint32_t arrived = report_arrived(r);
    return (!report_has(r, KEY_GOT) || r->got >= arrived) &&
           (!report_has(r, KEY_LOST) || r->lost >= r->pat_len - arrived);
}

static bool is_first(const struct report *r) {
    return report_has(r, KEY_N) && r->n == 1;
}

bool counters_agree(const struct telemetry_base *base, const struct report *report,
                    int64_t host_us) {
    if (!base->known)
        return !is_first(report) || agrees_alone(report);
    if (counters_succession(base, report, host_us) == FOLLOWS_RESTART)
        return agrees_alone(report);
    return agrees_with_base(base, report);
}

bool counters_amend(const struct telemetry_base *before, const struct telemetry_base *last,
                    const struct report *report) {
    enum { NEAR_MS = 60000 };
    const uint32_t has = before->has & last->has & report->has;
    bool t = has >> KEY_T & 1u, n = has >> KEY_N & 1u;
    if (!before->known || !last->known || !t ||
        (n && (report->n <= before->n || last->n <= before->n)))
        return false;
    if ((has >> KEY_GOT & 1u) && went_back(before->got, report->got))
        return false;
    return report->t_ms > before->t_ms && last->t_ms > before->t_ms &&
           report->t_ms - before->t_ms <= NEAR_MS;
}
