/* The book of trials on a fold: made with the first moment, so that the facts of a recording (its
 * model file) come first.  The one road of watch, replay and judge. */
#ifndef APP_TRIALS_H
#define APP_TRIALS_H

#include "app/fold.h"
#include "trial/book.h"
#include "trial/ends.h"

struct trials {
    struct fold *fold;
    struct book *book; /* NULL before the first moment, or without memory */
    bool no_memory;
    struct ends ends;  /* what both ends said of themselves so far */
    struct snapshot s; /* as of the newest moment that the book wanted */
};

void trials_init(struct trials *t, struct fold *fold);
void trials_release(struct trials *t);

/* Before the first moment: what the other end says of itself, out of a recording or capture that
 * holds its id line.  It is kept in the setup, which tells a recording; what the run itself says of
 * an end counts more.  An enum status. */
int trials_other(struct trials *t, const char *path);

/* A moment_sink; context is the struct trials. */
void trials_moment(void *context, const struct moment *m);

/* Makes the book where there is none yet; false: no memory. */
bool trials_begin(struct trials *t);

#endif
