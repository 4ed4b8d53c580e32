/* The figures of the standards: loss with its interval, loss patterns, timing.  The long part of
 * the text, and their sections of the JSON. */
#ifndef PRINT_STANDARDS_H
#define PRINT_STANDARDS_H

#include <jansson.h>

#include "print/figures.h"

void standards_text(const struct measures *m, say_put *put, void *where);

/* The loss with its interval. */
void standards_loss_json(const struct measures *m, json_t *root, json_t *because);

/* Adds the other sections to root, and the reasons of what is null to because. */
void standards_json(const struct measures *m, json_t *root, json_t *because);

/* Why a drift that isn't known is not: a phrase with a space in it. */
const char *standards_no_drift(const struct regular_drift *d);

/* Likewise why it isn't known whether the loss was steady. */
const char *standards_no_steady(const struct measures *m);

/* How many silences were how long. */
json_t *standards_outages_json(const struct measures *m);

#endif
