/* The failsafe trial: its steps, its guide, its pane. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "trial/failsafe_parts.h"
#include "trial/kinds.h"

static const char motor_may_start[] = "The motor may start: propeller off, hands clear.";

static const struct trial_step steps[FS_STEPS] = {
    [FS_CAUTION] = {.name = "caution",
                    .say =
                        "In this trial the throttle goes up, and the transmitter goes off while\n"
                        "it is up. Only here: otherwise it is the first on and the last off.",
                    .caution = "Propeller off, or wheels off the ground. Model held fast.\n"
                               "Hands and faces clear. Nobody else near it.",
                    .ask = ASK_YES},
    [FS_WHICH] = {.name = "which",
                  .say = "Which channel is the throttle? Move its stick, see which value\n"
                         "moves with it below, and press that number.",
                  .caution = motor_may_start,
                  .ask = ASK_CHOICE,
                  .choices = "channel 1|channel 2|channel 3|channel 4|channel 5|channel 6|"
                             "channel 7|channel 8|channel 9"},
    [FS_LOW] = {.name = "low",
                .say = "Transmitter on. Pull the throttle all the way down.",
                .waits = "packets, and the throttle's output low and free"},
    [FS_RAISE] = {.name = "raise",
                  .say = "Push the throttle up to about half, and leave it there.\n"
                         "Hold another stick off its centre too, if you can.",
                  .caution = motor_may_start,
                  .waits = "the throttle's output up for a second"},
    [FS_OFF] = {.name = "off",
                .say = "Switch the transmitter off. Leave the throttle stick up.",
                .waits = "failsafe, and the throttle's output low"},
    [FS_STAY] = {.name = "stay",
                 .say = "Leave the transmitter off, and the stick up. Watch the model.",
                 .waits = "the outputs to stay safe"},
    [FS_RESET] = {.name = "reset",
                  .say = "Transmitter stays off. Press the receiver's reset button.\n"
                         "If it has none: k goes on without.",
                  .caution = motor_may_start,
                  .waits = "the receiver's start, then 2 s of safe outputs"},
    [FS_COLD] = {.name = "cold",
                 .say = "Transmitter stays off. Take the receiver's supply away for 3 s, and\n"
                        "give it back. If that can't be done here: k goes on without.",
                 .caution = motor_may_start,
                 .waits = "the receiver's start, then 2 s of safe outputs"},
    [FS_ON] = {.name = "on",
               .say = "Leave the throttle stick up. Switch the transmitter on.",
               .caution = "If the receiver has no lock, the motor starts now: hands clear.",
               .waits = "3 s with the stick up and the output low"},
    [FS_LOWER] = {.name = "lower",
                  .say = "Pull the throttle all the way down.",
                  .waits = "the outputs to follow the sticks again"},
    [FS_START] = {.name = "start",
                  .say = "Transmitter stays on. Push the throttle up. Then take the receiver's\n"
                         "supply away for 3 s, and give it back. k goes on without.",
                  .caution = motor_may_start,
                  .waits = "the receiver's start, then 3 s with the output low"},
    [FS_FREE] = {.name = "free",
                 .say = "Pull the throttle all the way down.",
                 .waits = "the outputs to follow the sticks again"},
    [FS_PULL] = {.name = "pull",
                 .say = "Push the throttle up. Then pull the supply wire of the radio module\n"
                        "in the receiver. k goes on without.",
                 .caution = "Touch nothing else. The motor may run: hands clear of it.",
                 .waits = "failsafe, and the throttle's output low"},
    [FS_PLUG] = {.name = "plug",
                 .say = "Put that wire back. Leave the throttle stick up.",
                 .caution = motor_may_start,
                 .waits = "packets again, then 3 s with the output low",
                 .most_s = 60},
    [FS_DOWN] = {.name = "down",
                 .say = "Pull the throttle all the way down.",
                 .waits = "the outputs to follow the sticks again"},
    [FS_FADE] = {.name = "fade",
                 .say = "Push the throttle up. Then let the signal fade slowly: turn the\n"
                        "transmit power down, or have a helper walk away with the\n"
                        "transmitter, until failsafe comes. k goes on without.",
                 .caution = "The model stays held. Whoever walks: mind the way.",
                 .waits = "growing loss, then failsafe and a low throttle"},
    [FS_RETURN] = {.name = "return",
                   .say = "Come back, or turn the power up. Leave the throttle stick up.",
                   .caution = motor_may_start,
                   .waits = "packets again, then 3 s with the output low"},
    [FS_SETTLE] = {.name = "settle",
                   .say = "Pull the throttle all the way down. Power back to full.",
                   .waits = "the outputs to follow the sticks again"},
};

static void begin(void *state, const struct trial_rules *rules) {
    struct failsafe_trial *t = state;
    t->rules = *rules;
    t->throttle = rules->bench.throttle;
    t->span_low = 1000;
    t->span_high = 2000;
    t->kept = t->guard = -1;
    t->entries = UINT32_MAX;
    t->longest_ride = t->shortest_trip = -1;
    t->since_low = t->since_high = -1;
    t->report_ms = t->low_since = t->raised_since = t->link_since = TIME_UNKNOWN;
}

static void take(void *state, const struct moment *m, const struct snapshot *s,
                 const struct trial_place *place, bool entered) {
    struct failsafe_trial *t = state;
    enum failsafe_step_id step = (enum failsafe_step_id)place->step;
    if (entered)
        t->low_since = t->raised_since = t->link_since = TIME_UNKNOWN;
    if (step == FS_WHICH && place->answered)
        t->throttle = (int16_t)place->answer;
    if (step == FS_OFF && place->skipped)
        t->no_more = true;
    failsafe_watch(t, m, s, step);
}

/* --- the guide -------------------------------------------------------------------------------- */

static bool held_for(const struct failsafe_trial *t, int64_t since, int64_t ms) {
    return since != TIME_UNKNOWN && t->report_ms - since >= ms;
}

/* A switch-off that proves something of the throttle, one way or the other. */
static bool counts(const struct failsafe_trial *t, const struct failsafe_run *run) {
    return run->how == HOW_SWITCHED && run->raised &&
           (failsafe_known(run->low) || run->raised_ms > t->rules.throttle_low_ms);
}

/* No failsafe at all: there is nothing to go on for, and the motor runs. */
static bool hopeless(const struct failsafe_trial *t) {
    for (uint32_t i = 0; i < t->count; i++)
        if (t->run[i].raised && !failsafe_known(t->run[i].low) && counts(t, &t->run[i]))
            return true;
    return false;
}

static uint32_t runs_done(const struct failsafe_trial *t) {
    uint32_t done = 0;
    for (uint32_t i = 0; i < t->count; i++)
        done += counts(t, &t->run[i]);
    return done;
}

static bool enough_runs(const struct failsafe_trial *t) {
    return t->no_more || runs_done(t) >= FS_RUNS_WANTED || t->tries >= FS_TRIES_MAX ||
           t->count >= FS_RUNS_MAX - 2;
}

static const struct failsafe_run *newest_run(const struct failsafe_trial *t) {
    return t->count > 0 ? &t->run[t->count - 1] : NULL;
}

/* The silence that this step asked for has shown what it can. */
static bool silence_shown(const struct failsafe_trial *t, enum failsafe_how how) {
    const struct failsafe_run *run = newest_run(t);
    if (t->kept < 0 || run == NULL || run->how != how)
        return false;
    bool entered = failsafe_known(run->enter) || !t->has_fs;
    bool low = failsafe_known(run->low) || (!run->raised && t->was_idle) || t->throttle < 0;
    return (entered && low) || run->silent_ms >= FS_NEVER_MS;
}

/* The transmitter came back before the step was over. */
static bool came_back(const struct failsafe_trial *t) {
    const struct failsafe_run *run = newest_run(t);
    return t->kept < 0 && run != NULL && (run->again || run->restarted);
}

static bool guard_shown(const struct failsafe_trial *t, int64_t since_ms) {
    const struct failsafe_guard *g = failsafe_guard_seen(t);
    if (g == NULL)
        return t->link_since != TIME_UNKNOWN && t->link_since >= since_ms &&
               held_for(t, t->link_since, 1000);
    bool told = t->has_in || t->has_lock;
    return g->heard && (g->held_ms >= FS_GUARD_MS || g->locked_ms >= FS_GUARD_MS || g->rose ||
                        (!told && held_for(t, t->link_since, FS_GUARD_MS)));
}

static int after_stay(const struct failsafe_trial *t) {
    return came_back(t) || t->no_more || hopeless(t) ? FS_ON : enough_runs(t) ? FS_RESET : FS_ON;
}

static int stay_next(const struct failsafe_trial *t) {
    const struct failsafe_run *run = newest_run(t);
    bool over = run == NULL || run->left || run->stayed_ms >= t->rules.stay_ms ||
                (!failsafe_known(run->low) && run->silent_ms >= FS_NEVER_MS);
    return over || came_back(t) ? after_stay(t) : TRIAL_STAY;
}

static int started_next(const struct failsafe_trial *t, const struct trial_place *place,
                        enum failsafe_start_id which, int next) {
    const struct failsafe_start *start = &t->start[which];
    if (start->guard.heard || (!start->seen && t->link_since != TIME_UNKNOWN))
        return FS_ON; /* the transmitter is on already */
    return place->skipped || start->rose || start->idle_ms >= FS_STARTED_MS ? next : TRIAL_STAY;
}

static int raised_start_next(const struct failsafe_trial *t, const struct trial_place *place) {
    if (place->skipped)
        return FS_PULL;
    bool shown = t->start[START_RAISED].seen && guard_shown(t, place->since_ms);
    return shown ? FS_FREE : TRIAL_STAY;
}

static int wait_for(bool done, const struct trial_place *place, int next) {
    return done || place->skipped ? next : TRIAL_STAY;
}

static int switch_off_next(const struct failsafe_trial *t, const struct trial_place *place) {
    if (place->skipped)
        return FS_LOWER;
    if (t->count > 0 && came_back(t) && t->run[t->count - 1].guard.back.low_ms >= place->since_ms)
        return FS_ON; /* and on again at once */
    return silence_shown(t, HOW_SWITCHED) ? FS_STAY : TRIAL_STAY;
}

/* A silence by another cause: pulled wire, fade. */
static int other_silence(const struct failsafe_trial *t, const struct trial_place *place,
                         enum failsafe_how how, int shown, int without) {
    if (place->skipped)
        return without;
    return silence_shown(t, how) ? shown : TRIAL_STAY;
}

static int next(const void *state, const struct snapshot *s, const struct trial_place *place) {
    const struct failsafe_trial *t = state;
    bool low = held_for(t, t->low_since, 1000), guarded = guard_shown(t, place->since_ms);
    (void)s;
    switch ((enum failsafe_step_id)place->step) {
    case FS_CAUTION:
        return wait_for(place->answered, place, t->throttle < 0 ? FS_WHICH : FS_LOW);
    case FS_WHICH:
        return wait_for(place->answered, place, FS_LOW);
    case FS_LOW:
        return wait_for(low, place, FS_RAISE);
    case FS_RAISE:
        return wait_for(held_for(t, t->raised_since, 1000), place, FS_OFF);
    case FS_OFF:
        return switch_off_next(t, place);
    case FS_STAY:
        return place->skipped ? after_stay(t) : stay_next(t);
    case FS_RESET:
        return started_next(t, place, START_RESET, FS_COLD);
    case FS_COLD:
        return started_next(t, place, START_COLD, FS_ON);
    case FS_ON:
        return wait_for(guarded, place, FS_LOWER);
    case FS_LOWER:
        return wait_for(low, place,
                        hopeless(t)      ? TRIAL_GO_END
                        : enough_runs(t) ? FS_START
                                         : FS_RAISE);
    case FS_START:
        return raised_start_next(t, place);
    case FS_FREE:
        return wait_for(low, place, FS_PULL);
    case FS_PULL:
        return other_silence(t, place, HOW_PULLED, FS_PLUG, FS_FADE);
    case FS_PLUG:
        return wait_for(guarded, place, FS_DOWN);
    case FS_DOWN:
        return wait_for(low, place, FS_FADE);
    case FS_FADE:
        return other_silence(t, place, HOW_FADED, FS_RETURN, TRIAL_GO_END);
    case FS_RETURN:
        return wait_for(guarded, place, FS_SETTLE);
    default:
        return wait_for(low, place, TRIAL_GO_END);
    }
}

/* --- the pane --------------------------------------------------------------------------------- */

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

static void value_words(char *out, size_t size, const struct failsafe_trial *t, bool known,
                        int32_t value) {
    if (!known)
        snprintf(out, size, "?");
    else if (value == CHANNEL_OFF)
        snprintf(out, size, "no pulses");
    else
        snprintf(out, size, "%d (%.0f %%)", value, 100 * failsafe_travel(t, value));
}

static int32_t moved(const struct failsafe_trial *t, uint32_t channel) {
    bool off = t->least[channel] == CHANNEL_OFF;
    return off ? 0 : t->most[channel] - t->least[channel];
}

static void channels_pane(const struct failsafe_trial *t, const struct snapshot *s,
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

static void run_pane(const struct failsafe_run *run, uint32_t number, struct trial_pane *out) {
    char low[60] = "not low yet", enter[60] = "";
    if (failsafe_known(run->low))
        snprintf(low, sizeof low, "throttle low after %lld to %lld ms", (long long)run->low.low_ms,
                 (long long)run->low.high_ms);
    else if (!run->raised)
        snprintf(low, sizeof low, "throttle was not up: proves nothing");
    if (failsafe_known(run->enter))
        snprintf(enter, sizeof enter, "failsafe after %lld to %lld ms, ",
                 (long long)run->enter.low_ms, (long long)run->enter.high_ms);
    line(out, "silence %u: %s%s", number, enter, low);
}

/* What the step needs, against what there is of it. */
static double share(int64_t have, int64_t wanted) {
    double part = wanted > 0 ? (double)have / (double)wanted : 1;
    return part > 1 ? 1 : part < 0 ? 0 : part;
}

static double progress(const struct failsafe_trial *t, const struct trial_place *place) {
    const struct failsafe_guard *g = failsafe_guard_seen(t);
    const struct failsafe_run *run = newest_run(t);
    int64_t low = t->low_since == TIME_UNKNOWN ? 0 : t->report_ms - t->low_since;
    int64_t up = t->raised_since == TIME_UNKNOWN ? 0 : t->report_ms - t->raised_since;
    switch ((enum failsafe_step_id)place->step) {
    case FS_LOW:
    case FS_LOWER:
    case FS_FREE:
    case FS_DOWN:
    case FS_SETTLE:
        return share(low, 1000);
    case FS_RAISE:
        return share(up, 1000);
    case FS_STAY:
        return run != NULL ? share(run->stayed_ms, t->rules.stay_ms) : 0;
    case FS_RESET:
        return share(t->start[START_RESET].idle_ms, FS_STARTED_MS);
    case FS_COLD:
        return share(t->start[START_COLD].idle_ms, FS_STARTED_MS);
    case FS_ON:
    case FS_START:
    case FS_PLUG:
    case FS_RETURN:
        return g == NULL
                   ? 0
                   : share(g->held_ms > g->locked_ms ? g->held_ms : g->locked_ms, FS_GUARD_MS);
    default:
        return -1;
    }
}

static void pane(const void *state, const struct snapshot *s, const struct trial_place *place,
                 struct trial_pane *out) {
    const struct failsafe_trial *t = state;
    char value[40], stick[40];
    out->progress = progress(t, place);
    out->seen = out->progress >= 1;
    if (place->step == FS_CAUTION)
        return;
    if (place->step == FS_WHICH) {
        channels_pane(t, s, out);
        return;
    }
    value_words(value, sizeof value, t, t->value_known, t->value);
    value_words(stick, sizeof stick, t, t->stick_known, t->stick);
    line(out, "throttle: output %s, stick %s%s%s", value, stick, s->failsafe ? ", FAILSAFE" : "",
         s->locked ? ", locked" : "");
    if (s->silence_ms != TIME_UNKNOWN)
        line(out, "last packet %.1f s ago", (double)s->silence_ms / 1000);
    line(out, "switch-offs that count: %u of %d", runs_done(t), FS_RUNS_WANTED);
    uint32_t from = t->count > 4 ? t->count - 4 : 0;
    for (uint32_t i = from; i < t->count; i++)
        run_pane(&t->run[i], i + 1, out);
}

const struct trial_kind trial_failsafe = {
    .name = "failsafe",
    .title = "Failsafe: does the model stop when the signal is gone?",
    .about = "the model stops when the signal is gone, and stays so",
    .steps = steps,
    .step_count = FS_STEPS,
    .size = sizeof(struct failsafe_trial),
    .begin = begin,
    .take = take,
    .next = next,
    .pane = pane,
    .judge = failsafe_judge,
};
