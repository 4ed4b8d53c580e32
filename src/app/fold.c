#include "app/fold.h"

#include "app/commands.h"
#include "app/words.h"
#include "base/number.h"

void fold_init(struct fold *f, struct setup *setup) {
    *f = (struct fold){.setup = setup};
    survey_init(&f->survey);
}

void fold_release(struct fold *f) {
    bench_free(f->bench);
    f->bench = NULL;
}

void fold_watch(struct fold *f, moment_sink *sink, void *context) {
    f->watcher = sink;
    f->watching = context;
}

static bool fold_begin(struct fold *f) {
    if (f->bench || f->no_memory)
        return f->bench != NULL;
    struct bench_limits limits;
    setup_limits(f->setup, &limits);
    limits.light = f->light;
    f->bench = bench_new(&limits);
    f->no_memory = f->bench == NULL;
    return f->bench != NULL;
}

void fold_event(void *context, const struct event *event) {
    struct fold *f = context;
    if (event->kind == EVENT_ABOUT) {
        uint64_t missing;
        if (slice_is(event->about.key, "rows_missing") &&
            number_u64(event->about.value, &missing) == NUMBER_OK)
            f->rows_missing += missing;
        if (!f->bench)
            setup_recorded(f->setup, event->about.key, event->about.value);
        return;
    }
    if (!fold_begin(f))
        return;
    if (event->kind != EVENT_REPORT)
        survey_feed(&f->survey, event);
    bench_feed(f->bench, event);
    if (f->watcher)
        f->watcher(f->watching, bench_moment(f->bench));
}

void fold_advance(struct fold *f, int64_t host_us) {
    if (f->bench)
        bench_advance(f->bench, host_us);
}

bool fold_read(struct fold *f, struct snapshot *out) {
    if (!fold_begin(f))
        return false;
    bench_read(f->bench, out);
    return true;
}

bool fold_read_on(struct fold *f, struct snapshot *out) {
    if (!fold_begin(f))
        return false;
    bench_read_on(f->bench, out);
    return true;
}

bool fold_unreadable(const struct snapshot *s) {
    enum { ENOUGH_BYTES = 1000, SHARE = 20 };
    uint64_t bytes = s->bytes_good + s->bytes_damaged;
    return bytes > ENOUGH_BYTES && s->bytes_good < bytes / SHARE;
}

int fold_readable(const struct snapshot *s, const char *path) {
    if (!fold_unreadable(s))
        return STATUS_ANSWER;
    words_say("next to nothing in '%s' is telemetry: if it came from a port, its speed was wrong: "
              "record again with --speed auto",
              path);
    return STATUS_TROUBLE;
}

void fold_measure(const struct fold *f, struct measures *out) {
    bench_measure(f->bench, out);
}
