/* Any words as a command line: a command's name, then one word a line, as main would hand them to
 * options_parse; nothing is run.  What was taken lies within what its help says, and amendments
 * written down again are read as the same. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "app/commands.h"
#include "app/gallery.h"
#include "app/setup.h"
#include "base/text.h"
#include "simulator/simulator.h"
#include "study/amend.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { WORDS = 200 };

static void hold(bool right) {
    if (!right)
        abort();
}

static bool within(double value, double low, double high) {
    return value >= low && value <= high;
}

/* 0 or NAN stand for an option that wasn't given. */
static bool unset_or(double value, double low, double high) {
    return value == 0 || isnan(value) || within(value, low, high);
}

static void check_amendment(enum amendment_kind kind, const char *value) {
    struct amendment a, again;
    struct text text;
    char room[AMENDMENT_TEXT];
    if (value == NULL)
        return;
    hold(amendment_parse(kind, slice_of(value), &a));
    text_init(&text, room, sizeof room);
    amendment_text(&a, &text);
    hold(!text.full && amendment_parse(kind, text_view(&text), &again));
    hold(a.kind == again.kind && (kind == AMEND_ADD || a.mark == again.mark));
    hold(kind == AMEND_STRIKE || a.at_ms == again.at_ms);
    hold(kind != AMEND_ADD || a.distance_m == again.distance_m);
}

static void check_link(const struct options *o) {
    hold(o->speed == SPEED_AUTO || (within(o->speed, 300, 4000000) && o->speed != 1200));
    hold(unset_or(o->rate_hz, 0.1, 10000) && unset_or(o->for_s, 0.1, 1e7));
    hold(within(o->from_s, 0, 1e9) && unset_or(o->pace, 0.01, 1000));
    hold(!o->until.given || o->until.differs || (o->until.loss > 0 && o->until.loss < 1));
    hold(within(o->scene, 0, (double)simulator_scene_count - 1));
    hold(within(o->what, -1, (double)gallery_row_count - 1));
}

static void check_paper(const struct options *o) {
    const struct budget_inputs *b = &o->budget;
    hold(within(b->mhz, 100, 6000) && o->step <= 4);
    hold(unset_or(b->power_dbm, -150, 50) && unset_or(b->sensitivity_dbm, -150, 50));
    hold(within(b->tx_gain_dbi, -40, 40) && within(b->rx_gain_dbi, -40, 40));
    hold(within(b->tx_cable_db, 0, 100) && within(b->rx_cable_db, 0, 100));
    hold(within(b->body_db, 0, 100) && within(b->margin_db, -50, 100));
    hold(within(b->tx_height_m, 0.01, 1000) && within(b->rx_height_m, 0.01, 1000));
    hold(within(b->distance_m, 0.1, 1e5) && unset_or(b->obstacle_m, -1000, 1000));
    hold(within(b->polarisation_deg, 0, 90) || b->polarisation_deg == BUDGET_CIRCULAR);
    hold(b->payload_bytes <= 32 && within(b->address_bytes, 3, 5) && within(b->crc_bytes, 1, 2));
}

static void check_walk(const struct options *o) {
    hold(o->plan.count >= 1 && o->plan.count <= PLAN_MAX && o->switch_channel <= CHANNELS_MAX);
    for (uint32_t i = 0; i < o->plan.count; i++)
        hold(o->plan.metres[i] >= 0 && isfinite(o->plan.metres[i]));
    hold(within(o->stay_s, 0.1, 1e7) && within(o->loss_limit, 0.001, 99.999));
    hold(unset_or(o->max_loss, 0.001, 99.999) && unset_or(o->max_turned, 0.001, 99.999));
    hold(unset_or(o->max_gap_ms, 1, 1e6) && unset_or(o->full_power_db, 0.1, 60));
    check_amendment(AMEND_ADD, o->add);
    check_amendment(AMEND_MOVE, o->move);
    check_amendment(AMEND_STRIKE, o->strike);
}

/* The limits of the trials are read when the command sets up; a model file is a file and isn't. */
static void check_limits(struct options *o) {
    struct setup *setup = calloc(1, sizeof *setup);
    struct trial_rules rules;
    o->model = NULL;
    hold(o->limit_count <= LIMITS_MAX);
    if (setup != NULL && setup_init(setup, o) == STATUS_ANSWER) {
        setup_rules(setup, &rules);
        hold(rules.throttle_low_ms > 0 && rules.soak_s > 0 && rules.supply_scale > 0);
        setup_release(setup);
    }
    free(setup);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    char *argv[WORDS + 1], *text = malloc(size + 1);
    int argc = 0;
    if (text == NULL)
        return 0;
    memcpy(text, data, size);
    text[size] = '\0'; /* a command line has no NUL either: what is behind one isn't seen */
    for (char *at = text; at != NULL && argc < WORDS; argc++)
        argv[argc] = strsep(&at, "\n");
    argv[argc] = NULL;
    const struct command *c = command_find(argv[0]);
    struct options o;
    if (c != NULL && options_parse(&o, (enum command_id)(c - commands), argc, argv) == PARSED_RUN) {
        hold(within(o.operand_count, c->least, c->most) && o.with <= o.operand_count);
        for (int i = 0; i < o.operand_count; i++)
            hold(o.operands[i] != NULL);
        check_link(&o);
        check_paper(&o);
        check_walk(&o);
        check_limits(&o);
    }
    free(text);
    return 0;
}
