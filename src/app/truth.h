/* The truth of a simulated run, written beside it. */
#ifndef APP_TRUTH_H
#define APP_TRUTH_H

#include "simulator/simulator.h"

/* Sees before the run that the file can be written; an enum status, trouble was said. */
int truth_check(const char *path);

/* Writes it into the file path; an enum status, trouble was said. */
int truth_write(const struct simulator *p, const char *path);

#endif
