#include "study/baseline.h"

#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "base/number.h"
#include "base/text.h"

static const char head[] = "airleash-baseline 1";
_Static_assert(sizeof head == BASELINE_HEAD, "BASELINE_HEAD is the head with its line end");

enum kind {
    KIND_TEXT,
    KIND_COUNT,
    KIND_SPAN,
    KIND_FLAG,
    KIND_HZ,
    KIND_ACK,
    KIND_EVIDENCE,
    KIND_PAST
};

static const char *const ack_words[] = {
    [ACK_UNKNOWN] = "unknown", [ACK_WITHOUT] = "without", [ACK_WITH] = "with", [ACK_BOTH] = "both"};

struct field {
    const char *name;
    enum kind kind;
    size_t at, size; /* size of a text */
};
#define FIELD(name, kind, member)                                                                  \
    { name, kind, offsetof(struct sample, member), sizeof((struct sample *)0)->member }

static const struct field fields[] = {
    FIELD("name", KIND_TEXT, name),
    FIELD("begun", KIND_TEXT, begun),
    FIELD("block_ms", KIND_SPAN, block_ms),
    FIELD("ack", KIND_ACK, ack),
    FIELD("usb", KIND_FLAG, usb),
    FIELD("counted", KIND_FLAG, counted),
    FIELD("got", KIND_COUNT, got),
    FIELD("lost", KIND_COUNT, lost),
    FIELD("unordered_lost", KIND_COUNT, unordered_lost),
    FIELD("evidence", KIND_EVIDENCE, evidence),
    FIELD("rate_hz", KIND_HZ, rate_hz),
    FIELD("run_packets", KIND_COUNT, runs.packets),
    FIELD("run_lost", KIND_COUNT, runs.lost),
    FIELD("runs", KIND_COUNT, runs.runs),
    FIELD("gaps", KIND_COUNT, runs.gaps),
    FIELD("run_squares", KIND_COUNT, runs.run_squares),
    {"gap_squares", KIND_PAST, 0, 0}, /* older files have it */
    FIELD("run_longest", KIND_COUNT, runs.run_longest),
    FIELD("runs_begun", KIND_COUNT, runs.begun),
    FIELD("outages_known", KIND_FLAG, outages_known),
    FIELD("outage_limit_ms", KIND_SPAN, outage_limit_ms),
    FIELD("outages", KIND_COUNT, outages),
    FIELD("failsafe_known", KIND_FLAG, failsafe_known),
    FIELD("failsafes", KIND_COUNT, failsafes),
    FIELD("registers_known", KIND_FLAG, registers_known),
    FIELD("registers_forgotten", KIND_COUNT, settings_lost),
    FIELD("receiver_restarts", KIND_COUNT, receiver_restarts),
    FIELD("transmitter_restarts_known", KIND_FLAG, transmitter_restarts_known),
    FIELD("transmitter_restarts", KIND_COUNT, transmitter_restarts),
};
enum { FIELDS = sizeof fields / sizeof fields[0] };

static const int64_t span_most_ms = INT64_C(1000000000000); /* some 30 years: sums of it fit */

/* --- writing ---------------------------------------------------------------------------------- */

static void put_text(struct text *t, const struct field *f, const void *at) {
    switch (f->kind) {
    case KIND_TEXT:
        text_escape(t, slice_of(at));
        break;
    case KIND_COUNT:
        text_u64(t, *(const uint64_t *)at);
        break;
    case KIND_SPAN:
        text_i64(t, *(const int64_t *)at);
        break;
    case KIND_FLAG:
        text_string(t, *(const bool *)at ? "1" : "0");
        break;
    case KIND_HZ:
        text_format(t, "%.6f", *(const double *)at);
        break;
    case KIND_ACK:
        text_string(t, ack_words[*(const enum sample_ack *)at]);
        break;
    case KIND_EVIDENCE:
        text_string(t, evidence_name(*(const enum evidence *)at));
        break;
    case KIND_PAST:
        break;
    }
}

static void put_block(struct text *t, const struct sample_block *b) {
    text_format(t, "block %llu %llu %llu %llu %.3f %llu %.0f %d %llu %llu\n",
                (unsigned long long)b->got, (unsigned long long)b->lost,
                (unsigned long long)b->outages, (unsigned long long)b->jitters, b->jitter_ms,
                (unsigned long long)b->supplies, b->supply_mv, (int)b->supply_low_mv,
                (unsigned long long)b->noise_hits, (unsigned long long)b->noise_looks);
}

void baseline_head(baseline_put *put, void *where) {
    put(where, head, sizeof head - 1);
    put(where, "\n", 1);
}

/* The unfinished block is written last: it is in the totals, but in no test. */
void baseline_write(const struct sample *s, baseline_put *put, void *where) {
    char line[BASELINE_LINE];
    struct text t;
    text_init(&t, line, sizeof line);
    text_string(&t, "recording\n");
    put(where, line, t.len);
    for (size_t i = 0; i < FIELDS; i++) {
        if (fields[i].kind == KIND_PAST)
            continue;
        text_clear(&t);
        text_string(&t, fields[i].name);
        text_char(&t, ' ');
        put_text(&t, &fields[i], (const char *)s + fields[i].at);
        text_char(&t, '\n');
        put(where, line, t.len);
    }
    for (uint32_t i = 0; s->begin_ms != TIME_UNKNOWN && i <= s->full; i++) {
        text_clear(&t);
        put_block(&t, &s->block[i]);
        put(where, line, t.len);
    }
    put(where, "end\n", 4);
}

/* --- reading ---------------------------------------------------------------------------------- */

bool baseline_recognises(const char *bytes, size_t len) {
    return len >= sizeof head - 1 && memcmp(bytes, head, sizeof head - 1) == 0;
}

static bool take_word(struct slice value, const char *word, int index, void *at) {
    if (!slice_is(value, word))
        return false;
    *(int *)at = index;
    return true;
}

static bool take_ack(struct slice value, void *at) {
    for (int i = ACK_UNKNOWN; i <= ACK_BOTH; i++)
        if (take_word(value, ack_words[i], i, at))
            return true;
    return false;
}

static bool take_evidence(struct slice value, void *at) {
    for (int i = EVIDENCE_NONE; i <= EVIDENCE_PATTERN; i++)
        if (take_word(value, evidence_name((enum evidence)i), i, at))
            return true;
    return false;
}

_Static_assert(sizeof(enum sample_ack) == sizeof(int) && sizeof(enum evidence) == sizeof(int),
               "take_word stores an int");

static bool take_flag(struct slice value, bool *at) {
    *at = slice_is(value, "1");
    return *at || slice_is(value, "0");
}

static bool take_text(struct slice value, char *at, size_t size) {
    struct text t;
    text_init(&t, at, size);
    return text_unescape(&t, value) && !t.full;
}

static bool take_value(const struct field *f, struct slice value, void *at) {
    switch (f->kind) {
    case KIND_TEXT:
        return take_text(value, at, f->size);
    case KIND_COUNT:
        return number_u64(value, at) == NUMBER_OK;
    case KIND_SPAN:
        return number_i64(value, at) == NUMBER_OK && *(int64_t *)at >= 0 &&
               *(int64_t *)at <= span_most_ms;
    case KIND_FLAG:
        return take_flag(value, at);
    case KIND_HZ:
        return number_decimal(value, at) == NUMBER_OK && *(double *)at >= 0;
    case KIND_ACK:
        return take_ack(value, at);
    case KIND_EVIDENCE:
        return take_evidence(value, at);
    case KIND_PAST:
        return true;
    }
    return false;
}

static bool next_count(struct slice *rest, uint64_t *out) {
    return number_u64(slice_cut(rest, ' '), out) == NUMBER_OK;
}

static bool next_decimal(struct slice *rest, double *out) {
    return number_decimal(slice_cut(rest, ' '), out) == NUMBER_OK && *out >= 0;
}

static bool take_block(struct slice rest, struct sample_block *b) {
    *b = (struct sample_block){0};
    return next_count(&rest, &b->got) && next_count(&rest, &b->lost) &&
           next_count(&rest, &b->outages) && next_count(&rest, &b->jitters) &&
           next_decimal(&rest, &b->jitter_ms) && next_count(&rest, &b->supplies) &&
           next_decimal(&rest, &b->supply_mv) &&
           number_i32(slice_cut(&rest, ' '), &b->supply_low_mv) == NUMBER_OK &&
           next_count(&rest, &b->noise_hits) && next_count(&rest, &b->noise_looks) &&
           rest.at == NULL && b->supply_low_mv >= 0 && b->noise_hits <= b->noise_looks;
}

/* Sums that can't be: the file was edited, or isn't whole. */
static bool is_sound(const struct sample *s) {
    return s->block_ms >= SAMPLE_BLOCK_MS && s->runs.lost <= s->runs.packets &&
           s->runs.runs <= s->runs.lost && s->got <= UINT64_MAX / 4 && s->lost <= UINT64_MAX / 4 &&
           (!s->counted || s->got + s->lost > 0);
}

static enum baseline_step begin(struct baseline_reader *r, struct sample *into) {
    sample_init(into, 0);
    r->open = true;
    r->blocks = 0;
    return BASELINE_MORE;
}

static enum baseline_step finish(struct baseline_reader *r, struct sample *into) {
    r->open = false;
    if (into->runs.begun == 0) /* an older file; nearly so many */
        into->runs.begun = into->runs.runs < into->runs.gaps ? into->runs.runs : into->runs.gaps;
    if (r->blocks > 0) {
        into->begin_ms = 0;
        into->full = r->blocks - 1;
    }
    return is_sound(into) ? BASELINE_DONE : BASELINE_BAD;
}

static enum baseline_step take_field(struct slice key, struct slice value, struct sample *into) {
    for (size_t i = 0; i < FIELDS; i++)
        if (slice_is(key, fields[i].name))
            return take_value(&fields[i], value, (char *)into + fields[i].at) ? BASELINE_MORE
                                                                              : BASELINE_BAD;
    return BASELINE_BAD;
}

enum baseline_step baseline_line(struct baseline_reader *r, struct slice line,
                                 struct sample *into) {
    if (!r->headed) {
        r->headed = slice_is(line, head);
        return r->headed ? BASELINE_MORE : BASELINE_BAD;
    }
    if (!r->open)
        return slice_is(line, "recording") ? begin(r, into) : BASELINE_BAD;
    if (slice_is(line, "end"))
        return finish(r, into);
    struct slice rest = line, key = slice_cut(&rest, ' ');
    if (rest.at == NULL)
        return BASELINE_BAD;
    if (!slice_is(key, "block"))
        return take_field(key, rest, into);
    if (r->blocks >= SAMPLE_BLOCKS || !take_block(rest, &into->block[r->blocks]))
        return BASELINE_BAD;
    r->blocks++;
    return BASELINE_MORE;
}
