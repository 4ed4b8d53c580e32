/* The fit of a range walk. */
#ifndef TEXT_REACH_TEXT_H
#define TEXT_REACH_TEXT_H

#include "text/walk_text.h"

/* The lines that come after the plan's.  facts->reach and ->reduced are there. */
void reach_text(const struct walk_facts *facts, say_put *put, void *where);

#endif
