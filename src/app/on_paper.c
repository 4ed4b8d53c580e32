#include "app/on_paper.h"

#include <math.h>
#include <stdio.h>

#include "app/commands.h"
#include "app/words.h"
#include "radio/chip.h"

int on_paper_settle(struct on_paper *paper, const struct options *o) {
    struct budget_inputs *in = &paper->in;
    *in = o->budget;
    paper->step = 0;
    paper->sensitivity_given = !isnan(in->sensitivity_dbm);
    if (o->step > 0 && (in->amplified || !isnan(in->power_dbm))) {
        words_say(in->amplified
                      ? "the lower steps of an amplified module aren't known, since amplifiers "
                        "saturate: measure its power and give it by --power-dbm"
                      : "--step and --power-dbm exclude each other: give one");
        fprintf(stderr, "See: airleash %s --help\n", commands[o->command].name);
        return STATUS_USAGE;
    }
    if (isnan(in->power_dbm)) {
        paper->step = in->amplified ? 0 : o->step > 0 ? o->step : CHIP_STEPS;
        in->power_dbm = in->amplified ? CHIP_AMPLIFIED_DBM : chip_step_dbm(paper->step);
    }
    if (!paper->sensitivity_given)
        in->sensitivity_dbm = chip_sensitivity_dbm(in->kbps, in->amplified);
    in->obstacle_known = !isnan(in->obstacle_m);
    in->rate_hz = o->rate_hz;
    return STATUS_ANSWER;
}
