/* A guided trial driven without a console: lines with their host times go the live road (telemetry,
 * bench, book, guide), a table answers for the person, and what was recorded is judged again, which
 * must come to the same.  Needs <cmocka.h> and what it asks for included first.
 *
 *   struct drive *d = drive_new(&plan);
 *   drive_scene(d, simulator_scene_find("failsafe"), 1, 60);
 *   drive_end(d, &result);                               d is gone, result is checked and filled */
#ifndef TESTS_UNIT_TRIAL_DRIVE_H
#define TESTS_UNIT_TRIAL_DRIVE_H

#include "trial/book.h"

enum drive_what { DRIVE_ANSWER, DRIVE_SKIP, DRIVE_QUIT };

struct drive_act {
    const char *step; /* at this step; NULL: whatever step it is */
    double after_s;   /* once the step has lasted so long; of a NULL step, time of the run */
    enum drive_what what;
    uint32_t answer; /* yes 1, no 0, ready 1, choice from 0 */
    bool once;       /* only the first time that the step is entered */
};

struct drive_plan {
    enum trial_id trial;
    double begin_s;               /* time of the run at which the trial is begun */
    const struct drive_act *acts; /* a step's first act whose time has come is done, each once a
                                     visit; a step without any waits for the telemetry */
    size_t act_count;
    const struct trial_rules *rules; /* NULL: the defaults */
};

struct drive_result {
    struct trial_outcome outcome; /* of the newest entry of this kind */
    struct book_entry entry;
    enum trial_verdict stands;
    char stale[120];  /* empty: not stale */
    char route[1000]; /* the steps as they were entered: "caution low raise off" */
    double ended_s;   /* time of the run at which it ended, negative: it didn't */
    char *rows;       /* the recording; drive_end's, lives until the next drive_end */
};

struct drive;

struct drive *drive_new(const struct drive_plan *plan);

/* One line (its line end is added) that arrives at at_s; time passes up to then. */
void drive_line(struct drive *d, double at_s, const char *line);

/* The same as an event of the port. */
void drive_port(struct drive *d, double at_s, enum port_change change, const char *note);

/* A simulated scene from now on for `seconds`, what its receiver prints.  Called again it is
 * another receiver.  The truth of it, as simulator_truth_text writes it, is kept when asked for. */
void drive_scene(struct drive *d, int scene, uint64_t seed, double seconds);
const char *drive_truth(const struct drive *d); /* of the scene that was played last */

/* Nothing arrives up to then. */
void drive_until(struct drive *d, double at_s);
double drive_now_s(const struct drive *d);

void drive_end(struct drive *d, struct drive_result *out);

/* The finding of this name, NULL: none. */
const struct trial_finding *drive_finding(const struct drive_result *r, const char *name);

/* Prints the outcome, for a look at what failed. */
void drive_print(const struct drive_result *r);

#endif
