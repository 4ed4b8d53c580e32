#include "app/samples.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/commands.h"
#include "app/feed.h"
#include "app/fold.h"
#include "app/print_out.h"
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
    struct card card;
    int status = feed_all(path, on_event, r, &fed);
    if (status != STATUS_ANSWER)
        return status;
    if (!fold_read(&r->fold, &s))
        return print_out_no_memory();
    sample_take(r->sample, &s);
    if (!s.live) /* made of a capture: when that was turned into a recording says nothing */
        r->sample->begun[0] = '\0';
    setup_card(&r->setup, &card);
    r->sample->usb = card.power == CARD_POWER_USB;
    return fold_readable(&s, path);
}

static void set_name(struct sample *s, const char *path) {
    snprintf(s->name, sizeof s->name, "%s", strcmp(path, "-") == 0 ? "standard input" : path);
}

static int load_recording(struct samples *s, const struct options *o, const char *path) {
    struct sample *one = add(s, path);
    struct reading *r = one ? calloc(1, sizeof *r) : NULL;
    if (r == NULL)
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

static bool is_baseline(const char *path) {
    char begin[BASELINE_HEAD];
    if (strcmp(path, "-") == 0)
        return false;
    FILE *file = fopen(path, "r");
    size_t len = file ? fread(begin, 1, sizeof begin, file) : 0;
    if (file)
        fclose(file);
    return baseline_recognises(begin, len);
}

static int bad_line(const char *path, unsigned number) {
    words_say(
        "%s:%u: not a line of a baseline that this version writes: keep it anew with airleash "
        "compare --keep",
        path, number);
    return STATUS_TROUBLE;
}

static int read_baseline(struct samples *s, const char *path, FILE *file) {
    struct baseline_reader reader = {false, false, 0};
    struct sample *into = calloc(1, sizeof *into);
    char line[BASELINE_LINE];
    unsigned number = 0;
    enum baseline_step step = BASELINE_MORE;
    int status = into ? STATUS_ANSWER : STATUS_TROUBLE;
    while (status == STATUS_ANSWER && fgets(line, sizeof line, file)) {
        number++;
        line[strcspn(line, "\r\n")] = '\0';
        step = baseline_line(&reader, slice_of(line), into);
        struct sample *one = step == BASELINE_DONE ? add(s, path) : NULL;
        if (step == BASELINE_BAD)
            status = bad_line(path, number);
        else if (step == BASELINE_DONE && one == NULL)
            status = STATUS_TROUBLE;
        else if (one)
            *one = *into;
    }
    free(into);
    if (status == STATUS_ANSWER && step != BASELINE_DONE) {
        words_say("%s: the baseline isn't whole: keep it anew with airleash compare --keep", path);
        status = STATUS_TROUBLE;
    }
    return status;
}

int samples_load(struct samples *s, const struct options *o, const char *path) {
    char why[WORDS_MAX];
    if (!is_baseline(path))
        return load_recording(s, o, path);
    FILE *file = fopen(path, "r");
    if (file == NULL) {
        words_reading(why, path, errno);
        words_say("%s", why);
        return STATUS_TROUBLE;
    }
    int status = read_baseline(s, path, file);
    fclose(file);
    return status;
}

static void put_file(void *where, const char *bytes, size_t len) {
    fwrite(bytes, 1, len, where);
}

static int refuse(const char *path, int code) {
    char why[WORDS_MAX];
    words_writing(why, path, code);
    words_say("%s", why);
    return STATUS_TROUBLE;
}

int samples_keep(const struct samples *s, const char *path, bool overwrite) {
    int fd = open(path, O_WRONLY | O_CREAT | O_CLOEXEC | (overwrite ? O_TRUNC : O_EXCL), 0666);
    FILE *file = fd >= 0 ? fdopen(fd, "w") : NULL;
    if (file == NULL)
        return refuse(path, errno);
    baseline_head(put_file, file);
    for (uint32_t i = 0; i < s->count; i++)
        baseline_write(s->own[i], put_file, file);
    bool good = fflush(file) == 0 && ferror(file) == 0 && fsync(fd) == 0;
    int code = errno;
    return fclose(file) == 0 && good ? STATUS_ANSWER : refuse(path, code);
}
