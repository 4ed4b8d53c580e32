/* Recordings, captures and baselines read for a comparison. */
#ifndef APP_SAMPLES_H
#define APP_SAMPLES_H

#include "app/options.h"
#include "study/side.h"

struct samples {
    struct sample *own[SIDE_RECORDINGS_MAX]; /* ours; [0, count) */
    uint32_t count;
};

/* Adds what is in the file ("-": standard input): a recording, a raw capture, or a baseline, which
 * may hold several.  An enum status; what is wrong was said. */
int samples_load(struct samples *s, const struct options *o, const char *path);
void samples_release(struct samples *s);

static inline struct side_samples samples_side(const struct samples *s) {
    return (struct side_samples){(const struct sample *const *)s->own, s->count};
}

/* Writes them into a baseline; an existing file is refused unless `overwrite`.  An enum status. */
int samples_keep(const struct samples *s, const char *path, bool overwrite);

#endif
