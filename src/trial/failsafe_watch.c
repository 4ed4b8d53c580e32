/* The fold of the failsafe trial.  Between packets a receiver tells how old the newest one is; so
 * what changed from one report to the next changed when that packet was between the two ages old.
 * An age is the difference of two readings of a clock in whole ms, or is cut to them: the true one
 * lies in [age - 1, age + 1]. */
#include <string.h>

#include "trial/failsafe_parts.h"

static const struct time_bounds unknown = {TIME_UNKNOWN, TIME_UNKNOWN};

static const double idle_most = 0.02, stick_low = 0.10, raised_least = 0.20;

bool failsafe_known(struct time_bounds b) {
    return b.low_ms != TIME_UNKNOWN && b.high_ms != TIME_UNKNOWN;
}

double failsafe_travel(const struct failsafe_trial *t, int32_t value) {
    double span = t->span_high - t->span_low;
    if (value == CHANNEL_OFF || span <= 0)
        return 0;
    double share = (value - t->span_low) / span;
    return t->rules.bench.throttle_high_idle ? 1 - share : share;
}

/* Near the end of the travel, or near the preset where that lies a little above it. */
static bool is_idle(const struct failsafe_trial *t, int32_t value) {
    const struct trial_rules *rules = &t->rules;
    double most = idle_most;
    if (t->throttle >= 0 && rules->safe_known[t->throttle] &&
        rules->safe[t->throttle] != CHANNEL_HOLD && rules->safe[t->throttle] != CHANNEL_OFF) {
        double preset = failsafe_travel(t, rules->safe[t->throttle]);
        if (preset > 0 && preset < stick_low)
            most += preset;
    }
    return failsafe_travel(t, value) <= most + 1e-9;
}

struct failsafe_guard *failsafe_guard_up(struct failsafe_trial *t) {
    if (t->guard < 0)
        return NULL;
    return t->guard < FS_RUNS_MAX ? &t->run[t->guard].guard
                                  : &t->start[t->guard - FS_RUNS_MAX].guard;
}

const struct failsafe_guard *failsafe_guard_seen(const struct failsafe_trial *t) {
    if (t->guard < 0)
        return NULL;
    return t->guard < FS_RUNS_MAX ? &t->run[t->guard].guard
                                  : &t->start[t->guard - FS_RUNS_MAX].guard;
}

static struct failsafe_run *current(struct failsafe_trial *t) {
    return t->kept >= 0 ? &t->run[t->kept] : &t->now;
}

static void guard_begin(struct failsafe_trial *t, int which) {
    t->guard = which;
    struct failsafe_guard *g = failsafe_guard_up(t);
    *g = (struct failsafe_guard){
        .back = unknown, .recovery = unknown, .stick = unknown, .unlock = unknown};
}

/* --- what one report shows -------------------------------------------------------------------- */

/* A report put into the terms of this trial. */
struct sight {
    const struct report *r;
    int64_t at_ms, before_ms; /* link time; before_ms unknown: nothing to compare with */
    int64_t apart_ms;         /* between the two; 0 where too far apart to have been seen */
    bool arrived, entered, fs, locked;
    int64_t since_low, since_high; /* since the last packet; negative unknown */
    int64_t was_low; /* the same packet's age at the report before; 0: it came after */
};

static void read_since(const struct failsafe_trial *t, struct sight *v) {
    v->since_low = v->since_high = -1;
    if (report_has(v->r, KEY_AGE)) {
        v->since_low = v->r->age_ms > 0 ? (int64_t)v->r->age_ms - 1 : 0;
        v->since_high = (int64_t)v->r->age_ms + 1;
    } else if (v->arrived && v->before_ms != TIME_UNKNOWN) {
        v->since_low = 0;
        v->since_high = v->at_ms - v->before_ms + 1;
    } else if (t->have && t->since_low >= 0 && v->before_ms != TIME_UNKNOWN) {
        int64_t apart = v->at_ms - v->before_ms;
        v->since_low = t->since_low + (apart > 0 ? apart - 1 : 0);
        v->since_high = t->since_high + apart + 1;
    }
    v->was_low = !v->arrived && t->have && t->since_low > 0 ? t->since_low : 0;
}

static struct sight look(const struct failsafe_trial *t, const struct moment *m) {
    const struct report *r = &m->event->report;
    struct sight v = {.r = r, .at_ms = m->link_ms, .before_ms = TIME_UNKNOWN};
    if (t->have && m->before_ms != TIME_UNKNOWN)
        v.before_ms = m->before_ms;
    if (v.before_ms != TIME_UNKNOWN && v.at_ms - v.before_ms <= FS_SEEN_APART_MS)
        v.apart_ms = v.at_ms - v.before_ms;
    v.arrived = m->packets.arrived;
    v.fs = report_has(r, KEY_FS) && r->fs != 0;
    v.locked = report_has(r, KEY_LOCK) && r->lock != 0;
    v.entered = t->have && m->heard && v.fs && !t->was_fs;
    if (t->have && m->heard && report_has(r, KEY_FSN) && t->entries != UINT32_MAX)
        v.entered = v.entered || r->fsn > t->entries;
    read_since(t, &v);
    return v;
}

static void note_values(struct failsafe_trial *t, const struct sight *v, const struct snapshot *s) {
    const struct report *r = v->r;
    t->span_low = s->span_known || s->raw_unit ? s->span_low : 1000;
    t->span_high = s->span_known || s->raw_unit ? s->span_high : 2000;
    t->any_report = true;
    t->has_age = t->has_age || report_has(r, KEY_AGE);
    t->has_got = t->has_got || report_has(r, KEY_GOT) || report_has(r, KEY_PAT);
    t->has_in = t->has_in || report_has(r, KEY_IN);
    t->has_fs = t->has_fs || report_has(r, KEY_FS);
    t->has_lock = t->has_lock || report_has(r, KEY_LOCK);
    for (uint32_t i = 0; i < r->ch_count; i++) {
        t->channel[i] = r->ch[i];
        bool first = i >= t->channels;
        if (first || r->ch[i] < t->least[i])
            t->least[i] = r->ch[i];
        if (first || r->ch[i] > t->most[i])
            t->most[i] = r->ch[i];
    }
    t->channels = r->ch_count > t->channels ? r->ch_count : t->channels;
    uint32_t at = t->throttle >= 0 ? (uint32_t)t->throttle : CHANNELS_MAX;
    t->value_known = at < r->ch_count;
    t->value = t->value_known ? r->ch[at] : CHANNEL_OFF;
    t->stick_known = report_has(r, KEY_IN) && at < r->in_count && r->in[at] != CHANNEL_OFF;
    t->stick = t->stick_known ? r->in[at] : CHANNEL_OFF;
}

static void since_when(int64_t *since, bool holds, int64_t at_ms) {
    if (!holds)
        *since = TIME_UNKNOWN;
    else if (*since == TIME_UNKNOWN)
        *since = at_ms;
}

static void note_conditions(struct failsafe_trial *t, const struct sight *v,
                            const struct snapshot *s) {
    enum { FRESH_MS = 300 };
    bool linked = s->bare || (v->since_low >= 0 && v->since_low < FRESH_MS && !v->fs);
    bool up =
        t->value_known && t->value != CHANNEL_OFF && failsafe_travel(t, t->value) >= raised_least;
    bool down = t->value_known && is_idle(t, t->value) &&
                (!t->stick_known || failsafe_travel(t, t->stick) < stick_low);
    bool none = t->throttle < 0; /* nobody said which one: no more can be waited for */
    since_when(&t->link_since, linked, v->at_ms);
    since_when(&t->low_since, linked && (down || none) && !v->locked, v->at_ms);
    since_when(&t->raised_since, linked && (up || none), v->at_ms);
}

/* --- a silence -------------------------------------------------------------------------------- */

static void forget(struct failsafe_trial *t) {
    t->now_known = t->tripped = false;
    t->kept = -1;
}

/* The newest packet is known: whatever silence comes, begins with it. */
static void begin_silence(struct failsafe_trial *t, const struct sight *v, const struct moment *m) {
    bool up = t->value_known && failsafe_travel(t, t->value) >= raised_least;
    /* Failsafe may have come in the same report: then the stick and the report before tell. */
    if (!up && t->have && !t->was_idle && v->entered)
        up = t->stick_known && failsafe_travel(t, t->stick) >= raised_least;
    t->now = (struct failsafe_run){.raised = up, .enter = unknown, .low = unknown, .loss = -1};
    t->now.channels = v->r->ch_count;
    memcpy(t->now.before, v->r->ch, sizeof t->now.before);
    t->now.guard = (struct failsafe_guard){
        .back = unknown, .recovery = unknown, .stick = unknown, .unlock = unknown};
    t->now_known = true;
    t->tripped = false;
    t->kept = -1;
    (void)m;
}

static void note_trip(struct failsafe_trial *t, int64_t high_ms) {
    if (t->shortest_trip < 0 || high_ms < t->shortest_trip)
        t->shortest_trip = high_ms;
}

/* The silence counts as one that the step asked for. */
static void keep(struct failsafe_trial *t, enum failsafe_step_id step) {
    static const struct {
        bool wanted;
        enum failsafe_how how;
    } hows[FS_STEPS] = {
        [FS_OFF] = {true, HOW_SWITCHED},
        [FS_PULL] = {true, HOW_PULLED},
        [FS_FADE] = {true, HOW_FADED},
    };
    if (t->kept >= 0 || !hows[step].wanted || t->count == FS_RUNS_MAX)
        return;
    t->now.how = hows[step].how;
    t->kept = (int)t->count;
    t->run[t->count++] = t->now;
    t->tries += t->now.how == HOW_SWITCHED;
}

static void follow_throttle(struct failsafe_trial *t, struct failsafe_run *run,
                            const struct sight *v) {
    bool idle = t->value_known && is_idle(t, t->value);
    if (!t->value_known || v->since_low < 0)
        return;
    if (!idle && !failsafe_known(run->low)) {
        run->raised_ms = v->since_low;
    } else if (!idle && !run->left && !v->arrived) {
        run->left = true;
        run->left_to = t->value;
    } else if (run->raised && !failsafe_known(run->low)) {
        run->low = (struct time_bounds){v->was_low, v->since_high};
        t->tripped = true;
    } else if (t->was_idle && idle && !v->arrived) {
        run->stayed_ms += v->apart_ms;
    }
}

static void follow_channels(struct failsafe_run *run, const struct sight *v) {
    enum { SETTLE_MS = 1000 };
    struct time_bounds safe = failsafe_known(run->low) ? run->low : run->enter;
    if (!failsafe_known(safe) || v->arrived)
        return;
    if (!run->settled && v->since_low >= safe.high_ms + SETTLE_MS) {
        run->settled = true;
        memcpy(run->settle, v->r->ch, sizeof run->settle);
    }
    memcpy(run->after, v->r->ch, sizeof run->after);
}

static void follow_silence(struct failsafe_trial *t, const struct sight *v,
                           enum failsafe_step_id step) {
    enum { SURELY_MS = 1000 };
    struct failsafe_run *run = current(t);
    if (!t->now_known)
        return;
    if (v->since_low > run->silent_ms)
        run->silent_ms = v->since_low;
    if (v->entered && !failsafe_known(run->enter) && v->since_high >= 0) {
        run->enter = (struct time_bounds){v->was_low, v->since_high};
        t->tripped = true;
        note_trip(t, v->since_high);
    }
    follow_throttle(t, run, v);
    follow_channels(run, v);
    if (t->tripped || v->since_low >= SURELY_MS)
        keep(t, step);
}

/* A packet came after a silence. */
static void end_silence(struct failsafe_trial *t, const struct sight *v, const struct moment *m) {
    struct failsafe_run *run = current(t);
    if (!t->now_known)
        return;
    if (!t->tripped && m->silence.ended && m->silence.low_ms > t->longest_ride)
        t->longest_ride = m->silence.low_ms;
    if (t->kept < 0)
        return;
    run->again = true;
    guard_begin(t, t->kept);
    failsafe_guard_up(t)->heard = true;
    failsafe_guard_up(t)->back = (struct time_bounds){v->before_ms, v->at_ms};
}

/* --- afterwards ------------------------------------------------------------------------------- */

/* From within one span of time to within another, with the ms that either reading was cut by. */
static struct time_bounds span_between(struct time_bounds from, struct time_bounds to) {
    if (!failsafe_known(from) || !failsafe_known(to))
        return unknown;
    int64_t low = to.low_ms - from.high_ms - 1;
    return (struct time_bounds){low > 0 ? low : 0, to.high_ms - from.low_ms + 1};
}

static void follow_stick(struct failsafe_trial *t, struct failsafe_guard *g,
                         const struct sight *v) {
    bool idle = t->value_known && is_idle(t, t->value);
    bool up = t->stick_known && failsafe_travel(t, t->stick) >= raised_least;
    struct time_bounds between = {v->before_ms, v->at_ms};
    if (t->stick_known && failsafe_travel(t, t->stick) < stick_low && !g->stick_low) {
        g->stick_low = true;
        g->stick = between;
    }
    if (g->stick_low || !t->value_known)
        return;
    if (up && idle)
        g->held_ms += v->apart_ms;
    if (v->locked && idle)
        g->locked_ms += v->apart_ms;
    if (up && failsafe_travel(t, t->value) >= raised_least && !g->rose) {
        g->rose = true;
        g->rose_to = t->value;
    }
}

static void follow_guard(struct failsafe_trial *t, const struct sight *v) {
    struct failsafe_guard *g = failsafe_guard_up(t);
    struct time_bounds between = {v->before_ms, v->at_ms};
    if (g == NULL)
        return;
    if (!g->heard && v->arrived) {
        g->heard = true;
        g->back = between;
    }
    if (!g->heard)
        return;
    follow_stick(t, g, v);
    if (!failsafe_known(g->recovery) && report_has(v->r, KEY_FS) && !v->fs)
        g->recovery = span_between(g->back, between);
    if (!failsafe_known(g->unlock) && t->was_locked && report_has(v->r, KEY_LOCK) && !v->locked &&
        g->stick_low)
        g->unlock = span_between(g->stick, between);
    bool free = !v->locked && !v->fs && (g->stick_low || !t->stick_known);
    if (free && t->value_known && is_idle(t, t->value))
        t->guard = -1;
}

/* --- the receiver starts ---------------------------------------------------------------------- */

static void take_restart(struct failsafe_trial *t, const struct moment *m,
                         enum failsafe_step_id step) {
    static const int starts[FS_STEPS] = {
        [FS_RESET] = 1 + START_RESET, [FS_COLD] = 1 + START_COLD, [FS_START] = 1 + START_RAISED};
    if (t->kept >= 0)
        t->run[t->kept].restarted = true;
    if (t->guard >= 0 && t->guard < FS_RUNS_MAX)
        t->run[t->guard].restarted = true;
    t->guard = -1;
    t->have = false;
    t->entries = UINT32_MAX;
    t->low_since = t->raised_since = t->link_since = TIME_UNKNOWN;
    forget(t);
    if (starts[step] == 0) {
        t->stray_restarts += !m->by_opening;
        return;
    }
    int which = starts[step] - 1;
    t->start[which] = (struct failsafe_start){.seen = true, .cause = m->cause};
    guard_begin(t, FS_RUNS_MAX + which);
}

static void follow_start(struct failsafe_trial *t, const struct sight *v, const struct moment *m) {
    if (t->guard < FS_RUNS_MAX || m->heard)
        return;
    struct failsafe_start *start = &t->start[t->guard - FS_RUNS_MAX];
    if (!t->value_known)
        return;
    if (is_idle(t, t->value)) {
        start->idle_ms += v->apart_ms;
    } else if (!start->rose) {
        start->rose = true;
        start->rose_to = t->value;
    }
}

/* --- the fold --------------------------------------------------------------------------------- */

static void remember(struct failsafe_trial *t, const struct sight *v) {
    t->have = true;
    t->report_ms = v->at_ms;
    t->since_low = v->since_low;
    t->since_high = v->since_high;
    t->was_idle = t->value_known && is_idle(t, t->value);
    t->was_fs = v->fs;
    t->was_locked = v->locked;
    t->entries = report_has(v->r, KEY_FSN) ? v->r->fsn : UINT32_MAX;
}

static void take_report(struct failsafe_trial *t, const struct moment *m, const struct snapshot *s,
                        enum failsafe_step_id step) {
    struct sight v = look(t, m);
    note_values(t, &v, s);
    if (m->link_ms == TIME_UNKNOWN)
        return;
    note_conditions(t, &v, s);
    double lost = (double)s->last_10s.lost, all = (double)s->last_10s.got + lost;
    if (v.arrived) {
        end_silence(t, &v, m);
        begin_silence(t, &v, m);
        t->now.loss = s->last_10s.known && all > 0 ? lost / all : -1;
    }
    follow_silence(t, &v, step);
    follow_start(t, &v, m);
    follow_guard(t, &v);
    remember(t, &v);
}

void failsafe_watch(struct failsafe_trial *t, const struct moment *m, const struct snapshot *s,
                    enum failsafe_step_id step) {
    const struct event *e = m->event;
    if (m->restarted)
        take_restart(t, m, step);
    if (e->kind == EVENT_REPORT)
        take_report(t, m, s, step);
    if (e->kind == EVENT_ID && !e->id.transmitter && identity_has(&e->id, ID_SAFE)) {
        t->told = e->id.safe_count;
        memcpy(t->told_safe, e->id.safe, sizeof t->told_safe);
    }
}
