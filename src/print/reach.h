/* The fit of a range walk, for its text and its JSON. */
#ifndef PRINT_REACH_H
#define PRINT_REACH_H

#include <jansson.h>

#include "print/walk.h"

/* The lines that come after the plan's.  facts->reach and ->reduced are there. */
void reach_text(const struct walk_facts *facts, say_put *put, void *where);

/* Adds the sections fit, exponent, carrier and full_power to root and the limits to its range, and
 * the reasons of what is null to because. */
void reach_json(const struct walk *w, const struct walk_facts *facts, json_t *root, json_t *range,
                json_t *because);

#endif
