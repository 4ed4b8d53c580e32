/* The link in figures: a snapshot as text for people and as JSON.  What is unknown is said, with
 * the telemetry key that would tell. */
#ifndef TEXT_FIGURES_TEXT_H
#define TEXT_FIGURES_TEXT_H

#include <stddef.h>

#include "link/measure.h"
#include "link/snapshot.h"
#include "study/survey.h"
#include "text/say.h"
#include "text/sections.h"

struct figures_facts {
    const char *file; /* as the person named it */
    const char
        *rate_from; /* who said the packet rate ("the model file"), NULL: the id line or nobody */
    bool recording; /* else a raw capture, or a live run */
    bool cut;       /* reading failed before the file's end */
    uint64_t rows_bad;           /* of the recording, passed over */
    uint64_t rows_missing;       /* that it says it lacks */
    const struct survey *survey; /* for the JSON; NULL: none */
    uint32_t only;               /* these sections alone; 0: all of them */
};

enum figures_depth {
    FIGURES_BRIEF, /* without the channels and what is of second rank */
    FIGURES_USUAL,
    FIGURES_ALL, /* with the figures of the standards */
};

/* Text with \n line ends. */
void figures_text(const struct snapshot *s, const struct measures *m,
                  const struct figures_facts *facts, enum figures_depth depth, say_put *put,
                  void *where);

static inline bool figures_wanted(const struct figures_facts *facts, enum figures_section section) {
    return facts->only == 0 || (facts->only >> section & 1u) != 0;
}

#endif
