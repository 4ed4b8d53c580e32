/* telemetry/: bytes to events.  A stream in the tables is written with #### where the checksum
 * stands; the test puts it in by its own bit-by-bit CRC, which is checked against the catalogue. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
/* cmocka wants those first */
#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/text.h"
#include "dice.h"
#include "emit/emit.h"
#include "telemetry/counters.h"
#include "telemetry/crc.h"
#include "telemetry/parse.h"
#include "telemetry/telemetry.h"
#include "telemetry/words.h"

#define COUNT(table) (sizeof(table) / sizeof(table)[0])
#define SECOND_US    1000000

/* ---- helpers -------------------------------------------------------------------------------- */

static uint16_t crc_by_bits(uint16_t crc, const char *bytes, size_t len) {
    for (size_t i = 0; i < len; i++) {
        crc = (uint16_t)(crc ^ (unsigned char)bytes[i] << 8);
        for (int bit = 0; bit < 8; bit++)
            crc = (uint16_t)(crc & 0x8000 ? crc << 1 ^ 0x1021 : crc << 1);
    }
    return crc;
}

/* Copies stream to out with every " *####" made into the checksum of what stands before it on its
 * line, or, after a `|`, of what stands behind that; a `|` itself vanishes. */
static size_t with_checksums(char *out, const char *stream) {
    char *at = out, *start = out;
    for (const char *c = stream; *c != '\0'; c++) {
        if (*c == '|' || *c == '\n') {
            if (*c == '\n')
                *at++ = *c;
            start = at;
        } else if (strncmp(c, " *####", 6) == 0) {
            unsigned crc = crc_by_bits(0xFFFF, start, (size_t)(at - start));
            at += sprintf(at, " *%04X", crc);
            c += 5;
        } else {
            *at++ = *c;
        }
    }
    return (size_t)(at - out);
}

static void put_channels(struct text *out, const int32_t *values, uint32_t count) {
    for (uint32_t i = 0; i < count; i++) {
        text_string(out, i > 0 ? "," : "");
        if (values[i] == CHANNEL_OFF)
            text_string(out, "-");
        else if (values[i] == CHANNEL_HOLD)
            text_string(out, "hold");
        else
            text_i64(out, values[i]);
    }
}

static void put_field(struct text *out, const struct report *r, unsigned key) {
    const struct report_field *f = &report_fields[key];
    const char *at = (const char *)r + f->offset;
    uint32_t u[2];
    int32_t s;
    memcpy(&u[0], at, sizeof u[0]);
    memcpy(&s, at, sizeof s);
    switch (f->shape) {
    case SHAPE_U32:
    case SHAPE_FLAG:
        text_u64(out, u[0]);
        break;
    case SHAPE_I32:
        text_i64(out, s);
        break;
    case SHAPE_PAIR:
        memcpy(u, at, sizeof u);
        text_format(out, "%u/%u", u[0], u[1]);
        break;
    case SHAPE_PATTERN:
        for (uint32_t i = 0; i < r->pat_len; i++)
            text_char(out, r->pat >> i & 1 ? 'o' : 'x');
        break;
    case SHAPE_CHANNELS:
        put_channels(out, key == KEY_CH ? r->ch : r->in, key == KEY_CH ? r->ch_count : r->in_count);
        break;
    case SHAPE_REGISTERS:
        text_string(out, registers_name((enum radio_registers)u[0]));
        break;
    }
}

/* The report printed anew: its keys in the order that the expectations below have, then what was
 * unknown. */
static void put_report(struct text *out, const struct report *r) {
    static const uint8_t order[] = {
        KEY_N,     KEY_T,       KEY_CH,    KEY_IN,   KEY_LOCK, KEY_SEQ,    KEY_TBOOT, KEY_GOT,
        KEY_LOST,  KEY_REFUSED, KEY_PAT,   KEY_AGE,  KEY_GAP,  KEY_FS,     KEY_FSN,   KEY_MV,
        KEY_MVMIN, KEY_HEARD,   KEY_NOISE, KEY_RSSI, KEY_REG,  KEY_REINIT, KEY_TMV,   KEY_TSTEP};
    _Static_assert(sizeof order == REPORT_KEYS, "every key is printed");
    text_string(out, "rx");
    for (unsigned i = 0; i < REPORT_KEYS; i++) {
        unsigned key = order[i];
        if (!report_has(r, (enum report_key)key))
            continue;
        text_format(out, " %s=", report_fields[key].key);
        put_field(out, r, key);
    }
    if (r->extra.len > 0) {
        text_string(out, " | ");
        text_slice(out, r->extra);
    }
}

static void put_identity(struct text *out, const struct identity *id) {
    text_format(out, "id has=%X", id->has);
    if (identity_has(id, ID_END))
        text_string(out, id->transmitter ? " tx" : " rx");
    if (identity_has(id, ID_UNIT))
        text_string(out, id->raw_unit ? " raw" : " us");
    if (identity_has(id, ID_RATE))
        text_format(out, " rate=%.3f", id->rate_hz);
    if (identity_has(id, ID_SPAN))
        text_format(out, " span=%d,%d", id->span_low, id->span_high);
    if (identity_has(id, ID_SAFE)) {
        text_string(out, " safe=");
        put_channels(out, id->safe, id->safe_count);
    }
    text_format(out, " n=%u,%u,%u,%u,%u,%u,%u,%u,%u,%u", id->chans, id->seqmod, id->mhz, id->hop,
                id->kbps, id->aw, id->crc, id->size, id->ack, id->retries);
    text_string(out, id->dynamic_size ? " dyn" : "");
    text_string(out, " fw=");
    text_slice(out, id->fw);
    text_string(out, " addr=");
    text_slice(out, id->addr);
}

static void put_air(struct text *out, const struct air_sweep *air) {
    text_format(out, "air %u+%u/%u", air->from_mhz, air->step_mhz, air->per);
    for (uint32_t i = 0; i < air->count; i++)
        text_format(out, "%c%u", i > 0 ? ',' : ' ', air->hits[i]);
}

static void put_event(struct text *out, const struct event *e) {
    switch (e->kind) {
    case EVENT_REPORT:
        put_report(out, &e->report);
        break;
    case EVENT_ID:
        put_identity(out, &e->id);
        break;
    case EVENT_BOOT:
        text_format(out, "boot %s", boot_cause_name(e->boot.cause));
        break;
    case EVENT_AIR:
        put_air(out, &e->air);
        break;
    case EVENT_SAY:
    case EVENT_OTHER:
        text_format(out, "%s [", event_kind_name(e->kind));
        text_slice(out, e->text);
        text_string(out, "]");
        break;
    case EVENT_DAMAGE:
        text_string(out, damage_name(e->damage.reason));
        text_string(out, e->damage.continues ? " (more)" : "");
        break;
    default:
        fail_msg("no telemetry event: kind %d", (int)e->kind);
    }
}

struct heard {
    struct text text;
    bool full; /* with lengths and the damaged bytes */
    uint64_t bytes, events, first_pieces;
    uint64_t digest; /* of all that was put, where it would be too much to keep */
};

static void hear(void *context, const struct event *e) {
    struct heard *h = context;
    char buffer[6000];
    struct text one;
    text_init(&one, buffer, sizeof buffer);
    put_event(&one, e);
    if (h->full) {
        text_format(&one, " #%u", e->bytes);
        if (e->kind == EVENT_DAMAGE) {
            text_string(&one, " ");
            text_escape(&one, e->damage.bytes);
        }
    }
    assert_false(one.full);
    h->bytes += e->bytes;
    h->events++;
    h->first_pieces += e->kind == EVENT_DAMAGE && !e->damage.continues;
    for (size_t i = 0; i <= one.len; i++)
        h->digest = (h->digest ^ (unsigned char)buffer[i]) * UINT64_C(1099511628211);
    if (h->text.at != NULL) {
        text_string(&h->text, h->text.len > 0 ? "\n" : "");
        text_slice(&h->text, text_view(&one));
        assert_false(h->text.full);
    }
}

static void check_bytes(const struct telemetry *t, const struct heard *h) {
    assert_int_equal(t->tally.bytes_in, t->tally.bytes_good + t->tally.bytes_refused + t->len);
    assert_int_equal(h->bytes, t->tally.bytes_good + t->tally.bytes_refused);
    assert_int_equal(h->first_pieces, t->tally.lines_refused);
}

static uint32_t next_random(uint32_t *seed) {
    *seed ^= *seed << 13;
    *seed ^= *seed >> 17;
    *seed ^= *seed << 5;
    return *seed;
}

enum chunking { WHOLE, BYTEWISE, RANDOM_CHUNKS, CHUNKINGS };

static void feed(struct telemetry *t, const struct heard *h, const char *bytes, size_t len,
                 enum chunking how, uint32_t seed) {
    while (len > 0) {
        size_t chunk = how == WHOLE ? len : how == BYTEWISE ? 1 : next_random(&seed) % 700;
        if (chunk > len)
            chunk = len;
        /* A copy of just these bytes, so that a sanitizer sees a read past them. */
        char one = *bytes, *copy = chunk == 1 ? &one : malloc(chunk + (chunk == 0));
        assert_non_null(copy);
        memcpy(copy, bytes, chunk);
        telemetry_feed(t, copy, chunk, TIME_UNKNOWN);
        if (copy != &one)
            free(copy);
        check_bytes(t, h);
        bytes += chunk;
        len -= chunk;
    }
}

/* Decodes a stream and checks that every chunking gives the same; the events are left in *out. */
static void decode(struct text *out, const char *bytes, size_t len, bool full) {
    for (unsigned how = 0; how < CHUNKINGS + 3; how++) {
        struct telemetry t;
        static char buffer[1 << 18];
        struct heard h = {.full = full};
        text_init(&h.text, buffer, sizeof buffer);
        telemetry_init(&t, hear, &h);
        feed(&t, &h, bytes, len, how < RANDOM_CHUNKS ? (enum chunking)how : RANDOM_CHUNKS, how + 1);
        telemetry_end(&t, TIME_UNKNOWN);
        check_bytes(&t, &h);
        assert_int_equal(h.bytes, len);
        assert_int_equal(t.tally.bytes_in, len);
        if (how == 0)
            text_slice(out, text_view(&h.text));
        else
            assert_string_equal(buffer, out->at);
    }
}

struct row {
    const char *legend, *stream, *events;
};

/* The stream of each row is fed after a blank line, so that no line is the connection's first. */
static void check_rows(const struct row *rows, size_t count, const char *before) {
    for (size_t i = 0; i < count; i++) {
        char stream[4096], buffer[8192], wanted[8192];
        struct text out;
        char *at = stream + sprintf(stream, "%s", before);
        size_t len = (size_t)(at - stream) + with_checksums(at, rows[i].stream);
        print_message("  %s\n", rows[i].legend);
        text_init(&out, buffer, sizeof buffer);
        decode(&out, stream, len, false);
        snprintf(wanted, sizeof wanted, "%s%s", before[0] != '\0' ? "say []\n" : "",
                 rows[i].events);
        assert_string_equal(buffer, wanted);
    }
}

/* ---- the checksum --------------------------------------------------------------------------- */

static void checksum_catalogue(void **state) {
    (void)state;
    /* CRC-16/IBM-3740 of the CRC RevEng catalogue: the first is its check value; the others were
     * computed with a general CRC library (crccheck) and by a bitwise loop. */
    char many[256];
    memset(many, 'A', sizeof many);
    const struct {
        struct slice bytes;
        uint16_t crc;
    } rows[] = {
        {slice_of("123456789"), 0x29B1},
        {slice_of(""), 0xFFFF},
        {slice_of("A"), 0xB915},
        {slice_of("The quick brown fox jumps over the lazy dog"), 0x8FDD},
        {{many, sizeof many}, 0xEA0B},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct slice s = rows[i].bytes;
        assert_int_equal(crc_by_bits(0xFFFF, s.at, s.len), rows[i].crc);
        assert_int_equal(telemetry_crc(0xFFFF, s.at, s.len), rows[i].crc);
        for (size_t cut = 0; cut <= s.len; cut++) /* continued at any byte */
            assert_int_equal(
                telemetry_crc(telemetry_crc(0xFFFF, s.at, cut), s.at + cut, s.len - cut),
                rows[i].crc);
    }
}

static void checksum_of_any_bytes(void **state) {
    (void)state;
    uint32_t seed = 7;
    char bytes[600];
    for (int round = 0; round < 2000; round++) {
        size_t len = next_random(&seed) % sizeof bytes;
        uint16_t begin = (uint16_t)next_random(&seed);
        for (size_t i = 0; i < len; i++)
            bytes[i] = (char)next_random(&seed);
        uint16_t crc = crc_by_bits(begin, bytes, len);
        assert_int_equal(telemetry_crc(begin, bytes, len), crc);
        assert_int_equal(crc_any(begin, (const unsigned char *)bytes, len), crc);
    }
}

/* ---- a line looked at in one pass ----------------------------------------------------------- */

static void spaces_of_any_line(void **state) {
    (void)state;
    uint32_t seed = 5;
    for (int round = 0; round < 20000; round++) {
        char line[LINE_BYTES_MAX];
        size_t len = next_random(&seed) % (sizeof line + 1);
        struct scan scan;
        for (size_t i = 0; i < len; i++)
            line[i] = next_random(&seed) % 8 == 0 ? ' ' : 'n';
        scan_line((struct slice){line, len}, &scan);
        struct scan_walk walk = scan_walk(&scan);
        for (size_t i = 0; i <= len; i++) {
            if (i == len || line[i] == ' ')
                assert_ptr_equal(scan_next(&walk), line + i);
        }
    }
}

/* A piece of a report, seldom damaged. */
static size_t put_pair(char *out, uint32_t *seed) {
    static const char *const values[] = {
        "0",          "7",     "1500", "12345678",  "123456789", "oxo", "1/3",   "ok",       "",
        "4294967296", "1,2,-", "3000", "1500,1000", "-3",        "7x",  "1500,", "1500, 123"};
    uint32_t key = next_random(seed) % (REPORT_KEYS + 2), pick = next_random(seed);
    const char *name = key < REPORT_KEYS ? report_fields[key].key : "other";
    const char *value = values[pick % COUNT(values)];
    enum field_shape shape = key < REPORT_KEYS ? report_fields[key].shape : SHAPE_U32;
    if (pick % 64 > 3) {
        value = shape == SHAPE_PATTERN     ? "oxxo"
                : shape == SHAPE_PAIR      ? "1/3"
                : shape == SHAPE_REGISTERS ? "ok"
                : shape == SHAPE_FLAG      ? "1"
                : shape == SHAPE_CHANNELS  ? "1500,1000,2000"
                                           : values[pick / 64 % 4];
    }
    return (size_t)sprintf(out, "%s%s=%s", pick % 128 == 1 ? "  " : " ", name, value);
}

static enum parse_verdict parse_alone(struct telemetry *t, struct slice line, uint32_t unwanted,
                                      struct event *event) {
    memset(event, 0, sizeof *event);
    scan_line(line, &t->scan);
    return parse_line(t, line, unwanted, event);
}

/* What a decoder learned from earlier lines makes it quicker and changes nothing. */
static void learned_keys_change_nothing(void **state) {
    (void)state;
    static struct telemetry used, fresh;
    uint32_t seed = 11;
    unsigned good = 0, bad = 0;
    telemetry_init(&used, NULL, NULL);
    for (int round = 0; round < 10000; round++) {
        char line[LINE_BYTES_MAX] = "rx";
        size_t len = 2;
        struct event a, b;
        if (next_random(&seed) % 8 != 0)
            len += (size_t)sprintf(line + len, " n=%d ch=1500,1000", round);
        for (uint32_t i = next_random(&seed) % 5; i > 0; i--)
            len += put_pair(line + len, &seed);
        uint32_t unwanted = next_random(&seed) % 2 == 0 ? 0 : next_random(&seed);
        telemetry_init(&fresh, NULL, NULL);
        enum parse_verdict verdict = parse_alone(&used, (struct slice){line, len}, unwanted, &a);
        assert_int_equal(parse_alone(&fresh, (struct slice){line, len}, unwanted, &b), verdict);
        good += verdict == PARSE_OK;
        bad += verdict != PARSE_OK;
        if (verdict != PARSE_OK)
            continue;
        assert_true(slice_equal(a.report.extra, b.report.extra));
        a.report.extra = b.report.extra;
        assert_memory_equal(&a, &b, sizeof a);
    }
    assert_true(good > 2000 && bad > 2000);
}

/* ---- values --------------------------------------------------------------------------------- */

struct value_row {
    const char *value;
    const char *read; /* as printed anew, or the reason */
};

static const struct value_row u32_rows[] = {
    {"0", NULL},
    {"7", NULL},
    {"999999999", NULL},
    {"1000000000", NULL},
    {"4294967295", NULL},
    {"007", "7"},
    {"4294967296", "out of range"},
    {"99999999999999999999999", "out of range"},
    {"", "bad number"},
    {"-", "bad number"},
    {"-1", "bad number"},
    {"+1", "bad number"},
    {"1.5", "bad number"},
    {"1x", "bad number"},
    {"0x10", "bad number"},
    {"1,2", "bad number"},
    {"99999999999999999999x", "bad number"},
    {"one", "bad number"},
};
static const struct value_row supply_rows[] = {
    {"0", NULL},
    {"5010", NULL},
    {"99999", NULL},
    {"005010", "5010"},
    {"100000", "out of range"},
    {"4294967295", "out of range"},
    {"4294967296", "out of range"},
    {"5.0", "bad number"},
};
static const struct value_row rssi_rows[] = {
    {"-200", NULL},
    {"-64", NULL},
    {"0", NULL},
    {"100", NULL},
    {"-201", "out of range"},
    {"101", "out of range"},
    {"4294967296", "out of range"},
    {"", "bad number"},
    {"-", "bad number"},
    {"--1", "bad number"},
    {"-64dBm", "bad number"},
};
static const struct value_row flag_rows[] = {
    {"0", NULL},           {"1", NULL},
    {"2", "out of range"}, {"4294967297", "out of range"},
    {"", "bad number"},    {"yes", "bad number"},
    {"-1", "bad number"},
};
static const struct value_row pair_rows[] = {
    {"0/0", NULL},
    {"3/20", NULL},
    {"20/20", NULL},
    {"4294967295/4294967295", NULL},
    {"21/20", "out of range"},
    {"1/4294967296", "out of range"},
    {"4294967296/4294967296", "out of range"},
    {"", "bad number"},
    {"3", "bad number"},
    {"3/", "bad number"},
    {"/3", "bad number"},
    {"1/2/3", "bad number"},
    {"1,2", "bad number"},
    {"4294967296", "bad number"},
};
#define FULL "oxoxoxoxoxoxoxoxoxoxoxoxoxoxoxooxxoxoxoxoxoxoxoxoxoxoxoxoxoxoxox"
static const struct value_row pattern_rows[] = {
    {"o", NULL},
    {"x", NULL},
    {"ooxo", NULL},
    {FULL, NULL},
    {FULL "o", "out of range"},
    {FULL FULL, "out of range"},
    {"", "bad number"},
    {"O", "bad number"},
    {"oox0", "bad number"},
    {FULL "oz", "bad number"},
    {"101", "bad number"},
};
static const struct value_row channel_rows[] = {
    {"1500", NULL},
    {"-", NULL},
    {"1000,-,2000", NULL},
    {"-32768,65535", NULL},
    {"1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16", NULL},
    {"-,-,-,-,-,-,-,-,-,-,-,-,-,-,-,-", NULL},
    {"-32769", "out of range"},
    {"65536", "out of range"},
    {"4294967296", "out of range"},
    {"1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16,17", "out of range"},
    {"1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16,x", "bad number"},
    {"65536,x", "bad number"},
    {"", "bad number"},
    {",", "bad number"},
    {"1500,", "bad number"},
    {",1500", "bad number"},
    {"1500,,1500", "bad number"},
    {"1500.0", "bad number"},
    {"--", "bad number"},
    {"-x", "bad number"},
    {"hold", "bad number"},
};
static const struct value_row register_rows[] = {
    {"ok", NULL},       {"default", NULL},    {"absent", NULL},       {"differs", NULL},
    {"", "bad number"}, {"OK", "bad number"}, {"okay", "bad number"}, {"0", "bad number"},
};

static const struct {
    const struct value_row *rows;
    size_t count;
} shape_rows[] = {
    [SHAPE_U32] = {u32_rows, COUNT(u32_rows)},
    [SHAPE_I32] = {rssi_rows, COUNT(rssi_rows)},
    [SHAPE_FLAG] = {flag_rows, COUNT(flag_rows)},
    [SHAPE_PAIR] = {pair_rows, COUNT(pair_rows)},
    [SHAPE_PATTERN] = {pattern_rows, COUNT(pattern_rows)},
    [SHAPE_CHANNELS] = {channel_rows, COUNT(channel_rows)},
    [SHAPE_REGISTERS] = {register_rows, COUNT(register_rows)},
};

static void every_key_at_the_edges_of_its_shape(void **state) {
    (void)state;
    for (unsigned key = 0; key < REPORT_KEYS; key++) {
        const struct report_field *f = &report_fields[key];
        bool supply = f->shape == SHAPE_U32 && f->high > 0, before = key == KEY_N || key == KEY_T;
        for (size_t i = 0; i < (supply ? COUNT(supply_rows) : shape_rows[f->shape].count); i++) {
            const struct value_row *v = supply ? &supply_rows[i] : &shape_rows[f->shape].rows[i];
            char stream[600], wanted[600], buffer[4096];
            struct text out;
            text_init(&out, buffer, sizeof buffer);
            int len =
                snprintf(stream, sizeof stream, "\nrx%s %s=%s%s\n", key == KEY_IN ? " ch=5" : "",
                         f->key, v->value, key == KEY_CH || key == KEY_IN ? "" : " ch=5");
            bool good = v->read == NULL || v->read[0] <= '9';
            const char *read = v->read == NULL ? v->value : v->read;
            if (!good)
                snprintf(wanted, sizeof wanted, "say []\n%s", read);
            else /* n and t stand before ch, all others behind it */
                snprintf(wanted, sizeof wanted, "say []\nrx%s %s=%s%s",
                         before || key == KEY_CH ? "" : " ch=5", f->key, read,
                         before ? " ch=5" : "");
            decode(&out, stream, (size_t)len, false);
            assert_string_equal(buffer, wanted);
        }
    }
}

static const char full_report[] =
    "n=7 t=350 ch=1500,1501,-,1000 in=1500,1502,1500,1000 lock=0 seq=35 tboot=4 got=31 lost=4 "
    "refused=2 pat=ooxo age=12 gap=40 fs=0 fsn=1 mv=4980 mvmin=4710 heard=3/20 noise=0/5 rssi=-61 "
    "reg=ok reinit=0 tmv=7400 tstep=4/4";

static void numbers_of_every_length(void **state) {
    (void)state;
    uint32_t seed = 11;
    for (int round = 0; round < 3000; round++) {
        uint32_t n = next_random(&seed) >> next_random(&seed) % 32;
        char stream[100], buffer[200], wanted[100];
        struct text out;
        text_init(&out, buffer, sizeof buffer);
        int len = sprintf(stream, "\nrx n=%u ch=%u%s\n", n, n % 65536, round & 1 ? " mv=5" : "");
        sprintf(wanted, "say []\nrx n=%u ch=%u%s", n, n % 65536, round & 1 ? " mv=5" : "");
        decode(&out, stream, (size_t)len, false);
        assert_string_equal(buffer, wanted);
    }
}

static void keys_in_any_order(void **state) {
    (void)state;
    uint32_t seed = 3;
    char wanted[600];
    snprintf(wanted, sizeof wanted, "rx %s", full_report);
    struct telemetry t;
    static char buffer[1 << 16];
    struct heard h = {0};
    text_init(&h.text, buffer, sizeof buffer);
    telemetry_init(&t, hear, &h);
    telemetry_feed(&t, "\n", 1, TIME_UNKNOWN);
    for (int round = 0; round < 500; round++) {
        char pairs[600], line[640], *order[REPORT_KEYS];
        size_t count = 0;
        strcpy(pairs, full_report);
        for (char *p = strtok(pairs, " "); p != NULL; p = strtok(NULL, " "))
            order[count++] = p;
        assert_int_equal(count, REPORT_KEYS);
        for (size_t i = count - 1; i > 0 && round > 0; i--) {
            size_t j = next_random(&seed) % (i + 1);
            char *swap = order[i];
            order[i] = order[j];
            order[j] = swap;
        }
        size_t len = (size_t)sprintf(line, "rx");
        for (size_t i = 0; i < count; i++)
            len += (size_t)sprintf(line + len, " %s", order[i]);
        line[len++] = '\n';
        telemetry_init(&t, hear, &h); /* no line before it that its counters must follow */
        t.fresh = false;
        text_clear(&h.text);
        telemetry_feed(&t, line, len, TIME_UNKNOWN);
        assert_string_equal(buffer, wanted);
    }
}

/* ---- grammar -------------------------------------------------------------------------------- */

static const struct row grammar_rows[] = {
    {"the least report", "rx ch=1500\n", "rx ch=1500"},
    {"CR LF", "rx ch=1500\r\n", "rx ch=1500"},
    {"with a checksum", "rx ch=1500 *####\n", "rx ch=1500"},
    {"unknown keys in order", "rx zz=1 ch=5 a-b=x=y,z q_1=/ n=2\n",
     "rx n=2 ch=5 | zz=1 a-b=x=y,z q_1=/"},
    {"an unknown key twice", "rx ch=5 zz=1 zz=2\n", "rx ch=5 | zz=1 zz=2"},
    {"a key that begins as a known one", "rx ch=5 nn=1 got2=3 c=4\n", "rx ch=5 | nn=1 got2=3 c=4"},
    {"no ch", "rx n=1\n", "bad number"},
    {"no pairs", "rx\n", "bad number"},
    {"a key twice", "rx ch=5 n=1 n=1\n", "bad number"},
    {"ch twice", "rx ch=5 ch=5\n", "bad number"},
    {"an unknown key without a value", "rx ch=5 zz=\n", "bad number"},
    {"a pair without =", "rx ch=5 zz\n", "bad number"},
    {"two spaces", "rx ch=5  n=1\n", "bad number"},
    {"a space at the end", "rx ch=5 \n", "bad number"},
    {"a key that begins with a digit", "rx ch=5 5n=1\n", "bad number"},
    {"the first wrong pair decides", "rx ch=65536 n=x\n", "out of range"},
    {"rx in a sentence", "rx is ready\n", "plain text"},
    {"two spaces after the word", "rx  ch=5\n", "plain text"},
    {"a space after the word", "rx \n", "plain text"},
    {"blank lines", "\n\r\n", "say []\nsay []"},
    {"say", "say the tug is afloat, 3 m/s = fast!\nsay\nsay \nsay  two\n",
     "say [the tug is afloat, 3 m/s = fast!]\nsay []\nsay []\nsay [ two]"},
    {"say with a checksum", "say hello *####\n", "say [hello]"},
    {"what only looks like a checksum", "say hello *12G4\nsay hello*1234\n",
     "say [hello *12G4]\nsay [hello*1234]"},
    {"small letters in a checksum", "say 1 *ab33\nsay 1 *AB33\n", "say [1]\nsay [1]"},
    {"unknown words are kept whole", "tug speed=3 pump=on\nReady\nv2_x-1 a=1\n",
     "other [tug speed=3 pump=on]\nother [Ready]\nother [v2_x-1 a=1]"},
    {"an unknown word with a checksum", "tug speed=3 *####\n", "other [tug speed=3]"},
    {"case matters", "RX ch=5\n", "other [RX ch=5]"},
    {"text that is none of ours", "hello world\nspeed = 3\nx=1\n*** start ***\ntug a=1 b=\n",
     "plain text\nplain text\nplain text\nplain text\nplain text"},
    {"plain text with a checksum that holds", "hello world *####\n", "plain text"},
    {"bytes outside printable ASCII", "say caf\xE9\nsay \x1b[0m\nrx ch=5\x7f\nsay a\rb\n",
     "bad byte\nbad byte\nbad byte\nbad byte"},
    {"a tab outside bare numbers", "say\thello\nrx\tch=5\n\t\n", "bad byte\nbad byte\nbad byte"},
    {"a checksum that fails", "rx ch=5 *0000\nhello world *0000\n", "bad checksum\nbad checksum"},
    {"only a checksum", " *FFFF\n", "say []"},
};

static const struct row bare_rows[] = {
    {"commas", "1500,1500,1000\n", "rx ch=1500,1500,1000"},
    {"one number", "1500\n", "rx ch=1500"},
    {"spaces", "1500 1501  1000\n", "rx ch=1500,1501,1000"},
    {"tabs", "1500\t1501\t1000\r\n", "rx ch=1500,1501,1000"},
    {"comma and space", "1500, 1501 ,1000\n", "rx ch=1500,1501,1000"},
    {"negative", "-512,0,511\n", "rx ch=-512,0,511"},
    {"a separator at the end", "1500,1501,\n1500\t\n 1500 \n",
     "rx ch=1500,1501\nrx ch=1500\nrx ch=1500"},
    {"names", "rudder:1500 motor:1000\n", "rx ch=1500,1000 | names=rudder,motor"},
    {"names with commas and tabs", "a:1,b-2:-2\na:1\tb:2\n",
     "rx ch=1,-2 | names=a,b-2\nrx ch=1,2 | names=a,b"},
    {"with a checksum", "1500,1501 *####\n", "rx ch=1500,1501"},
    {"sixteen", "1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16\n",
     "rx ch=1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16"},
    {"seventeen", "1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17\n", "out of range"},
    {"out of range", "65536\n-32769,1\n99999999999\n", "out of range\nout of range\nout of range"},
    {"fractions", "1500.0\n1,-2.5\na:1.5\n", "bad number\nbad number\nbad number"},
    {"a missing value", "1500,,1500\n", "bad number"},
    {"no numbers after all", "1500,x\n12:30:45\n1500;1500\n1.\n-\n1,2,three\n",
     "plain text\nplain text\nplain text\nplain text\nplain text\nplain text"},
    {"names on some only", "a:1 2\n", "plain text"},
    {"a name and a space", "a: 1\n", "plain text"},
    {"a tab, but no numbers", "roll\t5\n", "bad byte"},
    {"a tab and a fraction", "1.5\t2\n", "bad number"},
};

static const struct row other_word_rows[] = {
    {"boot", "boot cause=power\nboot cause=reset\nboot cause=brownout\nboot cause=watchdog\n",
     "boot power\nboot reset\nboot brownout\nboot watchdog"},
    {"boot causes that nobody knows", "boot cause=unknown\nboot cause=gremlin\nboot\nboot why=1\n",
     "boot unknown\nboot unknown\nboot unknown\nboot unknown"},
    {"boot and wrong", "boot cause=\nboot cause=power cause=power\nboot cause=power x\n",
     "bad number\nbad number\nbad number"},
    {"boot in a sentence", "boot ok\n", "plain text"},
    {"air", "air from=2400 step=1 per=200 hits=0,3,200\n", "air 2400+1/200 0,3,200"},
    {"air with more", "air from=2400 step=1 per=9 hits=1 where=bench\n", "air 2400+1/9 1"},
    {"air lacks a key", "air from=2400 step=1 hits=1\nair\nair hot\n",
     "bad number\nbad number\nplain text"},
    {"air and wrong",
     "air from=2400 step=1 per=9 hits=\nair from=2400 step=1 per=9 hits=1,\n"
     "air from=2400 step=1 per=9 hits=-1\nair from=1 from=1 step=1 per=9 hits=1\n",
     "bad number\nbad number\nbad number\nbad number"},
    {"air out of range",
     "air from=2400 step=1 per=9 hits=10\nair from=4294967296 step=1 per=9 hits=1\n",
     "out of range\nout of range"},
    {"id, all of it",
     "id end=rx fw=tug-1.2 rate=50.5 chans=4 unit=us span=1000,2000 safe=1500,hold,off,- "
     "seqmod=256 mhz=2476 hop=1 kbps=250 addr=C2C2:x aw=5 crc=2 size=dyn ack=0 retries=3 zz=1\n",
     "id has=1FFFF rx us rate=50.500 span=1000,2000 safe=1500,hold,-,- "
     "n=4,256,2476,1,250,5,2,0,0,3 dyn fw=tug-1.2 addr=C2C2:x"},
    {"id, the other words", "id end=tx unit=raw size=32\nid\n",
     "id has=4011 tx raw n=0,0,0,0,0,0,0,32,0,0 fw= addr=\n"
     "id has=0 n=0,0,0,0,0,0,0,0,0,0 fw= addr="},
    {"id and wrong words", "id end=both\nid unit=ms\nid end=\nid fw=\nid addr=\nid zz=\n",
     "bad number\nbad number\nbad number\nbad number\nbad number\nbad number"},
    {"id and wrong numbers",
     "id rate=fast\nid rate=\nid chans=x\nid span=1000\nid span=1000-2000\nid safe=\nid safe=1,\n"
     "id size=dynamic\nid ack=yes\nid seqmod=-1\nid mhz=2.4\nid mhz=1 mhz=1\nid span=1,2,3\n",
     "bad number\nbad number\nbad number\nbad number\nbad number\nbad number\nbad number\n"
     "bad number\nbad number\nbad number\nbad number\nbad number\nbad number"},
    {"id out of range",
     "id rate=0\nid rate=-1\nid chans=0\nid chans=17\nid span=2000,1000\nid span=1,70000\n"
     "id safe=70000\nid ack=2\nid hop=4294967296\n"
     "id safe=1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16,17\n",
     "out of range\nout of range\nout of range\nout of range\nout of range\nout of range\n"
     "out of range\nout of range\nout of range\nout of range"},
    {"id in a sentence", "id please\n", "plain text"},
};

static void grammar(void **state) {
    (void)state;
    check_rows(grammar_rows, COUNT(grammar_rows), "\n");
}

static void bare_numbers(void **state) {
    (void)state;
    check_rows(bare_rows, COUNT(bare_rows), "\n");
}

static void other_words(void **state) {
    (void)state;
    check_rows(other_word_rows, COUNT(other_word_rows), "\n");
}

/* ---- what the lines before have shown ------------------------------------------------------- */

static const struct row checksum_rows[] = {
    {"missing after one was seen", "rx ch=5\nrx ch=5 *####\nrx ch=5\nsay x\n1,2\ntug a=1\n",
     "rx ch=5\nrx ch=5\nchecksum missing\nchecksum missing\nchecksum missing\nchecksum missing"},
    {"missing comes before bad numbers", "rx ch=5 *####\nrx ch=x\nrx ch=5 n=\nrx ch=99999\n",
     "rx ch=5\nchecksum missing\nchecksum missing\nchecksum missing"},
    {"plain text stays plain text", "rx ch=5 *####\nhello world\n", "rx ch=5\nplain text"},
    {"blank lines need none", "rx ch=5 *####\n\nrx ch=5\n", "rx ch=5\nsay []\nchecksum missing"},
    {"one that failed asks for none", "rx ch=5 *0000\nrx ch=5\n", "bad checksum\nrx ch=5"},
    {"boot lifts it", "rx ch=5 *####\nboot cause=reset\nrx ch=6\n", "rx ch=5\nboot reset\nrx ch=6"},
    {"until the next", "say 1 *####\nboot\nsay 2\nsay 3 *####\nsay 4\n",
     "say [1]\nboot unknown\nsay [2]\nsay [3]\nchecksum missing"},
    {"boot with a checksum doesn't", "boot *####\nrx ch=5\n", "boot unknown\nchecksum missing"},
    {"a wrong boot doesn't", "rx ch=5 *####\nboot cause=\nrx ch=6\n",
     "rx ch=5\nchecksum missing\nchecksum missing"},
    {"one with a damaged checksum doesn't",
     "rx ch=5 *####\nboot cause=reset*6591\nrx ch=6\nid fw=a_*6591\nrx ch=6\n",
     "rx ch=5\nchecksum missing\nchecksum missing\nchecksum missing\nchecksum missing"},
    {"another fw lifts it", "id fw=a *####\nid fw=a\nid fw=b\nsay x\n",
     "id has=2 n=0,0,0,0,0,0,0,0,0,0 fw=a addr=\nchecksum missing\n"
     "id has=2 n=0,0,0,0,0,0,0,0,0,0 fw=b addr=\nsay [x]"},
    {"each end has its own fw", "id end=tx fw=b *####\nid end=rx fw=a *####\nid end=tx fw=b\n",
     "id has=3 tx n=0,0,0,0,0,0,0,0,0,0 fw=b addr=\n"
     "id has=3 rx n=0,0,0,0,0,0,0,0,0,0 fw=a addr=\nchecksum missing"},
    {"id without fw doesn't", "say x *####\nid rate=50\n", "say [x]\nchecksum missing"},
};

#define PAD50  "pad=abcdefghijklmnopqrstuvwxyzabcdefghijklmnopqrst"
#define PAD150 PAD50 PAD50 PAD50

static const struct row run_on_rows[] = {
    {"a line that lost its end", "rx ch=5 n=4 *|rx ch=6 n=5 *####\n",
     "ran into the next\nrx n=5 ch=6"},
    {"two whole lines in one", "|rx ch=5 n=4 *####|rx ch=6 n=5 *####\n",
     "ran into the next\nrx n=5 ch=6"},
    {"cut by a boot line", "rx ch=15|boot cause=power *####\n", "cut by restart\nboot power"},
    {"cut by a first report", "rx ch=15|rx n=1 ch=5 *####\n", "cut by restart\nrx n=1 ch=5"},
    {"id, air, say", "r|id *####\nr|air from=1 step=1 per=1 hits=1 *####\nsay r|say x *####\n",
     "ran into the next\nid has=0 n=0,0,0,0,0,0,0,0,0,0 fw= addr=\nran into the next\nair 1+1/1 "
     "1\nran into the next\nsay [x]"},
    {"behind bytes of a wrong speed", "\xFF\x80\x01|rx n=9 ch=5 *####\n",
     "ran into the next\nrx n=9 ch=5"},
    {"the later line is no good either", "rx ch=15|rx n=9 ch=x *####\n", "bad checksum"},
    {"no known word begins there", "rx ch=15|tug n=9 *####\n", "bad checksum"},
    {"two lines that are too long together",
     "|rx ch=5 n=4 " PAD150 PAD150 " *####|rx ch=6 n=5 " PAD150 PAD150 " *####\n",
     "too long\nrx n=5 ch=6 | " PAD150 PAD150},
    {"three of them",
     "|rx ch=5 n=4 " PAD150 PAD150 " *####|rx ch=6 n=5 " PAD150 PAD150 "|rx ch=7 n=6 *####\n",
     "too long\ntoo long (more)\nrx n=6 ch=7"},
    {"the first that holds is taken", "xrx xsay |rx say=1 ch=5 *####\n",
     "ran into the next\nrx ch=5 | say=1"},
};

static const struct row fresh_rows[] = {
    {"a torn head", "15,1500 *1234\nrx ch=5 *####\n", "joined midway\nrx ch=5"},
    {"a bad byte", "\xFFrx\n\xFFrx\n", "joined midway\nbad byte"},
    {"bad numbers", "rx ch=\nrx ch=\n", "joined midway\nbad number"},
    {"bare numbers may lack their head", "500,1500\n1500,1500\n", "joined midway\nrx ch=1500,1500"},
    {"bare numbers with a checksum don't", "1500 *####\n", "rx ch=1500"},
    {"plain text is plain text", "lo world\n", "plain text"},
    {"a whole line is good", "rx ch=5\n", "rx ch=5"},
    {"a blank line is a start", "\n1500\n", "say []\nrx ch=1500"},
    {"the head of a run-on", "5,7 *4|rx n=3 ch=5 *####\n", "joined midway\nrx n=3 ch=5"},
    {"cut by our restart", "5,7|boot *####\nrx ch=5 *####\n",
     "cut by restart\nboot unknown\nrx ch=5"},
    {"torn, and nothing else", "rx ch=5", "torn at the end"},
};

static const struct row end_rows[] = {
    {"no line end", "rx ch=5", "torn at the end"},
    {"no line end, but a checksum", "rx ch=5 *####", "rx ch=5"},
    {"half a line end", "rx ch=5 *####\r", "rx ch=5"},
    {"only half a line end", "\r", "torn at the end"},
    {"a checksum that fails", "rx ch=5 *0000", "torn at the end"},
    {"a checksum cut short", "rx ch=5 *000", "torn at the end"},
    {"plain text", "hello wor", "torn at the end"},
    {"bare numbers", "1500,15", "torn at the end"},
    {"a checksum that holds, but no good", "rx ch=x *####", "bad number"},
    {"a run-on", "rx ch=1|rx ch=5 *####", "ran into the next\nrx ch=5"},
    {"boot lifts nothing when torn", "say x *####\nboot cause=po", "say [x]\ntorn at the end"},
};

static void checksum_memory(void **state) {
    (void)state;
    check_rows(checksum_rows, COUNT(checksum_rows), "\n");
}

static void run_on_lines(void **state) {
    (void)state;
    check_rows(run_on_rows, COUNT(run_on_rows), "\n");
}

static void first_lines(void **state) {
    (void)state;
    check_rows(fresh_rows, COUNT(fresh_rows), "");
}

static void last_lines(void **state) {
    (void)state;
    check_rows(end_rows, COUNT(end_rows), "\n");
}

static const struct row counter_rows[] = {
    {"the first sets the baseline", "rx ch=5 n=9 got=1 lost=0 pat=oooxx\n",
     "rx n=9 ch=5 got=1 lost=0 pat=oooxx"},
    {"but not the first since boot", "rx ch=5 n=1 got=1 pat=oo\nrx ch=5 n=1 lost=0 pat=x\n",
     "counters disagree\ncounters disagree"},
    {"equal growth", "rx ch=5 n=1 got=9 lost=2\nrx ch=5 n=2 got=11 lost=3 pat=oxo\n",
     "rx n=1 ch=5 got=9 lost=2\nrx n=2 ch=5 got=11 lost=3 pat=oxo"},
    {"got grew more than pat shows", "rx ch=5 n=1 got=9\nrx ch=5 n=2 got=12 pat=oxo\n",
     "rx n=1 ch=5 got=9\ncounters disagree"},
    {"got grew less", "rx ch=5 n=1 got=9\nrx ch=5 n=2 got=10 pat=oxo\n",
     "rx n=1 ch=5 got=9\ncounters disagree"},
    {"lost grew more", "rx ch=5 n=1 lost=9\nrx ch=5 n=2 lost=11 pat=oxo\n",
     "rx n=1 ch=5 lost=9\ncounters disagree"},
    {"lost grew less", "rx ch=5 n=1 lost=9\nrx ch=5 n=2 lost=9 pat=oxo\n",
     "rx n=1 ch=5 lost=9\ncounters disagree"},
    {"more across a hole in n", "rx ch=5 n=1 got=9\nrx ch=5 n=3 got=19 pat=oxo\n",
     "rx n=1 ch=5 got=9\nrx n=3 ch=5 got=19 pat=oxo"},
    {"less across a hole", "rx ch=5 n=1 got=9\nrx ch=5 n=3 got=10 pat=oxo\n",
     "rx n=1 ch=5 got=9\ncounters disagree"},
    {"a full pattern may leave some out", "rx ch=5 n=1 got=9\nrx ch=5 n=2 got=99 pat=" FULL "\n",
     "rx n=1 ch=5 got=9\nrx n=2 ch=5 got=99 pat=" FULL},
    {"but can't show too many", "rx ch=5 n=1 got=9\nrx ch=5 n=2 got=40 pat=" FULL "\n",
     "rx n=1 ch=5 got=9\ncounters disagree"},
    {"no pattern, nothing compared", "rx ch=5 n=1 got=9 pat=o\nrx ch=5 n=2 got=12\n",
     "rx n=1 ch=5 got=9 pat=o\nrx n=2 ch=5 got=12"},
    {"no n: no hole is assumed", "rx ch=5 got=9\nrx ch=5 got=12 pat=oxo\n",
     "rx ch=5 got=9\ncounters disagree"},
    {"but a refused line makes one", "rx ch=5 got=9\nrx ch=x\nrx ch=5 got=12 pat=oxo\n",
     "rx ch=5 got=9\nbad number\nrx ch=5 got=12 pat=oxo"},
    {"plain text makes none", "rx ch=5 got=9\nhi there\nrx ch=5 got=12 pat=oxo\n",
     "rx ch=5 got=9\nplain text\ncounters disagree"},
    {"counters wrap",
     "rx ch=5 n=1 got=4294967295 lost=4294967294\nrx ch=5 n=2 got=1 lost=0 pat=oxxo\n",
     "rx n=1 ch=5 got=4294967295 lost=4294967294\nrx n=2 ch=5 got=1 lost=0 pat=oxxo"},
    {"got goes back", "rx ch=5 n=1 t=50 got=9\nrx ch=5 n=2 t=100 got=8\n",
     "rx n=1 t=50 ch=5 got=9\ncounters disagree"},
    {"lost goes back", "rx ch=5 n=1 lost=9\nrx ch=5 n=2 lost=8\n",
     "rx n=1 ch=5 lost=9\ncounters disagree"},
    {"the base outlives a refusal",
     "rx ch=5 n=1 t=1 got=9\nrx ch=5 n=2 t=2 got=5\nrx ch=5 n=3 t=3 got=10 pat=o\n",
     "rx n=1 t=1 ch=5 got=9\ncounters disagree\nrx n=3 t=3 ch=5 got=10 pat=o"},
    {"a restart begins anew", "rx ch=5 n=8 t=400 got=9\nrx ch=5 n=1 t=50 got=2 pat=oo\n",
     "rx n=8 t=400 ch=5 got=9\nrx n=1 t=50 ch=5 got=2 pat=oo"},
    {"a restart that can't be", "rx ch=5 n=8 t=400 got=9\nrx ch=5 n=3 t=50 got=1 pat=oo\n",
     "rx n=8 t=400 ch=5 got=9\ncounters disagree"},
    {"a boot line begins anew", "rx ch=5 n=8 t=40 got=9\nboot\nrx ch=5 n=9 t=80 got=3 pat=oo\n",
     "rx n=8 t=40 ch=5 got=9\nboot unknown\nrx n=9 t=80 ch=5 got=3 pat=oo"},
    {"a transmitter's restart changes nothing",
     "rx ch=5 n=1 tboot=1 seq=99 got=9\nrx ch=5 n=2 tboot=2 seq=1 got=12 pat=o\n",
     "rx n=1 ch=5 seq=99 tboot=1 got=9\ncounters disagree"},
};

/* Lines without a checksum that lost a digit, and what merely looks like it. */
#define HEAD     "rx ch=1500,1000 n=8 t=400 seq=5319 got=900 lost=0\n"
#define HEAD_OUT "rx n=8 t=400 ch=1500,1000 seq=5319 got=900 lost=0\n"
static const struct row neighbour_rows[] = {
    {"nothing wrong", HEAD "rx ch=1510,1000 n=9 t=450 seq=5322 got=903 lost=0\n",
     HEAD_OUT "rx n=9 t=450 ch=1510,1000 seq=5322 got=903 lost=0"},
    {"n alone goes back", HEAD "rx ch=1500,1000 n=1 t=450 seq=5322 got=903 lost=0\n",
     HEAD_OUT "counters disagree"},
    {"t alone goes back", HEAD "rx ch=1500,1000 n=9 t=45 seq=5322 got=903 lost=0\n",
     HEAD_OUT "counters disagree"},
    {"both: a restart", HEAD "rx ch=1500,1000 n=1 t=45 seq=5322 got=2 lost=0\n",
     HEAD_OUT "rx n=1 t=45 ch=1500,1000 seq=5322 got=2 lost=0"},
    {"n leaps", HEAD "rx ch=1500,1000 n=909 t=450 seq=5322 got=903 lost=0\n",
     HEAD_OUT "counters disagree"},
    {"many lines lost: no leap", HEAD "rx ch=1500,1000 n=909 t=45450 seq=8022 got=3603 lost=0\n",
     HEAD_OUT "rx n=909 t=45450 ch=1500,1000 seq=8022 got=3603 lost=0"},
    {"got leaps", HEAD "rx ch=1500,1000 n=9 t=450 seq=5322 got=1903 lost=0\n",
     HEAD_OUT "counters disagree"},
    {"seq loses a digit", HEAD "rx ch=1500,1000 n=9 t=450 seq=532 got=903 lost=0\n",
     HEAD_OUT "counters disagree"},
    {"the transmitter restarts", HEAD "rx ch=1500,1000 n=9 t=450 seq=2 got=903 lost=0\n",
     HEAD_OUT "rx n=9 t=450 ch=1500,1000 seq=2 got=903 lost=0"},
    {"an age longer than there was time, which nothing shows to be damage",
     HEAD "rx ch=1500,1000 n=9 t=450 seq=5322 got=903 lost=0 age=900\n",
     HEAD_OUT "rx n=9 t=450 ch=1500,1000 seq=5322 got=903 lost=0 age=900"},
    {"a key that all had is gone",
     "rx ch=1500,1000 n=4 t=200 seq=5307 got=888 lost=0\n"
     "rx ch=1500,1000 n=5 t=250 seq=5310 got=891 lost=0\n"
     "rx ch=1500,1000 n=6 t=300 seq=5313 got=894 lost=0\n"
     "rx ch=1500,1000 n=7 t=350 seq=5316 got=897 lost=0\n" HEAD
     "rx ch=1500,1000 n=9 t=450 seq=5322 gt=903 lost=0\n",
     "rx n=4 t=200 ch=1500,1000 seq=5307 got=888 lost=0\n"
     "rx n=5 t=250 ch=1500,1000 seq=5310 got=891 lost=0\n"
     "rx n=6 t=300 ch=1500,1000 seq=5313 got=894 lost=0\n"
     "rx n=7 t=350 ch=1500,1000 seq=5316 got=897 lost=0\n" HEAD_OUT "counters disagree"},
    {"a key that comes now and then", HEAD "rx ch=1500,1000 n=9 t=450 seq=5322 lost=0\n",
     HEAD_OUT "rx n=9 t=450 ch=1500,1000 seq=5322 lost=0"},
    {"an output is no servo's", HEAD "rx ch=150,1000 n=9 t=450 seq=5322 got=903 lost=0\n",
     HEAD_OUT "counters disagree"},
    {"an output is gone", HEAD "rx ch=15001000 n=9 t=450 seq=5322 got=903 lost=0\n",
     HEAD_OUT "out of range"},
    {"three that agree are believed",
     HEAD "rx ch=0,0 n=9 t=450 seq=5322 got=903 lost=0\n"
          "rx ch=0,0 n=10 t=500 seq=5325 got=906 lost=0\n"
          "rx ch=0,0 n=11 t=550 seq=5328 got=909 lost=0\n",
     HEAD_OUT "counters disagree\ncounters disagree\n"
              "rx n=11 t=550 ch=0,0 seq=5328 got=909 lost=0"},
};

static void neighbours(void **state) {
    (void)state;
    check_rows(neighbour_rows, COUNT(neighbour_rows), "\n");
}

static void counters(void **state) {
    (void)state;
    check_rows(counter_rows, COUNT(counter_rows), "\n");
}

static void rejoining(void **state) {
    (void)state;
    char stream[512], buffer[1024];
    struct telemetry t;
    struct heard h = {0};
    text_init(&h.text, buffer, sizeof buffer);
    telemetry_init(&t, hear, &h);
    size_t len = with_checksums(stream, "rx ch=5 got=4 *####\nrx ch=6 got=5 pat");
    telemetry_feed(&t, stream, len, TIME_UNKNOWN);
    telemetry_rejoin(&t, TIME_UNKNOWN);
    len = with_checksums(stream, ",1500 *1234\nrx ch=5\nrx ch=7 got=9 pat=o *####\nrx ch=8 *####");
    telemetry_feed(&t, stream, len, TIME_UNKNOWN);
    telemetry_rejoin(&t, TIME_UNKNOWN);
    telemetry_rejoin(&t, TIME_UNKNOWN);
    check_bytes(&t, &h);
    assert_string_equal(buffer, "rx ch=5 got=4\ntorn at the end\njoined midway\nchecksum missing\n"
                                "rx ch=7 got=9 pat=o\nrx ch=8");
}

/* ---- long lines ----------------------------------------------------------------------------- */

static void long_lines(void **state) {
    (void)state;
    static const struct {
        const char *legend;
        size_t len;
        const char *end, *events;
    } rows[] = {
        {"the longest", 400, "\n", "say [*] #401"},
        {"the longest with CR", 400, "\r\n", "say [*] #402"},
        {"one more", 401, "\n", "too long #400\ntoo long (more) #2"},
        {"one more with CR", 401, "\r\n", "too long #400\ntoo long (more) #3"},
        {"a CR too many", 400, "\r\r\n", "too long #400\ntoo long (more) #3"},
        {"two pieces full", 800, "\n", "too long #400\ntoo long (more) #401"},
        {"two pieces full with CR", 800, "\r\n", "too long #400\ntoo long (more) #402"},
        {"three pieces", 801, "\n", "too long #400\ntoo long (more) #400\ntoo long (more) #2"},
        {"the end comes first", 400, "", "torn at the end #400"},
        {"the end comes after a CR", 400, "\r", "torn at the end #401"},
        {"the end comes in a piece", 401, "", "too long #400\ntoo long (more) #1"},
        {"the next line is whole", 401, "\nsay x\n",
         "too long #400\ntoo long (more) #2\nsay [x] #6"},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        char stream[1000] = "\nsay ", text[500] = "", buffer[4096], wanted[4096], *star;
        memset(stream + 5, 'y', rows[i].len - 4);
        strcpy(stream + 1 + rows[i].len, rows[i].end);
        struct text out;
        text_init(&out, buffer, sizeof buffer);
        print_message("  %s\n", rows[i].legend);
        decode(&out, stream, strlen(stream), true);
        /* The damaged bytes stand behind the lengths: only the lengths are compared. */
        char seen[4096] = "";
        for (char *line = strtok(buffer, "\n"); line != NULL; line = strtok(NULL, "\n")) {
            size_t keep = strcspn(line, "#");
            keep += 1 + strspn(line + keep + 1, "0123456789");
            strcat(seen, seen[0] != '\0' ? "\n" : "");
            strncat(seen, line, keep);
        }
        memset(text, 'y', rows[i].len < 404 ? rows[i].len - 4 : 0);
        star = strchr(rows[i].events, '*');
        if (star != NULL)
            snprintf(wanted, sizeof wanted, "say [] #1\n%.*s%s%s", (int)(star - rows[i].events),
                     rows[i].events, text, star + 1);
        else
            snprintf(wanted, sizeof wanted, "say [] #1\n%s", rows[i].events);
        assert_string_equal(seen, wanted);
    }
}

/* Wherever in the buffer the next line begins, it is found, and in every chunking. */
static void a_line_behind_a_long_one(void **state) {
    (void)state;
    static const char *const lines[] = {"rx ch=5 n=7 *####\r\n", "boot cause=power *####\n"};
    static const char *const events[] = {"\nrx n=7 ch=5 #19", "\nboot power #23"};
    for (size_t before = 1; before < 1210; before++) {
        if (before % 400 > 10 && before % 400 < 370)
            continue;
        for (size_t i = 0; i < COUNT(lines); i++) {
            char stream[2000] = "\n", buffer[4096];
            memset(stream + 1, 'U', before);
            size_t len = 1 + before + with_checksums(stream + 1 + before, lines[i]);
            struct text out;
            text_init(&out, buffer, sizeof buffer);
            decode(&out, stream, len, true);
            assert_string_equal(strrchr(buffer, '\n'), events[i]);
        }
    }
}

static void an_endless_line_keeps_coming(void **state) {
    (void)state;
    struct telemetry t;
    struct heard h = {0};
    char block[1000];
    memset(block, 'U', sizeof block);
    telemetry_init(&t, hear, &h);
    for (int i = 0; i < 4000; i++) {
        telemetry_feed(&t, block, sizeof block, TIME_UNKNOWN);
        check_bytes(&t, &h);
    }
    assert_in_range(h.events, 9999, 10000);
    assert_int_equal(t.tally.lines_refused, 1);
    assert_int_equal(t.tally.refused[DAMAGE_TOO_LONG], 1);
}

/* ---- succession ----------------------------------------------------------------------------- */

static void successions(void **state) {
    (void)state;
    enum { NONE = -1 };
    static const struct {
        const char *legend;
        int64_t an, at, agot, ahost_ms, bn, bt, bgot, bhost_ms;
        enum succession follows;
    } rows[] = {
        {"next line", 5, 250, NONE, NONE, 6, 300, NONE, NONE, FOLLOWS},
        {"later line", 5, 250, NONE, NONE, 90, 4500, NONE, NONE, FOLLOWS},
        {"t back", NONE, 250, NONE, NONE, NONE, 249, NONE, NONE, FOLLOWS_RESTART},
        {"t back, n on", 5, 250, NONE, NONE, 6, 50, NONE, NONE, FOLLOWS_RESTART},
        {"t back, n and got on", 5, 250, 12, NONE, 6, 245, 17, NONE, FOLLOWS_STEP},
        {"t far back, n and got on", 500, 25000, 900, NONE, 501, 40, 900, NONE, FOLLOWS_STEP},
        {"t back, n on, got back", 5, 250, 12, NONE, 6, 245, 11, NONE, FOLLOWS_RESTART},
        {"t back, n on, nothing ever got", 5, 250, 0, NONE, 6, 245, 3, NONE, FOLLOWS_RESTART},
        {"t back and got on in a hole", 5, 250, 12, NONE, 7, 245, 17, NONE, FOLLOWS_RESTART},
        {"the same later", 500, 25000, 900, NONE, 503, 20150, 905, NONE, FOLLOWS_STEP},
        {"the same, got back", 500, 25000, 900, NONE, 503, 20150, 899, NONE, FOLLOWS_RESTART},
        {"the same, no got", 500, 25000, NONE, NONE, 503, 20150, NONE, NONE, FOLLOWS_RESTART},
        {"micros() went round in a hole", 85000, 4294950, NONE, NONE, 85040, 2020, NONE, NONE,
         FOLLOWS_STEP},
        {"micros() went round", 85000, 4294950, NONE, NONE, 85001, 33, NONE, NONE, FOLLOWS_STEP},
        {"n back, t on", 90, 4500, NONE, NONE, 89, 4600, NONE, NONE, FOLLOWS_RESTART},
        {"n again, t on", 1, 500, NONE, NONE, 1, 510, NONE, NONE, FOLLOWS_RESTART},
        {"one line seen twice", 5, 250, NONE, NONE, 5, 250, NONE, NONE, FOLLOWS},
        {"t wraps", 5, 4294967290, NONE, NONE, 6, 44, NONE, NONE, FOLLOWS_WRAP},
        {"t wraps, 60 s before", 5, 4294907296, NONE, NONE, 6, 44, NONE, NONE, FOLLOWS_WRAP},
        {"too early to wrap", 5, 4294907295, NONE, NONE, 6, 44, NONE, NONE, FOLLOWS_RESTART},
        {"no wrap when n begins anew", 5, 4294967290, NONE, NONE, 1, 44, NONE, NONE,
         FOLLOWS_RESTART},
        {"no wrap without n", NONE, 4294967290, NONE, NONE, NONE, 44, NONE, NONE, FOLLOWS_RESTART},
        {"no wrap so far on", 5, 4294967290, NONE, NONE, 6, 60000, NONE, NONE, FOLLOWS_RESTART},
        {"n wraps, t on", 4294967295, 4500, NONE, NONE, 0, 4550, NONE, NONE, FOLLOWS},
        {"n wraps in a hole", 4294967290, 4500, NONE, NONE, 40, 6800, NONE, NONE, FOLLOWS},
        {"both wrap", 4294967295, 4294967290, NONE, NONE, 0, 44, NONE, NONE, FOLLOWS_WRAP},
        {"n too early to wrap", 4294964295, 4500, NONE, NONE, 0, 9000, NONE, NONE, FOLLOWS_RESTART},
        {"no wrap of n so far on", 4294967295, 4500, NONE, NONE, 3000, 9000, NONE, NONE,
         FOLLOWS_RESTART},
        {"n wraps, t back", 4294967295, 4500, NONE, NONE, 0, 50, NONE, NONE, FOLLOWS_RESTART},
        {"no t, n wraps", 4294967295, NONE, NONE, NONE, 0, NONE, NONE, NONE, FOLLOWS},
        {"no t, n back", 5, NONE, NONE, NONE, 4, NONE, NONE, NONE, FOLLOWS_RESTART},
        {"no t, n again", 5, NONE, NONE, NONE, 5, NONE, NONE, NONE, FOLLOWS_RESTART},
        {"no t, n on", 5, NONE, NONE, NONE, 6, NONE, NONE, NONE, FOLLOWS},
        {"t in one only", 5, 250, NONE, NONE, 4, NONE, NONE, NONE, FOLLOWS_RESTART},
        {"no t, got back", NONE, NONE, 90, NONE, NONE, NONE, 89, NONE, FOLLOWS_RESTART},
        {"no t, got wraps", NONE, NONE, 4294967290, NONE, NONE, NONE, 3, NONE, FOLLOWS},
        {"got back, but t on", 5, 250, 90, NONE, 6, 300, 89, NONE, FOLLOWS},
        {"nothing to go by", NONE, NONE, NONE, 0, NONE, NONE, NONE, 90000, FOLLOWS},
        {"t with the host", NONE, 1000, NONE, 0, NONE, 61000, NONE, 60000, FOLLOWS},
        {"t slow by a fifth", NONE, 1000, NONE, 0, NONE, 49000, NONE, 60000, FOLLOWS},
        {"t slower", NONE, 1000, NONE, 0, NONE, 48999, NONE, 60000, FOLLOWS_RESTART},
        {"t behind by 2 s", NONE, 1000, NONE, 0, NONE, 1050, NONE, 2050, FOLLOWS},
        {"t behind by more", NONE, 1000, NONE, 0, NONE, 1050, NONE, 2051, FOLLOWS_RESTART},
        {"a hole and a restart in it", 20, 1000, NONE, 0, 400, 20000, NONE, 60000, FOLLOWS_RESTART},
        {"read late out of a buffer", 20, 1000, NONE, 0, 21, 1050, NONE, 60000, FOLLOWS},
        {"t ahead of a late host", 20, 1000, NONE, 0, 400, 61000, NONE, 100, FOLLOWS},
        {"one host time unknown", 20, 1000, NONE, NONE, 400, 20000, NONE, 60000, FOLLOWS},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        const int64_t in[2][3] = {{rows[i].an, rows[i].at, rows[i].agot},
                                  {rows[i].bn, rows[i].bt, rows[i].bgot}};
        struct report r[2] = {0};
        for (int side = 0; side < 2; side++) {
            r[side].n = (uint32_t)in[side][0];
            r[side].t_ms = (uint32_t)in[side][1];
            r[side].got = (uint32_t)in[side][2];
            r[side].has = (uint32_t)(in[side][0] != NONE) << KEY_N |
                          (uint32_t)(in[side][1] != NONE) << KEY_T |
                          (uint32_t)(in[side][2] != NONE) << KEY_GOT;
        }
        int64_t a_us = rows[i].ahost_ms == NONE ? TIME_UNKNOWN : rows[i].ahost_ms * 1000;
        int64_t b_us = rows[i].bhost_ms == NONE ? TIME_UNKNOWN : rows[i].bhost_ms * 1000;
        struct telemetry_base base;
        counters_keep(&base, &r[0], a_us);
        print_message("  %s\n", rows[i].legend);
        assert_int_equal(counters_succession(&base, &r[1], b_us), rows[i].follows);
    }
}

/* Numbers and times about their ends and about those before, with any of the keys: told in place or
 * searched for, it is the same. */
static void succession_in_place(void **state) {
    (void)state;
    static const uint32_t ends[] = {0, 1, 5000, UINT32_MAX - 2000, UINT32_MAX};
    struct dice d = {32};
    unsigned counts[FOLLOWS_RESTART + 1] = {0};
    for (int i = 0; i < 200000; i++) {
        struct report r[2] = {0};
        struct telemetry_base base;
        int64_t host_us[2];
        for (int side = 0; side < 2; side++) {
            bool near = side == 1 && dice_chance(&d, 0.7);
            r[side].has = dice_chance(&d, 0.7) ? UINT32_MAX : (uint32_t)dice_u64(&d);
            r[side].n = (near ? r[0].n : ends[dice_below(&d, COUNT(ends))]) +
                        (uint32_t)dice_below(&d, 4) - 1;
            r[side].t_ms = (near ? r[0].t_ms : ends[dice_below(&d, COUNT(ends))]) +
                           (uint32_t)dice_below(&d, 100) - 20;
            r[side].got = (uint32_t)dice_below(&d, 10);
            host_us[side] = dice_chance(&d, 0.3) ? TIME_UNKNOWN : (int64_t)dice_below(&d, 9000000);
        }
        counters_keep(&base, &r[0], host_us[0]);
        enum succession how = counters_succession(&base, &r[1], host_us[1]);
        assert_int_equal(how, counters_search(&base, &r[1], host_us[1]));
        counts[how]++;
    }
    for (size_t i = 0; i < COUNT(counts); i++)
        assert_true(counts[i] > 100);
}

/* ---- much of it ----------------------------------------------------------------------------- */

enum { MUCH = 10 << 20 };

/* One long run of believable lines, each now and then damaged; returns its length. */
static size_t make_lines(char *out, size_t size, uint32_t seed, unsigned damaged_in_1000) {
    size_t len = 0;
    uint32_t n = 0, got = 0, lost = 0;
    while (len + 600 < size) {
        char *line = out + len;
        int put;
        if (next_random(&seed) % 30 == 0) {
            n = got = lost = 0;
            put = sprintf(line, "boot cause=brownout");
        } else {
            uint32_t lose = next_random(&seed) % 3;
            n++, got += 3, lost += lose;
            put = sprintf(line, "rx n=%u t=%u ch=%u,1500,-,1000 got=%u lost=%u pat=%.*sooo mv=%u",
                          n, n * 50, 1000 + next_random(&seed) % 1000, got, lost, (int)lose, "xx",
                          4500 + next_random(&seed) % 500);
        }
        unsigned crc = crc_by_bits(0xFFFF, line, (size_t)put);
        put += sprintf(line + put, " *%04X\r\n", crc);
        for (int i = 0; i < put && damaged_in_1000 > 0; i++) {
            uint32_t dice = next_random(&seed);
            char flipped = (char)((unsigned char)line[i] ^ 1u << (dice >> 25 & 7));
            if (dice % 100000 < damaged_in_1000)
                line[i] = dice >> 20 & 1 ? flipped : '\n';
            else if (dice % 100000 < damaged_in_1000 * 2)
                memmove(line + i, line + i + 1, (size_t)(put-- - i - 1));
        }
        len += (size_t)put;
    }
    return len;
}

static uint64_t run_once(const char *bytes, size_t len, enum chunking how, struct telemetry *t) {
    struct heard h = {.full = true};
    telemetry_init(t, hear, &h);
    feed(t, &h, bytes, len, how, 99);
    telemetry_end(t, TIME_UNKNOWN);
    check_bytes(t, &h);
    assert_int_equal(h.bytes, len);
    return h.digest;
}

/* Byte by byte only a tenth of it: enough, and with sanitizers the rest would take long. */
static void run_much(const char *bytes, size_t len, struct telemetry *t) {
    assert_true(run_once(bytes, len / 10, BYTEWISE, t) == run_once(bytes, len / 10, WHOLE, t));
    assert_true(run_once(bytes, len, RANDOM_CHUNKS, t) == run_once(bytes, len, WHOLE, t));
}

static void random_bytes_add_up(void **state) {
    (void)state;
    char *bytes = malloc(MUCH);
    assert_non_null(bytes);
    uint32_t seed = 5;
    for (size_t i = 0; i < MUCH; i++)
        bytes[i] = (char)(next_random(&seed) >> 11);
    struct telemetry t;
    run_much(bytes, MUCH, &t);
    assert_true(t.tally.lines_refused > 20000);
    free(bytes);
}

static void damaged_lines_add_up(void **state) {
    (void)state;
    char *bytes = malloc(MUCH);
    assert_non_null(bytes);
    struct telemetry t;
    size_t len = make_lines(bytes, MUCH, 5, 0);
    run_much(bytes, len, &t);
    assert_int_equal(t.tally.lines_refused, 0);
    assert_int_equal(t.tally.bytes_good, len);
    uint64_t whole = t.tally.lines_good;
    len = make_lines(bytes, MUCH, 5, 200);
    run_much(bytes, len, &t);
    assert_in_range(t.tally.lines_good, whole / 2, whole - 1);
    assert_true(t.tally.refused[DAMAGE_BAD_CHECKSUM] > 0 && t.tally.refused[DAMAGE_RUN_ON] > 0 &&
                t.tally.refused[DAMAGE_CUT_RESTART] > 0);
    free(bytes);
}

/* ---- against the receiver's side ------------------------------------------------------------ */

struct wire {
    char bytes[1024];
    size_t len;
};

static void put_byte(void *where, uint8_t byte) {
    struct wire *w = where;
    assert_true(w->len < sizeof w->bytes);
    w->bytes[w->len++] = (char)byte;
}

static void what_the_encoder_prints_is_read(void **state) {
    (void)state;
    const int32_t channels[] = {1500, EMIT_OFF, 988, 2012};
    const uint8_t history[8] = {0x0D}; /* newest first: o x o o */
    struct wire w = {0};
    struct emit e;
    put_byte(&w, '\n');
    emit_begin(&e, put_byte, &w, "rx");
    emit_u32(&e, "n", 1);
    emit_u32(&e, "t", 4294967295u);
    emit_list(&e, "ch", channels, 4);
    emit_u32(&e, "got", 30);
    emit_u32(&e, "lost", 1);
    emit_pattern(&e, "pat", history, 4);
    emit_pair(&e, "heard", 3, 20);
    emit_i32(&e, "rssi", -64);
    emit_word(&e, "reg", "ok");
    emit_end(&e);
    emit_begin(&e, put_byte, &w, "say");
    emit_text(&e, "afloat");
    emit_end(&e);
    char buffer[2048];
    struct text out;
    text_init(&out, buffer, sizeof buffer);
    decode(&out, w.bytes, w.len, false);
    assert_string_equal(buffer, "say []\nrx n=1 t=4294967295 ch=1500,-,988,2012 got=30 lost=1 "
                                "pat=ooxo heard=3/20 rssi=-64 reg=ok\nsay [afloat]");
}

struct times {
    size_t count;
    int64_t host_us[8];
};

static void note_time(void *context, const struct event *e) {
    struct times *n = context;
    assert_true(n->count < COUNT(n->host_us));
    n->host_us[n->count++] = e->host_us;
}

/* A line's time is that of the read that brought its line end. */
static void host_time_is_that_of_the_read(void **state) {
    (void)state;
    struct telemetry t;
    struct times n = {0};
    telemetry_init(&t, note_time, &n);
    telemetry_feed(&t, "say a\nsay", 9, 1 * SECOND_US);
    telemetry_feed(&t, " b", 2, 2 * SECOND_US);
    telemetry_feed(&t, "\nsay c\nx", 8, 3 * SECOND_US);
    telemetry_end(&t, 4 * SECOND_US);
    assert_int_equal(n.count, 4);
    assert_int_equal(n.host_us[0], 1 * SECOND_US);
    assert_int_equal(n.host_us[1], 3 * SECOND_US);
    assert_int_equal(n.host_us[2], 3 * SECOND_US);
    assert_int_equal(n.host_us[3], 4 * SECOND_US);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(checksum_catalogue),
        cmocka_unit_test(checksum_of_any_bytes),
        cmocka_unit_test(spaces_of_any_line),
        cmocka_unit_test(learned_keys_change_nothing),
        cmocka_unit_test(every_key_at_the_edges_of_its_shape),
        cmocka_unit_test(numbers_of_every_length),
        cmocka_unit_test(keys_in_any_order),
        cmocka_unit_test(grammar),
        cmocka_unit_test(bare_numbers),
        cmocka_unit_test(other_words),
        cmocka_unit_test(checksum_memory),
        cmocka_unit_test(run_on_lines),
        cmocka_unit_test(first_lines),
        cmocka_unit_test(last_lines),
        cmocka_unit_test(counters),
        cmocka_unit_test(neighbours),
        cmocka_unit_test(rejoining),
        cmocka_unit_test(long_lines),
        cmocka_unit_test(a_line_behind_a_long_one),
        cmocka_unit_test(an_endless_line_keeps_coming),
        cmocka_unit_test(successions),
        cmocka_unit_test(succession_in_place),
        cmocka_unit_test(random_bytes_add_up),
        cmocka_unit_test(damaged_lines_add_up),
        cmocka_unit_test(what_the_encoder_prints_is_read),
        cmocka_unit_test(host_time_is_that_of_the_read),
    };
    return cmocka_run_group_tests_name("telemetry", tests, NULL, NULL);
}
