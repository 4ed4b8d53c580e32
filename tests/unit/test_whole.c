/* Floating numbers as whole ones: as a cast where the type can hold it, else its nearest end. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "base/whole.h"
#include "dice.h"

static void test_ends(void **state) {
    (void)state;
    static const struct {
        double value;
        int32_t i32;
        int64_t i64;
        uint32_t u32;
        uint64_t u64;
    } rows[] = {
        {0, 0, 0, 0, 0},
        {-0.0, 0, 0, 0, 0},
        {0.999, 0, 0, 0, 0},
        {-0.999, 0, 0, 0, 0},
        {-1, -1, -1, 0, 0},
        {2.5, 2, 2, 2, 2},
        {-2.5, -2, -2, 0, 0},
        {2147483647.5, INT32_MAX, 2147483647, 2147483647, 2147483647},
        {2147483648.0, INT32_MAX, INT64_C(2147483648), 2147483648u, 2147483648u},
        {-2147483648.9, INT32_MIN, -INT64_C(2147483648), 0, 0},
        {-2147483649.0, INT32_MIN, -INT64_C(2147483649), 0, 0},
        {4294967295.9, INT32_MAX, INT64_C(4294967295), UINT32_MAX, UINT32_MAX},
        {4294967296.0, INT32_MAX, INT64_C(4294967296), UINT32_MAX, UINT64_C(4294967296)},
        {0x1.fffffffffffffp62, INT32_MAX, INT64_C(0x7ffffffffffffc00), UINT32_MAX,
         UINT64_C(0x7ffffffffffffc00)},
        {0x1p63, INT32_MAX, INT64_MAX, UINT32_MAX, UINT64_C(1) << 63},
        {-0x1p63, INT32_MIN, INT64_MIN, 0, 0},
        {0x1.fffffffffffffp63, INT32_MAX, INT64_MAX, UINT32_MAX, UINT64_C(0xfffffffffffff800)},
        {0x1p64, INT32_MAX, INT64_MAX, UINT32_MAX, UINT64_MAX},
        {1e300, INT32_MAX, INT64_MAX, UINT32_MAX, UINT64_MAX},
        {-1e300, INT32_MIN, INT64_MIN, 0, 0},
        {HUGE_VAL, INT32_MAX, INT64_MAX, UINT32_MAX, UINT64_MAX},
        {-HUGE_VAL, INT32_MIN, INT64_MIN, 0, 0},
        {NAN, 0, 0, 0, 0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_true(whole_i32(rows[i].value) == rows[i].i32);
        assert_true(whole_i64(rows[i].value) == rows[i].i64);
        assert_true(whole_u32(rows[i].value) == rows[i].u32);
        assert_true(whole_u64(rows[i].value) == rows[i].u64);
    }
}

static void test_as_a_cast(void **state) {
    (void)state;
    struct dice dice = {3};
    for (int i = 0; i < 100000; i++) {
        double size = ldexp(1, (int)dice_below(&dice, 31));
        double value = size * ((double)dice_below(&dice, 1000001) / 1000000);
        assert_true(whole_i32(value) == (int32_t)value && whole_i32(-value) == (int32_t)-value);
        assert_true(whole_i64(value * size) == (int64_t)(value * size));
        assert_true(whole_u32(value * 2) == (uint32_t)(value * 2));
        assert_true(whole_u64(value * size) == (uint64_t)(value * size));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_ends),
                                       cmocka_unit_test(test_as_a_cast)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
