/* What of the packets a receiver can tell that prints few keys: got against seq without its
 * modulus, got against the packet rate. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "link/measure.h"
#include "near.h"

enum {
    BASE = 1u << KEY_N | 1u << KEY_T | 1u << KEY_CH | 1u << KEY_GOT,
    BY_SEQ = BASE | 1u << KEY_SEQ,
    BY_AGE = BASE | 1u << KEY_AGE,
};

/* A transmitter that sends every `interval_ms`; the receiver reports every 100 ms. */
struct run {
    struct bench *bench;
    struct event e;
    double interval_ms;
    uint64_t modulus, seq; /* of the newest packet sent */
    double sent_ms, now_ms;
};

static void begin(struct run *r, uint32_t has, double rate_hz, double interval_ms) {
    struct bench_limits limits;
    bench_limits_default(&limits);
    limits.rate_hz = rate_hz;
    *r = (struct run){.bench = bench_new(&limits), .interval_ms = interval_ms, .modulus = 1 << 16};
    r->e = (struct event){.kind = EVENT_REPORT, .bytes = 60, .host_us = TIME_UNKNOWN};
    r->e.report.has = has;
    r->e.report.ch_count = 1;
    assert_non_null(r->bench);
}

/* Of each ten packets one is lost where `lossy`; none arrives while `out`. */
static void run_for(struct run *r, double seconds, bool lossy, bool out) {
    struct report *p = &r->e.report;
    for (double until = r->now_ms + 1000 * seconds; r->now_ms + 100 <= until;) {
        r->now_ms += 100;
        while (r->sent_ms + r->interval_ms <= r->now_ms) {
            r->sent_ms += r->interval_ms;
            r->seq++;
            if (out || (lossy && r->seq % 10 == 5))
                continue;
            p->got++;
            p->seq = (uint32_t)(r->seq % r->modulus);
            p->age_ms = (uint32_t)(r->now_ms - r->sent_ms);
        }
        p->age_ms = out ? p->age_ms + 100 : (uint32_t)(r->now_ms - r->sent_ms);
        p->n++;
        p->t_ms = (uint32_t)r->now_ms;
        bench_feed(r->bench, &r->e);
    }
}

static struct snapshot end(struct run *r, struct measures *m) {
    static struct snapshot s;
    bench_read(r->bench, &s);
    bench_measure(r->bench, m);
    bench_free(r->bench);
    return s;
}

static void takes_the_modulus_that_fits(void **state) {
    static const struct {
        uint64_t modulus, from;
        uint32_t taken;
    } cases[] = {{256, 0, 256}, {1 << 16, 65000, 1 << 16}, {UINT64_C(1) << 32, 4294967000u, 0}};
    (void)state;
    for (size_t i = 0; i < 3; i++) {
        struct run r;
        struct measures m;
        begin(&r, BY_SEQ, 50, 20);
        r.modulus = cases[i].modulus;
        r.seq = cases[i].from;
        run_for(&r, 20, true, false);
        struct snapshot s = end(&r, &m);
        assert_true(s.seqmod_assumed && s.seqmod == cases[i].taken);
        near("one in ten", m.loss, 0.1, 0.001);
        assert_int_equal(s.transmitter_restarts, 0);
    }
}

static void no_modulus_before_it_goes_round(void **state) {
    struct run r;
    struct measures m;
    (void)state;
    begin(&r, BY_SEQ, 50, 20);
    run_for(&r, 4, true, false);
    struct snapshot s = end(&r, &m);
    assert_false(s.seqmod_assumed);
    near("one in ten", m.loss, 0.1, 0.001);
}

/* A transmitter that restarts at 5000: neither 60 thousand lost nor 256 assumed. */
static void a_restart_is_no_round(void **state) {
    struct run r;
    struct measures m;
    (void)state;
    begin(&r, BY_SEQ, 50, 20);
    r.seq = 5000;
    run_for(&r, 10, true, false);
    run_for(&r, 1, true, true);
    r.seq = 0;
    run_for(&r, 10, true, false);
    struct snapshot s = end(&r, &m);
    assert_int_equal(s.transmitter_restarts, 1);
    near("one in ten", m.loss, 0.1, 0.001);
}

/* It restarts at 250, which looks like 8 bits going round, and then counts past 256. */
static void says_when_none_fits(void **state) {
    struct run r;
    struct measures m;
    (void)state;
    begin(&r, BY_SEQ, 50, 20);
    run_for(&r, 5, false, false);
    r.seq = 0;
    run_for(&r, 10, false, false);
    struct snapshot s = end(&r, &m);
    assert_false(s.total.known || m.loss_known);
    assert_string_equal(m.why, "no modulus fits seq");
}

/* 10 bits: it falls without a pause, which no start of a transmitter does. */
static void says_when_it_goes_round_elsewhere(void **state) {
    struct run r;
    struct measures m;
    (void)state;
    begin(&r, BY_SEQ, 50, 20);
    r.modulus = 1024;
    run_for(&r, 25, true, false);
    struct snapshot s = end(&r, &m);
    assert_false(s.total.known || m.loss_known || s.seqmod_assumed || s.transmitter_restarts_known);
    assert_string_equal(m.why, "no modulus fits seq");
}

/* With tboot, which stands, the first fall shows it. */
static void a_start_number_that_stands(void **state) {
    struct run r;
    struct measures m;
    (void)state;
    begin(&r, BY_SEQ | 1u << KEY_TBOOT, 50, 20);
    r.modulus = 1024;
    run_for(&r, 25, true, false);
    struct snapshot s = end(&r, &m);
    assert_false(m.loss_known);
    assert_true(s.transmitter_restarts_known && s.transmitter_restarts == 0);
}

static void an_outage_over_the_round(void **state) {
    struct run r;
    struct measures m;
    (void)state;
    begin(&r, BY_SEQ | 1u << KEY_AGE, 50, 20);
    r.modulus = 256;
    run_for(&r, 9, false, false);
    run_for(&r, 3, false, true); /* 150 packets */
    run_for(&r, 9, false, false);
    struct snapshot s = end(&r, &m);
    assert_int_equal(s.total.lost, 150);
    assert_int_equal(s.transmitter_restarts, 0);
}

/* 1.5 % slower than the id line says, none lost: the tolerance covers it, `age` measures it. */
static void allows_for_the_rate(void **state) {
    static const uint32_t keys[] = {BASE, BY_AGE};
    (void)state;
    for (int lossy = 0; lossy < 2; lossy++)
        for (size_t i = 0; i < 2; i++) {
            struct run r;
            struct measures m;
            double truth = lossy ? 0.1 : 0;
            begin(&r, keys[i], 50, 20.3);
            run_for(&r, 120, lossy, false);
            end(&r, &m);
            assert_true(m.rate_judged && m.rate_measured == (keys[i] == BY_AGE));
            if (m.rate_measured && !lossy)
                assert_int_equal(m.ground, GROUND_NONE_LOST);
            else
                assert_true(m.low <= truth && truth <= m.high);
            if (m.rate_measured) {
                assert_true(m.rate_error < 1e-4);
                near("as sent", m.loss, truth, 0.001);
            }
        }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(takes_the_modulus_that_fits),
        cmocka_unit_test(no_modulus_before_it_goes_round),
        cmocka_unit_test(a_restart_is_no_round),
        cmocka_unit_test(says_when_none_fits),
        cmocka_unit_test(says_when_it_goes_round_elsewhere),
        cmocka_unit_test(a_start_number_that_stands),
        cmocka_unit_test(an_outage_over_the_round),
        cmocka_unit_test(allows_for_the_rate),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
