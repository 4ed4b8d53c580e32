/* One road: the same lines give the same figures, to the last bit, whichever way they come: a raw
 * capture read whole, in pieces or byte by byte; the recording made of it; a live run with ticks in
 * between, and the recording made of that.
 *
 * usage: test_road CAPTURE... */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "link/measure.h"
#include "session/session.h"
#include "telemetry/telemetry.h"

static char **captures;
static int capture_count;

struct bytes {
    char *at;
    size_t len, size;
};

static void bytes_add(struct bytes *b, const char *at, size_t len) {
    if (b->len + len > b->size) {
        b->size = (b->len + len) * 2 + 4096;
        b->at = realloc(b->at, b->size);
        assert_non_null(b->at);
    }
    memcpy(b->at + b->len, at, len);
    b->len += len;
}

static struct bytes bytes_of_file(const char *path) {
    struct bytes b = {0};
    char block[4096];
    size_t got;
    FILE *file = fopen(path, "rb");
    if (file == NULL)
        fail_msg("%s can't be opened", path);
    while ((got = fread(block, 1, sizeof block, file)) > 0)
        bytes_add(&b, block, got);
    fclose(file);
    return b;
}

/* What one road leads to. */
struct end {
    struct bench *bench;
    struct bytes rows; /* the recording, when one is wanted */
    bool record;
    struct snapshot s;
};

static void take(void *context, const struct event *e) {
    struct end *end = context;
    bench_feed(end->bench, e);
    if (!end->record)
        return;
    char row[SESSION_ROW_MAX];
    struct text out;
    text_init(&out, row, sizeof row);
    session_row(&out, e);
    assert_false(out.full);
    bytes_add(&end->rows, out.at, out.len);
}

static void no_fault(void *context, const struct session_report *report) {
    (void)context;
    fail_msg("line %llu of the recording: %s", (unsigned long long)report->line,
             session_fault_name(report->fault));
}

static void end_begin(struct end *end, bool record) {
    struct bench_limits limits;
    memset(end, 0, sizeof *end);
    bench_limits_default(&limits);
    end->bench = bench_new(&limits);
    assert_non_null(end->bench);
    end->record = record;
    if (record) {
        char header[SESSION_ROW_MAX];
        struct text out;
        text_init(&out, header, sizeof header);
        session_header(&out);
        bytes_add(&end->rows, out.at, out.len);
    }
}

static void end_free(struct end *end) {
    bench_free(end->bench);
    free(end->rows.at);
}

/* piece 0: random sizes. */
static void by_capture(struct end *end, const struct bytes *b, size_t piece) {
    struct telemetry t;
    unsigned random = 4711;
    telemetry_init(&t, take, end);
    for (size_t i = 0; i < b->len;) {
        random = random * 1103515245u + 12345u;
        size_t len = piece != 0 ? piece : 1 + (random >> 16) % 700;
        if (len > b->len - i)
            len = b->len - i;
        telemetry_feed(&t, b->at + i, len, TIME_UNKNOWN);
        i += len;
    }
    telemetry_end(&t, TIME_UNKNOWN);
    assert_true(t.tally.bytes_in == b->len);
    assert_true(t.tally.bytes_good + t.tally.bytes_refused == b->len);
    bench_read(end->bench, &end->s);
}

/* Line by line with made-up host times, and the bench ticking in between. */
static void by_wire(struct end *end, const struct bytes *b) {
    struct telemetry t;
    int64_t host_us = 0;
    unsigned random = 99;
    telemetry_init(&t, take, end);
    for (size_t i = 0; i < b->len;) {
        const char *lf = memchr(b->at + i, '\n', b->len - i);
        size_t len = lf != NULL ? (size_t)(lf - b->at) - i + 1 : b->len - i;
        random = random * 1103515245u + 12345u;
        for (int64_t tick = host_us + 9000; tick < host_us + 45000; tick += 9000)
            bench_advance(end->bench, tick);
        host_us += 45000 + (random >> 16) % 10000;
        telemetry_feed(&t, b->at + i, len, host_us);
        i += len;
    }
    telemetry_end(&t, host_us);
    bench_read(end->bench, &end->s);
}

static void by_recording(struct end *end, const struct bytes *rows, size_t piece) {
    struct session_reader r;
    session_reader_init(&r, take, no_fault, end);
    for (size_t i = 0; i < rows->len; i += piece)
        session_reader_feed(&r, rows->at + i, rows->len - i < piece ? rows->len - i : piece);
    session_reader_end(&r);
    bench_read(end->bench, &end->s);
}

static void compare(const char *path, const char *road, const struct end *a, const struct end *b) {
    struct snapshot x = a->s, y = b->s;
    assert_int_equal(x.failsafe_count, y.failsafe_count);
    for (uint32_t i = 0; i < x.failsafe_count; i++)
        assert_memory_equal(&x.failsafe_events[i], &y.failsafe_events[i],
                            sizeof x.failsafe_events[i]);
    assert_int_equal(x.restart_count, y.restart_count);
    assert_memory_equal(x.restarts, y.restarts, x.restart_count * sizeof *x.restarts);
    static struct measures of_a, of_b;
    bench_measure(a->bench, &of_a);
    bench_measure(b->bench, &of_b);
    if (memcmp(&of_a, &of_b, sizeof of_a) != 0)
        fail_msg("%s: %s: the figures of the standards differ", path, road);
    x.failsafe_events = y.failsafe_events = NULL;
    x.restarts = y.restarts = NULL;
    x.log_entry = y.log_entry = NULL;
    if (memcmp(&x, &y, sizeof x) != 0)
        fail_msg("%s: %s differs (got %llu/%llu, lost %llu/%llu, damaged %llu/%llu)", path, road,
                 (unsigned long long)x.total.got, (unsigned long long)y.total.got,
                 (unsigned long long)x.total.lost, (unsigned long long)y.total.lost,
                 (unsigned long long)x.lines_damaged, (unsigned long long)y.lines_damaged);
}

/* A capture has no host times, so what rests on them is left out. */
static void compare_without_host(const char *path, const struct end *a, const struct end *b) {
    const struct snapshot *x = &a->s, *y = &b->s;
    if (x->total.got != y->total.got || x->total.lost != y->total.lost ||
        x->evidence != y->evidence || x->lines_good != y->lines_good ||
        x->lines_damaged != y->lines_damaged || x->lines_missing != y->lines_missing ||
        x->outages != y->outages || x->longest_gap_ms != y->longest_gap_ms ||
        x->failsafe_entries != y->failsafe_entries ||
        x->receiver_restarts + x->opening_restarts != y->receiver_restarts + y->opening_restarts ||
        x->transmitter_restarts != y->transmitter_restarts)
        fail_msg("%s: the live run differs from the capture", path);
    for (uint32_t i = 0; i < CHANNELS_MAX; i++) {
        assert_int_equal(x->channel[i].low, y->channel[i].low);
        assert_int_equal(x->channel[i].high, y->channel[i].high);
        assert_true(x->channel[i].noise == y->channel[i].noise);
    }
}

static void try_capture(const char *path) {
    struct bytes b = bytes_of_file(path);
    struct end whole, other, live, replayed;
    static const struct {
        const char *legend;
        size_t piece;
    } pieces[] = {{"one byte at a time", 1}, {"random pieces", 0}, {"pieces of 64", 64}};

    end_begin(&whole, true);
    by_capture(&whole, &b, b.len);
    assert_true(whole.s.lines_good > 0);
    for (size_t i = 0; i < sizeof pieces / sizeof pieces[0]; i++) {
        end_begin(&other, false);
        by_capture(&other, &b, pieces[i].piece);
        compare(path, pieces[i].legend, &whole, &other);
        end_free(&other);
    }
    for (size_t piece = 1; piece <= 65536; piece *= 256) {
        end_begin(&other, false);
        by_recording(&other, &whole.rows, piece);
        compare(path, "the recording of the capture", &whole, &other);
        end_free(&other);
    }
    end_begin(&live, true);
    by_wire(&live, &b);
    end_begin(&replayed, false);
    by_recording(&replayed, &live.rows, 4096);
    compare(path, "the recording of the live run", &live, &replayed);
    compare_without_host(path, &whole, &live);
    end_free(&replayed);
    end_free(&live);
    end_free(&whole);
    free(b.at);
}

static void test_roads(void **state) {
    (void)state;
    assert_true(capture_count > 0);
    for (int i = 0; i < capture_count; i++)
        try_capture(captures[i]);
}

int main(int argc, char **argv) {
    captures = argv + 1;
    capture_count = argc - 1;
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_roads)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
