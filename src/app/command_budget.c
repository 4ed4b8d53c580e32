/* The link on paper. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "app/commands.h"
#include "app/words.h"
#include "print/budget.h"
#include "radio/chip.h"

static void put_stdout(void *where, const char *bytes, size_t len) {
    fwrite(bytes, 1, len, where);
}

/* Fills in what follows from the module; an enum status. */
static int settle(struct budget_inputs *in, struct budget_facts *facts, const struct options *o) {
    *in = o->budget;
    *facts = (struct budget_facts){.sensitivity_given = !isnan(in->sensitivity_dbm),
                                   .walked_m = o->walked_m,
                                   .level_dbm = o->level_dbm};
    if (o->step > 0 && (in->amplified || !isnan(in->power_dbm))) {
        words_say(in->amplified
                      ? "the lower steps of an amplified module aren't known, since amplifiers "
                        "saturate: measure its power and give it by --power-dbm"
                      : "--step and --power-dbm exclude each other: give one");
        fputs("See: airleash budget --help\n", stderr);
        return STATUS_USAGE;
    }
    if (isnan(in->power_dbm)) {
        facts->step = in->amplified ? 0 : o->step > 0 ? o->step : CHIP_STEPS;
        in->power_dbm = in->amplified ? CHIP_AMPLIFIED_DBM : chip_step_dbm(facts->step);
    }
    if (!facts->sensitivity_given)
        in->sensitivity_dbm = chip_sensitivity_dbm(in->kbps, in->amplified);
    in->obstacle_known = !isnan(in->obstacle_m);
    in->rate_hz = o->rate_hz;
    return STATUS_ANSWER;
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
    struct budget_inputs in;
    struct budget_facts facts;
    struct budget b;
    struct field by;
    int status = settle(&in, &facts, o);
    if (status != STATUS_ANSWER)
        return status;
    budget_work(&b, &in);
    compare(&facts, &in, &by);
    if (!o->json) {
        budget_text(&in, &b, &facts, put_stdout, stdout);
        return STATUS_ANSWER;
    }
    char *json = budget_json(&in, &b, &facts);
    if (!json) {
        words_say("no memory left");
        return STATUS_TROUBLE;
    }
    puts(json);
    free(json);
    return STATUS_ANSWER;
}
