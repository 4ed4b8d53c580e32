/* The link on paper. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "app/commands.h"
#include "app/on_paper.h"
#include "app/words.h"
#include "print/budget.h"

static void put_stdout(void *where, const char *bytes, size_t len) {
    fwrite(bytes, 1, len, where);
}

struct field {
    struct missing range, level;
};

/* Paper against what the field showed, as far as that is known. */
static void compare(struct budget_facts *facts, const struct budget_inputs *in, struct field *by) {
    double m = facts->walked_m;
    if (!isnan(m)) {
        missing_by_range(&by->range, in, m, m, m, false);
        facts->by_range = &by->range;
    }
    if (!isnan(facts->level_dbm)) {
        missing_by_level(&by->level, in, in->distance_m, facts->level_dbm);
        facts->by_level = &by->level;
    }
}

int command_budget(const struct options *o) {
    struct on_paper paper;
    struct budget b;
    struct field by;
    int status = on_paper_settle(&paper, o);
    if (status != STATUS_ANSWER)
        return status;
    const struct budget_inputs *in = &paper.in;
    struct budget_facts facts = {.step = paper.step,
                                 .sensitivity_given = paper.sensitivity_given,
                                 .walked_m = o->walked_m,
                                 .level_dbm = o->level_dbm};
    budget_work(&b, in);
    compare(&facts, in, &by);
    if (!o->json) {
        budget_text(in, &b, &facts, put_stdout, stdout);
        return STATUS_ANSWER;
    }
    char *json = budget_json(in, &b, &facts);
    if (!json) {
        words_say("no memory left");
        return STATUS_TROUBLE;
    }
    puts(json);
    free(json);
    return STATUS_ANSWER;
}
