/* What was done, what is unknown, the facts of the recording, cautions. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "page/report_parts.h"
#include "text/trials_text.h"
#include "text/unknown.h"

static unsigned long long count(uint64_t n) {
    return (unsigned long long)n;
}

/* The first value of that key, NULL: none. */
static const char *fact(const struct report_facts *f, const char *key) {
    for (uint32_t i = 0; i < f->facts; i++)
        if (strcmp(f->fact[i].key, key) == 0)
            return f->fact[i].value;
    return NULL;
}

/* --- what was done ---------------------------------------------------------------------------- */

static void done_time(struct report_page *p) {
    const struct snapshot *s = p->f->s;
    const char *begun = fact(p->f, "begun"), *port = fact(p->f, "port");
    char span[SPAN_TEXT];
    html_markup(&p->h, "<p>");
    html_say(&p->h, p->f->figures->recording ? "A recording" : "A capture of lines");
    if (port)
        html_say(&p->h, " from %s", port);
    if (begun)
        html_say(&p->h, ", begun %s", begun);
    if (s->reports == 0) {
        html_say(&p->h, ", in which no report of a receiver came.");
        html_markup(&p->h, "</p>\n");
        return;
    }
    if (s->link_ms == TIME_UNKNOWN)
        html_say(&p->h, ", of unknown length: the lines have no t");
    else if (s->reports > 1)
        html_say(&p->h, ", %s long%s", report_span(span, s->link_ms),
                 s->link_time_rough ? " by the computer's clock" : "");
    html_say(&p->h, ", with %llu report%s of the receiver.", count(s->reports),
             report_plural(s->reports));
    html_markup(&p->h, "</p>\n");
}

static void done_marks(struct report_page *p) {
    const struct course *c = p->f->course;
    uint32_t twitches = 0, notes = 0;
    for (uint32_t i = 0; i < c->marks; i++) {
        twitches += c->mark[i].type == MARK_TWITCH;
        notes += c->mark[i].type == MARK_TEXT;
    }
    if (twitches > 0)
        html_element(&p->h, "li", "%u twitch%s marked", twitches, twitches == 1 ? "" : "es");
    if (notes > 0)
        html_element(&p->h, "li", "%u note%s taken", notes, report_plural(notes));
}

static void done_walk(struct report_page *p) {
    const struct walk *w = p->f->walk;
    double nearest = INFINITY, farthest = 0;
    uint32_t stops = 0;
    if (!report_walked(p->f))
        return;
    for (uint32_t i = 0; i < w->count; i++) {
        if (walk_verdict(&w->stop[i], &w->limits) == WALK_EMPTY)
            continue;
        nearest = fmin(nearest, w->stop[i].distance_m);
        farthest = fmax(farthest, w->stop[i].distance_m);
        stops++;
    }
    if (stops == 0)
        return;
    html_element(&p->h, "li", "a range walk of %u stop%s, from %g to %g m", stops,
                 report_plural(stops), nearest, farthest);
}

static void done_trials(struct report_page *p) {
    struct book_entry e;
    for (uint32_t i = 0; p->f->book && i < book_count(p->f->book); i++) {
        char at[SPAN_TEXT];
        book_entry(p->f->book, i, &e);
        html_element(&p->h, "li", "the guided trial \"%s\" at %s", trial_kinds[e.id]->name,
                     report_moment(at, e.begun_ms));
    }
}

void report_done(struct report_page *p) {
    const struct survey *survey = p->f->figures->survey;
    done_time(p);
    html_markup(&p->h, "<ul>\n");
    if (p->f->s->reports > 0)
        html_element(&p->h, "li", "the link was watched");
    done_walk(p);
    done_trials(p);
    done_marks(p);
    if (survey && survey->sweeps > 0)
        html_element(&p->h, "li", "the band was swept while the receiver started");
    if (p->f->s->reports == 0 && (!survey || survey->sweeps == 0))
        html_element(&p->h, "li", "nothing was learnt of a receiver");
    html_markup(&p->h, "</ul>\n");
    html_element(&p->h, "p class=\"note\"",
                 "Times are minutes and seconds of the run, 0:00.0 at its first report.");
}

/* --- what is unknown -------------------------------------------------------------------------- */

static const char *const figure_names[FIGURES] = {
    [FIGURE_LINK_TIME] = "the time of the run",
    [FIGURE_GOT] = "how many packets came",
    [FIGURE_LOST] = "how many packets were lost",
    [FIGURE_REFUSED] = "packets of wrong length or owner",
    [FIGURE_MISSING_LINES] = "lines missing on the cable",
    [FIGURE_OUTAGES] = "how long the outages were",
    [FIGURE_RECEIVER_RESTARTS] = "restarts of the receiver",
    [FIGURE_TRANSMITTER_RESTARTS] = "restarts of the transmitter",
    [FIGURE_FAILSAFE] = "whether failsafe was entered",
    [FIGURE_SUPPLY] = "the receiver's supply",
    [FIGURE_SUPPLY_LOW] = "dips of the supply between two reports",
    [FIGURE_TRANSMITTER_SUPPLY] = "the transmitter's supply",
    [FIGURE_STEP] = "the transmit power",
    [FIGURE_RSSI] = "how strong the signal was",
    [FIGURE_REGISTERS] = "whether the radio kept its settings",
    [FIGURE_LOAD] = "how full the cable was",
};

struct unknowns {
    struct report_page *p;
    struct html_table t;
    uint32_t rows;
};

static void unknown_row(struct unknowns *u, const char *what, const char *why) {
    static const char *const heads[] = {"what", "what would tell, or why not", NULL};
    if (u->rows++ == 0)
        html_table_begin(&u->t, &u->p->h, "Shown as unknown, never as zero", heads);
    html_row_begin(&u->t);
    html_cell(&u->t, "%s", what);
    if (strchr(why, ' '))
        html_cell(&u->t, "%s", why);
    else
        html_cell(&u->t, "the key %s in the receiver's lines", why);
    html_row_end(&u->t);
}

static void unknown_stops(struct unknowns *u) {
    const struct walk *w = u->p->f->walk;
    for (uint32_t i = 0; report_walked(u->p->f) && i < w->count; i++) {
        struct walk_loss loss;
        char what[80];
        walk_loss(&w->stop[i], &loss);
        if (loss.why == NULL)
            continue;
        snprintf(what, sizeof what,
                 loss.known ? "how well the loss at %g m is known" : "the loss at %g m",
                 w->stop[i].distance_m);
        unknown_row(u, what, loss.why);
    }
}

static void unknown_findings(struct unknowns *u) {
    struct book_entry e;
    for (uint32_t i = 0; u->p->f->book && i < book_count(u->p->f->book); i++) {
        book_entry(u->p->f->book, i, &e);
        for (uint32_t k = 0; k < e.outcome.count; k++) {
            const struct trial_finding *f = &e.outcome.finding[k];
            char what[sizeof f->text + 40];
            if (f->missing == NULL)
                continue;
            snprintf(what, sizeof what, "%s trial: %s", trial_kinds[e.id]->name, f->text);
            unknown_row(u, what, f->missing);
        }
    }
}

static void unknown_causes(struct unknowns *u) {
    const struct causes *found;
    bool told[CAUSES] = {false};
    if (!report_dropped(u->p->f))
        return;
    found = u->p->f->causes->found;
    for (uint32_t i = 0; i < found->count; i++) {
        const struct cause *c = &found->cause[i];
        char what[80];
        if (c->shown != CAUSE_CANT_TELL || c->missing == NULL || told[c->id])
            continue;
        told[c->id] = true;
        snprintf(what, sizeof what, "as a cause: %s", cause_name(c->id));
        unknown_row(u, what, c->missing);
    }
}

/* The range, and the decibels that are missing against paper. */
static void unknown_range(struct unknowns *u) {
    const struct report_facts *f = u->p->f;
    const struct budget_walk *w = f->field ? f->field->walk : NULL;
    if (!report_walked(f))
        unknown_row(
            u, "how far the link reaches",
            "a range walk in marked stops (press s in the console), to where the link ends");
    if (f->paper == NULL)
        unknown_row(u, "whether it reaches as far as paper says",
                    "a range walk; or --walked, --level-dbm");
    else if (w && w->known == MISSING_NOTHING_TOLD)
        unknown_row(u, "how much is missing against paper", reach_reason(w->reach.verdict));
}

void report_unknowns(struct report_page *p) {
    struct unknowns u = {.p = p};
    if (p->f->s->reports == 0)
        unknown_row(&u, "every figure of the link", "no report came");
    for (int i = 0; i < FIGURES && p->f->s->reports > 0; i++) {
        const char *why = unknown_why(p->f->s, (enum figure)i);
        if (why)
            unknown_row(&u, figure_names[i], why);
    }
    if (p->f->m->why && p->f->m->ground == GROUND_NONE && !unknown_why(p->f->s, FIGURE_LOST))
        unknown_row(&u, "how well the loss is known", p->f->m->why);
    unknown_range(&u);
    unknown_stops(&u);
    unknown_findings(&u);
    unknown_causes(&u);
    if (!report_swept(p->f))
        unknown_row(&u, "what else is on the air",
                    "air lines: a sweep that the receiver makes at its start");
    if (u.rows > 0)
        html_table_end(&u.t);
    else
        html_element(&p->h, "p", "Nothing that this page asks for.");
    html_element(&p->h, "p class=\"note\"",
                 "airleash-telemetry(5) says of each key how a receiver prints it.");
}

/* --- the recording and its set-up ------------------------------------------------------------- */

static void fact_row(struct html_table *t, const char *key, const char *value) {
    html_row_begin(t);
    html_cell(t, "%s", key);
    html_cell(t, "%s", value);
    html_row_end(t);
}

static void fact_count(struct html_table *t, const char *key, uint64_t n) {
    char text[32];
    snprintf(text, sizeof text, "%llu", count(n));
    fact_row(t, key, text);
}

static void put_facts(struct report_page *p) {
    static const char *const heads[] = {"fact", "value", NULL};
    const struct report_facts *f = p->f;
    struct html_table t;
    html_table_begin(&t, &p->h, "As it was recorded", heads);
    fact_row(&t, "file", f->figures->file);
    fact_row(&t, "kind", f->figures->recording ? "recording" : "capture of lines");
    for (uint32_t i = 0; i < f->facts; i++)
        fact_row(&t, f->fact[i].key, f->fact[i].value);
    if (f->facts_left_out > 0)
        fact_count(&t, "facts left out: no room", f->facts_left_out);
    if (!fact(f, "begun"))
        fact_row(&t, "begun", "unknown: only a recording tells it");
    fact_row(&t, "receiver's firmware",
             f->s->firmware[0] ? f->s->firmware : "unknown: no id line with fw");
    if (f->s->rate_hz > 0) {
        char rate[160];
        snprintf(rate, sizeof rate, "%g, from %s", f->s->rate_hz,
                 f->figures->rate_from ? f->figures->rate_from : "the id line");
        fact_row(&t, "packets a second", rate);
    } else {
        fact_row(&t, "packets a second", "unknown: rate in the id line or the model file");
    }
    if (f->figures->rows_bad > 0)
        fact_count(&t, "rows passed over", f->figures->rows_bad);
    if (f->figures->rows_missing > 0)
        fact_count(&t, "rows missing: the disk was full", f->figures->rows_missing);
    html_table_end(&t);
}

static const char *mark_words(const struct ends_row *row) {
    static const char *const words[] = {[ENDS_SAME] = "same",
                                        [ENDS_DIFFERS] = "differs",
                                        [ENDS_UNKNOWN] = "unknown",
                                        [ENDS_FREE] = "need not agree"};
    return words[row->mark];
}

static const char *said(const char *text) {
    return strcmp(text, "?") == 0 ? "unknown" : text;
}

/* Side by side, or the one that is known. */
static void put_ends(struct report_page *p) {
    static const char *const both[] = {"key", "receiver", "transmitter", "remark", NULL};
    static const char *const one[] = {"key", "value", NULL};
    const struct ends *e = p->f->ends;
    struct html_table t;
    if (e == NULL || (!e->receiver.known && !e->transmitter.known))
        return;
    bool pair = e->receiver.known && e->transmitter.known;
    html_table_begin(&t, &p->h,
                     pair                ? "What both ends say of themselves"
                     : e->receiver.known ? "What the receiver says of itself"
                                         : "What the transmitter says of itself",
                     pair ? both : one);
    for (uint32_t i = 0; i < ENDS_ROWS; i++) {
        struct ends_row row;
        ends_row(e, i, &row);
        html_row_begin(&t);
        html_cell(&t, "%s", row.key);
        if (pair || e->receiver.known)
            html_cell(&t, "%s", said(row.receiver));
        if (pair || e->transmitter.known)
            html_cell(&t, "%s", said(row.transmitter));
        if (pair)
            html_cell(&t, "%s%s%s", mark_words(&row), row.remark ? ": " : "",
                      row.remark ? row.remark : "");
        html_row_end(&t);
    }
    html_table_end(&t);
}

void report_of_recording(struct report_page *p) {
    put_facts(p);
    put_ends(p);
}

/* --- cautions --------------------------------------------------------------------------------- */

void report_cautions(struct report_page *p) {
    html_markup(&p->h, "<ul class=\"caution\">\n");
    html_element(&p->h, "li", "%s", trials_footer);
    html_element(&p->h, "li",
                 "Before a battery or a cable is connected: propeller off, or wheels off the "
                 "ground. Opening a serial port restarts many boards.");
    if (report_walked(p->f))
        html_element(&p->h, "li",
                     "On a walk: model held, propeller off or wheels free, a helper beside "
                     "it; mind traffic, water and people; put a lowered transmit power back to "
                     "full afterwards.");
    html_element(&p->h, "li",
                 "This page tells of one run, with this model, at this place, on this "
                 "day. After a change, try again.");
    html_markup(&p->h, "</ul>\n");
}
