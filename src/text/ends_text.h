/* What both ends of the link say of themselves, in two columns. */
#ifndef TEXT_ENDS_TEXT_H
#define TEXT_ENDS_TEXT_H

#include "text/figures_text.h"
#include "trial/ends.h"

/* A table, the facts that differ marked by a word and a '!'; nothing when neither end is known. */
void ends_print(const struct ends *e, say_put *put, void *where);

#endif
