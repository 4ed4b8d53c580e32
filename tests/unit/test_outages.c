/* Outages by length.  The bins are the 1-2-5 series per decade (common practice). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
/* cmocka needs the four above first */
#include <cmocka.h>

#include "dice.h"
#include "link/outages.h"

static void test_bins(void **state) {
    (void)state;
    int64_t edge = 100;
    static const int64_t steps[] = {1, 2, 5};
    assert_int_equal(outages_bin_from_ms(0), 0);
    for (unsigned bin = 1; bin < OUTAGES_BINS; bin++) {
        int64_t from = edge * steps[(bin - 1) % 3];
        assert_int_equal(outages_bin_from_ms(bin), from);
        assert_int_equal(outages_bin(from), bin);
        assert_int_equal(outages_bin(from - 1), bin - 1);
        if (bin % 3 == 0)
            edge *= 10;
    }
    assert_int_equal(outages_bin_from_ms(OUTAGES_BINS - 1), 1000000);
    assert_int_equal(outages_bin(INT64_MAX), OUTAGES_BINS - 1);
    assert_int_equal(outages_bin(0), 0);
}

static void test_sums(void **state) {
    (void)state;
    struct outages o;
    outages_init(&o);
    assert_int_equal(o.longest_high_ms, 0);
    outages_add(&o, 430, 430);
    outages_add(&o, 460, 530); /* its middle, 495, lies under 500; it may be longer */
    outages_add(&o, 480, 540); /* 510 */
    outages_add(&o, 90000, 90050);
    assert_int_equal(o.count, 4);
    assert_int_equal(o.astride, 2);
    assert_int_equal(o.bin[2], 2); /* from 200 ms */
    assert_int_equal(o.bin[3], 1); /* from 500 ms */
    assert_int_equal(o.bin[9], 1); /* from 50 s */
    assert_int_equal(o.total_low_ms, 91370);
    assert_int_equal(o.total_high_ms, 91550);
    assert_int_equal(o.longest_low_ms, 90000);
    assert_int_equal(o.longest_high_ms, 90050);
}

static void test_random(void **state) {
    (void)state;
    struct dice d = {125};
    struct outages o;
    uint64_t bin[OUTAGES_BINS] = {0}, astride = 0;
    outages_init(&o);
    for (int i = 0; i < 10000; i++) {
        int64_t low = (int64_t)(10 * pow(10, 6 * dice_share(&d)));
        int64_t high = low + (int64_t)dice_below(&d, 60);
        outages_add(&o, low, high);
        for (unsigned b = 0; b < OUTAGES_BINS; b++) {
            int64_t from = outages_bin_from_ms(b);
            int64_t to = b + 1 < OUTAGES_BINS ? outages_bin_from_ms(b + 1) : INT64_MAX;
            bin[b] += (low + high) / 2 >= from && (low + high) / 2 < to;
            astride += low < to && high >= to;
        }
    }
    uint64_t all = 0;
    for (unsigned b = 0; b < OUTAGES_BINS; b++) {
        assert_int_equal(o.bin[b], bin[b]);
        assert_true(bin[b] > 0);
        all += o.bin[b];
    }
    assert_int_equal(all, o.count);
    assert_int_equal(o.astride, astride);
    assert_true(astride > 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bins),
        cmocka_unit_test(test_sums),
        cmocka_unit_test(test_random),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
