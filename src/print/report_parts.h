/* What the parts of the one-page report share; not for others. */
#ifndef PRINT_REPORT_PARTS_H
#define PRINT_REPORT_PARTS_H

#include "base/text.h"
#include "print/html.h"
#include "print/report.h"

struct report_page {
    struct html h;
    const struct report_facts *f;
};

/* A space that no line ends at, before a unit. */
#define GAP "\xC2\xA0"

/* Words. */
enum { SPAN_TEXT = 48 };
const char *report_span(char out[static SPAN_TEXT], int64_t ms);   /* "1 min 03 s" */
const char *report_moment(char out[static SPAN_TEXT], int64_t ms); /* "1:03.2", "unknown" */
const char *report_bounds(char out[static SPAN_TEXT], struct time_bounds b);
const char *report_plural(uint64_t n); /* "" or "s" */
/* Why a figure isn't known, as the end of a sentence: "the receiver's lines have no mvmin". */
void report_why(struct text *out, const char *why);
/* The loss's interval, as a sentence's part: "1.2 to 2.3 %"; "" where there is none. */
void report_loss_bounds(struct text *out, const struct measures *m);
const char *report_evidence(enum evidence evidence);
bool report_walked(const struct report_facts *f);  /* there are stops */
bool report_dropped(const struct report_facts *f); /* there is something to explain */

/* A picture as a figure, in both widths; nothing where there is none.  caption is a literal. */
void report_figure(struct report_page *p, const char *name, const char *caption);
/* A verdict's word with a sign that needs no colour. */
void report_verdict(struct report_page *p, enum trial_verdict verdict);

/* Sections. */
void report_style(struct report_page *p);
void report_done(struct report_page *p);
void report_answers(struct report_page *p);
void report_walk(struct report_page *p);
void report_trials(struct report_page *p);
void report_causes(struct report_page *p);
void report_figures(struct report_page *p);
void report_channels(struct report_page *p);
void report_unknowns(struct report_page *p);
void report_of_recording(struct report_page *p);
void report_cautions(struct report_page *p);

#endif
