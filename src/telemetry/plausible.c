#include "telemetry/plausible.h"

#include "telemetry/counters.h"

enum { ALIKE = 5 };

static const uint32_t counters =
    1u << KEY_N | 1u << KEY_T | 1u << KEY_SEQ | 1u << KEY_GOT | 1u << KEY_LOST;
/* These come and go with what there is to tell. */
static const uint32_t passing = 1u << KEY_PAT | 1u << KEY_HEARD | 1u << KEY_RSSI | 1u << KEY_IN;

static bool both(const struct telemetry_base *a, const struct report *b, enum report_key key) {
    return (a->has & b->has) >> key & 1u;
}

static bool went_back(uint32_t from, uint32_t to) {
    return to - from >= UINT32_C(1) << 31;
}

static bool is_back(const struct telemetry_base *a, const struct report *b, enum report_key key,
                    uint32_t from, uint32_t to) {
    return both(a, b, key) && went_back(from, to);
}

/* micros() / 1000 goes round after 71 minutes. */
static uint32_t passed_ms(const struct telemetry_base *a, const struct report *r) {
    bool round = counters_micros_wrapped(a->t_ms, r->t_ms);
    return r->t_ms - a->t_ms + (round ? COUNTERS_MICROS_MS : 0);
}

/* --- the sequence number ---------------------------------------------------------------------- */

enum { SEQ_WHOLE = 255, SEQ_FRESH = 64, SEQ_LATE = 65000 };

static uint32_t modulus_forward(uint64_t modulus, uint32_t from, uint32_t to) {
    return (uint32_t)((to + modulus - from % modulus) % modulus);
}

/* How far the number ran on; without a known modulus by the least usual one that holds both. */
static uint32_t forward(const struct telemetry_packets *p, uint32_t from, uint32_t to) {
    if (p->seqmod_known)
        return p->seqmod == 0 ? to - from : modulus_forward(p->seqmod, from, to);
    uint32_t greatest = from > to ? from : to;
    return greatest < 1u << 8    ? modulus_forward(1u << 8, from, to)
           : greatest < 1u << 16 ? modulus_forward(1u << 16, from, to)
                                 : to - from;
}

static bool seq_told(const struct telemetry_shape *s, const struct report *r) {
    return (s->has & r->has) >> KEY_SEQ & 1u;
}

static bool another_transmitter(const struct telemetry_shape *s, const struct report *r) {
    if (!report_has(r, KEY_TBOOT))
        return false;
    return (s->has >> KEY_TBOOT & 1u) == 0 || r->tboot != s->tboot;
}

static bool begins_anew(const struct telemetry_shape *s, const struct telemetry_packets *p,
                        const struct report *r) {
    return r->seq <= SEQ_FRESH && r->seq < s->seq && forward(p, s->seq, r->seq) > SEQ_FRESH;
}

/* Packets that its usual pace allows in so many ms, twice over; a packet a ms where none is known,
 * which no such link reaches. */
static double allowed(const struct telemetry_shape *s, uint32_t ms) {
    enum { PACE_MS = 500, SLACK = 8 };
    double pace = s->ran_ms >= PACE_MS ? (double)s->ran / s->ran_ms : 0.5;
    return 2 * pace * ms + SLACK;
}

/* Within one start of the transmitter. */
static bool keeps_pace(const struct telemetry_base *a, const struct telemetry_shape *s,
                       const struct telemetry_packets *p, const struct report *r) {
    return !both(a, r, KEY_T) || forward(p, s->seq, r->seq) <= allowed(s, r->t_ms - s->moved_ms);
}

static bool is_exact(const struct telemetry_base *a, const struct telemetry_shape *s,
                     const struct telemetry_packets *p, const struct report *r) {
    bool counted = both(a, r, KEY_GOT) && both(a, r, KEY_LOST);
    return !counted || s->exact < ALIKE ||
           forward(p, s->seq, r->seq) == r->got - a->got + r->lost - a->lost;
}

/* A number that runs on from one that was refused: two transmitters take turns. */
static bool is_others(const struct telemetry_shape *s, const struct telemetry_packets *p,
                      const struct report *r) {
    enum { NEAR_MS = 30000 };
    return s->other_known && r->t_ms - s->other_ms <= NEAR_MS &&
           forward(p, s->other_seq, r->seq) <= allowed(s, r->t_ms - s->other_ms);
}

static bool holds_got(const struct telemetry_base *a, const struct telemetry_shape *s,
                      const struct telemetry_packets *p, const struct report *r) {
    enum { READ = 2 }; /* got and seq are read at slightly different moments */
    return !both(a, r, KEY_GOT) || s->within < ALIKE || r->seq == s->seq ||
           r->got - a->got <= forward(p, s->seq, r->seq) + READ;
}

static bool seq_fits(const struct telemetry_base *a, const struct telemetry_shape *s,
                     const struct telemetry_packets *p, bool wary, const struct report *r) {
    if (!seq_told(s, r))
        return true;
    if (another_transmitter(s, r))
        return !wary;
    if (!wary && is_others(s, p, r))
        return true;
    if (wary)
        return keeps_pace(a, s, p, r) && is_exact(a, s, p, r) && holds_got(a, s, p, r);
    if (r->seq < s->seq)
        return s->seq <= SEQ_WHOLE || s->seq >= SEQ_LATE || r->seq <= SEQ_FRESH;
    bool anew = is_back(a, r, KEY_GOT, a->got, r->got); /* with a restart */
    return keeps_pace(a, s, p, r) && (anew || holds_got(a, s, p, r));
}

/* --- time and counters ------------------------------------------------------------------------ */

/* A leap of t that the sequence number took part in: lines are missing, or the receiver stalled; or
 * nothing came as yet after a stall, where each report has packets. */
static bool is_backed(const struct telemetry_base *a, const struct telemetry_shape *s,
                      const struct telemetry_packets *p, const struct report *r, uint32_t ms) {
    enum { PACE_MS = 500, UNBACKED_MS = 5000 };
    if (!seq_told(s, r) || s->ran_ms < PACE_MS)
        return ms <= UNBACKED_MS;
    double run = forward(p, s->seq, r->seq), pace = (double)s->ran / s->ran_ms;
    if (r->seq == s->seq && (!both(a, r, KEY_GOT) || r->got == a->got))
        return pace * s->usual_ms >= 1 && ms <= UNBACKED_MS;
    return 10 * run >= 7 * pace * ms && run <= allowed(s, r->t_ms - s->moved_ms);
}

/* n and t, neither of which went back. */
static enum plausible time_fits(const struct telemetry_base *a, const struct telemetry_shape *s,
                                const struct telemetry_packets *p, const struct report *r) {
    enum { READ_MS = 5 };
    if (!both(a, r, KEY_T) || s->regular < ALIKE)
        return PLAUSIBLE;
    uint32_t ms = passed_ms(a, r);
    uint64_t usual = s->usual_ms, steps = both(a, r, KEY_N) ? r->n - a->n : 1;
    if (steps > 1 && 10 * (uint64_t)(ms + READ_MS) < 6 * steps * usual)
        return PLAUSIBLE_NOT;
    bool late = 2 * (uint64_t)ms > 3 * (steps > 0 ? steps : 1) * usual + 2 * READ_MS;
    return late && !is_backed(a, s, p, r, ms) ? PLAUSIBLE_BARELY : PLAUSIBLE;
}

/* Within a boot. */
static bool leaps(const struct telemetry_base *a, const struct report *r) {
    enum { REPORT_MS = 5, REPORTS_SLACK = 20, PACKETS_SLACK = 50, ALONE_MS = 60000 };
    if (is_back(a, r, KEY_LOST, a->lost, r->lost))
        return true;
    if (!both(a, r, KEY_T))
        return false;
    uint32_t ms = passed_ms(a, r);
    if (both(a, r, KEY_N) && r->n - a->n > REPORTS_SLACK + ms / REPORT_MS)
        return true;
    if (both(a, r, KEY_N) && r->n == a->n + 1 && ms > ALONE_MS)
        return true;
    return both(a, r, KEY_GOT) && r->got - a->got > PACKETS_SLACK + ms;
}

/* n, t and got of a receiver that restarted go back together; got may have been small before. */
static bool is_restart(const struct telemetry_base *a, const struct report *r, bool n, bool t,
                       bool got) {
    enum { SMALL = 10 };
    bool small = !both(a, r, KEY_GOT) || a->got < SMALL;
    if (both(a, r, KEY_N) && both(a, r, KEY_T))
        return n && t && (got || small);
    return (n || t) && (got || small);
}

static enum plausible counters_fit(const struct telemetry_base *a, const struct telemetry_shape *s,
                                   const struct telemetry_packets *p, const struct report *r) {
    bool n = is_back(a, r, KEY_N, a->n, r->n), t = is_back(a, r, KEY_T, a->t_ms, r->t_ms);
    t = t && !counters_micros_wrapped(a->t_ms, r->t_ms);
    bool got = is_back(a, r, KEY_GOT, a->got, r->got);
    bool counted = both(a, r, KEY_N) || both(a, r, KEY_T);
    if (n || t || got)
        return is_restart(a, r, n, t, got) || !counted ? PLAUSIBLE : PLAUSIBLE_NOT;
    return leaps(a, r) ? PLAUSIBLE_NOT : time_fits(a, s, p, r);
}

/* --- the rest --------------------------------------------------------------------------------- */

/* While no packet comes, age grows by the time that passes; gap is no longer than it can have been.
 */
static bool ages_fit(const struct telemetry_base *a, const struct telemetry_shape *s,
                     const struct report *r) {
    enum { READ_MS = 5 };
    if (!both(a, r, KEY_T) || !both(a, r, KEY_AGE) || went_back(a->t_ms, r->t_ms))
        return true;
    uint64_t ms = r->t_ms - a->t_ms, most = s->age_ms + ms + READ_MS;
    bool came = both(a, r, KEY_GOT) && r->got != a->got;
    return r->age_ms <= (came ? ms + READ_MS : most) &&
           (!report_has(r, KEY_GAP) || r->gap_ms <= most);
}

static bool is_microseconds(const struct report *r, int32_t low, int32_t high) {
    for (uint32_t i = 0; i < r->ch_count; i++)
        if (r->ch[i] != CHANNEL_OFF && (r->ch[i] < low || r->ch[i] > high))
            return false;
    return true;
}

/* A sketch may tell of its supply now and then; only counters are told always. */
static bool has_shape(const struct telemetry_shape *s, bool wary, const struct report *r) {
    uint32_t steady = wary ? s->steady : s->steady & counters;
    if (s->alike >= ALIKE && (steady & ~r->has) != 0)
        return false;
    return !s->us || !report_has(r, KEY_CH) ||
           (r->ch_count == s->ch_count && is_microseconds(r, 500, 2500));
}

enum plausible plausible(const struct telemetry_base *base, const struct telemetry_shape *shape,
                         const struct telemetry_packets *packets, bool wary,
                         const struct report *report) {
    if (!base->known || (base->has & counters) == 0) /* bare numbers have nothing to be held to */
        return PLAUSIBLE;
    if (!has_shape(shape, wary, report) || (wary && !ages_fit(base, shape, report)))
        return PLAUSIBLE_NOT;
    enum plausible fit = counters_fit(base, shape, packets, report);
    if (fit != PLAUSIBLE)
        return fit;
    return seq_fits(base, shape, packets, wary, report) ? PLAUSIBLE : PLAUSIBLE_BARELY;
}

bool plausible_second(const struct telemetry_base *base, const struct telemetry_shape *shape,
                      const struct report *report) {
    if (both(base, report, KEY_N) && (went_back(base->n, report->n) || report->n - base->n < 2))
        return false;
    if (!both(base, report, KEY_T) || shape->regular < ALIKE)
        return true;
    uint32_t ms = report->t_ms - base->t_ms;
    return !went_back(base->t_ms, report->t_ms) &&
           2 * (uint64_t)ms >= 3 * (uint64_t)shape->usual_ms;
}

/* --- what the next is held against ------------------------------------------------------------ */

static void keep_interval(struct telemetry_shape *s, const struct telemetry_base *a,
                          const struct report *r) {
    bool next = both(a, r, KEY_N) ? r->n == a->n + 1 : !a->hole;
    uint32_t ms = r->t_ms - a->t_ms;
    if (!both(a, r, KEY_T) || !next || ms == 0 || went_back(a->t_ms, r->t_ms))
        return;
    uint32_t off = ms > s->usual_ms ? ms - s->usual_ms : s->usual_ms - ms;
    if (10 * (uint64_t)off <= 3 * (uint64_t)s->usual_ms + 20) {
        s->regular += s->regular < ALIKE;
        s->odd = 0;
        s->usual_ms = (7 * s->usual_ms + ms + 4) / 8;
    } else if (++s->odd >= 2 || s->usual_ms == 0) { /* a pace of its own, or none */
        s->usual_ms = ms;
        s->regular = s->odd = 0;
    }
}

void plausible_refuse(struct telemetry_shape *s, const struct report *report) {
    s->other_known = report_has(report, KEY_SEQ) && report_has(report, KEY_T);
    s->other_seq = report->seq;
    s->other_ms = report->t_ms;
}

static void keep_seq(struct telemetry_shape *s, const struct telemetry_base *a,
                     const struct telemetry_packets *p, const struct report *r) {
    enum { LONG_MS = 60000 };
    if (!seq_told(s, r) || !both(a, r, KEY_T) || another_transmitter(s, r) ||
        begins_anew(s, p, r) || went_back(a->t_ms, r->t_ms)) {
        s->moved_ms = r->t_ms;
        s->exact = s->within = 0;
        return;
    }
    uint32_t run = forward(p, s->seq, r->seq), ms = r->t_ms - a->t_ms;
    if (run > allowed(s, r->t_ms - s->moved_ms) && is_others(s, p, r)) { /* they take turns */
        s->other_seq = s->seq;
        s->other_ms = s->moved_ms;
    }
    bool counted = both(a, r, KEY_GOT) && both(a, r, KEY_LOST);
    bool exact = counted && run == r->got - a->got + r->lost - a->lost;
    bool within = both(a, r, KEY_GOT) && r->got - a->got <= run;
    s->exact = exact ? s->exact + (s->exact < ALIKE) : 0;
    s->within = within ? s->within + (s->within < ALIKE) : 0;
    if (run > 0)
        s->moved_ms = r->t_ms;
    s->ran += run < 4 * (uint64_t)ms ? run : 0;
    s->ran_ms += ms;
    if (s->ran_ms > LONG_MS) {
        s->ran /= 2;
        s->ran_ms /= 2;
    }
}

void plausible_keep(struct telemetry_shape *s, const struct telemetry_base *base,
                    const struct telemetry_packets *packets, const struct report *report) {
    uint32_t steady = report->has & ~passing;
    if (!base->known)
        *s = (struct telemetry_shape){.steady = steady};
    keep_interval(s, base, report);
    keep_seq(s, base, packets, report);
    bool lacks = (s->steady & ~steady & counters) != 0;
    s->alike = lacks ? 1 : s->alike + (s->alike < ALIKE);
    s->steady = lacks ? steady : s->alike < ALIKE ? steady : s->steady & steady;
    if (report_has(report, KEY_CH)) {
        s->us = is_microseconds(report, 700, 2300);
        s->ch_count = report->ch_count;
    }
    s->has = report->has;
    s->seq = report->seq;
    s->tboot = report->tboot;
    s->age_ms = report->age_ms;
}
