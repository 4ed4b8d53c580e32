#include "text/standards_text.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "base/percent.h"

/* --- text ------------------------------------------------------------------------------------- */

/* "0.123 %", or a question mark for a negative share. */
static const char *share(char *text, size_t size, double value) {
    if (value < 0)
        snprintf(text, size, "unknown");
    else
        snprintf(text, size, "%.4g %%", 100 * value);
    return text;
}

static void text_runs(const struct say *to, const struct measures *m) {
    const struct runs *r = &m->runs;
    char drop[PERCENT_MAX];
    say(to, "loss runs %s%" PRIu64 " (RFC 3357); longest %" PRIu64 " packet%s",
        r->unordered_lost > 0 ? "at least " : "", r->runs.count, r->runs.longest,
        r->runs.longest == 1 ? "" : "s");
    if (m->ground == GROUND_NONE_LOST) {
        percent_text(drop, m->high_if_drop_10);
        say(to, "; if loss runs of 10 packets may come, at most %s %% (95 %%)", drop);
    }
    if (r->runs.count > 0)
        say(to, ", mean %.3g", (double)r->runs.sum / (double)r->runs.count);
    say(to, "\n");
}

static void text_patterns(const struct say *to, const struct measures *m) {
    const struct runs *r = &m->runs;
    char density[32], gaps[32];
    say(to, "order     of %" PRIu64 " packets known, of %" PRIu64 " not\n", r->packets,
        r->unordered_got + r->unordered_lost);
    if (!m->order_known) {
        say(to, "loss runs unknown, bursts too: the order of lost packets isn't known (key pat)\n");
        return;
    }
    text_runs(to, m);
    if (r->lost > 0)
        say(to, "          %.4g %% of losses within 16 packets of the one before\n",
            100 * (double)runs_noticeable(r, 16) / (double)r->lost);
    say(to, "bursts    %" PRIu64 " (RFC 3611, Gmin 16), density %s; gap density %s\n",
        m->bursts.count, share(density, sizeof density, m->bursts.density),
        share(gaps, sizeof gaps, m->bursts.gap_density));
    if (m->bursts.count > 0 && m->bursts.mean_ms >= 0)
        say(to,
            m->bursts.mean_ms < 1000 ? "          mean burst %.1f packets, %.0f ms\n"
                                     : "          mean burst %.1f packets, %.2f s\n",
            m->bursts.mean_packets,
            m->bursts.mean_ms < 1000 ? m->bursts.mean_ms : m->bursts.mean_ms / 1000);
}

static void text_model(const struct say *to, const struct measures *m) {
    const struct gilbert *g = &m->gilbert;
    char p[32], r[32];
    if (!m->order_known) {
        say(to, "two-state p and r unknown\n");
        return;
    }
    say(to, "two-state p %s, r %s", share(p, sizeof p, g->p), share(r, sizeof r, g->r));
    if (g->run >= 0)
        say(to, ": runs of %.3g packets expected", g->run);
    if (g->correlation_known)
        say(to, ", correlation %.3g", g->correlation);
    say(to, "\n");
}

const char *standards_no_drift(const struct regular_drift *d) {
    return d->untimed ? "host times from a stopped clock or a pipe" : "half a minute of host times";
}

const char *standards_no_steady(const struct measures *m) {
    return m->loss_known || m->why == NULL ? "fewer than 8 blocks of time" : m->why;
}

static void text_timing(const struct say *to, const struct measures *m) {
    if (m->jitter_ms >= 0)
        say(to, "jitter    %.3g ms (RFC 3550, receiver's clock), greatest difference %.3g ms\n",
            m->jitter_ms, m->jitter_peak_ms);
    else
        say(to, "jitter    unknown: needs t, age and the packet rate\n");
    if (m->report_ms >= 0 && m->report_sd_ms >= 0)
        say(to, "reports   every %.4g ms, deviation %.3g ms, longest wait %" PRId64 " ms\n",
            m->report_ms, m->report_sd_ms, m->report_longest_ms);
    char span[PERCENT_SPAN_MAX];
    percent_between(span, m->drift.low_ppm, " to ", m->drift.high_ppm, true);
    if (m->drift.known)
        say(to, "clock     receiver %+.1f ppm against this computer (%s)\n", m->drift.ppm, span);
    else
        say(to, "clock     unknown: %s\n", standards_no_drift(&m->drift));
}

static void text_steady(const struct say *to, const struct measures *m) {
    if (!m->steady_known) {
        say(to, "steady    unknown: %s\n", standards_no_steady(m));
        return;
    }
    say(to, "steady    %s, by %" PRIu32 " blocks of %.3g s: trend p %.3g", m->steady ? "yes" : "no",
        m->blocks, (double)m->block_ms / 1000, m->trend_p);
    if (m->scatter_p >= 0)
        say(to, ", scatter p %.3g", m->scatter_p);
    say(to, "\n");
}

static void text_outages(const struct say *to, const struct measures *m) {
    for (unsigned bin = 0; bin < OUTAGES_BINS; bin++)
        if (m->outages.bin[bin] > 0)
            say(to, "outage   from %g s: %" PRIu64 "\n", (double)outages_bin_from_ms(bin) / 1000,
                m->outages.bin[bin]);
}

void standards_text(const struct measures *m, say_put *put, void *where) {
    const struct say to = {put, where};
    say(&to, "\n");
    text_patterns(&to, m);
    text_model(&to, m);
    text_steady(&to, m);
    text_outages(&to, m);
    text_timing(&to, m);
}

/* --- JSON ------------------------------------------------------------------------------------- */
