/* A baseline: what a comparison needs of recordings, as lines of text, so that a model's reference
 * can be kept without them.  airleash-baseline(5) has the format.  Text in, samples out; opens
 * nothing. */
#ifndef STUDY_BASELINE_H
#define STUDY_BASELINE_H

#include "base/slice.h"
#include "study/sample.h"

typedef void baseline_put(void *where, const char *bytes, size_t len);

/* The first line, and the lines of one recording. */
void baseline_head(baseline_put *put, void *where);
void baseline_write(const struct sample *s, baseline_put *put, void *where);

/* Whether a file that begins so is one.  `len` at least BASELINE_HEAD, or the whole file. */
enum { BASELINE_HEAD = 20, BASELINE_LINE = 512 };
bool baseline_recognises(const char *bytes, size_t len);

enum baseline_step {
    BASELINE_MORE,
    BASELINE_DONE, /* *into is whole: give another sample for the next recording */
    BASELINE_BAD,  /* not understood; a later version's key is bad too, since it may matter */
};

struct baseline_reader {
    bool headed, open; /* the first line was seen; within a recording */
    uint32_t blocks;
};

/* All zero before the first line.  line: without its end.  */
enum baseline_step baseline_line(struct baseline_reader *r, struct slice line, struct sample *into);

#endif
