/* The caution that stands before a real port is opened, and the yes that it wants. */
#ifndef APP_CAUTION_H
#define APP_CAUTION_H

#include <stdbool.h>

#include "app/options.h"
#include "app/setup.h"

/* Whether opening path may restart something and nobody has said yet that this is fine. */
bool caution_needed(const char *path, const struct options *o, const struct setup *s);

/* Shows the caution where it is needed and asks for a typed yes on the terminal.  STATUS_ANSWER:
 * open it; else the exit status, and the reason was said. */
int caution_ask(const char *path, const struct options *o, const struct setup *s);

#endif
