/* The link on paper, as the command line gives it. */
#ifndef APP_ON_PAPER_H
#define APP_ON_PAPER_H

#include "app/options.h"

struct on_paper {
    struct budget_inputs in;
    uint32_t step;          /* the chip's power step, 0: another power */
    bool sensitivity_given; /* by the command line; else the chip's */
};

/* Fills in what follows from the module.  An enum status; what is wrong was said. */
int on_paper_settle(struct on_paper *paper, const struct options *o);

#endif
