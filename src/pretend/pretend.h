/* The make-believe receiver: a small physical model of a home-built harbour tug on a park lake (a
 * walking transmitter, path loss with fading, interference, supply, servos, failsafe, restarts)
 * that prints telemetry lines through emit/.  Seeded and exactly repeatable; time is its own. */
#ifndef PRETEND_PRETEND_H
#define PRETEND_PRETEND_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct pretend_scene {
    const char *name;    /* "calm", ... */
    const char *meaning; /* one line for a person */
    uint32_t seconds;    /* length of the scene; it then begins again from its start */
};
extern const struct pretend_scene pretend_scenes[];
extern const size_t pretend_scene_count;

/* Index of the scene of this name, or -1. */
int pretend_scene_find(const char *name);

/* What really happened, whatever the lines say. */
struct pretend_truth {
    uint64_t sent, received, lost; /* packets, as counted from the receiver's first packet */
    uint64_t receiver_restarts, transmitter_restarts;
    uint64_t failsafe_entries;
    uint64_t lines; /* printed */
    uint32_t longest_gap_ms;
};

struct pretend; /* ours: pretend_new .. pretend_free */

/* Takes bytes of a line as they are printed. */
typedef void pretend_put(void *where, const char *bytes, size_t len);

/* A new make-believe receiver at time 0; NULL when there is no memory. */
struct pretend *pretend_new(int scene, uint64_t seed, pretend_put *put, void *where);
void pretend_free(struct pretend *p);

/* When the next thing happens that may print, µs since the start. */
int64_t pretend_next_us(const struct pretend *p);

/* Runs up to and including time_us, printing what falls due. */
void pretend_run(struct pretend *p, int64_t time_us);

/* The truth so far, and as text: one key=value a line, with the scene, seed and every event of the
 * model with its time, appended through put. */
void pretend_truth(const struct pretend *p, struct pretend_truth *out);
void pretend_truth_text(const struct pretend *p, pretend_put *put, void *where);

#endif
