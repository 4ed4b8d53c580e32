/* The guided trials of a recording: each as it was judged, and what stands at the end.  As text for
 * people and as JSON. */
#ifndef TEXT_TRIALS_TEXT_H
#define TEXT_TRIALS_TEXT_H

#include "text/figures_text.h"
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

/* The sentence that goes with every verdict. */
extern const char trials_footer[];

#endif
