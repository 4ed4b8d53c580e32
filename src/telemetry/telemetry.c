#include "telemetry/telemetry.h"

#include <string.h>

#include "base/number.h"
#include "telemetry/counters.h"
#include "telemetry/parse.h"
#include "telemetry/plausible.h"

enum { CHECKSUM_TAIL = 6 }; /* " *HHHH" */

static const enum damage_reason no_damage = DAMAGE_REASONS;

struct judgement {
    enum damage_reason reason; /* or no_damage */
    bool proved;               /* its checksum holds */
};

void telemetry_init(struct telemetry *t, event_sink *sink, void *context) {
    *t = (struct telemetry){.sink = sink, .context = context, .fresh = true};
    for (size_t i = 0; i <= REPORT_KEYS; i++)
        t->guess[i].text = 1; /* with an empty mask fits nothing */
}

void telemetry_want(struct telemetry *t, uint32_t keys) {
    t->unwanted = ~keys;
}

/* ---- one line judged ------------------------------------------------------------------------ */

enum { SEEN_BAD = 1, SEEN_TAB = 2 };

static unsigned odd_byte(unsigned char c) {
    if (c >= 0x20 && c <= 0x7E)
        return 0;
    return c == '\t' ? SEEN_TAB : SEEN_BAD;
}

static unsigned odd_bytes(struct slice line) {
    unsigned seen = 0;
    for (size_t i = 0; i < line.len; i++)
        seen |= odd_byte((unsigned char)line.at[i]);
    return seen;
}

/* Splits a checksum off the line's end; false when it has none. */
static bool split_checksum(struct slice line, struct slice *body, uint32_t *crc) {
    if (line.len < CHECKSUM_TAIL)
        return false;
    size_t at = line.len - CHECKSUM_TAIL;
    *body = slice_sub(line, 0, at);
    return line.at[at] == ' ' && line.at[at + 1] == '*' &&
           number_hex(slice_sub(line, at + 2, line.len), 4, crc);
}

static const char *last_fw(const struct telemetry *t, const struct identity *id) {
    return t->fw[id->transmitter];
}

/* A freshly started or newly flashed receiver may print no checksums any more.  An asterisk is what
 * is left of a damaged one. */
static bool lifts_checksums(const struct telemetry *t, struct slice line,
                            const struct event *event) {
    if (slice_find(line, '*') < line.len)
        return false;
    if (event->kind == EVENT_BOOT)
        return true;
    if (event->kind != EVENT_ID || !identity_has(&event->id, ID_FW))
        return false;
    return !slice_is(slice_sub(event->id.fw, 0, sizeof t->fw[0] - 1), last_fw(t, &event->id));
}

/* An id line that differs from the last one of that end, where lines are damaged: it has to come
 * twice. */
static bool is_odd_id(struct telemetry *t, struct slice body, const struct event *event) {
    bool end = event->id.transmitter;
    uint16_t crc = telemetry_crc(0xFFFF, body.at, body.len);
    bool odd = t->id_known[end] && crc != t->id_crc[end] && crc != t->id_doubted[end] && t->wary;
    if (odd) {
        t->id_doubted[end] = crc;
    } else {
        t->id_known[end] = true;
        t->id_crc[end] = crc;
    }
    return odd;
}

static enum damage_reason judge_unproved(struct telemetry *t, struct slice body,
                                         const struct event *event) {
    if (event->kind == EVENT_ID && is_odd_id(t, body, event))
        return DAMAGE_COUNTERS;
    if (event->kind != EVENT_REPORT)
        return no_damage;
    t->fits = plausible(&t->base, &t->shape, &t->packets, t->wary, &event->report);
    return t->fits == PLAUSIBLE ? no_damage : DAMAGE_COUNTERS;
}

static enum damage_reason judge_body(struct telemetry *t, struct slice body, bool proved,
                                     int64_t host_us, struct event *event) {
    enum parse_verdict verdict = parse_line(t, body, proved ? t->unwanted : 0, event);
    if (verdict == PARSE_FOREIGN)
        return DAMAGE_PLAIN_TEXT;
    if (t->checksums && !proved && (verdict != PARSE_OK || !lifts_checksums(t, body, event)))
        return DAMAGE_NO_CHECKSUM;
    if (verdict == PARSE_BAD)
        return DAMAGE_BAD_NUMBER;
    if (verdict == PARSE_RANGE)
        return DAMAGE_RANGE;
    if (event->kind == EVENT_REPORT && !counters_agree(&t->base, &event->report, host_us))
        return DAMAGE_COUNTERS;
    return proved ? no_damage : judge_unproved(t, body, event);
}

static void begin_event(struct event *event, struct slice line, int64_t host_us) {
    if (!slice_starts(line, "rx ")) {
        *event = (struct event){.host_us = host_us};
        return;
    }
    event_clear_report(event);
    event->host_us = host_us;
}

/* Changes nothing that later lines are judged by, but for what id lines without a checksum said; a
 * good line's contents are in *event. */
static struct judgement judge(struct telemetry *t, struct slice line, int64_t host_us,
                              struct event *event) {
    struct slice body = line;
    uint32_t crc = 0;
    scan_line(line, &t->scan);
    unsigned odd = t->scan.plain ? 0 : odd_bytes(line);
    begin_event(event, line, host_us);
    if (odd & SEEN_BAD)
        return (struct judgement){DAMAGE_BAD_BYTE, false};
    bool proved = split_checksum(line, &body, &crc);
    if (proved && telemetry_crc(0xFFFF, body.at, body.len) != crc)
        return (struct judgement){DAMAGE_BAD_CHECKSUM, false};
    if (!proved)
        body = line;
    if (body.len == 0) { /* a blank line says nothing, and nothing in it can be wrong */
        event->kind = EVENT_SAY;
        return (struct judgement){no_damage, proved};
    }
    if (odd & SEEN_TAB) {
        if (parse_bare(t, body, event) == PARSE_FOREIGN)
            return (struct judgement){DAMAGE_BAD_BYTE, proved};
        *event = (struct event){.host_us = host_us};
    }
    return (struct judgement){judge_body(t, body, proved, host_us, event), proved};
}

/* ---- events out ----------------------------------------------------------------------------- */

static void refuse(struct telemetry *t, enum damage_reason reason, bool continues,
                   struct slice bytes, size_t wire, int64_t host_us) {
    struct event event = {.kind = EVENT_DAMAGE, .bytes = (uint32_t)wire, .host_us = host_us};
    event.damage.reason = reason;
    event.damage.continues = continues;
    event.damage.bytes = bytes;
    t->tally.bytes_refused += wire;
    if (!continues) {
        t->tally.lines_refused++;
        t->tally.refused[reason]++;
    }
    if (reason != DAMAGE_PLAIN_TEXT) {
        t->base.hole = true;
        t->doubted.hole |= reason != DAMAGE_COUNTERS;
    }
    t->sink(t->context, &event);
}

static void remember_fw(struct telemetry *t, const struct identity *id) {
    char *fw = t->fw[id->transmitter];
    struct slice name = slice_sub(id->fw, 0, sizeof t->fw[0] - 1);
    if (!identity_has(id, ID_FW))
        return;
    memcpy(fw, name.at, name.len);
    fw[name.len] = '\0';
}

static void keep_id(struct telemetry *t, const struct event *event) {
    remember_fw(t, &event->id);
    if (event->id.transmitter)
        return;
    t->packets.seqmod_known = identity_has(&event->id, ID_SEQMOD);
    t->packets.seqmod = event->id.seqmod;
}

/* The base that stays behind the new one: the last but one where the last was wrong. */
static void keep_report(struct telemetry *t, const struct event *event, bool proved) {
    if (t->amends == AMENDS_NOTHING) {
        t->before = t->base;
        t->shape_before = t->shape;
    } else if (t->amends == AMENDS_LAST) {
        t->base = t->before;
        t->shape = t->shape_before;
    } else {
        t->before.known = false;
        t->base.known = false;
    }
    if (!proved)
        plausible_keep(&t->shape, &t->base, &t->packets, &event->report);
    counters_keep(&t->base, &event->report, event->host_us);
    t->doubted.known = false;
    t->amends = AMENDS_NOTHING;
}

static void accept(struct telemetry *t, struct event *event, bool proved, size_t wire) {
    event->bytes = (uint32_t)wire;
    t->tally.bytes_good += wire;
    t->tally.lines_good++;
    if (!proved && t->checksums && (event->kind == EVENT_BOOT || event->kind == EVENT_ID))
        t->checksums = false;
    if (event->kind == EVENT_REPORT) {
        keep_report(t, event, proved);
    } else if (event->kind == EVENT_BOOT) {
        t->base = (struct telemetry_base){0};
    } else if (event->kind == EVENT_ID) {
        keep_id(t, event);
    }
    t->sink(t->context, event);
}

/* A report refused for its counters that follows the last good one but one: then it is the last
 * that was wrong, damaged in a way that nothing in it showed (a stream without checksums). */
static bool follows_before(struct telemetry *t, const struct event *event, bool proved) {
    if (proved || !t->before.known ||
        !plausible_second(&t->before, &t->shape_before, &event->report))
        return false;
    t->before.hole = true;
    t->shape_before.steady = t->shape.steady; /* whether a key may lack is no matter of one line */
    t->shape_before.alike = t->shape.alike;
    return counters_succession(&t->before, &event->report, event->host_us) != FOLLOWS_RESTART &&
           counters_agree(&t->before, &event->report, event->host_us) &&
           plausible(&t->before, &t->shape_before, &t->packets, t->wary, &event->report) ==
               PLAUSIBLE;
}

/* Likewise several in a row that agree with one another. */
static bool base_is_wrong(struct telemetry *t, const struct event *event) {
    enum { DOUBTS = 3 };
    const struct report *r = &event->report;
    bool agree = t->doubted.known && counters_agree(&t->doubted, r, event->host_us) &&
                 plausible(&t->doubted, &t->shape_doubted, &t->packets, t->wary, r) == PLAUSIBLE;
    t->doubts = agree ? t->doubts + 1 : 1;
    plausible_keep(&t->shape_doubted, &t->doubted, &t->packets, r);
    counters_keep(&t->doubted, r, event->host_us);
    return t->doubts >= DOUBTS;
}

static bool is_believed(struct telemetry *t, const struct event *event, bool proved) {
    if (event->kind != EVENT_REPORT)
        return false;
    t->amends = follows_before(t, event, proved) ? AMENDS_LAST
                : base_is_wrong(t, event)        ? AMENDS_ALL
                                                 : AMENDS_NOTHING;
    return t->amends != AMENDS_NOTHING;
}

static bool is_restart(const struct event *event) {
    return event->kind == EVENT_BOOT || (event->kind == EVENT_REPORT &&
                                         report_has(&event->report, KEY_N) && event->report.n == 1);
}

static void take_piece(struct telemetry *t, struct slice piece, size_t wire, int64_t host_us) {
    bool continues = t->overlong;
    t->overlong = true;
    t->fresh = false;
    refuse(t, DAMAGE_TOO_LONG, continues, piece, wire, host_us);
}

/* What stood before a line that was recovered. */
static void refuse_head(struct telemetry *t, struct slice head, const struct event *next) {
    if (t->overlong) {
        if (head.len > 0)
            take_piece(t, head, head.len, next->host_us);
        return;
    }
    enum damage_reason reason = DAMAGE_RUN_ON;
    if (is_restart(next))
        reason = DAMAGE_CUT_RESTART;
    else if (t->fresh)
        reason = DAMAGE_JOINED;
    refuse(t, reason, false, head, head.len, next->host_us);
}

/* A line that lost its end runs into the next one.  Where a later word begins a text whose checksum
 * holds, that text is a line of its own, and what stands before it is the damage. */
static bool recover(struct telemetry *t, struct slice line, size_t wire, int64_t host_us) {
    struct slice body;
    uint32_t crc;
    if (!split_checksum(line, &body, &crc))
        return false;
    for (size_t at = t->overlong ? 0 : 1; at < body.len; at++) {
        struct slice tail = slice_sub(line, at, line.len);
        struct event event;
        if (!parse_starts(tail))
            continue;
        struct judgement j = judge(t, tail, host_us, &event);
        if (j.reason != no_damage || !j.proved)
            continue;
        refuse_head(t, slice_sub(line, 0, at), &event);
        t->fresh = false;
        t->checksums = true;
        accept(t, &event, true, wire - at);
        return true;
    }
    return false;
}

/* ---- lines out of bytes --------------------------------------------------------------------- */

static struct slice without_cr(struct slice line) {
    bool cr = line.len > 0 && line.at[line.len - 1] == '\r';
    return slice_sub(line, 0, line.len - cr);
}

static bool is_bare(const struct event *event, struct slice line) {
    return event->kind == EVENT_REPORT && !slice_starts(line, "rx ");
}

static bool shows_damage(const struct telemetry *t, struct judgement j) {
    return j.reason == DAMAGE_BAD_BYTE || j.reason == DAMAGE_BAD_NUMBER ||
           j.reason == DAMAGE_RANGE ||
           (j.reason == DAMAGE_COUNTERS && !j.proved && t->fits == PLAUSIBLE_NOT);
}

/* Takes a line of at most LINE_BYTES_MAX bytes that came with `wire` bytes, line end included.  A
 * torn one has no line end: only its checksum can show that nothing is missing. */
static void take_line(struct telemetry *t, struct slice line, size_t wire, int64_t host_us,
                      bool torn) {
    struct event event;
    struct judgement j = judge(t, line, host_us, &event);
    if (torn && !j.proved)
        j.reason = DAMAGE_TORN_END;
    /* The first line of a connection may lack its head.  Of bare numbers nothing would show it:
     * "00,1500" could be the end of "1500,1500". */
    else if (t->fresh && !j.proved && j.reason == no_damage && is_bare(&event, line))
        j.reason = DAMAGE_JOINED;
    else if (t->fresh && j.reason != no_damage && j.reason != DAMAGE_PLAIN_TEXT)
        j.reason = DAMAGE_JOINED;
    t->checksums |= j.proved;
    if (j.reason == DAMAGE_COUNTERS && is_believed(t, &event, j.proved))
        j.reason = no_damage;
    if (j.reason == no_damage) {
        t->fresh = false;
        accept(t, &event, j.proved, wire);
        return;
    }
    t->base.hole |= j.reason != DAMAGE_PLAIN_TEXT;
    t->wary |= shows_damage(t, j);
    if (j.reason == DAMAGE_COUNTERS && !j.proved && t->fits == PLAUSIBLE_BARELY)
        plausible_refuse(&t->shape, &event.report);
    if (!j.proved && recover(t, line, wire, host_us))
        return;
    t->fresh = false;
    refuse(t, j.reason, false, line, wire, host_us);
}

/* Takes the rest of an over-long line, which may be a whole line that another ran into. */
static void take_last_piece(struct telemetry *t, struct slice line, size_t wire, int64_t host_us) {
    if (!recover(t, line, wire, host_us))
        take_piece(t, line, wire, host_us);
    t->overlong = false;
}

/* Takes bytes up to and with a line feed. */
static void take_ended(struct telemetry *t, struct slice with_end, int64_t host_us) {
    struct slice line = without_cr(slice_sub(with_end, 0, with_end.len - 1));
    if (t->overlong) {
        take_last_piece(t, line, with_end.len, host_us);
    } else {
        take_line(t, line, with_end.len, host_us, false);
    }
}

/* True when these open bytes can't be a line of LINE_BYTES_MAX bytes any more, whatever follows. */
static bool is_over(struct slice open) {
    return open.len > LINE_BYTES_MAX + 1 ||
           (open.len == LINE_BYTES_MAX + 1 && open.at[open.len - 1] != '\r');
}

/* Where to cut an over-long line: before the first word in it that may begin a line of its own, so
 * that no such line is ever cut.  Only the bytes that are there in every chunking are looked at. */
static size_t piece_len(struct slice open) {
    for (size_t at = 1; at < LINE_BYTES_MAX; at++) {
        if (parse_may_start(slice_sub(open, at, LINE_BYTES_MAX + 1)))
            return at;
    }
    return LINE_BYTES_MAX;
}

static void cut_pieces(struct telemetry *t, bool ended, int64_t host_us) {
    for (;;) {
        struct slice open = {t->line, t->len};
        struct slice line = ended ? without_cr(slice_sub(open, 0, open.len - 1)) : open;
        if (ended ? line.len <= LINE_BYTES_MAX : !is_over(open))
            return;
        size_t cut = piece_len(open);
        take_piece(t, slice_sub(open, 0, cut), cut, host_us);
        t->len -= cut;
        memmove(t->line, t->line + cut, t->len);
    }
}

/* Adds bytes to the open line, up to its end or until it is full; returns how many. */
static size_t take_open(struct telemetry *t, const char *bytes, size_t len, int64_t host_us) {
    size_t room = sizeof t->line - t->len;
    size_t take = len < room ? len : room;
    const char *end = memchr(bytes, '\n', take);
    if (end)
        take = (size_t)(end - bytes) + 1;
    memcpy(t->line + t->len, bytes, take);
    t->len += take;
    t->tally.bytes_in += take;
    cut_pieces(t, end != NULL, host_us);
    if (end) {
        struct slice open = {t->line, t->len};
        t->len = 0;
        take_ended(t, open, host_us);
    }
    return take;
}

void telemetry_feed(struct telemetry *t, const char *bytes, size_t len, int64_t host_us) {
    while (len > 0) {
        size_t taken = 0;
        if (t->len == 0) { /* a whole line within these bytes is decoded where it stands */
            size_t reach = len < LINE_BYTES_MAX + 1 ? len : LINE_BYTES_MAX + 1;
            const char *end = memchr(bytes, '\n', reach);
            if (end) {
                taken = (size_t)(end - bytes) + 1;
                t->tally.bytes_in += taken;
                take_ended(t, (struct slice){bytes, taken}, host_us);
            }
        }
        if (taken == 0)
            taken = take_open(t, bytes, len, host_us);
        bytes += taken;
        len -= taken;
    }
}

void telemetry_end(struct telemetry *t, int64_t host_us) {
    struct slice open = {t->line, t->len};
    t->len = 0;
    if (t->overlong)
        take_last_piece(t, without_cr(open), open.len, host_us);
    else if (open.len > 0)
        take_line(t, without_cr(open), open.len, host_us, true);
    t->overlong = false;
}

void telemetry_rejoin(struct telemetry *t, int64_t host_us) {
    telemetry_end(t, host_us);
    t->fresh = true;
    t->base.hole = true;
    t->before.known = false;
    t->shape = (struct telemetry_shape){0}; /* whatever time has passed */
}
