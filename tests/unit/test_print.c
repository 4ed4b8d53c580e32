/* Figures as text and JSON, of invented snapshots.  What is right is what airleash-json(5) states:
 * counts as integers, unknown as null with the missing key named, and one null for each reason. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>

#include "base/text.h"
#include "telemetry/telemetry.h"
#include "text/ends_text.h"
#include "text/figures_text.h"
#include "json/json.h"
#include "json/parts.h"

static const struct figures_facts facts = {.file = "pond.csv", .recording = true};

/* A harbour tug's good minute: everything known. */
static struct snapshot known(void) {
    static const struct failsafe_event events[] = {
        {{12300, 12350},
         {15000, 15050},
         false,
         TIME_UNKNOWN,
         {TIME_UNKNOWN, TIME_UNKNOWN},
         {TIME_UNKNOWN, TIME_UNKNOWN}},
        {{20000, 20050},
         {20000, 20050},
         true,
         TIME_UNKNOWN,
         {TIME_UNKNOWN, TIME_UNKNOWN},
         {TIME_UNKNOWN, TIME_UNKNOWN}},
        {{30000, 30050},
         {TIME_UNKNOWN, TIME_UNKNOWN},
         false,
         TIME_UNKNOWN,
         {TIME_UNKNOWN, TIME_UNKNOWN},
         {TIME_UNKNOWN, TIME_UNKNOWN}},
    };
    struct snapshot s = {
        .link_ms = 60000,
        .now_ms = 60000,
        .uptime_ms = 61000,
        .state = STATE_LINKED,
        .evidence = EVIDENCE_PATTERN,
        .heard = true,
        .rate_hz = 50,
        .total = {2950, 50, true, false, false, 0, 0},
        .refused = 3,
        .refused_known = true,
        .outages = 2,
        .outage_limit_ms = 100,
        .longest_gap_ms = 430,
        .longest_low_ms = 380,
        .longest_at_ms = 12000,
        .outage_ms = 5,
        .lines_good = 1212,
        .lines_damaged = 3,
        .lines_missing = 1,
        .missing_known = true,
        .reports = 1200,
        .receiver_restarts = 1,
        .opening_restarts = 1,
        .transmitter_restarts_known = true,
        .failsafe_known = true,
        .failsafe = true,
        .failsafe_entries = 3,
        .failsafe_count = 3,
        .failsafe_events = events,
        .supply_known = true,
        .supply_min_known = true,
        .supply_mv = 5020,
        .supply_low_mv = 4310,
        .transmitter_supply_known = true,
        .transmitter_mv = 7900,
        .transmitter_low_mv = 7850,
        .step_known = true,
        .step = 4,
        .steps = 4,
        .rssi_known = true,
        .rssi_dbm = -61,
        .registers_known = true,
        .channel_count = 2,
    };
    s.damaged[DAMAGE_BAD_CHECKSUM] = 2;
    s.damaged[DAMAGE_CUT_RESTART] = 1;
    s.restarts_by_cause[BOOT_BROWNOUT] = 1;
    s.channel[0] = (struct channel_state){.name = "rudder",
                                          .present = true,
                                          .value = 1498,
                                          .has_input = true,
                                          .input = 1500,
                                          .ends_known = true,
                                          .low = 1010,
                                          .high = 1990,
                                          .reports = 1200,
                                          .changes = 300,
                                          .changes_hz = 12.5,
                                          .rest_known = true,
                                          .rest = 1499.5,
                                          .noise = 0.75,
                                          .noise_peak = 3};
    s.channel[1] = (struct channel_state){
        .name = "horn", .present = true, .value = CHANNEL_OFF, .reports = 1200, .changes_hz = -1};
    return s;
}

/* A sketch that prints bare numbers: nothing but channels is known. */
static struct snapshot bare(void) {
    struct snapshot s = {
        .link_ms = TIME_UNKNOWN,
        .now_ms = TIME_UNKNOWN,
        .uptime_ms = TIME_UNKNOWN,
        .state = STATE_UNKNOWN,
        .outage_limit_ms = 100,
        .longest_gap_ms = TIME_UNKNOWN,
        .longest_low_ms = TIME_UNKNOWN,
        .longest_at_ms = TIME_UNKNOWN,
        .outage_ms = TIME_UNKNOWN,
        .bare = true,
        .lines_good = 50,
        .reports = 50,
    };
    return s;
}

/* The value at a path such as "packets.got" or "channels[0].low". */
static json_t *at(json_t *root, const char *path) {
    char step[64];
    while (*path && root) {
        size_t len = strcspn(path, ".[");
        assert_true(len < sizeof step);
        memcpy(step, path, len);
        step[len] = '\0';
        if (len > 0)
            root = json_object_get(root, step);
        path += len;
        if (*path == '[') {
            root = json_array_get(root, (size_t)strtoul(path + 1, (char **)&path, 10));
            path++;
        }
        if (*path == '.')
            path++;
    }
    return root;
}

/* What the bench would make of the run: 50 of 3000 lost in 40 drops. */
static const struct measures measured = {
    .loss_known = true,
    .loss = 50.0 / 3000,
    .ground = GROUND_RUNS,
    .method = "loss runs",
    .low = 0.0118,
    .high = 0.0228,
    .observed_ms = 60000,
    .steady_known = true,
    .steady = true,
    .jitter_ms = -1,
    .report_ms = -1,
};

static json_t *json_of(const struct snapshot *s) {
    char *text = figures_json(s, &measured, &facts);
    assert_non_null(text);
    json_error_t error;
    json_t *root = json_loads(text, JSON_REJECT_DUPLICATES, &error);
    free(text);
    assert_non_null(root);
    return root;
}

static void test_json_known(void **state) {
    (void)state;
    static const struct {
        const char *path;
        json_int_t value;
    } cases[] = {
        {"packets.got", 2950},
        {"packets.lost", 50},
        {"packets.lost_estimated", 0},
        {"packets.order_unknown", 0},
        {"packets.refused", 3},
        {"lines.good", 1212},
        {"lines.damaged", 3},
        {"lines.missing", 1},
        {"lines.reasons.bad checksum", 2},
        {"lines.reasons.cut by restart", 1},
        {"outages.count", 2},
        {"outages.longest_ms", 430},
        {"outages.longest_low_ms", 380},
        {"outages.limit_ms", 100},
        {"outages.open_ms", 0},
        {"restarts.receiver", 1},
        {"restarts.transmitter", 0},
        {"restarts.opening", 1},
        {"restarts.wraps", 0},
        {"restarts.causes.brownout", 1},
        {"failsafe.entries", 3},
        {"failsafe.events[0].enter_low_ms", 12300},
        {"failsafe.events[0].enter_high_ms", 12350},
        {"failsafe.events[0].exit_low_ms", 15000},
        {"failsafe.events[0].exit_high_ms", 15050},
        {"supply.mv", 5020},
        {"supply.min_mv", 4310},
        {"supply.transmitter_low_mv", 7850},
        {"radio.rssi_dbm", -61},
        {"time.link_ms", 60000},
        {"channels[0].value", 1498},
        {"channels[0].low", 1010},
        {"channels[0].high", 1990},
        {"channels[0].noise_peak", 3},
        {"channels[1].number", 2},
    };
    struct snapshot s = known();
    json_t *root = json_of(&s);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        json_t *value = at(root, cases[i].path);
        if (!json_is_integer(value))
            fail_msg("%s is no integer", cases[i].path);
        if (json_integer_value(value) != cases[i].value)
            fail_msg("%s is %lld", cases[i].path, (long long)json_integer_value(value));
    }
    assert_string_equal(json_string_value(at(root, "format")), "airleash-figures-1");
    assert_string_equal(json_string_value(at(root, "file")), "pond.csv");
    assert_string_equal(json_string_value(at(root, "packets.evidence")), "pattern");
    assert_string_equal(json_string_value(at(root, "channels[1].value")), "off");
    assert_string_equal(json_string_value(at(root, "channels[0].name")), "rudder");
    assert_true(json_real_value(at(root, "channels[0].rest")) == 1499.5);
    assert_true(json_real_value(at(root, "channels[0].changes_hz")) ==
                5.0); /* 300 changes in 60 s */
    assert_true(json_is_true(at(root, "failsafe.events[1].unseen")));
    assert_true(json_is_null(at(root, "failsafe.events[2].exit_low_ms")));
    assert_int_equal(json_array_size(at(root, "failsafe.events")), 3);
    assert_int_equal(json_array_size(at(root, "channels")), 2);
    json_decref(root);
}

/* Each of these is null, and unknown_because names the key of airleash-telemetry(5). */
static void test_json_unknown(void **state) {
    (void)state;
    static const struct {
        const char *path, *key;
    } cases[] = {
        {"time.link_ms", "t"},
        {"time.rate_hz", "rate"},
        {"packets.got", "got"},
        {"packets.lost", "lost"},
        {"packets.refused", "refused"},
        {"lines.missing", "n"},
        {"outages.count", "t"},
        {"outages.longest_ms", "t"},
        {"outages.open_ms", "t"},
        {"restarts.receiver", "t"},
        {"restarts.transmitter", "tboot"},
        {"failsafe.entries", "fs"},
        {"failsafe.events", "fs"},
        {"supply.mv", "mv"},
        {"supply.min_mv", "mvmin"},
        {"supply.transmitter_mv", "tmv"},
        {"radio.rssi_dbm", "rssi"},
        {"radio.registers", "reg"},
        {"radio.step", "tstep"},
    };
    struct snapshot s = bare();
    json_t *root = json_of(&s);
    json_t *because = json_object_get(root, "unknown_because");
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        if (!json_is_null(at(root, cases[i].path)))
            fail_msg("%s is not null", cases[i].path);
        const char *key = json_string_value(json_object_get(because, cases[i].path));
        if (!key || strcmp(key, cases[i].key) != 0)
            fail_msg("%s is unknown because of %s", cases[i].path, key ? key : "nothing");
    }
    json_decref(root);
}

/* Every path in unknown_because leads to a null. */
static void test_json_because_is_null(void **state) {
    (void)state;
    struct snapshot all[] = {known(), bare()};
    for (size_t i = 0; i < 2; i++) {
        json_t *root = json_of(&all[i]), *reason;
        const char *path;
        json_object_foreach(json_object_get(root, "unknown_because"), path, reason) {
            if (!json_is_null(at(root, path)))
                fail_msg("%s is known, yet has a reason", path);
        }
        json_decref(root);
    }
}

static void test_json_mv_without_mvmin(void **state) {
    (void)state;
    struct snapshot s = known();
    s.supply_min_known = false;
    json_t *root = json_of(&s);
    assert_true(json_is_null(at(root, "supply.min_mv")));
    assert_int_equal(json_integer_value(at(root, "supply.low_at_reports_mv")), 4310);
    assert_string_equal(
        json_string_value(json_object_get(at(root, "unknown_because"), "supply.min_mv")), "mvmin");
    json_decref(root);
}

/* A file's name may be any bytes; JSON is UTF-8 (RFC 8259, 8.1). */
static void test_json_name_not_utf8(void **state) {
    (void)state;
    struct snapshot s = known();
    struct figures_facts odd = {.file = "\xFF.csv"};
    char *text = figures_json(&s, &measured, &odd);
    assert_non_null(text);
    json_t *root = json_loads(text, 0, NULL);
    assert_non_null(root);
    assert_true(json_is_null(at(root, "file")));
    json_decref(root);
    free(text);
}

static void to_text(void *where, const char *bytes, size_t len) {
    text_slice(where, (struct slice){bytes, len});
}

static const char *text_of(const struct snapshot *s, const struct figures_facts *f, bool brief) {
    static char buffer[8192];
    struct text t;
    text_init(&t, buffer, sizeof buffer);
    figures_text(s, &measured, f, brief ? FIGURES_BRIEF : FIGURES_USUAL, to_text, &t);
    assert_false(t.full);
    return buffer;
}

/* What could be read of a file that failed is told as such. */
static void test_cut_is_told(void **state) {
    (void)state;
    struct snapshot s = known();
    for (int cut = 0; cut < 2; cut++) {
        struct figures_facts read = {.file = "pond.csv", .cut = cut};
        char *text = figures_json(&s, &measured, &read);
        assert_non_null(text);
        json_t *root = json_loads(text, 0, NULL);
        assert_int_equal(json_typeof(at(root, "read_to_end")), cut ? JSON_FALSE : JSON_TRUE);
        json_decref(root);
        free(text);
        assert_int_equal(strstr(text_of(&s, &read, false), "reading failed") != NULL, cut);
    }
}

static void test_text_known(void **state) {
    (void)state;
    struct snapshot s = known();
    /* 50 of 3000 is 1.67 %. */
    assert_string_equal(text_of(&s, &facts, false),
                        "file      pond.csv\n"
                        "time      1 min 00 s, 1200 reports\n"
                        "packets   2950 got, 50 lost\n"
                        "loss      1.67 %, by each packet's outcome (pat)\n"
                        "          1.2 to 2.3 % (95 % confidence interval, by its loss runs)\n"
                        "refused   3 packets of wrong length or owner\n"
                        "outages   2 longer than 100 ms; longest 430 ms (at least 380 ms)\n"
                        "lines     1212 good, 3 damaged, 1 missing on the cable\n"
                        "          2: bad checksum\n"
                        "          1: cut by restart\n"
                        "restarts  receiver 1 (brownout 1), 1 more by opening the port\n"
                        "          transmitter 0\n"
                        "failsafe  entered 3 times, active at the end\n"
                        "          entered at 12.300 to 12.350 s, left at 15.000 to 15.050 s\n"
                        "          entered and left between two reports, at 20.000 to 20.050 s\n"
                        "          entered at 30.000 to 30.050 s, no leaving was seen\n"
                        "supply    5020 mV, lowest 4310 mV\n"
                        "          transmitter 7900 mV, lowest 7850 mV\n"
                        "\n"
                        "channel             now    low   high     rest  noise changes/s\n"
                        "rudder             1498   1010   1990   1499.5   0.75       5.0\n"
                        "horn                off      ?      ?        ?      ?       0.0\n");
}

static void test_text_cases(void **state) {
    (void)state;
    struct snapshot open = known(), few = known(), sampled = known(), low = known(), none = bare();
    open.silent_at_end = true;
    open.outage_ms = 3200;
    few.total = (struct packet_count){99, 1, true, false, false, 0, 0};
    sampled.supply_min_known = false;
    low.step = 1;
    none.reports = 0;
    struct snapshot unknown = bare();
    const struct {
        const char *legend;
        const struct snapshot *s;
        const char *part;
    } cases[] = {
        {"an open outage", &open, "no link for the last 3.20 s\n"},
        {"under 300 packets", &few, "1.00 %, by each packet's outcome (pat); few packets"},
        {"no mvmin", &sampled, "dips between them: unknown without mvmin\n"},
        {"reduced power", &low, "transmitter at power step 1 of 4: put it back to full"},
        {"no got", &unknown, "packets   unknown: the receiver's lines have no got\n"},
        {"no fs", &unknown, "failsafe  unknown: the receiver's lines have no fs\n"},
        {"no n", &unknown, "50 good, 0 damaged; missing on the cable: unknown without n\n"},
        {"no report", &none, "packets   unknown: no report came\n"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        if (!strstr(text_of(cases[i].s, &facts, false), cases[i].part))
            fail_msg("%s:\n%s", cases[i].legend, text_of(cases[i].s, &facts, false));
}

/* No byte of a name steers the terminal. */
static void test_text_no_control_bytes(void **state) {
    (void)state;
    struct snapshot s = known();
    struct figures_facts odd = {.file = "a\x1B[2Jb\nc"};
    memcpy(s.channel[0].name, "r\x1B[1m", 6);
    const char *text = text_of(&s, &odd, false);
    assert_non_null(strstr(text, "a?[2Jb?c"));
    assert_null(strchr(text, 0x1B));
}

static void take_id(void *context, const struct event *e) {
    ends_take(context, e);
}

static void put_text(void *where, const char *bytes, size_t len) {
    text_slice(where, (struct slice){bytes, len});
}

static void test_ends(void **state) {
    static const char lines[] = "id end=rx fw=tug addr=5475672D37 size=dyn rate=33.3 mhz=2450\n"
                                "id end=tx addr=372D677554 mhz=2450\n";
    static struct telemetry t;
    struct ends ends = {0};
    char buffer[2000];
    struct text text;
    (void)state;
    text_init(&text, buffer, sizeof buffer);
    ends_print(&ends, put_text, &text);
    assert_int_equal(text.len, 0); /* nothing known, nothing said */
    telemetry_init(&t, take_id, &ends);
    telemetry_feed(&t, lines, sizeof lines - 1, TIME_UNKNOWN);
    telemetry_end(&t, TIME_UNKNOWN);
    ends_print(&ends, put_text, &text);
    assert_non_null(strstr(buffer, "  mhz      2450           2450           same\n"));
    assert_non_null(strstr(buffer, "! addr     5475672D37     372D677554     the same bytes"));
    json_t *because = json_object(), *out = ends_json(&ends, because);
    json_t *receiver = json_object_get(out, "receiver");
    assert_string_equal(json_string_value(json_object_get(receiver, "size")), "dyn");
    assert_true(json_real_value(json_object_get(receiver, "rate")) == 33.3);
    assert_int_equal(json_integer_value(json_object_get(receiver, "mhz")), 2450);
    assert_true(json_is_null(json_object_get(receiver, "crc")));
    assert_string_equal(json_string_value(json_object_get(because, "ends.receiver.crc")), "crc");
    assert_string_equal(json_string_value(json_object_get(because, "ends.transmitter.fw")), "fw");
    assert_int_equal(json_array_size(json_object_get(out, "differ")), 1);
    json_decref(out);
    json_decref(because);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_json_known),           cmocka_unit_test(test_json_unknown),
        cmocka_unit_test(test_json_because_is_null), cmocka_unit_test(test_json_mv_without_mvmin),
        cmocka_unit_test(test_json_name_not_utf8),   cmocka_unit_test(test_cut_is_told),
        cmocka_unit_test(test_text_known),           cmocka_unit_test(test_ends),
        cmocka_unit_test(test_text_cases),           cmocka_unit_test(test_text_no_control_bytes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
