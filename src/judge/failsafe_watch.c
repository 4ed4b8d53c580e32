/* The fold of the failsafe trial.  What changed from one report to the next changed between them,
 * by every clock that told (judge/delay.h). */
#include <string.h>

#include "judge/failsafe_parts.h"

static const struct time_bounds unknown = {TIME_UNKNOWN, TIME_UNKNOWN};

static const double idle_most = 0.02 + 1e-9, stick_low = 0.10, raised_least = 0.20;
static const double trim_most = 0.08; /* how far a trim moves the rest (common practice) */

enum { STEADY = 12 }; /* a value within so much of the one before it was no damaged digit */

bool failsafe_known(struct time_bounds b) {
    return b.low_ms != TIME_UNKNOWN && b.high_ms != TIME_UNKNOWN;
}

/* --- the motors ------------------------------------------------------------------------------- */

static int32_t said_rest(const struct failsafe_trial *t, uint32_t motor) {
    return motor_idle_value(&t->motor[motor].said, t->span_low, t->span_high);
}

int32_t failsafe_rest(const struct failsafe_trial *t, uint32_t motor) {
    return t->motor[motor].rest_known ? t->motor[motor].rest : said_rest(t, motor);
}

double failsafe_travel(const struct failsafe_trial *t, uint32_t motor, int32_t value) {
    if (value == CHANNEL_OFF)
        return 0;
    return motor_travel(value, failsafe_rest(t, motor), t->span_low, t->span_high);
}

double failsafe_stands_off(const struct failsafe_trial *t, uint32_t motor) {
    double off = t->motor[motor].stands - said_rest(t, motor);
    double span = t->span_high - t->span_low;
    return span > 0 ? (off < 0 ? -off : off) / span : 0;
}

bool failsafe_rest_told(const struct failsafe_trial *t, uint32_t motor) {
    return failsafe_stands_off(t, motor) <= trim_most;
}

int failsafe_motor_of(const struct failsafe_trial *t, uint32_t channel) {
    for (uint32_t i = 0; i < t->motors; i++)
        if (t->motor[i].said.channel == (int32_t)channel)
            return (int)i;
    return -1;
}

/* Pulses that stop are safe only where the model file says so: a servo stays where it was, and not
 * every speed controller stops (common practice). */
static bool off_is_safe(const struct failsafe_trial *t, uint32_t channel) {
    const struct trial_rules *r = &t->rules;
    return r->safe_known[channel] && !r->safe_by_id[channel] && r->safe[channel] == CHANNEL_OFF;
}

enum failsafe_output failsafe_output(const struct failsafe_trial *t, uint32_t motor) {
    uint32_t channel = (uint32_t)t->motor[motor].said.channel;
    if (channel >= t->reported)
        return OUTPUT_UNKNOWN;
    if (t->channel[channel] == CHANNEL_OFF)
        return off_is_safe(t, channel) ? OUTPUT_IDLE : OUTPUT_OFF;
    double travel = failsafe_travel(t, motor, t->channel[channel]);
    return travel <= idle_most      ? OUTPUT_IDLE
           : travel <= trim_most    ? OUTPUT_NEAR
           : travel >= raised_least ? OUTPUT_UP
                                    : OUTPUT_BETWEEN;
}

static bool all_are(const struct failsafe_trial *t, enum failsafe_output wanted) {
    for (uint32_t i = 0; i < t->motors; i++)
        if (failsafe_output(t, i) != wanted)
            return false;
    return t->motors > 0;
}

static bool some_is(const struct failsafe_trial *t, enum failsafe_output wanted) {
    for (uint32_t i = 0; i < t->motors; i++)
        if (failsafe_output(t, i) == wanted)
            return true;
    return false;
}

/* The first motor whose output is farther from rest than a trim, else one that is near it, -1:
 * none. */
static int running(const struct failsafe_trial *t) {
    int near = -1;
    for (uint32_t i = t->motors; i-- > 0;) {
        if (failsafe_output(t, i) >= OUTPUT_BETWEEN)
            return (int)i;
        near = failsafe_output(t, i) == OUTPUT_NEAR ? (int)i : near;
    }
    return near;
}

static bool stick_told(const struct failsafe_trial *t, uint32_t motor) {
    return t->stick[t->motor[motor].said.channel] != CHANNEL_OFF;
}

static bool stick_is_low(const struct failsafe_trial *t, uint32_t motor) {
    return stick_told(t, motor) &&
           failsafe_travel(t, motor, t->stick[t->motor[motor].said.channel]) < stick_low;
}

static bool sticks_up(const struct failsafe_trial *t) {
    for (uint32_t i = 0; i < t->motors; i++)
        if (!stick_told(t, i) ||
            failsafe_travel(t, i, t->stick[t->motor[i].said.channel]) < raised_least)
            return false;
    return t->motors > 0;
}

/* Notes an output where it mustn't be, or that it is where it should; motor -1: the latter. */
static void note_stray(const struct failsafe_trial *t, struct failsafe_stray *stray, int motor,
                       bool certain) {
    if (stray->reports >= FS_SURE_REPORTS)
        return;
    bool clear = certain && motor >= 0 && failsafe_output(t, (uint32_t)motor) >= OUTPUT_BETWEEN;
    if (motor >= 0 && stray->reports == 0) {
        stray->channel = t->motor[motor].said.channel;
        stray->value = t->channel[stray->channel];
    }
    stray->reports = clear ? stray->reports + 1 : 0;
    stray->once = stray->once || motor >= 0;
}

/* --- outages ---------------------------------------------------------------------------------- */

struct delay_bounds failsafe_low_of(const struct failsafe_run *run) {
    return delay_of(&run->from, &run->low);
}

bool failsafe_never_low(const struct failsafe_trial *t, const struct failsafe_run *run) {
    return run->raised && !run->low.known && run->up_ms > t->rules.throttle_low_ms;
}

bool failsafe_counts(const struct failsafe_trial *t, const struct failsafe_run *run) {
    return run->how == HOW_SWITCHED && run->raised && !run->restarted &&
           (run->low.known || failsafe_never_low(t, run));
}

uint32_t failsafe_counted(const struct failsafe_trial *t) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < t->count; i++)
        count += failsafe_counts(t, &t->run[i]);
    return count;
}

bool failsafe_is_back(const struct failsafe_guard *g) {
    return g->reports >= 3;
}

bool failsafe_long(const struct failsafe_run *run) {
    enum { WRAPPED_MS = 66000, SEEN_MS = 55000 };
    return run->how == HOW_SWITCHED && run->low.known && run->idle_until_ms >= WRAPPED_MS &&
           delay_span_ms(&run->stayed) >= SEEN_MS;
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

static const struct failsafe_guard no_guard = {.back = {TIME_UNKNOWN, TIME_UNKNOWN},
                                               .back_us = TIME_UNKNOWN,
                                               .recovery = {TIME_UNKNOWN, TIME_UNKNOWN},
                                               .stick = {TIME_UNKNOWN, TIME_UNKNOWN},
                                               .unlock = {TIME_UNKNOWN, TIME_UNKNOWN}};

static void guard_begin(struct failsafe_trial *t, int which) {
    t->guard = which;
    t->sticks_were_low = 0;
    *failsafe_guard_up(t) = no_guard;
}

/* --- what one report shows -------------------------------------------------------------------- */

/* A report put into the terms of this trial. */
struct sight {
    const struct report *r;
    struct delay_report time;
    int64_t apart_ms, apart_us; /* since the report before, by either clock; 0 where too far apart
                                   for what lies between to have been seen */
    bool arrived, entered, fs, locked, hole;
    bool sticks_stay; /* the step asks for sticks that stay up */
};

/* Steps in which the sticks are to be left up. */
static const bool sticks_stay[FS_STEPS] = {
    [FS_OFF] = true,   [FS_STAY] = true, [FS_LONG] = true, [FS_STOPPED] = true, [FS_SERVOS] = true,
    [FS_RESET] = true, [FS_COLD] = true, [FS_ON] = true,   [FS_PLUG] = true,    [FS_RETURN] = true};

static struct sight look(const struct failsafe_trial *t, const struct moment *m,
                         enum failsafe_step_id step) {
    const struct report *r = &m->event->report;
    struct sight v = {.r = r,
                      .time = {.link_ms = m->link_ms,
                               .before_ms = t->have ? m->before_ms : TIME_UNKNOWN,
                               .host_us = m->host_us,
                               .own_clock = report_has(r, KEY_T),
                               .arrived = m->packets.arrived,
                               .has_age = report_has(r, KEY_AGE),
                               .age_ms = r->age_ms},
                      .hole = m->hole,
                      .arrived = m->packets.arrived,
                      .sticks_stay = sticks_stay[step]};
    int64_t apart_ms = v.time.before_ms == TIME_UNKNOWN ? 0 : m->link_ms - v.time.before_ms;
    bool host = m->host_us != TIME_UNKNOWN && t->report_us != TIME_UNKNOWN;
    if (apart_ms > 0 && apart_ms <= FS_SEEN_APART_MS) {
        v.apart_ms = apart_ms;
        v.apart_us = host ? m->host_us - t->report_us : TIME_UNKNOWN;
    }
    v.fs = report_has(r, KEY_FS) && r->fs != 0;
    v.locked = report_has(r, KEY_LOCK) && r->lock != 0;
    v.entered = t->have && m->heard && v.fs && !t->was_fs;
    if (t->have && m->heard && report_has(r, KEY_FSN) && t->entries != UINT32_MAX)
        v.entered = v.entered || r->fsn > t->entries;
    return v;
}

static void note_keys(struct failsafe_trial *t, const struct report *r) {
    const uint32_t packets = 1u << KEY_GOT | 1u << KEY_PAT | 1u << KEY_SEQ;
    t->any_report = true;
    t->has_age = t->has_age || report_has(r, KEY_AGE);
    t->has_packets = t->has_packets || (r->has & packets) != 0;
    t->has_uptime = t->has_uptime || report_has(r, KEY_T) || report_has(r, KEY_N);
    t->has_in = t->has_in || report_has(r, KEY_IN);
    t->has_fs = t->has_fs || report_has(r, KEY_FS);
    t->has_lock = t->has_lock || report_has(r, KEY_LOCK);
}

static bool is_steady(int32_t value, int32_t before) {
    if (value == CHANNEL_OFF || before == CHANNEL_OFF)
        return value == before;
    return value - before <= STEADY && before - value <= STEADY;
}

static void note_values(struct failsafe_trial *t, const struct sight *v, const struct snapshot *s) {
    const struct report *r = v->r;
    bool told = s->span_known || s->raw_unit;
    t->span_told = s->span_known;
    t->span_low = told ? s->span_low : 1000;
    t->span_high = told ? s->span_high : 2000;
    note_keys(t, r);
    for (uint32_t i = 0; i < r->ch_count; i++) {
        bool first = i >= t->channels;
        if (first || is_steady(r->ch[i], t->channel[i]))
            t->steady[i] = r->ch[i];
        t->channel[i] = r->ch[i];
        if (first || r->ch[i] < t->least[i])
            t->least[i] = r->ch[i];
        if (first || r->ch[i] > t->most[i])
            t->most[i] = r->ch[i];
    }
    t->reported = r->ch_count;
    t->channels = r->ch_count > t->channels ? r->ch_count : t->channels;
    for (uint32_t i = 0; i < CHANNELS_MAX; i++)
        t->stick[i] = report_has(r, KEY_IN) && i < r->in_count ? r->in[i] : CHANNEL_OFF;
}

static void since_when(int64_t *since, bool holds, int64_t at_ms) {
    if (!holds)
        *since = TIME_UNKNOWN;
    else if (*since == TIME_UNKNOWN)
        *since = at_ms;
}

/* --- where the motors rest -------------------------------------------------------------------- */

/* The output with the stick down, once it stood still for a second.  Far from where it is said to
 * be, the stick isn't down. */
static void learn_rest(struct failsafe_trial *t, uint32_t i, int64_t at_ms, bool linked) {
    enum { STILL_MS = 1000 };
    static const double far_off = 0.25;
    struct failsafe_motor *m = &t->motor[i];
    uint32_t channel = (uint32_t)m->said.channel;
    int32_t value = channel < t->reported ? t->channel[channel] : CHANNEL_OFF;
    double span = t->span_high - t->span_low;
    if (!linked || value == CHANNEL_OFF || span <= 0) {
        m->still = false;
        return;
    }
    int32_t low = !m->still || value < m->still_low ? value : m->still_low;
    int32_t high = !m->still || value > m->still_high ? value : m->still_high;
    if (!m->still || high - low > idle_most * span) {
        m->still = true;
        m->still_since = at_ms;
        low = high = value;
    }
    m->still_low = low;
    m->still_high = high;
    if (at_ms - m->still_since < STILL_MS)
        return;
    m->stands_known = true;
    m->stands = low + (high - low) / 2;
    double off = (m->stands - said_rest(t, i)) / span;
    if (off > far_off || off < -far_off)
        return;
    m->rest_known = true;
    m->rest = m->stands;
}

static bool motor_down(const struct failsafe_trial *t, uint32_t i, enum failsafe_step_id step) {
    bool rest = t->motor[i].rest_known ? failsafe_rest_told(t, i) : step != FS_LOW;
    return rest && failsafe_output(t, i) == OUTPUT_IDLE &&
           (!stick_told(t, i) || stick_is_low(t, i));
}

static void note_conditions(struct failsafe_trial *t, const struct sight *v,
                            const struct snapshot *s, enum failsafe_step_id step) {
    enum { FRESH_MS = 300 };
    int64_t at_ms = v->time.link_ms;
    bool silent = s->bare || (!t->has_packets && !t->has_age); /* lines that don't tell */
    int64_t since_ms = t->now_known ? delay_surely_ms(&t->now.from, &v->time) : -1;
    bool linked = !v->fs && (silent || v->arrived || (since_ms >= 0 && since_ms < FRESH_MS));
    bool down = linked && !v->locked;
    for (uint32_t i = 0; i < t->motors; i++) {
        /* Later a lock may hold the output: then the stick must be seen down. */
        if (step == FS_LOW || (step == FS_LOWER && stick_is_low(t, i)))
            learn_rest(t, i, at_ms, linked && !v->locked);
        down = down && motor_down(t, i, step);
    }
    /* No motor named: no more can be waited for. */
    since_when(&t->link_since, linked, at_ms);
    since_when(&t->low_since, down, at_ms);
    since_when(&t->raised_since, linked && (t->motors == 0 || all_are(t, OUTPUT_UP)), at_ms);
}

/* --- an outage -------------------------------------------------------------------------------- */

static void forget(struct failsafe_trial *t) {
    t->now_known = t->tripped = false;
    t->kept = -1;
}

/* The newest packet is known: whatever outage comes, begins with it. */
static void begin_outage(struct failsafe_trial *t, const struct sight *v, double loss) {
    bool up = all_are(t, OUTPUT_UP);
    /* Failsafe may have come in the same report: then the sticks and the report before tell. */
    if (!up && t->was_up && v->entered && v->fs && !v->hole)
        up = sticks_up(t);
    t->now = (struct failsafe_run){.raised = up,
                                   .unseen = !up && t->was_up && v->hole,
                                   .loss = loss,
                                   .near_value = CHANNEL_OFF,
                                   .guard = no_guard};
    delay_begin(&t->now.from, &t->clocks, &v->time);
    t->now.channels = v->r->ch_count;
    memcpy(t->now.before, t->steady, sizeof t->now.before);
    t->now_known = true;
    t->tripped = false;
    t->kept = -1;
}

/* The outage counts as one that the step asked for. */
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

static void follow_motors(struct failsafe_trial *t, struct failsafe_run *run,
                          const struct sight *v) {
    int64_t since_ms = delay_surely_ms(&run->from, &v->time);
    int up = running(t);
    if (t->motors == 0 || some_is(t, OUTPUT_UNKNOWN) || since_ms < 0)
        return;
    run->off = run->off || some_is(t, OUTPUT_OFF);
    if (run->low.known) {
        delay_after(&run->low, &v->time);
        if (!v->arrived)
            note_stray(t, &run->left, up, true);
    } else if (up >= 0 && failsafe_output(t, (uint32_t)up) == OUTPUT_NEAR) {
        run->near_channel = t->motor[up].said.channel;
        run->near_value = t->channel[run->near_channel];
    } else if (up >= 0) {
        run->up_ms = since_ms;
        run->up_channel = t->motor[up].said.channel;
        run->up_value = t->channel[run->up_channel];
    } else if (run->raised && all_are(t, OUTPUT_IDLE)) {
        delay_mark(&run->low, &v->time);
        t->tripped = true;
    }
    if (run->low.known && up < 0 && !v->arrived && all_are(t, OUTPUT_IDLE)) {
        if (t->was_idle)
            delay_add(&run->stayed, v->apart_ms, v->apart_us);
        run->idle_until_ms = since_ms;
    }
}

static void follow_channels(struct failsafe_trial *t, struct failsafe_run *run,
                            const struct sight *v) {
    enum { SETTLE_MS = 1000 };
    const struct delay_to *safe = run->low.known ? &run->low : &run->enter;
    if (!safe->known || v->arrived)
        return;
    if (!run->settled && v->time.link_ms >= safe->at.high_ms + SETTLE_MS) {
        run->settled = true;
        memcpy(run->settle, t->steady, sizeof run->settle);
    }
    memcpy(run->after, t->steady, sizeof run->after);
}

static void follow_outage(struct failsafe_trial *t, const struct sight *v,
                          enum failsafe_step_id step) {
    enum { SURELY_MS = 1000 };
    struct failsafe_run *run = current(t);
    if (!t->now_known)
        return;
    int64_t since_ms = delay_surely_ms(&run->from, &v->time);
    delay_follow(&run->from, &v->time);
    if (since_ms > run->outage_ms)
        run->outage_ms = since_ms;
    run->hole = run->hole || (v->hole && !run->low.known);
    /* After a packet fs=0 with one entry more was another outage, between two reports. */
    if (v->entered && !run->enter.known && (v->fs || !v->arrived)) {
        delay_mark(&run->enter, &v->time);
        t->tripped = true;
    }
    if (run->enter.known)
        delay_after(&run->enter, &v->time);
    follow_motors(t, run, v);
    follow_channels(t, run, v);
    if (t->tripped || since_ms >= SURELY_MS)
        keep(t, step);
}

/* A packet came after an outage. */
static void end_outage(struct failsafe_trial *t, const struct moment *m) {
    struct failsafe_run *run = current(t);
    if (!t->now_known)
        return;
    if (!t->tripped && m->outage.ended && m->outage.low_ms > t->longest_ride)
        t->longest_ride = m->outage.low_ms;
    if (t->kept < 0)
        return;
    run->again = true;
    guard_begin(t, t->kept);
}

/* --- afterwards ------------------------------------------------------------------------------- */

/* From within one span of time to within another, with the ms that either reading was cut by. */
static struct time_bounds span_between(struct time_bounds from, struct time_bounds to) {
    if (!failsafe_known(from) || !failsafe_known(to))
        return unknown;
    int64_t low = to.low_ms - from.high_ms - 1;
    return (struct time_bounds){low > 0 ? low : 0, to.high_ms - from.low_ms + 1};
}

/* The first motor whose output left its idle though its stick wasn't seen low, -1: none. */
static int rises(const struct failsafe_trial *t, const struct failsafe_guard *g,
                 const struct sight *v) {
    for (uint32_t i = 0; i < t->motors; i++) {
        bool up = failsafe_output(t, i) >= OUTPUT_NEAR, was_low = (g->low >> i & 1u) != 0;
        bool stick_up = stick_told(t, i) ? !stick_is_low(t, i) : !t->has_in && v->sticks_stay;
        if (up && stick_up && !was_low)
            return (int)i;
    }
    return -1;
}

static bool guard_is_certain(const struct failsafe_trial *t) {
    return t->guard < FS_RUNS_MAX || t->start[t->guard - FS_RUNS_MAX].certain;
}

static void follow_sticks(struct failsafe_trial *t, struct failsafe_guard *g,
                          const struct sight *v) {
    uint32_t all = (1u << t->motors) - 1u, low = 0;
    for (uint32_t i = 0; i < t->motors; i++)
        low |= (uint32_t)stick_is_low(t, i) << i;
    if (g->low != all)
        note_stray(t, &g->rose, rises(t, g, v), guard_is_certain(t));
    bool waits = g->low == 0 && sticks_up(t) && all_are(t, OUTPUT_IDLE);
    if (waits && g->held)
        delay_add(&g->in_row, v->apart_ms, v->apart_us);
    else
        g->in_row = (struct delay_span){0};
    g->held = waits;
    int64_t row_ms = delay_span_ms(&g->in_row);
    g->best_ms = row_ms > g->best_ms ? row_ms : g->best_ms;
    bool before = g->low == all;
    g->low |= low & t->sticks_were_low; /* seen twice: no damaged digit */
    t->sticks_were_low = low;
    if (!before && g->low == all && t->motors > 0)
        g->stick = (struct time_bounds){v->time.before_ms, v->time.link_ms};
}

/* A damaged uptime must not make a recovery long: no longer than the host's clock says. */
static struct time_bounds recovery_of(const struct failsafe_guard *g, const struct sight *v) {
    enum { LATE_MS = 100 };
    struct time_bounds between = {v->time.before_ms, v->time.link_ms};
    struct time_bounds took = span_between(g->back, between);
    if (!failsafe_known(took) || g->back_us == TIME_UNKNOWN || v->time.host_us == TIME_UNKNOWN)
        return took;
    int64_t host_ms = (v->time.host_us - g->back_us) / 1000 + LATE_MS;
    if (host_ms >= 0 && took.low_ms > host_ms)
        took.low_ms = host_ms;
    return took;
}

/* What looked like the first packet, with hardly any after it, was none. */
static void note_back(struct failsafe_guard *g, const struct sight *v) {
    enum { SOON_MS = 1000 };
    if (!v->arrived)
        return;
    bool alone = g->heard && !failsafe_is_back(g) && failsafe_known(g->back) &&
                 v->time.link_ms - g->back.high_ms > SOON_MS;
    if (!g->heard || alone) {
        g->heard = true;
        g->reports = 0;
        g->back = (struct time_bounds){v->time.before_ms, v->time.link_ms};
        g->back_us = v->time.host_us;
        g->recovery = unknown;
    }
    g->reports++;
}

static void follow_guard(struct failsafe_trial *t, const struct sight *v) {
    struct failsafe_guard *g = failsafe_guard_up(t);
    struct time_bounds between = {v->time.before_ms, v->time.link_ms};
    if (g == NULL)
        return;
    note_back(g, v);
    if (!g->heard)
        return;
    follow_sticks(t, g, v);
    uint32_t all = (1u << t->motors) - 1u;
    bool sticks_low = t->has_in ? g->low == all : !v->sticks_stay;
    if (!failsafe_known(g->recovery) && report_has(v->r, KEY_FS) && !v->fs)
        g->recovery = recovery_of(g, v);
    if (!failsafe_known(g->unlock) && t->was_locked && report_has(v->r, KEY_LOCK) && !v->locked &&
        g->low == all)
        g->unlock = span_between(g->stick, between);
    if (!v->locked && !v->fs && sticks_low && all_are(t, OUTPUT_IDLE))
        t->guard = -1;
}

/* --- the receiver starts ---------------------------------------------------------------------- */

static void note_unasked(struct failsafe_trial *t, const struct moment *m,
                         enum failsafe_step_id step) {
    bool fault = m->cause == BOOT_BROWNOUT || m->cause == BOOT_WATCHDOG;
    bool wires = step == FS_PULL || step == FS_PLUG; /* somebody's hand is at the supply */
    if (m->by_opening)
        return;
    t->unasked_restarts++;
    if (!fault || wires)
        return;
    t->unasked_faults++;
    t->unasked_cause = m->cause;
}

static void take_restart(struct failsafe_trial *t, const struct moment *m,
                         enum failsafe_step_id step) {
    static const int starts[FS_STEPS] = {
        [FS_RESET] = 1 + START_RESET, [FS_COLD] = 1 + START_COLD, [FS_START] = 1 + START_RAISED};
    bool asked = starts[step] != 0;
    if (t->kept >= 0 && !asked)
        t->run[t->kept].restarted = true;
    if (t->guard >= 0 && t->guard < FS_RUNS_MAX && !asked)
        t->run[t->guard].restarted = true;
    t->guard = -1;
    t->have = t->was_up = t->was_idle = false;
    t->entries = UINT32_MAX;
    t->low_since = t->raised_since = t->link_since = TIME_UNKNOWN;
    t->clocks = (struct delay_clocks){0};
    forget(t);
    int which = asked ? starts[step] - 1 : START_UNASKED;
    if (!asked)
        note_unasked(t, m, step);
    struct failsafe_stray rose = t->start[which].rose, late = t->start[which].guard.rose;
    t->start[which] = (struct failsafe_start){.seen = true,
                                              .certain = asked || m->event->kind == EVENT_BOOT,
                                              .since_ms = m->link_ms,
                                              .since_us = m->host_us,
                                              .cause = m->cause};
    guard_begin(t, FS_RUNS_MAX + which);
    /* A button bounces: what a start just before it showed stands. */
    if (rose.reports >= FS_SURE_REPORTS || late.reports >= FS_SURE_REPORTS)
        t->start[which].rose = rose.reports >= FS_SURE_REPORTS ? rose : late;
}

/* An uptime, or a number of reports, that runs from the restart. */
static void confirm_start(struct failsafe_start *start, const struct sight *v) {
    enum { UPTIME_MS = 2000, REPORTS = 20 };
    if (start->since_ms == TIME_UNKNOWN || v->time.before_ms == TIME_UNKNOWN)
        return; /* the first report is the one that may be damaged */
    bool host = start->since_us != TIME_UNKNOWN && v->time.host_us != TIME_UNKNOWN;
    int64_t passed_ms = host ? (v->time.host_us - start->since_us) / 1000 /* a leap of t is none */
                             : v->time.link_ms - start->since_ms;
    if (report_has(v->r, KEY_T))
        start->certain = start->certain || (int64_t)v->r->t_ms <= passed_ms + UPTIME_MS;
    else if (report_has(v->r, KEY_N))
        start->certain = start->certain || v->r->n <= passed_ms + REPORTS;
}

static void follow_start(struct failsafe_trial *t, const struct sight *v, const struct moment *m) {
    if (t->guard < FS_RUNS_MAX)
        return;
    struct failsafe_start *start = &t->start[t->guard - FS_RUNS_MAX];
    confirm_start(start, v);
    if (m->heard)
        return;
    if (t->motors == 0 || some_is(t, OUTPUT_UNKNOWN))
        return;
    note_stray(t, &start->rose, running(t), start->certain);
    if (all_are(t, OUTPUT_IDLE))
        delay_add(&start->idle, v->apart_ms, v->apart_us);
}

/* --- stale packets ---------------------------------------------------------------------------- */

/* Packets that are sent twice, or a damaged digit, make a report or two of it (common practice). */
static void note_stale(struct failsafe_trial *t, const struct sight *v) {
    enum { REPORTS = 4, LONG_MS = 1000 };
    const uint32_t both = 1u << KEY_GOT | 1u << KEY_SEQ;
    struct failsafe_stale *s = &t->stale;
    bool told = (v->r->has & both) == both;
    bool stale = told && s->have && v->r->seq == s->seq && v->r->got > s->got;
    s->have = told;
    s->got = v->r->got;
    s->seq = v->r->seq;
    if (!stale) {
        s->in_row = 0;
        s->row = (struct delay_span){0};
        return;
    }
    s->in_row++;
    delay_add(&s->row, v->apart_ms, v->apart_us);
    s->shown = s->shown || (s->in_row >= REPORTS && delay_span_ms(&s->row) >= LONG_MS);
}

/* --- the fold --------------------------------------------------------------------------------- */

static void remember(struct failsafe_trial *t, const struct sight *v) {
    t->have = true;
    t->report_ms = v->time.link_ms;
    t->report_us = v->time.host_us;
    t->was_idle = all_are(t, OUTPUT_IDLE);
    t->was_up = all_are(t, OUTPUT_UP);
    t->was_fs = v->fs;
    t->was_locked = v->locked;
    t->entries = report_has(v->r, KEY_FSN) ? v->r->fsn : UINT32_MAX;
}

/* Steps in whose course missing lines hide what matters. */
static bool decisive(enum failsafe_step_id step) {
    return sticks_stay[step] || step == FS_PULL || step == FS_FADE;
}

static void take_report(struct failsafe_trial *t, const struct moment *m, const struct snapshot *s,
                        enum failsafe_step_id step) {
    struct sight v = look(t, m, step);
    note_values(t, &v, s);
    if (m->link_ms == TIME_UNKNOWN)
        return;
    t->holes += v.hole && decisive(step);
    note_stale(t, &v);
    if (step == FS_LOW) {
        memcpy(t->calm, t->steady, sizeof t->calm);
        t->calm_count = t->channels;
    }
    delay_clocks_report(&t->clocks, &v.time);
    note_conditions(t, &v, s, step);
    double lost = (double)s->last_10s.lost, all = (double)s->last_10s.got + lost;
    if (v.arrived) {
        end_outage(t, m);
        begin_outage(t, &v, s->last_10s.known && all > 0 ? lost / all : -1);
    }
    follow_outage(t, &v, step);
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
