#include "app/trials.h"

#include "app/commands.h"
#include "app/feed.h"
#include "app/words.h"

void trials_init(struct trials *t, struct fold *fold) {
    *t = (struct trials){.fold = fold};
}

void trials_release(struct trials *t) {
    book_free(t->book);
    t->book = NULL;
}

bool trials_begin(struct trials *t) {
    struct trial_rules rules;
    if (t->book != NULL || t->no_memory)
        return t->book != NULL;
    setup_rules(t->fold->setup, &rules);
    rules.ends = &t->ends;
    t->book = book_new(&rules);
    t->no_memory = t->book == NULL;
    return t->book != NULL;
}

static void take_other(void *context, const struct event *event) {
    ends_take(context, event);
}

int trials_other(struct trials *t, const char *path) {
    struct feed_facts facts;
    int status = feed_all(path, take_other, &t->ends, &facts);
    if (status != STATUS_ANSWER)
        return status;
    if (t->ends.receiver.known || t->ends.transmitter.known)
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
