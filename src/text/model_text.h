/* A commented model file, to begin with: what was seen on the wire is filled in, what the wire
 * can't say stands there as a comment with its meaning and what holds without it.  Nothing is
 * guessed: a suggestion is a comment too.  model_parse takes the text as it is. */
#ifndef TEXT_MODEL_TEXT_H
#define TEXT_MODEL_TEXT_H

#include <stddef.h>

#include "link/snapshot.h"
#include "text/say.h"

struct model_seen {
    const struct snapshot *s;
    const char *where; /* the port or file, as the person named it */
    double rate_hz;    /* of the receiver's id line, 0: not told */
    bool span_told;    /* s->span_low and span_high come from it, too */
    uint32_t chans;    /* of the id line; 0: not told */
    uint32_t safe_count;
    int32_t safe[CHANNELS_MAX]; /* failsafe preset of the id line */
};

/* Takes what an id line of the receiver says; other events have no effect. */
void model_seen_event(struct model_seen *seen, const struct event *event);

/* Lines with \n ends. */
void model_text(const struct model_seen *seen, say_put *put, void *where);

#endif
