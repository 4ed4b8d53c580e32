/* How fast lines are decoded: reads standard input in blocks of 64 KiB and folds every report.
 * cc -O2 -std=c11 -D_GNU_SOURCE -Isrc tests/tools/bench_decode.c src/telemetry/?*.c src/base/?*.c
 */
#include <inttypes.h>
#include <stdio.h>
#include <time.h>
#include <unistd.h>

#include "telemetry/telemetry.h"

struct sums {
    uint64_t reports, lost;
    int64_t channels;
};

static void add(void *context, const struct event *event) {
    struct sums *s = context;
    if (event->kind != EVENT_REPORT)
        return;
    s->reports++;
    s->lost += event->report.pat_len - report_arrived(&event->report);
    for (uint32_t i = 0; i < event->report.ch_count; i++)
        s->channels += event->report.ch[i] == CHANNEL_OFF ? 0 : event->report.ch[i];
}

static double seconds(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

int main(void) {
    static char block[64 << 10];
    struct telemetry t;
    struct sums s = {0};
    ssize_t len;
    double start = seconds();
    telemetry_init(&t, add, &s);
    while ((len = read(STDIN_FILENO, block, sizeof block)) > 0)
        telemetry_feed(&t, block, (size_t)len, TIME_UNKNOWN);
    telemetry_end(&t, TIME_UNKNOWN);
    double took = seconds() - start;
    printf("%" PRIu64 " bytes, %" PRIu64 " reports, %" PRIu64 " refused, x %" PRIu64
           ", channels %" PRId64 ", %.3f s, %.0f MB/s\n",
           t.tally.bytes_in, s.reports, t.tally.lines_refused, s.lost, s.channels, took,
           (double)t.tally.bytes_in / took / 1e6);
    return len < 0;
}
