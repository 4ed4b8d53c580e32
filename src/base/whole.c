#include "base/whole.h"

#include <math.h>

int64_t whole_i64(double value) {
    if (isnan(value))
        return 0;
    if (value >= 0x1p63)
        return INT64_MAX;
    return value > -0x1p63 ? (int64_t)value : INT64_MIN;
}

int32_t whole_i32(double value) {
    int64_t wide = whole_i64(value);
    return wide < INT32_MIN ? INT32_MIN : wide > INT32_MAX ? INT32_MAX : (int32_t)wide;
}

uint64_t whole_u64(double value) {
    if (!(value > 0))
        return 0;
    if (value >= 0x1p64)
        return UINT64_MAX;
    uint64_t half = value < 0x1p63 ? 0 : UINT64_C(1) << 63;
    return half + (uint64_t)whole_i64(value - (double)half);
}

uint32_t whole_u32(double value) {
    uint64_t wide = whole_u64(value);
    return wide < UINT32_MAX ? (uint32_t)wide : UINT32_MAX;
}
