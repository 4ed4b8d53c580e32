/* A guided trial on the page: the list of them, a step, what one came to. */
#ifndef VIEW_TRIAL_H
#define VIEW_TRIAL_H

#include "trial/book.h"

enum trial_show { TRIAL_SHOW_LIST, TRIAL_SHOW_STEP, TRIAL_SHOW_OUTCOME };

struct trial_row {            /* of the list */
    const char *name, *about; /* name NULL: there is no such trial yet */
    enum trial_verdict stands;
    const char *stale; /* why it is unproven again; NULL */
};

/* What must be confirmed by y, and what the two answers do. */
struct trial_question {
    const char *ask, *yes, *no;
};

struct trial_view {
    enum trial_show show;
    bool live;     /* else a replay: keys are the replay's, nothing can be begun */
    bool recorded; /* what happens goes into a recording */
    struct trial_row row[TRIALS];
    /* a step, and what it came to */
    const char *title;
    const struct trial_step *step;
    uint32_t number;  /* steps come to so far, this one too: trials go different ways */
    int64_t lasted_s; /* negative unknown */
    struct trial_pane pane;
    bool gate;                             /* y begins the trial, whatever else the step asks */
    const struct trial_question *question; /* asked before a key takes effect; NULL: none */
    struct trial_outcome outcome;
    bool ended; /* in order */
    int scroll; /* lines of the outcome */
};

/* Lines of the outcome in so many columns, to know how far it can scroll. */
int trial_outcome_lines(const struct trial_view *v, int columns);

#endif
