/* Recordings: events to rows and back.  What is checked against something outside says so. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "dice.h"
#include "session/csv.h"
#include "session/csv_places.h"
#include "session/session.h"
#include "telemetry/words.h"

#define COUNT(table) (sizeof(table) / sizeof(table)[0])
#define S(literal)                                                                                 \
    { literal, sizeof(literal) - 1 }

enum { FIELDS = 61 }; /* of a row */

#define MOST_US INT64_C(1000000000000000) /* the greatest time of a row */

static const char header[] =
    "kind,host_us,rx_ms,report_no,seq,got,lost,refused,pat,age_ms,gap_ms,failsafe,"
    "failsafe_entries,lock,supply_mv,supply_min_mv,heard_hits,heard_looks,noise_hits,noise_looks,"
    "rssi_dbm,reg,reinit,tx_boot,tx_mv,tx_step,bytes,ch1,ch2,ch3,ch4,ch5,ch6,ch7,ch8,ch9,ch10,"
    "ch11,ch12,ch13,ch14,ch15,ch16,in1,in2,in3,in4,in5,in6,in7,in8,in9,in10,in11,in12,in13,in14,"
    "in15,in16,distance_m,note";

/* The commas between host_us and bytes, bytes and distance_m, so that rows below stay readable. */
#define C25                                    ",,,,,,,,,,,,,,,,,,,,,,,,,"
#define C33                                    ",,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,"
#define C16                                    ",,,,,,,,,,,,,,,,"
#define ROW(kind, host, bytes, distance, note) kind "," host C25 bytes C33 distance "," note

/* -- what a reader brought, as text --------------------------------------------------------- */

struct seen {
    struct text log; /* every event written back as a row, every fault as a line, in order */
    size_t events, faults;
    const struct event *expected; /* compared with each event, if not NULL */
    struct session_report last_fault;
};

static char log_buffer[1 << 20];

static bool same_channels(const int32_t *a, const int32_t *b) {
    return memcmp(a, b, CHANNELS_MAX * sizeof *a) == 0;
}

static bool same_report(const struct report *a, const struct report *b) {
    return memcmp(a, b, offsetof(struct report, extra)) == 0 && slice_equal(a->extra, b->extra);
}

static bool same_identity(const struct identity *a, const struct identity *b) {
    return a->has == b->has && a->transmitter == b->transmitter && a->raw_unit == b->raw_unit &&
           a->dynamic_size == b->dynamic_size && slice_equal(a->fw, b->fw) &&
           slice_equal(a->addr, b->addr) && memcmp(&a->rate_hz, &b->rate_hz, sizeof(double)) == 0 &&
           a->chans == b->chans && a->span_low == b->span_low && a->span_high == b->span_high &&
           a->safe_count == b->safe_count && same_channels(a->safe, b->safe) &&
           a->seqmod == b->seqmod && a->mhz == b->mhz && a->hop == b->hop && a->kbps == b->kbps &&
           a->aw == b->aw && a->crc == b->crc && a->size == b->size && a->ack == b->ack &&
           a->retries == b->retries && slice_equal(a->pairs, b->pairs);
}

static bool same_air(const struct air_sweep *a, const struct air_sweep *b) {
    return a->from_mhz == b->from_mhz && a->step_mhz == b->step_mhz && a->per == b->per &&
           a->count == b->count && memcmp(a->hits, b->hits, sizeof a->hits) == 0 &&
           slice_equal(a->pairs, b->pairs);
}

static bool same_event(const struct event *a, const struct event *b) {
    if (a->kind != b->kind || a->bytes != b->bytes || a->host_us != b->host_us)
        return false;
    switch (a->kind) {
    case EVENT_ABOUT:
        return slice_equal(a->about.key, b->about.key) &&
               slice_equal(a->about.value, b->about.value);
    case EVENT_REPORT:
        return same_report(&a->report, &b->report);
    case EVENT_ID:
        return same_identity(&a->id, &b->id);
    case EVENT_BOOT:
        return a->boot.cause == b->boot.cause && slice_equal(a->boot.pairs, b->boot.pairs);
    case EVENT_AIR:
        return same_air(&a->air, &b->air);
    case EVENT_MARK:
        return a->mark.type == b->mark.type && slice_equal(a->mark.text, b->mark.text) &&
               memcmp(&a->mark.distance_m, &b->mark.distance_m, sizeof(double)) == 0;
    case EVENT_DAMAGE:
        return a->damage.reason == b->damage.reason && a->damage.continues == b->damage.continues &&
               slice_equal(a->damage.bytes, b->damage.bytes);
    case EVENT_PORT:
        return a->port.change == b->port.change && slice_equal(a->port.note, b->port.note);
    default:
        return slice_equal(a->text, b->text);
    }
}

static void on_event(void *context, const struct event *event) {
    struct seen *seen = context;
    seen->events++;
    if (seen->expected && !same_event(event, seen->expected))
        fail_msg("a %s event came back changed", event_kind_name(seen->expected->kind));
    session_row(&seen->log, event);
}

static void on_fault(void *context, const struct session_report *report) {
    struct seen *seen = context;
    seen->faults++;
    seen->last_fault = *report;
    text_format(&seen->log, "! line %u: %s (%s)\r\n", (unsigned)report->line,
                session_fault_name(report->fault), report->column ? report->column : "-");
}

/* Reads text in pieces of `step` bytes, or of 1 to 99 at random where step is 0. */
static void read_in(struct seen *seen, struct slice text, size_t step, unsigned seed) {
    static struct session_reader r;
    const struct event *expected = seen->expected;
    memset(seen, 0, sizeof *seen);
    seen->expected = expected;
    text_init(&seen->log, log_buffer, sizeof log_buffer);
    session_reader_init(&r, on_event, on_fault, seen);
    srand(seed);
    for (size_t at = 0; at < text.len;) {
        size_t take = step > 0 ? step : 1 + (size_t)rand() % 99;
        if (take > text.len - at)
            take = text.len - at;
        /* Copies of exact size: the sanitizer then sees a byte read too many. */
        char *copy = malloc(take);
        memcpy(copy, text.at + at, take);
        session_reader_feed(&r, copy, take);
        free(copy);
        at += take;
    }
    session_reader_end(&r);
    assert_int_equal(r.rows_good, seen->events);
    assert_int_equal(r.rows_bad, seen->faults);
    assert_false(seen->log.full);
}

/* Reads whole, byte by byte and in random pieces; all must bring the same. */
static void read_all_ways(struct seen *seen, struct slice text) {
    read_in(seen, text, text.len > 0 ? text.len : 1, 0);
    char *whole = strdup(seen->log.at);
    read_in(seen, text, 1, 0);
    assert_string_equal(seen->log.at, whole);
    for (unsigned seed = 1; seed <= 5; seed++) {
        read_in(seen, text, 0, seed);
        assert_string_equal(seen->log.at, whole);
    }
    free(whole);
}

/* -- RFC 4180 ------------------------------------------------------------------------------- */

/* Source: RFC 4180 section 2, rules 1, 2, 5, 6 and 7; the records are those of its examples. */
static void test_rfc4180_reading(void **state) {
    (void)state;
    static const struct {
        const char *legend;
        const char *text;
        size_t records;
        const char *fields[2][3];
    } cases[] = {
        {"rule 1: records with CRLF",
         "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n",
         2,
         {{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
        {"rule 2: the last without",
         "aaa,bbb,ccc\r\nzzz,yyy,xxx",
         2,
         {{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
        {"rule 4: spaces belong to the field",
         " aaa,bbb , ccc \r\n",
         1,
         {{" aaa", "bbb ", " ccc "}}},
        {"rule 5: quotes around some",
         "\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx",
         2,
         {{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
        {"rule 6: a line end inside",
         "\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx\r\n",
         2,
         {{"aaa", "b\r\nbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
        {"rule 6: a comma inside", "aaa,\"b,b\",ccc\r\n", 1, {{"aaa", "b,b", "ccc"}}},
        {"rule 7: a doubled quote", "\"aaa\",\"b\"\"bb\",\"ccc\"", 1, {{"aaa", "b\"bb", "ccc"}}},
        {"rule 7: nothing but quotes", "\"\"\"\",\"\",\"\"\"\"\"\"\r\n", 1, {{"\"", "", "\"\""}}},
        {"empty fields", ",,\r\n", 1, {{"", "", ""}}},
        {"bare LF, which many write",
         "aaa,bbb,ccc\nzzz,yyy,xxx\n",
         2,
         {{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        struct slice rest = slice_of(cases[i].text);
        size_t record = 0;
        while (rest.len > 0) {
            struct slice fields[3];
            char buffer[100];
            struct text scratch;
            size_t end = rest.len;
            enum csv_verdict verdict = csv_row(&csv_rfc4180, rest.at, rest.len, &end);
            text_init(&scratch, buffer, sizeof buffer);
            assert_int_not_equal(verdict, CSV_STRAY);
            if (csv_split(&csv_rfc4180, slice_sub(rest, 0, end), fields, 3, &scratch) != 3)
                fail_msg("%s: not three fields", cases[i].legend);
            for (size_t f = 0; f < 3; f++) {
                if (!slice_is(fields[f], cases[i].fields[record][f]))
                    fail_msg("%s: record %zu field %zu", cases[i].legend, record, f);
            }
            rest = slice_sub(rest, end, rest.len);
            record++;
        }
        assert_int_equal(record, cases[i].records);
    }
}

/* Source: RFC 4180 section 2, rules 6 and 7; and what csv.writer of Python 3.11 writes for these.
 */
static void test_rfc4180_writing(void **state) {
    (void)state;
    static const struct {
        const char *value, *field;
    } cases[] = {
        {"a,\"b\"", "\"a,\"\"b\"\"\""}, {"plain", "plain"},   {"", ""},           {" a ", " a "},
        {"b\r\nbb", "\"b\r\nbb\""},     {"a\rb", "\"a\rb\""}, {"\"", "\"\"\"\""},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        char buffer[100];
        struct text out;
        text_init(&out, buffer, sizeof buffer);
        csv_field(&out, slice_of(cases[i].value), ',');
        assert_string_equal(buffer, cases[i].field);
    }
}

static void test_csv_verdicts(void **state) {
    (void)state;
    static const struct {
        const char *text;
        enum csv_verdict verdict;
        size_t end;
    } cases[] = {
        {"a,b\nc", CSV_ROW, 4},      {"a,b\r\nc", CSV_ROW, 5},   {"\n", CSV_ROW, 1},
        {"a,\n", CSV_ROW, 3},        {"\"a\n\"\n", CSV_ROW, 5},  {"", CSV_MORE, 0},
        {"a", CSV_MORE, 0},          {"a,", CSV_MORE, 0},        {"\"a", CSV_MORE, 0},
        {"\"a\"", CSV_MORE, 0},      {"\"a\"\r", CSV_MORE, 0},   {"\"a\n", CSV_MORE, 0},
        {"a\"b\n", CSV_STRAY, 0},    {"\"a\"b\n", CSV_STRAY, 0}, {"\"a\"\rb\n", CSV_STRAY, 0},
        {"a,\"\n\"x", CSV_STRAY, 0},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        size_t end = 0;
        assert_int_equal(csv_row(&csv_rfc4180, cases[i].text, strlen(cases[i].text), &end),
                         cases[i].verdict);
        assert_int_equal(end, cases[i].end);
    }
}

/* The table against the bits themselves. */
static void test_places(void **state) {
    (void)state;
    for (unsigned byte = 0; byte < 256; byte++) {
        int count = 0;
        for (int bit = 0; bit < 8; bit++) {
            if ((byte >> bit & 1u) != 0)
                assert_int_equal(csv_places[byte][count++], bit);
        }
        assert_int_equal(csv_places[byte][7] + 1, count);
    }
}

/* One row by both ways; true when the quick one took it. */
static bool try_row(const char *bytes, size_t len) {
    static struct csv_plain plain;
    struct slice fields[CSV_PLAIN_FIELDS];
    char buffer[400];
    struct text scratch;
    size_t end = 0;
    enum csv_verdict verdict = csv_row(&csv_rfc4180, bytes, len, &end);
    text_init(&scratch, buffer, sizeof buffer);
    bool taken = csv_plain_row(bytes, len, &plain);
    if (verdict != CSV_ROW) {
        assert_false(taken);
        return false;
    }
    size_t count =
        csv_split(&csv_rfc4180, (struct slice){bytes, end}, fields, CSV_PLAIN_FIELDS, &scratch);
    assert_int_equal(taken, scratch.len == 0); /* which is where doubled quotes go */
    if (!taken)
        return false;
    assert_int_equal(plain.len, end);
    assert_int_equal(plain.quotes, memchr(bytes, '"', end) != NULL);
    assert_int_equal(plain.count, count > CSV_PLAIN_FIELDS ? CSV_PLAIN_FIELDS + 1 : count);
    for (size_t i = 0; i < count && count <= CSV_PLAIN_FIELDS; i++)
        assert_true(slice_equal(csv_plain_field(&plain, i), fields[i]));
    return true;
}

/* The quick way through a row against the careful one, over rows that chance makes up. */
static void test_plain_rows_agree(void **state) {
    (void)state;
    struct dice dice = {2};
    unsigned taken = 0, quoted = 0;
    for (int round = 0; round < 200000; round++) {
        static const char letters[] = "ab1,,,,,,";
        char bytes[320];
        size_t len = 1 + dice_below(&dice, sizeof bytes - 1), at = 0;
        bool quotes = dice_chance(&dice, 0.5);
        while (at < len) { /* fields in quotes, letters, and now and then anything anywhere */
            if (quotes && dice_chance(&dice, 0.1) && at + 8 < len &&
                (at == 0 || bytes[at - 1] == ',')) {
                size_t inside = dice_below(&dice, 5);
                bytes[at++] = '"';
                for (size_t i = 0; i < inside; i++)
                    bytes[at++] = "x,\n\r7"[dice_below(&dice, 5)];
                bytes[at++] = '"';
                bytes[at++] = ',';
            } else if (dice_chance(&dice, 0.004)) {
                bytes[at++] = "\"\r\n"[dice_below(&dice, 3)];
            } else {
                bytes[at++] = letters[dice_below(&dice, sizeof letters - 1)];
            }
        }
        if (dice_chance(&dice, 0.8))
            bytes[len - 1] = '\n';
        if (try_row(bytes, len)) {
            taken++;
            quoted += memchr(bytes, '"', len) != NULL;
        }
    }
    assert_true(taken > 50000 && quoted > 5000); /* both ways were tried */
}

/* -- header --------------------------------------------------------------------------------- */

static void test_header(void **state) {
    (void)state;
    char buffer[1000];
    struct text out;
    text_init(&out, buffer, sizeof buffer);
    session_header(&out);
    assert_int_equal(out.len, sizeof header - 1 + 2);
    assert_memory_equal(buffer, header, sizeof header - 1);
    assert_string_equal(buffer + sizeof header - 1, "\r\n");
}

static void test_recognises(void **state) {
    (void)state;
    static const struct {
        const char *text;
        bool recording;
    } cases[] = {
        {"kind,host_us,rx_ms", true},
        {"kind,host_us,", true},
        {"\xEF\xBB\xBFkind,host_us,", true},
        {"kind,host_us", true},
        {"", false},
        {"\xEF\xBB\xBF", false},
        {"rx n=1 ch=1500", false},
        {"Kind,host_us,", true},
        {" kind , HOST_US,", true},
        {"note;kind\r", true},
        {"\"rx_ms\"\t\"kind\"\n", true},
        {"my own,seq,kind\r\n", true},
        {"host_us,seq,got\n", true}, /* so that it is said what it lacks */
        {"kind\n", false},
        {"kind,of,a,sketch\n", false},
        {"ch1,ch2,ch3\n1500,1500,1500\n", false}, /* a sketch that names its numbers */
        {"say kind,host_us\n", false},
        {"1500,1000,7\nkind,host_us\n", false},
        {"\xFF\xFEk\0i\0n\0d\0", false},
    };
    for (size_t i = 0; i < COUNT(cases); i++)
        assert_int_equal(session_recognises(cases[i].text, strlen(cases[i].text)),
                         cases[i].recording);
    assert_true(session_recognises("\xFF\xFEk\0i\0n\0d\0,\0h\0o\0s\0t\0", 20));
    assert_true(session_recognises("\xFE\xFF\0k\0i\0n\0d\0,\0h\0o\0s\0t", 20));
    assert_false(session_recognises("\xFF\xFE\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0", 22));
}

static void test_headers_read(void **state) {
    (void)state;
    static const struct {
        const char *legend, *before, *after, *row;
        int fault; /* -1 none */
        const char *column;
    } cases[] = {
        {"CR LF", "", "\r\n", "", -1, NULL},
        {"LF", "", "\n", "", -1, NULL},
        {"byte-order mark", "\xEF\xBB\xBF", "\r\n", "", -1, NULL},
        {"a column more", "", ",more\r\n", ",", -1, NULL},
        {"the same without a name", "", ",\r\n", ",", -1, NULL},
        {"two unknown ones of one name", "", ",more,more\r\n", ",,", -1, NULL},
        {"another first column", "x", "\r\n", "", SESSION_HEADER, NULL},
        {"a space behind", "", " \r\n", "", -1, NULL},
        {"a blank line before", "\n", "\r\n", "", SESSION_HEADER, NULL},
        {"a column twice", "", ",seq\r\n", ",", SESSION_TWICE, "seq"},
        {"twice in other letters", "", ",SEQ\r\n", ",", SESSION_TWICE, "seq"},
        {"kind twice", "", ",kind\r\n", ",", SESSION_TWICE, "kind"},
        {"a quote out of place", "", ",a\"b\r\n", ",", SESSION_QUOTE, NULL},
        {"two bytes a character", "\xFF\xFEk_i_n_d_,_h_o_s_t__", "\r\n", "", SESSION_UTF16, NULL},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        char text[2000];
        struct seen seen = {0};
        int len = snprintf(text, sizeof text, "%s%s%s%s%s\r\n", cases[i].before, header,
                           cases[i].after, ROW("say", "", "", "", "ahoy"), cases[i].row);
        for (int at = 0; cases[i].fault == SESSION_UTF16 && at < 20; at++)
            text[at] = text[at] == '_' ? '\0' : text[at];
        read_all_ways(&seen, (struct slice){text, (size_t)len});
        bool fault = cases[i].fault >= 0;
        if (seen.events != !fault || seen.faults != fault)
            fail_msg("%s: %zu events, %zu faults", cases[i].legend, seen.events, seen.faults);
        if (!fault)
            continue;
        assert_int_equal(seen.last_fault.fault, cases[i].fault);
        assert_int_equal(seen.last_fault.column != NULL, cases[i].column != NULL);
        if (cases[i].column)
            assert_string_equal(seen.last_fault.column, cases[i].column);
    }
}

static void test_header_cut(void **state) {
    (void)state;
    static const struct {
        const char *text;
        enum session_fault fault;
    } cases[] = {
        {"", SESSION_HEADER},
        {"kind,ho", SESSION_TORN},
        {header, SESSION_TORN},
        {"rx n=1", SESSION_HEADER},
        {"\xEF\xBB\xBFkind", SESSION_TORN},
        {"\xEF\xBB\xBF", SESSION_TORN},
        {"kind;", SESSION_HEADER},
        {"seq;kind;g", SESSION_TORN},
        {"seq;kind\r", SESSION_TORN},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        struct seen seen = {0};
        read_all_ways(&seen, slice_of(cases[i].text));
        assert_int_equal(seen.faults, 1);
        assert_int_equal(seen.last_fault.fault, cases[i].fault);
    }
}

/* More columns than there is room for, and more bytes than a row can have. */
static void test_header_too_large(void **state) {
    (void)state;
    static char text[4 * SESSION_ROW_MAX];
    for (int names = 190; names <= 200; names++) {
        struct seen seen = {0};
        struct text out;
        text_init(&out, text, sizeof text);
        text_string(&out, header);
        for (int i = 0; i < names; i++)
            text_string(&out, ",x");
        text_string(&out, "\nend");
        for (int i = 1; i < FIELDS + names; i++)
            text_char(&out, ',');
        text_string(&out, "\n");
        read_all_ways(&seen, text_view(&out));
        bool fits = FIELDS + names <= SESSION_FIELDS_MAX;
        assert_int_equal(seen.events, fits);
        assert_int_equal(seen.faults, !fits);
        if (!fits)
            assert_int_equal(seen.last_fault.fault, SESSION_MANY);
    }
    for (int end = 0; end < 3; end++) {
        struct seen seen = {0};
        struct text out;
        text_init(&out, text, sizeof text);
        text_string(&out, header);
        text_char(&out, ',');
        while (out.len < 2 * SESSION_ROW_MAX)
            text_char(&out, 'x');
        text_string(&out, (const char *[]){"", "\r", "\r\nend\r\n"}[end]);
        read_all_ways(&seen, text_view(&out));
        assert_int_equal(seen.faults, 1);
        assert_int_equal(seen.last_fault.fault, SESSION_MANY);
    }
}

/* -- round trips ---------------------------------------------------------------------------- */

static void round_trip(const struct event *event) {
    char text[2 * SESSION_ROW_MAX];
    struct text out;
    struct seen seen = {.expected = event};
    text_init(&out, text, sizeof text);
    session_header(&out);
    size_t before = out.len;
    session_row(&out, event);
    assert_false(out.full);
    assert_in_range(out.len - before, 1, SESSION_ROW_MAX);
    read_all_ways(&seen, text_view(&out));
    if (seen.events != 1 || seen.faults != 0)
        fail_msg("not one event: %s", seen.log.at);
}

/* Texts that could break the row, the apostrophe rule or the notes' own punctuation. */
static const struct slice hard_texts[] = {
    S("tug at the jetty"),
    S(""),
    S("=1+2"),
    S("+49"),
    S("-3 dB"),
    S("@home"),
    S("'quoted'"),
    S("''"),
    S("\tindented"),
    S("\rback"),
    S("\nnext"),
    S("a,b"),
    S("\""),
    S("\"\""),
    S("say \"ahoy\", twice"),
    S("one\r\ntwo\nthree\r"),
    S("back\\slash \\x41"),
    S(" spaces "),
    S(": colon: "),
    S("a=b=c"),
    S("Brücke, 40 m – Möwe \xF0\x9F\x9A\xA2"),
    S("nul \0 inside"),
    S(","),
    S("\r\n"),
    S("'=x"),
};

static void test_round_trip_texts(void **state) {
    (void)state;
    for (size_t i = 0; i < COUNT(hard_texts); i++) {
        struct slice text = hard_texts[i];
        const struct event events[] = {
            {.kind = EVENT_SAY, .bytes = 12, .host_us = 7, .text = text},
            {.kind = EVENT_OTHER, .bytes = 1, .host_us = TIME_UNKNOWN, .text = text},
            {.kind = EVENT_ANSWER, .host_us = 0, .text = text},
            {.kind = EVENT_END, .host_us = MOST_US, .text = text},
            {.kind = EVENT_ABOUT, .host_us = -5, .about = {S("tug"), text}},
            {.kind = EVENT_MARK, .host_us = 1, .mark = {MARK_TEXT, -1, text}},
            {.kind = EVENT_MARK, .host_us = 1, .mark = {MARK_FACING, 12.5, text}},
            {.kind = EVENT_PORT, .host_us = 1, .port = {PORT_LET_GO, text}},
            {.kind = EVENT_REPORT, .bytes = 9, .host_us = 1, .report = {.extra = text}},
            {.kind = EVENT_DAMAGE,
             .bytes = 9,
             .host_us = 1,
             .damage = {DAMAGE_BAD_BYTE, false, text}},
            {.kind = EVENT_DAMAGE,
             .bytes = 9,
             .host_us = 1,
             .damage = {DAMAGE_TOO_LONG, true, text}},
        };
        for (size_t e = 0; e < COUNT(events); e++)
            round_trip(&events[e]);
    }
}

static void test_round_trip_names(void **state) {
    (void)state;
    for (int reason = 0; reason < DAMAGE_REASONS; reason++) {
        struct event event = {.kind = EVENT_DAMAGE, .bytes = 3, .host_us = 1};
        event.damage.reason = (enum damage_reason)reason;
        event.damage.bytes = (struct slice)S("\x00\xFF\\\r");
        round_trip(&event);
    }
    for (int change = PORT_OPENED; change <= PORT_SPEED; change++) {
        struct event event = {.kind = EVENT_PORT, .host_us = 1};
        event.port.change = (enum port_change)change;
        round_trip(&event);
    }
    for (int type = MARK_STOP; type <= MARK_TEXT; type++) {
        struct event event = {.kind = EVENT_MARK, .host_us = 1};
        event.mark.type = (enum mark_type)type;
        event.mark.distance_m = type == MARK_STOP ? 40 : -1;
        round_trip(&event);
    }
}

static void test_round_trip_wire_pairs(void **state) {
    (void)state;
    static const struct event events[] = {
        {.kind = EVENT_BOOT, .bytes = 5, .host_us = 3, .boot = {BOOT_UNKNOWN, S("")}},
        {.kind = EVENT_BOOT,
         .bytes = 9,
         .host_us = 3,
         .boot = {BOOT_BROWNOUT, S("cause=brownout x=1")}},
        {.kind = EVENT_BOOT, .bytes = 9, .host_us = 3, .boot = {BOOT_UNKNOWN, S("cause=gremlins")}},
        {.kind = EVENT_AIR,
         .bytes = 40,
         .host_us = 3,
         .air = {2400, 2, 100, 4, {0, 7, 100, 3}, S("from=2400 step=2 per=100 hits=0,7,100,3")}},
        {.kind = EVENT_ID, .bytes = 4, .host_us = 3, .id = {.pairs = S("")}},
        {.kind = EVENT_ID,
         .bytes = 99,
         .host_us = 3,
         .id = {.has = 1u << ID_END | 1u << ID_FW | 1u << ID_RATE | 1u << ID_CHANS | 1u << ID_UNIT |
                       1u << ID_SPAN | 1u << ID_SAFE | 1u << ID_SEQMOD | 1u << ID_MHZ |
                       1u << ID_ADDR | 1u << ID_SIZE | 1u << ID_ACK,
                .transmitter = true,
                .raw_unit = true,
                .dynamic_size = true,
                .fw = S("tug-3"),
                .addr = S("e7c0ffee01"),
                .rate_hz = 111.125,
                .chans = 4,
                .span_low = -100,
                .span_high = 2047,
                .safe_count = 3,
                .safe = {1000, CHANNEL_HOLD, CHANNEL_OFF},
                .seqmod = 256,
                .mhz = 2476,
                .ack = 0,
                .pairs = S("end=tx fw=tug-3 rate=111.125 chans=4 unit=raw span=-100,2047 "
                           "safe=1000,hold,off seqmod=256 mhz=2476 addr=e7c0ffee01 size=dyn ack=0 "
                           "hull=oak")}},
    };
    for (size_t i = 0; i < COUNT(events); i++)
        round_trip(&events[i]);
}

static uint32_t any_u32(void) {
    uint32_t bits = (uint32_t)rand() ^ (uint32_t)rand() << 16;
    return bits >> rand() % 32;
}

static void fill_channels(int32_t *values, uint32_t *count) {
    *count = 1 + any_u32() % CHANNELS_MAX;
    for (uint32_t i = 0; i < *count; i++)
        values[i] = rand() % 8 == 0 ? CHANNEL_OFF : rand() % (65535 + 32768) - 32768;
}

static void fill_key(struct report *r, enum report_key key) {
    const struct report_field *field = &report_fields[key];
    uint32_t *value = (void *)((char *)r + field->offset);
    r->has |= 1u << key;
    switch (field->shape) {
    case SHAPE_U32:
        *value = field->high > 0 ? any_u32() % ((uint32_t)field->high + 1) : any_u32();
        break;
    case SHAPE_I32:
        *value =
            (uint32_t)(field->low + (int32_t)(any_u32() % (uint32_t)(field->high - field->low)));
        break;
    case SHAPE_FLAG:
        *value = any_u32() % 2;
        break;
    case SHAPE_PAIR:
        value[1] = any_u32();
        value[0] = value[1] > 0 ? any_u32() % value[1] : 0;
        break;
    case SHAPE_PATTERN:
        r->pat_len = 1 + any_u32() % PATTERN_MAX;
        r->pat = ((uint64_t)any_u32() << 32 | any_u32()) >> (PATTERN_MAX - r->pat_len);
        break;
    case SHAPE_REGISTERS:
        *value = any_u32() % 4;
        break;
    case SHAPE_CHANNELS:
        fill_channels(key == KEY_CH ? r->ch : r->in, key == KEY_CH ? &r->ch_count : &r->in_count);
        break;
    }
}

static void test_round_trip_reports(void **state) {
    (void)state;
    for (unsigned seed = 1; seed <= 300; seed++) {
        struct event event;
        memset(&event, 0, sizeof event);
        srand(seed);
        event.kind = EVENT_REPORT;
        event.bytes = any_u32() % 500;
        event.host_us = rand() % 4 == 0 ? TIME_UNKNOWN : (int64_t)any_u32() * 4096 + 1;
        for (int key = 0; key < REPORT_KEYS; key++) {
            if (seed <= REPORT_KEYS ? key == (int)seed - 1 : rand() % 5 > 0)
                fill_key(&event.report, (enum report_key)key);
        }
        event.report.extra =
            rand() % 2 ? (struct slice)S("hull=oak draught=0,4") : (struct slice){0};
        round_trip(&event);
    }
}

/* Writes the event again, but for its note. */
static void on_event_bare(void *context, const struct event *event) {
    struct event bare = *event;
    bare.report.extra = (struct slice){0};
    on_event(context, &bare);
}

/* What a row of these fields and this note is read as; some fields stand in quotes, by chance. */
static char *read_dressed(const struct slice *fields, struct dice *dice, double quoted,
                          const char *note) {
    static struct session_reader r;
    static struct seen seen;
    static char bytes[2 * SESSION_ROW_MAX];
    struct text row;
    text_init(&row, bytes, sizeof bytes);
    session_header(&row);
    for (size_t i = 0; i < FIELDS - 1; i++) {
        const char *quote = dice_chance(dice, quoted) ? "\"" : "";
        text_string(&row, quote);
        text_slice(&row, fields[i]);
        text_string(&row, quote);
        text_char(&row, ',');
    }
    text_string(&row, note);
    text_string(&row, dice_chance(dice, 0.5) ? "\r\n" : "\n");
    memset(&seen, 0, sizeof seen);
    text_init(&seen.log, log_buffer, sizeof log_buffer);
    session_reader_init(&r, on_event_bare, on_fault, &seen);
    session_reader_feed(&r, row.at, row.len);
    session_reader_end(&r);
    assert_int_equal(seen.events + seen.faults, 1);
    return strdup(seen.log.at);
}

/* Quotes change nothing, nor does a note with quotes inside, with which the whole row is read
 * another way: whatever stands in the fields, the event or the column at fault is the same. */
static void test_rows_in_quotes_agree(void **state) {
    (void)state;
    static const char *const odd[] = {"",
                                      "0",
                                      "1",
                                      "2",
                                      "-1",
                                      "off",
                                      "00000001",
                                      "000000001",
                                      "65535",
                                      "65536",
                                      "-32768",
                                      "-32769",
                                      "99999999",
                                      "100000000",
                                      "4294967295",
                                      "4294967296",
                                      "1234567890123456",
                                      "12345678901234567",
                                      "-5",
                                      "- 5",
                                      "5x",
                                      "x",
                                      "ooxxoox",
                                      "ooxxooxx",
                                      "ooxxooxxo",
                                      "ooy",
                                      "3/4",
                                      "4/3",
                                      "/",
                                      "ok",
                                      "differs",
                                      "1 ",
                                      "\r",
                                      "12:"};
    struct dice dice = {5};
    unsigned good = 0, bad = 0;
    srand(5);
    for (int round = 0; round < 6000; round++) {
        struct event event = {.kind = EVENT_REPORT, .host_us = any_u32()};
        char bytes[SESSION_ROW_MAX];
        struct slice fields[FIELDS];
        struct text row, none = {0};
        event.bytes = any_u32() % 400;
        for (enum report_key key = 0; key < REPORT_KEYS; key++) {
            if (dice_chance(&dice, 0.8))
                fill_key(&event.report, key);
        }
        text_init(&row, bytes, sizeof bytes);
        session_row(&row, &event);
        assert_int_equal(csv_split(&csv_rfc4180, text_view(&row), fields, FIELDS, &none), FIELDS);
        for (uint64_t changes = dice_below(&dice, 3); changes > 0; changes--)
            fields[1 + dice_below(&dice, FIELDS - 2)] =
                slice_of(odd[dice_below(&dice, COUNT(odd))]);
        char *plain = read_dressed(fields, &dice, 0, "note");
        char *quoted = read_dressed(fields, &dice, 0.3, "note");
        char *doubled = read_dressed(fields, &dice, 0.1, "\"no\"\"te\"");
        assert_string_equal(quoted, plain);
        assert_string_equal(doubled, plain);
        *(plain[0] == '!' ? &bad : &good) += 1;
        free(plain);
        free(quoted);
        free(doubled);
    }
    assert_true(good > 2000 && bad > 1500);
}

/* Numbers are read eight bytes at a time, but not past the end of what came: the sanitizer sees it
 * where a short one stands in each of the last columns. */
static void test_short_numbers_at_the_end(void **state) {
    (void)state;
    for (uint32_t count = 1; count <= CHANNELS_MAX; count++) {
        struct event event = {.kind = EVENT_REPORT, .report = {.has = 1u << KEY_IN}};
        struct seen seen = {.expected = &event};
        char bytes[SESSION_ROW_MAX];
        struct text row;
        event.report.in_count = count;
        for (uint32_t i = 0; i < count; i++)
            event.report.in[i] = (int32_t)i % 10;
        text_init(&row, bytes, sizeof bytes);
        session_header(&row);
        session_row(&row, &event);
        memcpy(bytes + row.len - 2, "\n", 1); /* instead of CR LF */
        read_in(&seen, (struct slice){bytes, row.len - 1}, row.len - 1, 0);
        assert_int_equal(seen.events, 1);
    }
}

static void test_round_trip_distances(void **state) {
    (void)state;
    static const double fixed[] = {0, 1, 0.1, 12.5, 0.05, 999.999, 1e-14, 123456789012345.0};
    struct event event = {.kind = EVENT_MARK, .host_us = 1, .mark = {.type = MARK_STOP}};
    for (size_t i = 0; i < COUNT(fixed); i++) {
        event.mark.distance_m = fixed[i];
        round_trip(&event);
    }
    for (unsigned i = 0; i < 300; i++) {
        srand(i);
        event.mark.distance_m = (double)any_u32() / (double[]){1, 10, 100, 1e3, 1e4, 1e5}[i % 6];
        round_trip(&event);
    }
}

static void test_overlong_text_is_cut(void **state) {
    (void)state;
    static char many[3 * SESSION_ROW_MAX];
    char row[SESSION_ROW_MAX + 1];
    struct text out;
    memset(many, '"', sizeof many);
    struct event event = {.kind = EVENT_SAY, .text = {many, sizeof many}};
    text_init(&out, row, sizeof row);
    session_row(&out, &event);
    assert_false(out.full);
    struct event damage = {.kind = EVENT_DAMAGE,
                           .damage = {DAMAGE_BAD_BYTE, false, {many, sizeof many}}};
    memset(many, 0xFF, sizeof many);
    text_clear(&out);
    session_row(&out, &damage);
    assert_false(out.full);
    /* U+00E9 takes two bytes: the cut falls between characters, not inside one. */
    for (size_t i = 1; i + 1 < sizeof many; i += 2)
        memcpy(many + i, "\xC3\xA9", 2);
    many[0] = 'e';
    text_clear(&out);
    session_row(&out, &event);
    assert_memory_equal(row + out.len - 4, "\xC3\xA9\r\n", 4);
}

/* The longest row there can be: every column at its longest and a note that doubles in quotes. */
static void test_longest_row(void **state) {
    (void)state;
    static char quotes[SESSION_TEXT_MAX];
    static struct event event = {.kind = EVENT_REPORT, .bytes = UINT32_MAX, .host_us = -MOST_US};
    struct report *r = &event.report;
    memset(quotes, '"', sizeof quotes);
    for (int key = 0; key < REPORT_KEYS; key++)
        fill_key(r, (enum report_key)key);
    r->pat_len = PATTERN_MAX;
    r->ch_count = r->in_count = CHANNELS_MAX;
    for (int i = 0; i < CHANNELS_MAX; i++)
        r->ch[i] = r->in[i] = -32768;
    r->n = r->t_ms = r->seq = r->tboot = r->got = r->lost = r->refused = UINT32_MAX;
    r->age_ms = r->gap_ms = r->fsn = r->reinit = UINT32_MAX;
    r->mv = r->mvmin = r->tmv = 99999;
    r->heard_hits = r->heard_looks = r->noise_hits = r->noise_looks = UINT32_MAX;
    r->tstep = r->tsteps = UINT32_MAX;
    r->reg = REGISTERS_DEFAULT;
    r->extra = (struct slice){quotes, sizeof quotes};
    round_trip(&event);
}

/* -- columns by name, and what other programs make of a recording --------------------------------
 */

/* How another program writes the same rows. */
struct dress {
    char separator;
    const char *line_end;
    bool mark;                /* a byte-order mark before all */
    bool quotes;              /* around every field, else where they are needed */
    bool comma;               /* as the decimal point */
    bool short_;              /* empty fields at the end of a row are left out */
    bool upper;               /* the names, with a space on each side */
    size_t count;             /* of fields */
    size_t field[FIELDS + 8]; /* of ours; FIELDS: one that nobody knows */
};

static void dress_all(struct dress *d) {
    d->count = FIELDS;
    for (size_t i = 0; i < FIELDS; i++)
        d->field[i] = i;
}

static void dress_shuffle(struct dress *d, struct dice *dice) {
    for (size_t i = d->count - 1; i > 0; i--) {
        size_t j = dice_below(dice, i + 1), swap = d->field[i];
        d->field[i] = d->field[j];
        d->field[j] = swap;
    }
}

static void put_dressed(struct text *out, const struct dress *d, struct slice value) {
    bool quotes = d->quotes;
    for (size_t i = 0; i < value.len; i++)
        quotes = quotes || value.at[i] == d->separator || strchr("\"\r\n", value.at[i]);
    if (quotes)
        text_char(out, '"');
    for (size_t i = 0; i < value.len; i++) {
        if (value.at[i] == '"')
            text_char(out, '"');
        text_char(out, value.at[i]);
    }
    if (quotes)
        text_char(out, '"');
}

/* The row in that dress; the first one is the header. */
static void put_dressed_row(struct text *out, const struct dress *d, struct slice row, bool names) {
    struct slice fields[FIELDS];
    char buffer[SESSION_ROW_MAX + 1];
    struct text scratch;
    size_t count = d->count;
    text_init(&scratch, buffer, sizeof buffer);
    assert_int_equal(csv_split(&csv_rfc4180, row, fields, FIELDS, &scratch), FIELDS);
    while (d->short_ && count > 1 &&
           (d->field[count - 1] == FIELDS || fields[d->field[count - 1]].len == 0))
        count--;
    for (size_t i = 0; i < count; i++) {
        bool known = d->field[i] < FIELDS;
        struct slice value = known ? fields[d->field[i]] : slice_of(names ? "" : "x,y;z");
        char copy[SESSION_ROW_MAX + 1] = " ";
        bool pad = names && d->upper;
        memcpy(copy + pad, value.at, value.len);
        memcpy(copy + pad + value.len, " ", 1);
        for (size_t at = 0; at < value.len + 1; at++) {
            if (pad && copy[at] >= 'a' && copy[at] <= 'z' && at % 2)
                copy[at] = (char)(copy[at] - 'a' + 'A');
            if (d->comma && d->field[i] == FIELDS - 2 && copy[at] == '.')
                copy[at] = ',';
        }
        if (i > 0)
            text_char(out, d->separator);
        put_dressed(out, d, (struct slice){copy, value.len + 2 * (size_t)pad});
    }
    text_string(out, d->line_end);
}

/* Events of each kind, with texts that need quotes; some_event() makes the next one. */
static struct event some_event(size_t i, struct dice *dice) {
    struct slice text = hard_texts[i % COUNT(hard_texts)];
    struct event e = {.host_us = (int64_t)i * 50000, .bytes = (uint32_t)i};
    switch (i % 6) {
    case 0:
        e.kind = EVENT_SAY;
        e.text = text;
        break;
    case 1:
        e.kind = EVENT_MARK;
        e.bytes = 0;
        e.mark = (struct mark){MARK_STOP, (double)i * 2.5, S("")};
        break;
    case 2:
        e.kind = EVENT_ABOUT;
        e.bytes = 0;
        e.about.key = slice_of("tug");
        e.about.value = text;
        break;
    default:
        e.kind = EVENT_REPORT;
        for (enum report_key key = 0; key < REPORT_KEYS; key++) {
            if (dice_chance(dice, 0.7))
                fill_key(&e.report, key);
        }
        e.report.extra = text;
        break;
    }
    return e;
}

enum { SOME = 40 };
static char dressed[64 * SESSION_ROW_MAX];

/* What those events are read as, out of a file in that dress. */
static char *read_some(const struct dress *d, unsigned seed, struct seen *seen) {
    char row[2 * SESSION_ROW_MAX];
    struct dice dice = {seed};
    struct text out, ours;
    srand(seed);
    text_init(&out, dressed, sizeof dressed);
    text_init(&ours, row, sizeof row);
    text_string(&out, d->mark ? "\xEF\xBB\xBF" : "");
    session_header(&ours);
    put_dressed_row(&out, d, text_view(&ours), true);
    for (size_t i = 0; i < SOME; i++) {
        struct event event = some_event(i, &dice);
        text_clear(&ours);
        session_row(&ours, &event);
        put_dressed_row(&out, d, text_view(&ours), false);
    }
    assert_false(out.full);
    memset(seen, 0, sizeof *seen);
    read_all_ways(seen, text_view(&out));
    return strdup(seen->log.at);
}

/* Whatever the order, whatever stands beside: the same events, which a plain reading of our own
 * form gives by the quick way, and all others by the careful one. */
static void test_dressed_recordings(void **state) {
    (void)state;
    struct dice dice = {9};
    for (unsigned round = 0; round < 150; round++) {
        struct seen seen;
        struct dress own = {.separator = ',', .line_end = "\r\n"}, other;
        dress_all(&own);
        other = own;
        other.separator = ",;\t|"[dice_below(&dice, 4)];
        other.line_end = (const char *[]){"\r\n", "\n", "\r"}[dice_below(&dice, 3)];
        other.mark = dice_chance(&dice, 0.3);
        other.quotes = dice_chance(&dice, 0.3);
        other.comma = other.separator != ',' && dice_chance(&dice, 0.5);
        other.upper = dice_chance(&dice, 0.3);
        for (uint64_t more = dice_below(&dice, 8); more > 0; more--)
            other.field[other.count++] = FIELDS;
        if (dice_chance(&dice, 0.7))
            dress_shuffle(&other, &dice);
        other.short_ = dice_chance(&dice, 0.5) && (other.separator != ',' || other.mark);
        char *wanted = read_some(&own, round + 1, &seen);
        assert_int_equal(seen.events, SOME);
        char *read = read_some(&other, round + 1, &seen);
        assert_string_equal(read, wanted);
        free(wanted);
        free(read);
    }
}

/* The report as it is known without the columns that `there` doesn't tell of. */
static void without_columns(struct event *e, const bool *there) {
    struct report *r = &e->report;
    const struct {
        enum report_key key;
        size_t first, count;
    } groups[] = {{KEY_HEARD, 16, 2}, {KEY_NOISE, 18, 2}, {KEY_CH, 27, 16}, {KEY_IN, 43, 16}};
    static const enum report_key keys[] = {
        KEY_T,     KEY_N,     KEY_SEQ,  KEY_GOT,  KEY_LOST,   KEY_REFUSED, KEY_PAT,   KEY_AGE,
        KEY_GAP,   KEY_FS,    KEY_FSN,  KEY_LOCK, KEY_MV,     KEY_MVMIN,   KEY_HEARD, KEY_HEARD,
        KEY_NOISE, KEY_NOISE, KEY_RSSI, KEY_REG,  KEY_REINIT, KEY_TBOOT,   KEY_TMV,   KEY_TSTEP};
    for (size_t i = 0; i < COUNT(keys); i++)
        r->has &= there[2 + i] ? UINT32_MAX : ~(1u << keys[i]);
    for (size_t g = 2; g < COUNT(groups); g++) {
        uint32_t *count = groups[g].key == KEY_CH ? &r->ch_count : &r->in_count, kept = 0;
        while (kept < *count && there[groups[g].first + kept])
            kept++;
        *count = kept;
        r->has &= kept > 0 ? UINT32_MAX : ~(1u << groups[g].key);
    }
    e->host_us = there[1] ? e->host_us : TIME_UNKNOWN;
    e->bytes = there[26] ? e->bytes : 0;
    r->extra = there[60] ? r->extra : (struct slice){0};
}

static void test_missing_columns(void **state) {
    (void)state;
    struct dice dice = {4};
    for (unsigned round = 0; round < 1500; round++) {
        char row[2 * SESSION_ROW_MAX];
        struct dress d = {.separator = ',', .line_end = "\n"};
        struct text out, ours;
        struct seen seen = {0};
        struct event event = {.kind = EVENT_REPORT, .host_us = 5, .bytes = 7};
        bool there[FIELDS];
        srand(round + 1);
        event.report.extra = slice_of("hull=oak");
        for (enum report_key key = 0; key < REPORT_KEYS; key++)
            fill_key(&event.report, key);
        for (size_t i = 0; i < FIELDS; i++) {
            there[i] = i == 0 || dice_chance(&dice, round % 2 ? 0.97 : 0.5);
            if (there[i])
                d.field[d.count++] = i;
        }
        dress_shuffle(&d, &dice);
        text_init(&out, dressed, sizeof dressed);
        text_init(&ours, row, sizeof row);
        session_header(&ours);
        put_dressed_row(&out, &d, text_view(&ours), true);
        text_clear(&ours);
        session_row(&ours, &event);
        put_dressed_row(&out, &d, text_view(&ours), false);
        read_all_ways(&seen, text_view(&out));
        without_columns(&event, there);
        text_clear(&ours);
        session_row(&ours, &event);
        assert_int_equal(seen.events, 1);
        assert_string_equal(seen.log.at, row);
    }
}

/* Rows in other forms than our own. */
static void test_other_rows(void **state) {
    (void)state;
    static const struct {
        const char *legend, *text;
        size_t events, faults;
        enum session_fault fault; /* of the last one */
        uint64_t line;
    } cases[] = {
        {"torn last row, semicolons", "kind;note\r\nsay;a\r\nsay;b", 1, 1, SESSION_TORN, 3},
        {"torn last row, CR", "kind,note\rsay,a\rsay,b", 1, 1, SESSION_TORN, 3},
        {"torn first row, CR", "kind,note\rsay", 0, 1, SESSION_TORN, 2},
        {"torn in quotes, CR", "kind,note\rsay,a\rsay,\"b\rsay,c\r", 2, 1, SESSION_QUOTE, 3},
        {"too short by commas", "kind,host_us,note\nsay,1\nsay,1,a\n", 1, 1, SESSION_FIELDS, 2},
        {"left out, semicolons", "kind;host_us;note\nsay;1\nsay;1;a\n", 2, 0, 0, 0},
        {"too long, semicolons", "kind;note\nsay;a;b\nsay;a\n", 1, 1, SESSION_FIELDS, 2},
        {"a mark without its column", "kind,host_us\nrx,1\nmark,2\n", 1, 1, SESSION_LACK, 3},
        {"a time as a spreadsheet shows it", "kind;host_us;note\nsay;1,2E+11;a\nsay;3;a\n", 1, 1,
         SESSION_VALUE, 2},
        {"a step that became a date", "kind;tx_step\nrx;04. Apr\nrx;4/4\n", 1, 1, SESSION_VALUE, 2},
        {"a decimal comma", "kind;distance_m;note\nmark;12,5;stop\n", 1, 0, 0, 0},
        {"two commas", "kind;distance_m;note\nmark;1,2,5;stop\n", 0, 1, SESSION_VALUE, 2},
        {"a comma and a point", "kind;distance_m;note\nmark;1.012,5;stop\n", 0, 1, SESSION_VALUE,
         2},
        {"a decimal comma in quotes by commas", "kind,distance_m,note\nmark,\"12,5\",stop\n", 0, 1,
         SESSION_VALUE, 2},
        {"a row without anything", "kind;note\n;\nsay;a\n", 1, 1, SESSION_KIND, 2},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        struct seen seen = {0};
        read_all_ways(&seen, slice_of(cases[i].text));
        if (seen.events != cases[i].events || seen.faults != cases[i].faults ||
            (seen.faults > 0 &&
             (seen.last_fault.fault != cases[i].fault || seen.last_fault.line != cases[i].line)))
            fail_msg("%s: %zu events, %s", cases[i].legend, seen.events, seen.log.at);
    }
}

/* A row for a file in another layout is read there as the same event. */
static void test_row_in_another_layout(void **state) {
    (void)state;
    static const char *const headers[] = {"kind,note\n", "note;host_us;mine;kind\r\n",
                                          "\"host_us\"\t\"note\"\t\"kind\"\r", header};
    for (size_t i = 0; i < COUNT(headers); i++) {
        static struct session_reader r;
        char text[2 * SESSION_ROW_MAX], row[SESSION_ROW_MAX];
        struct event event = {.kind = EVENT_ABOUT, .host_us = TIME_UNKNOWN};
        struct seen seen = {.expected = &event};
        struct text out;
        event.about.key = slice_of("amend_add");
        event.about.value = slice_of("61.5:40, \"a\";\tb");
        text_init(&out, text, sizeof text);
        text_string(&out, headers[i]);
        text_string(&out, headers[i] == header ? "\r\n" : "");
        session_reader_init(&r, on_event, on_fault, &seen);
        session_reader_feed(&r, out.at, out.len);
        session_reader_feed(&r, "", 0);
        struct session_layout layout = r.layout;
        if (i == 2) /* its line end is known with the next byte only */
            layout.form = (struct csv_form){'\t', '\r'}, layout.count = 3, layout.column[0] = 1,
            layout.column[1] = FIELDS - 1, layout.column[2] = 0;
        session_row_in(&layout, &out, &event);
        text_init(&seen.log, row, sizeof row);
        read_in(&seen, text_view(&out), out.len, 0);
        assert_int_equal(seen.events, 1);
        assert_int_equal(seen.faults, 0);
        assert_true(session_layout_has_note(&layout));
    }
}

/* -- rows spelled out ----------------------------------------------------------------------- */

static const char full_row[] =
    "rx,5000123,120450,17,65535,1200,34,5,ooxo,12,88,1,2,0,5012,4870,3,40,1,20,-71,default,6,9,"
    "3700,3/4,212,1500,off,-20"
    ",,,,,,,,,,,,,"
    ",1000,2000"
    ",,,,,,,,,,,,,,"
    ",,\"hull=oak,elm x=\"\"\"";

static void expect_full_report(void *context, const struct event *event) {
    const struct report *r = &event->report;
    *(size_t *)context += 1;
    assert_int_equal(event->kind, EVENT_REPORT);
    assert_int_equal(event->host_us, 5000123);
    assert_int_equal(event->bytes, 212);
    assert_int_equal(r->has, (1u << REPORT_KEYS) - 1);
    assert_int_equal(r->t_ms, 120450);
    assert_int_equal(r->n, 17);
    assert_int_equal(r->seq, 65535);
    assert_int_equal(r->got, 1200);
    assert_int_equal(r->lost, 34);
    assert_int_equal(r->refused, 5);
    assert_int_equal(r->pat_len, 4);
    assert_int_equal(r->pat, 0xB);
    assert_int_equal(r->age_ms, 12);
    assert_int_equal(r->gap_ms, 88);
    assert_int_equal(r->fs, 1);
    assert_int_equal(r->fsn, 2);
    assert_int_equal(r->lock, 0);
    assert_int_equal(r->mv, 5012);
    assert_int_equal(r->mvmin, 4870);
    assert_int_equal(r->heard_hits, 3);
    assert_int_equal(r->heard_looks, 40);
    assert_int_equal(r->noise_hits, 1);
    assert_int_equal(r->noise_looks, 20);
    assert_int_equal(r->rssi_dbm, -71);
    assert_int_equal(r->reg, REGISTERS_DEFAULT);
    assert_int_equal(r->reinit, 6);
    assert_int_equal(r->tboot, 9);
    assert_int_equal(r->tmv, 3700);
    assert_int_equal(r->tstep, 3);
    assert_int_equal(r->tsteps, 4);
    assert_int_equal(r->ch_count, 3);
    assert_int_equal(r->ch[0], 1500);
    assert_int_equal(r->ch[1], CHANNEL_OFF);
    assert_int_equal(r->ch[2], -20);
    assert_int_equal(r->in_count, 2);
    assert_int_equal(r->in[1], 2000);
    assert_true(slice_is(r->extra, "hull=oak,elm x=\""));
    char buffer[1000];
    struct text out;
    text_init(&out, buffer, sizeof buffer);
    session_row(&out, event);
    assert_int_equal(out.len, sizeof full_row - 1 + 2);
    assert_memory_equal(buffer, full_row, sizeof full_row - 1);
}

/* Each column of the header means what the recording's description says, both ways. */
static void test_full_row(void **state) {
    (void)state;
    struct session_reader r;
    size_t rows = 0;
    session_reader_init(&r, expect_full_report, NULL, &rows);
    session_reader_feed(&r, header, sizeof header - 1);
    session_reader_feed(&r, "\n", 1);
    session_reader_feed(&r, full_row, sizeof full_row - 1);
    session_reader_feed(&r, "\n", 1);
    session_reader_end(&r);
    assert_int_equal(rows, 1);
}

static void test_rows_written(void **state) {
    (void)state;
    static const struct {
        const char *legend;
        struct event event;
        const char *row;
    } cases[] = {
        {"about",
         {.kind = EVENT_ABOUT, .about = {S("format"), S("1")}},
         ROW("about", "0", "", "", "format=1")},
        {"no host time",
         {.kind = EVENT_SAY, .bytes = 9, .host_us = TIME_UNKNOWN, .text = S("ahoy")},
         ROW("say", "", "9", "", "ahoy")},
        {"formula", {.kind = EVENT_SAY, .text = S("=1+2")}, ROW("say", "0", "", "", "'=1+2")},
        {"apostrophe",
         {.kind = EVENT_OTHER, .text = S("'tis")},
         ROW("other", "0", "", "", "''tis")},
        {"stop",
         {.kind = EVENT_MARK, .mark = {MARK_STOP, 40.5, S("")}},
         ROW("mark", "0", "", "40.5", "stop")},
        {"leave",
         {.kind = EVENT_MARK, .mark = {MARK_LEAVE, -1, S("")}},
         ROW("mark", "0", "", "", "leave")},
        {"facing",
         {.kind = EVENT_MARK, .mark = {MARK_FACING, -1, S("bow")}},
         ROW("mark", "0", "", "", "facing=bow")},
        {"damage",
         {.kind = EVENT_DAMAGE, .bytes = 3, .damage = {DAMAGE_BAD_BYTE, false, S("a\xFF\\")}},
         ROW("damage", "0", "3", "", "bad byte: a\\xFF\\\\")},
        {"its next piece",
         {.kind = EVENT_DAMAGE, .bytes = 1, .damage = {DAMAGE_TOO_LONG, true, S("b")}},
         ROW("damage", "0", "1", "", "\"too long, continued: b\"")},
        {"port",
         {.kind = EVENT_PORT, .port = {PORT_OPENED, S("speed=115200")}},
         ROW("port", "0", "", "", "opened: speed=115200")},
        {"port, bare",
         {.kind = EVENT_PORT, .port = {PORT_LET_GO, S("")}},
         ROW("port", "0", "", "", "let-go")},
        {"trial",
         {.kind = EVENT_ANSWER, .text = S("failsafe step=2")},
         ROW("trial", "0", "", "", "failsafe step=2")},
        {"end", {.kind = EVENT_END, .host_us = 9, .text = S("")}, ROW("end", "9", "", "", "")},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        char buffer[SESSION_ROW_MAX], expected[SESSION_ROW_MAX];
        struct text out;
        text_init(&out, buffer, sizeof buffer);
        session_row(&out, &cases[i].event);
        snprintf(expected, sizeof expected, "%s\r\n", cases[i].row);
        assert_string_equal(buffer, expected);
    }
}

/* What a spreadsheet may take for a formula, and the apostrophe itself, gets one before it; nothing
 * else does.  Common practice against formula injection: = + - @ tab CR. */
static void test_formulas_are_guarded(void **state) {
    (void)state;
    for (int c = 0; c < 256; c++) {
        char first = (char)c, buffer[SESSION_ROW_MAX];
        struct text out;
        struct event event = {.kind = EVENT_SAY, .text = {&first, 1}};
        text_init(&out, buffer, sizeof buffer);
        session_row(&out, &event);
        const char *quote = memchr(buffer, '\'', out.len);
        bool guarded = quote != NULL && (c != '\'' || quote[1] == '\'');
        assert_int_equal(guarded, c != 0 && strchr("=+-@\t\r'", c) != NULL);
    }
}

/* -- bad rows ------------------------------------------------------------------------------- */

#define GOOD ROW("say", "1", "", "", "good") "\r\n"

/* A bad row as line 3 between good ones costs itself and nothing else. */
static void test_bad_rows(void **state) {
    (void)state;
    static const struct {
        const char *legend, *row;
        enum session_fault fault;
        const char *column;
    } cases[] = {
        {"a field short", "say,1,2", SESSION_FIELDS, NULL},
        {"a field more", ROW("say", "1", "", "", "x,y"), SESSION_FIELDS, NULL},
        {"blank line", "", SESSION_FIELDS, NULL},
        {"quote inside", ROW("say", "1", "", "", "a\"b"), SESSION_QUOTE, NULL},
        {"text behind a quote", ROW("say", "1", "", "", "\"a\"b"), SESSION_QUOTE, NULL},
        {"unknown kind", ROW("sing", "1", "", "", ""), SESSION_KIND, "kind"},
        {"no kind", ROW("", "1", "", "", ""), SESSION_KIND, "kind"},
        {"time with a point", ROW("say", "1.5", "", "", ""), SESSION_VALUE, "host_us"},
        {"time over 30 years", ROW("say", "1000000000000001", "", "", ""), SESSION_VALUE,
         "host_us"},
        {"time over 30 years before", ROW("say", "-1000000000000001", "", "", ""), SESSION_VALUE,
         "host_us"},
        {"negative bytes", ROW("say", "1", "-1", "", ""), SESSION_VALUE, "bytes"},
        {"distance of a say", ROW("say", "1", "", "3", ""), SESSION_VALUE, "distance_m"},
        {"distance below 0", ROW("mark", "1", "", "-3", "stop"), SESSION_VALUE, "distance_m"},
        {"distance with comma", ROW("mark", "1", "", "\"3,5\"", "stop"), SESSION_VALUE,
         "distance_m"},
        {"unknown mark", ROW("mark", "1", "", "", "halt"), SESSION_VALUE, "note"},
        {"stop with text", ROW("mark", "1", "", "", "stop=x"), SESSION_VALUE, "note"},
        {"facing nothing", ROW("mark", "1", "", "", "facing"), SESSION_VALUE, "note"},
        {"about without =", ROW("about", "1", "", "", "format"), SESSION_VALUE, "note"},
        {"unknown damage", ROW("damage", "1", "", "", "rust: x"), SESSION_VALUE, "note"},
        {"bad escape", ROW("damage", "1", "", "", "bad byte: \\x4"), SESSION_VALUE, "note"},
        {"odd word behind reason", ROW("damage", "1", "", "", "\"bad byte, more: x\""),
         SESSION_VALUE, "note"},
        {"unknown port change", ROW("port", "1", "", "", "sunk"), SESSION_VALUE, "note"},
        {"id with a bad rate", ROW("id", "1", "", "", "rate=fast"), SESSION_VALUE, "note"},
        {"air without hits", ROW("air", "1", "", "", "from=2400 step=1 per=9"), SESSION_VALUE,
         "note"},
        {"uptime over 32 bits",
         "rx,1,4294967296,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,", SESSION_VALUE,
         "rx_ms"},
        {"report key in a say", "say,1,7,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,",
         SESSION_VALUE, "rx_ms"},
        {"pattern with an a",
         "rx,1,,,,,,,oxa"
         ",,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,",
         SESSION_VALUE, "pat"},
        {"failsafe 2",
         "rx,1,,,,,,,,,,2"
         ",,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,",
         SESSION_VALUE, "failsafe"},
        {"a supply above 99999",
         "rx,1,,,,,,,,,,,,,100000"
         ",,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,",
         SESSION_VALUE, "supply_mv"},
        {"hits without looks",
         "rx,1,,,,,,,,,,,,,,,3"
         ",,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,",
         SESSION_VALUE, "heard_hits"},
        {"looks without hits",
         "rx,1,,,,,,,,,,,,,,,,3"
         ",,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,",
         SESSION_VALUE, "heard_looks"},
        {"more hits than looks",
         "rx,1,,,,,,,,,,,,,,,,,4,3"
         ",,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,",
         SESSION_VALUE, "noise_hits"},
        {"rssi over its range",
         "rx,1,,,,,,,,,,,,,,,,,,,101"
         ",,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,",
         SESSION_VALUE, "rssi_dbm"},
        {"unknown register word",
         "rx,1,,,,,,,,,,,,,,,,,,,,fine"
         ",,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,",
         SESSION_VALUE, "reg"},
        {"step without steps",
         "rx,1,,,,,,,,,,,,,,,,,,,,,,,,3"
         ",,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,",
         SESSION_VALUE, "tx_step"},
        {"a hole in the channels",
         "rx,1" C25 ",,1500"
         ",,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,",
         SESSION_VALUE, "ch2"},
        {"channel out of range",
         "rx,1" C25 ",65536"
         ",,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,",
         SESSION_VALUE, "ch1"},
        {"stick that is a word", "rx,1" C25 "," C16 "left" C16 ",", SESSION_VALUE, "in1"},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        char text[4000];
        struct seen seen = {0};
        int len = snprintf(text, sizeof text, "%s\r\n" GOOD "%s\r\n" GOOD, header, cases[i].row);
        read_all_ways(&seen, (struct slice){text, (size_t)len});
        const char *column = seen.last_fault.column ? seen.last_fault.column : "-";
        if (seen.events != 2 || seen.faults != 1 || seen.last_fault.fault != cases[i].fault ||
            strcmp(column, cases[i].column ? cases[i].column : "-") != 0)
            fail_msg("%s: %s", cases[i].legend, seen.log.at);
        assert_int_equal(seen.last_fault.line, 3);
    }
}

/* Whatever broke, reading goes on at the next line of text. */
static void test_reading_goes_on(void **state) {
    (void)state;
    static char endless[3 * SESSION_ROW_MAX];
    memset(endless, 'z', sizeof endless - 1);
    static const struct {
        const char *legend, *before, *middle, *after;
        size_t events, faults;
        uint64_t line;
        enum session_fault fault; /* of the last one */
    } cases[] = {
        {"torn last row", GOOD, "", ROW("say", "1", "", "", "go"), 1, 1, 3, SESSION_TORN},
        {"torn between CR and LF", GOOD, "", ROW("say", "1", "", "", "go") "\r", 1, 1, 3,
         SESSION_TORN},
        {"torn in quotes at the end", GOOD, "", ROW("say", "1", "", "", "\"go"), 1, 1, 3,
         SESSION_TORN},
        {"torn in quotes, rows appended", "", ROW("say", "1", "", "", "\"go") "\r\n", GOOD GOOD, 2,
         1, 2, SESSION_QUOTE},
        {"the same, quotes among them", "", ROW("say", "1", "", "", "\"go") "\r\n",
         ROW("say", "1", "", "", "\"a,b\"") "\r\n" GOOD, 2, 1, 2, SESSION_QUOTE},
        {"torn in the time, rows appended", "", "say,12\n", GOOD GOOD, 2, 1, 2, SESSION_FIELDS},
        {"one row too long", GOOD, endless, "\r\n" GOOD, 2, 1, 3, SESSION_LONG},
        {"too long and never ended", GOOD, endless, endless, 1, 1, 3, SESSION_LONG},
        {"row over three lines, then a bad one", ROW("say", "1", "", "", "\"a\nb\nc\"") "\n",
         "bad\n", GOOD, 2, 1, 5, SESSION_FIELDS},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        static char text[8 * SESSION_ROW_MAX];
        struct seen seen = {0};
        int len = snprintf(text, sizeof text, "%s\r\n%s%s%s", header, cases[i].before,
                           cases[i].middle, cases[i].after);
        read_all_ways(&seen, (struct slice){text, (size_t)len});
        if (seen.events != cases[i].events || seen.faults != cases[i].faults ||
            seen.last_fault.line != cases[i].line || seen.last_fault.fault != cases[i].fault)
            fail_msg("%s: %zu events, %s", cases[i].legend, seen.events, seen.log.at);
    }
}

/* Rows of exactly the greatest length are read, longer ones aren't, in every chunking. */
static void test_row_limit(void **state) {
    (void)state;
    for (int over = -1; over <= 1; over++) {
        char text[2 * SESSION_ROW_MAX], note[SESSION_ROW_MAX + 1] = {0};
        struct seen seen = {0};
        size_t rest = sizeof ROW("say", "1", "", "", "") - 1 + 2;
        memset(note, 'z', (size_t)(SESSION_ROW_MAX + over) - rest);
        int len = snprintf(text, sizeof text, "%s\r\n" ROW("say", "1", "", "", "%s") "\r\n", header,
                           note);
        read_all_ways(&seen, (struct slice){text, (size_t)len});
        assert_int_equal(seen.events, over <= 0);
        assert_int_equal(seen.faults, over > 0);
    }
}

/* Random text made of what CSV is made of: whatever comes, every chunking brings the same. */
static void test_chunkings_agree_on_rubbish(void **state) {
    (void)state;
    static const char *const pieces[] = {"\"", ",",  "\r\n",  "\n",  "\r",   "say,1",  "rx,",
                                         "'",  GOOD, "zzzzz", "o/x", "\"\"", full_row, C33};
    static char text[20000];
    for (unsigned seed = 1; seed <= 200; seed++) {
        struct text out;
        struct seen seen = {0};
        text_init(&out, text, sizeof text);
        session_header(&out);
        srand(seed);
        for (int i = 0; i < 60; i++)
            text_string(&out, pieces[(size_t)rand() % COUNT(pieces)]);
        read_all_ways(&seen, text_view(&out));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rfc4180_reading),
        cmocka_unit_test(test_rfc4180_writing),
        cmocka_unit_test(test_csv_verdicts),
        cmocka_unit_test(test_places),
        cmocka_unit_test(test_plain_rows_agree),
        cmocka_unit_test(test_header),
        cmocka_unit_test(test_recognises),
        cmocka_unit_test(test_headers_read),
        cmocka_unit_test(test_header_cut),
        cmocka_unit_test(test_header_too_large),
        cmocka_unit_test(test_dressed_recordings),
        cmocka_unit_test(test_missing_columns),
        cmocka_unit_test(test_other_rows),
        cmocka_unit_test(test_row_in_another_layout),
        cmocka_unit_test(test_round_trip_texts),
        cmocka_unit_test(test_round_trip_names),
        cmocka_unit_test(test_round_trip_wire_pairs),
        cmocka_unit_test(test_round_trip_reports),
        cmocka_unit_test(test_rows_in_quotes_agree),
        cmocka_unit_test(test_short_numbers_at_the_end),
        cmocka_unit_test(test_round_trip_distances),
        cmocka_unit_test(test_overlong_text_is_cut),
        cmocka_unit_test(test_longest_row),
        cmocka_unit_test(test_full_row),
        cmocka_unit_test(test_rows_written),
        cmocka_unit_test(test_formulas_are_guarded),
        cmocka_unit_test(test_bad_rows),
        cmocka_unit_test(test_reading_goes_on),
        cmocka_unit_test(test_row_limit),
        cmocka_unit_test(test_chunkings_agree_on_rubbish),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
