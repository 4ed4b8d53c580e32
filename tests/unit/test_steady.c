/* Loss by blocks of time, against a reference that places each packet by itself. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
/* cmocka needs the four above first */
#include <cmocka.h>

#include "dice.h"
#include "link/steady.h"

static const struct packet_step ten = {
    .counted = true, .got = 8, .lost = 2, .order_len = 10, .order = 0x3F3};

static void assert_block(const struct steady *s, uint32_t i, uint64_t got, uint64_t lost) {
    if (s->block[i].got != got || s->block[i].lost != lost)
        fail_msg("block %u: %llu got, %llu lost; not %llu, %llu", i,
                 (unsigned long long)s->block[i].got, (unsigned long long)s->block[i].lost,
                 (unsigned long long)got, (unsigned long long)lost);
}

/* 10 packets from 1500 (exclusive) to 2500, one every 100 ms, the third and fourth missing: at 1800
 * and 1900.  Those at 1600 to 1900 lie in the first block; the one at 2000 is the second block's.
 */
static void test_placing(void **state) {
    (void)state;
    struct steady s;
    struct packet_step one = {.counted = true, .got = 1, .order_len = 1, .order = 1};
    steady_init(&s);
    steady_step(&s, &one, TIME_UNKNOWN, 0);
    steady_step(&s, &ten, 1500, 2500);
    assert_int_equal(s.full, 1);
    assert_block(&s, 0, 1 + 2, 2);
    assert_block(&s, 1, 6, 0);
}

/* An outage of 10 s at 100 a second: its loss belongs to the time between the two good packets. */
static void test_outage(void **state) {
    (void)state;
    struct steady s;
    struct packet_step one = {.counted = true, .got = 1, .order_len = 1, .order = 1};
    struct packet_step gap = {
        .counted = true, .got = 1, .lost = 999, .order_len = 1, .order = 1, .missing_before = 999};
    steady_init(&s);
    steady_step(&s, &one, 0, 1000);
    steady_step(&s, &gap, 1000, 11000);
    static const uint64_t lost[] = {99, 200, 200, 200, 200, 100};
    for (uint32_t i = 0; i < 6; i++)
        assert_block(&s, i, i == 0 || i == 5 ? 1 : 0, lost[i]);
}

/* Not observed, not counted, without a time. */
static void test_nothing(void **state) {
    (void)state;
    struct steady s;
    struct steady_block out[STEADY_BLOCKS], rest;
    struct packet_step none = {.counted = true}, unknown = {.got = 5, .lost = 5};
    int64_t block_ms;
    steady_init(&s);
    steady_step(&s, &none, 0, 100);
    steady_step(&s, &unknown, 0, 100);
    assert_true(s.begin_ms == TIME_UNKNOWN);
    assert_int_equal(steady_blocks(&s, 0, out, &block_ms, &rest), 0);
    assert_int_equal(rest.got + rest.lost, 0);
    steady_step(&s, &ten, TIME_UNKNOWN, TIME_UNKNOWN);
    assert_int_equal(s.untimed.got, 8);
    assert_int_equal(s.untimed.lost, 2);
    /* 50 s without a packet between two steps leave no block to be handed out */
    steady_step(&s, &ten, 0, 1000);
    steady_step(&s, &ten, 51000, 52000);
    assert_int_equal(s.full, 26);
    assert_int_equal(steady_blocks(&s, 0, out, &block_ms, &rest), 2);
    assert_int_equal(block_ms, 2000);
    assert_int_equal(out[0].got, 8);
    assert_int_equal(out[1].lost, 2);
    assert_int_equal(out[1].got, 7);
    assert_int_equal(rest.got, 1); /* the one at 52000 */
    assert_int_equal(rest.lost, 0);
}

/* --- the reference ---------------------------------------------------------------------------- */

enum { TIMES_MAX = 400000 };

struct placed {
    int64_t at_ms;
    bool arrived;
};

static struct placed *placed;
static size_t placed_count;

static void place(const struct packet_step *step, int64_t from_ms, int64_t to_ms) {
    uint64_t packets = step->got + step->lost, older = packets - step->order_len, got = 0;
    uint64_t older_got = step->got - (uint64_t)__builtin_popcountll(step->order);
    for (uint64_t i = 0; i < packets; i++) {
        int64_t after = (int64_t)((i + 1) * (uint64_t)(to_ms - from_ms) / packets);
        bool arrived;
        if (i >= older)
            arrived = (step->order >> (i - older) & 1u) != 0;
        else /* so many of the older ones by now, as evenly as they go */
            arrived = (i + 1) * older_got / older > got;
        got += arrived;
        assert_true(placed_count < TIMES_MAX);
        placed[placed_count++] = (struct placed){from_ms + after, arrived};
    }
}

static struct packet_step roll_step(struct dice *d) {
    struct packet_step s = {.counted = true};
    uint64_t kind = dice_below(d, 10);
    s.order_len = (uint32_t)dice_below(d, 65);
    for (uint32_t i = 0; i < s.order_len; i++)
        s.order |= (uint64_t)dice_chance(d, 0.8) << i;
    s.got = (uint64_t)__builtin_popcountll(s.order);
    s.lost = s.order_len - s.got;
    if (kind == 0) { /* an outage longer than the pattern */
        s.missing_before = dice_below(d, 300);
        s.lost += s.missing_before;
    } else if (kind == 1) { /* unknown order */
        s.got += dice_below(d, 40);
        s.lost += dice_below(d, 40);
    }
    return s;
}

static void check_blocks(const struct steady *s, int64_t least_ms) {
    static struct steady_block out[STEADY_BLOCKS], want[STEADY_BLOCKS + 1];
    struct steady_block rest;
    int64_t block_ms;
    uint32_t count = steady_blocks(s, least_ms, out, &block_ms, &rest), k = 0;
    assert_true(block_ms >= least_ms && block_ms % s->block_ms == 0);
    assert_true(block_ms < least_ms + s->block_ms || block_ms == s->block_ms);
    int64_t now = placed[placed_count - 1].at_ms;
    int64_t complete = (now - s->begin_ms) / block_ms;
    memset(want, 0, sizeof want);
    struct steady_block left = {0};
    for (size_t i = 0; i < placed_count; i++) {
        int64_t number = (placed[i].at_ms - s->begin_ms) / block_ms;
        struct steady_block *to = number < complete ? &want[number] : &left;
        to->got += placed[i].arrived;
        to->lost += !placed[i].arrived;
    }
    for (int64_t i = 0; i < complete; i++) {
        if (want[i].got + want[i].lost == 0)
            continue;
        assert_true(k < count);
        assert_int_equal(out[k].got, want[i].got);
        assert_int_equal(out[k].lost, want[i].lost);
        k++;
    }
    assert_int_equal(k, count);
    assert_int_equal(rest.got, left.got);
    assert_int_equal(rest.lost, left.lost);
}

static void test_random(void **state) {
    (void)state;
    struct dice d = {512};
    placed = malloc(TIMES_MAX * sizeof *placed);
    assert_non_null(placed);
    bool merged = false;
    for (int round = 0; round < 60; round++) {
        struct steady s, slow;
        int64_t at = (int64_t)dice_below(&d, 3000) - 1500, pause = 0;
        uint64_t steps = 1 + dice_below(&d, 4000), pace = 1 + dice_below(&d, 2000);
        steady_init(&s);
        steady_init(&slow);
        placed_count = 0;
        for (uint64_t i = 0; i < steps; i++) {
            struct packet_step step = roll_step(&d);
            if (dice_chance(&d, 0.01))
                pause = (int64_t)dice_below(&d, 20000); /* a restart: not observed */
            int64_t to = at + pause + 1 + (int64_t)dice_below(&d, pace);
            if (step.got + step.lost == 0)
                continue;
            steady_step(&s, &step, at + pause, to);
            steady_place(&slow, &step, at + pause, to);
            place(&step, at + pause, to);
            at = to;
            pause = 0;
        }
        if (placed_count == 0)
            continue;
        assert_true(s.full < STEADY_BLOCKS);
        assert_memory_equal(&s, &slow, sizeof s);
        merged |= s.block_ms > STEADY_BLOCK_MS;
        check_blocks(&s, 0);
        check_blocks(&s, STEADY_BLOCK_MS);
        check_blocks(&s, (int64_t)dice_below(&d, 60000));
    }
    free(placed);
    assert_true(merged);
}

/* Times that nobody knows, that go back, that stand still: in place or not, it is the same. */
static void test_in_place(void **state) {
    (void)state;
    struct dice d = {2000};
    uint64_t untimed = 0;
    for (int round = 0; round < 200; round++) {
        struct steady quick, slow;
        int64_t at = (int64_t)dice_below(&d, 5000) - 2500;
        steady_init(&quick);
        steady_init(&slow);
        for (int i = 0; i < 400; i++) {
            struct packet_step step = roll_step(&d);
            int64_t from = at - 200 + (int64_t)dice_below(&d, 400), to = at;
            step.counted = dice_chance(&d, 0.95);
            if (dice_chance(&d, 0.05))
                from = TIME_UNKNOWN;
            if (dice_chance(&d, 0.05))
                to = TIME_UNKNOWN;
            steady_step(&quick, &step, from, to);
            steady_place(&slow, &step, from, to);
            assert_memory_equal(&quick, &slow, sizeof quick);
            at += (int64_t)dice_below(&d, dice_chance(&d, 0.02) ? 30000 : 120);
        }
        untimed += quick.untimed.got;
    }
    assert_true(untimed > 0);
}

/* Ten days at 100 a second stay within the same memory. */
static void test_long(void **state) {
    (void)state;
    struct steady s;
    struct steady_block out[STEADY_BLOCKS], rest;
    int64_t block_ms, at = 0;
    uint64_t got = 0, lost = 0;
    steady_init(&s);
    for (; at < INT64_C(864000000); at += 100000) {
        struct packet_step step = {.counted = true, .got = 9000, .lost = 1000};
        steady_step(&s, &step, at, at + 100000);
    }
    assert_true(s.full >= STEADY_BLOCKS / 2 && s.full < STEADY_BLOCKS);
    uint32_t count = steady_blocks(&s, 0, out, &block_ms, &rest);
    for (uint32_t i = 0; i < count; i++) {
        got += out[i].got;
        lost += out[i].lost;
        assert_true(fabs((double)out[i].lost / (double)(out[i].got + out[i].lost) - 0.1) < 0.001);
    }
    assert_int_equal(got + rest.got, UINT64_C(8640) * 9000);
    assert_int_equal(lost + rest.lost, UINT64_C(8640) * 1000);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_placing),  cmocka_unit_test(test_outage),
        cmocka_unit_test(test_nothing),  cmocka_unit_test(test_random),
        cmocka_unit_test(test_in_place), cmocka_unit_test(test_long),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
