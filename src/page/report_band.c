/* The band as it was swept at the receiver's start: in words, in figures, and as a picture. */
#include <stdio.h>

#include "base/percent.h"
#include "page/report_parts.h"
#include "stat/proportion.h"

enum { USUAL_WIFI = 13 };

bool report_swept(const struct report_facts *f) {
    return f->figures->survey != NULL && f->figures->survey->sweeps > 0;
}

static unsigned long long count(uint64_t n) {
    return (unsigned long long)n;
}

/* "0 of 1500 looks found a carrier (95 %: at most 0.26 %)". */
static void say_spot(struct text *t, const struct survey_spot *s) {
    text_format(t, "%llu of %llu looks about it found a carrier (95 %%: ", count(s->hits),
                count(s->looks));
    char span[PERCENT_SPAN_MAX];
    percent_span(span, s->low, " to ", s->high);
    if (s->hits == 0)
        text_format(t, "at most %.2g" GAP "%%)", 100 * s->high);
    else
        text_format(t, "%s" GAP "%%)", span);
}

void report_answer_band(struct report_page *p) {
    struct survey_advice a;
    char text[700];
    struct text t;
    if (!report_swept(p->f))
        return;
    text_init(&t, text, sizeof text);
    survey_advise(p->f->figures->survey, &a);
    if (!a.best.known)
        text_string(&t, "That can't be told: there were too few looks.");
    else
        text_format(&t, "%u" GAP "MHz is the quietest: ", a.best.mhz);
    if (a.best.known)
        say_spot(&t, &a.best);
    if (a.best.known && a.now.known) {
        text_format(&t, ". On yours, %u" GAP "MHz, ", a.now.mhz);
        say_spot(&t, &a.now);
    }
    if (a.best.known)
        text_string(&t, ". A look finds strong signals only, and only while the receiver started: "
                        "quiet is no proof.");
    html_markup(&p->h, "<div class=\"answer\">\n");
    html_element(&p->h, "h3", "Which carrier is quiet?");
    html_element(&p->h, "p", "%s", text);
    html_markup(&p->h, "</div>\n");
}

/* --- tables ----------------------------------------------------------------------------------- */

static void wifi_cell(struct html_table *t, const struct survey_spot *s) {
    char text[80];
    struct text w;
    text_init(&w, text, sizeof text);
    for (int i = 0; i < s->wifi_count; i++)
        text_format(&w, "%s%d", i > 0 ? ", " : "", s->wifi[i]);
    html_cell(t, "%s", s->wifi_count > 0 ? text : "none");
}

static void share_cells(struct html_table *t, uint64_t hits, uint64_t looks, double low,
                        double high) {
    char span[PERCENT_SPAN_MAX];
    percent_span(span, low, " to ", high);
    html_cell(t, "%llu of %llu", count(hits), count(looks));
    if (looks == 0)
        html_cell(t, "unknown");
    else if (hits == 0)
        html_cell(t, "under %.2g" GAP "%%", 100 * high);
    else
        html_cell(t, "%s" GAP "%%", span);
}

static void spot_row(struct html_table *t, const char *what, const struct survey_spot *s) {
    if (!s->known)
        return;
    html_row_begin(t);
    html_cell(t, "%s", what);
    html_cell(t, "%u" GAP "MHz", s->mhz);
    share_cells(t, s->hits, s->looks, s->low, s->high);
    if (s->clear_mhz >= SURVEY_CLEAR_MHZ)
        html_cell(t, "%d" GAP "MHz or more", SURVEY_CLEAR_MHZ);
    else
        html_cell(t, "%u" GAP "MHz", s->clear_mhz);
    wifi_cell(t, s);
    html_row_end(t);
}

static void put_spots(struct report_page *p, const struct survey_advice *a) {
    static const char *const heads[] = {"carrier",
                                        "at",
                                        "looks that hit",
                                        "share, 95 %",
                                        "nearest one heard",
                                        "Wi-Fi channels over it",
                                        NULL};
    struct html_table t;
    if (!a->best.known && !a->now.known)
        return;
    html_table_begin(&t, &p->h, "Carriers to think about, each with 2 MHz to either side", heads);
    spot_row(&t, "quietest", &a->best);
    spot_row(&t, "next", &a->second);
    spot_row(&t, "yours", &a->now);
    html_table_end(&t);
}

/* One after the other, the carriers that were heard: [from, to] and the strongest of them. */
struct stretch {
    int from, to, peak;
    uint64_t hits, looks;
};

static double share(const struct survey *s, int i) {
    return s->looks[i] > 0 ? (double)s->hits[i] / (double)s->looks[i] : 0;
}

static bool next_stretch(const struct survey *s, int *at, struct stretch *out) {
    while (*at < SURVEY_MHZ && s->hits[*at] == 0)
        ++*at;
    if (*at == SURVEY_MHZ)
        return false;
    *out = (struct stretch){.from = *at, .peak = *at};
    for (; *at < SURVEY_MHZ && s->hits[*at] > 0; ++*at) {
        out->to = *at;
        out->hits += s->hits[*at];
        out->looks += s->looks[*at];
        if (share(s, *at) > share(s, out->peak))
            out->peak = *at;
    }
    return true;
}

static void stretch_row(struct html_table *t, const struct survey *s, const struct stretch *one) {
    html_row_begin(t);
    if (one->from == one->to)
        html_cell(t, "%d" GAP "MHz", SURVEY_FROM_MHZ + one->from);
    else
        html_cell(t, "%d to %d" GAP "MHz", SURVEY_FROM_MHZ + one->from, SURVEY_FROM_MHZ + one->to);
    html_cell(t, "%llu of %llu", count(one->hits), count(one->looks));
    html_cell(t, "%.2g" GAP "%%", 100 * (double)one->hits / (double)one->looks);
    html_cell(t, "%.2g" GAP "%% at %d" GAP "MHz", 100 * share(s, one->peak),
              SURVEY_FROM_MHZ + one->peak);
    html_row_end(t);
}

static void put_heard(struct report_page *p, const struct survey *s) {
    static const char *const heads[] = {"carriers", "looks that hit", "share", "most", NULL};
    struct html_table t;
    struct stretch one;
    int at = 0;
    if (!next_stretch(s, &at, &one)) {
        html_element(&p->h, "p", "No look heard anything.");
        return;
    }
    html_table_begin(&t, &p->h, "Where something was heard", heads);
    do
        stretch_row(&t, s, &one);
    while (next_stretch(s, &at, &one));
    html_table_end(&t);
}

static void put_wifi(struct report_page *p, const struct survey *s) {
    static const char *const heads[] = {"Wi-Fi", "around", "looks that hit", "share, 95 %", NULL};
    struct html_table t;
    html_table_begin(&t, &p->h, "By Wi-Fi channel, 20 MHz wide", heads);
    for (int channel = 1; channel <= USUAL_WIFI; channel++) {
        uint64_t hits, looks;
        survey_wifi(s, channel, &hits, &looks);
        struct stat_interval i = stat_wilson(hits, looks, 0.95);
        html_row_begin(&t);
        html_cell(&t, "channel %d", channel);
        html_cell(&t, "%.0f" GAP "MHz", wifi_centre_mhz(channel));
        share_cells(&t, hits, looks, i.low, i.high);
        html_row_end(&t);
    }
    html_table_end(&t);
}

void report_band(struct report_page *p) {
    const struct survey *s = p->f->figures->survey;
    struct survey_advice a;
    survey_advise(s, &a);
    html_element(&p->h, "p",
                 "%u sweep%s while the receiver started. A look is one bit, carrier or none: it "
                 "finds strong signals only, your own transmitter's too.",
                 s->sweeps, report_plural(s->sweeps));
    put_spots(p, &a);
    report_figure(p, "band", "Share of looks that found a carrier, at each MHz.");
    put_heard(p, s);
    put_wifi(p, s);
    html_element(&p->h, "p class=\"note\"",
                 "Shares are taken as if looks didn't depend on each other (Wilson's interval); "
                 "bursts make them less sure than that.");
}
