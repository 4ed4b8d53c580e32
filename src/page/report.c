#include "page/report.h"

#include <string.h>

#include "page/report_parts.h"
#include "picture/picture_out.h"
#include "text/trials_text.h"

/* --- pictures and verdicts -------------------------------------------------------------------- */

static void put_picture(struct report_page *p, const char *name, enum picture_size size,
                        const char *prefix) {
    if (!p->f->draw(p->f->drawing, name, size, p->f->canvas))
        return;
    html_markup(&p->h, size == PICTURE_WIDE ? "<div class=\"wide\">" : "<div class=\"phone\">");
    picture_svg_within(p->f->canvas, prefix, html_pass, &p->h);
    html_markup(&p->h, "</div>\n");
}

void report_figure(struct report_page *p, const char *name, const char *caption) {
    char prefix[32];
    struct text t;
    if (p->f->draw == NULL || !p->f->draw(p->f->drawing, name, PICTURE_WIDE, p->f->canvas))
        return;
    html_markup(&p->h, "<figure>\n");
    text_init(&t, prefix, sizeof prefix);
    text_format(&t, "%s-wide-", name);
    put_picture(p, name, PICTURE_WIDE, prefix);
    text_clear(&t);
    text_format(&t, "%s-phone-", name);
    put_picture(p, name, PICTURE_NARROW, prefix);
    html_element(&p->h, "figcaption", "%s", caption);
    html_markup(&p->h, "</figure>\n");
}

void report_verdict(struct report_page *p, enum trial_verdict verdict) {
    static const struct {
        const char *begin, *sign;
    } marks[] = {
        [TRIAL_NOT_TRIED] = {"<span class=\"verdict\">", "\xE2\x80\x93"},
        [TRIAL_NOT_SHOWN] = {"<span class=\"verdict\">", "?"},
        [TRIAL_PASSED] = {"<span class=\"verdict passed\">", "\xE2\x9C\x93"},
        [TRIAL_FAILED] = {"<span class=\"verdict failed\">", "\xE2\x9C\x97"},
    };
    html_markup(&p->h, marks[verdict].begin);
    html_markup(&p->h, "<span aria-hidden=\"true\">");
    html_markup(&p->h, marks[verdict].sign);
    html_markup(&p->h, " </span>");
    html_say(&p->h, "%s", trial_verdict_name(verdict));
    html_markup(&p->h, "</span>");
}

/* --- the sections ----------------------------------------------------------------------------- */

static bool always(const struct report_facts *f) {
    return f != NULL;
}

static bool tried(const struct report_facts *f) {
    return f->book != NULL && book_count(f->book) > 0;
}

static bool has_pictures(const struct report_facts *f) {
    return f->draw != NULL && f->course->end_ms > 0;
}

static bool has_figures(const struct report_facts *f) {
    return f->s->reports > 0;
}

static bool has_channels(const struct report_facts *f) {
    return f->s->channel_count > 0;
}

static void pictures(struct report_page *p) {
    report_figure(
        p, "loss",
        "Each column is the share of packets lost in a stretch of time. The lanes below show "
        "when there was an outage, failsafe or a restart.");
    report_figure(p, "outages", "How many outages lasted at least so long.");
    report_figure(p, "supply", "The supply, and how low it dipped between two reports.");
    report_figure(p, "channels", "What was commanded on each channel.");
}

static const struct {
    const char *id, *title;
    bool (*there)(const struct report_facts *f);
    void (*put)(struct report_page *p);
} sections[] = {
    {"answers", "Answers", always, report_answers},
    {"done", "What was done", always, report_done},
    {"pictures", "The run in pictures", has_pictures, pictures},
    {"walk", "The range walk", report_walked, report_walk},
    {"paper", "Paper against field", report_has_paper, report_paper},
    {"band", "The band", report_swept, report_band},
    {"trials", "Guided trials", tried, report_trials},
    {"causes", "Why it dropped", report_dropped, report_causes},
    {"figures", "Figures", has_figures, report_figures},
    {"channels", "Channels", has_channels, report_channels},
    {"unknown", "What is unknown", always, report_unknowns},
    {"recording", "The recording and its set-up", always, report_of_recording},
    {"cautions", "Cautions", always, report_cautions},
};
enum { PAGE_SECTIONS = sizeof sections / sizeof sections[0] };

static void put_title(struct report_page *p, const char *element) {
    const char *model = p->f->model;
    html_element(&p->h, element, "Bench report: %s%s%s", model, model[0] ? ", " : "",
                 p->f->figures->file);
}

static void put_head(struct report_page *p) {
    html_markup(&p->h,
                "<!DOCTYPE html>\n<html lang=\"en\" xmlns=\"http://www.w3.org/1999/xhtml\">\n"
                "<head>\n<meta charset=\"utf-8\" />\n"
                "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\" />\n"
                "<meta name=\"color-scheme\" content=\"light dark\" />\n"
                /* No icon is fetched, and nothing could be if a line of the wire got through. */
                "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
                "style-src 'unsafe-inline'; img-src data:\" />\n"
                "<link rel=\"icon\" href=\"data:,\" />\n");
    put_title(p, "title");
    report_style(p);
    html_markup(&p->h, "</head>\n<body>\n<header>\n");
    put_title(p, "h1");
    html_markup(&p->h, "</header>\n<nav aria-label=\"Sections\">\n<ul>\n");
    for (int i = 0; i < PAGE_SECTIONS; i++) {
        if (!sections[i].there(p->f))
            continue;
        html_markup(&p->h, "<li><a href=\"#");
        html_markup(&p->h, sections[i].id);
        html_markup(&p->h, "\">");
        html_markup(&p->h, sections[i].title);
        html_markup(&p->h, "</a></li>\n");
    }
    html_markup(&p->h, "</ul>\n</nav>\n<main>\n");
}

static void put_section(struct report_page *p, int i) {
    html_markup(&p->h, "<section aria-labelledby=\"");
    html_markup(&p->h, sections[i].id);
    html_markup(&p->h, "\">\n<h2 id=\"");
    html_markup(&p->h, sections[i].id);
    html_markup(&p->h, "\">");
    html_markup(&p->h, sections[i].title);
    html_markup(&p->h, "</h2>\n");
    sections[i].put(p);
    html_markup(&p->h, "</section>\n");
}

void report_html(const struct report_facts *facts, say_put *put, void *where) {
    struct report_page p = {.h = {.put = put, .where = where}, .f = facts};
    put_head(&p);
    for (int i = 0; i < PAGE_SECTIONS; i++)
        if (sections[i].there(facts))
            put_section(&p, i);
    html_markup(&p.h, "</main>\n");
    html_element(&p.h, "footer", "Written by %s from %s. Equal recordings give equal pages.",
                 facts->program, facts->figures->file);
    html_markup(&p.h, "</body>\n</html>\n");
}
