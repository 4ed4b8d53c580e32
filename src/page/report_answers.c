/* The answers first, the weightiest on top, in plain words. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/percent.h"
#include "link/failsafe.h"
#include "page/report_parts.h"
#include "telemetry/words.h"
#include "text/trials_text.h"
#include "text/unknown.h"

enum { ANSWER_TEXT = 900 };

static unsigned long long count(uint64_t n) {
    return (unsigned long long)n;
}

static void open_answer(struct report_page *p, const char *question) {
    html_markup(&p->h, "<div class=\"answer\">\n");
    html_element(&p->h, "h3", "%s", question);
}

static void close_answer(struct report_page *p) {
    html_markup(&p->h, "</div>\n");
}

static void answer(struct report_page *p, const char *question, const struct text *t) {
    open_answer(p, question);
    html_element(&p->h, "p", "%s", t->at);
    close_answer(p);
}

/* --- loss ------------------------------------------------------------------------------------- */

static void say_loss(struct text *t, const struct snapshot *s, const struct measures *m) {
    char bounds[64], end[SPAN_TEXT], drop[PERCENT_MAX], rate[PERCENT_MAX];
    struct text b;
    text_init(&b, bounds, sizeof bounds);
    report_loss_bounds(&b, m);
    percent_rate(rate, m->loss);
    if (m->ground == GROUND_NONE_LOST)
        text_format(t, "No packet was lost (%llu received).", count(s->total.got));
    else
        text_format(t, "%s %% of the packets%s.", rate, s->acked ? ", after retries" : "");
    if (m->ground == GROUND_NOT_STEADY)
        text_string(t, " The loss changed over the run, so that there is no single loss to bound: "
                       "see the picture.");
    else if (bounds[0] != '\0' && m->ground == GROUND_NONE_LOST)
        text_format(t, " So short a run leaves room for %s (95 %%).", bounds);
    else if (bounds[0] != '\0')
        text_format(t, " The link's mean loss is %s by that (95 %%).", bounds);
    if (m->high_if_drop_1s > 0) {
        percent_text(drop, m->high_if_drop_1s);
        text_format(t,
                    " If a drop of 1 s may come, it is at most %s %%: there are too few loss runs "
                    "to rule it out.",
                    drop);
    }
    if (bounds[0] == '\0' && m->ground != GROUND_NOT_STEADY && m->why)
        text_format(t, " No confidence interval: %s.", m->why);
    if (m->ground != GROUND_NONE_LOST)
        text_format(t, " %llu packets came, %llu were lost.", count(s->total.got),
                    count(s->total.lost));
    text_format(t, " Counted by %s.", report_evidence(s->evidence));
    if (s->unsent > 0)
        text_format(t,
                    " Not in it: %llu outage%s of which nobody knows how many packets were sent.",
                    count(s->unsent), report_plural(s->unsent));
    if (s->unseen > 0)
        text_format(t,
                    " Before %llu report%s there were other packets that no line told of: they are "
                    "in no figure.",
                    count(s->unseen), report_plural(s->unseen));
    if (s->silent_at_end && s->outage_ms != TIME_UNKNOWN)
        text_format(t, " What was lost in the last %s isn't in it: there was no link any more.",
                    report_span(end, s->outage_ms));
    if (s->acked)
        text_string(t, " Retries hide what was lost on the first try.");
}

static void answer_loss(struct report_page *p) {
    const struct snapshot *s = p->f->s;
    const char *why =
        unknown_why(s, FIGURE_GOT) ? unknown_why(s, FIGURE_GOT) : unknown_why(s, FIGURE_LOST);
    char text[ANSWER_TEXT];
    struct text t;
    text_init(&t, text, sizeof text);
    if (why) {
        text_string(&t, "That can't be told: ");
        report_why(&t, why);
        text_char(&t, '.');
    } else {
        say_loss(&t, s, p->f->m);
    }
    answer(p, "How much was lost?", &t);
}

/* --- outages --------------------------------------------------------------------------------- */

static void say_longest(struct text *t, const struct snapshot *s) {
    char a[SPAN_TEXT], b[SPAN_TEXT];
    text_format(t, " The longest lasted %s", report_span(a, s->longest_gap_ms));
    if (s->longest_low_ms != TIME_UNKNOWN && s->longest_low_ms < s->longest_gap_ms)
        text_format(t, " at most, %s at least", report_span(b, s->longest_low_ms));
    if (s->longest_at_ms != TIME_UNKNOWN)
        text_format(t, ", and began at %s", report_moment(b, s->longest_at_ms));
    text_char(t, '.');
}

/* How many were over the limit, and for how long in all. */
static void say_over_limit(struct text *t, const struct snapshot *s, const struct outages *o) {
    char a[SPAN_TEXT], b[SPAN_TEXT];
    if (s->outages == 1)
        text_format(t, "Once for longer than %s.", report_span(a, s->outage_limit_ms));
    else if (s->outages > 1)
        text_format(t, "%s for longer than %s.", report_times(b, s->outages),
                    report_span(a, s->outage_limit_ms));
    if (s->outages_unsure > 0)
        text_format(t, " %llu%s may have been as long.", count(s->outages_unsure),
                    s->outages > 0 ? " more" : "");
    if (o->count == 0)
        return;
    text_format(t, " %s %s", o->count == 1 ? "It lasted" : "Together they make",
                report_span(a, o->total_low_ms));
    if (o->total_low_ms < o->total_high_ms)
        text_format(t, " to %s", report_span(b, o->total_high_ms));
    text_char(t, '.');
}

static void say_outages(struct text *t, const struct snapshot *s, const struct measures *m) {
    char a[SPAN_TEXT];
    bool open = s->silent_at_end && s->outage_ms != TIME_UNKNOWN;
    if (s->outages == 0 && !open)
        text_format(t, "Never for longer than %s.", report_span(a, s->outage_limit_ms));
    say_over_limit(t, s, &m->outages);
    if (open)
        text_format(t, "%sAt the end there was no link for %s, and it hadn't come back.",
                    t->len > 0 ? " " : "", report_span(a, s->outage_ms));
    if (!open || s->longest_gap_ms > s->outage_ms)
        say_longest(t, s);
}

static void answer_outages(struct report_page *p) {
    const char *why = unknown_why(p->f->s, FIGURE_OUTAGES);
    char text[ANSWER_TEXT];
    struct text t;
    text_init(&t, text, sizeof text);
    if (why) {
        text_string(&t, "That can't be told: ");
        report_why(&t, why);
        text_char(&t, '.');
    } else {
        say_outages(&t, p->f->s, p->f->m);
    }
    answer(p, "Was there an outage?", &t);
}

/* --- failsafe --------------------------------------------------------------------------------- */

/* The newest entry of a kind that has something to say. */
static bool newest(const struct book *book, enum trial_id id, struct book_entry *out) {
    bool found = false;
    struct book_entry e;
    for (uint32_t i = 0; book != NULL && i < book_count(book); i++) {
        book_entry(book, i, &e);
        if (e.id != id)
            continue;
        *out = e;
        found = true;
    }
    return found;
}

/* timed: by the receiver's own clock, which the trial doesn't take alone. */
static void say_entries(struct text *t, const struct snapshot *s, bool timed) {
    const char *why = unknown_why(s, FIGURE_FAILSAFE);
    char times[SPAN_TEXT];
    if (why) {
        text_string(t, "Whether the receiver went into failsafe is unknown: ");
        report_why(t, why);
        text_char(t, '.');
        return;
    }
    if (s->failsafe_entries == 0)
        text_string(t, s->failsafe ? "The receiver was in failsafe all the time, from its start on."
                                   : "In this run the receiver never went into failsafe.");
    else
        text_format(t, "In this run the receiver went into failsafe %s%s.",
                    report_times(times, s->failsafe_entries),
                    s->failsafe ? ", and was in it at the end" : "");
    for (uint32_t i = 0; timed && i < s->failsafe_count; i++) {
        char within[SPAN_TEXT];
        struct time_bounds b = failsafe_throttle_delay(&s->failsafe_events[i]);
        if (b.low_ms == TIME_UNKNOWN)
            continue;
        text_format(
            t,
            " By the receiver's clock the throttle came to idle %s after the last packet, the "
            "first time that it was seen.",
            report_bounds(within, b));
        return;
    }
}

static void answer_failsafe(struct report_page *p) {
    const struct book *book = p->f->book;
    const char *stale = NULL;
    struct book_entry e;
    char text[ANSWER_TEXT];
    struct text t;
    enum trial_verdict verdict = book ? book_stands(book, TRIAL_FAILSAFE, &stale) : TRIAL_NOT_TRIED;
    text_init(&t, text, sizeof text);
    open_answer(p, "Is failsafe proven?");
    html_markup(&p->h, "<p>");
    report_verdict(p, verdict);
    if (stale)
        text_format(&t, ": unproven again, %s; try it again. ", stale);
    else if (verdict == TRIAL_NOT_TRIED)
        text_string(&t, ": the guided failsafe trial isn't in this recording, so it is not proven "
                        "that the model stops when the signal is gone. ");
    else if (newest(book, TRIAL_FAILSAFE, &e))
        text_format(&t, ": %s ", e.outcome.headline);
    say_entries(&t, p->f->s, verdict == TRIAL_NOT_TRIED);
    html_say(&p->h, "%s", text);
    html_markup(&p->h, "</p>\n");
    close_answer(p);
}

/* --- range ------------------------------------------------------------------------------------ */

static void answer_range(struct report_page *p) {
    const struct reach *r = p->f->reach;
    struct walk_plan plan;
    char text[ANSWER_TEXT], a[SPAN_TEXT], b[SPAN_TEXT], c[SPAN_TEXT], by[96];
    struct text t;
    if (!report_walked(p->f))
        return;
    text_init(&t, text, sizeof text);
    walk_plan(p->f->walk, r, p->f->walked->drive, &plan);
    if (plan.failed)
        text_format(&t, "It failed first at %g" GAP "m.", plan.first_failed_m);
    else
        text_string(&t, "No stop is shown to have failed.");
    if (plan.held)
        text_format(&t, " It held to %g" GAP "m%s.", plan.held_to_m,
                    plan.failed ? "" : " at least, as far as that is shown");
    else
        text_string(&t, " No stop is shown to hold, so no distance is planned.");
    if (r->verdict == REACH_CLOSED)
        text_format(&t,
                    " By the fit over %u stops %g" GAP
                    "%% of the packets are lost at %s (95 %%: %s to "
                    "%s).",
                    r->stops, 100 * r->loss_limit, report_metres(a, r->m),
                    report_metres(b, r->low_m), report_metres(c, r->high_m));
    if (r->verdict == REACH_FALLING)
        text_format(&t, " %s", reach_reason(r->verdict));
    walk_plan_words(by, sizeof by, &plan);
    if (plan.held)
        text_format(&t, " Plan no farther than %.3g" GAP "m for %s%s%s.", plan.planned_m,
                    p->f->walked->drive ? "a boat or car" : "flying",
                    report_reduced(p->f) ? " at this power" : "", by);
    if (report_reduced(p->f))
        report_say_full(&t, p->f);
    answer(p, "How far does it reach?", &t);
}

/* --- causes, restarts, trials, supply --------------------------------------------------------- */

static void answer_causes(struct report_page *p) {
    const struct causes_facts *c = p->f->causes;
    uint32_t shown = 0;
    char text[ANSWER_TEXT];
    if (!report_dropped(p->f))
        return;
    open_answer(p, "Why did it drop?");
    for (uint32_t i = 0; i < c->found->count && c->found->cause[i].shown == CAUSE_SHOWN;) {
        char chain[256];
        uint32_t n = causes_chain(chain, sizeof chain, c->found, i, c->s);
        report_chain(chain, sizeof chain);
        if (shown++ < 3)
            html_element(&p->h, "p", "Shown: %s. Next: %s", chain,
                         cause_next(c->found->cause[i].id));
        i += n;
    }
    if (shown == 0 && causes_not_tested(text, sizeof text, c))
        html_element(&p->h, "p", "Nothing was tested: %s.", text);
    else if (shown == 0)
        html_element(&p->h, "p", "No cause is shown. That is no proof that there is none.");
    const char *advice = causes_advice(c->trace, c->found);
    if (shown == 0 && advice != NULL)
        html_element(&p->h, "p", "Next: %s", advice);
    if (shown > 3)
        html_element(&p->h, "p", "%u more stand below.", shown - 3);
    close_answer(p);
}

static void answer_restarts(struct report_page *p) {
    const struct snapshot *s = p->f->s;
    char text[ANSWER_TEXT], times[SPAN_TEXT];
    struct text t;
    if (s->receiver_restarts + s->transmitter_restarts + s->settings_lost == 0)
        return;
    text_init(&t, text, sizeof text);
    text_format(&t, "The receiver %s", report_times(times, s->receiver_restarts));
    for (int i = BOOT_UNKNOWN; i <= BOOT_WATCHDOG; i++)
        if (s->restarts_by_cause[i] > 0)
            text_format(&t, ", %llu by %s", count(s->restarts_by_cause[i]),
                        i == BOOT_UNKNOWN ? "a cause not told"
                                          : boot_cause_name((enum boot_cause)i));
    if (s->transmitter_restarts_known)
        text_format(&t, "; the transmitter %s", report_times(times, s->transmitter_restarts));
    text_char(&t, '.');
    if (s->settings_lost > 0)
        text_format(&t, " The radio lost its settings %s while the receiver ran on: it lost power.",
                    report_times(times, s->settings_lost));
    answer(p, "Did anything restart?", &t);
}

static void answer_trials(struct report_page *p) {
    if (p->f->book == NULL || book_count(p->f->book) == 0)
        return;
    open_answer(p, "What did the other trials show?");
    html_markup(&p->h, "<ul>\n");
    for (int i = 0; i < TRIALS; i++) {
        const char *stale;
        enum trial_verdict verdict;
        if (trial_kinds[i] == NULL || i == TRIAL_FAILSAFE)
            continue;
        verdict = book_stands(p->f->book, (enum trial_id)i, &stale);
        html_markup(&p->h, "<li>");
        html_say(&p->h, "%s: ", trial_kinds[i]->name);
        report_verdict(p, verdict);
        html_markup(&p->h, "</li>\n");
    }
    html_markup(&p->h, "</ul>\n");
    close_answer(p);
}

static void answer_supply(struct report_page *p) {
    const struct snapshot *s = p->f->s;
    char text[ANSWER_TEXT], at[SPAN_TEXT], times[SPAN_TEXT];
    struct text t;
    if (unknown_why(s, FIGURE_SUPPLY) && unknown_why(s, FIGURE_SUPPLY_LOW))
        return;
    text_init(&t, text, sizeof text);
    bool below = p->f->supply_alarm_mv > 0 && s->supply_low_mv < p->f->supply_alarm_mv;
    if (p->f->by_usb)
        text_string(
            &t, "By the model file USB feeds the board, so this tells nothing of the model's own "
                "supply. ");
    if (s->restarts_by_cause[BOOT_BROWNOUT] > 0)
        text_format(&t,
                    "No: the receiver browned out %s. How low it fell then no report could tell; ",
                    report_times(times, s->restarts_by_cause[BOOT_BROWNOUT]));
    else if (s->settings_lost > 0)
        text_string(&t, "Not that of the radio, which lost its settings; ");
    else if (p->f->supply_alarm_mv > 0 && !p->f->by_usb)
        text_string(&t, below ? "No: " : "Yes, as far as was seen: ");
    else if (p->f->supply_alarm_mv <= 0)
        text_string(
            &t, "No limit is known for it (low_mv in the model file's [supply] would set one); ");
    text_format(&t, "the lowest that the reports tell is %d" GAP "mV, at %s", s->supply_low_mv,
                report_moment(at, s->supply_low_at_ms));
    if (p->f->supply_alarm_mv > 0)
        text_format(&t, ", %s the alarm's %.0f" GAP "mV", below ? "below" : "above",
                    p->f->supply_alarm_mv);
    text_char(&t, '.');
    if (unknown_why(s, FIGURE_SUPPLY_LOW))
        text_string(&t, " Dips between two reports are unknown without mvmin.");
    answer(p, "Did the supply hold?", &t);
}

void report_answers(struct report_page *p) {
    report_answer_link(p);
    report_answer_ours(p);
    report_answer_values(p);
    if (p->f->s->reports > 0) {
        answer_loss(p);
        answer_outages(p);
    }
    answer_failsafe(p);
    answer_range(p);
    report_answer_paper(p);
    answer_causes(p);
    answer_restarts(p);
    answer_supply(p);
    report_answer_band(p);
    answer_trials(p);
    html_element(&p->h, "p class=\"caution\"", "%s", trials_footer);
}
