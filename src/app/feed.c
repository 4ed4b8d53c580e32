#include "app/feed.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/commands.h"
#include "app/io.h"
#include "app/words.h"
#include "base/printable.h"
#include "session/session.h"
#include "telemetry/telemetry.h"

enum { FAULTS_SHOWN = 5 };

struct feed {
    int fd;
    const char *path;
    event_sink *sink;
    void *context;
    bool decided; /* recording is known */
    bool recording, ended;
    bool hushed; /* faults are counted only */
    int code;    /* why reading failed, 0: it didn't */
    uint64_t bytes, faults;
    size_t head; /* bytes in block that wait for the decision */
    struct telemetry telemetry;
    struct session_reader reader;
    char block[FEED_BLOCK];
};

static const char *feed_name(const struct feed *f) {
    return strcmp(f->path, "-") == 0 ? "standard input" : f->path;
}

static void on_event(void *context, const struct event *event) {
    struct feed *f = context;
    f->sink(f->context, event);
}

static void on_fault(void *context, const struct session_report *r) {
    struct feed *f = context;
    if (++f->faults > FAULTS_SHOWN || f->hushed)
        return;
    char name[WORDS_MAX];
    fprintf(stderr, "%s:%llu: %s", printable(name, sizeof name, feed_name(f)),
            (unsigned long long)r->line, words_session(r->fault));
    if (r->column)
        fprintf(stderr, " (column %s)", r->column);
    if (r->fault == SESSION_FIELDS)
        fprintf(stderr, ": %u, and the header names %u", r->fields, r->columns);
    fputc('\n', stderr);
}

static void refuse(const char *path, int code) {
    char why[WORDS_MAX];
    words_reading(why, path, code);
    words_say("%s", why);
}

struct feed *feed_open(const char *path, event_sink *sink, void *context) {
    char why[WORDS_MAX];
    struct feed *f = feed_begin(path, sink, context, why);
    if (!f)
        words_say("%s", why);
    return f;
}

struct feed *feed_begin(const char *path, event_sink *sink, void *context, char *why) {
    int fd = strcmp(path, "-") == 0 ? STDIN_FILENO : open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY);
    if (fd < 0) {
        words_reading(why, path, errno);
        return NULL;
    }
    struct stat st;
    int code = fstat(fd, &st) != 0 ? errno : S_ISDIR(st.st_mode) ? EISDIR : 0;
    struct feed *f = code == 0 ? malloc(sizeof *f) : NULL;
    if (!f) {
        if (fd != STDIN_FILENO)
            close(fd);
        words_reading(why, path, code != 0 ? code : ENOMEM);
        return NULL;
    }
    f->fd = fd;
    f->path = path;
    f->sink = sink;
    f->context = context;
    f->decided = f->recording = f->ended = f->hushed = false;
    f->code = 0;
    f->bytes = f->faults = 0;
    f->head = 0;
    telemetry_init(&f->telemetry, on_event, f);
    session_reader_init(&f->reader, on_event, on_fault, f);
    return f;
}

void feed_want(struct feed *f, uint32_t keys) {
    telemetry_want(&f->telemetry, keys);
    session_reader_want(&f->reader, keys);
}

void feed_hush(struct feed *f) {
    f->hushed = true;
}

static void push(struct feed *f, const char *bytes, size_t len) {
    if (f->recording)
        session_reader_feed(&f->reader, bytes, len);
    else
        telemetry_feed(&f->telemetry, bytes, len, TIME_UNKNOWN);
}

static enum feed_step finish(struct feed *f) {
    f->ended = true;
    if (!f->decided) {
        f->decided = true;
        f->recording = session_recognises(f->block, f->head);
        push(f, f->block, f->head);
    }
    if (f->recording)
        session_reader_end(&f->reader);
    else
        telemetry_end(&f->telemetry, TIME_UNKNOWN);
    char name[WORDS_MAX];
    if (f->faults > FAULTS_SHOWN && !f->hushed)
        fprintf(stderr, "%s: %llu rows were passed over in all\n",
                printable(name, sizeof name, feed_name(f)), (unsigned long long)f->faults);
    if (f->faults > 0 && f->reader.layout.saved && !f->hushed)
        fprintf(stderr,
                "%s: another program saved this file, and may have changed values: take it as "
                "airleash wrote it\n",
                printable(name, sizeof name, feed_name(f)));
    return FEED_END;
}

static bool first_line_ends(const char *bytes, size_t len) {
    return memchr(bytes, '\n', len) || memchr(bytes, '\r', len);
}

enum feed_step feed_step(struct feed *f, size_t size) {
    if (f->ended)
        return FEED_END;
    size_t keep = f->decided ? 0 : f->head;
    size_t room = FEED_BLOCK - keep;
    ssize_t got = io_read(f->fd, f->block + keep, size < room ? size : room);
    if (got < 0) {
        f->code = errno;
        f->ended = true;
        if (!f->hushed)
            refuse(feed_name(f), f->code);
        return FEED_TROUBLE;
    }
    if (got == 0)
        return finish(f);
    f->bytes += (uint64_t)got;
    size_t len = keep + (size_t)got;
    f->head = len;
    if (!f->decided && len < SESSION_ROW_MAX && !first_line_ends(f->block, len))
        return FEED_MORE;
    if (!f->decided) {
        f->decided = true;
        f->recording = session_recognises(f->block, len);
    }
    push(f, f->block, len);
    return FEED_MORE;
}

void feed_facts(const struct feed *f, struct feed_facts *out) {
    *out = (struct feed_facts){
        .recording = f->recording,
        .layout = f->reader.layout,
        .broken = f->code,
        .bytes = f->bytes,
        .rows_good = f->reader.rows_good,
        .rows_bad = f->faults,
        .lines_good = f->telemetry.tally.lines_good,
        .lines_refused = f->telemetry.tally.lines_refused,
    };
}

void feed_close(struct feed *f) {
    if (!f)
        return;
    if (f->fd != STDIN_FILENO)
        close(f->fd);
    free(f);
}

/* Whether anything in it could be used; says so where nothing could. */
static int judge(const struct feed *f, const struct feed_facts *facts) {
    char size[32];
    words_size(size, sizeof size, facts->bytes);
    if (facts->bytes == 0)
        words_say("%s is empty: nothing was recorded in it", feed_name(f));
    else if (facts->recording && facts->rows_good == 0 && facts->rows_bad > 0)
        words_say("%s looks like a recording, but none of its rows can be used: take the file as "
                  "airleash wrote it, before another program saved it",
                  feed_name(f));
    else if (!facts->recording && facts->lines_good == 0)
        words_say("%s holds no telemetry line in %s: it is neither a recording nor a capture of "
                  "lines; if it came from a port, its speed was wrong: record again with --speed "
                  "auto",
                  feed_name(f), size);
    else
        return STATUS_ANSWER;
    return STATUS_TROUBLE;
}

int feed_all(const char *path, event_sink *sink, void *context, struct feed_facts *facts) {
    return feed_wanted(path, UINT32_MAX, sink, context, facts);
}

int feed_wanted(const char *path, uint32_t keys, event_sink *sink, void *context,
                struct feed_facts *facts) {
    *facts = (struct feed_facts){0};
    struct feed *f = feed_open(path, sink, context);
    if (!f)
        return STATUS_TROUBLE;
    feed_want(f, keys);
    enum feed_step step;
    do
        step = feed_step(f, FEED_BLOCK);
    while (step == FEED_MORE);
    feed_facts(f, facts);
    int status = step == FEED_TROUBLE ? STATUS_TROUBLE : judge(f, facts);
    feed_close(f);
    return status;
}
