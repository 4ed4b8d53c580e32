#include "console/decision.h"

#include <stdio.h>
#include <stdlib.h>

#include "app/commands.h"
#include "app/print_out.h"
#include "base/percent.h"

static int usage(const struct options *o, const char *text) {
    words_say("%s", text);
    fprintf(stderr, "See: airleash %s --help\n", commands[o->command].name);
    return STATUS_USAGE;
}

int decision_check(const struct options *o) {
    if (!o->until.differs && o->reference)
        return usage(o, "--with names what to compare with: it needs --until differs");
    if (o->until.given && o->until.differs && !o->reference)
        return usage(o, "--until differs needs --with FILE: the recording or baseline to compare "
                        "with");
    if (o->until.given && o->for_s > 0 && o->for_s < UNTIL_SECONDS_LEAST)
        return usage(o, "--until takes 20 blocks of 2 s at the least: give --for 40 or more");
    return STATUS_ANSWER;
}

double decision_for_s(const struct decision *e, const struct options *o) {
    return o->for_s > 0 ? o->for_s : e->on ? e->planned_s : 0;
}

/* When it looks, in words. */
static void tell_plan(const struct decision *e, const struct options *o) {
    const struct until *u = &e->until;
    fprintf(stderr, "airleash: until loss is %s: looks at",
            o->until.differs ? "another than the reference's" : "below or above the limit");
    for (int i = 1; i <= u->looks; i++)
        fprintf(stderr, "%s %.0f",
                i == 1          ? ""
                : i == u->looks ? " and"
                                : ",",
                (double)u->each_ms * i / 1000);
    fputs(" s of packets\n", stderr);
}

static int load_reference(struct decision *e, const struct options *o) {
    int status = samples_load(&e->reference, o, o->reference);
    for (uint32_t i = 0; status == STATUS_ANSWER && i < e->reference.count; i++)
        if (!e->reference.own[i]->counted) {
            words_say("'%s' doesn't tell its loss: can't compare without lost, or pat, or seq",
                      o->reference);
            status = STATUS_TROUBLE;
        }
    return status;
}

int decision_begin(struct decision *e, const struct options *o, const struct setup *setup) {
    struct bench_limits limits;
    int status = STATUS_ANSWER;
    *e = (struct decision){.on = o->until.given};
    if (!e->on)
        return status;
    if (o->until.differs)
        status = load_reference(e, o);
    e->planned_s = o->for_s > 0 ? o->for_s : UNTIL_SECONDS_DEFAULT;
    struct until_plan plan = {.question = o->until.differs ? UNTIL_DIFFERS : UNTIL_LIMIT,
                              .limit = o->until.loss,
                              .reference = samples_side(&e->reference),
                              .seconds = e->planned_s};
    setup_limits(setup, &limits);
    if (status == STATUS_ANSWER && !until_init(&e->until, &plan, limits.rate_hz))
        status = print_out_no_memory();
    if (status == STATUS_ANSWER)
        tell_plan(e, o);
    return status;
}

void decision_release(struct decision *e) {
    until_release(&e->until);
    samples_release(&e->reference);
}

/* Once the packet rate is known. */
static void tell_expected(struct decision *e) {
    double rate_hz = e->until.sample.sent_hz, seconds = until_expected_s(&e->until, rate_hz);
    const char *than = e->until.plan.question == UNTIL_DIFFERS ? "the reference's" : "the limit";
    e->rate_told = true;
    if (seconds > 0)
        snprintf(e->words, sizeof e->words,
                 "at %.4g packets a second it expects to need %.0f s where loss is half of %s or "
                 "twice it; nearer to it takes longer",
                 rate_hz, seconds, than);
    else
        snprintf(e->words, sizeof e->words,
                 "at %.4g packets a second it expects to need more than the %.0f s planned, unless "
                 "loss is far from %s: a longer --for helps",
                 rate_hz, e->planned_s, than);
}

const char *decision_expects(struct decision *e) {
    if (!e->rate_told || e->said)
        return NULL;
    e->said = true;
    return e->words;
}

void decision_moment(void *context, const struct moment *m) {
    struct decision *e = context;
    e->decided = until_feed(&e->until, m);
    if (!e->rate_told && e->until.sample.sent_hz > 0)
        tell_expected(e);
}

static void tell_numbers(const struct until *u) {
    char rate[PERCENT_MAX], span[PERCENT_SPAN_MAX];
    percent_rate(rate, u->rate);
    percent_span(span, u->limits.low, " to ", u->limits.high);
    printf("          loss %s %% (%s %%), after %.0f s of packets and %d of %d looks\n", rate, span,
           u->counted_s, u->taken, u->looks);
}

static void tell_verdict(const struct until *u) {
    bool differs = u->plan.question == UNTIL_DIFFERS;
    double than = 100 * (differs ? u->reference_rate : u->plan.limit);
    const char *what = differs ? "the reference's" : "the limit of";
    switch (u->verdict) {
    case UNTIL_BELOW:
    case UNTIL_ABOVE:
        printf("decided   loss is %s %s %.2f %%\n", u->verdict == UNTIL_BELOW ? "below" : "above",
               what, than);
        break;
    case UNTIL_REFUSED:
        puts("refused   one of link and reference counts loss after retries (ack=1), the other "
             "before: such losses are never compared");
        return;
    default:
        printf("undecided loss may lie on either side of %s%s\n",
               differs ? "the reference's" : "the limit", u->taken == 0 ? ": too short" : "");
    }
    tell_numbers(u);
    if (differs && (u->verdict == UNTIL_BELOW || u->verdict == UNTIL_ABOVE))
        puts("          one run against a reference can't tell a change from drift: see airleash "
             "compare");
}

void decision_end(struct decision *e) {
    if (!e->on)
        return;
    until_end(&e->until);
    if (!e->rate_told)
        words_say("the packet rate isn't known, so what it needs couldn't be told: give --rate");
    if (e->until.sample.counted)
        tell_verdict(&e->until);
    else
        puts("undecided can't tell the loss: that takes lost, or pat, or seq, with t, for 40 s and "
             "more");
}
