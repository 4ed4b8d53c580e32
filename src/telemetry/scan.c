#include "telemetry/scan.h"

#include "telemetry/scan_look.h"

_Static_assert((int)SCAN_STEP == (int)LOOK_BYTES, "a mask a look");

void scan_line(struct slice line, struct scan *out) {
    struct look l;
    size_t at = 0;
    uint64_t *mask = out->spaces, last = 0;
    look_begin(&l);
    for (; at + SCAN_STEP <= line.len; at += SCAN_STEP)
        *mask++ = look(&l, line.at + at);
    size_t left = line.len - at;
    if (left > 0 && at > 0) { /* some of the last 64 bytes are looked at twice */
        last = look(&l, line.at + line.len - SCAN_STEP) >> (SCAN_STEP - left);
    } else if (left > 0) {
        char bytes[SCAN_STEP];
        memset(bytes, '~', sizeof bytes);
        memcpy(bytes, line.at, left);
        last = look(&l, bytes);
    }
    *mask = last | UINT64_MAX << left;
    out->line = line;
    out->plain = look_plain(&l);
}
