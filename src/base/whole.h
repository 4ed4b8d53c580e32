/* A floating number as a whole one: the only place where one becomes the other.  The fraction is
 * cut off, as a cast does; what the type can't hold becomes its nearest end, where a cast isn't
 * defined.  NaN becomes 0: who may hold one asks before. */
#ifndef BASE_WHOLE_H
#define BASE_WHOLE_H

#include <stdint.h>

static inline int64_t whole_i64(double value) {
    if (value > -9223372036854775808.0 && value < 9223372036854775808.0)
        return (int64_t)value;
    return value > 0 ? INT64_MAX : value < 0 ? INT64_MIN : 0;
}

static inline int32_t whole_i32(double value) {
    if (value > -2147483648.0 && value < 2147483648.0)
        return (int32_t)value;
    return value > 0 ? INT32_MAX : value < 0 ? INT32_MIN : 0;
}

static inline uint64_t whole_u64(double value) {
    if (value > 0 && value < 9223372036854775808.0)
        return (uint64_t)(int64_t)value;
    if (!(value > 0))
        return 0;
    return value < 18446744073709551616.0 ? (uint64_t)value : UINT64_MAX;
}

static inline uint32_t whole_u32(double value) {
    if (value > 0 && value < 4294967296.0)
        return (uint32_t)value;
    return value > 0 ? UINT32_MAX : 0;
}

#endif
