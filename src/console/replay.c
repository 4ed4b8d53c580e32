/* The console on a recording or a raw capture: the same fold, fed at the pace of its own times. */
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/clock.h"
#include "app/commands.h"
#include "app/feed.h"
#include "app/walk_file.h"
#include "app/words.h"
#include "base/whole.h"
#include "console/console.h"
#include "console/signals.h"
#include "console/trial_live.h"

enum {
    SMALL_STEP = 64,        /* bytes: about one row, so that the pace is that of the rows */
    NEAR_US = 60 * 1000000, /* this far before a moment that is sought, large steps end */
    LINE_US = 50000,        /* time between lines of a capture with no clock at all (a guess) */
    BUSY_US = 12000,        /* at most this long fed in one wake-up, so that keys answer */
};

struct replay {
    const struct options *options;
    const char *path;
    struct setup setup;
    struct fold fold;
    struct feed *feed;
    struct console console;
    struct trial_live trial;
    struct charts_live charts;
    struct walk walk;           /* of what was replayed */
    struct marks marks;         /* all of the file's, with the amendments at its end */
    struct marked_walk amended; /* the walk by them, where there are amendments */
    struct walker walker;       /* of --switch, which leaves the marks out */
    int64_t at_us;              /* time of the newest event */
    int64_t wanted_us;          /* time that the pace has reached */
    int64_t clock_us;           /* when that was */
    int64_t seek_us;            /* what is being sought, TIME_UNKNOWN when nothing is */
    uint64_t lines;
    bool host_times;
    bool measured;        /* the whole file was read once, and its faults were said */
    uint64_t passed_over; /* rows */
    bool ended;
    bool paused;
    bool broken;             /* the first reading failed, which was said */
    char trouble[WORDS_MAX]; /* why reading failed behind the screen, to be said after it */
    int signals;
};

static bool by_switch(const struct replay *r) {
    return r->options->switch_channel > 0;
}

static bool is_amended(const struct replay *r) {
    return r->measured && r->marks.amendments > 0 && !by_switch(r);
}

static void take_moment(void *context, const struct moment *m) {
    struct replay *r = context;
    trial_live_moment(&r->trial, m);
    if (!r->measured) {
        marks_take(&r->marks, m); /* nothing is shown on that pass */
        return;
    }
    charts_live_moment(&r->charts, m);
    if (by_switch(r))
        walk_file_switched(&r->walk, &r->walker, m);
    else if (is_amended(r))
        marked_walk_feed(&r->amended, m);
    else
        walk_feed(&r->walk, m);
}

static void take_event(void *context, const struct event *event) {
    struct replay *r = context;
    if (event->kind == EVENT_ABOUT && !r->measured)
        marks_about(&r->marks, event->about.key, event->about.value);
    fold_event(&r->fold, event);
    r->console.dirty = true;
    r->lines += event->bytes > 0;
    if (event->host_us != TIME_UNKNOWN) {
        r->host_times = true;
        r->at_us = event->host_us;
    }
}

/* A raw capture has no host times: the receiver's own clock stands in, or the count of lines. */
static void estimate_time(struct replay *r) {
    if (r->host_times || r->fold.bench == NULL)
        return;
    struct snapshot s;
    bench_read(r->fold.bench, &s);
    r->at_us = s.link_ms != TIME_UNKNOWN ? s.link_ms * 1000 : (int64_t)r->lines * LINE_US;
}

static void begin_walk(struct replay *r) {
    struct walk_limits limits;
    walk_file_limits(r->options, &limits);
    walk_init(&r->walk, &limits);
    if (by_switch(r))
        walk_file_walker(r->options, &r->walker);
    if (is_amended(r))
        marked_walk_init(&r->amended, &r->walk, &r->marks);
    charts_live_begin(&r->charts, &r->walk);
}

static bool begin(struct replay *r) {
    feed_close(r->feed);
    fold_release(&r->fold);
    fold_init(&r->fold, &r->setup);
    bool list = r->trial.open; /* a seek leaves what is shown */
    trial_live_release(&r->trial);
    trial_live_init(&r->trial, &r->fold, NULL, NULL);
    r->trial.open = list;
    fold_watch(&r->fold, take_moment, r);
    begin_walk(r);
    r->at_us = 0;
    r->lines = 0;
    r->ended = false;
    r->console.page.read_failed = false;
    r->setup.recorded_len = 0; /* its facts are read anew */
    memset(r->console.was_alarm, 0, sizeof r->console.was_alarm);
    r->feed = feed_begin(r->path, take_event, r, r->trouble);
    if (r->feed != NULL && r->measured)
        feed_hush(r->feed);
    return r->feed != NULL;
}

static void broken(struct replay *r) {
    struct feed_facts facts;
    feed_facts(r->feed, &facts);
    words_reading(r->trouble, r->path, facts.broken);
    r->console.page.read_failed = true;
    console_notice(&r->console, clock_us(), "%s", r->trouble);
}

/* One read; false at the end. */
static bool step(struct replay *r, size_t size) {
    enum feed_step step = r->ended ? FEED_END : feed_step(r->feed, size);
    if (step == FEED_TROUBLE)
        broken(r);
    if (step != FEED_MORE && !r->ended && is_amended(r))
        marked_walk_end(&r->amended);
    if (step != FEED_MORE)
        r->ended = true;
    estimate_time(r);
    return step == FEED_MORE;
}

/* Feeds up to wanted_us, large steps while that is far.  False when time for keys came first. */
static bool feed_to(struct replay *r, int64_t wanted_us) {
    int64_t stop = clock_us() + BUSY_US;
    while (!r->ended && r->at_us < wanted_us) {
        bool far = wanted_us == INT64_MAX || r->at_us < wanted_us - NEAR_US;
        if (!step(r, far ? FEED_BLOCK : SMALL_STEP))
            break;
        if (clock_us() > stop)
            return false;
    }
    return true;
}

/* In a long recording it takes many slices, between which the screen shows how far it is. */
static void seek_on(struct replay *r) {
    bool there = feed_to(r, r->seek_us);
    r->clock_us = clock_us();
    if (!there)
        return;
    r->wanted_us = r->seek_us == INT64_MAX ? r->at_us : r->seek_us;
    r->seek_us = TIME_UNKNOWN;
    r->console.steady_us = 0; /* figures of elsewhere are worked out anew at once */
}

static void seek(struct replay *r, int64_t to_us) {
    if (to_us < 0)
        to_us = 0;
    if (to_us < r->at_us && !begin(r)) {
        r->console.quit = true;
        return;
    }
    r->seek_us = to_us;
    seek_on(r);
}

/* Where it will be once it has found what it seeks. */
static int64_t place_us(const struct replay *r) {
    return r->seek_us == TIME_UNKNOWN || r->seek_us == INT64_MAX ? r->at_us : r->seek_us;
}

static void set_pace(struct replay *r, bool faster, int64_t now_us) {
    static const double paces[] = {0.1, 0.25, 0.5, 1, 2, 5, 10, 25, 60, 0};
    enum { PACES = sizeof paces / sizeof paces[0] };
    int i = 0;
    double pace = r->console.page.replay_pace;
    while (i < PACES - 1 && pace > 0 && paces[i] < pace - 1e-9)
        i++;
    if (pace <= 0)
        i = PACES - 1;
    i += faster ? 1 : -1;
    if (i >= 0 && i < PACES)
        r->console.page.replay_pace = paces[i];
    if (r->console.page.replay_pace > 0)
        console_notice(&r->console, now_us, "%g times real time", r->console.page.replay_pace);
    else
        console_notice(&r->console, now_us, "as fast as possible");
}

static void do_action(struct replay *r, enum action action, int64_t now_us) {
    static const struct {
        enum action action;
        int seconds;
    } moves[] = {{ACTION_BACK_10, -10},
                 {ACTION_FORWARD_10, 10},
                 {ACTION_BACK_60, -60},
                 {ACTION_FORWARD_60, 60}};
    for (size_t i = 0; i < sizeof moves / sizeof moves[0]; i++)
        if (moves[i].action == action)
            seek(r, place_us(r) + (int64_t)moves[i].seconds * 1000000);
    if (action == ACTION_RUN)
        r->paused = !r->paused;
    else if (action == ACTION_FASTER || action == ACTION_SLOWER)
        set_pace(r, action == ACTION_FASTER, now_us);
    else if (action == ACTION_START)
        seek(r, 0);
    else if (action == ACTION_END)
        seek(r, INT64_MAX);
}

/* The row after a hole in the recording has been fed by now: waiting beside what it shows for as
 * long as the hole lasted would tell nothing. */
static void pass_hole(struct replay *r, int64_t now_us) {
    enum { HOLE_US = 2000000 };
    int64_t ahead_us = r->at_us - r->wanted_us;
    if (ahead_us < HOLE_US)
        return;
    r->wanted_us = r->at_us;
    console_notice(&r->console, now_us, "%.1f s without a row: passed over",
                   (double)ahead_us / 1e6);
}

static void advance(struct replay *r, int64_t now_us) {
    double pace = r->console.page.replay_pace;
    if (r->seek_us != TIME_UNKNOWN) {
        seek_on(r);
        return;
    }
    if (r->paused || r->ended) {
        r->clock_us = now_us;
        return;
    }
    if (pace <= 0) {
        feed_to(r, INT64_MAX);
        r->wanted_us = r->at_us;
    } else {
        r->wanted_us += whole_i64((double)(now_us - r->clock_us) * pace);
        if (feed_to(r, r->wanted_us)) {
            pass_hole(r, now_us);
            if (r->host_times)
                fold_advance(&r->fold, r->wanted_us);
        }
        if (r->at_us < r->wanted_us - NEAR_US)
            r->wanted_us = r->at_us; /* the machine can't keep that pace */
    }
    r->clock_us = now_us;
}

static int64_t next_due_us(const struct replay *r, int64_t now_us) {
    int64_t due = console_deadline_us(&r->console, now_us);
    if (r->seek_us != TIME_UNKNOWN)
        return now_us;
    if (!r->paused && !r->ended && due > now_us + CONSOLE_FRAME_US)
        due = now_us + CONSOLE_FRAME_US;
    return r->console.page.replay_pace <= 0 && !r->paused && !r->ended ? now_us : due;
}

static void show(struct replay *r, int64_t now_us) {
    struct page *p = &r->console.page;
    p->replay = r->ended ? REPLAY_ENDED : r->paused ? REPLAY_PAUSED : REPLAY_RUNNING;
    p->replay_at_us = r->at_us;
    p->port = LINK_OPEN;
    if (console_wants(&r->console, now_us))
        console_read(&r->console, &r->fold, now_us);
    console_paint(&r->console, now_us);
}

static void loop(struct replay *r) {
    while (!r->console.quit && signals_take(r->signals) == 0) {
        int64_t now = clock_us();
        struct pollfd fds[] = {
            {.fd = r->signals, .events = POLLIN},
            {.fd = screen_fd(r->console.screen), .events = POLLIN},
        };
        poll(fds, 2, clock_wait_ms(now, next_due_us(r, now)));
        if ((fds[1].revents & (POLLHUP | POLLERR | POLLNVAL)) != 0)
            return; /* the terminal is gone, though it says that it can be read */
        now = clock_us();
        advance(r, now);
        enum action action;
        enum asked answered;
        while (console_key(&r->console, now, &action, &answered))
            if (!trial_live_action(&r->trial, &r->console, &action, TIME_UNKNOWN, now))
                do_action(r, action, now);
        trial_live_wake(&r->trial, &r->console, TIME_UNKNOWN);
        show(r, clock_us());
    }
}

/* Reads the whole file once for its length; also tells whether it can be read at all. */
static int measure(struct replay *r, int64_t *length_us) {
    if (!begin(r)) {
        words_say("%s", r->trouble);
        return STATUS_TROUBLE;
    }
    while (step(r, FEED_BLOCK))
        continue;
    *length_us = r->at_us;
    struct feed_facts facts;
    feed_facts(r->feed, &facts);
    r->measured = true;
    r->broken = facts.broken != 0;
    r->trouble[0] = '\0';
    r->passed_over = facts.rows_bad;
    if (r->lines > 0 || r->fold.bench != NULL)
        return STATUS_ANSWER;
    words_say("%s: nothing in it to replay; is it a recording or a capture of lines?", r->path);
    return STATUS_TROUBLE;
}

static int run_console(struct replay *r) {
    int64_t length_us = TIME_UNKNOWN;
    int status = measure(r, &length_us);
    if (status != STATUS_ANSWER)
        return status;
    r->signals = signals_open(); /* before, with nothing to be put in order, Ctrl-C kills */
    status = console_open(&r->console, r->options, IN_REPLAY, r->path);
    if (status != STATUS_ANSWER)
        return status;
    r->console.charts = &r->charts;
    r->console.page.replay_length_us = length_us;
    r->console.page.replay_pace = r->options->pace;
    if (r->passed_over > 0)
        console_notice(&r->console, clock_us(), "%llu row%s could not be read: passed over",
                       (unsigned long long)r->passed_over, r->passed_over == 1 ? "" : "s");
    if (begin(r)) {
        seek(r, whole_i64(r->options->from_s * 1e6));
        loop(r);
    }
    console_close(&r->console);
    if (r->trouble[0] != '\0' && !r->broken)
        words_say("%s", r->trouble);
    return r->broken || r->trouble[0] != '\0' ? STATUS_TROUBLE : STATUS_ANSWER;
}

int command_replay(const struct options *o) {
    struct replay *r = calloc(1, sizeof *r);
    if (r == NULL) {
        words_say("not enough memory");
        return STATUS_TROUBLE;
    }
    r->options = o;
    r->path = o->operands[0];
    if (strcmp(r->path, "-") == 0) {
        words_say("a replay moves about in its file, so it can't read standard input: name a file");
        free(r);
        return STATUS_USAGE;
    }
    int status = setup_init(&r->setup, o);
    fold_init(&r->fold, &r->setup);
    r->signals = -1;
    r->seek_us = TIME_UNKNOWN;
    if (status == STATUS_ANSWER)
        status = run_console(r);
    feed_close(r->feed);
    if (r->signals >= 0)
        close(r->signals);
    trial_live_release(&r->trial);
    fold_release(&r->fold);
    setup_release(&r->setup);
    free(r);
    return status;
}
