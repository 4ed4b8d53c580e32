/* The figures with their intervals, and the channels. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/percent.h"
#include "link/failsafe.h"
#include "page/report_parts.h"
#include "telemetry/words.h"
#include "text/standards_text.h"
#include "text/unknown.h"

static unsigned long long count(uint64_t n) {
    return (unsigned long long)n;
}

struct sheet {
    struct report_page *p;
    struct html_table t;
};

static void row(struct sheet *s, const char *what, const char *value, const char *bounds,
                const char *basis) {
    html_row_begin(&s->t);
    html_cell(&s->t, "%s", what);
    html_cell(&s->t, "%s", value);
    html_cell(&s->t, "%s", bounds ? bounds : "");
    html_cell(&s->t, "%s", basis ? basis : "");
    html_row_end(&s->t);
}

/* True when the figure is unknown, which the row then says. */
static bool unknown(struct sheet *s, const char *what, const char *why) {
    char text[160];
    struct text t;
    if (why == NULL)
        return false;
    text_init(&t, text, sizeof text);
    report_why(&t, why);
    row(s, what, "unknown", NULL, text);
    return true;
}

static bool unknown_figure(struct sheet *s, const char *what, enum figure figure) {
    return unknown(s, what, unknown_why(s->p->f->s, figure));
}

static const char *number(char out[static SPAN_TEXT], const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static const char *number(char out[static SPAN_TEXT], const char *format, ...) {
    va_list list;
    va_start(list, format);
    vsnprintf(out, SPAN_TEXT, format, list);
    va_end(list);
    return out;
}

static void rows_packets(struct sheet *sheet) {
    const struct snapshot *s = sheet->p->f->s;
    const struct measures *m = sheet->p->f->m;
    char a[SPAN_TEXT], bounds[64], rate[PERCENT_MAX];
    struct text b;
    percent_rate(rate, m->loss);
    text_init(&b, bounds, sizeof bounds);
    report_loss_bounds(&b, m);
    if (!unknown_figure(sheet, "packets that came", FIGURE_GOT))
        row(sheet, "packets that came", number(a, "%llu", count(s->total.got)), NULL,
            report_evidence(s->evidence));
    if (!unknown_figure(sheet, "packets lost", FIGURE_LOST)) {
        row(sheet, "packets lost", number(a, "%llu", count(s->total.lost)), NULL,
            report_evidence(s->evidence));
        if (m->loss_known)
            row(sheet, "loss", number(a, "%s %%", rate), bounds[0] ? bounds : "none can be given",
                m->why ? m->why : m->method);
    }
    if (s->lost_estimated > 0)
        row(sheet, "lost in long gaps, estimated",
            number(a, "about %llu", count(s->lost_estimated)), NULL,
            "gaps too long for the sequence number; not in the loss");
    if (!unknown_figure(sheet, "packets refused", FIGURE_REFUSED))
        row(sheet, "packets refused", number(a, "%llu", count(s->refused)), NULL,
            "wrong length or owner");
}

static void rows_patterns(struct sheet *sheet) {
    const struct measures *m = sheet->p->f->m;
    char a[SPAN_TEXT], b[SPAN_TEXT];
    if (m->order_known && m->runs.packets > 0) {
        row(sheet, "loss runs", number(a, "%llu", count(m->runs.runs.count)), NULL, "RFC 3357");
        row(sheet, "longest loss run",
            number(a, "%llu packet%s", count(m->runs.runs.longest),
                   report_plural(m->runs.runs.longest)),
            NULL, NULL);
    }
    if (m->order_known && m->bursts.count > 0)
        row(sheet, "bursts",
            number(a, "%llu, %.3g %% lost in them", count(m->bursts.count),
                   100 * m->bursts.density),
            NULL, "RFC 3611, Gmin 16");
    if (m->steady_known)
        row(sheet, "same loss all the time", m->steady ? "yes" : "no",
            number(b, "trend p %.3g", m->trend_p),
            number(a, "%u blocks of %.3g s", m->blocks, (double)m->block_ms / 1000));
    else
        row(sheet, "same loss all the time", "unknown", NULL, standards_no_steady(m));
}

static void rows_outages(struct sheet *sheet) {
    const struct snapshot *s = sheet->p->f->s;
    const struct outages *o = &sheet->p->f->m->outages;
    char a[SPAN_TEXT], b[SPAN_TEXT], c[SPAN_TEXT], text[120];
    if (unknown_figure(sheet, "outages", FIGURE_OUTAGES))
        return;
    snprintf(text, sizeof text, "longer than %s%s", report_span(a, s->outage_limit_ms),
             s->silent_at_end ? "; one more was still open at the end" : "");
    row(sheet, "outages", number(b, "%llu", count(s->outages)),
        s->outages_unsure > 0 ? number(c, "%llu more may be", count(s->outages_unsure)) : NULL,
        text);
    snprintf(
        text, sizeof text, "at least %s",
        report_span(a, s->longest_low_ms == TIME_UNKNOWN ? s->longest_gap_ms : s->longest_low_ms));
    row(sheet, "longest gap, at most", report_span(b, s->longest_gap_ms), text,
        "as closely as the reports tell");
    if (o->count > 0) {
        snprintf(text, sizeof text, "at least %s", report_span(a, o->total_low_ms));
        row(sheet, "outages in all, at most", report_span(c, o->total_high_ms), text, NULL);
    }
}

static void rows_lines(struct sheet *sheet) {
    const struct snapshot *s = sheet->p->f->s;
    char a[SPAN_TEXT];
    row(sheet, "lines read", number(a, "%llu", count(s->lines_good)), NULL, NULL);
    row(sheet, "lines damaged", number(a, "%llu", count(s->lines_damaged)), NULL,
        "on the cable, not on the air");
    if (!unknown_figure(sheet, "lines missing", FIGURE_MISSING_LINES))
        row(sheet, "lines missing", number(a, "%llu", count(s->lines_missing)), NULL,
            "on the cable, not on the air");
    if (!unknown_figure(sheet, "cable in use, at most", FIGURE_LOAD))
        row(sheet, "cable in use, at most", number(a, "%.0f %%", 100 * s->load_peak), NULL,
            "above 70 % the receiver may wait for its port");
}

static void rows_restarts(struct sheet *sheet) {
    const struct snapshot *s = sheet->p->f->s;
    char a[SPAN_TEXT];
    if (!unknown_figure(sheet, "receiver restarted", FIGURE_RECEIVER_RESTARTS))
        row(sheet, "receiver restarted", report_times(a, s->receiver_restarts), NULL, NULL);
    if (s->opening_restarts > 0)
        row(sheet, "by our opening the port", report_times(a, s->opening_restarts), NULL,
            "no fault of the receiver");
    if (!unknown_figure(sheet, "transmitter restarted", FIGURE_TRANSMITTER_RESTARTS))
        row(sheet, "transmitter restarted", report_times(a, s->transmitter_restarts), NULL, NULL);
    if (!unknown_figure(sheet, "failsafe entered", FIGURE_FAILSAFE))
        row(sheet, "failsafe entered", report_times(a, s->failsafe_entries), NULL,
            s->failsafe ? "still in it at the end" : NULL);
}

static void rows_supply(struct sheet *sheet) {
    const struct snapshot *s = sheet->p->f->s;
    char a[SPAN_TEXT];
    if (!unknown_figure(sheet, "supply, newest", FIGURE_SUPPLY))
        row(sheet, "supply, newest", number(a, "%d mV", s->supply_mv), NULL, NULL);
    if (!unknown_figure(sheet, "supply, lowest", FIGURE_SUPPLY_LOW))
        row(sheet, "supply, lowest", number(a, "%d mV", s->supply_low_mv), NULL, "mvmin");
    if (!unknown_figure(sheet, "transmitter's supply, lowest", FIGURE_TRANSMITTER_SUPPLY))
        row(sheet, "transmitter's supply, lowest", number(a, "%d mV", s->transmitter_low_mv), NULL,
            NULL);
    if (!unknown_figure(sheet, "transmit power", FIGURE_STEP))
        row(sheet, "transmit power", number(a, "step" GAP "%u of" GAP "%u", s->step, s->steps),
            NULL,
            s->step < s->full_step ? "reduced: back to full before the model goes out" : NULL);
    if (!unknown_figure(sheet, "signal, newest", FIGURE_RSSI))
        row(sheet, "signal, newest", number(a, "%d dBm", s->rssi_dbm), NULL, NULL);
    if (!unknown_figure(sheet, "radio lost its settings", FIGURE_REGISTERS))
        row(sheet, "radio lost its settings", report_times(a, s->settings_lost), NULL, NULL);
}

static void rows_timing(struct sheet *sheet) {
    const struct measures *m = sheet->p->f->m;
    char a[SPAN_TEXT], b[SPAN_TEXT];
    if (m->jitter_ms >= 0)
        row(sheet, "jitter", number(a, "%.3g ms", m->jitter_ms),
            number(b, "peak %.3g ms", m->jitter_peak_ms), "RFC 3550, by the receiver's clock");
    else
        row(sheet, "jitter", "unknown", NULL, "needs t, age and the packet rate");
    if (m->report_ms >= 0 && m->report_sd_ms >= 0)
        row(sheet, "time between reports", number(a, "%.4g ms", m->report_ms),
            number(b, "deviation %.3g ms", m->report_sd_ms), NULL);
    char span[PERCENT_SPAN_MAX];
    percent_between(span, m->drift.low_ppm, " to ", m->drift.high_ppm, true);
    if (m->drift.known)
        row(sheet, "receiver's clock against the computer's", number(a, "%+.1f ppm", m->drift.ppm),
            number(b, "%s ppm", span), "median of slopes (Theil and Sen), 95 %");
    else if (m->drift.untimed)
        row(sheet, "receiver's clock against the computer's", "unknown", NULL,
            standards_no_drift(&m->drift));
}

static void put_failsafes(struct report_page *p) {
    static const char *const heads[] = {"entered",
                                        "left",
                                        "last packet to failsafe",
                                        "last packet to throttle idle",
                                        "first packet to normal again",
                                        NULL};
    enum { SHOWN = 20 };
    const struct snapshot *s = p->f->s;
    struct html_table t;
    if (s->failsafe_count == 0)
        return;
    html_table_begin(&t, &p->h, "Each failsafe, by the receiver's clock", heads);
    for (uint32_t i = 0; i < s->failsafe_count && i < SHOWN; i++) {
        const struct failsafe_event *e = &s->failsafe_events[i];
        char text[SPAN_TEXT];
        html_row_begin(&t);
        html_cell(&t, "%s", report_when(text, e->enter));
        html_cell(&t, "%s", e->unseen ? "between two reports" : report_when(text, e->leave));
        html_cell(&t, "%s", report_bounds(text, failsafe_delay(e)));
        html_cell(&t, "%s", report_bounds(text, failsafe_throttle_delay(e)));
        html_cell(&t, "%s", report_bounds(text, failsafe_recovery(e)));
        html_row_end(&t);
    }
    html_table_end(&t);
    if (s->failsafe_entries > SHOWN)
        html_element(&p->h, "p class=\"note\"", "airleash figures --json lists all of them.");
}

void report_figures(struct report_page *p) {
    static const char *const heads[] = {"figure", "value", "between", "by what", NULL};
    struct sheet s = {.p = p};
    html_table_begin(&s.t, &p->h, "The link in figures; intervals are of 95 %", heads);
    rows_packets(&s);
    rows_patterns(&s);
    rows_outages(&s);
    rows_restarts(&s);
    rows_supply(&s);
    rows_lines(&s);
    rows_timing(&s);
    html_table_end(&s.t);
    put_failsafes(p);
}

static const char *value(char out[static SPAN_TEXT], bool known, int32_t v) {
    if (!known)
        snprintf(out, SPAN_TEXT, "unknown");
    else if (v == CHANNEL_OFF)
        snprintf(out, SPAN_TEXT, "off");
    else
        snprintf(out, SPAN_TEXT, "%d", v);
    return out;
}

void report_channels(struct report_page *p) {
    static const char *const heads[] = {"channel", "newest",        "lowest",           "highest",
                                        "at rest", "noise at rest", "changes a second", NULL};
    const struct snapshot *s = p->f->s;
    char a[SPAN_TEXT], own[16];
    struct html_table t;
    html_table_begin(&t, &p->h, s->raw_unit ? "Channels, raw values" : "Channels, microseconds",
                     heads);
    for (uint32_t i = 0; i < s->channel_count; i++) {
        const struct channel_state *c = &s->channel[i];
        double changes_hz = figures_changes_hz(s, c);
        html_row_begin(&t);
        snprintf(own, sizeof own, "ch%u", i + 1);
        bool named = c->name[0] != '\0' && strcmp(c->name, own) != 0;
        html_cell(&t, "%u%s%s", i + 1, named ? " " : "", named ? c->name : "");
        html_cell(&t, "%s", value(a, c->present, c->value));
        html_cell(&t, "%s", value(a, c->ends_known, c->low));
        html_cell(&t, "%s", value(a, c->ends_known, c->high));
        html_cell(&t, "%s", c->rest_known ? number(a, "%.1f", c->rest) : "unknown");
        html_cell(&t, "%s", c->rest_known ? number(a, "%.2f", c->noise) : "unknown");
        html_cell(&t, "%s", changes_hz >= 0 ? number(a, "%.1f", changes_hz) : "unknown");
        html_row_end(&t);
    }
    html_table_end(&t);
}
