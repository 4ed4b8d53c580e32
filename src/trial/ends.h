/* What both ends of the link say of themselves, side by side.  The newest `id` line of each end is
 * kept, its texts copied; the facts on which both must agree are compared row by row.  Pure: the
 * caller feeds it events of the run, or of a file that holds the other end's id. */
#ifndef TRIAL_ENDS_H
#define TRIAL_ENDS_H

#include "base/text.h"
#include "telemetry/event.h"

enum { ENDS_TEXT = 40 };

struct end_facts {
    bool known;
    struct identity id; /* its slices are empty: see below */
    char fw[ENDS_TEXT];
    char addr[ENDS_TEXT]; /* as it came, cut to fit */
};

struct ends {
    struct end_facts receiver, transmitter;
};

/* Zeroed memory is a struct ends that knows nothing.  Other events than `id` have no effect. */
void ends_take(struct ends *e, const struct event *event);

enum ends_mark {
    ENDS_SAME,
    ENDS_DIFFERS, /* nothing comes through while it does, or not all of it */
    ENDS_UNKNOWN, /* one end, or both, don't say */
    ENDS_FREE,    /* the ends need not agree in it */
};

/* One fact: how each end says it, "?" where it doesn't. */
struct ends_row {
    const char *key; /* of the id line */
    bool blocks;     /* no packet comes while it differs */
    enum ends_mark mark;
    char receiver[ENDS_TEXT], transmitter[ENDS_TEXT];
    const char *remark; /* what kind of difference that is, in words; NULL: none */
};

enum { ENDS_ROWS = 10 };
void ends_row(const struct ends *e, uint32_t index, struct ends_row *out);

/* How many facts differ; both ends must be known, else 0. */
uint32_t ends_differ(const struct ends *e);
/* How many facts both ends tell. */
uint32_t ends_shared(const struct ends *e);

/* The keys that differ, "addr, crc", appended. */
void ends_names(const struct ends *e, struct text *out);

/* One row as text of at most 72 columns, the marked ones begin with '!'.  Row -1 is the heading. */
void ends_text(const struct ends *e, int row, struct text *out);

/* The same without words, in 34 columns, so that two stand side by side. */
void ends_half(const struct ends *e, uint32_t row, struct text *out);

/* A fact read back from the radio that can't be, in words: an address of ones alone, a width of 0.
 * False: none.  `sure`: of no radio at all; else of none of the nRF24L01+ kind. */
bool ends_absurd(const struct end_facts *end, bool *sure, struct text *out);

#endif
