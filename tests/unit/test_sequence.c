/* Loss by sequence number, as packets.h counts it where reports carry `got` and `seq`, against the
 * algorithm of RFC 3550 (2003), A.1 and A.3 (the same in RFC 1889). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
/* cmocka needs the four above first */
#include <cmocka.h>

#include "dice.h"
#include "link/packets.h"

static struct packet_step report(struct packets *p, uint32_t got, uint32_t seq) {
    struct report r = {.has = 1u << KEY_GOT | 1u << KEY_SEQ, .got = got, .seq = seq};
    return *packets_report(p, &r, TIME_UNKNOWN, false, false);
}

static void begin(struct packets *p, uint32_t seqmod) {
    packets_init(p);
    p->seqmod_known = true;
    p->seqmod = seqmod;
}

struct sequence_case {
    const char *legend;
    uint32_t seqmod, base, max;
    uint64_t received; /* the base packet included */
    uint64_t lost;
    unsigned fraction; /* A.3: lost / expected in 1/256, of the interval after the base packet */
};

static const struct sequence_case sequence_cases[] = {
    /* expected = cycles + max - base + 1 */
    {"65500, once around, to 99: expected 136, received 130", 65536, 65500, 99, 130, 6, 11},
    {"1000 after the base, 963 came: 37 lost, (37 << 8) / 1000 = 9", 65536, 7, 1007, 964, 37, 9},
    {"none lost over a wrap of 8 bits", 256, 250, 3, 10, 0, 0},
    {"none lost over a wrap of 32 bits", 0, UINT32_MAX, 1, 3, 0, 0},
    {"32 bits, lost about the wrap", 0, UINT32_MAX - 9, 9, 15, 5, 67},
    {"empty interval", 256, 9, 9, 1, 0, 0},
    /* a negative number of lost ones is none (duplicates that a receiver counted) */
    {"more received than expected", 65536, 100, 109, 15, 0, 0},
};

static unsigned fraction_lost(uint64_t expected, uint64_t lost) {
    return expected == 0 || lost == 0 ? 0 : (unsigned)((lost << 8) / expected);
}

static void test_cases(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof sequence_cases / sizeof sequence_cases[0]; i++) {
        const struct sequence_case *c = &sequence_cases[i];
        struct packets p;
        begin(&p, c->seqmod);
        report(&p, 1, c->base);
        struct packet_step step = report(&p, (uint32_t)c->received, c->max);
        if (step.lost != c->lost || step.got != c->received - 1 || step.transmitter_restart)
            fail_msg("%s: %llu got, %llu lost", c->legend, (unsigned long long)step.got,
                     (unsigned long long)step.lost);
        assert_true(step.evidence == EVIDENCE_SEQUENCE);
        assert_int_equal(fraction_lost(step.got + step.lost, step.lost), c->fraction);
    }
}

/* Before the first packet nothing is lost, whatever its number: it is the base. */
static void test_first(void **state) {
    (void)state;
    struct packets p;
    begin(&p, 65536);
    report(&p, 0, 0);
    struct packet_step step = report(&p, 3, 500);
    assert_int_equal(step.got, 3);
    assert_int_equal(step.lost, 0);
    step = report(&p, 5, 504);
    assert_int_equal(step.lost, 2);
}

/* A gap as long as the sequence number lasts is still told by it, a longer one isn't: 256 packets
 * at 100 a second take 2560 ms, at 3 a second 85333 1/3 ms. */
static void test_round(void **state) {
    (void)state;
    static const struct {
        double rate_hz;
        uint32_t gap_ms;
        uint64_t estimated;
    } cases[] = {{100, 2560, 0}, {100, 2561, 256}, {3, 85333, 0}, {3, 85334, 256}, {0, 90000, 0}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct packets p;
        struct report r = {.has = 1u << KEY_GOT | 1u << KEY_SEQ | 1u << KEY_GAP, .got = 5};
        begin(&p, 256);
        packets_rate(&p, cases[i].rate_hz);
        packets_report(&p, &r, TIME_UNKNOWN, false, false);
        r.got = 7;
        r.seq = 2;
        r.gap_ms = cases[i].gap_ms;
        packets_report(&p, &r, TIME_UNKNOWN, false, false);
        assert_int_equal(p.estimated, cases[i].estimated);
    }
    struct packets unknown;
    packets_init(&unknown);
    packets_rate(&unknown, 100);
    assert_true(unknown.round_ms == INT64_MAX);
}

/* A.1's extended highest sequence number and A.3's expected and lost, packet by packet. */
struct rtp {
    uint64_t modulus, cycles, base, max, received;
};

static void rtp_packet(struct rtp *s, uint64_t seq) {
    if (s->received == 0)
        s->base = s->max = seq;
    if (seq < s->max)
        s->cycles += s->modulus;
    s->max = seq;
    s->received++;
}

static uint64_t rtp_lost(const struct rtp *s) {
    return s->cycles + s->max - s->base + 1 - s->received;
}

/* A link with losses; a report now and then, never more than a modulus apart. */
static void run(struct dice *d, uint32_t seqmod) {
    uint64_t modulus = seqmod == 0 ? UINT64_C(1) << 32 : seqmod;
    struct rtp rtp = {.modulus = modulus};
    struct packets p;
    uint64_t sent = modulus - dice_below(d, modulus < 1000 ? modulus : 1000), due = 0;
    double loss = dice_share(d) * 0.5;
    begin(&p, seqmod);
    for (int i = 0; i < 3000; i++, sent++) {
        if (dice_chance(d, loss))
            continue;
        rtp_packet(&rtp, sent % modulus);
        if (rtp.received == 1 || sent >= due) {
            report(&p, (uint32_t)rtp.received, (uint32_t)(sent % modulus));
            due = sent + 1 + dice_below(d, 60);
            assert_int_equal(p.lost, rtp_lost(&rtp));
            assert_int_equal(p.got, rtp.received - 1);
        }
    }
}

static void test_random(void **state) {
    (void)state;
    static const uint32_t moduli[] = {256, 1000, 65536, 0};
    struct dice d = {1889};
    for (int round = 0; round < 400; round++)
        run(&d, moduli[round % 4]);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_cases), cmocka_unit_test(test_first),
                                       cmocka_unit_test(test_round), cmocka_unit_test(test_random)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
