/* The link on paper, as the command line gives it; what it leaves open a recording may tell. */
#ifndef APP_ON_PAPER_H
#define APP_ON_PAPER_H

#include "app/options.h"
#include "text/budget_text.h"

struct walk_run;

struct on_paper {
    struct budget_inputs in;
    struct budget_from from; /* whence the inputs are */
    uint32_t step;           /* the chip's power step, 0: another power */
};

/* What a recording says of its link; 0: nothing. */
struct on_paper_told {
    uint32_t mhz, kbps; /* of its id line */
    uint32_t step;      /* the chip's power step */
};

/* Fills in what follows from the module; the command line beats what was told (NULL: nothing).  An
 * enum status; what is wrong was said. */
int on_paper_settle(struct on_paper *paper, const struct options *o,
                    const struct on_paper_told *told);

/* What a walk says of its link; r is its reach. */
struct on_paper_told on_paper_walk(const struct walk_run *run, const struct reach *r);

#endif
