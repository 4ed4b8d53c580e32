/* The truth of a make-believe run, written beside it. */
#ifndef APP_TRUTH_H
#define APP_TRUTH_H

#include "pretend/pretend.h"

/* Sees before the run that the file can be written; an enum status, trouble was said. */
int truth_check(const char *path);

/* Writes it into the file path; an enum status, trouble was said. */
int truth_write(const struct pretend *p, const char *path);

#endif
