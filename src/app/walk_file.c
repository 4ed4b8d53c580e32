#include "app/walk_file.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "app/commands.h"
#include "app/fold.h"
#include "app/print_out.h"
#include "app/words.h"
#include "base/whole.h"

struct pass {
    struct walk_run *run;
    struct fold fold;
    struct marked_walk *marked; /* of the second pass; NULL in the first */
};

void walk_file_limits(const struct options *o, struct walk_limits *limits) {
    walk_limits_default(limits);
    if (o->max_loss > 0)
        limits->loss_facing = o->max_loss / 100;
    if (o->max_turned > 0)
        limits->loss_turned = o->max_turned / 100;
    limits->gap_given = o->max_gap_ms > 0;
    if (limits->gap_given)
        limits->gap_ms = whole_i64(o->max_gap_ms);
}

void walk_file_reach(const struct options *o, const struct walk_run *run, struct reach *reach,
                     struct reduced *reduced) {
    struct reach_settings settings;
    reach_settings_default(&settings);
    settings.loss_limit = o->loss_limit / 100;
    settings.sensitivity_known = !isnan(o->budget.sensitivity_dbm);
    settings.sensitivity_dbm = settings.sensitivity_known ? o->budget.sensitivity_dbm : 0;
    reach_find(run->walk.stop, run->walk.count, &settings, reach);
    reduced_find(&run->walk, reach, run->full_step, o->budget.amplified, o->full_power_db, reduced);
}

void walk_file_facts(const struct options *o, const struct walk_run *run, const char *name,
                     struct walk_facts *out) {
    *out = (struct walk_facts){
        .file = name,
        .recording = run->fed.recording,
        .by_switch = o->switch_channel,
        .beyond_plan = run->walker.beyond,
        .marks_unused = run->by_switch ? run->marks.count : 0,
        .amendments = run->by_switch ? 0 : run->marks.amendments,
        .amendments_refused = run->marks.refused,
        .evidence = run->evidence,
        .acked = run->acked,
        .full_step = run->full_step,
        .drive = o->drive,
        .plan_left = run->by_switch ? run->walker.plan.count - run->walker.next : 0,
    };
}

void walk_file_walker(const struct options *o, struct walker *walker) {
    walker_init(walker, o->switch_channel - 1, &o->plan, whole_i64(o->stay_s * 1000));
}

void walk_file_switched(struct walk *walk, struct walker *walker, const struct moment *m) {
    double metres;
    walk_feed_unmarked(walk, m);
    enum switch_found found = walker_feed(walker, m, !walk->here, &metres);
    if (found == SWITCH_STOP)
        walk_stop_at(walk, m->link_ms, metres, slice_of(""));
    else if (found == SWITCH_LEAVE)
        walk_leave_at(walk, m->link_ms);
}

static void take_moment(void *context, const struct moment *m) {
    struct pass *p = context;
    struct walk_run *run = p->run;
    if (p->marked) {
        marked_walk_feed(p->marked, m);
        return;
    }
    marks_take(&run->marks, m);
    run->end_rows += m->event->kind == EVENT_END;
    if (m->link_ms != TIME_UNKNOWN)
        run->length_ms = m->link_ms;
    if (run->by_switch)
        walk_file_switched(&run->walk, &run->walker, m);
    else
        walk_feed(&run->walk, m);
}

static void take_event(void *context, const struct event *e) {
    struct pass *p = context;
    if (e->kind == EVENT_ABOUT && !p->marked &&
        marks_about(&p->run->marks, e->about.key, e->about.value))
        return;
    fold_event(&p->fold, e);
}

static int first_pass(struct pass *p, struct setup *setup, const char *path) {
    struct snapshot s;
    fold_init(&p->fold, setup);
    fold_watch(&p->fold, take_moment, p);
    int status = feed_all(path, take_event, p, &p->run->fed);
    if (status == STATUS_ANSWER && !fold_read(&p->fold, &s)) {
        status = print_out_no_memory();
    } else if (status == STATUS_ANSWER) {
        p->run->rate_hz = p->run->walk.limits.rate_hz = s.rate_hz;
        p->run->evidence = s.evidence;
        p->run->acked = s.acked;
        p->run->full_step = s.step_known ? s.full_step : 0;
        p->run->mhz = p->fold.survey.mhz;
        p->run->kbps = p->fold.survey.kbps;
        status = fold_readable(&s, path);
    }
    fold_release(&p->fold);
    return status;
}

/* The file again, with the marks as amended; its faults were said the first time. */
static int second_pass(struct pass *p, struct setup *setup, const char *path) {
    setup->recorded_len = 0;
    fold_init(&p->fold, setup);
    fold_watch(&p->fold, take_moment, p);
    struct feed *f = feed_open(path, take_event, p);
    if (!f)
        return STATUS_TROUBLE;
    feed_hush(f);
    enum feed_step step;
    do
        step = feed_step(f, FEED_BLOCK);
    while (step == FEED_MORE);
    struct feed_facts facts;
    feed_facts(f, &facts);
    feed_close(f);
    marked_walk_end(p->marked);
    fold_release(&p->fold);
    if (p->fold.no_memory)
        return print_out_no_memory(); /* no stop would have been seen */
    if (step != FEED_TROUBLE)
        return STATUS_ANSWER;
    char why[WORDS_MAX];
    words_reading(why, path, facts.broken);
    words_say("%s", why);
    return STATUS_TROUBLE;
}

static int amended(struct pass *p, struct setup *setup, const char *path) {
    if (strcmp(path, "-") == 0) {
        words_say("this recording's marks were amended, and that stands at its end: it has to be "
                  "read twice, so give the file by its name instead of standard input");
        return STATUS_TROUBLE;
    }
    struct walk_limits limits = p->run->walk.limits;
    p->marked = malloc(sizeof *p->marked);
    if (!p->marked)
        return print_out_no_memory();
    walk_init(&p->run->walk, &limits);
    marked_walk_init(p->marked, &p->run->walk, &p->run->marks);
    int status = second_pass(p, setup, path);
    free(p->marked);
    return status;
}

int walk_file_read(const struct options *o, const char *path, enum walk_want want,
                   struct walk_run *out) {
    struct walk_limits limits;
    struct setup setup;
    struct pass pass = {.run = out};
    memset(out, 0, sizeof *out);
    int status = setup_init(&setup, o);
    if (status != STATUS_ANSWER)
        return status;
    walk_file_limits(o, &limits);
    walk_init(&out->walk, &limits);
    out->length_ms = TIME_UNKNOWN;
    out->by_switch = o->switch_channel > 0;
    if (out->by_switch)
        walk_file_walker(o, &out->walker);
    status = first_pass(&pass, &setup, path);
    if (status == STATUS_ANSWER && out->marks.amendments > 0 && !out->by_switch &&
        want == WALK_STOPS)
        status = amended(&pass, &setup, path);
    setup_release(&setup);
    return status;
}
