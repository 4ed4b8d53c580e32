/* Events into a bench: facts of a recording first set it up, so that the bench begins with the
 * first event that is none.  The one road of record, figures, watch and replay. */
#ifndef APP_FOLD_H
#define APP_FOLD_H

#include "app/setup.h"
#include "link/measure.h"
#include "link/moment.h"
#include "study/survey.h"

/* Is shown each event after the bench took it, with what it meant. */
typedef void moment_sink(void *context, const struct moment *m);

struct fold {
    struct setup *setup;   /* the caller's */
    struct bench *bench;   /* NULL before the first event that is no fact */
    uint64_t rows_missing; /* that the recording says it lacks, its disk having been full */
    bool no_memory;
    bool light;           /* as in bench_limits; set it before the first event */
    struct survey survey; /* of the band, by sweeps at boot */
    moment_sink *watcher; /* NULL: none */
    void *watching;
};

void fold_init(struct fold *f, struct setup *setup);
void fold_release(struct fold *f);

/* From now on the sink sees each moment: a study, or several through one function. */
void fold_watch(struct fold *f, moment_sink *sink, void *context);

/* An event_sink; context is the struct fold. */
void fold_event(void *context, const struct event *event);

/* As bench_advance and bench_read; fold_read makes the bench when there is none yet.  False: no
 * memory. */
void fold_advance(struct fold *f, int64_t host_us);
bool fold_read(struct fold *f, struct snapshot *out);
bool fold_read_on(struct fold *f, struct snapshot *out); /* as bench_read_on */

/* The figures of the standards, after fold_read. */
void fold_measure(const struct fold *f, struct measures *out);

/* True when next to nothing of what came could be read: another speed, or no telemetry at all. */
bool fold_unreadable(const struct snapshot *s);

/* The same of a file, said to the person with the next step: an enum status. */
int fold_readable(const struct snapshot *s, const char *path);

#endif
