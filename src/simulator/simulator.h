/* The simulated receiver: a small physical model of a home-built harbour tug on a park lake (a
 * walking transmitter, path loss with fading, interference, supply, servos, failsafe, restarts)
 * that prints telemetry lines through emit/.  Seeded and exactly repeatable; time is its own. */
#ifndef SIMULATOR_SIMULATOR_H
#define SIMULATOR_SIMULATOR_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct simulator_scene {
    const char *name;    /* "calm", ... */
    const char *meaning; /* one line for a person */
    uint32_t seconds;    /* length of the scene; it then begins again from its start */
};
extern const struct simulator_scene simulator_scenes[];
extern const size_t simulator_scene_count;

/* Index of the scene of this name, or -1. */
int simulator_scene_find(const char *name);

/* What really happened, whatever the lines say. */
struct simulator_truth {
    uint64_t sent, received, lost; /* packets, as counted from the receiver's first packet */
    uint64_t receiver_restarts, transmitter_restarts;
    uint64_t failsafe_entries;
    uint64_t lines; /* printed */
    uint32_t longest_gap_ms;
};

struct simulator; /* ours: simulator_new .. simulator_free */

/* Takes bytes of a line as they are printed. */
typedef void simulator_put(void *where, const char *bytes, size_t len);

/* A new simulated receiver at time 0; NULL when there is no memory. */
struct simulator *simulator_new(int scene, uint64_t seed, simulator_put *put, void *where);
void simulator_free(struct simulator *p);

/* When the next thing happens that may print, µs since the start. */
int64_t simulator_next_us(const struct simulator *p);

/* Runs up to and including time_us, printing what falls due. */
void simulator_run(struct simulator *p, int64_t time_us);

/* The truth so far, and as text: one key=value a line, with the scene, seed and every event of the
 * model with its time, appended through put. */
void simulator_truth(const struct simulator *p, struct simulator_truth *out);
void simulator_truth_text(const struct simulator *p, simulator_put *put, void *where);

#endif
