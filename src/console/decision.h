/* The evidence budget of record and watch: --until, --with, --for.  Stops the run once the question
 * is decided, and says so. */
#ifndef CONSOLE_DECISION_H
#define CONSOLE_DECISION_H

#include "app/fold.h"
#include "app/samples.h"
#include "app/words.h"
#include "study/until.h"

struct decision {
    bool on; /* --until was given: */
    struct until until;
    struct samples reference;
    double planned_s;
    bool decided;
    bool rate_told; /* what it expects to need was put into words: */
    bool said;
    char words[WORDS_MAX];
};

/* Whether the options go together.  An enum status; what is wrong was said. */
int decision_check(const struct options *o);

/* Reads the reference, plans the looks, and says both on standard error.  Without --until nothing
 * is on.  An enum status; what is wrong was said. */
int decision_begin(struct decision *e, const struct options *o, const struct setup *setup);
void decision_release(struct decision *e);

/* A moment_sink; context is the struct decision. */
void decision_moment(void *context, const struct moment *m);

/* What it expects to need, once the packet rate is known: each call that returns it is the last.
 * NULL: nothing to say. */
const char *decision_expects(struct decision *e);

/* Seconds after which the run is to end: --for, or what --until plans without it; 0: never. */
double decision_for_s(const struct decision *e, const struct options *o);

/* The run is over: the verdict, on standard output. */
void decision_end(struct decision *e);

#endif
