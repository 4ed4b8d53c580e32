/* Paper against field, and what a walk at reduced power tells of full power. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>

#include "page/report_parts.h"
#include "radio/chip.h"

bool report_has_paper(const struct report_facts *f) {
    const struct budget_facts *field = f->field;
    if (f->paper == NULL || field == NULL)
        return false;
    return field->by_range || field->by_level ||
           (field->walk && field->walk->known != MISSING_NOTHING_TOLD);
}

/* --- what is missing -------------------------------------------------------------------------- */

static void say_interval(struct text *t, const struct budget_walk *w) {
    const struct reach *r = &w->reach;
    const struct missing *m = &w->range;
    char at[SPAN_TEXT], low[SPAN_TEXT], high[SPAN_TEXT];
    text_format(t, "In the field %g" GAP "%% of the packets were lost at %s (95 %%: %s to %s). ",
                100 * r->loss_limit, report_metres(at, r->m), report_metres(low, r->low_m),
                report_metres(high, r->high_m));
    if (m->db < 0)
        text_format(t,
                    "Paper ends %.1f" GAP "dB before that (95 %%: %.1f to %.1f): the field does "
                    "better than paper.",
                    -m->db, -m->high_db, -m->low_db);
    else
        text_format(t,
                    "Paper has %.1f" GAP "dB in hand there (95 %%: %.1f to %.1f), reckoned near "
                    "the ground: so much is missing.",
                    m->db, m->low_db, m->high_db);
    if (m->db >= 0 && m->free_space_db > m->db + 0.05)
        text_format(t, " By free space it would be %.1f" GAP "dB.", m->free_space_db);
}

static void say_walk(struct text *t, const struct budget_walk *w) {
    const struct reach *r = &w->reach;
    const struct missing *m = &w->range;
    char a[SPAN_TEXT], b[SPAN_TEXT];
    if (w->known == MISSING_INTERVAL)
        say_interval(t, w);
    else if (w->known == MISSING_BETWEEN)
        text_format(t,
                    "In the field the link ended somewhere between %s and %s: between %.1f and "
                    "%.1f" GAP "dB are missing, reckoned near the ground.",
                    report_metres(a, r->at_least_m), report_metres(b, r->at_most_m), m->low_db,
                    m->high_db);
    else if (w->known == MISSING_AT_MOST)
        text_format(t,
                    "In the field it is shown to be good as far as %s, and nothing is shown of "
                    "farther out: %.1f" GAP "dB are missing at most, reckoned near the ground.",
                    report_metres(a, r->at_least_m), fmax(m->db, 0));
    else if (w->known == MISSING_AT_LEAST)
        text_format(t,
                    "In the field it is shown to be bad from %s on, and nothing is shown of nearer "
                    "by: %.1f" GAP "dB are missing at least, reckoned near the ground.",
                    report_metres(a, r->at_most_m), m->db);
}

/* By what the person gave. */
static void say_given(struct text *t, const struct budget_inputs *in,
                      const struct budget_facts *f) {
    char at[SPAN_TEXT];
    if (f->by_range)
        text_format(t,
                    " As you say, the link ended at %s: paper %s %.1f" GAP "dB %s there, reckoned "
                    "near the ground.",
                    report_metres(at, f->walked_m), f->by_range->db < 0 ? "lacks" : "has",
                    fabs(f->by_range->db), f->by_range->db < 0 ? "already" : "in hand");
    if (f->by_level)
        text_format(t, " %g" GAP "dBm were measured over %s, %.1f" GAP "dB %s paper.", f->level_dbm,
                    report_metres(at, in->distance_m), fabs(f->by_level->db),
                    f->by_level->db < 0 ? "above" : "below");
}

/* The field in words; empty where nothing is known. */
static void say_field(struct text *t, const struct report_facts *f) {
    const struct budget_walk *w = f->field->walk;
    if (w)
        say_walk(t, w);
    say_given(t, f->paper, f->field);
    if (w && w->level_stops > 0)
        text_format(t,
                    " The level at %u stop%s is %.1f" GAP "dB below paper (single stops: %.1f to "
                    "%.1f).",
                    w->level_stops, report_plural(w->level_stops), w->level.db, w->level.low_db,
                    w->level.high_db);
}

/* The walk was at another power than paper takes. */
static bool other_power(const struct budget_facts *field) {
    const struct budget_walk *w = field->walk;
    return w && w->known != MISSING_NOTHING_TOLD && w->step > 0 && w->step != field->step;
}

static const char *judged(const struct budget_facts *field, double *db) {
    if (other_power(field))
        return "But the walk was at a lowered power and paper takes another one: they don't go "
               "together, and part of it is that.";
    if (!budget_surely_missing(field, db))
        return "Whether any are missing, a walk to where the link ends would tell.";
    if (*db < 0)
        return "Nothing is missing.";
    if (*db < MISSING_WORTH_DB)
        return "That is as close as chips, antennas and ground are known: paper and field agree.";
    return "That is more than the usual doubt about chips, antennas and ground, 4 dB. Either "
           "something eats it, or paper takes too much for granted.";
}

void report_answer_paper(struct report_page *p) {
    char text[900];
    double db;
    struct text t;
    if (!report_has_paper(p->f))
        return;
    text_init(&t, text, sizeof text);
    say_field(&t, p->f);
    html_markup(&p->h, "<div class=\"answer\">\n");
    html_element(&p->h, "h3", "Does it reach as far as it should?");
    html_element(&p->h, "p", "%s %s", text, judged(p->f->field, &db));
    html_markup(&p->h, "</div>\n");
}

/* --- the section ------------------------------------------------------------------------------ */

static const char *from(enum budget_source source) {
    static const char *const words[] = {[BUDGET_ASSUMED] = "assumed",
                                        [BUDGET_GIVEN] = "as given",
                                        [BUDGET_TOLD] = "by the recording"};
    return words[source];
}

struct inputs {
    struct html_table t;
};

__attribute__((format(printf, 4, 5))) static void
input(struct inputs *i, const char *what, const char *source, const char *format, ...) {
    char value[120];
    va_list list;
    va_start(list, format);
    vsnprintf(value, sizeof value, format, list);
    va_end(list);
    html_row_begin(&i->t);
    html_cell(&i->t, "%s", what);
    html_cell(&i->t, "%s", value);
    html_cell(&i->t, "%s", source);
    html_row_end(&i->t);
}

static void put_module(struct inputs *i, const struct budget_inputs *in,
                       const struct budget_facts *f) {
    input(i, "carrier", from(f->from.mhz), "%g" GAP "MHz", in->mhz);
    input(i, "data rate", from(f->from.kbps), "%u" GAP "kbit/s", in->kbps);
    if (f->step > 0)
        input(i, "transmitter's power", from(f->from.power),
              "%g" GAP "dBm, step %u of %d of the chip (each within 4 dB)", in->power_dbm, f->step,
              CHIP_STEPS);
    else
        input(i, "transmitter's power", from(f->from.power), "%g" GAP "dBm", in->power_dbm);
    input(i, "receiver's sensitivity",
          f->from.sensitivity == BUDGET_GIVEN ? "as given"
          : in->amplified                     ? "typical of a module with amplifiers"
                                              : "typical of the chip at this rate",
          "%g" GAP "dBm", in->sensitivity_dbm);
}

static void put_way(struct inputs *i, const struct budget_inputs *in,
                    const struct budget_facts *f) {
    input(i, "antennas, transmitter and receiver", from(f->from.antennas), "%g and %g" GAP "dBi",
          in->tx_gain_dbi, in->rx_gain_dbi);
    input(i, "heights, transmitter and receiver", from(f->from.heights), "%g and %g" GAP "m",
          in->tx_height_m, in->rx_height_m);
    input(i, "lost in cables", in->tx_cable_db + in->rx_cable_db > 0 ? "as given" : "assumed",
          "%g" GAP "dB", in->tx_cable_db + in->rx_cable_db);
    input(i, "lost to hand, body and hull", in->body_db > 0 ? "as given" : "assumed", "%g" GAP "dB",
          in->body_db);
    if (in->polarisation_deg < 0)
        input(i, "antennas against each other", "as given", "one circular, one linear");
    else
        input(i, "antennas turned against each other",
              in->polarisation_deg > 0 ? "as given" : "assumed", "%g degrees",
              in->polarisation_deg);
    if (in->obstacle_known)
        input(i, "a wall half-way", "as given", "%g" GAP "m %s the line of sight",
              fabs(in->obstacle_m), in->obstacle_m < 0 ? "below" : "above");
}

static void put_inputs(struct report_page *p) {
    static const char *const heads[] = {"what", "value", "from", NULL};
    struct inputs i;
    html_table_begin(&i.t, &p->h, "What paper rests on", heads);
    put_module(&i, p->f->paper, p->f->field);
    put_way(&i, p->f->paper, p->f->field);
    html_table_end(&i.t);
    html_element(&p->h, "p class=\"note\"",
                 "What is assumed, options of airleash report tell better: --kbps, --power-dbm, "
                 "--tx-height and so on.");
}

static void put_paper(struct report_page *p) {
    const struct budget_inputs *in = p->f->paper;
    struct budget_bracket range = budget_range_m(in, in->margin_db);
    char near[SPAN_TEXT], far[SPAN_TEXT];
    if (range.plan < 1)
        html_element(&p->h, "p", "On paper there is no link with %g" GAP "dB in hand at all.",
                     in->margin_db);
    else if (range.free_space < range.plan * 1.01)
        html_element(&p->h, "p", "On paper the link has %g" GAP "dB in hand as far as %s.",
                     in->margin_db, report_metres(near, range.plan));
    else
        html_element(
            &p->h, "p",
            "On paper the link has %g" GAP "dB in hand as far as %s near the ground, %s in "
            "free space.",
            in->margin_db, report_metres(near, range.plan), report_metres(far, range.free_space));
}

static void put_eaters(struct report_page *p, double db) {
    html_element(&p->h, "p", "What usually eats so much, and what to try (common practice):");
    html_markup(&p->h, "<ul>\n");
    for (size_t i = 0; i < missing_eater_count; i++) {
        const struct missing_eater *e = &missing_eaters[i];
        if (missing_may_be(e, db, p->f->paper->amplified))
            html_element(&p->h, "li", "%s, %g to %g" GAP "dB: %s", e->what, e->low_db, e->high_db,
                         e->check);
    }
    html_markup(&p->h, "</ul>\n");
}

void report_paper(struct report_page *p) {
    const struct budget_facts *field = p->f->field;
    char text[900];
    double db;
    struct text t;
    text_init(&t, text, sizeof text);
    put_paper(p);
    say_field(&t, p->f);
    html_element(&p->h, "p", "%s", text);
    html_element(&p->h, "p", "%s", judged(field, &db));
    if (!other_power(field) && budget_surely_missing(field, &db) && db >= MISSING_WORTH_DB)
        put_eaters(p, db);
    report_figure(p, "paper",
                  "The level that should arrive over the distance, what the receiver needs, and "
                  "where the link ended.");
    put_inputs(p);
}

/* --- full power ------------------------------------------------------------------------------- */

static const char *full_range(char *out, size_t size, const struct reach_full *f) {
    char a[SPAN_TEXT], b[SPAN_TEXT];
    bool low = f->low_m > 0, high = isfinite(f->high_m);
    if (low && high)
        snprintf(out, size, "between %s and %s", report_metres(a, f->low_m),
                 report_metres(b, f->high_m));
    else if (low)
        snprintf(out, size, "%s or more", report_metres(a, f->low_m));
    else
        snprintf(out, size, "%s or less", report_metres(b, f->high_m));
    return out;
}

bool report_reduced(const struct report_facts *f) {
    return report_walked(f) && f->walked->reduced && f->walked->reduced->kind != REDUCED_NOT &&
           f->walked->reduced->kind != REDUCED_NO_STEP;
}

void report_say_full(struct text *t, const struct report_facts *f) {
    char range[2 * SPAN_TEXT + 16];
    const struct reduced *d = f->walked->reduced;
    text_format(t, " That was at power step %u of %u, which is reduced.", f->reach->step,
                f->reach->steps);
    if (d->full_known)
        text_format(t, " At full power it would be %s by an estimate that nobody walked.",
                    full_range(range, sizeof range, &d->full));
    else
        text_string(t, " How far it is at full power isn't shown.");
}

static void put_full_range(struct report_page *p, const struct reduced *d) {
    char text[600], range[2 * SPAN_TEXT + 16], fitted[SPAN_TEXT];
    struct text t;
    text_init(&t, text, sizeof text);
    text_format(&t, "Full power is %.3g" GAP "dB more, %s. ", d->db,
                d->kind == REDUCED_GIVEN     ? "as given"
                : d->kind == REDUCED_ON_SPOT ? "measured on one spot"
                                             : "6 dB a step, each within 4 dB");
    if (!d->full_known)
        text_string(&t, "The walk bounds no range, so nothing follows for full power.");
    else
        text_format(&t, "At full power the range would be %s",
                    full_range(range, sizeof range, &d->full));
    if (d->full_known && d->full.fitted_m > 0)
        text_format(&t, ", and %s as the level falls on this walk",
                    report_metres(fitted, d->full.fitted_m));
    if (d->full_known)
        text_string(&t, ". The lower end is by the fall near the ground, 40 dB for ten times the "
                        "distance, the upper by free space, 20 dB. It is an estimate: walk it at "
                        "full power before you rely on it.");
    html_element(&p->h, "p", "%s", text);
}

void report_full_power(struct report_page *p) {
    const struct reduced *d;
    if (!report_reduced(p->f))
        return;
    d = p->f->walked->reduced;
    html_element(&p->h, "h3", "At full power");
    if (d->kind == REDUCED_NO_DB)
        html_element(&p->h, "p",
                     "Unknown: how many dB a step of this transmitter is. --full-power-db would "
                     "tell.");
    else if (d->kind == REDUCED_AMPLIFIED)
        html_element(&p->h, "p",
                     "Unknown: amplifiers saturate, so a step isn't 6 dB. Stops at one distance "
                     "with both powers and rssi would tell, or a meter and --full-power-db.");
    else
        put_full_range(p, d);
}
