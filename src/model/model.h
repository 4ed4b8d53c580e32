/* The model file: what a person knows of a model, as INI text.  All of it is optional.  Opens
 * nothing: text in, struct out. */
#ifndef MODEL_MODEL_H
#define MODEL_MODEL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/slice.h"

enum { MODEL_CHANNELS = 16, MODEL_TEXT = 24 };

enum model_power {
    MODEL_POWER_UNKNOWN,
    MODEL_POWER_USB,
    MODEL_POWER_BATTERY,
    MODEL_POWER_REGULATOR
};

/* Limits of the trials; the names of their keys in the order of model_keys. */
enum model_trial {
    MODEL_THROTTLE_LOW_MS,
    MODEL_RECOVER_MS,
    MODEL_RIDE_MS,
    MODEL_STAY_MS,
    MODEL_REST_NOISE,
    MODEL_CENTRE,
    MODEL_CROSSTALK,
    MODEL_SOAK_S,
    MODEL_SOAK_GAP_MS,
    MODEL_TRIALS
};

/* Where a motor rests. */
enum model_idle_at { MODEL_IDLE_LOW, MODEL_IDLE_HIGH, MODEL_IDLE_MIDDLE, MODEL_IDLE_VALUE };

struct model_idle {
    enum model_idle_at at;
    int value; /* with MODEL_IDLE_VALUE */
};

/* What an output is wanted to do in failsafe. */
enum model_safe { MODEL_SAFE_UNKNOWN, MODEL_SAFE_VALUE, MODEL_SAFE_HOLD, MODEL_SAFE_OFF };

struct model {
    char model[MODEL_TEXT];
    char channel_name[MODEL_CHANNELS][MODEL_TEXT]; /* empty where the model file says nothing */
    int motors;                                    /* channels that drive one, 0 unknown, */
    int motor[MODEL_CHANNELS];                     /* each from 0, none twice */
    int idles;                                     /* 0: low; 1: the same for all; else one each */
    struct model_idle idle[MODEL_CHANNELS];
    double rate_hz;        /* packets a second, 0 unknown */
    bool opening_harmless; /* opening the port does not restart the board */
    enum model_power power;
    int outage_ms, supply_low_mv, no_lines_ms; /* 0: default */
    double lossy_share;                        /* share 0..1; 0: default */
    int full_step;                             /* transmit power step that is full, 0 unknown */
    int trial[MODEL_TRIALS];                   /* 0: default */
    enum model_safe safe[MODEL_CHANNELS];
    int safe_value[MODEL_CHANNELS]; /* with MODEL_SAFE_VALUE */
    int meter_mv, told_mv; /* one-point calibration: what a good meter read, and what the receiver
                              told then; 0 unknown */
    int brownout_mv;       /* where the receiver's controller resets, 0 unknown */
};

void model_init(struct model *c);

/* Reads INI text.  Returns 0, or the number of the first bad line, with what is wrong with it in
 * `why` (one line for a person, the key named). */
int model_parse(struct model *c, const char *text, char *why, size_t why_size);

/* True mV per mV told, by the one-point calibration; 0 where the model file lacks a half of it. */
double model_supply_scale(const struct model *c);

/* The keys, for the man page and for errors: section, key, what it is. */
struct model_key {
    const char *section, *key, *meaning;
};
extern const struct model_key model_keys[];
extern const size_t model_key_count;

#endif
