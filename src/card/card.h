/* The receiver card: what a person knows of a model, as INI text.  All of it is optional.  Opens
 * nothing: text in, struct out. */
#ifndef CARD_CARD_H
#define CARD_CARD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/slice.h"

enum { CARD_CHANNELS = 16, CARD_TEXT = 24 };

enum card_power { CARD_POWER_UNKNOWN, CARD_POWER_USB, CARD_POWER_BATTERY, CARD_POWER_REGULATOR };

/* Limits of the trials; the names of their keys in the order of card_keys. */
enum card_trial {
    CARD_THROTTLE_LOW_MS,
    CARD_RECOVER_MS,
    CARD_RIDE_MS,
    CARD_STAY_MS,
    CARD_REST_NOISE,
    CARD_CENTRE,
    CARD_CROSSTALK,
    CARD_SOAK_S,
    CARD_SOAK_GAP_MS,
    CARD_TRIALS
};

/* Where a motor rests. */
enum card_idle_at { CARD_IDLE_LOW, CARD_IDLE_HIGH, CARD_IDLE_MIDDLE, CARD_IDLE_VALUE };

struct card_idle {
    enum card_idle_at at;
    int value; /* with CARD_IDLE_VALUE */
};

/* What an output is wanted to do in failsafe. */
enum card_safe { CARD_SAFE_UNKNOWN, CARD_SAFE_VALUE, CARD_SAFE_HOLD, CARD_SAFE_OFF };

struct card {
    char model[CARD_TEXT];
    char channel_name[CARD_CHANNELS][CARD_TEXT]; /* empty where the card says nothing */
    int motors;                                  /* channels that drive one, 0 unknown, */
    int motor[CARD_CHANNELS];                    /* each from 0, none twice */
    int idles;                                   /* 0: low; 1: the same for all; else one each */
    struct card_idle idle[CARD_CHANNELS];
    double rate_hz;        /* packets a second, 0 unknown */
    bool opening_harmless; /* opening the port does not restart the board */
    enum card_power power;
    int outage_ms, supply_low_mv, no_lines_ms; /* 0: default */
    double lossy_loss;                         /* share 0..1; 0: default */
    int full_step;                             /* transmit power step that is full, 0 unknown */
    int trial[CARD_TRIALS];                    /* 0: default */
    enum card_safe safe[CARD_CHANNELS];
    int safe_value[CARD_CHANNELS]; /* with CARD_SAFE_VALUE */
    int meter_mv, told_mv; /* one-point calibration: what a good meter read, and what the receiver
                              told then; 0 unknown */
    int brownout_mv;       /* where the receiver's controller resets, 0 unknown */
};

void card_init(struct card *c);

/* Reads INI text.  Returns 0, or the number of the first bad line, with what is wrong with it in
 * `why` (one line for a person, the key named). */
int card_parse(struct card *c, const char *text, char *why, size_t why_size);

/* True mV per mV told, by the one-point calibration; 0 where the card lacks a half of it. */
double card_supply_scale(const struct card *c);

/* The keys, for the man page and for errors: section, key, what it is. */
struct card_key {
    const char *section, *key, *meaning;
};
extern const struct card_key card_keys[];
extern const size_t card_key_count;

#endif
