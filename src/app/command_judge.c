#include <stdio.h>
#include <stdlib.h>

#include "app/commands.h"
#include "app/feed.h"
#include "app/print_out.h"
#include "app/trials.h"
#include "app/words.h"
#include "text/trials_text.h"
#include "json/json.h"

static int print(const struct options *o, const struct book *book,
                 const struct trials_facts *facts) {
    if (!o->json) {
        trials_text(book, facts, print_out, NULL);
        return STATUS_ANSWER;
    }
    return print_out_json(trials_json(book, facts));
}

static bool one_failed(const struct book *book) {
    for (int i = 0; i < TRIALS; i++)
        if (book_stands(book, (enum trial_id)i, NULL) == TRIAL_FAILED)
            return true;
    return false;
}

int command_judge(const struct options *o) {
    struct setup *setup = calloc(1, sizeof *setup);
    struct trials *trials = calloc(1, sizeof *trials);
    struct fold fold;
    struct feed_facts fed = {0};
    int status = STATUS_TROUBLE;
    if (setup && trials)
        status = setup_init(setup, o);
    else
        print_out_no_memory();
    if (status == STATUS_ANSWER) {
        fold_init(&fold, setup);
        trials_init(trials, &fold);
        fold_watch(&fold, trials_moment, trials);
        if (o->other != NULL)
            status = trials_other(trials, o->other);
        if (status == STATUS_ANSWER)
            status = feed_all(o->operands[0], fold_event, &fold, &fed);
        struct snapshot s;
        if (status == STATUS_ANSWER && (!trials_begin(trials) || !fold_read(&fold, &s))) {
            status = print_out_no_memory();
        }
        if (status == STATUS_ANSWER)
            status = fold_readable(&s, o->operands[0]);
        struct trials_facts facts = {
            .file = o->operands[0], .recording = fed.recording, .ends = &trials->ends};
        if (status == STATUS_ANSWER)
            status = print(o, trials->book, &facts);
        if (status == STATUS_ANSWER && one_failed(trials->book))
            status = STATUS_FAILED;
        trials_release(trials);
        fold_release(&fold);
        setup_release(setup);
    }
    free(trials);
    free(setup);
    return status;
}
