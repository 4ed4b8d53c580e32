#include "telemetry/scan.h"

#include "base/mask.h"

_Static_assert((int)SCAN_STEP == (int)MASK_BYTES, "a mask a step");

void scan_line(struct slice line, struct scan *out) {
    struct odd odd;
    size_t at = 0;
    uint64_t *mask = out->spaces, last = 0;
    odd_begin(&odd);
    for (; at + SCAN_STEP <= line.len; at += SCAN_STEP) {
        *mask++ = mask_of(line.at + at, ' ');
        odd_add(&odd, line.at + at);
    }
    size_t left = line.len - at;
    if (left > 0) {
        char bytes[SCAN_STEP];
        const char *end = line.at + line.len;
        if (at == 0) {
            memset(bytes, '~', sizeof bytes - left);
            memcpy(bytes + sizeof bytes - left, line.at, left);
            end = bytes + sizeof bytes;
        } /* else some of the last 64 bytes are looked at twice */
        last = mask_of(end - SCAN_STEP, ' ') >> (SCAN_STEP - left);
        odd_add(&odd, end - SCAN_STEP);
    }
    *mask = last | UINT64_MAX << left;
    out->line = line;
    out->plain = odd_none(&odd);
}
