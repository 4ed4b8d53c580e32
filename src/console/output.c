#include "console/output.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/clock.h"
#include "app/io.h"
#include "app/words.h"
#include "base/number.h"
#include "base/text.h"
#include "console/disk_sync.h"
#include "session/session.h"

enum { HELD_MAX = 1024 * 1024, SYNC_US = 5000000 };

struct output {
    int fd;
    int trouble; /* errno of the last write, 0 when it went well */
    int unsafe;  /* errno of the first sync that failed: a later one can't make it good */
    const char *path;
    uint64_t written, missing, missing_told;
    int64_t synced_us;
    bool unsynced;
    struct disk_sync *sync; /* NULL: none, then it is synced at the end alone */
    char why[WORDS_MAX], why_unsafe[WORDS_MAX];
    /* Rows not yet in the file: held[from..len).  A write that stopped in the middle of a row is
     * taken up again at that byte, so the file stays whole. */
    size_t from, len;
    char held[HELD_MAX];
};

static void trouble_set(struct output *o, int code) {
    if (code == o->trouble)
        return;
    o->trouble = code;
    if (code != 0)
        words_writing(o->why, o->path, code);
}

/* Writes what is held, as far as the file takes it. */
static void drain(struct output *o) {
    while (o->from < o->len) {
        ssize_t put = write(o->fd, o->held + o->from, o->len - o->from);
        if (put < 0 && errno == EINTR)
            continue;
        if (put < 0 && errno == EAGAIN)
            return; /* not now: at the next flush */
        if (put <= 0) {
            trouble_set(o, put < 0 ? errno : ENOSPC);
            return;
        }
        o->from += (size_t)put;
        o->written += (uint64_t)put;
        o->unsynced = true;
    }
    o->from = o->len = 0;
    trouble_set(o, 0);
}

/* True when one more row, whatever its length, has room. */
static bool room_make(struct output *o) {
    if (HELD_MAX - o->len >= SESSION_ROW_MAX)
        return true;
    if (o->trouble == 0)
        drain(o);
    memmove(o->held, o->held + o->from, o->len - o->from);
    o->len -= o->from;
    o->from = 0;
    return HELD_MAX - o->len >= SESSION_ROW_MAX;
}

static void append(struct output *o, const struct event *event) {
    struct text t;
    text_init(&t, o->held + o->len, HELD_MAX - o->len);
    session_row(&t, event);
    o->len += t.len;
}

static void append_about(struct output *o, const char *key, struct slice value) {
    struct event e = {.kind = EVENT_ABOUT, .host_us = TIME_UNKNOWN};
    e.about.key = slice_of(key);
    e.about.value = value;
    append(o, &e);
}

/* Says in the file itself how many rows it lacks, once everything before them is in it. */
static bool missing_tell(struct output *o) {
    if (o->missing == o->missing_told)
        return true;
    if (o->trouble != 0)
        return false;
    char number[NUMBER_TEXT_MAX];
    size_t digits = number_put_u64(number, o->missing - o->missing_told);
    o->missing_told = o->missing;
    append_about(o, "rows_missing", (struct slice){number, digits});
    return room_make(o);
}

void output_event(struct output *o, const struct event *event) {
    if (room_make(o) && missing_tell(o))
        append(o, event);
    else
        o->missing++;
}

void output_about(struct output *o, const char *key, const char *value) {
    if (room_make(o))
        append_about(o, key, slice_of(value));
}

void output_facts(struct output *o, const char *port, int speed) {
    char text[CLOCK_TEXT];
    output_about(o, "format", "1");
    output_about(o, "program", "airleash " AIRLEASH_VERSION);
    clock_wall(text);
    output_about(o, "begun", text);
    output_about(o, "port", port);
    if (speed > 0) {
        snprintf(text, sizeof text, "%d", speed);
        output_about(o, "speed", text);
    }
}

struct output *output_open(const char *path, bool overwrite, char *why) {
    struct output *o = malloc(sizeof *o);
    if (!o) {
        snprintf(why, WORDS_MAX, "no memory left");
        return NULL;
    }
    int flags = O_WRONLY | O_CREAT | O_CLOEXEC | O_NOCTTY | (overwrite ? O_TRUNC : O_EXCL);
    o->fd = open(path, flags, 0666);
    if (o->fd < 0) {
        struct stat st;
        bool directory = errno == EEXIST && stat(path, &st) == 0 && S_ISDIR(st.st_mode);
        words_writing(why, path, directory ? EISDIR : errno);
        free(o);
        return NULL;
    }
    o->path = path;
    o->trouble = o->unsafe = 0;
    o->written = o->missing = o->missing_told = 0;
    o->synced_us = INT64_MIN;
    o->unsynced = false;
    o->from = o->len = 0;
    struct text t;
    text_init(&t, o->held, HELD_MAX);
    session_header(&t);
    o->len = t.len;
    drain(o);
    if (o->trouble == 0) {
        o->sync = disk_sync_begin(o->fd);
        return o;
    }
    /* A file that takes no first row won't do: better known now than after the run. */
    snprintf(why, WORDS_MAX, "%s", o->why);
    close(o->fd);
    if (!overwrite)
        unlink(path);
    free(o);
    return NULL;
}

/* The system tells of bytes that didn't reach the disk once, and has forgotten them then. */
static void unsafe_set(struct output *o, int code) {
    char why[WORDS_MAX];
    if (o->unsafe != 0)
        return;
    o->unsafe = code;
    words_writing(why, o->path, code);
    snprintf(o->why_unsafe, WORDS_MAX, "%.400s (rows of the last seconds may be lost)", why);
}

/* Rows of a file that has no name any more are written without a fault, and gone at the end. */
static void deleted_check(struct output *o) {
    struct stat st;
    if (o->unsafe != 0 || fstat(o->fd, &st) != 0 || !S_ISREG(st.st_mode) || st.st_nlink > 0)
        return;
    o->unsafe = ENOENT;
    snprintf(o->why_unsafe, WORDS_MAX,
             "'%.300s' was deleted while it was written: its rows are gone", o->path);
}

static void sync_check(struct output *o) {
    int code = o->sync != NULL ? disk_sync_trouble(o->sync) : 0;
    if (code != 0)
        unsafe_set(o, code);
}

static void sync_ask(struct output *o) {
    deleted_check(o);
    if (o->unsynced && o->sync != NULL)
        disk_sync_ask(o->sync);
    o->unsynced = false;
}

/* The last one is waited for. */
static void sync_end(struct output *o) {
    int code = disk_sync_end(o->sync);
    if (o->trouble == 0 && !io_sync(o->fd))
        code = code != 0 ? code : errno;
    if (code != 0)
        unsafe_set(o, code);
    deleted_check(o);
}

void output_flush(struct output *o, int64_t now_us) {
    drain(o);
    if (o->missing != o->missing_told && o->trouble == 0)
        missing_tell(o);
    sync_check(o);
    if (o->synced_us == INT64_MIN)
        o->synced_us = now_us;
    if (now_us - o->synced_us < SYNC_US)
        return;
    o->synced_us = now_us;
    sync_ask(o);
}

const char *output_trouble(const struct output *o) {
    return o->trouble != 0 ? o->why : NULL;
}

const char *output_unsafe(const struct output *o) {
    return o->unsafe != 0 ? o->why_unsafe : NULL;
}

uint64_t output_bytes(const struct output *o) {
    return o->written;
}

const char *output_path(const struct output *o) {
    return o->path;
}

/* What to tell of a recording that isn't whole. */
static void close_words(const struct output *o, char *why) {
    uint64_t lost = o->missing;
    for (size_t i = o->from; i < o->len; i++)
        lost += o->held[i] == '\n'; /* which ends rows and stands in none */
    if (o->trouble != 0)
        snprintf(why, WORDS_MAX, "%.400s (%llu rows are lost)", o->why, (unsigned long long)lost);
    else if (o->unsafe != 0)
        snprintf(why, WORDS_MAX, "%s", o->why_unsafe);
    else
        snprintf(why, WORDS_MAX, "'%.200s' lacks %llu rows: there was no room for them for a while",
                 o->path, (unsigned long long)o->missing);
}

/* There is no next flush. */
static void drain_last(struct output *o) {
    for (drain(o); o->from < o->len && o->trouble == 0; drain(o))
        poll(&(struct pollfd){.fd = o->fd, .events = POLLOUT}, 1, -1);
}

bool output_close(struct output *o, uint64_t *bytes, char *why) {
    if (!o)
        return true;
    drain_last(o);
    if (missing_tell(o))
        drain_last(o);
    sync_end(o);
    if (!io_close(o->fd) && o->trouble == 0)
        unsafe_set(o, errno);
    if (bytes)
        *bytes = o->written;
    bool whole = o->trouble == 0 && o->missing == 0 && o->unsafe == 0;
    if (!whole)
        close_words(o, why);
    free(o);
    return whole;
}
