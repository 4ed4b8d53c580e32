/* The failsafe trial's memory: what its fold saw, for its guide and its judge.  All times in ms. */
#ifndef TRIAL_FAILSAFE_PARTS_H
#define TRIAL_FAILSAFE_PARTS_H

#include "trial/trial.h"

enum failsafe_step_id {
    FS_CAUTION,
    FS_WHICH,
    FS_LOW,
    FS_RAISE,
    FS_OFF,
    FS_STAY,
    FS_RESET,
    FS_COLD,
    FS_ON,
    FS_LOWER,
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
    FS_RUNS_WANTED = 3,    /* switch-offs; one may be luck */
    FS_RUNS_MAX = 8,       /* with those that showed nothing, the pulled wire and the fade */
    FS_TRIES_MAX = 5,      /* switch-offs, good or not */
    FS_GUARD_MS = 3000,    /* the throttle is held up so long after the transmitter came back */
    FS_STARTED_MS = 2000,  /* and outputs are watched so long after a start in silence */
    FS_NEVER_MS = 10000,   /* so long without the throttle coming down: it doesn't */
    FS_SEEN_APART_MS = 500 /* reports further apart than this show nothing of what lies between */
};

enum failsafe_how { HOW_SWITCHED, HOW_PULLED, HOW_FADED };

/* After the transmitter came back, or the receiver started: does the throttle wait for its stick?
 */
struct failsafe_guard {
    bool heard;                  /* packets came */
    int64_t held_ms;             /* the stick was seen raised and the output idle, for so long */
    int64_t locked_ms;           /* the lock was seen closed and the output idle, for so long */
    bool rose;                   /* the output rose before the stick was seen low, */
    int32_t rose_to;             /* to this */
    bool stick_low;              /* `in` has shown the stick low */
    struct time_bounds back;     /* the first packet, link time */
    struct time_bounds recovery; /* from it to leaving failsafe */
    struct time_bounds stick;    /* the stick came low, link time */
    struct time_bounds unlock;   /* from that to the lock's opening */
};

/* One silence. */
struct failsafe_run {
    enum failsafe_how how;
    bool raised;              /* the throttle's output was clearly up at the last packet */
    struct time_bounds enter; /* from the last packet to failsafe */
    struct time_bounds low;   /* and to the throttle's idle */
    int64_t raised_ms;        /* so long after that packet it was still not idle */
    int64_t silent_ms;        /* so long there was surely nothing */
    int64_t stayed_ms;        /* the throttle was seen idle for so long in the silence */
    bool left;                /* and left it again, */
    int32_t left_to;          /* to this */
    bool again;               /* packets came back */
    bool restarted;           /* the receiver restarted in it */
    bool settled;             /* channels were seen a second after the throttle came low */
    double loss;              /* share lost in the 2 s before it; negative unknown */
    uint32_t channels;
    int32_t before[CHANNELS_MAX], settle[CHANNELS_MAX], after[CHANNELS_MAX];
    struct failsafe_guard guard;
};

enum failsafe_start_id { START_RESET, START_COLD, START_RAISED, FS_STARTS };

/* A start of the receiver that the trial asked for. */
struct failsafe_start {
    bool seen;
    enum boot_cause cause;
    int64_t idle_ms; /* the throttle was seen idle for so long before any packet */
    bool rose;       /* or wasn't */
    int32_t rose_to;
    struct failsafe_guard guard;
};

struct failsafe_trial {
    struct trial_rules rules;
    int16_t throttle; /* -1: nobody said */
    int32_t span_low, span_high;
    bool keys_known, has_age, has_in, has_fs, has_lock, has_got; /* of the newest report */
    bool any_report;
    /* the report before */
    bool have, was_idle, was_fs, was_locked, was_off;
    int64_t report_ms;
    int64_t since_low, since_high; /* since the last packet, as of it; negative unknown */
    uint32_t entries;              /* fsn */
    /* the silence that may be beginning, and those that were kept */
    struct failsafe_run now;
    bool now_known, tripped;
    int kept;  /* index of run[] that `now` stands for, -1 */
    int guard; /* whose guard is up: index of run[], or FS_RUNS_MAX + enum failsafe_start_id; -1 */
    uint32_t count, tries;
    struct failsafe_run run[FS_RUNS_MAX];
    struct failsafe_start start[FS_STARTS];
    bool no_more; /* the person went on without a switch-off */
    uint32_t stray_restarts;
    /* short silences */
    int64_t longest_ride, shortest_trip; /* at least; at most; negative: none seen */
    /* conditions that steps wait for: link time since when they hold */
    int64_t low_since, raised_since, link_since;
    int32_t value, stick; /* of the throttle, newest; CHANNEL_OFF */
    bool value_known, stick_known;
    int32_t channel[CHANNELS_MAX], least[CHANNELS_MAX], most[CHANNELS_MAX];
    uint32_t channels;
    /* safe values that the id line told */
    uint32_t told;
    int32_t told_safe[CHANNELS_MAX];
    uint64_t ten_got, ten_lost; /* of the newest seconds before a silence */
};

/* Share of the throttle's travel, 0 idle; 2 % and less is idle (as the bench has it), 20 % and more
 * clearly raised; a stick counts as low below 10 %, since receivers differ. */
double failsafe_travel(const struct failsafe_trial *t, int32_t value);

void failsafe_watch(struct failsafe_trial *t, const struct moment *m, const struct snapshot *s,
                    enum failsafe_step_id step);
void failsafe_judge(const void *state, struct trial_outcome *out);

/* The guard that is up, NULL: none. */
struct failsafe_guard *failsafe_guard_up(struct failsafe_trial *t);
const struct failsafe_guard *failsafe_guard_seen(const struct failsafe_trial *t);

bool failsafe_known(struct time_bounds b);

#endif
