#include "app/trials.h"

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
    t->book = book_new(&rules);
    t->no_memory = t->book == NULL;
    return t->book != NULL;
}

void trials_moment(void *context, const struct moment *m) {
    struct trials *t = context;
    if (!trials_begin(t))
        return;
    bool wants = book_wants(t->book, m->event);
    if (wants)
        bench_glance(t->fold->bench, &t->s);
    book_feed(t->book, m, wants ? &t->s : NULL);
}
