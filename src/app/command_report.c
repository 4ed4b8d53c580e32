/* The one-page report: one reading of the recording, and a second one for its walk. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/commands.h"
#include "app/gallery.h"
#include "app/print_out.h"
#include "app/whole_file.h"
#include "app/words.h"
#include "page/report.h"

enum { FACTS_MAX = 128, FACTS_TEXT = 16 * 1024 };

struct report_run {
    struct gallery gallery;
    struct bench_limits limits;
    struct trace trace;
    struct layout layout;
    struct causes found, twitched;
    struct causes_facts causes;
    struct figures_facts figures;
    struct walk_facts walked;
    struct report_fact fact[FACTS_MAX];
    uint32_t facts, facts_left_out;
    size_t text_len;
    char text[FACTS_TEXT]; /* of the facts */
    struct picture canvas;
};

/* --- the reading ------------------------------------------------------------------------------ */

static const char *keep(struct report_run *r, struct slice s) {
    char *at = r->text + r->text_len;
    if (s.len + 1 > FACTS_TEXT - r->text_len)
        return NULL;
    for (size_t i = 0; i < s.len; i++)
        at[i] = s.at[i] != '\0' ? s.at[i] : '?';
    at[s.len] = '\0';
    r->text_len += s.len + 1;
    return at;
}

/* The facts as they stand in the recording, but for those that say where rows were mended. */
static void take_event(void *context, const struct event *e) {
    struct report_run *r = context;
    if (e->kind != EVENT_ABOUT || slice_is(e->about.key, "rows_missing") ||
        slice_starts(e->about.key, "amend_"))
        return;
    const char *key = r->facts < FACTS_MAX ? keep(r, e->about.key) : NULL;
    const char *value = key ? keep(r, e->about.value) : NULL;
    if (value)
        r->fact[r->facts++] = (struct report_fact){key, value};
    else
        r->facts_left_out++;
}

static void take_moment(void *context, const struct moment *m) {
    struct report_run *r = context;
    if (r->trace.begin_ms == TIME_UNKNOWN) /* by now the recorded model file was read */
        setup_limits(&r->gallery.setup, &r->limits);
    trace_feed(&r->trace, m);
    if (m->event->kind == EVENT_REPORT && m->packets.arrived)
        layout_take(&r->layout, &m->event->report);
}

/* --- what follows from it --------------------------------------------------------------------- */

/* The distances are the walk's where its marks alone don't tell them, as in airleash causes. */
static bool find_causes(struct report_run *r) {
    const struct walk_run *walk = r->gallery.walk;
    bool twitched = r->trace.twitches > 0;
    trace_end(&r->trace);
    if (walk && (walk->by_switch || walk->marks.amendments > 0))
        trace_walked(&r->trace, &walk->walk);
    if (gallery_has_field(&r->gallery) && r->gallery.paper.from.power != BUDGET_ASSUMED)
        r->trace.budget = &r->gallery.paper.in; /* of a known power, as in airleash causes */
    if (!causes_find(&r->trace, &r->found) ||
        (twitched && !causes_twitches(&r->trace, &r->twitched)))
        return false;
    r->causes = (struct causes_facts){.file = r->gallery.name,
                                      .s = &r->gallery.s,
                                      .trace = &r->trace,
                                      .found = &r->found,
                                      .twitched = twitched ? &r->twitched : NULL};
    return true;
}

static bool holds(const struct gallery *g, const char *name) {
    int row = gallery_find(name);
    return row >= 0 && gallery_rows[row].holds(g);
}

static bool draw(void *drawing, const char *name, enum picture_size size, struct picture *canvas) {
    struct gallery *g = drawing;
    int row = gallery_find(name);
    return row >= 0 && gallery_rows[row].holds(g) &&
           gallery_draw(g, row, canvas, size) == STATUS_ANSWER;
}

static void walk_facts_set(struct report_run *r, const struct options *o) {
    walk_file_facts(o, r->gallery.walk, r->gallery.name, &r->walked);
    r->walked.reach = &r->gallery.reach;
    r->walked.reduced = &r->gallery.reduced;
}

static void write_page(struct report_run *r, struct bytes *out) {
    struct gallery *g = &r->gallery;
    r->figures = (struct figures_facts){
        .file = g->name,
        .rate_from = setup_rate_from(&g->setup),
        .recording = g->fed.recording,
        .rows_bad = g->fed.rows_bad,
        .rows_missing = g->fold.rows_missing,
        .survey = &g->fold.survey,
    };
    struct model model;
    setup_model(&g->setup, &model);
    struct report_facts facts = {
        .program = "airleash " AIRLEASH_VERSION,
        .model = model.model,
        .figures = &r->figures,
        .s = &g->s,
        .m = &g->m,
        .course = &g->course,
        .supply_alarm_mv = g->facts.supply_alarm_mv,
        .by_usb = model.power == MODEL_POWER_USB,
        .walk = g->walk ? &g->walk->walk : NULL,
        .walked = &r->walked,
        .reach = g->walk ? &g->reach : NULL,
        .paper = gallery_has_field(g) ? &g->paper.in : NULL,
        .field = &g->field,
        .book = g->trials.book,
        .ends = &g->trials.ends,
        .layout = &r->layout,
        .causes = &r->causes,
        .fact = r->fact,
        .facts = r->facts,
        .facts_left_out = r->facts_left_out,
        .draw = draw,
        .drawing = g,
        .canvas = &r->canvas,
    };
    report_html(&facts, bytes_put, out);
}

/* --- the command ------------------------------------------------------------------------------ */

static int read_all(struct report_run *r, const struct options *o) {
    struct gallery *g = &r->gallery;
    int status = gallery_read(g, o->operands[0]);
    if (!g->facts.s)
        return status == STATUS_ANSWER ? STATUS_TROUBLE : status;
    if (holds(g, "walk")) {
        int walked = gallery_walk(g);
        if (walked != STATUS_ANSWER)
            return walked;
        walk_facts_set(r, o);
    }
    if (status == STATUS_ANSWER && gallery_has_field(g))
        status = gallery_paper(g);
    if (status == STATUS_ANSWER && !find_causes(r))
        return print_out_no_memory();
    return status;
}

static int run(struct report_run *r, const struct options *o) {
    struct bytes page = {0};
    char why[WORDS_MAX];
    int status = read_all(r, o);
    if (status != STATUS_ANSWER)
        return status;
    write_page(r, &page);
    if (strcmp(o->out, "-") == 0) {
        if (!page.no_memory)
            fwrite(page.at, 1, page.len, stdout); /* main sees to trouble */
        else {
            status = print_out_no_memory();
        }
    } else if (!whole_file_write(o->out, o->force, &page, why)) {
        words_say("%s", why);
        status = STATUS_TROUBLE;
    }
    free(page.at);
    return status;
}

static int refuse(const struct options *o) {
    char why[WORDS_MAX];
    if (!o->out) {
        words_say("report needs --out X.html: where the page is to be written (- for standard "
                  "output)");
        fputs("See: airleash report --help\n", stderr);
        return STATUS_USAGE;
    }
    if (strcmp(o->out, "-") != 0 && !whole_file_may(o->out, o->force, why)) {
        words_say("%s", why);
        return STATUS_TROUBLE;
    }
    return STATUS_ANSWER;
}

int command_report(const struct options *o) {
    int status = refuse(o);
    if (status != STATUS_ANSWER)
        return status;
    struct report_run *r = calloc(1, sizeof *r);
    bool ready = false;
    if (r) {
        gallery_init(&r->gallery, o);
        layout_init(&r->layout);
        setup_limits(&r->gallery.setup, &r->limits);
        ready = trace_init(&r->trace, &r->limits);
    }
    if (ready) {
        r->gallery.events = take_event;
        r->gallery.moments = take_moment;
        r->gallery.also = r;
        status = run(r, o);
    } else {
        status = print_out_no_memory();
    }
    if (r) {
        trace_release(&r->trace);
        gallery_release(&r->gallery);
    }
    free(r);
    return status;
}
