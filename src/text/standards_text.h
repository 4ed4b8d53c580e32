/* The figures of the standards: loss with its interval, loss patterns, timing.  The long part of
 * the text. */
#ifndef TEXT_STANDARDS_TEXT_H
#define TEXT_STANDARDS_TEXT_H

#include "text/figures_text.h"

void standards_text(const struct measures *m, say_put *put, void *where);

/* Why a drift that isn't known is not: a phrase with a space in it. */
const char *standards_no_drift(const struct regular_drift *d);

/* Likewise why it isn't known whether the loss was steady. */
const char *standards_no_steady(const struct measures *m);

#endif
