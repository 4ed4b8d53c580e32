/* A comparison as text for people and as JSON: the same words from the same tables. */
#ifndef TEXT_COMPARE_TEXT_H
#define TEXT_COMPARE_TEXT_H

#include "study/worth.h"
#include "text/figures_text.h"

/* What the loss is worth by a walk. */
struct compare_walk {
    const char *file; /* as the person named it */
    struct reach reach;
    struct worth worth;
};

/* Text with \n line ends.  w: NULL where no walk was given. */
void compare_text(const struct compare *c, const struct side_samples *a,
                  const struct side_samples *b, const struct compare_walk *w, say_put *put,
                  void *where);

const char *compare_verdict_name(enum compare_verdict verdict); /* "helped", ... */
const char *compare_doubt_name(enum compare_doubt doubt);       /* NULL: none */
const char *compare_answer_name(enum compare_answer answer);

struct compare_row {
    const char *name; /* "outages" */
    const char *unit; /* " a minute" */
    const char *key;  /* the telemetry key that tells it */
    int decimals;
    double times; /* shown as so many times the value */
};
extern const struct compare_row compare_rows[COMPARE_FIGURES];

/* Why a figure of one side isn't known: a key, or a phrase with a space in it; NULL: it is. */
const char *compare_unknown(const struct compare *c, enum compare_figure_id id,
                            const struct side_samples *side, bool known);

/* What else to know before believing it: the text of note `index`, NULL after the last. */
const char *compare_note(const struct compare *c, unsigned index);

/* Why nothing was compared; NULL: it was. */
const char *compare_lack_words(const struct compare *c);

/* Why the loss has no worth in decibels, as words; NULL: it has. */
const char *compare_worth_lack(const struct compare_walk *w);

#endif
