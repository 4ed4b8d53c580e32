/* The truth of a make-believe run, written beside it. */
#ifndef APP_TRUTH_H
#define APP_TRUTH_H

#include "pretend/pretend.h"

/* Writes it into the file path; an enum status, trouble was said. */
int truth_write(const struct pretend *p, const char *path);

#endif
