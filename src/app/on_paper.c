#include "app/on_paper.h"

#include <math.h>
#include <stdio.h>

#include "app/commands.h"
#include "app/walk_file.h"
#include "app/words.h"
#include "radio/chip.h"

struct on_paper_told on_paper_walk(const struct walk_run *run, const struct reach *r) {
    return (struct on_paper_told){
        .mhz = run->mhz,
        .kbps = run->kbps,
        .step = r->step_known && r->steps == CHIP_STEPS ? r->step : 0,
    };
}

static enum budget_source source(const struct options *o, const char *option, bool told) {
    return options_given(o, option) ? BUDGET_GIVEN : told ? BUDGET_TOLD : BUDGET_ASSUMED;
}

static void take_told(struct on_paper *paper, const struct options *o,
                      const struct on_paper_told *told) {
    struct budget_inputs *in = &paper->in;
    paper->from.mhz = source(o, "mhz", told->mhz > 0);
    if (paper->from.mhz == BUDGET_TOLD)
        in->mhz = told->mhz;
    paper->from.kbps = source(o, "kbps", chip_has_rate(told->kbps));
    if (paper->from.kbps == BUDGET_TOLD)
        in->kbps = told->kbps;
}

static void take_power(struct on_paper *paper, const struct options *o,
                       const struct on_paper_told *told) {
    struct budget_inputs *in = &paper->in;
    paper->from.power = BUDGET_GIVEN;
    if (!isnan(in->power_dbm))
        return;
    if (in->amplified) {
        in->power_dbm = CHIP_AMPLIFIED_DBM;
        return;
    }
    paper->from.power = source(o, "step", told->step > 0);
    paper->step = o->step > 0 ? o->step : told->step > 0 ? told->step : CHIP_STEPS;
    in->power_dbm = chip_step_dbm(paper->step);
}

int on_paper_settle(struct on_paper *paper, const struct options *o,
                    const struct on_paper_told *told) {
    static const struct on_paper_told nothing = {0};
    struct budget_inputs *in = &paper->in;
    *paper = (struct on_paper){.in = o->budget};
    if (o->step > 0 && (in->amplified || !isnan(in->power_dbm))) {
        words_say(in->amplified
                      ? "the lower steps of an amplified module aren't known, since amplifiers "
                        "saturate: measure its power and give it by --power-dbm"
                      : "--step and --power-dbm exclude each other: give one");
        fprintf(stderr, "See: airleash %s --help\n", commands[o->command].name);
        return STATUS_USAGE;
    }
    take_told(paper, o, told ? told : &nothing);
    take_power(paper, o, told ? told : &nothing);
    paper->from.sensitivity = isnan(in->sensitivity_dbm) ? BUDGET_ASSUMED : BUDGET_GIVEN;
    if (paper->from.sensitivity == BUDGET_ASSUMED)
        in->sensitivity_dbm = chip_sensitivity_dbm(in->kbps, in->amplified);
    paper->from.antennas = options_given(o, "tx-gain-dbi") && options_given(o, "rx-gain-dbi")
                               ? BUDGET_GIVEN
                               : BUDGET_ASSUMED;
    paper->from.heights = options_given(o, "tx-height") && options_given(o, "rx-height")
                              ? BUDGET_GIVEN
                              : BUDGET_ASSUMED;
    in->obstacle_known = !isnan(in->obstacle_m);
    in->rate_hz = o->rate_hz;
    return STATUS_ANSWER;
}
