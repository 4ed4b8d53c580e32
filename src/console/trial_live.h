/* Guided trials in the console: the list, the step under way, what one came to; keys into answers,
 * answers and the guide's rows into events.  On a replay it only shows. */
#ifndef CONSOLE_TRIAL_LIVE_H
#define CONSOLE_TRIAL_LIVE_H

#include "app/trials.h"
#include "console/console.h"
#include "view/trial.h"

/* Keys that end, skip or pass over something take effect after a y. */
enum confirm {
    CONFIRM_NOTHING,
    CONFIRM_LEAVE,  /* the trial */
    CONFIRM_NO,     /* what a caution asks isn't so: ends the trial */
    CONFIRM_SKIP,   /* a step */
    CONFIRM_UNSEEN, /* on, though the step wasn't seen to be done */
    CONFIRM_STOP,   /* the recording, in the middle of a trial */
};

struct trial_live {
    struct trials trials;
    struct trial_view view;
    bool open;            /* list or outcome is shown, though no trial runs */
    bool begun;           /* the y that begins the trial was given */
    enum confirm confirm; /* what the person was asked to confirm */
    uint32_t confirm_nth; /* at which step, trial_place.nth */
    bool was_running;
    int64_t marked_us;   /* host time at which the page was last told to show its seconds */
    enum trial_id shown; /* whose outcome is shown */
    event_sink *sink;    /* takes the rows; NULL in a replay */
    void *context;
};

/* sink NULL: a replay, which begins nothing. */
void trial_live_init(struct trial_live *l, struct fold *fold, event_sink *sink, void *context);
void trial_live_release(struct trial_live *l);

/* A moment_sink; context is the struct trial_live. */
void trial_live_moment(void *context, const struct moment *m);

/* A key's action; true when it was for here.  Else *action is to be done, which is the one that the
 * person has confirmed just now, if so.  host_us: that of events. */
bool trial_live_action(struct trial_live *l, struct console *c, enum action *action,
                       int64_t host_us, int64_t now_us);

/* At each wake-up, after the fold was advanced to host_us: the guide's rows, and what the page
 * shows. */
void trial_live_wake(struct trial_live *l, struct console *c, int64_t host_us);

/* When it wants to be woken, clock_us(); INT64_MAX while no trial runs. */
int64_t trial_live_deadline_us(const struct trial_live *l, int64_t now_us);

/* A recording began or ended: a trial that has just begun begins anew, so as to be in it. */
void trial_live_recording(struct trial_live *l, struct console *c, int64_t host_us, int64_t now_us);

#endif
