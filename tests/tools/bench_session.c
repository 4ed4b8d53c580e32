/* How fast a recording is read: reads standard input in blocks of 64 KiB and folds every report.
 * cc -O2 -std=c11 -D_GNU_SOURCE -Isrc tests/tools/bench_session.c src/session/?*.c \
 *   src/telemetry/?*.c src/base/?*.c */
#include <inttypes.h>
#include <stdio.h>
#include <time.h>
#include <unistd.h>

#include "session/session.h"

struct sums {
    uint64_t lost;
    int64_t channels;
};

static void add(void *context, const struct event *event) {
    struct sums *s = context;
    if (event->kind != EVENT_REPORT)
        return;
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
    static struct session_reader r;
    struct sums s = {0};
    uint64_t bytes = 0;
    ssize_t len;
    double start = seconds();
    session_reader_init(&r, add, NULL, &s);
    while ((len = read(STDIN_FILENO, block, sizeof block)) > 0) {
        session_reader_feed(&r, block, (size_t)len);
        bytes += (uint64_t)len;
    }
    session_reader_end(&r);
    double took = seconds() - start;
    printf("%" PRIu64 " bytes, %" PRIu64 " rows, %" PRIu64 " bad, x %" PRIu64 ", channels %" PRId64
           ", %.3f s, %.2f Mrows/s, %.0f MB/s\n",
           bytes, r.rows_good, r.rows_bad, s.lost, s.channels, took,
           (double)r.rows_good / took / 1e6, (double)bytes / took / 1e6);
    return len < 0;
}
