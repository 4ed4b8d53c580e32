/* A guided trial: what a careful builder does by hand, step by step.
 *
 * Two halves.  The judge is a fold over moments, answers among them: it sees what the telemetry
 * showed at each step and says what that proves.  The guide says what comes next; it runs live
 * only, and what it decides goes into the recording as `trial` rows, so that a recording is judged
 * from what the person was really asked.  Nothing is judged that wasn't seen. */
#ifndef TRIAL_TRIAL_H
#define TRIAL_TRIAL_H

#include "link/moment.h"
#include "link/snapshot.h"
#include "model/model.h"

struct ends; /* trial/ends.h */

enum trial_id {
    TRIAL_FAILSAFE, /* the safety core, first */
    TRIAL_BIND,
    TRIAL_CONTROLS,
    TRIAL_REST,
    TRIAL_SUPPLY,
    TRIAL_TAP,
    TRIAL_SOAK,
    TRIALS
};

enum trial_verdict {
    TRIAL_NOT_TRIED,
    TRIAL_NOT_SHOWN, /* tried, but what was seen proves neither */
    TRIAL_PASSED,
    TRIAL_FAILED,
};
const char *trial_verdict_name(enum trial_verdict verdict); /* "not tried", "not shown", ... */

/* What is asked of the person at a step, beside doing what it says. */
enum trial_ask {
    ASK_NOTHING, /* the telemetry shows when it is done; Enter goes on where it can't */
    ASK_READY,   /* Enter when it is done, or when the person has read it */
    ASK_YES,     /* a grave caution: without a yes the trial ends */
    ASK_YES_NO,
    ASK_CHOICE, /* one of `choices`, by its number */
};

struct trial_step {
    const char *name;    /* one word, for the recording: "raise" */
    const char *say;     /* what to do, in plain words; lines divided by \n, at most 3 of 72 */
    const char *caution; /* what can hurt here, the same way; NULL */
    enum trial_ask ask;
    const char *choices; /* divided by '|', at most 9: "battery|regulator|USB"; NULL */
    const char *waits;   /* what it waits for: "throttle above half"; NULL where for a key */
    uint16_t least_s;    /* it lasts at least so long once begun, s */
    uint16_t most_s;     /* waits no longer: the guide then goes on, and it counts as not seen; 0:
                            without end */
};

/* Limits of the verdicts: the model file's, else the defaults of trial_rules_default. */
struct trial_rules {
    /* What both ends said of themselves so far, for the bind trial; NULL: nobody keeps it.  The
     * caller's, fed by him with each event before the book is, alive as long as the book. */
    const struct ends *ends;
    struct bench_limits bench; /* throttle channel and its idle end among them */
    enum model_power power;    /* what powers the receiver, where the model file says it */
    double supply_scale;       /* true mV per mV told: one-point calibration; 1 */
    bool supply_calibrated;
    int32_t throttle_low_ms;    /* longest from the last packet to throttle low: 1000 */
    int32_t recover_ms;         /* longest from the first packet to working again: 2000 */
    int32_t ride_ms;            /* an interruption so short must pass without failsafe: 300 */
    int32_t stay_ms;            /* how long failsafe must be seen to stay: 5000 */
    int32_t rest_noise;         /* greatest spread (standard deviation) at rest, units: 4 */
    int32_t centre;             /* a stick's rest may lie so far from the middle, units: 10 */
    int32_t crosstalk;          /* what another channel may move with it, units: 5 */
    int32_t brownout_mv;        /* where the controller resets: 0 unknown */
    int32_t supply_low_mv;      /* the alarm: 0 as the bench judges it */
    int32_t soak_s;             /* 1200 */
    int32_t soak_gap_ms;        /* longest gap in it: 100 */
    int32_t safe[CHANNELS_MAX]; /* wanted output in failsafe: a value, CHANNEL_HOLD, CHANNEL_OFF */
    bool safe_known[CHANNELS_MAX]; /* the model file's, else the id line's as of the trial's begin,
                                    */
    bool safe_by_id[CHANNELS_MAX]; /* which is this one's own word for it */
};
void trial_rules_default(struct trial_rules *rules);

/* One thing that a trial shows, or fails to. */
struct trial_finding {
    const char *name; /* for JSON: "throttle_low" */
    enum trial_verdict verdict;
    const char *missing; /* the telemetry key that would tell; NULL */
    bool aside;          /* told beside the rest: where not shown, the trial may still pass */
    bool unseen;         /* the trial didn't end, and nothing was seen of this: set by the book */
    bool measured;       /* low and high hold */
    double low, high;    /* bounds of what was measured */
    const char *unit;    /* "ms", "mV", "us"; NULL without */
    char text[200];      /* in words, with what was measured and the limit: one sentence */
    char brief[56]; /* the same of a channel that passed, shorter and without its name: channels
                       that came to the same are told together; empty: none */
};

enum { TRIAL_FINDINGS_MAX = 112, TRIAL_LINES_MAX = 16 };

struct trial_outcome {
    enum trial_verdict verdict; /* failed if a finding failed; passed if all that must pass did */
    char headline[200];
    uint32_t count;
    struct trial_finding finding[TRIAL_FINDINGS_MAX];
    char next[200]; /* the next step for the person: a test, or a cure; may be empty */
};

/* What the console shows while a step lasts. */
struct trial_pane {
    uint32_t lines;
    char line[TRIAL_LINES_MAX][96]; /* UTF-8; observations so far, bars, times */
    bool seen;                      /* what the step waits for has been seen */
    double progress;                /* 0..1, negative: none to show */
    bool sound;                     /* ring the bell: something happened just now */
    uint32_t choices;               /* so many of the step's are there; 0: all */
};

struct trial_place {  /* where a trial is */
    uint32_t step;    /* index of its steps */
    uint32_t nth;     /* steps come to so far, this one too */
    int64_t since_ms; /* link time at which it began; TIME_UNKNOWN */
    int64_t since_us; /* and host time */
    int64_t now_ms, now_us;
    bool answered;   /* at this step: */
    uint32_t answer; /* yes 1, no 0, ready 1, choice from 0 */
    bool skipped;    /* the person went on without it */
};

enum { TRIAL_GO_END = -1, TRIAL_STAY = -2 };

/* One kind of trial; the functions get its state, `size` bytes that begin as zero. */
struct trial_kind {
    const char *name;  /* "failsafe" */
    const char *title; /* "Failsafe: does the model stop when the signal is gone?" */
    const char *about; /* one line for the menu, at most 56 columns */
    const struct trial_step *steps;
    uint32_t step_count;
    size_t size;
    void (*begin)(void *state, const struct trial_rules *rules);
    /* Each moment, and the bench's state after it, without the intervals of the losses.  Steps and
     * answers come as moments too: place then already stands at the new step, or has the answer;
     * `entered` is true for the first. */
    void (*take)(void *state, const struct moment *m, const struct snapshot *s,
                 const struct trial_place *place, bool entered);
    /* The guide, when something happened or time passed: index of the step to go to,
     * TRIAL_STAY, or TRIAL_GO_END.  Not asked before the step's least_s.  On TRIAL_STAY the book
     * goes on to the step after this one (the end after the last) when the step was skipped, when
     * its most_s are over, or when Enter was pressed at a step that asks nothing.  A grave caution
     * without its yes ends the trial.  NULL: on by answers alone. */
    int (*next)(const void *state, const struct snapshot *s, const struct trial_place *place);
    void (*pane)(const void *state, const struct snapshot *s, const struct trial_place *place,
                 struct trial_pane *out);
    /* May be asked at any time: what wasn't seen is "not shown". */
    void (*judge)(const void *state, struct trial_outcome *out);
};

extern const struct trial_kind *const trial_kinds[TRIALS]; /* in kinds.c; NULL: not there */

/* For the kinds: a finding appended; text as printf.  Returns it, or one that nobody reads. */
struct trial_finding *trial_find(struct trial_outcome *out, const char *name,
                                 enum trial_verdict verdict, const char *format, ...)
    __attribute__((format(printf, 4, 5)));
struct trial_finding *trial_measured(struct trial_finding *finding, double low, double high,
                                     const char *unit);
struct trial_finding *trial_brief(struct trial_finding *finding, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
struct trial_finding *trial_aside(struct trial_finding *finding);
/* What a person is told of a finding: its own text; of a channel's that passed in brief, in `out`,
 * all that this channel and those like it passed in; or nothing, since that was told already. */
enum trial_told { TRIAL_TOLD_ALONE, TRIAL_TOLD_GROUP, TRIAL_TOLD_ELSEWHERE };
enum { TRIAL_GROUP = 1200 }; /* bytes that `out` needs */
enum trial_told trial_group(const struct trial_outcome *o, uint32_t index, char *out, size_t size);
/* The verdict over all findings: failed if one failed, passed if all passed (those aside excepted)
 * and there is one that did. */
enum trial_verdict trial_sum(const struct trial_outcome *out);

#endif
