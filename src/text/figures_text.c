#include "text/figures_text.h"

#include <stdio.h>
#include <string.h>

#include "base/percent.h"
#include "base/printable.h"
#include "link/failsafe.h"
#include "telemetry/words.h"
#include "text/standards_text.h"
#include "text/unknown.h"

enum { FAILSAFE_SHOWN = 6, FEW_PACKETS = 300 };

struct out {
    const struct snapshot *s;
    const struct measures *m;
    struct say to;
};

/* "unknown", with the key to add. */
static void say_unknown(struct out *o, const char *label, const char *why) {
    if (strchr(why, ' '))
        say(&o->to, "%-9s unknown: %s\n", label, why);
    else
        say(&o->to, "%-9s unknown: the receiver's lines have no %s\n", label, why);
}

static unsigned long long count(uint64_t n) {
    return (unsigned long long)n;
}

static const char *plural(uint64_t n) {
    return n == 1 ? "" : "s";
}

/* A length of time for people. */
static const char *span(char *text, size_t size, int64_t ms) {
    if (ms < 1000)
        snprintf(text, size, "%lld ms", (long long)ms);
    else if (ms < 60000)
        snprintf(text, size, "%.2f s", (double)ms / 1000);
    else if (ms < 3600000)
        snprintf(text, size, "%lld min %02lld s", (long long)(ms / 60000),
                 (long long)(ms / 1000 % 60));
    else
        snprintf(text, size, "%lld h %02lld min %02lld s", (long long)(ms / 3600000),
                 (long long)(ms / 60000 % 60), (long long)(ms / 1000 % 60));
    return text;
}

static void text_head(struct out *o, const struct figures_facts *facts) {
    const struct snapshot *s = o->s;
    char time[32] = "";
    char file[256];
    say(&o->to, "%-9s %s%s\n", "file", printable(file, sizeof file, facts->file),
        facts->recording ? "" : " (a capture of lines)");
    if (facts->cut)
        say(&o->to, "%-9s reading failed before its end: what follows isn't in these figures\n",
            "");
    if (s->link_ms == TIME_UNKNOWN)
        say(&o->to, "%-9s unknown, %llu report%s\n", "time", count(s->reports), plural(s->reports));
    else
        say(&o->to, "%-9s %s%s, %llu report%s\n", "time", span(time, sizeof time, s->link_ms),
            s->link_time_rough ? " by the computer's clock" : "", count(s->reports),
            plural(s->reports));
    if (facts->rows_bad > 0)
        say(&o->to, "%-9s %llu row%s passed over\n", "", count(facts->rows_bad),
            plural(facts->rows_bad));
    if (facts->rows_missing > 0)
        say(&o->to, "%-9s %llu row%s missing: the disk was full\n", "", count(facts->rows_missing),
            plural(facts->rows_missing));
}

static const char *evidence_words(enum evidence evidence) {
    static const char *const words[] = {
        [EVIDENCE_NONE] = "nothing",
        [EVIDENCE_RATE] = "got against the packet rate",
        [EVIDENCE_SEQUENCE] = "got against seq",
        [EVIDENCE_COUNTERS] = "the counters got and lost",
        [EVIDENCE_PATTERN] = "each packet's outcome (pat)",
    };
    return words[evidence];
}

/* Its confidence interval, or why there is none. */
static void text_interval(struct out *o) {
    const struct measures *m = o->m;
    char span[PERCENT_SPAN_MAX], drop[PERCENT_MAX];
    switch (m->ground) {
    case GROUND_NONE_LOST:
        if (m->observed_ms > 0)
            say(&o->to, "%-9s none seen: at most %.2g loss runs a minute (95 %%)\n", "",
                m->drops_a_minute);
        break;
    case GROUND_RUNS:
    case GROUND_COUNTS:
        percent_span(span, m->low, " to ", m->high);
        say(&o->to, "%-9s %s %% (95 %% confidence interval, by %s)\n", "", span,
            m->ground == GROUND_RUNS ? "its loss runs" : "the counts of its reports");
        if (m->high_if_drop_1s > 0) {
            percent_text(drop, m->high_if_drop_1s);
            say(&o->to,
                "%-9s at most %s %% if a drop of 1 s may come: too few loss runs to rule it out\n",
                "", drop);
        }
        break;
    case GROUND_NOT_STEADY:
        say(&o->to, "%-9s not steady: it changed over the run, so there is no one loss to bound\n",
            "");
        break;
    case GROUND_NONE:
        if (m->why)
            say(&o->to, "%-9s no confidence interval: %s\n", "", m->why);
        break;
    }
}

/* What the loss takes for granted. */
static void text_assumed(struct out *o) {
    const struct snapshot *s = o->s;
    char error[PERCENT_MAX];
    percent_text(error, o->m->rate_error);
    if (o->m->rate_judged)
        say(&o->to, "%-9s the interval allows for %s %% of error in it, %s\n", "", error,
            o->m->rate_measured ? "as measured by age" : "since nothing in the lines tells better");
    if (s->seqmod_assumed)
        say(&o->to,
            "%-9s seq goes round at %llu, as its numbers show: seqmod isn't in the id line\n", "",
            s->seqmod == 0 ? 1ull << 32 : (unsigned long long)s->seqmod);
}

static void text_packets(struct out *o, const struct figures_facts *facts) {
    const struct snapshot *s = o->s;
    char rate[PERCENT_MAX];
    const char *no_got = unknown_why(s, FIGURE_GOT), *no_loss = unknown_why(s, FIGURE_LOST);
    if (no_got) {
        say_unknown(o, "packets", no_got);
        return;
    }
    uint64_t all = s->total.got + s->total.lost;
    if (no_loss) {
        say(&o->to, "%-9s %llu got\n", "packets", count(s->total.got));
        say_unknown(o, "loss", no_loss);
        return;
    }
    if (all > 0)
        percent_rate(rate, (double)s->total.lost / (double)all);
    say(&o->to, "%-9s %llu got, %llu lost\n", "packets", count(s->total.got), count(s->total.lost));
    if (all > 0)
        say(&o->to, "%-9s %s %%%s, by %s%s\n", "loss", rate, s->acked ? " after retries" : "",
            evidence_words(s->evidence), all < FEW_PACKETS ? "; few packets, so rough" : "");
    if (all > 0)
        text_interval(o);
    if (s->unsent > 0)
        say(&o->to,
            "%-9s not in it: %llu outage%s of which nobody knows how many packets were sent\n", "",
            count(s->unsent), plural(s->unsent));
    if (s->unseen > 0)
        say(&o->to,
            "%-9s the other packets before %llu report%s are in no figure: lines were missing, or "
            "pat was full\n",
            "", count(s->unseen), plural(s->unseen));
    if (s->lost_estimated > 0)
        say(&o->to, "%-9s about %llu more, in gaps too long for the sequence number\n", "",
            count(s->lost_estimated));
    if (s->evidence == EVIDENCE_RATE && s->rate_hz > 0)
        say(&o->to, "%-9s %g packets a second, from %s\n", "rate", s->rate_hz,
            facts->rate_from ? facts->rate_from : "the id line");
    text_assumed(o);
    if (s->refused_known && s->refused > 0)
        say(&o->to, "%-9s %llu packet%s of wrong length or owner\n", "refused", count(s->refused),
            plural(s->refused));
}

static void text_outages(struct out *o) {
    const struct snapshot *s = o->s;
    const char *why = unknown_why(s, FIGURE_OUTAGES);
    char a[32], b[32], c[32];
    if (why) {
        say_unknown(o, "outages", why);
        return;
    }
    say(&o->to, "%-9s %llu longer than %s", "outages", count(s->outages),
        span(a, sizeof a, s->outage_limit_ms));
    if (s->silent_at_end)
        say(&o->to, " that ended, and one still open");
    if (s->outages_unsure > 0)
        say(&o->to, ", %llu more may have been", count(s->outages_unsure));
    say(&o->to, "; longest %s", span(b, sizeof b, s->longest_gap_ms));
    if (s->longest_low_ms != TIME_UNKNOWN && s->longest_low_ms < s->longest_gap_ms)
        say(&o->to, " (at least %s)", span(c, sizeof c, s->longest_low_ms));
    say(&o->to, "\n");
    if (s->silent_at_end && s->outage_ms != TIME_UNKNOWN)
        say(&o->to, "%-9s no link for the last %s\n", "", span(a, sizeof a, s->outage_ms));
}

static void text_lines(struct out *o) {
    const struct snapshot *s = o->s;
    const char *why = unknown_why(s, FIGURE_MISSING_LINES);
    say(&o->to, "%-9s %llu good, %llu damaged", "lines", count(s->lines_good),
        count(s->lines_damaged));
    if (why && strchr(why, ' '))
        say(&o->to, "\n");
    else if (why)
        say(&o->to, "; missing on the cable: unknown without %s\n", why);
    else
        say(&o->to, ", %llu missing on the cable\n", count(s->lines_missing));
    for (int i = 0; i < DAMAGE_REASONS; i++)
        if (s->damaged[i] > 0)
            say(&o->to, "%-9s %llu: %s\n", "", count(s->damaged[i]),
                damage_name((enum damage_reason)i));
    char trust[300];
    if (unknown_damage(trust, sizeof trust, s)) {
        say(&o->to, "%-10s", "");
        say_filled(&o->to, 10, 10, trust);
    }
    if (s->load_peak > 0.7)
        say(&o->to,
            "%-9s they filled %.0f %% of %u bit/s; above 70 %% the receiver may wait for its "
            "port\n",
            "", s->load_peak * 100, s->speed);
}

static void text_restarts(struct out *o) {
    const struct snapshot *s = o->s;
    const char *why = unknown_why(s, FIGURE_RECEIVER_RESTARTS);
    if (why)
        say_unknown(o, "restarts", why);
    else {
        say(&o->to, "%-9s receiver %llu", "restarts", count(s->receiver_restarts));
        for (int i = BOOT_UNKNOWN; i <= BOOT_WATCHDOG; i++)
            if (s->restarts_by_cause[i] > 0)
                say(&o->to, " (%s %llu)", boot_cause_name((enum boot_cause)i),
                    count(s->restarts_by_cause[i]));
        if (s->clock_steps > 0)
            say(&o->to, "; its clock went back %s, without a restart",
                s->clock_steps == 1 ? "once" : "more than once");
        if (s->opening_restarts > 0)
            say(&o->to, ", %llu more by opening the port", count(s->opening_restarts));
        say(&o->to, "\n");
    }
    why = unknown_why(s, FIGURE_TRANSMITTER_RESTARTS);
    if (!why)
        say(&o->to, "%-9s transmitter %llu\n", "", count(s->transmitter_restarts));
    else if (!strchr(why, ' '))
        say(&o->to, "%-9s transmitter unknown without %s\n", "", why);
}

/* "12.300 to 12.350 s", "12.300 s", or "unknown". */
static const char *moment(char *text, size_t size, int64_t low_ms, int64_t high_ms) {
    if (low_ms == TIME_UNKNOWN && high_ms == TIME_UNKNOWN)
        snprintf(text, size, "unknown");
    else if (low_ms == high_ms || low_ms == TIME_UNKNOWN)
        snprintf(text, size, "%.3f s", (double)high_ms / 1000);
    else if (high_ms == TIME_UNKNOWN)
        snprintf(text, size, "after %.3f s", (double)low_ms / 1000);
    else
        snprintf(text, size, "%.3f to %.3f s", (double)low_ms / 1000, (double)high_ms / 1000);
    return text;
}

static void say_bounds(struct out *o, const char *what, struct time_bounds b) {
    if (b.low_ms != TIME_UNKNOWN)
        say(&o->to, "%-9s   %s %.3f to %.3f s\n", "", what, (double)b.low_ms / 1000,
            (double)b.high_ms / 1000);
}

/* By the receiver's clock, as closely as its reports tell. */
static void text_delays(struct out *o, const struct failsafe_event *e) {
    say_bounds(o, "last packet to failsafe     ", failsafe_delay(e));
    say_bounds(o, "last packet to throttle idle", failsafe_throttle_delay(e));
    say_bounds(o, "first packet to normal again", failsafe_recovery(e));
}

static void text_failsafe_event(struct out *o, const struct failsafe_event *e) {
    char in[64], out[64];
    moment(in, sizeof in, e->enter.low_ms, e->enter.high_ms);
    moment(out, sizeof out, e->leave.low_ms, e->leave.high_ms);
    bool lasts = e->leave.low_ms == TIME_UNKNOWN && e->leave.high_ms == TIME_UNKNOWN;
    if (e->unseen)
        say(&o->to, "%-9s entered and left between two reports, at %s\n", "", in);
    else if (lasts)
        say(&o->to, "%-9s entered at %s, no leaving was seen\n", "", in);
    else
        say(&o->to, "%-9s entered at %s, left at %s\n", "", in, out);
    text_delays(o, e);
}

static void text_failsafe(struct out *o, bool brief) {
    const struct snapshot *s = o->s;
    const char *why = unknown_why(s, FIGURE_FAILSAFE);
    if (why) {
        say_unknown(o, "failsafe", why);
        return;
    }
    say(&o->to, "%-9s entered %llu time%s%s\n", "failsafe", count(s->failsafe_entries),
        plural(s->failsafe_entries), s->failsafe ? ", active at the end" : "");
    for (uint32_t i = 0; !brief && i < s->failsafe_count && i < FAILSAFE_SHOWN; i++)
        text_failsafe_event(o, &s->failsafe_events[i]);
    if (!brief && s->failsafe_count > FAILSAFE_SHOWN)
        say(&o->to, "%-9s ... all of them: --json\n", "");
}

static void text_supply(struct out *o, bool brief) {
    const struct snapshot *s = o->s;
    const char *why = unknown_why(s, FIGURE_SUPPLY), *no_low = unknown_why(s, FIGURE_SUPPLY_LOW);
    if (why && no_low)
        say_unknown(o, "supply", why);
    else if (no_low)
        say(&o->to, "%-9s %d mV, lowest %d mV at a report; dips between them: unknown without %s\n",
            "supply", s->supply_mv, s->supply_low_mv, no_low);
    else if (why)
        say(&o->to, "%-9s lowest %d mV\n", "supply", s->supply_low_mv);
    else
        say(&o->to, "%-9s %d mV, lowest %d mV\n", "supply", s->supply_mv, s->supply_low_mv);
    if (!brief && s->transmitter_supply_known)
        say(&o->to, "%-9s transmitter %d mV, lowest %d mV\n", "", s->transmitter_mv,
            s->transmitter_low_mv);
    if (s->registers_forgotten > 0)
        say(&o->to, "%-9s the radio lost its settings in %llu report%s: it lost power\n", "radio",
            count(s->registers_forgotten), plural(s->registers_forgotten));
    if (s->step_known && s->step < s->steps)
        say(&o->to,
            "%-9s transmitter at power step %u of %u: put it back to full before the model "
            "goes out\n",
            "power", s->step, s->steps);
}

static void number(char *text, size_t size, bool known, int32_t value) {
    if (!known)
        snprintf(text, size, "?");
    else if (value == CHANNEL_OFF)
        snprintf(text, size, "off");
    else
        snprintf(text, size, "%d", value);
}

static void text_channels(struct out *o) {
    const struct snapshot *s = o->s;
    if (s->channel_count == 0)
        return;
    say(&o->to, "\n%-16s %6s %6s %6s %8s %6s %9s\n", "channel", "now", "low", "high", "rest",
        "noise", "changes/s");
    for (uint32_t i = 0; i < s->channel_count; i++) {
        const struct channel_state *c = &s->channel[i];
        char name[NAME_MAX_BYTES], now[16], low[16], high[16], rest[16] = "?", noise[16] = "?",
                                                               rate[16] = "?";
        number(now, sizeof now, c->present, c->value);
        number(low, sizeof low, c->ends_known, c->low);
        number(high, sizeof high, c->ends_known, c->high);
        if (c->rest_known) {
            snprintf(rest, sizeof rest, "%.1f", c->rest);
            snprintf(noise, sizeof noise, "%.2f", c->noise);
        }
        double changes_hz = figures_changes_hz(s, c);
        if (changes_hz >= 0)
            snprintf(rate, sizeof rate, "%.1f", changes_hz);
        printable(name, sizeof name, c->name);
        say(&o->to, "%-16s %6s %6s %6s %8s %6s %9s\n", name, now, low, high, rest, noise, rate);
    }
}

static void text_ends(struct out *o) {
    const struct snapshot *s = o->s;
    if (s->channel_count > 0)
        say(&o->to, "\n%-16s %6s %6s\n", "channel", "low", "high");
    for (uint32_t i = 0; i < s->channel_count; i++) {
        const struct channel_state *c = &s->channel[i];
        char name[NAME_MAX_BYTES], low[16], high[16];
        number(low, sizeof low, c->ends_known, c->low);
        number(high, sizeof high, c->ends_known, c->high);
        say(&o->to, "%-16s %6s %6s\n", printable(name, sizeof name, c->name), low, high);
    }
}

static void text_all(struct out *o, const struct figures_facts *facts, enum figures_depth depth) {
    bool brief = depth == FIGURES_BRIEF;
    if (!brief)
        text_head(o, facts);
    text_packets(o, facts);
    text_outages(o);
    text_lines(o);
    text_restarts(o);
    text_failsafe(o, brief);
    text_supply(o, brief);
    if (!brief)
        text_channels(o);
    if (depth == FIGURES_ALL)
        standards_text(o->m, o->to.put, o->to.where);
}

static void text_only(struct out *o, const struct figures_facts *facts) {
    if (figures_wanted(facts, SECTION_TIME))
        text_head(o, facts);
    if (figures_wanted(facts, SECTION_LOSS))
        text_packets(o, facts);
    if (figures_wanted(facts, SECTION_OUTAGES))
        text_outages(o);
    if (figures_wanted(facts, SECTION_LINES))
        text_lines(o);
    if (figures_wanted(facts, SECTION_RESTARTS))
        text_restarts(o);
    if (figures_wanted(facts, SECTION_FAILSAFE))
        text_failsafe(o, false);
    if (figures_wanted(facts, SECTION_SUPPLY))
        text_supply(o, false);
    if (figures_wanted(facts, SECTION_CHANNELS))
        text_channels(o);
    else if (figures_wanted(facts, SECTION_ENDS))
        text_ends(o);
    if (figures_wanted(facts, SECTION_STANDARDS))
        standards_text(o->m, o->to.put, o->to.where);
    if (figures_wanted(facts, SECTION_BAND) && (!facts->survey || facts->survey->sweeps == 0))
        say_unknown(o, "band", "no sweep");
}

void figures_text(const struct snapshot *s, const struct measures *m,
                  const struct figures_facts *facts, enum figures_depth depth, say_put *put,
                  void *where) {
    struct out o = {s, m, {put, where}};
    if (facts->only == 0)
        text_all(&o, facts, depth);
    else
        text_only(&o, facts);
}
