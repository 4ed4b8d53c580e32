/* The link on paper. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "app/commands.h"
#include "app/on_paper.h"
#include "app/print_out.h"
#include "app/walk_file.h"
#include "app/words.h"
#include "text/budget_text.h"
#include "json/json.h"

struct field {
    struct missing range, level;
    struct budget_walk walk;
};

/* Reads the walk into w, what it says of its link into told, and hands its stops over in *run, to
 * be freed. */
static int read_walk(const struct options *o, struct budget_walk *w, struct walk_run **run,
                     struct on_paper_told *told) {
    struct reduced reduced;
    struct options walking = *o; /* a level's sensitivity isn't asked for here */
    walking.budget.sensitivity_dbm = NAN;
    *run = malloc(sizeof **run);
    if (!*run)
        return print_out_no_memory();
    int status = walk_file_read(&walking, o->walk, WALK_STOPS, *run);
    if (status != STATUS_ANSWER)
        return status;
    *w = (struct budget_walk){.file = o->walk};
    walk_file_reach(&walking, *run, &w->reach, &reduced);
    *told = on_paper_walk(*run, &w->reach);
    w->step = told->step;
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
        budget_text(in, b, facts, print_out, NULL);
        return STATUS_ANSWER;
    }
    return print_out_json(budget_json(in, b, facts));
}

int command_budget(const struct options *o) {
    struct on_paper paper;
    struct budget b;
    struct field by;
    struct walk_run *run = NULL;
    struct on_paper_told told = {0};
    int status = o->walk ? read_walk(o, &by.walk, &run, &told) : STATUS_ANSWER;
    if (status == STATUS_ANSWER)
        status = on_paper_settle(&paper, o, &told);
    if (status == STATUS_ANSWER) {
        struct budget_facts facts = {.step = paper.step,
                                     .from = paper.from,
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
