#include "app/gallery.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "app/commands.h"
#include "app/print_out.h"
#include "app/words.h"
#include "base/printable.h"

static void take_moment(void *context, const struct moment *m) {
    struct gallery *g = context;
    course_feed(&g->course, m);
    trials_moment(&g->trials, m);
    if (g->moments)
        g->moments(g->also, m);
}

static void take_event(void *context, const struct event *event) {
    struct gallery *g = context;
    if (g->events)
        g->events(g->also, event);
    fold_event(&g->fold, event);
}

/* The last part of the path, printable: equal recordings in other folders make equal pictures. */
static void name_of(char *out, size_t size, const char *path) {
    const char *slash = strrchr(path, '/');
    printable(out, size, slash && slash[1] ? slash + 1 : path);
}

static void settle(struct gallery *g, const char *path) {
    fold_measure(&g->fold, &g->m);
    name_of(g->name, sizeof g->name, strcmp(path, "-") == 0 ? "standard input" : path);
    g->facts = (struct picture_facts){
        .file = g->name,
        .s = &g->s,
        .m = &g->m,
        .course = &g->course,
        .survey = &g->fold.survey,
        .supply_alarm_mv = setup_supply_alarm(&g->setup, g->course.supply_highest_mv),
    };
}

void gallery_init(struct gallery *g, const struct options *o) {
    memset(g, 0, sizeof *g);
    g->o = o;
    fold_init(&g->fold, &g->setup);
    trials_init(&g->trials, &g->fold);
    course_init(&g->course);
}

int gallery_read(struct gallery *g, const char *path) {
    int status = setup_init(&g->setup, g->o);
    if (status != STATUS_ANSWER)
        return status;
    fold_watch(&g->fold, take_moment, g);
    if (g->o->other != NULL)
        status = trials_other(&g->trials, g->o->other);
    if (status != STATUS_ANSWER)
        return status;
    status = feed_all(path, take_event, g, &g->fed);
    if (g->fed.bytes == 0)
        return status == STATUS_ANSWER ? STATUS_TROUBLE : status;
    if (!fold_read(&g->fold, &g->s) || !trials_begin(&g->trials))
        return print_out_no_memory();
    settle(g, path);
    return status == STATUS_ANSWER ? fold_readable(&g->s, path) : status;
}

void gallery_release(struct gallery *g) {
    trials_release(&g->trials);
    fold_release(&g->fold);
    setup_release(&g->setup);
    samples_release(&g->before);
    samples_release(&g->after);
    free(g->walk);
}

/* --- the walk, and paper */

int gallery_walk(struct gallery *g) {
    const char *path = g->o->operands[0];
    if (g->walk)
        return STATUS_ANSWER;
    if (strcmp(path, "-") == 0) {
        words_say("a walk has to be read twice: give the file by its name instead of standard "
                  "input");
        return STATUS_TROUBLE;
    }
    g->walk = malloc(sizeof *g->walk);
    if (!g->walk)
        return print_out_no_memory();
    int status = walk_file_read(g->o, path, WALK_STOPS, g->walk);
    walk_file_reach(g->o, g->walk, &g->reach, &g->reduced);
    return status;
}

static bool holds_walk(const struct gallery *g) {
    if (g->o->switch_channel)
        return true;
    for (uint32_t i = 0; i < g->course.marks; i++)
        if (g->course.mark[i].type == MARK_STOP)
            return true;
    return false;
}

bool gallery_has_field(const struct gallery *g) {
    return holds_walk(g) || !isnan(g->o->walked_m) || !isnan(g->o->level_dbm);
}

static void field_of_walk(struct gallery *g) {
    const struct walk *w = &g->walk->walk;
    g->walked = (struct budget_walk){
        .file = g->name, .reach = g->reach, .step = on_paper_walk(g->walk, &g->reach).step};
    g->walked.known = missing_by_walk(&g->walked.range, &g->paper.in, &g->reach);
    g->walked.level_stops =
        missing_by_stops(&g->walked.level, &g->paper.in, w->stop, w->count, &g->reach);
    g->field.walk = &g->walked;
}

int gallery_paper(struct gallery *g) {
    const struct options *o = g->o;
    struct on_paper_told told = {.mhz = g->fold.survey.mhz, .kbps = g->fold.survey.kbps};
    int status = holds_walk(g) ? gallery_walk(g) : STATUS_ANSWER;
    if (status == STATUS_ANSWER && g->walk)
        told = on_paper_walk(g->walk, &g->reach);
    if (status == STATUS_ANSWER)
        status = on_paper_settle(&g->paper, o, &told);
    if (status != STATUS_ANSWER)
        return status;
    const struct budget_inputs *in = &g->paper.in;
    g->field = (struct budget_facts){.step = g->paper.step,
                                     .from = g->paper.from,
                                     .walked_m = o->walked_m,
                                     .level_dbm = o->level_dbm};
    if (!isnan(o->walked_m)) {
        missing_by_range(&g->by_range, in, o->walked_m, o->walked_m, o->walked_m, false);
        g->field.by_range = &g->by_range;
    }
    if (!isnan(o->level_dbm)) {
        missing_by_level(&g->by_level, in, in->distance_m, o->level_dbm);
        g->field.by_level = &g->by_level;
    }
    if (g->walk)
        field_of_walk(g);
    return STATUS_ANSWER;
}

/* --- the table */

static bool holds_time(const struct gallery *g) {
    return g->s.reports > 0;
}

static bool holds_channels(const struct gallery *g) {
    return g->s.channel_count > 0;
}

static bool holds_supply(const struct gallery *g) {
    return g->s.supply_known || g->s.supply_min_known;
}

static bool holds_outages(const struct gallery *g) {
    return g->course.outages > 0;
}

static bool holds_band(const struct gallery *g) {
    return g->fold.survey.sweeps > 0;
}

static int draw_walk(struct gallery *g, struct picture *p, enum picture_size size) {
    int status = gallery_walk(g);
    if (status != STATUS_ANSWER)
        return status;
    struct picture_walk facts = {
        .file = g->name, .walk = &g->walk->walk, .reach = &g->reach, .acked = g->walk->acked};
    picture_walk(p, size, &facts);
    return STATUS_ANSWER;
}

static int draw_paper(struct gallery *g, struct picture *p, enum picture_size size) {
    int status = gallery_paper(g);
    if (status == STATUS_ANSWER)
        picture_paper(p, size,
                      &(struct picture_paper){.file = g->walk ? g->name : NULL,
                                              .in = &g->paper.in,
                                              .field = &g->field});
    return status;
}

static bool holds_trials(const struct gallery *g) {
    return g->trials.book && book_count(g->trials.book) > 0;
}

static int draw_trials(struct gallery *g, struct picture *p, enum picture_size size) {
    picture_trials(p, size, &(struct picture_trials){.file = g->name, .book = g->trials.book});
    return STATUS_ANSWER;
}

static bool holds_sets(const struct gallery *g) {
    return g->o->with >= 0;
}

static int draw_compare(struct gallery *g, struct picture *p, enum picture_size size) {
    enum { DRAWS = 9999 };
    const struct options *o = g->o;
    int status = STATUS_ANSWER;
    for (int i = 0; i < o->operand_count && status == STATUS_ANSWER; i++)
        status = samples_load(i < o->with ? &g->before : &g->after, o, o->operands[i]);
    if (status != STATUS_ANSWER)
        return status;
    struct side_samples a = samples_side(&g->before), b = samples_side(&g->after);
    if (!compare_find(&a, &b, DRAWS, &g->compared))
        return print_out_no_memory();
    picture_compare(p, size, &(struct picture_compare){.found = &g->compared, .a = &a, .b = &b});
    return STATUS_ANSWER;
}

const struct gallery_row gallery_rows[] = {
    {"loss", "loss over time, with outages, failsafe and restarts", holds_time, picture_loss, NULL},
    {"channels", "each channel over time", holds_channels, picture_channels, NULL},
    {"supply", "the supply over time, with the limit of its alarm", holds_supply, picture_supply,
     NULL},
    {"outages", "how long the outages were", holds_outages, picture_outages, NULL},
    {"walk", "loss over distance, with the range and its interval", holds_walk, NULL, draw_walk},
    {"paper", "the link budget against where the link ended", gallery_has_field, NULL, draw_paper},
    {"band", "what stood on the air at the receiver's start", holds_band, picture_band, NULL},
    {"trials", "what the guided trials showed", holds_trials, NULL, draw_trials},
    {"compare", "two sets of recordings, with --with between them", holds_sets, NULL, draw_compare},
};
const size_t gallery_row_count = sizeof gallery_rows / sizeof gallery_rows[0];

int gallery_find(const char *name) {
    for (size_t i = 0; i < gallery_row_count; i++)
        if (strcmp(gallery_rows[i].name, name) == 0)
            return (int)i;
    return -1;
}

int gallery_draw(struct gallery *g, int row, struct picture *p, enum picture_size size) {
    const struct gallery_row *r = &gallery_rows[row];
    if (r->draw)
        return r->draw(g, p, size);
    r->picture(p, size, &g->facts);
    return STATUS_ANSWER;
}

int gallery_first(const struct gallery *g) {
    int band = gallery_find("band"), loss = gallery_find("loss");
    if (holds_sets(g))
        return gallery_find("compare");
    if (holds_walk(g))
        return gallery_find("walk");
    if (holds_trials(g))
        return gallery_find("trials");
    bool packets = g->s.total.got + g->s.total.lost > 0;
    return !packets && holds_band(g) ? band : loss;
}
