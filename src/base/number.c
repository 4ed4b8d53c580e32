#include "base/number.h"

#include <string.h>

enum { SURE_DIGITS = 19 }; /* so many fit into 64 bits, whatever they are */

enum number_fault number_u64(struct slice s, uint64_t *out) {
    uint64_t value = 0;
    bool overflow = false;
    if (s.len == 0)
        return NUMBER_BAD;
    for (size_t i = 0; i < s.len; i++) {
        unsigned digit = (unsigned)(unsigned char)s.at[i] - '0';
        if (digit > 9)
            return NUMBER_BAD;
        if (i >= SURE_DIGITS && value > (UINT64_MAX - digit) / 10)
            overflow = true;
        value = value * 10 + digit;
    }
    if (overflow)
        return NUMBER_RANGE;
    *out = value;
    return NUMBER_OK;
}

enum number_fault number_u32(struct slice s, uint32_t *out) {
    /* Up to nine digits can't overflow, and nearly every number on the wire is that short. */
    if (s.len - 1 < 9) {
        uint32_t value = 0;
        for (size_t i = 0; i < s.len; i++) {
            unsigned digit = (unsigned)(unsigned char)s.at[i] - '0';
            if (digit > 9)
                return NUMBER_BAD;
            value = value * 10 + digit;
        }
        *out = value;
        return NUMBER_OK;
    }
    uint64_t wide;
    enum number_fault fault = number_u64(s, &wide);
    if (fault != NUMBER_OK)
        return fault;
    if (wide > UINT32_MAX)
        return NUMBER_RANGE;
    *out = (uint32_t)wide;
    return NUMBER_OK;
}

enum number_fault number_i64(struct slice s, int64_t *out) {
    bool minus = s.len > 0 && s.at[0] == '-';
    uint64_t size;
    enum number_fault fault = number_u64(minus ? slice_sub(s, 1, s.len) : s, &size);
    if (fault != NUMBER_OK)
        return fault;
    if (size > (uint64_t)INT64_MAX + minus)
        return NUMBER_RANGE;
    /* The least value has no positive twin: it is reached by one step more. */
    *out = minus && size > 0 ? -(int64_t)(size - 1) - 1 : (int64_t)size;
    return NUMBER_OK;
}

enum number_fault number_i32(struct slice s, int32_t *out) {
    int64_t wide;
    enum number_fault fault = number_i64(s, &wide);
    if (fault != NUMBER_OK)
        return fault;
    if (wide < INT32_MIN || wide > INT32_MAX)
        return NUMBER_RANGE;
    *out = (int32_t)wide;
    return NUMBER_OK;
}

enum number_fault number_decimal(struct slice s, double *out) {
    bool minus = s.len > 0 && s.at[0] == '-';
    if (minus)
        s = slice_sub(s, 1, s.len);
    size_t point = slice_find(s, '.');
    struct slice whole = slice_sub(s, 0, point);
    struct slice fraction = slice_sub(s, point + 1, s.len);
    if (point < s.len && fraction.len == 0)
        return NUMBER_BAD;
    uint64_t high = 0, low = 0;
    if (number_u64(whole, &high) == NUMBER_BAD)
        return NUMBER_BAD;
    if (fraction.len > 0 && number_u64(fraction, &low) == NUMBER_BAD)
        return NUMBER_BAD;
    if (whole.len + fraction.len > 15)
        return NUMBER_RANGE;
    /* Both the digits and the power of ten are exact doubles, so one division rounds once. */
    double scale = 1;
    for (size_t i = 0; i < fraction.len; i++)
        scale *= 10;
    double value = ((double)high * scale + (double)low) / scale;
    *out = minus ? -value : value;
    return NUMBER_OK;
}

/* One more than each digit is worth, so that 0 is no digit. */
static const unsigned char hex_digits[256] = {
    ['0'] = 1,  ['1'] = 2,  ['2'] = 3,  ['3'] = 4,  ['4'] = 5,  ['5'] = 6,  ['6'] = 7,  ['7'] = 8,
    ['8'] = 9,  ['9'] = 10, ['A'] = 11, ['B'] = 12, ['C'] = 13, ['D'] = 14, ['E'] = 15, ['F'] = 16,
    ['a'] = 11, ['b'] = 12, ['c'] = 13, ['d'] = 14, ['e'] = 15, ['f'] = 16,
};

bool number_hex(struct slice s, unsigned digits, uint32_t *out) {
    uint32_t value = 0;
    if (s.len != digits || digits < 1 || digits > 8)
        return false;
    for (size_t i = 0; i < s.len; i++) {
        unsigned digit = hex_digits[(unsigned char)s.at[i]];
        if (digit == 0)
            return false;
        value = value << 4 | (digit - 1);
    }
    *out = value;
    return true;
}

size_t number_put_u64(char out[static NUMBER_TEXT_MAX], uint64_t value) {
    char backwards[NUMBER_TEXT_MAX];
    size_t len = 0;
    do {
        backwards[len++] = (char)('0' + value % 10);
        value /= 10;
    } while (value > 0);
    for (size_t i = 0; i < len; i++)
        out[i] = backwards[len - 1 - i];
    return len;
}

size_t number_put_i64(char out[static NUMBER_TEXT_MAX], int64_t value) {
    if (value >= 0)
        return number_put_u64(out, (uint64_t)value);
    char digits[NUMBER_TEXT_MAX];
    size_t len = number_put_u64(digits, 0 - (uint64_t)value);
    out[0] = '-';
    memcpy(out + 1, digits, len);
    return len + 1;
}
