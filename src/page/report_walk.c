/* The range walk: stop by stop, how far it reaches, what the signal says. */
#include <math.h>
#include <stdio.h>

#include "base/percent.h"
#include "page/report_parts.h"
#include "radio/chip.h"

static void loss_cells(struct html_table *t, const struct walk_stop *stop) {
    struct walk_loss loss;
    char span[PERCENT_SPAN_MAX];
    walk_loss(stop, &loss);
    if (loss.known)
        html_cell(t, "%.2f" GAP "%%", 100 * loss.rate);
    else
        html_cell(t, "unknown without %s", loss.why);
    if (loss.low <= 0)
        percent_text(span, fmax(0, loss.high));
    else
        percent_span(span, loss.low, " to ", loss.high);
    if (loss.high < 0)
        html_cell(t, "not known%s%s", loss.why ? ": " : "", loss.why ? loss.why : "");
    else if (loss.low <= 0)
        html_cell(t, "under %s" GAP "%%", span);
    else
        html_cell(t, "%s" GAP "%%", span);
}

static void verdict_cell(struct html_table *t, const struct walk *w, const struct walk_stop *s) {
    char verdict[WALK_VERDICT_TEXT];
    walk_verdict_text(verdict, sizeof verdict, s, &w->limits);
    html_cell(t, "%s", verdict);
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
                     "By %u stops the mean loss reaches %g" GAP "%% at %s (95 %%: %s to %s).",
                     r->stops, 100 * r->loss_limit, report_metres(a, r->m),
                     report_metres(b, r->low_m), report_metres(c, r->high_m));
    else
        html_element(&p->h, "p", "No range with an interval can be given (%s): %s",
                     reach_word(r->verdict), reach_reason(r->verdict));
    if (r->at_least_m > 0)
        html_element(&p->h, "p", "The range is at least %s%s: 19 in 20 such bounds hold.",
                     report_metres(a, r->at_least_m),
                     r->at_least_m >= r->farthest_m ? ", as far as you walked" : "");
    if (isfinite(r->at_most_m))
        html_element(&p->h, "p",
                     "It is at most %s: beyond, more than %g" GAP "%% are lost on average.",
                     report_metres(a, r->at_most_m), 100 * r->loss_limit);
    if (r->at_least_m > 0 || r->verdict == REACH_CLOSED)
        html_element(
            &p->h, "p class=\"note\"",
            "The range is where the loss, averaged over places, reaches the limit: at that "
            "distance about 3 or 4 places in 10 are already worse. It holds for stops in "
            "different places only.");
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

/* The level over the distance, and where the one-bit carrier detection ends. */
static void put_signal(struct report_page *p) {
    const struct reach_exponent *e = &p->f->reach->exponent;
    const struct reach_flip *f = &p->f->reach->flip;
    char a[SPAN_TEXT];
    if (e->known)
        html_element(&p->h, "p",
                     "The level falls by %.0f" GAP
                     "dB for ten times the distance (n = %.2f, standard "
                     "error %.2f; free space 2, near the ground 4) and scatters by %.1f" GAP "dB. "
                     "Only packets that arrived have one, so n is rather too small.",
                     10 * e->n, e->n, e->n_se, e->sigma_db);
    if (e->margin_known)
        html_element(&p->h, "p",
                     "At the farthest stop that has a level it is %.1f" GAP
                     "dB over the sensitivity.",
                     e->margin_db);
    if (f->known)
        html_element(
            &p->h, "p",
            "The carrier is detected in less than half of the looks from %s on (between the "
            "stops at %.4g and %.4g" GAP "m): a second estimate, of where about %d" GAP
            "dBm arrive on chips like the nRF24L01+.",
            report_metres(a, f->m), f->low_m, f->high_m, CHIP_CARRIER_DBM);
}

static void remark(struct report_page *p, uint64_t n, const char *one, const char *many) {
    if (n > 0)
        html_element(&p->h, "li", "%llu %s", (unsigned long long)n, n == 1 ? one : many);
}

/* What was left out, and what may be missing. */
static void put_remarks(struct report_page *p) {
    const struct walk *w = p->f->walk;
    const struct walk_facts *f = p->f->walked;
    if (f->marks_unused + f->amendments_refused + f->beyond_plan + f->plan_left + w->marks_untimed +
            w->marks_no_place + w->passed_over ==
        0)
        return;
    html_markup(&p->h, "<ul>\n");
    remark(p, f->plan_left,
           "stop of the plan unmarked: were it a press that nothing got through of, later stops "
           "would be farther out than is said here",
           "stops of the plan unmarked: were one a press that nothing got through of, later stops "
           "would be farther out than is said here");
    remark(p, f->beyond_plan, "more press after the plan's last stop: give a longer --plan",
           "more presses after the plan's last stop: give a longer --plan");
    remark(p, f->marks_unused, "mark of the recording left out", "marks of the recording left out");
    remark(p, f->amendments_refused, "amendment can't be read or names no mark",
           "amendments can't be read or name no mark");
    remark(p, w->marks_untimed, "mark came before the first report and can't be placed",
           "marks came before the first report and can't be placed");
    remark(p, w->marks_no_place, "stop without a distance left out",
           "stops without a distance left out");
    remark(p, w->passed_over, "more stop than there is room for, left out",
           "more stops than there is room for, left out");
    html_markup(&p->h, "</ul>\n");
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
        (long long)walk_gap_limit(&w->limits), 100 * w->limits.loss_facing,
        100 * w->limits.loss_turned);
    put_remarks(p);
    html_table_begin(&t, &p->h, "Stop by stop", heads);
    for (uint32_t i = 0; i < w->count; i++)
        put_stop(&t, w, &w->stop[i]);
    html_table_end(&t);
    put_reach(p);
    put_signal(p);
    put_power(p);
    report_figure(p, "walk", "Loss over distance, with the range and its interval.");
    report_full_power(p);
    html_element(&p->h, "p class=\"note\"",
                 "A range on the ground is no clearance to fly: local rules come first.");
}
