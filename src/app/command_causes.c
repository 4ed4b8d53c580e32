#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/commands.h"
#include "app/feed.h"
#include "app/fold.h"
#include "app/on_paper.h"
#include "app/print_out.h"
#include "app/walk_file.h"
#include "app/words.h"
#include "radio/chip.h"
#include "text/causes_text.h"
#include "json/json.h"

struct search {
    struct setup setup;
    struct fold fold;
    struct bench_limits limits;
    struct trace trace;
    struct causes found, twitched;
    struct on_paper paper;
    bool amended; /* marks of the walk */
};

static void take_event(void *context, const struct event *e) {
    struct search *s = context;
    s->amended |= e->kind == EVENT_ABOUT && slice_starts(e->about.key, "amend_");
    fold_event(&s->fold, e);
}

static void watch_moment(void *context, const struct moment *m) {
    struct search *s = context;
    if (s->trace.begin_ms == TIME_UNKNOWN) /* by now the recorded model file was read */
        setup_limits(&s->setup, &s->limits);
    trace_feed(&s->trace, m);
}

static int print(const struct options *o, const struct causes_facts *facts) {
    if (!o->json) {
        causes_text(facts, print_out, NULL);
        return STATUS_ANSWER;
    }
    return print_out_json(causes_json(facts));
}

/* The distances by the walk's stops, where the marks alone don't tell them: the switch's, or
 * amended ones. */
static int find_places(struct search *s, const struct options *o) {
    if (o->switch_channel == 0 && !s->amended)
        return STATUS_ANSWER;
    struct walk_run *run = malloc(sizeof *run);
    if (run == NULL)
        return print_out_no_memory();
    int status = walk_file_read(o, o->operands[0], WALK_STOPS, run);
    if (status == STATUS_ANSWER)
        trace_walked(&s->trace, &run->walk);
    free(run);
    return status;
}

/* What should arrive by the link budget: only where the transmitter's power is given or told, since
 * without it anything could be right. */
static int find_budget(struct search *s, const struct options *o, const struct snapshot *now) {
    struct on_paper_told told = {.mhz = s->fold.survey.mhz, .kbps = s->fold.survey.kbps};
    if (now->step_known && now->steps == CHIP_STEPS)
        told.step = now->step;
    int status = on_paper_settle(&s->paper, o, &told);
    if (status == STATUS_ANSWER && s->paper.from.power != BUDGET_ASSUMED)
        s->trace.budget = &s->paper.in;
    return status;
}

/* What there is, also where the file was trouble, which was said. */
static int answer(struct search *s, const struct options *o, int fed) {
    struct snapshot now;
    trace_end(&s->trace);
    if (fed == STATUS_ANSWER)
        fed = find_places(s, o);
    bool twitched = s->trace.twitches > 0;
    if (!fold_read(&s->fold, &now))
        return print_out_no_memory();
    int budgeted = find_budget(s, o, &now);
    if (budgeted != STATUS_ANSWER)
        return budgeted;
    if (!causes_find(&s->trace, &s->found) ||
        (twitched && !causes_twitches(&s->trace, &s->twitched)))
        return print_out_no_memory();
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
        status = feed_all(o->operands[0], take_event, s, &fed);
        status = fed.bytes > 0 ? answer(s, o, status) : status;
    } else {
        status = print_out_no_memory();
    }
    trace_release(&s->trace);
    fold_release(&s->fold);
    setup_release(&s->setup);
    return status;
}

int command_causes(const struct options *o) {
    if (o->switch_channel > 0 && strcmp(o->operands[0], "-") == 0) {
        words_say("with --switch the file is read twice: give it by its name instead of standard "
                  "input");
        return STATUS_USAGE;
    }
    struct search *s = calloc(1, sizeof *s);
    if (s == NULL)
        return print_out_no_memory();
    int status = search(s, o);
    free(s);
    return status;
}
