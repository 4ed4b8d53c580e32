#include <stdio.h>
#include <stdlib.h>

#include "app/commands.h"
#include "app/feed.h"
#include "app/fold.h"
#include "app/words.h"
#include "print/causes.h"

static void put_stdout(void *where, const char *bytes, size_t len) {
    fwrite(bytes, 1, len, where);
}

struct search {
    struct setup setup;
    struct fold fold;
    struct bench_limits limits;
    struct trace trace;
    struct causes found, twitched;
};

static void watch_moment(void *context, const struct moment *m) {
    struct search *s = context;
    if (s->trace.begin_ms == TIME_UNKNOWN) /* by now the recorded card was read */
        setup_limits(&s->setup, &s->limits);
    trace_feed(&s->trace, m);
}

static int print(const struct options *o, const struct causes_facts *facts) {
    if (!o->json) {
        causes_text(facts, put_stdout, stdout);
        return STATUS_ANSWER;
    }
    char *json = causes_json(facts);
    if (json == NULL) {
        words_say("no memory left");
        return STATUS_TROUBLE;
    }
    puts(json);
    free(json);
    return STATUS_ANSWER;
}

/* What there is, also where the file was trouble, which was said. */
static int answer(struct search *s, const struct options *o, int fed) {
    struct snapshot now;
    trace_end(&s->trace);
    bool twitched = s->trace.twitches > 0;
    if (!fold_read(&s->fold, &now) || !causes_find(&s->trace, &s->found) ||
        (twitched && !causes_twitches(&s->trace, &s->twitched))) {
        words_say("no memory left");
        return STATUS_TROUBLE;
    }
    if (fed == STATUS_ANSWER)
        fed = fold_readable(&now, o->operands[0]);
    if (fold_unreadable(&now))
        return fed;
    struct causes_facts facts = {.file = o->operands[0],
                                 .s = &now,
                                 .trace = &s->trace,
                                 .found = &s->found,
                                 .twitched = twitched ? &s->twitched : NULL,
                                 .all = o->all};
    int printed = print(o, &facts);
    return fed == STATUS_ANSWER ? printed : fed;
}

static int search(struct search *s, const struct options *o) {
    int status = setup_init(&s->setup, o);
    if (status != STATUS_ANSWER)
        return status;
    struct feed_facts fed;
    fold_init(&s->fold, &s->setup);
    setup_limits(&s->setup, &s->limits);
    if (trace_init(&s->trace, &s->limits)) {
        fold_watch(&s->fold, watch_moment, s);
        status = feed_all(o->operands[0], fold_event, &s->fold, &fed);
        status = fed.bytes > 0 ? answer(s, o, status) : status;
    } else {
        words_say("no memory left");
        status = STATUS_TROUBLE;
    }
    trace_release(&s->trace);
    fold_release(&s->fold);
    setup_release(&s->setup);
    return status;
}

int command_causes(const struct options *o) {
    struct search *s = calloc(1, sizeof *s);
    if (s == NULL) {
        words_say("no memory left");
        return STATUS_TROUBLE;
    }
    int status = search(s, o);
    free(s);
    return status;
}
