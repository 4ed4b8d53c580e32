#include "link/packets.h"

#include <math.h>

#include "base/whole.h"

#define BIT(key) (1u << (key))

enum {
    ALIAS_SLACK = 2, /* packets: got and seq may be read at slightly different moments */
    PACE_MOST = 2,
    PACE_SLACK = 20,
};

void packets_init(struct packets *p) {
    *p = (struct packets){.good_ms = TIME_UNKNOWN,
                          .report_ms = TIME_UNKNOWN,
                          .rate_from_ms = TIME_UNKNOWN,
                          .round_ms = INT64_MAX};
}

void packets_rate(struct packets *p, double rate_hz) {
    double modulus = p->seqmod == 0 ? 4294967296.0 : p->seqmod;
    double round_ms = rate_hz > 0 && p->seqmod_known ? modulus / rate_hz * 1000.0 : INFINITY;
    p->rate_hz = rate_hz;
    p->round_ms = round_ms < (double)INT64_MAX ? whole_i64(round_ms) : INT64_MAX;
}

static uint64_t unordered(const struct packet_step *s) {
    return s->got + s->lost - s->order_len - s->missing_before;
}

static bool has_all(uint32_t has, uint32_t keys) {
    return (has & keys) == keys;
}

static uint64_t seq_forward(const struct packets *p, uint32_t from, uint32_t to) {
    uint64_t modulus = p->seqmod == 0 ? UINT64_C(1) << 32 : p->seqmod;
    return ((uint64_t)to + modulus - from % modulus) % modulus;
}

/* Before the first packet of a boot, and from a baseline on, nothing of older counters is ours; but
 * the outcomes that the first report itself spells out are. */
static void set_base(struct packets *p, const struct report *r, bool fresh_boot) {
    uint32_t arrived = report_has(r, KEY_PAT) ? report_arrived(r) : 0;
    uint32_t missing = report_has(r, KEY_PAT) ? r->pat_len - arrived : 0;
    p->based = true;
    p->base_has = r->has;
    p->base_got = fresh_boot ? 0 : r->got - arrived;
    p->base_lost = fresh_boot ? 0 : r->lost - missing;
    p->base_seq = r->seq;
    p->good_ms = TIME_UNKNOWN;
    p->report_ms = TIME_UNKNOWN;
    p->rate_from_ms = TIME_UNKNOWN;
}

/* Without a start number only a drop of the sequence number can tell, and a drop may be a wrap: it
 * is one when the way forward is as long as the packets counted. */
static bool dropped_without_wrap(const struct packets *p, const struct report *r,
                                 uint64_t packets) {
    static const uint32_t usual[] = {1u << 8, 1u << 16, 0};
    enum { READ = 2 }; /* seq, got and lost are read at slightly different moments */
    if (r->seq >= p->base_seq || p->seqmod_wrong)
        return false;
    if (r->seq >= p->before_seq && r->seq - p->before_seq <= packets + p->before_packets + READ)
        return false; /* it follows the number before: the last one was damaged */
    if (p->seqmod_known)
        return seq_forward(p, p->base_seq, r->seq) > packets + 1;
    for (size_t i = 0; i < sizeof usual / sizeof usual[0]; i++) {
        struct packets guess = {.seqmod = usual[i]};
        bool fits = usual[i] == 0 || p->base_seq < usual[i];
        if (fits && seq_forward(&guess, p->base_seq, r->seq) <= packets + 1)
            return false;
    }
    return true;
}

static bool transmitter_restarted(struct packets *p, const struct report *r, uint64_t packets) {
    if (report_has(r, KEY_TBOOT)) {
        bool changed = p->tboot_known && p->tboot != r->tboot;
        p->tboot_known = true;
        p->tboot = r->tboot;
        return changed;
    }
    return has_all(r->has & p->base_has, BIT(KEY_SEQ)) && dropped_without_wrap(p, r, packets);
}

static void pattern_order(struct packet_step *s, const struct report *r) {
    uint64_t packets = s->got + s->lost;
    if (!report_has(r, KEY_PAT) || packets < r->pat_len)
        return;
    s->order_len = r->pat_len;
    s->order = r->pat;
    if (packets > r->pat_len && s->got == report_arrived(r))
        s->missing_before = packets - r->pat_len;
}

static void count_by_counters(struct packets *p, const struct report *r, bool hole,
                              struct packet_step *s) {
    s->counted = true;
    s->got = (uint32_t)(r->got - p->base_got);
    s->lost = (uint32_t)(r->lost - p->base_lost);
    pattern_order(s, r);
    bool spelled = s->order_len > 0 && s->order_len + s->missing_before == s->got + s->lost;
    bool patterns = report_has(r, KEY_PAT) || (p->base_has & BIT(KEY_PAT)) != 0;
    s->evidence = spelled || (patterns && hole) ? EVIDENCE_PATTERN : EVIDENCE_COUNTERS;
}

/* Without counters a hole's packets are in no figure, and so are those that a full pattern has no
 * room for. */
static void count_by_pattern(const struct report *r, bool hole, struct packet_step *s) {
    s->unseen = hole || r->pat_len == PATTERN_MAX;
    s->counted = true;
    s->evidence = EVIDENCE_PATTERN;
    s->got = report_arrived(r);
    s->lost = r->pat_len - s->got;
    pattern_order(s, r);
}

/* Without seqmod: the least usual modulus that holds every number seen.  Once the number went
 * round, a greater one contradicts it. */
static void assume_modulus(struct packets *p, const struct report *r) {
    if (r->seq > p->seq_greatest)
        p->seq_greatest = r->seq;
    if (p->seqmod_known)
        return;
    p->seqmod = p->seq_greatest < 1u << 8 ? 1u << 8 : p->seq_greatest < 1u << 16 ? 1u << 16 : 0;
    if (p->seqmod_assumed && p->seqmod != p->seqmod_taken)
        p->seqmod_wrong = true;
}

/* Packets a ms, as the number rose; 0 unknown. */
static double pace(const struct packets *p) {
    return p->seq_ms > 0 ? (double)p->seq_forward / (double)p->seq_ms : 0;
}

/* A number that fell too soon for that modulus began anew with its transmitter, or goes round
 * elsewhere.  It does where the start number stands, and where packets came on without the pause
 * that a start takes: a radio alone needs 100 ms from power (nRF24L01+ specification, 6.1.1). */
static void doubt_modulus(struct packets *p, const struct report *r, const struct packet_step *s,
                          uint32_t got) {
    static const double start_ms = 100;
    double pause_ms = (double)(s->good_ms - p->good_ms) - got / pace(p);
    bool same_start = report_has(r, KEY_TBOOT) && p->tboot_known && p->tboot == r->tboot;
    bool other_start = report_has(r, KEY_TBOOT) && p->tboot_known && p->tboot != r->tboot;
    if (!p->seqmod_known && !other_start && (same_start || pause_ms < start_ms))
        p->seqmod_wrong = true;
}

/* Whether the number may have gone round within the report, so that it doesn't tell what is lost.
 */
static bool is_aliased(const struct packets *p, const struct report *r, const struct packet_step *s,
                       uint32_t got, uint64_t expected) {
    double modulus = p->seqmod == 0 ? 4294967296.0 : p->seqmod;
    if (got > expected + ALIAS_SLACK && got >= modulus / 2)
        return true;
    if (p->rate_hz <= 0 || got < 2 || s->good_ms == TIME_UNKNOWN || p->good_ms == TIME_UNKNOWN)
        return false;
    double round_ms = 1000 * modulus / p->rate_hz;
    bool gap = report_has(r, KEY_GAP) && (double)r->gap_ms > round_ms; /* estimated, see below */
    return !gap && (double)(s->good_ms - p->good_ms) > round_ms;
}

/* A number that fell went round if that took about as long as before; else the transmitter began
 * anew.  Without times it is believed to have gone round. */
static bool keeps_pace(struct packets *p, const struct report *r, const struct packet_step *s,
                       uint64_t forward) {
    if (s->good_ms == TIME_UNKNOWN || p->good_ms == TIME_UNKNOWN)
        return true;
    int64_t took_ms = s->good_ms - p->good_ms;
    if (r->seq >= p->base_seq) {
        p->seq_forward += forward;
        p->seq_ms += took_ms;
        return true;
    }
    return pace(p) <= 0 || (double)forward <= PACE_MOST * pace(p) * (double)took_ms + PACE_SLACK;
}

static void count_by_sequence(struct packets *p, const struct report *r, struct packet_step *s) {
    uint32_t got = r->got - p->base_got;
    assume_modulus(p, r);
    uint64_t expected = seq_forward(p, p->base_seq, r->seq);
    bool first = p->base_got == 0 && p->good_ms == TIME_UNKNOWN;
    s->evidence = EVIDENCE_SEQUENCE;
    if (!first && is_aliased(p, r, s, got, expected)) {
        p->aliased_got += got;
        return;
    }
    if (!keeps_pace(p, r, s, expected)) {
        expected = 0; /* the number began anew */
        doubt_modulus(p, r, s, got);
    } else if (r->seq < p->base_seq && !p->seqmod_known) {
        p->seqmod_assumed = true;
        p->seqmod_taken = p->seqmod;
    }
    s->counted = true;
    s->evidence = EVIDENCE_SEQUENCE;
    s->got = got;
    s->lost = !first && expected > got ? expected - got : 0;
}

/* Two packets that arrived lie a whole number of intervals apart. */
static void measure_pace(struct packets *p, const struct report *r, const struct packet_step *s) {
    enum { INTERVALS_MOST = 15 }; /* over more, 2 % could be taken for another number */
    if (!report_has(r, KEY_AGE) || s->good_ms == TIME_UNKNOWN || p->good_ms == TIME_UNKNOWN)
        return;
    double intervals = (double)(s->good_ms - p->good_ms) * p->rate_hz / 1000.0;
    if (intervals < 0.5 || intervals > INTERVALS_MOST)
        return;
    p->pace_steps++;
    p->pace_packets += whole_u64(intervals + 0.5);
    p->pace_ms += s->good_ms - p->good_ms;
    p->pace_off += fabs(intervals - round(intervals));
}

/* Whether packets lie whole intervals apart, as far as was seen.  t and age are whole ms, read a
 * moment apart, so short intervals can't tell. */
static bool in_step(const struct packets *p) {
    static const double off_most = 0.15, shortest_ms = 8;
    return p->pace_steps > 0 && p->pace_off <= off_most * (double)p->pace_steps &&
           p->rate_hz * shortest_ms <= 1000;
}

struct packets_pace packets_pace(const struct packets *p) {
    static const double tolerance = 0.02, read_ms = 4; /* 2 ms at either end */
    enum { STEPS_LEAST = 20 };
    if (p->pace_steps < STEPS_LEAST || !in_step(p))
        return (struct packets_pace){p->rate_hz, tolerance, false};
    return (struct packets_pace){1000.0 * (double)p->pace_packets / (double)p->pace_ms,
                                 read_ms / (double)p->pace_ms, true};
}

const char *packets_lack(const struct packets *p) {
    enum { ALIASED_PART = 20 }; /* up to a twentieth the others tell it */
    if (p->aliased_got > p->got / ALIASED_PART)
        return "more packets a report than seqmod";
    return p->seqmod_wrong ? "no modulus fits seq" : NULL;
}

/* The nominal rate against what arrived, both summed from the first packet on, so that neither
 * rounding nor the jitter of the reports adds up to a loss. */
static void count_by_rate(struct packets *p, const struct report *r, struct packet_step *s) {
    s->counted = true;
    s->got = (uint32_t)(r->got - p->base_got);
    s->evidence = EVIDENCE_RATE;
    if (s->good_ms == TIME_UNKNOWN || s->got == 0)
        return;
    measure_pace(p, r, s);
    if (p->rate_from_ms == TIME_UNKNOWN) {
        p->rate_from_ms = s->good_ms;
        p->rate_got = p->rate_lost = 0;
        return;
    }
    p->rate_got += s->got;
    double rate_hz = packets_pace(p).rate_hz;
    double expected = (double)(s->good_ms - p->rate_from_ms) * rate_hz / 1000.0;
    double missing = expected - (double)p->rate_got - (double)p->rate_lost;
    if (report_has(r, KEY_AGE) && p->good_ms != TIME_UNKNOWN &&
        in_step(p)) /* from packet to packet */
        missing = round((double)(s->good_ms - p->good_ms) * rate_hz / 1000.0) - (double)s->got;
    if (missing >= 1) {
        s->lost = whole_u64(missing);
        p->rate_lost += s->lost;
    }
}

/* A packet since the report before is younger than that report.  Where age says that the newest
 * one is older, by the receiver's own clock, a counter that grew was damaged or counts something
 * else: no packet came. */
static bool too_old(const struct packets *p, const struct report *r, int64_t link_ms) {
    enum { SLACK_MS = 20 }; /* t, age and got are read at slightly different moments */
    const uint32_t keys = BIT(KEY_AGE) | BIT(KEY_T);
    bool known = has_all(r->has, keys) && (p->base_has & BIT(KEY_T)) != 0 &&
                 p->report_ms != TIME_UNKNOWN && link_ms != TIME_UNKNOWN;
    return known && (int64_t)r->age_ms > link_ms - p->report_ms + SLACK_MS;
}

static bool has_arrived(const struct packets *p, const struct report *r, int64_t link_ms) {
    if (too_old(p, r, link_ms))
        return false;
    if (report_has(r, KEY_GOT) && (p->base_has & BIT(KEY_GOT)) != 0)
        return r->got != p->base_got;
    if (report_has(r, KEY_PAT))
        return r->pat != 0;
    if (report_has(r, KEY_SEQ) && (p->base_has & BIT(KEY_SEQ)) != 0)
        return r->seq != p->base_seq;
    /* t and age are read at slightly different moments, so a few ms are no packet. */
    return report_has(r, KEY_AGE) && link_ms != TIME_UNKNOWN &&
           (p->good_ms == TIME_UNKNOWN || link_ms - (int64_t)r->age_ms > p->good_ms + 5);
}

static bool went_back(uint32_t from, uint32_t to) {
    return to - from >= UINT32_C(1) << 31;
}

static bool counters_back(const struct packets *p, const struct report *r) {
    uint32_t has = r->has & p->base_has;
    if ((has & BIT(KEY_GOT)) != 0 && went_back(p->base_got, r->got))
        return true;
    return (has & BIT(KEY_LOST)) != 0 && went_back(p->base_lost, r->lost);
}

/* Counters that go back within a boot: the report before was damaged in a way that nothing in it
 * showed.  What was counted by it is taken back, and this one counts from the report before that.
 */
static void take_back(struct packets *p, const struct report *r) {
    const struct packet_step *s = &p->last;
    if (s->counted) {
        p->got -= s->got;
        p->lost -= s->lost;
        p->estimated -= s->estimated;
        p->order_unknown -= unordered(s);
        p->unseen -= s->unseen;
    }
    p->last = (struct packet_step){0};
    bool fits = !went_back(p->before_got, r->got) && !went_back(p->before_lost, r->lost);
    p->base_got = fits ? p->before_got : r->got;
    p->base_lost = fits ? p->before_lost : r->lost;
}

/* A sequence number that fell, but not below the one before the last, where the last made a loss of
 * its own: that one was damaged. */
static bool seq_was_wrong(const struct packets *p, const struct report *r) {
    return has_all(r->has & p->base_has, BIT(KEY_SEQ) | BIT(KEY_GOT)) && !report_has(r, KEY_LOST) &&
           p->last.counted && p->last.lost > 0 && p->last.evidence == EVIDENCE_SEQUENCE &&
           r->seq < p->base_seq && r->seq > p->before_seq && !went_back(p->before_got, r->got);
}

static void count(struct packets *p, const struct report *r, bool hole, struct packet_step *s) {
    if (has_all(r->has & p->base_has, BIT(KEY_GOT) | BIT(KEY_LOST)))
        count_by_counters(p, r, hole, s);
    else if (report_has(r, KEY_PAT))
        count_by_pattern(r, hole, s);
    else if (has_all(r->has & p->base_has, BIT(KEY_GOT) | BIT(KEY_SEQ)))
        count_by_sequence(p, r, s);
    else if (has_all(r->has & p->base_has, BIT(KEY_GOT)) && p->rate_hz > 0)
        count_by_rate(p, r, s);
}

/* A gap in which the sequence number went round: its loss can only be estimated. */
static void estimate_long_gap(struct packets *p, const struct report *r, struct packet_step *s) {
    int64_t gap_ms = report_has(r, KEY_GAP) ? r->gap_ms : 0;
    if (s->got == 1 && s->good_ms != TIME_UNKNOWN && p->good_ms != TIME_UNKNOWN)
        gap_ms = s->good_ms - p->good_ms;
    if (gap_ms <= p->round_ms || !s->counted || !s->arrived || s->evidence == EVIDENCE_RATE)
        return;
    s->lost = 0;
    s->order_len = 0;
    s->missing_before = 0;
    s->estimated = whole_u64((double)gap_ms * p->rate_hz / 1000.0 + 0.5);
}

static void add_to_run(struct packets *p, const struct packet_step *s) {
    if (!s->counted)
        return;
    p->got += s->got;
    p->lost += s->lost;
    p->estimated += s->estimated;
    p->order_unknown += unordered(s);
    p->unseen += s->unseen;
    bool some = s->got + s->lost + s->estimated > 0; /* else it weakens nothing */
    if (some ? !p->any || s->evidence < p->evidence : !p->counted)
        p->evidence = s->evidence;
    p->counted = true;
    p->any = p->any || some;
}

/* When the newest packet arrived.  Time runs on, however roughly an age was rounded. */
static int64_t newest_ms(const struct packets *p, const struct report *r, int64_t link_ms,
                         bool arrived) {
    bool aged = report_has(r, KEY_AGE);
    if (link_ms == TIME_UNKNOWN || (!arrived && (p->good_ms != TIME_UNKNOWN || !aged)))
        return p->good_ms;
    int64_t good_ms = link_ms - (aged ? (int64_t)r->age_ms : 0);
    return good_ms < p->good_ms ? p->good_ms : good_ms; /* TIME_UNKNOWN is less than any time */
}

const struct packet_step *packets_report(struct packets *p, const struct report *r, int64_t link_ms,
                                         bool fresh_boot, bool hole) {
    struct packet_step *s = &p->last;
    if (!p->based || fresh_boot)
        set_base(p, r, fresh_boot);
    bool wrong = seq_was_wrong(p, r);
    if (wrong || counters_back(p, r))
        take_back(p, r);
    if (wrong)
        p->base_seq = p->before_seq;
    *s = (struct packet_step){0};
    s->arrived = has_arrived(p, r, link_ms);
    s->good_ms = newest_ms(p, r, link_ms, s->arrived);
    count(p, r, hole, s);
    bool aliased =
        s->evidence == EVIDENCE_SEQUENCE && !s->counted; /* its way forward tells nothing */
    s->transmitter_restart =
        transmitter_restarted(p, r, aliased ? UINT64_MAX - 1 : s->got + s->lost);
    if (s->transmitter_restart && s->evidence == EVIDENCE_SEQUENCE)
        s->lost = 0;
    estimate_long_gap(p, r, s);
    add_to_run(p, s);
    p->before_got = p->base_got;
    p->before_lost = p->base_lost;
    p->before_seq = p->base_seq;
    p->before_packets = s->got + s->lost;
    p->base_has = r->has;
    p->base_got = r->got;
    p->base_lost = r->lost;
    p->base_seq = r->seq;
    p->good_ms = s->good_ms;
    p->report_ms = link_ms;
    return s;
}
