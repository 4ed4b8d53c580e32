/* What is known of the model beforehand, and who wins: the command line beats the model file, the
 * model file beats the recorded one, that beats the id line. */
#ifndef APP_SETUP_H
#define APP_SETUP_H

#include "app/options.h"
#include "link/bench.h"
#include "model/model.h"
#include "trial/trial.h"

struct output;

enum { SETUP_TEXT_MAX = 16 * 1024 };

struct setup {
    const char *model_path;        /* NULL: no model file */
    char *model_text;              /* ours; NULL without a model file */
    double rate_hz;                /* of the command line, 0: none */
    const struct options *options; /* for the limits that it gave */
    double recorded_rate_hz;       /* of the command line that made the recording, 0: none */
    size_t recorded_len;
    char recorded[SETUP_TEXT_MAX]; /* the recorded model file, as INI text */
    char other[2][LINE_BYTES_MAX]; /* what a file told of the other end: the pairs of its `id` line,
                                    * of the receiver and of the transmitter; "": nothing */
    bool other_given;              /* by the command line, not by the recording */
};

/* Reads the model file that the options name.  An enum status; what is wrong was said. */
int setup_init(struct setup *s, const struct options *o);
void setup_release(struct setup *s);

/* Keeps what an end says of itself; other events than `id` have no effect. */
void setup_other(struct setup *s, const struct event *event);

/* Takes a fact (an `about` row) of a recording: the model file's, the rate, the other end's. */
void setup_recorded(struct setup *s, struct slice key, struct slice value);

/* The model file that results, and the bench's limits with it. */
void setup_model(const struct setup *s, struct model *model);
void setup_limits(const struct setup *s, struct bench_limits *limits);

/* Below which the supply alarms, mV, as the bench judges it: the model file's limit, else that of a
 * 5 V rail, which one is that was ever so high; 0: no alarm. */
double setup_supply_alarm(const struct setup *s, int32_t highest_mv);

/* The limits of the trials: the defaults, the model file's, the command line's. */
void setup_rules(const struct setup *s, struct trial_rules *rules);

/* Where the packet rate comes from ("the command line", "the model file", ...), NULL: nobody said.
 */
const char *setup_rate_from(const struct setup *s);

/* Writes the facts of the model file and command line used into a recording. */
void setup_tell(const struct setup *s, struct output *out);

#endif
