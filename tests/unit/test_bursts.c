/* Bursts and gaps against RFC 3611 (2003), RTP Control Protocol Extended Reports: the definition
 * and the example of 4.7.2, the counts of Appendix A.2, and a reference that keeps the whole
 * sequence and labels each packet by looking around it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
/* cmocka needs the four above first */
#include <cmocka.h>

#include "dice.h"
#include "link/bursts.h"

/* 1 and o received; 0, X (discarded) and x lost; ? unknown order; | a start of either end */
static void feed(struct bursts *b, const char *sequence) {
    for (const char *c = sequence; *c != '\0'; c++) {
        if (*c == '?')
            bursts_unknown(b);
        else if (*c == '|')
            bursts_break(b);
        else
            bursts_outcome(b, *c == '1' || *c == 'o');
    }
}

static struct bursts_figures figures_of(const char *sequence, uint64_t gmin, double interval_ms) {
    struct bursts b;
    struct bursts_figures f;
    bursts_init(&b, gmin);
    feed(&b, sequence);
    bursts_read(&b, interval_ms, &f);
    return f;
}

/* --- the example of 4.7.2 --------------------------------------------------------------------- */

/* As printed: 63 packets, though the text says 64. */
static const char printed[] = "11110111111111111111111X111X1011110111111111111111111X111111111";

/* One burst of 12 packets with 4 lost, 120 ms at 10 ms; the first gap has 23 packets; 2 losses lie
 * in gaps.  The RFC's 84, 10 and 520 ms follow from ratios that it rounded first and a sum that it
 * calls a mean, so they are not checked. */
static void test_example(void **state) {
    (void)state;
    assert_int_equal(strlen(printed), 63);
    struct bursts_figures f = figures_of(printed, BURSTS_GMIN, 10);
    assert_int_equal(f.count, 1);
    assert_int_equal(f.packets, 12);
    assert_int_equal(f.lost, 4);
    assert_int_equal(f.longest, 12);
    assert_true(f.density == 4.0 / 12);
    assert_true(f.mean_packets == 12);
    assert_true(f.mean_ms == 120);
    assert_int_equal(f.gaps, 2);
    assert_int_equal(f.gap_packets, 23 + 28);
    assert_int_equal(f.gap_lost, 2);
    assert_true(f.gap_mean_packets == 25.5);
    assert_int_equal(f.unsure_packets, 0);
    /* up to the burst's first loss, 23 packets = 230 ms and the loss at 5 are a gap */
    char first[24] = {0};
    memcpy(first, printed, 23);
    f = figures_of(first, BURSTS_GMIN, 10);
    assert_int_equal(f.count, 0);
    assert_int_equal(f.gaps, 1);
    assert_int_equal(f.gap_packets, 23);
    assert_int_equal(f.gap_lost, 1);
    assert_true(f.gap_mean_ms == 230);
    assert_true(f.density < 0 && f.mean_packets < 0 && f.mean_ms < 0); /* of no burst */
    assert_true(figures_of(printed, BURSTS_GMIN, 0).mean_ms < 0);      /* interval unknown */
}

/* --- Appendix A.2, which only the tests use --------------------------------------------------- */

struct event_counts {
    uint64_t gmin, pkt, lost, c11, c13, c14, c22, c23, c33;
};

static void event_packet(struct event_counts *e, bool received) {
    if (received) {
        e->pkt++;
        return;
    }
    if (e->pkt >= e->gmin) {
        if (e->lost == 1)
            e->c14++;
        else
            e->c13++;
        e->lost = 1;
        e->c11 += e->pkt;
    } else {
        e->lost++;
        if (e->pkt == 0) {
            e->c33++;
        } else {
            e->c23++;
            e->c22 += e->pkt - 1;
        }
    }
    e->pkt = 0;
}

static double event_density(const struct event_counts *e) {
    double c31 = (double)e->c13, c32 = (double)e->c23, c33 = (double)e->c33;
    double p32 = e->c23 == 0 ? 0 : c32 / (c31 + c32 + c33);
    double p23 = e->c22 + e->c23 < 1 ? 1 : 1 - (double)e->c22 / ((double)e->c22 + (double)e->c23);
    return 256 * p23 / (p23 + p32);
}

static void event_feed(struct event_counts *e, const char *sequence) {
    for (const char *c = sequence; *c != '\0'; c++)
        event_packet(e, *c == '1' || *c == 'o');
}

/* The counts that A.2's own program gives for the example, begun at zero and begun as 4.7.2 wants a
 * session to begin; the second has our density. */
static void test_event_counts(void **state) {
    (void)state;
    struct event_counts zero = {.gmin = 16};
    event_feed(&zero, printed);
    assert_int_equal(zero.c11, 36);
    assert_int_equal(zero.c13, 1);
    assert_int_equal(zero.c14, 1);
    assert_int_equal(zero.c22, 8);
    assert_int_equal(zero.c23, 4);
    assert_int_equal(zero.c33, 0);
    assert_true(fabs(event_density(&zero) - 75.294) < 0.001);
    assert_true(fabs(256.0 * (double)zero.c14 / (double)(zero.c11 + zero.c14) - 6.919) < 0.001);
    struct event_counts begun = {.gmin = 16, .pkt = 16, .lost = 1};
    event_feed(&begun, printed);
    assert_int_equal(begun.c11, 56);
    assert_int_equal(begun.c13, 1);
    assert_int_equal(begun.c14, 2);
    assert_int_equal(begun.c22, 5);
    assert_int_equal(begun.c23, 3);
    assert_int_equal(begun.c33, 0);
    double ours = figures_of(printed, BURSTS_GMIN, 10).density;
    assert_true(fabs(event_density(&begun) - 256 * ours) < 1e-12);
    assert_true(fabs(256 * ours - 85.333) < 0.001);
}

/* --- small cases ------------------------------------------------------------------------------ */

struct burst_case {
    const char *legend, *sequence;
    uint64_t gmin;
    uint64_t count, packets, lost, gaps, gap_packets, gap_lost, unsure_packets, unsure_lost, cut;
};

#define O15 "ooooooooooooooo"
#define O16 O15 "o"
#define O20 O16 "oooo"

static const struct burst_case burst_cases[] = {
    /* RFC 3611, 4.7.2: a burst has fewer than Gmin received packets in a row */
    {"15 received between two losses: one burst of 17", O20 "x" O15 "x" O20, 16, 1, 17, 2, 2, 40, 0,
     0, 0, 0},
    {"16: two losses in a gap", O20 "x" O16 "x" O20, 16, 0, 0, 0, 1, 58, 2, 0, 0, 0},
    /* the session is preceded and followed by at least Gmin received packets */
    {"a loss at the very beginning and end", "x" O16 "x", 16, 0, 0, 0, 1, 18, 2, 0, 0, 0},
    {"two at the beginning are a burst, with no gap before", "xx" O16, 16, 1, 2, 2, 1, 16, 0, 0, 0,
     0},
    {"nothing but losses", "xxxx", 16, 1, 4, 4, 0, 0, 0, 0, 0, 0},
    {"no packet", "", 16, 0, 0, 0, 0, 0, 0, 0, 0, 0},
    {"a session ends between two losses", "oxo|oxo", 16, 0, 0, 0, 2, 6, 2, 0, 0, 0},
    {"Gmin 1: only losses in a row are bursts", "xoxxo", 1, 1, 2, 2, 2, 3, 1, 0, 0, 0},
    /* unknown order */
    {"a lone loss near the unknown is neither", O20 "xoo?" O20, 16, 0, 0, 0, 2, 40, 0, 3, 1, 0},
    {"far from it, it lies in a gap", O20 "x" O16 "?" O16 "x" O20, 16, 0, 0, 0, 2, 74, 2, 0, 0, 0},
    {"a burst near it is one, but cut", O20 "xox" O15 "?" O20, 16, 1, 3, 2, 2, 40, 0, 15, 0, 1},
    {"received ones between two unknowns may be in a burst", "?ooo?" O16, 16, 0, 0, 0, 1, 16, 0, 3,
     0, 0},
    {"before the first loss after the unknown", "?ooox" O16, 16, 0, 0, 0, 1, 16, 0, 4, 1, 0},
    {"the unknown is never received: losses about it stay apart", "ox?xo", 16, 0, 0, 0, 2, 2, 0, 2,
     2, 0},
};

static void test_cases(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof burst_cases / sizeof burst_cases[0]; i++) {
        const struct burst_case *c = &burst_cases[i];
        struct bursts_figures f = figures_of(c->sequence, c->gmin, 10);
        if (f.count != c->count || f.packets != c->packets || f.lost != c->lost ||
            f.gaps != c->gaps || f.gap_packets != c->gap_packets || f.gap_lost != c->gap_lost ||
            f.unsure_packets != c->unsure_packets || f.unsure_lost != c->unsure_lost ||
            f.cut != c->cut)
            fail_msg("%s: bursts %d (%d packets, %d lost, %d cut), gaps %d (%d, %d), unsure %d, %d",
                     c->legend, (int)f.count, (int)f.packets, (int)f.lost, (int)f.cut, (int)f.gaps,
                     (int)f.gap_packets, (int)f.gap_lost, (int)f.unsure_packets,
                     (int)f.unsure_lost);
    }
}

/* RFC 3611, 4.7.2: the greatest share lost within a gap is 1 / (Gmin + 1). */
static void test_gap_limit(void **state) {
    (void)state;
    struct bursts b;
    struct bursts_figures f;
    bursts_init(&b, BURSTS_GMIN);
    for (int i = 0; i < 500; i++)
        feed(&b, "x" O16);
    bursts_read(&b, 10, &f);
    assert_int_equal(f.count, 0);
    assert_true(fabs(f.gap_density - 0.0588235) < 1e-7);
}

static void test_steps(void **state) {
    (void)state;
    static const struct {
        struct packet_step step;
        const char *same_as;
    } cases[] = {
        {{.counted = true, .got = 2, .lost = 1, .order_len = 3, .order = 5}, "oxo"},
        {{.counted = true, .got = 1, .lost = 3, .order_len = 2, .order = 2, .missing_before = 2},
         "xxxo"},
        {{.counted = true, .got = 2, .lost = 2, .order_len = 2, .order = 2}, "?xo"},
        {{.counted = true, .got = 1, .estimated = 9}, "?"},
        {{.counted = true, .got = 2, .order_len = 2, .order = 3, .transmitter_restart = true},
         "|oo"},
        {{.counted = true}, ""},
        {{.counted = false}, ""},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct bursts b;
        struct bursts_figures got, want;
        char sequence[32] = "oox";
        bursts_init(&b, BURSTS_GMIN);
        feed(&b, sequence);
        bursts_step(&b, &cases[i].step);
        feed(&b, "xo");
        bursts_read(&b, 10, &got);
        strcat(strcat(sequence, cases[i].same_as), "xo");
        want = figures_of(sequence, BURSTS_GMIN, 10);
        if (memcmp(&got, &want, sizeof got) != 0)
            fail_msg("step %zu is not %s", i, sequence);
    }
}

/* --- the reference ---------------------------------------------------------------------------- */

enum { SEQUENCE_MAX = 600 };

static bool is_packet(char c) {
    return c == 'o' || c == 'x';
}

/* What lies beyond the received packets next to s[at], in the direction given: x, ? or |; and how
 * many of them there are. */
static char beyond(const char *s, size_t len, size_t at, int direction, uint64_t *received) {
    *received = 0;
    for (size_t i = at;;) {
        if (direction < 0 ? i == 0 : i + 1 >= len)
            return '|';
        i = direction < 0 ? i - 1 : i + 1;
        if (s[i] != 'o')
            return s[i];
        ++*received;
    }
}

/* Is there a loss on that side which belongs together with the one at s[at]? */
static bool joined(const char *s, size_t len, size_t at, int direction, uint64_t gmin) {
    uint64_t received;
    return beyond(s, len, at, direction, &received) == 'x' && received < gmin;
}

/* Is it open on that side whether one does? */
static bool open_side(const char *s, size_t len, size_t at, int direction, uint64_t gmin) {
    uint64_t received;
    return beyond(s, len, at, direction, &received) == '?' && received < gmin;
}

/* B in a burst, G in a gap, u unsure */
static char label(const char *s, size_t len, size_t at, uint64_t gmin) {
    if (s[at] == 'x') {
        if (joined(s, len, at, -1, gmin) || joined(s, len, at, 1, gmin))
            return 'B';
        bool open = open_side(s, len, at, -1, gmin) || open_side(s, len, at, 1, gmin);
        return open ? 'u' : 'G';
    }
    uint64_t left, right;
    char before = beyond(s, len, at, -1, &left), after = beyond(s, len, at, 1, &right);
    if (left + 1 + right >= gmin || before == '|' || after == '|')
        return 'G';
    return before == 'x' && after == 'x' ? 'B' : 'u';
}

static void reference(const char *s, uint64_t gmin, struct bursts_figures *f) {
    size_t len = strlen(s);
    char labels[SEQUENCE_MAX + 1] = {0};
    memset(f, 0, sizeof *f);
    for (size_t i = 0; i < len; i++)
        labels[i] = is_packet(s[i]) ? label(s, len, i, gmin) : s[i];
    for (size_t i = 0; i < len; i++) {
        f->packets += labels[i] == 'B';
        f->lost += labels[i] == 'B' && s[i] == 'x';
        f->gap_packets += labels[i] == 'G';
        f->gap_lost += labels[i] == 'G' && s[i] == 'x';
        f->unsure_packets += labels[i] == 'u';
        f->unsure_lost += labels[i] == 'u' && s[i] == 'x';
        f->gaps += labels[i] == 'G' && (i == 0 || labels[i - 1] != 'G');
        /* a burst begins with a loss that has a companion only behind it */
        if (labels[i] != 'B' || s[i] != 'x' || joined(s, len, i, -1, gmin))
            continue;
        size_t end = i;
        for (size_t k = i; k < len && labels[k] == 'B'; k++) {
            end = k;
            if (s[k] == 'x' && !joined(s, len, k, 1, gmin))
                break;
        }
        f->count++;
        f->cut += open_side(s, len, i, -1, gmin) || open_side(s, len, end, 1, gmin);
        if (end - i + 1 > f->longest)
            f->longest = end - i + 1;
    }
}

static void roll(struct dice *d, char *out, bool breaks) {
    size_t len = dice_below(d, SEQUENCE_MAX);
    double p = dice_share(d) * dice_share(d) * 0.3, r = dice_share(d),
           unknown = breaks ? dice_share(d) * 0.05 : 0, start = breaks ? dice_share(d) * 0.02 : 0;
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

static void assert_figures(const char *s, const struct bursts_figures *f,
                           const struct bursts_figures *want) {
    if (f->count != want->count || f->cut != want->cut || f->packets != want->packets ||
        f->lost != want->lost || f->longest != want->longest || f->gaps != want->gaps ||
        f->gap_packets != want->gap_packets || f->gap_lost != want->gap_lost ||
        f->unsure_packets != want->unsure_packets || f->unsure_lost != want->unsure_lost)
        fail_msg("%s", s);
}

static void test_random(void **state) {
    (void)state;
    struct dice d = {471};
    uint64_t seen = 0, unsure = 0;
    for (int round = 0; round < 5000; round++) {
        static const uint64_t gmins[] = {1, 2, 5, BURSTS_GMIN};
        char s[SEQUENCE_MAX + 1];
        uint64_t gmin = gmins[dice_below(&d, 4)];
        struct bursts_figures want, f;
        roll(&d, s, true);
        reference(s, gmin, &want);
        f = figures_of(s, gmin, 10);
        assert_figures(s, &f, &want);
        struct bursts bulk;
        bursts_init(&bulk, gmin);
        for (const char *c = s; *c != '\0';) {
            size_t run = strspn(c, "x");
            if (run == 0)
                feed(&bulk, (char[]){*c, '\0'});
            else
                bursts_missing(&bulk, run);
            c += run > 0 ? run : 1;
        }
        bursts_read(&bulk, 10, &f);
        assert_figures(s, &f, &want);
        seen += want.count;
        unsure += want.unsure_lost;
    }
    assert_true(seen > 1000 && unsure > 1000);
}

/* RFC 3611, Appendix A.2, begun by the rule of 4.7.2 and fed on until its last burst is counted,
 * has the same packets and losses in bursts: they are c22 + c23 + c31 + c32 + c33 and the last
 * three of these. */
static void test_random_event_counts(void **state) {
    (void)state;
    struct dice d = {3611};
    for (int round = 0; round < 2000; round++) {
        char s[SEQUENCE_MAX + 1 + 17];
        roll(&d, s, false);
        struct bursts_figures f = figures_of(s, BURSTS_GMIN, 10);
        struct event_counts e = {.gmin = BURSTS_GMIN, .pkt = BURSTS_GMIN, .lost = 1};
        strcat(s, O16 "x");
        event_feed(&e, s);
        assert_int_equal(f.count, e.c13);
        assert_int_equal(f.packets, e.c22 + e.c23 + e.c13 + e.c23 + e.c33);
        assert_int_equal(f.lost, e.c13 + e.c23 + e.c33);
        if (e.c23 > 0)
            assert_true(fabs(event_density(&e) - 256 * f.density) < 1e-9);
    }
}

/* Rows of packets at once are the same as packet by packet. */
static void test_rows(void **state) {
    (void)state;
    struct dice d = {3611};
    uint64_t seen = 0;
    for (int round = 0; round < 500; round++) {
        struct bursts rows, singly;
        double loss = dice_share(&d) * dice_share(&d);
        bursts_init(&rows, 1 + dice_below(&d, 20));
        singly = rows;
        for (int i = 0; i < 100; i++) {
            struct packet_step step = {.counted = true};
            step.order_len = (uint32_t)dice_below(&d, dice_chance(&d, 0.8) ? 5 : 65);
            for (uint32_t k = 0; k < step.order_len; k++)
                step.order |= (uint64_t)!dice_chance(&d, loss) << k;
            step.got = bits_in(step.order);
            step.lost = step.order_len - step.got;
            bursts_step(&rows, &step);
            for (uint32_t k = 0; k < step.order_len; k++)
                bursts_outcome(&singly, (step.order >> k & 1u) != 0);
            if (dice_chance(&d, 0.05)) {
                bursts_unknown(&rows);
                bursts_unknown(&singly);
            }
            assert_memory_equal(&rows, &singly, sizeof rows);
        }
        seen += rows.count;
    }
    assert_true(seen > 1000);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_example),
        cmocka_unit_test(test_event_counts),
        cmocka_unit_test(test_cases),
        cmocka_unit_test(test_gap_limit),
        cmocka_unit_test(test_steps),
        cmocka_unit_test(test_random),
        cmocka_unit_test(test_random_event_counts),
        cmocka_unit_test(test_rows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
