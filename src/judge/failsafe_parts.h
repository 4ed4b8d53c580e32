/* The failsafe trial's memory: what its fold saw, for its guide and its judge.  All times in ms. */
#ifndef JUDGE_FAILSAFE_PARTS_H
#define JUDGE_FAILSAFE_PARTS_H

#include "judge/delay.h"
#include "trial/trial.h"

enum failsafe_step_id {
    FS_CAUTION,
    FS_WHICH,
    FS_LOW,
    FS_STILL,
    FS_RAISE,
    FS_RUNS_NOW,
    FS_OFF,
    FS_STAY,
    FS_LONG,
    FS_STOPPED,
    FS_SERVOS,
    FS_RESET,
    FS_COLD,
    FS_STOP,
    FS_ON,
    FS_LOWER,
    FS_QUIET,
    FS_START,
    FS_FREE,
    FS_PULL,
    FS_PLUG,
    FS_DOWN,
    FS_FADE,
    FS_RETURN,
    FS_SETTLE,
    FS_STEPS
};

enum {
    FS_RUNS_WANTED = 3,     /* switch-offs; one may be luck */
    FS_RUNS_MAX = 8,        /* with those that showed nothing, the pulled wire and the fade */
    FS_TRIES_MAX = 5,       /* switch-offs, good or not */
    FS_GUARD_MS = 6000,     /* the throttle is held up so long after the transmitter came back */
    FS_STARTED_MS = 2000,   /* and outputs are watched so long after a start without a link */
    FS_NEVER_MS = 10000,    /* so long without the throttle coming down: it doesn't */
    FS_LONG_MS = 70000,     /* one switch-off lasts so long: a 16-bit count of ms wraps at 65.5 s */
    FS_SEEN_APART_MS = 500, /* reports further apart than this show nothing of what lies between */
    FS_SURE_REPORTS = 2,    /* one report alone may be damaged in a way that nothing in it shows */
};

enum failsafe_how { HOW_SWITCHED, HOW_PULLED, HOW_FADED };

/* What only the person can see; the number of each answer is kept. */
enum failsafe_question { ASKED_STILL, ASKED_RUNS, ASKED_STOPPED, ASKED_SERVOS, ASKED_QUIET, ASKED };

struct failsafe_answers {
    uint32_t yes, no, left; /* left: skipped, */
    uint32_t misfits;       /* or answered too often when there was nothing to see */
};

/* An output where it mustn't be, over consecutive reports. */
struct failsafe_stray {
    uint32_t reports; /* in a row, or FS_SURE_REPORTS once there were so many */
    int16_t channel;  /* of the first in the row */
    int32_t value;
    bool once; /* there was one, whether others followed or not */
};

/* After the transmitter came back, or the receiver started: do the motors wait for their sticks? */
struct failsafe_guard {
    bool heard;                  /* packets came */
    bool held;                   /* the sticks are up and the motors idle, in a row: */
    struct delay_span in_row;    /* this one, */
    int64_t best_ms;             /* and the longest */
    struct failsafe_stray rose;  /* an output left its idle before its stick was seen low */
    uint32_t low;                /* motors whose stick was seen low, a bit each */
    uint32_t reports;            /* that told of packets, since the first packet: */
    struct time_bounds back;     /* link time, */
    int64_t back_us;             /* and host time of its report */
    struct time_bounds recovery; /* from it to leaving failsafe */
    struct time_bounds stick;    /* the sticks came low, link time */
    struct time_bounds unlock;   /* from that to the lock's opening */
};

/* One outage. */
struct failsafe_run {
    enum failsafe_how how;
    bool raised;                /* every motor's output was clearly up at the last packet */
    struct delay_from from;     /* that packet */
    struct delay_to enter;      /* failsafe came */
    struct delay_to low;        /* every motor came to idle */
    int64_t up_ms;              /* so long after that packet one surely wasn't, */
    int16_t up_channel;         /* this one, */
    int32_t up_value;           /* at this output */
    bool off;                   /* a motor's pulses stopped, and nobody said that this is safe */
    int16_t near_channel;       /* this motor's output stood near its rest, not at it, */
    int32_t near_value;         /* here; CHANNEL_OFF: none did */
    int64_t outage_ms;          /* so long there was surely no packet */
    struct delay_span stayed;   /* the motors were seen idle for so long in it, */
    int64_t idle_until_ms;      /* so long after the last packet for the last time */
    struct failsafe_stray left; /* one left its idle again */
    bool hole;                  /* lines were missing between the last packet and low, */
    bool unseen;                /* or as it came: whether the outputs were up was not seen */
    bool again;                 /* packets came back */
    bool restarted;             /* the receiver restarted in it */
    bool settled;               /* channels were seen a second after the motors came low */
    double loss;                /* share lost in the 10 s before it; negative unknown */
    uint32_t channels;
    int32_t before[CHANNELS_MAX], settle[CHANNELS_MAX], after[CHANNELS_MAX];
    struct failsafe_guard guard;
};

enum failsafe_start_id { START_RESET, START_COLD, START_RAISED, START_UNASKED, FS_STARTS };

/* A start of the receiver. */
struct failsafe_start {
    bool seen;
    bool certain; /* asked for, told by a boot line, or the uptime runs from there: a damaged line
                     alone looks like a restart */
    int64_t since_ms, since_us; /* link time, host time */
    enum boot_cause cause;
    struct delay_span idle;     /* the motors were seen idle for so long before any packet */
    struct failsafe_stray rose; /* or weren't */
    struct failsafe_guard guard;
};

/* got grew while seq stood still: packets were counted that were not new. */
struct failsafe_stale {
    bool have;
    uint32_t got, seq; /* of the report before */
    uint32_t in_row;   /* reports */
    struct delay_span row;
    bool shown; /* for longer than packets that are sent twice explain */
};

struct failsafe_motor {
    struct motor said; /* as the model file says */
    bool stands_known; /* its output with the stick down was seen, steady for a second: */
    int32_t stands;    /* the latest */
    bool rest_known;   /* which may well be its rest */
    int32_t rest;
    bool still; /* of the newest reports: steady */
    int64_t still_since;
    int32_t still_low, still_high;
};

struct failsafe_trial {
    struct trial_rules rules;
    uint32_t motors; /* 0: nobody said */
    struct failsafe_motor motor[CHANNELS_MAX];
    int32_t span_low, span_high;
    bool span_told;
    bool has_age, has_in, has_fs, has_lock, has_packets, has_uptime; /* keys that were seen */
    bool any_report;
    struct failsafe_answers answers[ASKED];
    bool answered; /* at this step, and counted */
    /* the report before */
    bool have, was_fs, was_locked, was_idle, was_up;
    int64_t report_ms, report_us;
    uint32_t entries;         /* fsn */
    uint32_t sticks_were_low; /* a bit a motor */
    struct delay_clocks clocks;
    /* the outage that may be beginning, and those that were kept */
    struct failsafe_run now;
    bool now_known, tripped;
    int kept;  /* index of run[] that `now` stands for, -1 */
    int guard; /* whose guard is up: index of run[], or FS_RUNS_MAX + enum failsafe_start_id; -1 */
    uint32_t count, tries;
    struct failsafe_run run[FS_RUNS_MAX];
    struct failsafe_start start[FS_STARTS];
    struct failsafe_stale stale;
    bool no_more;                              /* the person went on without a switch-off, */
    bool long_left;                            /* or without the long one */
    uint32_t unasked_restarts, unasked_faults; /* of them brown-outs and watchdogs */
    enum boot_cause unasked_cause;             /* of the newest of those */
    /* short outages */
    int64_t longest_ride; /* at least; negative: none seen */
    /* conditions that steps wait for: link time since when they hold */
    int64_t low_since, raised_since, link_since;
    uint32_t holes; /* lines missing in steps that matter */
    int32_t channel[CHANNELS_MAX], steady[CHANNELS_MAX], least[CHANNELS_MAX], most[CHANNELS_MAX];
    int32_t stick[CHANNELS_MAX]; /* CHANNEL_OFF: not told */
    int32_t calm[CHANNELS_MAX];  /* outputs as of the step `low`, */
    uint32_t calm_count;         /* of so many channels */
    uint32_t channels, reported; /* greatest seen; of the newest report */
    /* safe values that the id line told */
    uint32_t told;
    int32_t told_safe[CHANNELS_MAX];
};

/* How a motor's output stands. */
enum failsafe_output {
    OUTPUT_UNKNOWN,
    OUTPUT_IDLE,
    OUTPUT_OFF,
    OUTPUT_NEAR, /* no farther from rest than a trim: it may turn the motor, or not */
    OUTPUT_BETWEEN,
    OUTPUT_UP
};
enum failsafe_output failsafe_output(const struct failsafe_trial *t, uint32_t motor);

/* Share of the travel away from the motor's rest, and where that rest is: as it was seen with the
 * stick down, else as the model file says.  2 % and less is idle (as the bench has it), 20 % and
 * more clearly raised; up to 8 % a trim may move a rest; a stick counts as low below 10 %, since
 * receivers differ. */
double failsafe_travel(const struct failsafe_trial *t, uint32_t motor, int32_t value);
int32_t failsafe_rest(const struct failsafe_trial *t, uint32_t motor);

/* How far the output with the stick down is from the rest that the model file says, as a share of
 * the travel. */
double failsafe_stands_off(const struct failsafe_trial *t, uint32_t motor);

/* It is no more than a trim away. */
bool failsafe_rest_told(const struct failsafe_trial *t, uint32_t motor);

/* What the model file would have to say for a rest there: "middle", "1100". */
void failsafe_idle_words(const struct failsafe_trial *t, uint32_t motor, char *out, size_t size);

/* Index of the motor that this channel drives, -1: none. */
int failsafe_motor_of(const struct failsafe_trial *t, uint32_t channel);

void failsafe_watch(struct failsafe_trial *t, const struct moment *m, const struct snapshot *s,
                    enum failsafe_step_id step);
void failsafe_pane(const void *state, const struct snapshot *s, const struct trial_place *place,
                   struct trial_pane *out);
void failsafe_judge(const void *state, struct trial_outcome *out);

/* The guard that is up, NULL: none. */
struct failsafe_guard *failsafe_guard_up(struct failsafe_trial *t);
const struct failsafe_guard *failsafe_guard_seen(const struct failsafe_trial *t);

bool failsafe_known(struct time_bounds b);

/* From the last packet to every motor idle, by all clocks; unknown bounds where it wasn't seen. */
struct delay_bounds failsafe_low_of(const struct failsafe_run *run);

/* The outage shows something of the motors, one way or the other. */
bool failsafe_counts(const struct failsafe_trial *t, const struct failsafe_run *run);

uint32_t failsafe_counted(const struct failsafe_trial *t); /* how many do */

/* Packets are surely back: a damaged counter alone would look like two. */
bool failsafe_is_back(const struct failsafe_guard *g);

/* One never came down within the limit, in an outage that began with all of them up. */
bool failsafe_never_low(const struct failsafe_trial *t, const struct failsafe_run *run);

/* It lasted long enough for returns by time-out and by a counter that wraps. */
bool failsafe_long(const struct failsafe_run *run);

#endif
