/* What the failsafe trial shows while a step lasts. */
#include <stdarg.h>
#include <stdio.h>

#include "judge/failsafe_parts.h"

static void line(struct trial_pane *out, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static void line(struct trial_pane *out, const char *format, ...) {
    va_list values;
    if (out->lines == TRIAL_LINES_MAX)
        return;
    va_start(values, format);
    vsnprintf(out->line[out->lines++], sizeof out->line[0], format, values);
    va_end(values);
}

static void value_words(char *out, size_t size, const struct failsafe_trial *t, uint32_t motor,
                        bool known, int32_t value) {
    if (!known)
        snprintf(out, size, "unknown");
    else if (value == CHANNEL_OFF)
        snprintf(out, size, "no pulses");
    else
        snprintf(out, size, "%d (%.0f %%)", value, 100 * failsafe_travel(t, motor, value));
}

static int32_t moved(const struct failsafe_trial *t, uint32_t channel) {
    bool off = t->least[channel] == CHANNEL_OFF;
    return off ? 0 : t->most[channel] - t->least[channel];
}

/* Which one moves with the stick. */
static void which_pane(const struct failsafe_trial *t, const struct snapshot *s,
                       struct trial_pane *out) {
    enum { CLEARLY = 100 };
    int32_t most = 0;
    for (uint32_t i = 0; i < t->channels; i++)
        most = moved(t, i) > most ? moved(t, i) : most;
    for (uint32_t i = 0; i < t->channels && i < 9; i++) {
        if (t->channel[i] == CHANNEL_OFF)
            line(out, "%u  %-14.14s no pulses", i + 1, s->channel[i].name);
        else
            line(out, "%u  %-14.14s %5d  moved by %d%s", i + 1, s->channel[i].name, t->channel[i],
                 moved(t, i), most >= CLEARLY && moved(t, i) == most ? "  <- most" : "");
    }
}

/* What each output is now, to be held against the servos. */
static void servos_pane(const struct failsafe_trial *t, const struct snapshot *s,
                        struct trial_pane *out) {
    for (uint32_t i = 0; i < t->reported; i++) {
        if (t->channel[i] == CHANNEL_OFF)
            line(out, "channel %-2u %-14.14s no pulses: limp", i + 1, s->channel[i].name);
        else
            line(out, "channel %-2u %-14.14s %d", i + 1, s->channel[i].name, t->channel[i]);
    }
}

static void motor_pane(const struct failsafe_trial *t, uint32_t motor, const struct snapshot *s,
                       struct trial_pane *out) {
    uint32_t channel = (uint32_t)t->motor[motor].said.channel;
    char value[48], stick[48];
    value_words(value, sizeof value, t, motor, channel < t->reported, t->channel[channel]);
    value_words(stick, sizeof stick, t, motor, t->stick[channel] != CHANNEL_OFF, t->stick[channel]);
    line(out, "motor, channel %u: output %s, stick %s%s%s", channel + 1, value, stick,
         s->failsafe ? ", FAILSAFE" : "", s->locked ? ", locked" : "");
}

void failsafe_idle_words(const struct failsafe_trial *t, uint32_t motor, char *out, size_t size) {
    int32_t stands = t->motor[motor].stands, span = t->span_high - t->span_low;
    int32_t off = stands - (t->span_low + span / 2);
    if (off < span / 20 && off > -span / 20)
        snprintf(out, size, "middle");
    else
        snprintf(out, size, "%d", stands);
}

/* Why the step goes on waiting, where a stick that is down already can't end it. */
static void rest_pane(const struct failsafe_trial *t, struct trial_pane *out) {
    for (uint32_t i = 0; i < t->motors; i++) {
        char idle[16];
        if (!t->motor[i].stands_known || failsafe_rest_told(t, i))
            continue;
        failsafe_idle_words(t, i, idle, sizeof idle);
        line(out, "Channel %d stands at %d, %.0f %% from where it should rest.",
             t->motor[i].said.channel + 1, t->motor[i].stands, 100 * failsafe_stands_off(t, i));
        line(out, "Stick and trim down, and the motor still? Then this is its rest.");
        line(out, "Leave the trial and say so: idle = %s in the model file%s.", idle,
             t->span_told ? "" : ", or print span");
    }
}

static void run_pane(const struct failsafe_run *run, uint32_t number, struct trial_pane *out) {
    struct delay_bounds b = failsafe_low_of(run);
    if (run->low.known)
        line(out, "outage %u: at rest after %lld to %lld ms, seen so for %.0f s", number,
             (long long)b.low_ms, (long long)b.high_ms, (double)delay_span_ms(&run->stayed) / 1000);
    else
        line(out, "outage %u: %s", number,
             run->raised ? "not at rest yet" : "a throttle was not up: shows nothing");
}

/* What the step needs, against what there is of it. */
static double share(int64_t have, int64_t wanted) {
    double part = wanted > 0 ? (double)have / (double)wanted : 1;
    return part > 1 ? 1 : part < 0 ? 0 : part;
}

static double progress(const struct failsafe_trial *t, const struct trial_place *place) {
    const struct failsafe_guard *g = failsafe_guard_seen(t);
    const struct failsafe_run *run = t->count > 0 ? &t->run[t->count - 1] : NULL;
    int64_t low = t->low_since == TIME_UNKNOWN ? 0 : t->report_ms - t->low_since;
    int64_t up = t->raised_since == TIME_UNKNOWN ? 0 : t->report_ms - t->raised_since;
    switch ((enum failsafe_step_id)place->step) {
    case FS_LOW:
    case FS_STOP:
    case FS_LOWER:
    case FS_FREE:
    case FS_DOWN:
    case FS_SETTLE:
        return share(low, 1000);
    case FS_RAISE:
        return share(up, 1000);
    case FS_STAY:
        return run != NULL ? share(delay_span_ms(&run->stayed), t->rules.stay_ms) : 0;
    case FS_LONG:
        return run != NULL ? share(run->outage_ms, FS_LONG_MS) : 0;
    case FS_RESET:
        return share(delay_span_ms(&t->start[START_RESET].idle), FS_STARTED_MS);
    case FS_COLD:
        return share(delay_span_ms(&t->start[START_COLD].idle), FS_STARTED_MS);
    case FS_ON:
    case FS_START:
    case FS_PLUG:
    case FS_RETURN:
        return g == NULL ? 0 : share(g->best_ms, FS_GUARD_MS);
    default:
        return -1;
    }
}

void failsafe_pane(const void *state, const struct snapshot *s, const struct trial_place *place,
                   struct trial_pane *out) {
    const struct failsafe_trial *t = state;
    out->progress = progress(t, place);
    out->seen = out->progress >= 1;
    out->choices = t->channels < 9 ? t->channels : 9;
    if (place->step == FS_CAUTION)
        return;
    if (place->step == FS_WHICH) {
        which_pane(t, s, out);
        return;
    }
    if (place->step == FS_SERVOS) {
        servos_pane(t, s, out);
        return;
    }
    for (uint32_t i = 0; i < t->motors; i++)
        motor_pane(t, i, s, out);
    if (place->step == FS_LOW)
        rest_pane(t, out);
    if (s->outage_ms != TIME_UNKNOWN)
        line(out, "last packet %.1f s ago", (double)s->outage_ms / 1000);
    uint32_t from = t->count > 4 ? t->count - 4 : 0;
    for (uint32_t i = from; i < t->count; i++)
        run_pane(&t->run[i], i + 1, out);
}
