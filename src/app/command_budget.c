/* The link on paper. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "app/commands.h"
#include "app/on_paper.h"
#include "app/walk_file.h"
#include "app/words.h"
#include "print/budget.h"
#include "radio/chip.h"

static void put_stdout(void *where, const char *bytes, size_t len) {
    fwrite(bytes, 1, len, where);
}

struct field {
    struct missing range, level;
    struct budget_walk walk;
};

/* Reads the walk into w and hands its stops over in *run, to be freed. */
static int read_walk(const struct options *o, struct budget_walk *w, struct walk_run **run) {
    struct reduced reduced;
    struct options walking = *o; /* a level's sensitivity isn't asked for here */
    walking.budget.sensitivity_dbm = NAN;
    *run = malloc(sizeof **run);
    if (!*run) {
        words_say("no memory left");
        return STATUS_TROUBLE;
    }
    int status = walk_file_read(&walking, o->walk, WALK_STOPS, *run);
    if (status != STATUS_ANSWER)
        return status;
    *w = (struct budget_walk){.file = o->walk};
    walk_file_reach(&walking, *run, &w->reach, &reduced);
    if (w->reach.step_known && w->reach.steps == CHIP_STEPS)
        w->step = w->reach.step;
    return STATUS_ANSWER;
}

/* Paper against what the field showed, as far as that is known. */
static void compare(struct budget_facts *facts, const struct budget_inputs *in, struct field *by,
                    const struct walk_run *run) {
    double m = facts->walked_m;
    if (facts->walk) {
        by->walk.known = missing_by_walk(&by->walk.range, in, &by->walk.reach);
        by->walk.level_stops =
            missing_by_stops(&by->walk.level, in, run->walk.stop, run->walk.count, &by->walk.reach);
    }
    if (!isnan(m)) {
        missing_by_range(&by->range, in, m, m, m, false);
        facts->by_range = &by->range;
    }
    if (!isnan(facts->level_dbm)) {
        missing_by_level(&by->level, in, in->distance_m, facts->level_dbm);
        facts->by_level = &by->level;
    }
}

static int print(const struct options *o, const struct budget_inputs *in, const struct budget *b,
                 const struct budget_facts *facts) {
    if (!o->json) {
        budget_text(in, b, facts, put_stdout, stdout);
        return STATUS_ANSWER;
    }
    char *json = budget_json(in, b, facts);
    if (!json) {
        words_say("no memory left");
        return STATUS_TROUBLE;
    }
    puts(json);
    free(json);
    return STATUS_ANSWER;
}

/* A walk's power is that of its paper, unless the person gives another. */
static int settle(struct on_paper *paper, const struct options *o, const struct budget_walk *walk) {
    struct options own = *o;
    if (walk && own.step == 0 && !own.budget.amplified && isnan(own.budget.power_dbm))
        own.step = walk->step;
    return on_paper_settle(paper, &own);
}

int command_budget(const struct options *o) {
    struct on_paper paper;
    struct budget b;
    struct field by;
    struct walk_run *run = NULL;
    int status = o->walk ? read_walk(o, &by.walk, &run) : STATUS_ANSWER;
    if (status == STATUS_ANSWER)
        status = settle(&paper, o, o->walk ? &by.walk : NULL);
    if (status == STATUS_ANSWER) {
        struct budget_facts facts = {.step = paper.step,
                                     .sensitivity_given = paper.sensitivity_given,
                                     .walked_m = o->walked_m,
                                     .level_dbm = o->level_dbm,
                                     .walk = o->walk ? &by.walk : NULL};
        budget_work(&b, &paper.in);
        compare(&facts, &paper.in, &by, run);
        status = print(o, &paper.in, &b, &facts);
    }
    free(run);
    return status;
}
