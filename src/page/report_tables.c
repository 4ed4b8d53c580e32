/* The trials and the causes, in tables. */
#include <stdio.h>
#include <string.h>

#include "page/report_parts.h"
#include "text/trials_text.h"

/* --- the trials ------------------------------------------------------------------------------- */

static void verdict_in_cell(struct report_page *p, struct html_table *t,
                            enum trial_verdict verdict) {
    html_cell_begin(t);
    report_verdict(p, verdict);
    html_cell_end(t);
}

static void put_stands(struct report_page *p) {
    static const char *const heads[] = {"trial", "what stands", "remark", NULL};
    struct html_table t;
    html_table_begin(&t, &p->h, "What stands at the end", heads);
    for (int i = 0; i < TRIALS; i++) {
        const char *stale;
        enum trial_verdict verdict;
        if (trial_kinds[i] == NULL)
            continue;
        verdict = book_stands(p->f->book, (enum trial_id)i, &stale);
        html_row_begin(&t);
        html_cell(&t, "%s", trial_kinds[i]->title);
        verdict_in_cell(p, &t, verdict);
        html_cell(&t, "%s%s%s", stale ? "unproven again: " : "", stale ? stale : "",
                  stale ? "; try it again" : "");
        html_row_end(&t);
    }
    html_table_end(&t);
}

static void measured(char *out, size_t size, const struct trial_finding *f) {
    if (!f->measured)
        out[0] = '\0';
    else if (f->low == f->high)
        snprintf(out, size, "%.6g %s", f->low, f->unit ? f->unit : "");
    else
        snprintf(out, size, "%.6g to %.6g %s", f->low, f->high, f->unit ? f->unit : "");
}

static void put_finding(struct report_page *p, struct html_table *t,
                        const struct trial_finding *f) {
    char value[80];
    measured(value, sizeof value, f);
    html_row_begin(t);
    html_cell(t, "%s", f->text);
    verdict_in_cell(p, t, f->verdict);
    html_cell(t, "%s", value);
    html_cell(t, "%s", f->missing ? f->missing : "");
    html_row_end(t);
}

static void put_entry(struct report_page *p, const struct book_entry *e) {
    static const char *const heads[] = {"what was seen", "verdict", "measured",
                                        "key that would tell", NULL};
    char from[SPAN_TEXT], to[SPAN_TEXT];
    struct html_table t;
    html_element(&p->h, "h3", "%s", trial_kinds[e->id]->title);
    html_markup(&p->h, "<p>");
    report_verdict(p, e->outcome.verdict);
    html_say(&p->h, ": %s", e->outcome.headline);
    html_markup(&p->h, "</p>\n");
    html_element(&p->h, "p class=\"note\"", "From %s to %s%s%s.", report_moment(from, e->begun_ms),
                 report_moment(to, e->ended_ms),
                 e->ended  ? ""
                 : e->quit ? ", left before its end"
                           : ", not ended",
                 e->port_lost ? "; the port was lost meanwhile" : "");
    if (e->outcome.count > 0) {
        html_table_begin(&t, &p->h, "Findings", heads);
        for (uint32_t i = 0; i < e->outcome.count; i++)
            put_finding(p, &t, &e->outcome.finding[i]);
        html_table_end(&t);
    }
    if (e->outcome.next[0] != '\0')
        html_element(&p->h, "p", "Next: %s", e->outcome.next);
}

void report_trials(struct report_page *p) {
    struct book_entry e;
    put_stands(p);
    report_figure(p, "trials", "What the guided trials showed.");
    for (uint32_t i = 0; i < book_count(p->f->book); i++) {
        book_entry(p->f->book, i, &e);
        put_entry(p, &e);
    }
}

/* --- the causes ------------------------------------------------------------------------------- */

static void put_evidence(struct html_table *t, const struct causes_facts *f, const struct cause *c,
                         const char *what) {
    char label[96];
    causes_label(label, sizeof label, c, f->s);
    html_row_begin(t);
    html_cell(t, "%s", label);
    if (c->events > 0)
        html_cell(t, "%u of %u %s", c->explained, c->events, what);
    else
        html_cell(t, "a fact that the lines state");
    if (c->tested)
        html_cell(t, "%.1f", c->expected);
    else
        html_cell(t, "not tested");
    if (c->tested)
        html_cell(t, "%s%.4f", c->p < 0.0001 ? "under " : "", c->p < 0.0001 ? 0.0001 : c->p);
    else
        html_cell(t, "%s", "");
    html_cell(t, "%s", cause_next(c->id));
    html_row_end(t);
}

static void put_chains(struct report_page *p, const struct causes *found) {
    bool any = false;
    for (uint32_t i = 0; i < found->count && found->cause[i].shown == CAUSE_SHOWN;) {
        char chain[256];
        uint32_t n = causes_chain(chain, sizeof chain, found, i, p->f->s);
        report_chain(chain, sizeof chain);
        if (n > 1) {
            html_markup(&p->h, any ? "" : "<p>One thing led to the next:</p>\n<ul>\n");
            html_element(&p->h, "li", "%s", chain);
            any = true;
        }
        i += n;
    }
    if (any)
        html_markup(&p->h, "</ul>\n");
}

/* What was tested and not shown, or can't be told: each name once. */
static void put_rest(struct report_page *p, const struct causes *found, enum cause_shown shown,
                     const char *intro) {
    char text[1200];
    struct text t;
    bool told[CAUSES] = {false};
    text_init(&t, text, sizeof text);
    for (uint32_t i = 0; i < found->count; i++) /* shown in one sort of event is shown */
        if (found->cause[i].shown == CAUSE_SHOWN)
            told[found->cause[i].id] = true;
    for (uint32_t i = 0; i < found->count; i++) {
        const struct cause *c = &found->cause[i];
        if (c->shown != shown || told[c->id] || (shown == CAUSE_NOT_SHOWN && !c->tested))
            continue;
        told[c->id] = true;
        text_format(&t, "%s%s", t.len > 0 ? ", " : "", cause_name(c->id));
        if (c->missing)
            text_format(&t, " (without %s)", c->missing);
    }
    if (t.len > 0)
        html_element(&p->h, "p", "%s %s.", intro, text);
}

static void put_found(struct report_page *p, const struct causes *found, bool twitches) {
    static const char *const heads[] = {"cause", "comes before",      "by chance",
                                        "p",     "next test or cure", NULL};
    struct html_table t;
    bool shown = found->count > 0 && found->cause[0].shown == CAUSE_SHOWN;
    char text[160];
    const char *why =
        twitches ? found->too_few : causes_not_tested(text, sizeof text, p->f->causes);
    if (why)
        html_element(&p->h, "p", "Not tested: %s.", why);
    if (shown) {
        html_table_begin(&t, &p->h, "Shown, the strongest first", heads);
        for (uint32_t i = 0; i < found->count && found->cause[i].shown == CAUSE_SHOWN; i++)
            put_evidence(&t, p->f->causes, &found->cause[i],
                         twitches                  ? "twitches"
                         : found->cause[i].outages ? "outages"
                                                   : "losses");
        html_table_end(&t);
        put_chains(p, found);
    } else {
        html_element(&p->h, "p", "No cause is shown%s.",
                     found->tested > 0 ? ": none of the candidates comes before them more than by "
                                         "chance"
                                       : "");
    }
    put_rest(p, found, CAUSE_NOT_SHOWN, "Tested and not shown:");
    put_rest(p, found, CAUSE_CANT_TELL, "Can't be told:");
}

static bool worth_a_row(const struct trace_drop *d) {
    return trace_outage(d) || d->lost >= 3;
}

static void put_drop(struct html_table *t, const struct trace *trace, const struct trace_drop *d) {
    char at[SPAN_TEXT], length[SPAN_TEXT];
    struct cause_before b;
    causes_before(trace, d, &b);
    html_row_begin(t);
    html_cell(t, "%s", report_moment(at, d->from_ms - trace->begin_ms));
    html_cell(t, "%s",
              d->restart       ? "receiver restarted"
              : d->transmitter ? "transmitter started"
              : d->forgot      ? "radio lost its settings"
              : d->outage      ? "outage"
                               : "losses");
    html_cell(t, "%s", report_span(length, d->to_ms - d->from_ms));
    html_cell(t, "%llu", (unsigned long long)d->lost);
    if (!b.known)
        html_cell(t, "unknown: lines are missing there");
    else if (b.channel >= 0)
        html_cell(t, "channel %d moved by %u", b.channel + 1, b.way);
    else
        html_cell(t, "nothing moved");
    if (b.known && b.dip_mv != INT32_MIN)
        html_cell(t, "%d mV", b.dip_mv);
    else
        html_cell(t, "unknown");
    html_row_end(t);
}

static void put_drops(struct report_page *p) {
    static const char *const heads[] = {
        "at", "kind", "length", "packets lost", "in the 1.5 s before", "supply dip", NULL};
    enum { SHOWN = 20 };
    const struct trace *trace = p->f->causes->trace;
    uint32_t kept = trace->drops < TRACE_DROPS ? trace->drops : TRACE_DROPS, rows = 0, shown = 0;
    struct html_table t;
    for (uint32_t i = 0; i < kept; i++)
        rows += worth_a_row(&trace->drop[i]);
    if (rows == 0)
        return;
    html_table_begin(&t, &p->h, "Drops", heads);
    for (uint32_t i = 0; i < kept && shown < SHOWN; i++)
        if (worth_a_row(&trace->drop[i])) {
            put_drop(&t, trace, &trace->drop[i]);
            shown++;
        }
    html_table_end(&t);
    if (shown < rows)
        html_element(&p->h, "p class=\"note\"", "%u more: airleash causes --all lists them.",
                     rows - shown);
}

void report_causes(struct report_page *p) {
    const struct causes_facts *f = p->f->causes;
    html_element(&p->h, "p",
                 "Outages and restarts: %u. Shorter losses: %u. A cause is shown when it comes "
                 "before them more often than chance brings.",
                 f->found->outages, f->found->losses);
    put_found(p, f->found, false);
    if (f->twitched) {
        html_element(&p->h, "h3", "Twitches: %u marked", f->trace->twitches);
        put_found(p, f->twitched, true);
    }
    put_drops(p);
}
