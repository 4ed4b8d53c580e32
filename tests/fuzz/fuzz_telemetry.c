/* libFuzzer target: the first byte sets the chunk size, the rest is fed to the decoder, in those
 * chunks and whole; both must give the same events, and every byte must be in one of them.
 * Build with clang -fsanitize=fuzzer,address,undefined and the files of telemetry/ and base/. */
#include <stdlib.h>

#include "telemetry/telemetry.h"

struct heard {
    uint64_t bytes, digest;
};

static void hear(void *context, const struct event *e) {
    struct heard *h = context;
    unsigned reason = e->kind == EVENT_DAMAGE ? e->damage.reason : 0;
    h->bytes += e->bytes;
    h->digest = h->digest * UINT64_C(1099511628211) ^ (e->kind + 16 * reason + 256ull * e->bytes);
}

static struct heard decode(const uint8_t *data, size_t size, size_t chunk) {
    struct heard h = {0, 0};
    struct telemetry t;
    telemetry_init(&t, hear, &h);
    for (size_t at = 0; at < size; at += chunk) {
        telemetry_feed(&t, (const char *)data + at, size - at < chunk ? size - at : chunk, 0);
        if (h.bytes + t.len != t.tally.bytes_in || t.len > LINE_BYTES_MAX + 1)
            abort();
    }
    telemetry_end(&t, 0);
    return h;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    struct heard whole = decode(data + (size > 0), size - (size > 0), SIZE_MAX / 2);
    struct heard parts = decode(data + (size > 0), size - (size > 0), size > 0 ? data[0] + 1u : 1);
    if (whole.bytes != size - (size > 0) || whole.digest != parts.digest)
        abort();
    return 0;
}
