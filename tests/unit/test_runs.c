/* Loss runs against RFC 3357 (2002), One-way Loss Pattern Sample Metrics, and against a reference
 * that keeps the whole sequence and looks at it anew for each figure. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
/* cmocka needs the four above first */
#include <cmocka.h>

#include "dice.h"
#include "link/runs.h"

enum { ITEMS_MAX = 4096 };

struct stream {
    size_t count;
    struct runs_item item[ITEMS_MAX];
};

static void keep(void *context, const struct runs_item *item) {
    struct stream *s = context;
    assert_true(s->count < ITEMS_MAX);
    s->item[s->count++] = *item;
}

/* o arrived, x missing, ? unknown order (one each way), | a start of either end */
static void feed(struct runs *r, const char *sequence) {
    for (const char *c = sequence; *c != '\0'; c++) {
        if (*c == '?')
            runs_unknown(r, 1, 1);
        else if (*c == '|')
            runs_break(r);
        else
            runs_outcome(r, *c == 'o');
    }
}

/* --- the examples of the RFC ------------------------------------------------------------------ */

struct stream_case {
    const char *legend, *sequence;
    uint64_t distance[16], period[16];
};

static const struct stream_case stream_cases[] = {
    {"RFC 3357 section 5, example: 2, 5, 7, 9, 10 of 10 lost",
     "oxooxoxoxx",
     {0, 0, 0, 0, 3, 0, 2, 0, 2, 1},
     {0, 1, 0, 0, 2, 0, 3, 0, 4, 4}},
    {"the first packet lost", "xxo", {0, 1, 0}, {1, 1, 0}},
    {"none lost", "ooo", {0}, {0}},
    {"all lost", "xxx", {0, 1, 1}, {1, 1, 1}},
    {"no distance across unknown order", "xo?ox", {0, 0, 0, 0}, {1, 0, 0, 2}},
    {"nor across a start; the period is a new one", "xx|xx", {0, 1, 0, 1}, {1, 1, 2, 2}},
};

static void test_streams(void **state) {
    (void)state;
    static struct stream got;
    for (size_t i = 0; i < sizeof stream_cases / sizeof stream_cases[0]; i++) {
        const struct stream_case *c = &stream_cases[i];
        struct runs r;
        got.count = 0;
        runs_init(&r, keep, &got);
        feed(&r, c->sequence);
        size_t packets = 0;
        for (const char *s = c->sequence; *s != '\0'; s++)
            packets += *s == 'o' || *s == 'x';
        assert_int_equal(got.count, packets);
        for (size_t k = 0; k < got.count; k++)
            if (got.item[k].distance != c->distance[k] || got.item[k].period != c->period[k])
                fail_msg("%s: packet %zu: distance %llu, period %llu", c->legend, k + 1,
                         (unsigned long long)got.item[k].distance,
                         (unsigned long long)got.item[k].period);
    }
}

/* RFC 3357, 6.2 to 6.4 on the example of section 5: 4 periods of 1, 1, 1, 2 packets; between them
 * 3, 2, 2. */
static void test_periods(void **state) {
    (void)state;
    struct runs r;
    runs_init(&r, NULL, NULL);
    feed(&r, "oxooxoxoxx");
    assert_int_equal(r.runs.count, 4);
    assert_int_equal(r.runs.sum, 5);
    assert_int_equal(r.runs.squares, 1 + 1 + 1 + 4);
    assert_int_equal(r.runs.longest, 2);
    assert_int_equal(r.runs.bin[0], 3);
    assert_int_equal(r.runs.bin[1], 1);
    assert_int_equal(r.between.count, 3);
    assert_int_equal(r.between.sum, 7);
    assert_int_equal(r.between.longest, 3);
    assert_int_equal(r.between.bin[runs_bin(2)], 2);
    assert_int_equal(r.between.bin[runs_bin(3)], 1);
    /* the transitions of the same sequence, 0100101011 */
    assert_int_equal(r.from_arrived[0], 1);
    assert_int_equal(r.from_arrived[1], 4);
    assert_int_equal(r.from_missing[0], 3);
    assert_int_equal(r.from_missing[1], 1);
    assert_int_equal(runs_cut(&r), 1); /* the last one */
}

/* RFC 3357, 6.1: packet 50 is lost, then 125 to 127; with delta 99 three of the four losses are
 * noticeable.  Delta 1, 2, 3 on the example of section 5 by the same rule. */
static void test_noticeable(void **state) {
    (void)state;
    struct runs r;
    runs_init(&r, NULL, NULL);
    for (int packet = 1; packet <= 200; packet++)
        runs_outcome(&r, packet != 50 && !(packet >= 125 && packet <= 127));
    assert_int_equal(r.lost, 4);
    assert_int_equal(runs_noticeable(&r, 99), 3);
    assert_int_equal(runs_noticeable(&r, 75), 3);
    assert_int_equal(runs_noticeable(&r, 74), 2);
    runs_init(&r, NULL, NULL);
    feed(&r, "oxooxoxoxx");
    assert_int_equal(runs_noticeable(&r, 0), 0);
    assert_int_equal(runs_noticeable(&r, 1), 1);
    assert_int_equal(runs_noticeable(&r, 2), 3);
    assert_int_equal(runs_noticeable(&r, 3), 4);
}

/* RFC 3611 (2003), 4.7.2: 3 lost and 3 discarded of the 64 packets that it speaks of (63 are
 * printed) are 12/256 each by its fixed-point rule. */
static void test_share(void **state) {
    (void)state;
    static const char pattern[] =
        "11110111111111111111111X111X1011110111111111111111111X1111111111";
    struct runs lost, discarded;
    runs_init(&lost, NULL, NULL);
    runs_init(&discarded, NULL, NULL);
    for (const char *c = pattern; *c != '\0'; c++) {
        runs_outcome(&lost, *c != '0');
        runs_outcome(&discarded, *c != 'X');
    }
    assert_int_equal(lost.packets, 64);
    assert_int_equal(256 * lost.lost / lost.packets, 12);
    assert_int_equal(256 * discarded.lost / discarded.packets, 12);
}

/* --- lengths ---------------------------------------------------------------------------------- */

static void test_bins(void **state) {
    (void)state;
    static const uint64_t from[RUNS_BINS] = {1,   2,   3,   4,    6,    8,    12,   16,
                                             24,  32,  48,  64,   96,   128,  192,  256,
                                             384, 512, 768, 1024, 1536, 2048, 3072, 4096};
    for (unsigned bin = 0; bin < RUNS_BINS; bin++)
        assert_int_equal(runs_bin_from(bin), from[bin]);
    for (uint64_t length = 1; length < 10000; length++) {
        unsigned expected = 0;
        while (expected + 1 < RUNS_BINS && from[expected + 1] <= length)
            expected++;
        assert_int_equal(runs_bin(length), expected);
    }
    assert_int_equal(runs_bin(UINT64_MAX), RUNS_BINS - 1);
}

static void test_huge(void **state) {
    (void)state;
    struct runs r;
    runs_init(&r, NULL, NULL);
    runs_missing(&r, UINT64_C(1) << 31);
    assert_true(r.runs.squares == UINT64_C(1) << 62);
    runs_missing(&r, (UINT64_C(1) << 31) - 1);
    assert_true(r.runs.squares == ((UINT64_C(1) << 32) - 1) * ((UINT64_C(1) << 32) - 1));
    assert_int_equal(r.runs.count, 1);
    runs_missing(&r, 1);
    assert_true(r.runs.squares == UINT64_MAX); /* doesn't fit */
    runs_outcome(&r, true);
    runs_outcome(&r, false);
    assert_true(r.runs.squares == UINT64_MAX);
    assert_true(r.runs.longest == UINT64_C(1) << 32);
}

/* --- what a report tells ---------------------------------------------------------------------- */

struct step_case {
    const char *legend;
    const char *before;
    struct packet_step step;
    const char *same_as;
};

static const struct step_case step_cases[] = {
    {"a pattern", "o", {.counted = true, .got = 2, .lost = 1, .order_len = 3, .order = 5}, "ooxo"},
    {"missing ones before a full pattern go on the run",
     "ox",
     {.counted = true, .got = 1, .lost = 3, .order_len = 2, .order = 2, .missing_before = 2},
     "oxxxxo"},
    {"no packet", "ox", {.counted = true}, "ox"},
    {"a report that doesn't tell", "ox", {.counted = false}, "ox"},
    {"unknown ones lie before the pattern",
     "ox",
     {.counted = true, .got = 2, .lost = 2, .order_len = 2, .order = 2},
     "ox?xo"},
    {"all unknown", "ox", {.counted = true, .got = 1, .lost = 1}, "ox?"},
    {"the transmitter started",
     "ox",
     {.counted = true, .got = 2, .order_len = 2, .order = 3, .transmitter_restart = true},
     "ox|oo"},
};

static void assert_same(const char *legend, const struct runs *a, const struct runs *b) {
    if (a->packets != b->packets || a->lost != b->lost || a->unordered_got != b->unordered_got ||
        a->unordered_lost != b->unordered_lost || a->breaks != b->breaks ||
        memcmp(a->from_arrived, b->from_arrived, sizeof a->from_arrived) != 0 ||
        memcmp(a->from_missing, b->from_missing, sizeof a->from_missing) != 0 ||
        memcmp(&a->runs, &b->runs, sizeof a->runs) != 0 ||
        memcmp(&a->between, &b->between, sizeof a->between) != 0 ||
        memcmp(a->distance, b->distance, sizeof a->distance) != 0 || runs_cut(a) != runs_cut(b))
        fail_msg("%s: differs", legend);
}

static void test_steps(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof step_cases / sizeof step_cases[0]; i++) {
        const struct step_case *c = &step_cases[i];
        struct runs a, b;
        runs_init(&a, NULL, NULL);
        runs_init(&b, NULL, NULL);
        feed(&a, c->before);
        runs_step(&a, &c->step);
        feed(&b, c->same_as);
        assert_same(c->legend, &a, &b);
        feed(&a, "xo");
        feed(&b, "xo");
        assert_same(c->legend, &a, &b);
    }
}

/* In a gap that outlasts the sequence number nobody knows how many were missing. */
static void test_estimated(void **state) {
    (void)state;
    struct runs r;
    runs_init(&r, NULL, NULL);
    feed(&r, "oox");
    struct packet_step step = {.counted = true, .got = 1, .estimated = 700};
    runs_step(&r, &step);
    feed(&r, "xo");
    assert_int_equal(r.unordered_got, 1);
    assert_int_equal(r.lost, 2);
    assert_int_equal(r.runs.count, 2);
    assert_int_equal(runs_cut(&r), 2);
    assert_int_equal(r.between.count, 0);
}

/* --- the reference ---------------------------------------------------------------------------- */

enum { SEQUENCE_MAX = 400 };

static bool is_packet(char c) {
    return c == 'o' || c == 'x';
}

/* Distance to the loss before s[at], by looking back; 0 without one. */
static uint64_t look_back(const char *s, size_t at) {
    for (size_t d = 1; d <= at && is_packet(s[at - d]); d++)
        if (s[at - d] == 'x')
            return d;
    return 0;
}

static void add_length(struct run_lengths *l, uint64_t length) {
    l->count++;
    l->sum += length;
    l->squares += length * length;
    l->longest = length > l->longest ? length : l->longest;
    unsigned bin = RUNS_BINS - 1;
    while (runs_bin_from(bin) > length)
        bin--;
    l->bin[bin]++;
}

static bool begins_run(const char *s, size_t at) {
    return s[at] == 'x' && (at == 0 || s[at - 1] != 'x');
}

static void reference(const char *s, struct runs *out, struct stream *stream) {
    size_t len = strlen(s);
    uint64_t periods = 0, cut = 0;
    *out = (struct runs){0};
    stream->count = 0;
    for (size_t i = 0; i < len; i++) {
        char next = i + 1 < len ? s[i + 1] : '|', before = i > 0 ? s[i - 1] : '|';
        out->unordered_got += s[i] == '?';
        out->unordered_lost += s[i] == '?';
        out->breaks += is_packet(s[i]) && i + 1 < len && !is_packet(next);
        if (!is_packet(s[i]))
            continue;
        out->packets++;
        out->lost += s[i] == 'x';
        if (is_packet(next) && s[i] == 'o')
            out->from_arrived[next == 'x']++;
        if (is_packet(next) && s[i] == 'x')
            out->from_missing[next == 'x']++;
        struct runs_item item = {.arrived = s[i] == 'o'};
        if (s[i] == 'x') {
            periods += begins_run(s, i);
            item.distance = look_back(s, i);
            item.period = periods;
            if (item.distance <= RUNS_DISTANCE_MAX)
                out->distance[item.distance]++;
        }
        keep(stream, &item);
        if (!begins_run(s, i))
            continue;
        size_t end = i;
        while (end < len && s[end] == 'x')
            end++;
        add_length(&out->runs, end - i);
        cut += !is_packet(before) || end == len || !is_packet(s[end]);
        if (item.distance > 0)
            add_length(&out->between, item.distance);
    }
    out->cut = cut;
}

/* Random sequences of every kind of weather, with and without breaks. */
static void roll(struct dice *d, char *out) {
    size_t len = dice_below(d, SEQUENCE_MAX);
    double p = dice_share(d) * dice_share(d), r = dice_share(d), unknown = dice_share(d) * 0.05,
           start = dice_share(d) * 0.02;
    bool missing = dice_chance(d, 0.5);
    for (size_t i = 0; i < len; i++) {
        missing = missing ? !dice_chance(d, r) : dice_chance(d, p);
        out[i] = missing ? 'x' : 'o';
        if (dice_chance(d, unknown))
            out[i] = '?';
        else if (dice_chance(d, start))
            out[i] = '|';
    }
    out[len] = '\0';
}

static void assert_stream(const char *s, const struct stream *got, const struct stream *expected) {
    assert_int_equal(got->count, expected->count);
    for (size_t i = 0; i < got->count; i++)
        if (got->item[i].arrived != expected->item[i].arrived ||
            got->item[i].distance != expected->item[i].distance ||
            got->item[i].period != expected->item[i].period)
            fail_msg("%s: packet %zu", s, i);
}

static void test_random(void **state) {
    (void)state;
    static struct stream got, expected;
    struct dice d = {20260101};
    uint64_t seen = 0;
    for (int round = 0; round < 5000; round++) {
        char s[SEQUENCE_MAX + 1];
        struct runs r, want, bulk;
        roll(&d, s);
        reference(s, &want, &expected);
        got.count = 0;
        runs_init(&r, keep, &got);
        feed(&r, s);
        assert_same(s, &r, &want);
        assert_stream(s, &got, &expected);
        /* the same in bulk, cut anywhere */
        got.count = 0;
        runs_init(&bulk, round % 2 == 0 ? keep : NULL, &got);
        for (const char *c = s; *c != '\0';) {
            size_t run = is_packet(*c) ? strspn(c, *c == 'x' ? "x" : "o") : 0;
            if (run == 0) {
                feed(&bulk, (char[]){*c++, '\0'});
                continue;
            }
            size_t some = 1 + dice_below(&d, run);
            if (*c == 'x')
                runs_missing(&bulk, some);
            else
                runs_arrived(&bulk, some);
            c += some;
        }
        assert_same(s, &bulk, &want);
        if (round % 2 == 0)
            assert_stream(s, &got, &expected);
        seen += want.runs.count;
    }
    assert_true(seen > 10000); /* else the dice made no losses */
}

/* Any step at all, also one whose parts contradict each other, as a recording may have it. */
static struct packet_step roll_step(struct dice *d) {
    struct packet_step s = {.counted = true};
    double loss = dice_chance(d, 0.7) ? 0 : dice_share(d);
    s.order_len = (uint32_t)dice_below(d, dice_chance(d, 0.8) ? 5 : 65);
    for (uint32_t i = 0; i < s.order_len; i++)
        s.order |= (uint64_t)!dice_chance(d, loss) << i;
    s.got = bits_in(s.order);
    s.lost = s.order_len - s.got;
    switch (dice_below(d, 24)) {
    case 0:
        s.missing_before = dice_below(d, 90), s.lost += s.missing_before;
        break;
    case 1:
        s.got += dice_below(d, 90);
        break;
    case 2:
        s.lost += dice_below(d, 90);
        break;
    case 3:
        s.estimated = dice_below(d, 90);
        break;
    case 4:
        s.transmitter_restart = true;
        break;
    case 5:
        s.got += s.lost, s.lost = 0;
        break; /* the counters know better than the pattern */
    case 6:
        s.unseen = true;
        break;
    default:
        break;
    }
    return s;
}

/* Packet by packet, as runs.h describes a step. */
static void step_singly(struct runs *r, const struct packet_step *s) {
    uint64_t arrived = bits_in(s->order);
    if (s->transmitter_restart)
        runs_break(r);
    runs_unknown(r, s->got - arrived, s->lost - (s->order_len - arrived) - s->missing_before);
    if (s->estimated > 0)
        runs_break(r);
    for (uint64_t i = 0; i < s->missing_before; i++)
        runs_outcome(r, false);
    for (uint32_t i = 0; i < s->order_len; i++)
        runs_outcome(r, (s->order >> i & 1u) != 0);
}

/* A step at once, a plain one even shorter: the same as packet by packet. */
static void test_quick_steps(void **state) {
    (void)state;
    struct dice d = {3357};
    unsigned plain = 0, others = 0;
    for (int round = 0; round < 300; round++) {
        struct runs quick, whole, singly;
        runs_init(&quick, NULL, NULL);
        runs_init(&whole, NULL, NULL);
        runs_init(&singly, NULL, NULL);
        for (int i = 0; i < 100; i++) {
            struct packet_step step = roll_step(&d);
            bool is_plain = packet_step_plain(&step);
            if (is_plain)
                runs_arrived(&quick, step.got);
            else
                runs_step(&quick, &step);
            assert_false(is_plain && step.unseen); /* of which only the bench knows */
            runs_step(&whole, &step);
            step_singly(&singly, &step);
            assert_same("plain", &quick, &whole);
            assert_same("singly", &whole, &singly);
            *(is_plain ? &plain : &others) += 1;
        }
    }
    assert_true(plain > 5000 && others > 5000);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_streams),    cmocka_unit_test(test_periods),
        cmocka_unit_test(test_noticeable), cmocka_unit_test(test_share),
        cmocka_unit_test(test_bins),       cmocka_unit_test(test_huge),
        cmocka_unit_test(test_steps),      cmocka_unit_test(test_estimated),
        cmocka_unit_test(test_random),     cmocka_unit_test(test_quick_steps),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
