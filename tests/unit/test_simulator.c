/* The simulated receiver: that it repeats, that its physics are those of its sources, and that
 * its lines, read by the decoder, agree with the truth and show what their scene promises. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "simulator/chance.h"
#include "simulator/lake.h"
#include "simulator/simulator.h"
#include "simulator/tug.h"
#include "telemetry/telemetry.h"

/* Chance. */

/* The reference generators' first numbers: SplitMix64 from 0 (its first) and from 1234567 (as
 * printed in Rosetta Code, "Pseudo-random numbers/Splitmix64"), xoshiro256** from {1, 2, 3, 4} (as
 * in the tests of the Rust crate rand_xoshiro, made with the authors' C code). */
static void draws_as_published(void **state) {
    static const uint64_t split[] = {6457827717110365317u, 3203168211198807973u,
                                     9817491932198370423u, 4593380528125082431u};
    static const uint64_t xoshiro[] = {11520, 0, 1509978240, 1215971899390074240u};
    struct chance c;
    (void)state;
    chance_init(&c, 1234567u ^ 0xE220A8397B1DCDAFu, 0);
    for (int i = 0; i < 4; i++)
        assert_true(c.s[i] == split[i]);
    c = (struct chance){{1, 2, 3, 4}};
    for (int i = 0; i < 4; i++)
        assert_true(chance_u64(&c) == xoshiro[i]);
}

static void log2_as_libm(void **state) {
    (void)state;
    for (uint64_t x = 1; x < UINT64_C(1) << 62; x += x / 7 + 1)
        assert_true(fabs(chance_log2(x) / 65536.0 - log2((double)x)) < 2e-4);
    assert_int_equal(chance_log2(UINT64_C(1) << 63), 63 * 65536);
}

/* Moments of the normal and the exponential distribution; bounds are five standard errors. */
static void distributions(void **state) {
    enum { N = 200000 };
    struct chance c;
    double sum = 0, squares = 0, waits = 0, wait_squares = 0;
    int hits = 0;
    (void)state;
    chance_init(&c, 11, 1);
    for (int i = 0; i < N; i++) {
        double x = chance_normal(&c) / 4096.0;
        double w = (double)chance_wait(&c, 1000000) / 1e6;
        sum += x;
        squares += x * x;
        waits += w;
        wait_squares += w * w;
        hits += chance_hits(&c, 16384);
        int32_t b = chance_between(&c, -3, 5);
        assert_true(b >= -3 && b <= 5);
    }
    assert_true(fabs(sum / N) < 5 / sqrt(N));
    assert_true(fabs(squares / N - 1) < 5 * sqrt(2.0 / N));
    assert_true(fabs(waits / N - 1) < 5 / sqrt(N));
    assert_true(fabs(wait_squares / N - 2) < 5 * sqrt(20.0 / N));
    assert_true(fabs(hits / (double)N - 0.25) < 5 * sqrt(0.25 * 0.75 / N));
}

/* The air. */

static double loss_db(double metres) {
    struct lake l;
    lake_init(&l, 1);
    l.fade_x = l.fade_y = l.shadow = 0;
    lake_walk(&l, 0, (int32_t)(metres * 100), 0);
    return -lake_level(&l, 0) / 100.0;
}

static void path_as_recommended(void **state) {
    /* K = 13 dB leaves the steady part of the field 10 log10(K/(K+1)) below the whole; two dipoles
     * less hull, mast and hand make -2 dB. */
    double fixed = 2 + 10 * log10(21.0 / 20.0);
    (void)state;
    /* ITU-R P.525: 32.4 + 20 log f(MHz) + 20 log d(km), its constant rounded by 0.05 dB */
    for (double d = 1; d <= 20; d += 1)
        assert_true(fabs(loss_db(d) - fixed - (32.4 + 20 * log10(2450) + 20 * log10(d / 1000))) <
                    0.11);
    /* 40 dB a decade beyond the breakpoint (ITU-R P.1411): twice as far is 12.04 dB less */
    assert_true(fabs(loss_db(60) - loss_db(30) - 40 * log10(2)) < 0.05);
}

/* A Rice-faded level's mean power is that of the unfaded one; K is the steady share. */
static void fading_keeps_the_power(void **state) {
    enum { N = 400000 };
    struct lake l;
    double power = 0, fourth = 0;
    (void)state;
    lake_init(&l, 3);
    l.at_rest = FADING_WALKING; /* K = 6 dB: steady share 0.8 */
    for (int i = 0; i < N; i++) {
        lake_step(&l, i);
        l.shadow = 0;
        double p = pow(10, (lake_level(&l, i) / 100.0 + 2 + 40.23 + 20 * log10(2)) / 10);
        power += p;
        fourth += p * p;
    }
    power /= N;
    fourth /= N;
    assert_true(fabs(power - 1) < 0.02);
    /* Rice: variance of power over its mean squared = (1 + 2K) / (1 + K)^2 = 9/25 for K = 4 */
    assert_true(fabs(fourth / (power * power) - 1 - 9.0 / 25.0) < 0.02);
}

/* Packets of 233 bits at 0.1 % bit errors (the data sheet's definition of sensitivity, -85 dBm). */
static void arrivals_at_the_edge(void **state) {
    enum { N = 100000 };
    struct lake l;
    int arrived = 0;
    (void)state;
    lake_init(&l, 5);
    l.fade_x = l.fade_y = l.shadow = 0;
    l.power += lake_level(&l, 0) < 0 ? -8500 - lake_level(&l, 0) : 0;
    for (int i = 0; i < N; i++)
        arrived += lake_carry(&l, i) == PACKET_ARRIVED;
    assert_true(fabs(arrived / (double)N - pow(0.999, 233)) < 5 * sqrt(0.16 / N));
    l.power += 600;
    assert_int_equal(lake_carry(&l, N), PACKET_ARRIVED);
    l.power -= 1600;
    assert_int_equal(lake_carry(&l, N), PACKET_WEAK);
}

/* The receiver's program, packet by packet: the rules are those of the telemetry lines. */

static void keep_line(void *where, const char *bytes, size_t len) {
    char *line = where;
    assert_true(len < 500);
    memcpy(line, bytes, len);
    line[len] = '\0';
}

static void counts_by_sequence(void **state) {
    static const struct {
        const char *legend;
        uint16_t first_boot, first, boot, seq;
        const char *packets, *pattern;
    } cases[] = {
        {"the very next", 1, 5, 1, 6, " got=2 lost=0 ", " pat=o "},
        {"two missing", 1, 5, 1, 8, " got=2 lost=2 ", " pat=xxo "},
        {"round the modulus", 1, 65535, 1, 0, " got=2 lost=0 ", " pat=o "},
        {"missing round the modulus", 1, 65534, 1, 1, " got=2 lost=2 ", " pat=xxo "},
        {"a repeat isn't counted", 1, 5, 1, 5, " got=1 lost=0 ", " lost=0 age="},
        {"the transmitter started: nothing is lost", 1, 500, 2, 3, " got=2 lost=0 ", " pat=o "},
        {"more missing than a pattern holds", 1, 0, 1, 101, " got=2 lost=100 ",
         " pat=xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxo "},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char line[500];
        struct cable cable;
        struct tug tug = {0};
        struct packet packet = {.owner = SHORE_OWNER, .tboot = cases[i].first_boot};
        packet.seq = cases[i].first;
        cable_init(&cable, 1, keep_line, line);
        tug_boot(&tug, 0, CAUSE_POWER, false, &cable);
        tug_hear(&tug, 10000, &packet, false);
        tug_report(&tug, 50000, &cable);
        packet.tboot = cases[i].boot;
        packet.seq = cases[i].seq;
        tug_hear(&tug, 60000, &packet, false);
        tug.say = NULL; /* the report is the last line */
        tug_report(&tug, 100000, &cable);
        if (strstr(line, cases[i].packets) == NULL || strstr(line, cases[i].pattern) == NULL)
            fail_msg("%s: %s", cases[i].legend, line);
    }
}

static void lowest_supply_is_kept(void **state) {
    char line[500];
    struct cable cable;
    struct tug tug = {0};
    (void)state;
    cable_init(&cable, 1, keep_line, line);
    tug_boot(&tug, 0, CAUSE_POWER, false, &cable);
    tug_supply(&tug, 5000);
    tug_supply(&tug, 4950);
    tug_supply(&tug, 4990);
    tug_report(&tug, 50000, &cable);
    assert_non_null(strstr(line, " mv=4990 mvmin=4950 "));
    tug_supply(&tug, 4980);
    tug_report(&tug, 100000, &cable);
    assert_non_null(strstr(line, " mv=4980 mvmin=4980 "));
}

/* Runs of the whole thing. */

struct tape {
    char *bytes;
    size_t len, size;
};

static void record(void *where, const char *bytes, size_t len) {
    struct tape *tape = where;
    if (tape->len + len > tape->size) {
        tape->size = 2 * (tape->len + len);
        tape->bytes = realloc(tape->bytes, tape->size);
        assert_non_null(tape->bytes);
    }
    memcpy(tape->bytes + tape->len, bytes, len);
    tape->len += len;
}

static int64_t scene_us(size_t scene) {
    return (int64_t)simulator_scenes[scene].seconds * 1000000;
}

/* Runs a scene in steps of step_us (0: from one thing due to the next) and appends its truth. */
static struct tape run(size_t scene, uint64_t seed, int64_t until_us, int64_t step_us) {
    struct tape tape = {0};
    struct simulator *p = simulator_new((int)scene, seed, record, &tape);
    assert_non_null(p);
    for (int64_t now = 0; now < until_us;) {
        now = step_us > 0 ? now + step_us : simulator_next_us(p);
        simulator_run(p, now < until_us ? now : until_us);
    }
    simulator_truth_text(p, record, &tape);
    simulator_free(p);
    return tape;
}

static bool same(const struct tape *a, const struct tape *b) {
    return a->len == b->len && memcmp(a->bytes, b->bytes, a->len) == 0;
}

static void repeats(void **state) {
    (void)state;
    for (size_t i = 0; i < simulator_scene_count; i++) {
        int64_t until = scene_us(i) + 2000000; /* into the second round */
        struct tape a = run(i, 7, until, until), b = run(i, 7, until, 0);
        struct tape c = run(i, 7, until, 7003), d = run(i, 8, until, until);
        if (!same(&a, &b) || !same(&a, &c) || same(&a, &d))
            fail_msg("%s", simulator_scenes[i].name);
        free(a.bytes);
        free(b.bytes);
        free(c.bytes);
        free(d.bytes);
    }
}

static void prints_when_it_said(void **state) {
    (void)state;
    for (size_t i = 0; i < simulator_scene_count; i++) {
        struct tape tape = {0};
        struct simulator *p = simulator_new((int)i, 3, record, &tape);
        int64_t last = -1;
        while (simulator_next_us(p) < scene_us(i)) {
            int64_t next = simulator_next_us(p);
            size_t before = tape.len;
            assert_true(next > last);
            simulator_run(p, next - 1);
            assert_int_equal(tape.len, before);
            simulator_run(p, next);
            last = next;
        }
        simulator_free(p);
        free(tape.bytes);
    }
}

static void unknown_scenes(void **state) {
    (void)state;
    assert_int_equal(simulator_scene_find("storm"), -1);
    assert_int_equal(simulator_scene_find(""), -1);
    assert_null(simulator_new(-1, 1, record, NULL));
    assert_null(simulator_new((int)simulator_scene_count, 1, record, NULL));
    for (size_t i = 0; i < simulator_scene_count; i++)
        assert_int_equal(simulator_scene_find(simulator_scenes[i].name), i);
}

static void lines_are_clean(void **state) {
    (void)state;
    for (size_t i = 0; i < simulator_scene_count; i++) {
        struct tape tape = {0};
        if (strcmp(simulator_scenes[i].name, "damaged") == 0 ||
            strcmp(simulator_scenes[i].name, "wires") == 0)
            continue;
        struct simulator *p = simulator_new((int)i, 4, record, &tape);
        simulator_run(p, scene_us(i));
        size_t begin = 0;
        for (size_t at = 0; at < tape.len; at++) {
            if (tape.bytes[at] == '\n') {
                assert_true(at > begin && tape.bytes[at - 1] == '\r');
                assert_true(at - 1 - begin <= LINE_BYTES_MAX);
                begin = at + 1;
            } else if (tape.bytes[at] != '\r' || tape.bytes[at + 1] != '\n') {
                assert_in_range(tape.bytes[at], 0x20, 0x7E);
            }
        }
        assert_int_equal(begin, tape.len);
        simulator_free(p);
        free(tape.bytes);
    }
}

/* What a reader who trusts nothing adds up from the decoded lines. */
struct reader {
    struct telemetry telemetry;
    bool have; /* a report of this boot */
    struct report last;
    uint64_t arrived, missing; /* out of `pat`, and of the counters where pat was full */
    uint64_t boots, brownouts, fs_entries, locked_after, noise_hits, refused_max, starts;
    uint64_t bare, ids;
    uint32_t least_step;
    uint32_t longest_gap_ms, mvmin, deepest_dip;
    int64_t now_us;
    uint64_t stop_got[16], stop_lost[16]; /* by stop of the walk */
    int stops;
};

static void check_report(const struct report *r) {
    assert_true(r->heard_hits <= r->heard_looks && r->noise_hits <= r->noise_looks);
    assert_true(r->mvmin <= r->mv && r->mvmin >= 4300 - 50);
    assert_int_equal(report_has(r, KEY_AGE), r->got > 0);
    assert_int_equal(report_has(r, KEY_IN), r->got > 0);
    if (report_has(r, KEY_AGE)) {
        assert_true(r->gap_ms >= r->age_ms);
        assert_int_equal(r->fs, r->age_ms >= 500); /* the hold time */
    } else {
        assert_true(r->fs == 1 && r->lock == 1 && r->pat_len == 0);
    }
    if (r->fs == 1 || r->lock == 1)
        assert_int_equal(r->ch[1], 1000); /* throttle at its safe end */
    if (r->lock == 0)
        assert_int_equal(r->fs, 0);
}

static void check_growth(struct reader *k, const struct report *r) {
    uint32_t got = k->have ? r->got - k->last.got : r->got;
    uint32_t lost = k->have ? r->lost - k->last.lost : r->lost;
    uint32_t arrived = report_arrived(r);
    uint32_t missing = r->pat_len - arrived;
    if (r->pat_len < 64)
        assert_true(got == arrived && lost == missing);
    else
        assert_true(got >= arrived && lost >= missing);
    if (k->have)
        assert_int_equal(r->n, k->last.n + 1); /* undamaged: no line missing */
    else
        assert_int_equal(r->n, 1);
    k->arrived += got;
    k->missing += lost;
    if (k->stops > 0 && k->stops <= 16) {
        k->stop_got[k->stops - 1] += got;
        k->stop_lost[k->stops - 1] += lost;
    }
}

static void note_states(struct reader *k, const struct report *r) {
    if (k->have) {
        k->fs_entries += r->fsn - k->last.fsn;
        k->starts += report_has(&k->last, KEY_TBOOT) && r->tboot != k->last.tboot;
    }
    k->locked_after += r->fs == 0 && r->lock == 1 && r->in[1] > 1050;
    k->noise_hits += r->noise_hits;
    if (report_has(r, KEY_TSTEP) && (k->least_step == 0 || r->tstep < k->least_step))
        k->least_step = r->tstep;
    if (r->refused > k->refused_max)
        k->refused_max = r->refused;
    if (r->gap_ms > k->longest_gap_ms)
        k->longest_gap_ms = r->gap_ms;
    if (r->mv - r->mvmin > k->deepest_dip)
        k->deepest_dip = r->mv - r->mvmin;
    if (k->mvmin == 0 || r->mvmin < k->mvmin)
        k->mvmin = r->mvmin;
}

static void read_event(void *context, const struct event *event) {
    struct reader *k = context;
    if (event->kind == EVENT_BOOT) {
        k->boots++;
        k->brownouts += event->boot.cause == BOOT_BROWNOUT;
        k->have = false;
    }
    k->ids += event->kind == EVENT_ID;
    if (event->kind != EVENT_REPORT)
        return;
    if (!report_has(&event->report, KEY_N)) {
        k->bare++;
        return;
    }
    check_report(&event->report);
    check_growth(k, &event->report);
    note_states(k, &event->report);
    uint32_t step = k->last.tstep; /* not in every report */
    k->last = event->report;
    if (!report_has(&event->report, KEY_TSTEP))
        k->last.tstep = step;
    k->have = true;
}

static void read_bytes(void *where, const char *bytes, size_t len) {
    struct reader *k = where;
    telemetry_feed(&k->telemetry, bytes, len, k->now_us);
}

/* Plays one round of a scene through the decoder, up to its last report. */
static struct simulator_truth play(struct reader *k, const char *scene, uint64_t seed) {
    struct simulator_truth truth = {0};
    int index = simulator_scene_find(scene);
    assert_true(index >= 0);
    memset(k, 0, sizeof *k);
    telemetry_init(&k->telemetry, read_event, k);
    struct simulator *p = simulator_new(index, seed, read_bytes, k);
    while ((k->now_us = simulator_next_us(p)) < scene_us((size_t)index)) {
        uint64_t lines = truth.lines;
        simulator_run(p, k->now_us);
        struct simulator_truth now;
        simulator_truth(p, &now);
        if (now.lines > lines)
            truth = now;
    }
    simulator_free(p);
    telemetry_end(&k->telemetry, k->now_us);
    return truth;
}

static void lines_agree_with_truth(void **state) {
    static const char *const scenes[] = {"calm",   "reduced",  "walk",     "weak",
                                         "busy",   "mismatch", "failsafe", "survey",
                                         "servos", "tired",    "knocked",  "demo"};
    static struct reader k;
    (void)state;
    for (size_t i = 0; i < sizeof scenes / sizeof *scenes; i++) {
        for (uint64_t seed = 1; seed <= 3; seed++) {
            struct simulator_truth truth = play(&k, scenes[i], seed);
            assert_int_equal(k.telemetry.tally.lines_refused, 0);
            assert_int_equal(k.telemetry.tally.lines_good, truth.lines);
            assert_int_equal(k.boots, truth.receiver_restarts + 1);
            /* what came between the last report and a reset was never printed */
            uint64_t slack = 4 * truth.receiver_restarts;
            if (k.arrived > truth.received || k.arrived + slack < truth.received ||
                k.missing > truth.lost || k.missing + slack < truth.lost)
                fail_msg("%s: %llu of %llu, %llu of %llu", scenes[i], (unsigned long long)k.arrived,
                         (unsigned long long)truth.received, (unsigned long long)k.missing,
                         (unsigned long long)truth.lost);
            assert_true(truth.sent >= truth.received + truth.lost);
            assert_int_equal(k.fs_entries, truth.failsafe_entries);
            if (truth.receiver_restarts == 0)
                assert_int_equal(k.longest_gap_ms, truth.longest_gap_ms);
            assert_true(k.ids >= k.boots);
        }
    }
}

static void scenes_show_their_names(void **state) {
    static struct reader k;
    struct simulator_truth truth;
    (void)state;
    for (uint64_t seed = 1; seed <= 5; seed++) {
        truth = play(&k, "calm", seed);
        assert_true(truth.lost * 1000 <= truth.received && truth.receiver_restarts == 0);
        truth = play(&k, "weak", seed);
        assert_true(k.brownouts >= 1 && k.mvmin < 4700 && k.deepest_dip > 120);
        truth = play(&k, "reduced", seed);
        assert_true(k.least_step == 1 && k.last.tstep == 4 && truth.lost > 100);
        truth = play(&k, "busy", seed);
        assert_true(truth.lost * 100 > truth.received && truth.failsafe_entries == 0);
        assert_true(k.noise_hits > 50);
        truth = play(&k, "mismatch", seed);
        assert_true(truth.received == 0 && k.arrived == 0);
        assert_true(k.noise_hits > 50 && k.refused_max > 500);
        truth = play(&k, "failsafe", seed);
        assert_true(truth.failsafe_entries == 3 && k.starts == 3);
        assert_true(k.locked_after > 20); /* reports, linked again with the throttle up */
        truth = play(&k, "servos", seed);
        assert_true(truth.receiver_restarts == 0 && k.mvmin > 5100 && k.deepest_dip > 50);
        truth = play(&k, "tired", seed);
        assert_true(k.brownouts >= 1 && k.mvmin > 4200);
        truth = play(&k, "knocked", seed);
        assert_true(truth.failsafe_entries == 0 && truth.receiver_restarts == 0);
        assert_true(truth.lost >= 6 * 7 && truth.longest_gap_ms < 260); /* 6 knocks of 180 ms */
        truth = play(&k, "bind", seed);
        assert_true(truth.receiver_restarts == 2 && truth.transmitter_restarts == 4);
        truth = play(&k, "mute", seed);
        assert_true(truth.received == 0 && k.arrived == 0 && k.noise_hits == 0);
        truth = play(&k, "forgot", seed);
        assert_true(truth.received == 0 && k.noise_hits > 50);
        truth = play(&k, "stranger", seed);
        assert_true(truth.received > 4000 && truth.failsafe_entries == 0);
        truth = play(&k, "close", seed);
        assert_true(truth.lost * 10 > truth.received && truth.failsafe_entries <= 3);
        truth = play(&k, "image", seed);
        assert_true(truth.received > 400 && truth.received < 700 && k.noise_hits < 50);
        truth = play(&k, "demo", seed);
        assert_true(k.brownouts >= 1 && k.fs_entries >= 1 && k.starts == 2 && k.locked_after > 20);
        assert_true(truth.lost > 50);
    }
}

/* Loss by stop: the stops' times are those of the scene's table. */
static void loss_grows_with_distance(void **state) {
    static const int64_t stop_s[] = {3, 24, 49, 74, 99, 120, 141, 162, 183, 208};
    enum { STOPS = sizeof stop_s / sizeof *stop_s };
    double near = 0, middle = 0, far = 0;
    (void)state;
    for (uint64_t seed = 1; seed <= 3; seed++) {
        static struct reader k;
        double loss[STOPS];
        memset(&k, 0, sizeof k);
        telemetry_init(&k.telemetry, read_event, &k);
        struct simulator *p = simulator_new(simulator_scene_find("walk"), seed, read_bytes, &k);
        for (int i = 0; i < STOPS; i++) {
            k.stops = 0;
            simulator_run(p, stop_s[i] * 1000000);
            k.stops = i + 1;
            simulator_run(p, (stop_s[i] + 15) * 1000000);
            loss[i] = (double)k.stop_lost[i] / (double)(k.stop_got[i] + k.stop_lost[i] + 1);
        }
        simulator_free(p);
        near += (loss[0] + loss[1] + loss[2]) / 9;
        middle += (loss[4] + loss[5] + loss[6]) / 9;
        far += (loss[8] + loss[9]) / 6;
    }
    assert_true(near < 0.005);
    assert_true(middle > 4 * near && middle > 0.01);
    assert_true(far > 3 * middle && far > 0.3);
}

static void bare_is_bare(void **state) {
    static struct reader k;
    (void)state;
    struct simulator_truth truth = play(&k, "bare", 2);
    /* a bare line without its head looks whole, so that the first one isn't believed */
    assert_int_equal(k.telemetry.tally.refused[DAMAGE_JOINED], 1);
    assert_int_equal(k.telemetry.tally.lines_refused, 1);
    assert_int_equal(k.bare, truth.lines - 1);
    assert_int_equal(k.boots + k.ids, 0);
}

struct damage_count {
    uint64_t reports, damages, boots, holes;
    uint32_t n;
};

static void count_damage(void *context, const struct event *event) {
    struct damage_count *d = context;
    d->damages += event->kind == EVENT_DAMAGE;
    if (event->kind == EVENT_BOOT) {
        d->boots++;
        d->n = 0;
    }
    if (event->kind == EVENT_REPORT && report_has(&event->report, KEY_N)) {
        d->reports++;
        d->holes += event->report.n - d->n - 1;
        d->n = event->report.n;
    }
}

/* The decoder must find no more good lines than the cable let through, and call the rest damage. */
static void damage_is_damage(void **state) {
    static struct telemetry t;
    struct damage_count d = {0};
    struct tape tape = {0};
    struct simulator_truth truth;
    (void)state;
    int scene = simulator_scene_find("damaged");
    struct simulator *p = simulator_new(scene, 6, record, &tape);
    simulator_run(p, scene_us((size_t)scene));
    simulator_truth(p, &truth);
    simulator_free(p);
    telemetry_init(&t, count_damage, &d);
    telemetry_feed(&t, tape.bytes, tape.len, 0);
    telemetry_end(&t, 1);
    assert_true(t.tally.bytes_good + t.tally.bytes_refused == tape.len);
    assert_true(d.damages > 5 && d.holes > 5);
    assert_true(t.tally.lines_good < truth.lines);
    assert_true(t.tally.lines_good > truth.lines * 9 / 10);
    assert_int_equal(d.boots, truth.receiver_restarts + 1);
    free(tape.bytes);
}

/* The text of the truth carries the same counts, one key=value a line. */
static void truth_in_words(void **state) {
    struct tape tape = {0};
    struct tape text = {0};
    struct simulator_truth truth;
    char wanted[64];
    (void)state;
    struct simulator *p = simulator_new(simulator_scene_find("failsafe"), 9, record, &tape);
    simulator_run(p, 60000000);
    simulator_truth(p, &truth);
    simulator_truth_text(p, record, &text);
    record(&text, "", 1);
    snprintf(wanted, sizeof wanted, "\nreceived=%llu\n", (unsigned long long)truth.received);
    assert_non_null(strstr(text.bytes, wanted));
    assert_non_null(strstr(text.bytes, "scene=failsafe\nseed=9\n"));
    assert_non_null(strstr(text.bytes, "event=16000000,transmitter-off,0\n"));
    int entries = 0;
    for (const char *at = text.bytes; (at = strstr(at, ",failsafe-entered,")) != NULL; at++)
        entries++;
    assert_int_equal(entries, truth.failsafe_entries);
    for (char *line = strtok(text.bytes, "\n"); line != NULL; line = strtok(NULL, "\n"))
        assert_non_null(strchr(line, '='));
    simulator_free(p);
    free(tape.bytes);
    free(text.bytes);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(draws_as_published),
        cmocka_unit_test(log2_as_libm),
        cmocka_unit_test(distributions),
        cmocka_unit_test(path_as_recommended),
        cmocka_unit_test(fading_keeps_the_power),
        cmocka_unit_test(arrivals_at_the_edge),
        cmocka_unit_test(counts_by_sequence),
        cmocka_unit_test(lowest_supply_is_kept),
        cmocka_unit_test(repeats),
        cmocka_unit_test(prints_when_it_said),
        cmocka_unit_test(unknown_scenes),
        cmocka_unit_test(lines_are_clean),
        cmocka_unit_test(lines_agree_with_truth),
        cmocka_unit_test(scenes_show_their_names),
        cmocka_unit_test(loss_grows_with_distance),
        cmocka_unit_test(bare_is_bare),
        cmocka_unit_test(damage_is_damage),
        cmocka_unit_test(truth_in_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
