#include "app/trials.h"

#include "app/commands.h"
#include "app/feed.h"
#include "app/words.h"
#include "telemetry/pairs.h"

void trials_init(struct trials *t, struct fold *fold) {
    *t = (struct trials){.fold = fold};
}

void trials_release(struct trials *t) {
    book_free(t->book);
    t->book = NULL;
}

/* What a file told of the other end, as if its line had come first. */
static void take_told(struct trials *t) {
    for (int end = 0; end < 2; end++) {
        enum damage_reason why;
        struct event event = {.kind = EVENT_ID};
        const char *pairs = t->fold->setup->other[end];
        if (pairs[0] != '\0' && identity_parse(slice_of(pairs), &event.id, &why))
            ends_take(&t->ends, &event);
    }
}

bool trials_begin(struct trials *t) {
    struct trial_rules rules;
    if (t->book != NULL || t->no_memory)
        return t->book != NULL;
    setup_rules(t->fold->setup, &rules);
    take_told(t);
    rules.ends = &t->ends;
    t->book = book_new(&rules);
    t->no_memory = t->book == NULL;
    return t->book != NULL;
}

static void take_other(void *context, const struct event *event) {
    setup_other(context, event);
}

int trials_other(struct trials *t, const char *path) {
    struct feed_facts facts;
    struct setup *setup = t->fold->setup;
    int status = feed_all(path, take_other, setup, &facts);
    setup->other_given = true;
    if (status != STATUS_ANSWER)
        return status;
    if (setup->other[0][0] != '\0' || setup->other[1][0] != '\0')
        return STATUS_ANSWER;
    words_say(
        "%s holds no id line: record the other end's port for some seconds from its start, so "
        "that it says what it is",
        path);
    return STATUS_TROUBLE;
}

void trials_moment(void *context, const struct moment *m) {
    struct trials *t = context;
    if (!trials_begin(t))
        return;
    ends_take(&t->ends, m->event);
    bool wants = book_wants(t->book, m->event);
    if (wants)
        bench_glance(t->fold->bench, &t->s);
    book_feed(t->book, m, wants ? &t->s : NULL);
}
