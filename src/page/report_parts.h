/* What the parts of the one-page report share; not for others. */
#ifndef PAGE_REPORT_PARTS_H
#define PAGE_REPORT_PARTS_H

#include "base/text.h"
#include "page/html.h"
#include "page/report.h"

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
const char *report_when(char out[static SPAN_TEXT], struct time_bounds b); /* moments: "1:03.2" */
const char *report_plural(uint64_t n);                                     /* "" or "s" */
const char *report_times(char out[static SPAN_TEXT], uint64_t n); /* "never", "once", "3 times" */
const char *report_metres(char out[static SPAN_TEXT], double m);  /* three figures at least */
/* A chain of causes, "a -> b", in words: "a, then b". */
void report_chain(char *chain, size_t size);
/* Why a figure isn't known, as the end of a sentence: "the receiver's lines have no mvmin". */
void report_why(struct text *out, const char *why);
/* The loss's interval, as a sentence's part: "1.2 to 2.3 %"; "" where there is none. */
void report_loss_bounds(struct text *out, const struct measures *m);
const char *report_evidence(enum evidence evidence);
bool report_walked(const struct report_facts *f);    /* there are stops */
bool report_dropped(const struct report_facts *f);   /* there is something to explain */
bool report_has_paper(const struct report_facts *f); /* the field says something against paper */
bool report_reduced(const struct report_facts *f);   /* walked, and at reduced power */
bool report_swept(const struct report_facts *f);     /* the band was swept */
/* What a walk at reduced power says of full power, as further sentences. */
void report_say_full(struct text *out, const struct report_facts *f);

/* A picture as a figure, in both widths; nothing where there is none.  caption is a literal. */
void report_figure(struct report_page *p, const char *name, const char *caption);
/* A verdict's word with a sign that needs no colour. */
void report_verdict(struct report_page *p, enum trial_verdict verdict);

/* Sections. */
void report_style(struct report_page *p);
void report_done(struct report_page *p);
void report_answers(struct report_page *p);
void report_answer_link(struct report_page *p);
void report_answer_ours(struct report_page *p);
void report_answer_values(struct report_page *p);
void report_answer_paper(struct report_page *p);
void report_answer_band(struct report_page *p);
void report_walk(struct report_page *p);
void report_full_power(struct report_page *p); /* of the walk's section */
void report_paper(struct report_page *p);
void report_band(struct report_page *p);
void report_trials(struct report_page *p);
void report_causes(struct report_page *p);
void report_figures(struct report_page *p);
void report_channels(struct report_page *p);
void report_unknowns(struct report_page *p);
void report_of_recording(struct report_page *p);
void report_cautions(struct report_page *p);

#endif
