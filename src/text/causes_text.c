#include "text/causes_text.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/percent.h"
#include "base/printable.h"
#include "base/text.h"
#include "base/whole.h"
#include "text/unknown.h"

enum { DROPS_SHOWN = 20, LINE_BYTES = 400 };

struct out {
    const struct causes_facts *f;
    struct say to;
    uint32_t facts; /* counted things that were said */
};

/* A long sentence; its lines after the first are indented by two columns more. */
static void say_sentence(const struct out *o, int indent, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

static void say_sentence(const struct out *o, int indent, const char *format, ...) {
    char text[LINE_BYTES];
    va_list list;
    va_start(list, format);
    vsnprintf(text, sizeof text, format, list);
    va_end(list);
    say(&o->to, "%*s", indent, "");
    say_filled(&o->to, indent, indent + 2, text);
}

void causes_label(char *out, size_t size, const struct cause *c, const struct snapshot *s) {
    const struct channel_state *channel = c->channel >= 0 ? &s->channel[c->channel] : NULL;
    char own[16];
    snprintf(own, sizeof own, "ch%d", c->channel + 1);
    if (c->id == CAUSE_RHYTHM && c->outages)
        snprintf(out, size, "outages in a rhythm");
    else if (channel == NULL)
        snprintf(out, size, "%s", cause_name(c->id));
    else if (channel->name[0] == '\0' || strcmp(channel->name, own) == 0)
        snprintf(out, size, "channel %d moves", c->channel + 1);
    else
        snprintf(out, size, "channel %d (%s) moves", c->channel + 1, channel->name);
}

const char *causes_events(const struct cause *c, bool twitches) {
    return twitches                 ? "twitches"
           : c->id == CAUSE_ANTENNA ? "stops"
           : c->id == CAUSE_DRIFT   ? c->outages ? "outages" : "lost packets"
           : c->outages             ? "outages"
                                    : "losses";
}

uint32_t causes_chain(char *out, size_t size, const struct causes *found, uint32_t i,
                      const struct snapshot *s) {
    const struct cause *first = &found->cause[i];
    enum cause_id before = CAUSES;
    size_t len = 0;
    uint32_t n = 0;
    out[0] = '\0';
    for (; i + n < found->count; n++) {
        const struct cause *c = &found->cause[i + n];
        char label[64];
        if (n > 0 && (first->chain < 0 || c->chain != first->chain || c->shown != CAUSE_SHOWN))
            break;
        causes_label(label, sizeof label, c, s);
        /* Several sticks that move together: the strongest stands for them. */
        if (c->id != before && len < size)
            len += (size_t)snprintf(out + len, size - len, "%s%s", n > 0 ? " -> " : "", label);
        before = c->id;
    }
    return n;
}

/* --- the drops -------------------------------------------------------------------------------- */

static const char *kind_of(const struct trace_drop *d) {
    return d->restart       ? "restart"
           : d->transmitter ? "tx start"
           : d->forgot      ? "settings lost"
           : d->outage      ? "outage"
                            : "losses";
}

static void say_moment(struct out *o, int64_t ms) {
    say(&o->to, "%4lld:%02lld.%lld  ", (long long)(ms / 60000), (long long)(ms / 1000 % 60),
        (long long)(ms / 100 % 10));
}

static void say_drop(struct out *o, const struct trace_drop *d) {
    struct cause_before b;
    char moved[48] = "-", dip[16] = "-", noise[16] = "-";
    causes_before(o->f->trace, d, &b);
    if (b.channel >= 0)
        snprintf(moved, sizeof moved, "ch%d by %u", b.channel + 1, b.way);
    if (b.dip_mv != INT32_MIN)
        snprintf(dip, sizeof dip, "%d mV", b.dip_mv);
    if (b.noise_looks > 0)
        snprintf(noise, sizeof noise, "%u of %u", b.noise_hits, b.noise_looks);
    say_moment(o, d->from_ms - o->f->trace->begin_ms);
    say(&o->to, "%-9s %6lld ms %5llu   %-14s %-9s ", kind_of(d), (long long)(d->to_ms - d->from_ms),
        (unsigned long long)d->lost, moved, dip);
    if (b.known)
        say(&o->to, "%s\n", noise);
    else
        say(&o->to, "%-11s lines missing\n", noise);
}

static bool worth_a_row(const struct trace_drop *d) {
    return trace_outage(d) || d->lost >= 3;
}

static void say_drops(struct out *o) {
    const struct trace *t = o->f->trace;
    uint32_t kept = t->drops < TRACE_DROPS ? t->drops : TRACE_DROPS;
    uint32_t rows = 0, shown = 0;
    for (uint32_t i = 0; i < kept; i++)
        rows += worth_a_row(&t->drop[i]) || o->f->all;
    if (rows == 0)
        return;
    say(&o->to, "\nDrops, each with the 1.5 s before it\n");
    say(&o->to, "    time  kind         length  lost   moved most     dip       noise in it\n");
    for (uint32_t i = 0; i < kept && (shown < DROPS_SHOWN || o->f->all); i++)
        if (worth_a_row(&t->drop[i]) || o->f->all) {
            say_drop(o, &t->drop[i]);
            shown++;
        }
    if (shown < rows)
        say(&o->to, "    and %u more: --all shows them\n", rows - shown);
    if (kept - rows > 0)
        say(&o->to, "    and %u of one or two packets\n", kept - rows);
    if (t->drops > kept)
        say(&o->to, "    and %u later ones that were not kept\n", t->drops - kept);
}

/* --- facts ------------------------------------------------------------------------------------ */

static void say_fact(struct out *o, uint64_t count, const char *one, const char *many) {
    if (count == 0)
        return;
    say(&o->to, "  %llu %s\n", (unsigned long long)count, count == 1 ? one : many);
    o->facts++;
}

static const char *const fact_names[] = {
    [CAUSES_LOSSES] = "loss",
    [CAUSES_OUTAGES] = "outage",
    [CAUSES_RESTARTS] = "restart",
    [CAUSES_HOLES] = "hole in the lines",
};
enum { FACT_NAMES = sizeof fact_names / sizeof fact_names[0] };

/* Of what the run tells about. */
static void say_nothing_counted(struct out *o) {
    const char *before = "  ";
    for (int i = 0; i < FACT_NAMES; i++) {
        if (causes_unknown(o->f, (enum causes_fact)i) != NULL)
            continue;
        say(&o->to, "%sno %s", before, fact_names[i]);
        before = ", ";
    }
    if (before[0] == ',')
        say(&o->to, "\n");
}

static void say_unknown(struct out *o) {
    static const char *const many[] = {
        [CAUSES_LOSSES] = "losses",
        [CAUSES_OUTAGES] = "outages",
        [CAUSES_RESTARTS] = "restarts",
        [CAUSES_HOLES] = "holes in the lines",
    };
    for (int i = 0; i < FACT_NAMES; i++) {
        const char *lack = causes_unknown(o->f, (enum causes_fact)i);
        if (lack != NULL)
            say(&o->to, strchr(lack, ' ') ? "  %s unknown: %s\n" : "  %s unknown without %s\n",
                many[i], lack);
    }
}

static void say_trust(const struct out *o) {
    char text[LINE_BYTES];
    if (unknown_damage(text, sizeof text, o->f->s))
        say_sentence(o, 2, "%s", text);
}

static void say_facts(struct out *o) {
    const struct trace *t = o->f->trace;
    say(&o->to, "Counted\n");
    say_fact(o, o->f->found->outages, "outage or restart", "outages and restarts");
    say_fact(o, o->f->found->losses, "shorter loss", "shorter losses");
    say_fact(o, t->restarts[BOOT_BROWNOUT], "restart of the receiver by brown-out",
             "restarts of the receiver by brown-out");
    say_fact(o, t->restarts[BOOT_POWER], "power-on of the receiver", "power-ons of the receiver");
    say_fact(o, t->restarts[BOOT_RESET], "reset of the receiver", "resets of the receiver");
    say_fact(o, t->restarts[BOOT_WATCHDOG], "restart by the receiver's watchdog",
             "restarts by the receiver's watchdog");
    say_fact(o, t->restarts[BOOT_UNKNOWN], "restart of the receiver, cause not told",
             "restarts of the receiver, cause not told");
    say_fact(o, t->openings, "restart by our opening of the port: no fault",
             "restarts by our opening of the port: no fault");
    say_fact(o, t->settings_lost, "time that the radio lost its settings",
             "times that the radio lost its settings");
    say_fact(o, t->transmitter_returns > 0 ? 0 : t->transmitter_starts, "start of the transmitter",
             "starts of the transmitter");
    say_fact(o, t->transmitter_returns, "return of another transmitter's number",
             "returns of another transmitter's number");
    say_fact(o, t->holes, "hole in the lines (the serial lead)",
             "holes in the lines (the serial lead)");
    say_fact(o, t->port_losses, "loss of the port", "losses of the port");
    if (o->facts == 0)
        say_nothing_counted(o);
    say_unknown(o);
    say_trust(o);
    if (t->cells == TRACE_CELLS)
        say(&o->to, "  only the first six hours were searched\n");
}

/* --- causes ----------------------------------------------------------------------------------- */

static void add_figure(struct text *t, const struct cause *c, const struct trace *trace) {
    const char *ticks = causes_ticks(trace, c->figure);
    char heading[64];
    if (c->id == CAUSE_RHYTHM)
        text_format(t, "; period %.1f ms%s%s", c->figure, ticks ? ", as of " : "",
                    ticks ? ticks : "");
    else if (c->id == CAUSE_RETRIES)
        text_format(t, "%.1f packets a second arrive of %.1f sent, and none is missing", c->figure,
                    trace->rate_hz);
    else if (c->id == CAUSE_ANTENNA && c->explained > 0)
        text_format(t, "; there at least %.0f dB below the link budget", floor(c->figure));
    else if (c->id == CAUSE_DRIFT && c->supply != NULL)
        text_format(t, "; meanwhile the %s's supply fell by %.0f mV", c->supply, c->figure);
    else if (c->id == CAUSE_HEADING && c->figure >= 0)
        text_format(t, "; most with the model facing %s",
                    printable(heading, sizeof heading, trace->heading[whole_i32(c->figure)]));
}

static void say_evidence(struct out *o, const struct cause *c, bool twitches) {
    const char *what = causes_events(c, twitches);
    char label[64], sentence[LINE_BYTES];
    struct text t;
    text_init(&t, sentence, sizeof sentence);
    causes_label(label, sizeof label, c, o->f->s);
    text_format(&t, "%s: ", label);
    if (c->events > 0)
        text_format(&t, "%u of %u %s%s", c->explained, c->events, what,
                    c->id == CAUSE_DRIFT ? " in the last third" : "");
    if (c->tested)
        text_format(&t, "; chance would give %.1f (p %s%.4f)", c->expected,
                    c->p < 0.0001 ? "< " : "", c->p < 0.0001 ? 0.0001 : c->p);
    add_figure(&t, c, o->f->trace);
    say_sentence(o, 5, "%s", sentence);
}

/* What is shown of both sorts of events stands together. */
static void say_other_sort(struct out *o, const struct causes *found, const struct cause *c,
                           bool *told) {
    for (uint32_t i = 0; i < found->count && found->cause[i].shown == CAUSE_SHOWN; i++) {
        const struct cause *other = &found->cause[i];
        if (other == c || told[i] || other->id != c->id || other->channel != c->channel)
            continue;
        say_evidence(o, other, false);
        told[i] = true;
    }
}

static void say_shown(struct out *o, const struct causes *found, bool twitches) {
    bool told[CAUSES_MAX] = {false};
    uint32_t number = 0;
    for (uint32_t i = 0; i < found->count && found->cause[i].shown == CAUSE_SHOWN;) {
        char chain[256];
        uint32_t n = causes_chain(chain, sizeof chain, found, i, o->f->s);
        bool news = false; /* something that wasn't told under an earlier number */
        for (uint32_t k = i; k < i + n; k++)
            news = news || !told[k];
        if (news)
            say_sentence(o, 2, "%u. %s", ++number, chain);
        for (uint32_t k = i; k < i + n; k++) {
            if (!told[k])
                say_evidence(o, &found->cause[k], twitches);
            if (!told[k] && !twitches)
                say_other_sort(o, found, &found->cause[k], told);
        }
        if (news)
            say_sentence(o, 5, "Next: %s", cause_next(found->cause[i].id));
        i += n;
    }
    if (number == 0)
        say_sentence(o, 2, "No cause is shown%s.",
                     found->tested > 0
                         ? ": none of the candidates comes before them more than by chance"
                         : "");
}

/* The names of what was tested and not shown, or can't be told, each once. */
static void say_rest(struct out *o, const struct causes *found, enum cause_shown shown,
                     const char *intro) {
    bool told[CAUSES] = {false};
    char sentence[LINE_BYTES];
    struct text t;
    text_init(&t, sentence, sizeof sentence);
    for (uint32_t i = 0; i < found->count; i++) {
        const struct cause *c = &found->cause[i];
        bool shown_too = false;
        for (uint32_t k = 0; k < i; k++)
            shown_too |= found->cause[k].id == c->id && found->cause[k].shown == CAUSE_SHOWN;
        if (c->shown != shown || told[c->id] || shown_too ||
            (shown == CAUSE_NOT_SHOWN && !c->tested))
            continue;
        told[c->id] = true;
        text_format(&t, "%s%s", t.len == 0 ? intro : ", ", cause_name(c->id));
        if (c->missing != NULL)
            text_format(&t, " (without %s)", c->missing);
    }
    if (t.len > 0)
        say_sentence(o, 2, "%s", sentence);
}

static void say_enough(struct out *o, double seconds) {
    if (seconds < 90)
        say_sentence(o, 2, "A recording of %.0f s would do, if drops come as often.",
                     10 * ceil(seconds / 10));
    else
        say_sentence(o, 2, "A recording of %.0f min would do, if drops come as often.",
                     ceil(seconds / 60));
}

static void say_causes(struct out *o, const struct causes *found, bool twitches) {
    char text[LINE_BYTES];
    const char *why = twitches ? found->too_few : causes_not_tested(text, sizeof text, o->f);
    if (why != NULL)
        say_sentence(o, 2, "Not tested: %s.", why);
    if (found->enough_s > 0)
        say_enough(o, found->enough_s);
    say_shown(o, found, twitches);
    const char *advice = twitches ? NULL : causes_advice(o->f->trace, found);
    if (advice != NULL)
        say_sentence(o, 2, "Next: %s", advice);
    say_rest(o, found, CAUSE_NOT_SHOWN, "Not shown: ");
    say_rest(o, found, CAUSE_CANT_TELL, "Can't tell: ");
}

static void say_throttle(struct out *o) {
    struct throttle_step step[THROTTLE_STEPS];
    if (!causes_throttle(o->f->trace, step) || step[0].from >= step[THROTTLE_STEPS - 1].to)
        return;
    say(&o->to, "\nLoss against the throttle's output, a fifth of the time each\n");
    for (int i = 0; i < THROTTLE_STEPS; i++) {
        say(&o->to, "  %6.0f to %4.0f  %5.2f %%", step[i].from, step[i].to, 100 * step[i].loss);
        char span[PERCENT_SPAN_MAX];
        percent_span(span, step[i].low, " to ", step[i].high);
        if (step[i].interval_known)
            say(&o->to, " (%s %%)", span);
        say(&o->to, "\n");
    }
}

void causes_text(const struct causes_facts *facts, say_put *put, void *where) {
    struct out o = {facts, {put, where}, 0};
    char file[256];
    say(&o.to, "Why it dropped: %s\n\n", printable(file, sizeof file, facts->file));
    say_facts(&o);
    say_drops(&o);
    say(&o.to, "\nCauses, the strongest first\n");
    say_causes(&o, facts->found, false);
    say_throttle(&o);
    if (facts->twitched == NULL)
        return;
    say(&o.to, "\nTwitches: %u marked, looked at from %.2f s to %.2f s before the key\n",
        facts->trace->twitches, TWITCH_BEFORE_MS / 1000.0, TWITCH_AFTER_MS / 1000.0);
    say_causes(&o, facts->twitched, true);
}
