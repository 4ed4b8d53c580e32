/* The range walk, the trials and the causes, in tables. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "print/report_parts.h"
#include "print/trials.h"

/* --- the walk --------------------------------------------------------------------------------- */

static void loss_cells(struct html_table *t, const struct walk_stop *stop) {
    struct walk_loss loss;
    walk_loss(stop, &loss);
    if (loss.known)
        html_cell(t, "%.2f" GAP "%%", 100 * loss.rate);
    else
        html_cell(t, "unknown without %s", loss.why);
    if (loss.high < 0)
        html_cell(t, "not known%s%s", loss.why ? ": " : "", loss.why ? loss.why : "");
    else if (loss.low <= 0)
        html_cell(t, "under %.2f" GAP "%%", 100 * loss.high);
    else
        html_cell(t, "%.2f to %.2f" GAP "%%", 100 * loss.low, 100 * loss.high);
}

static void verdict_cell(struct html_table *t, const struct walk *w, const struct walk_stop *s) {
    unsigned unsure, faults = walk_judge(s, &w->limits, &unsure);
    char words[64], doubts[64], dead[SPAN_TEXT] = "";
    walk_fault_words(words, sizeof words, faults);
    walk_fault_words(doubts, sizeof doubts, unsure & ~faults);
    if (s->died)
        report_span(dead, s->dead_ms);
    html_cell(t, "%s%s%s%s%s%s%s", walk_verdict(faults, s), words[0] ? ": " : "", words,
              s->died ? ", silent for at least " : "", dead, doubts[0] ? "; unsure: " : "", doubts);
}

static void put_stop(struct html_table *t, const struct walk *w, const struct walk_stop *s) {
    char from[SPAN_TEXT], span[SPAN_TEXT], gap[SPAN_TEXT];
    html_row_begin(t);
    html_cell(t, "%g" GAP "m%s%s", s->distance_m, s->facing[0] ? ", facing " : "", s->facing);
    html_cell(t, "%s, %s", report_moment(from, s->from_ms),
              report_span(span, s->to_ms - s->from_ms));
    html_cell(t, "%llu", (unsigned long long)(s->got + s->lost));
    loss_cells(t, s);
    html_cell(t, "%s",
              s->longest_gap_ms == TIME_UNKNOWN ? "unknown without age or gap"
                                                : report_span(gap, s->longest_gap_ms));
    if (s->failsafe_known)
        html_cell(t, "%llu", (unsigned long long)s->failsafes);
    else
        html_cell(t, "unknown without fs");
    verdict_cell(t, w, s);
    html_row_end(t);
}

static void put_reach(struct report_page *p) {
    const struct reach *r = p->f->reach;
    char a[SPAN_TEXT], b[SPAN_TEXT], c[SPAN_TEXT];
    if (r == NULL)
        return;
    if (r->verdict == REACH_CLOSED)
        html_element(&p->h, "p",
                     "A curve through %u stops crosses %g" GAP "%% loss at %s (95 %%: %s to %s).",
                     r->stops, 100 * r->loss_limit, report_metres(a, r->m),
                     report_metres(b, r->low_m), report_metres(c, r->high_m));
    else
        html_element(&p->h, "p", "No range with an interval can be given (%s): %s",
                     reach_word(r->verdict), reach_reason(r->verdict));
    if (r->at_least_m > 0)
        html_element(&p->h, "p", "Up to %s the loss is shown to keep below %g" GAP "%%.",
                     report_metres(a, r->at_least_m), 100 * r->loss_limit);
    if (r->at_most_m > 0 && isfinite(r->at_most_m))
        html_element(&p->h, "p", "From %s on it is shown to be above.",
                     report_metres(a, r->at_most_m));
    if (r->left_out > 0)
        html_element(&p->h, "p class=\"note\"",
                     "%u stop%s of another heading or power, or without packets, left out of this.",
                     r->left_out, report_plural(r->left_out));
}

static void put_power(struct report_page *p) {
    const struct walk *w = p->f->walk;
    uint32_t least = UINT32_MAX, full = p->f->walked->full_step;
    for (uint32_t i = 0; i < w->count; i++)
        if (w->stop[i].step_known && w->stop[i].step < least)
            least = w->stop[i].step;
    if (full > 0 && least < full)
        html_element(&p->h, "p class=\"caution\"",
                     "Walked at power step %u of %u, which is reduced. Put the transmitter back to "
                     "full power before the model goes out.",
                     least, full);
}

void report_walk(struct report_page *p) {
    static const char *const heads[] = {"stop",        "from, for", "packets", "lost", "lost, 95 %",
                                        "longest gap", "failsafe",  "verdict", NULL};
    const struct walk *w = p->f->walk;
    const struct walk_facts *f = p->f->walked;
    struct html_table t;
    if (f->by_switch > 0)
        html_element(&p->h, "p", "Stops by the switch on channel %u.", f->by_switch);
    else
        html_element(&p->h, "p", "Stops by the recording's marks%s.",
                     f->amendments > 0 ? ", as amended afterwards" : "");
    html_element(
        &p->h, "p",
        "A stop fails on failsafe, a restart, a gap over %lld ms, a loss over %g %% (%g %% "
        "at another heading), or a lost link.",
        (long long)w->limits.gap_ms, 100 * w->limits.loss_facing, 100 * w->limits.loss_turned);
    html_table_begin(&t, &p->h, "Stop by stop", heads);
    for (uint32_t i = 0; i < w->count; i++)
        put_stop(&t, w, &w->stop[i]);
    html_table_end(&t);
    put_reach(p);
    put_power(p);
    report_figure(p, "walk", "Loss over distance, with the range and its interval.");
    report_full_power(p);
    html_element(&p->h, "p class=\"note\"",
                 "A range on the ground is no clearance to fly: local rules come first.");
}

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
    static const char *const heads[] = {"cause",    "comes before",      "by chance",
                                        "p (Holm)", "next test or cure", NULL};
    struct html_table t;
    bool shown = found->count > 0 && found->cause[0].shown == CAUSE_SHOWN;
    if (found->too_few)
        html_element(&p->h, "p", "Not tested: %s.", found->too_few);
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
              : d->forgot      ? "radio forgot its settings"
              : d->silence     ? "outage"
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
