/* Parts of the figures' and the trials' JSON. */
#ifndef JSON_PARTS_H
#define JSON_PARTS_H

#include <jansson.h>

#include "study/survey.h"
#include "text/walk_text.h"
#include "trial/ends.h"

/* The loss with its interval. */
void standards_loss_json(const struct measures *m, json_t *root, json_t *because);

/* Adds the other sections to root, and the reasons of what is null to because. */
void standards_json(const struct measures *m, json_t *root, json_t *because);

/* How many outages were how long. */
json_t *standards_outages_json(const struct measures *m);

/* Adds the sections fit, exponent, carrier and full_power to root and the limits to its range, and
 * the reasons of what is null to because. */
void reach_json(const struct walk *w, const struct walk_facts *facts, json_t *root, json_t *range,
                json_t *because);

/* What the sweeps at boot found: adds the section `air` to root, and the reasons of what is null to
 * because.  NULL is no sweep. */
void survey_json(const struct survey *s, json_t *root, json_t *because);

/* {"receiver": {...}, "transmitter": {...}, "differ": [...]}; an end that isn't known, and a fact
 * that it doesn't say, is null, for which `because` gets the reason.  NULL: no memory. */
json_t *ends_json(const struct ends *e, json_t *because);

#endif
