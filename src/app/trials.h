/* The book of trials on a fold: made with the first moment, so that the facts of a recording (its
 * card) come first.  The one road of watch, replay and judge. */
#ifndef APP_TRIALS_H
#define APP_TRIALS_H

#include "app/fold.h"
#include "trial/book.h"

struct trials {
    struct fold *fold;
    struct book *book; /* NULL before the first moment, or without memory */
    bool no_memory;
    struct snapshot s; /* as of the newest moment that the book wanted */
};

void trials_init(struct trials *t, struct fold *fold);
void trials_release(struct trials *t);

/* A moment_sink; context is the struct trials. */
void trials_moment(void *context, const struct moment *m);

/* Makes the book where there is none yet; false: no memory. */
bool trials_begin(struct trials *t);

#endif
