/* libFuzzer target: the first byte sets the chunk size, the rest is fed to the decoder.
 * clang -std=c11 -D_GNU_SOURCE -g -O1 -fsanitize=fuzzer,address,undefined -Isrc
 *     tests/fuzz/fuzz_telemetry.c src/telemetry/?*.c src/base/?*.c -o fuzz_telemetry */
#include <stdlib.h>

#include "telemetry/telemetry.h"

static uint64_t bytes_heard;

static void hear(void *context, const struct event *event) {
    const struct telemetry *t = context;
    bytes_heard += event->bytes;
    if (bytes_heard != t->tally.bytes_good + t->tally.bytes_refused || event->bytes == 0)
        abort();
    if (event->kind == EVENT_REPORT && (event->report.ch_count < 1 || event->report.ch_count > 16))
        abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    struct telemetry t;
    size_t chunk = size > 0 ? (size_t)data[0] + 1 : 1;
    bytes_heard = 0;
    telemetry_init(&t, hear, &t);
    for (size_t at = 1; at < size; at += chunk) {
        size_t len = size - at < chunk ? size - at : chunk;
        telemetry_feed(&t, (const char *)data + at, len, (int64_t)at * 50000);
        if (t.tally.bytes_in != bytes_heard + t.len || t.len > LINE_BYTES_MAX + 1)
            abort();
    }
    telemetry_end(&t, TIME_UNKNOWN);
    if (size > 0 && (bytes_heard != size - 1 || t.tally.bytes_in != bytes_heard))
        abort();
    return 0;
}
