#include "app/samples.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/commands.h"
#include "app/feed.h"
#include "app/fold.h"
#include "app/io.h"
#include "app/print_out.h"
#include "app/whole_file.h"
#include "app/words.h"
#include "study/baseline.h"

static struct sample *add(struct samples *s, const char *path) {
    if (s->count == SIDE_RECORDINGS_MAX) {
        words_say("'%s' is one too many: a side takes %d recordings", path, SIDE_RECORDINGS_MAX);
        return NULL;
    }
    struct sample *one = calloc(1, sizeof *one);
    if (one == NULL)
        words_say("no memory left");
    else
        s->own[s->count++] = one;
    return one;
}

void samples_release(struct samples *s) {
    for (uint32_t i = 0; i < s->count; i++)
        free(s->own[i]);
    s->count = 0;
}

/* --- recordings ------------------------------------------------------------------------------- */

struct reading {
    struct sample *sample;
    struct setup setup;
    struct fold fold;
    bool begun; /* the sample takes moments */
};

/* The rate is known once the recording's facts have been read: at the first moment. */
static void on_moment(void *context, const struct moment *m) {
    struct reading *r = context;
    struct bench_limits limits;
    if (!r->begun) {
        setup_limits(&r->setup, &limits);
        r->sample->sent_hz = limits.rate_hz;
        r->sample->sent_fixed = limits.rate_hz > 0;
        r->begun = true;
    }
    sample_feed(r->sample, m);
}

static void on_event(void *context, const struct event *event) {
    struct reading *r = context;
    if (event->kind == EVENT_ABOUT && slice_is(event->about.key, "begun") &&
        event->about.value.len < sizeof r->sample->begun) {
        memcpy(r->sample->begun, event->about.value.at, event->about.value.len);
        r->sample->begun[event->about.value.len] = '\0';
    }
    fold_event(&r->fold, event);
}

static int read_all(struct reading *r, const char *path) {
    struct snapshot s;
    struct feed_facts fed;
    struct model model;
    int status = feed_all(path, on_event, r, &fed);
    if (status != STATUS_ANSWER)
        return status;
    if (!fold_read(&r->fold, &s))
        return print_out_no_memory();
    sample_take(r->sample, &s);
    if (!s.live) /* made of a capture: when that was turned into a recording says nothing */
        r->sample->begun[0] = '\0';
    setup_model(&r->setup, &model);
    r->sample->usb = model.power == MODEL_POWER_USB;
    return fold_readable(&s, path);
}

static void set_name(struct sample *s, const char *path) {
    snprintf(s->name, sizeof s->name, "%s", strcmp(path, "-") == 0 ? "standard input" : path);
}

static int load_recording(struct samples *s, const struct options *o, const char *path) {
    struct sample *one = add(s, path);
    struct reading *r = one ? calloc(1, sizeof *r) : NULL;
    if (one && !r)
        words_say("no memory left");
    if (!r)
        return STATUS_TROUBLE;
    sample_init(one, 0);
    set_name(one, path);
    r->sample = one;
    int status = setup_init(&r->setup, o);
    if (status == STATUS_ANSWER) {
        fold_init(&r->fold, &r->setup);
        fold_watch(&r->fold, on_moment, r);
        status = read_all(r, path);
        fold_release(&r->fold);
    }
    setup_release(&r->setup);
    free(r);
    return status;
}

/* --- baselines -------------------------------------------------------------------------------- */

/* 1 when the file begins as a baseline does, 0 when not, -1 with errno. */
static int is_baseline(int fd) {
    char begin[BASELINE_HEAD];
    ssize_t got = 1;
    size_t len = 0;
    for (; got > 0 && len<sizeof begin; len += got> 0 ? (size_t)got : 0)
        got = io_read(fd, begin + len, sizeof begin - len);
    return got < 0 || lseek(fd, 0, SEEK_SET) != 0 ? -1 : baseline_recognises(begin, len);
}

/* The whole file; false with errno. */
static bool read_file(int fd, struct bytes *out) {
    char block[4096];
    ssize_t got;
    while ((got = io_read(fd, block, sizeof block)) > 0)
        bytes_put(out, block, (size_t)got);
    if (out->no_memory)
        errno = ENOMEM;
    return got == 0 && !out->no_memory;
}

static int bad_line(const char *path, unsigned number) {
    words_say(
        "%s:%u: not a line of a baseline that this version writes: keep it anew with airleash "
        "compare --keep",
        path, number);
    return STATUS_TROUBLE;
}

static int take_lines(struct samples *s, const char *path, struct slice text, struct sample *into) {
    struct baseline_reader reader = {false, false, 0};
    enum baseline_step step = BASELINE_MORE;
    for (unsigned number = 1; text.len > 0; number++) {
        struct slice line = slice_cut(&text, '\n');
        if (line.len > 0 && line.at[line.len - 1] == '\r')
            line.len--;
        step = line.len < BASELINE_LINE ? baseline_line(&reader, line, into) : BASELINE_BAD;
        struct sample *one = step == BASELINE_DONE ? add(s, path) : NULL;
        if (step == BASELINE_BAD)
            return bad_line(path, number);
        if (step == BASELINE_DONE && one == NULL)
            return STATUS_TROUBLE;
        if (one)
            *one = *into;
    }
    if (step == BASELINE_DONE)
        return STATUS_ANSWER;
    words_say("%s: the baseline isn't whole: keep it anew with airleash compare --keep", path);
    return STATUS_TROUBLE;
}

static int refuse(const char *path, int code) {
    char why[WORDS_MAX];
    words_reading(why, path, code);
    words_say("%s", why);
    return STATUS_TROUBLE;
}

static int read_baseline(struct samples *s, const char *path, int fd) {
    struct bytes text = {0};
    struct sample *into = calloc(1, sizeof *into);
    int code = !into ? ENOMEM : read_file(fd, &text) ? 0 : errno;
    int status = code == 0 ? take_lines(s, path, (struct slice){text.at, text.len}, into)
                           : refuse(path, code);
    free(text.at);
    free(into);
    return status;
}

int samples_load(struct samples *s, const struct options *o, const char *path) {
    if (strcmp(path, "-") == 0)
        return load_recording(s, o, path);
    struct stat st; /* only a plain file can be one: what is read of a pipe to find out is gone */
    bool plain = stat(path, &st) == 0 && S_ISREG(st.st_mode);
    int fd = plain ? open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY) : -1;
    int kind = fd >= 0 ? is_baseline(fd) : plain ? -1 : 0;
    int status = kind < 0   ? refuse(path, errno)
                 : kind > 0 ? read_baseline(s, path, fd)
                            : load_recording(s, o, path);
    if (fd >= 0)
        close(fd);
    return status;
}

int samples_keep(const struct samples *s, const char *path, bool overwrite) {
    char why[WORDS_MAX];
    struct bytes bytes = {0};
    baseline_head(bytes_put, &bytes);
    for (uint32_t i = 0; i < s->count; i++)
        baseline_write(s->own[i], bytes_put, &bytes);
    bool good =
        whole_file_may(path, overwrite, why) && whole_file_write(path, overwrite, &bytes, why);
    if (!good)
        words_say("%s", why);
    free(bytes.at);
    return good ? STATUS_ANSWER : STATUS_TROUBLE;
}
