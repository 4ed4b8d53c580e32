/* The guided trials of a recording: each as it was judged, and what stands at the end.  As text for
 * people and as JSON. */
#ifndef PRINT_TRIALS_H
#define PRINT_TRIALS_H

#include "print/figures.h"
#include "trial/book.h"
#include "trial/ends.h"

struct trials_facts {
    const char *file;        /* as the person named it */
    bool recording;          /* else a raw capture, which has no trials */
    const struct ends *ends; /* what both ends said of themselves; NULL: not kept */
};

/* Text with \n line ends. */
void trials_text(const struct book *book, const struct trials_facts *facts, say_put *put,
                 void *where);

/* One JSON object ("airleash-judge-1") without a line end, to be freed; NULL: no memory. */
char *trials_json(const struct book *book, const struct trials_facts *facts);

/* The sentence that goes with every verdict. */
extern const char trials_footer[];

#endif
