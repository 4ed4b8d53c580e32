/* The caution that stands before a real port is opened, and the yes that it wants. */
#ifndef CONSOLE_CAUTION_H
#define CONSOLE_CAUTION_H

#include "app/options.h"
#include "app/setup.h"

/* Shows the caution where opening path may restart something and nobody has said yet that this is
 * fine, and asks for a typed yes on the terminal.  STATUS_ANSWER:
 * open it; else the exit status, and the reason was said. */
int caution_ask(const char *path, const struct options *o, const struct setup *s);

#endif
