/* What both ends of the link say of themselves, in two columns and as JSON. */
#ifndef PRINT_ENDS_H
#define PRINT_ENDS_H

#include "print/figures.h"
#include "trial/ends.h"

struct json_t; /* jansson's */

/* A table, the facts that differ marked by a word and a '!'; nothing when neither end is known. */
void ends_print(const struct ends *e, say_put *put, void *where);

/* {"receiver": {...}, "transmitter": {...}, "differ": [...]}; an end that isn't known, and a fact
 * that it doesn't say, is null, for which `because` gets the reason.  NULL: no memory. */
struct json_t *ends_json(const struct ends *e, struct json_t *because);

#endif
