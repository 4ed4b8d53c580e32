/* The failsafe trial: its steps and its guide. */
#include <string.h>

#include "judge/failsafe_parts.h"
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
                .say = "Transmitter on. Bring every throttle stick to where its motor stops.",
                .waits = "packets, and every motor's output at rest"},
    [FS_STILL] = {.name = "still",
                  .say = "Look at the model: do all motors stand still?",
                  .ask = ASK_YES_NO,
                  .least_s = 1},
    [FS_RAISE] = {.name = "raise",
                  .say = "Push every throttle to about half, and leave it there.\n"
                         "Hold the other sticks off their rest too, as well as you can.",
                  .caution = motor_may_start,
                  .waits = "every motor's output up for a second"},
    [FS_RUNS_NOW] = {.name = "runs",
                     .say = "Does every motor run now? Answer no where one isn't connected:\n"
                            "then nobody can see later whether it stops.",
                     .caution = motor_may_start,
                     .ask = ASK_YES_NO,
                     .least_s = 1},
    [FS_OFF] = {.name = "off",
                .say = "Switch the transmitter off. Leave the throttle sticks up.",
                .caution = "A bad receiver keeps the motor running: hands clear. To stop it:\n"
                           "stick down, transmitter on. If that doesn't help: battery off.",
                .waits = "failsafe, and every motor's output at rest"},
    [FS_STAY] = {.name = "stay",
                 .say = "Leave the transmitter off, and the sticks up. Watch the model.",
                 .caution = "If a motor runs on: its stick down, transmitter on. If that doesn't\n"
                            "help: battery off, hands clear of propeller and wheels.",
                 .waits = "the outputs to stay safe"},
    [FS_LONG] = {.name = "long",
                 .say = "Leave it off for 70 s this once. Some receivers come back after a time:\n"
                        "a count of ms in 16 bits starts again at 65.5 s. k goes on without.",
                 .caution = motor_may_start,
                 .waits = "70 s without a packet, outputs safe all the while"},
    [FS_STOPPED] = {.name = "stopped",
                    .say = "The transmitter is still off. Did every motor lose its power\n"
                           "within about a second of your switching it off, and stay off since?",
                    .caution = "Don't touch them, even where they stand still.",
                    .ask = ASK_YES_NO,
                    .least_s = 1},
    [FS_SERVOS] = {.name = "servos",
                   .say = "Does every servo stand where the values below say?\n"
                          "1500 is the middle; 1000 and 2000 are the ends.",
                   .ask = ASK_YES_NO,
                   .least_s = 1},
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
    [FS_STOP] = {.name = "stop",
                 .say = "Stop the motors: first every throttle stick down, then the transmitter\n"
                        "on. If one still runs: battery off.",
                 .caution = "Hands clear of propeller and wheels until they stand still.",
                 .waits = "packets, and every motor's output at rest"},
    [FS_ON] = {.name = "on",
               .say = "Leave the throttle sticks up. Switch the transmitter on. Listen and look:\n"
                      "the motors must stand still until the sticks are down.",
               .caution = "If the receiver has no lock, the motor starts now: hands clear.",
               .waits = "6 s with the sticks up and the outputs at rest"},
    [FS_LOWER] = {.name = "lower",
                  .say = "Bring every throttle stick to where its motor stops.\n"
                         "Then switch the transmitter on, if it is off.",
                  .waits = "the outputs to follow the sticks again"},
    [FS_QUIET] = {.name = "quiet",
                  .say = "From the moment the transmitter came on until the sticks were down:\n"
                         "did all motors stand still?",
                  .ask = ASK_YES_NO,
                  .least_s = 1},
    [FS_START] = {.name = "start",
                  .say = "Transmitter stays on. Push the throttles up. Then take the receiver's\n"
                         "supply away for 3 s, and give it back. k goes on without.",
                  .caution = motor_may_start,
                  .waits = "the receiver's start, then 6 s with the outputs at rest"},
    [FS_FREE] = {.name = "free",
                 .say = "Bring every throttle stick to where its motor stops.",
                 .waits = "the outputs to follow the sticks again"},
    [FS_PULL] = {.name = "pull",
                 .say = "Push the throttles up. Then pull the supply wire of the radio module\n"
                        "in the receiver. k goes on without.",
                 .caution = "Touch nothing else. The motor may run: hands clear of it.",
                 .waits = "failsafe, and every motor's output at rest"},
    [FS_PLUG] = {.name = "plug",
                 .say = "Put that wire back. Leave the throttle sticks up.",
                 .caution = motor_may_start,
                 .waits = "packets again, then 6 s with the outputs at rest",
                 .most_s = 60},
    [FS_DOWN] = {.name = "down",
                 .say = "Bring every throttle stick to where its motor stops.",
                 .waits = "the outputs to follow the sticks again"},
    [FS_FADE] = {.name = "fade",
                 .say = "Push the throttles up. Then let the signal fade slowly: turn the\n"
                        "transmit power down, or have a helper walk away with the\n"
                        "transmitter, until failsafe comes. k goes on without.",
                 .caution = "The model stays held. Whoever walks: mind the way.",
                 .waits = "growing loss, then failsafe and outputs at rest"},
    [FS_RETURN] = {.name = "return",
                   .say = "Come back, or turn the power up. Leave the throttle sticks up.",
                   .caution = motor_may_start,
                   .waits = "packets again, then 6 s with the outputs at rest"},
    [FS_SETTLE] = {.name = "settle",
                   .say =
                       "Bring every throttle stick to where its motor stops. Power back to full.",
                   .waits = "the outputs to follow the sticks again"},
};

/* What only the person can see, by the step that asks for it. */
static const int questions[FS_STEPS] = {[FS_STILL] = 1 + ASKED_STILL,
                                        [FS_RUNS_NOW] = 1 + ASKED_RUNS,
                                        [FS_STOPPED] = 1 + ASKED_STOPPED,
                                        [FS_SERVOS] = 1 + ASKED_SERVOS,
                                        [FS_QUIET] = 1 + ASKED_QUIET};

static void begin(void *state, const struct trial_rules *rules) {
    struct failsafe_trial *t = state;
    t->rules = *rules;
    t->motors = rules->bench.motors;
    for (uint32_t i = 0; i < t->motors; i++)
        t->motor[i].said = rules->bench.motor[i];
    t->span_low = 1000;
    t->span_high = 2000;
    t->kept = t->guard = -1;
    t->entries = UINT32_MAX;
    t->longest_ride = -1;
    t->report_ms = t->report_us = TIME_UNKNOWN;
    t->low_since = t->raised_since = t->link_since = TIME_UNKNOWN;
}

/* An answer counts while what it is about is there: a motor that was seen to stand still with its
 * stick up says nothing of its rest. */
static bool fits(const struct failsafe_trial *t, enum failsafe_step_id step) {
    enum failsafe_output wanted = step == FS_STILL ? OUTPUT_IDLE : OUTPUT_UP;
    if (step == FS_STOPPED || step == FS_SERVOS)
        return t->kept >= 0;
    for (uint32_t i = 0; i < t->motors && step != FS_QUIET; i++)
        if (failsafe_output(t, i) != wanted)
            return false;
    return true;
}

enum { MISFITS = 3 }; /* so often a question is asked again */

static void take_answer(struct failsafe_trial *t, enum failsafe_step_id step,
                        const struct trial_place *place) {
    if (questions[step] == 0 || t->answered || (!place->answered && !place->skipped))
        return;
    struct failsafe_answers *a = &t->answers[questions[step] - 1];
    t->answered = true;
    if (place->answered && !fits(t, step)) {
        a->left += ++a->misfits == MISFITS;
        return;
    }
    a->left += !place->answered;
    a->yes += place->answered && place->answer == 1;
    a->no += place->answered && place->answer == 0;
}

static void take(void *state, const struct moment *m, const struct snapshot *s,
                 const struct trial_place *place, bool entered) {
    struct failsafe_trial *t = state;
    enum failsafe_step_id step = (enum failsafe_step_id)place->step;
    if (entered) {
        t->low_since = t->raised_since = t->link_since = TIME_UNKNOWN;
        t->answered = false;
    }
    if (step == FS_WHICH && place->answered && place->answer < t->channels) {
        t->motors = 1;
        t->motor[0].said = (struct motor){.channel = (int16_t)place->answer, .idle = IDLE_LOW};
    }
    t->no_more = t->no_more || (step == FS_OFF && place->skipped);
    t->long_left = t->long_left || (step == FS_LONG && (place->skipped || place->answered));
    take_answer(t, step, place);
    failsafe_watch(t, m, s, step);
}

/* --- the guide -------------------------------------------------------------------------------- */

static bool held_for(const struct failsafe_trial *t, int64_t since, int64_t ms) {
    return since != TIME_UNKNOWN && t->report_ms - since >= ms;
}

/* No failsafe at all, or a motor that runs on: nothing more is to be raised. */
static bool hopeless(const struct failsafe_trial *t) {
    for (uint32_t i = 0; i < t->count; i++)
        if (failsafe_never_low(t, &t->run[i]))
            return true;
    return t->answers[ASKED_STOPPED].no + t->answers[ASKED_STILL].no > 0;
}

static bool long_done(const struct failsafe_trial *t) {
    for (uint32_t i = 0; i < t->count; i++)
        if (failsafe_long(&t->run[i]))
            return true;
    return t->long_left;
}

static bool runs_are_over(const struct failsafe_trial *t) {
    return t->no_more || t->tries >= FS_TRIES_MAX || t->count >= FS_RUNS_MAX - 2;
}

static bool enough_runs(const struct failsafe_trial *t) {
    return runs_are_over(t) || (failsafe_counted(t) >= FS_RUNS_WANTED && long_done(t));
}

static const struct failsafe_run *newest_run(const struct failsafe_trial *t) {
    return t->count > 0 ? &t->run[t->count - 1] : NULL;
}

/* The outage that this step asked for has shown what it can. */
static bool outage_shown(const struct failsafe_trial *t, enum failsafe_how how) {
    const struct failsafe_run *run = newest_run(t);
    if (t->kept < 0 || run == NULL || run->how != how)
        return false;
    bool entered = run->enter.known || !t->has_fs;
    bool low = run->low.known || (!run->raised && t->was_idle) || t->motors == 0;
    return (entered && low) || run->outage_ms >= FS_NEVER_MS;
}

/* The transmitter came back before the step was over, or the receiver restarted. */
static bool came_back(const struct failsafe_trial *t) {
    const struct failsafe_run *run = newest_run(t);
    return t->kept < 0 && run != NULL &&
           (run->restarted || (run->again && failsafe_is_back(&run->guard)));
}

/* One packet came, or a damaged counter looked like it, and none since: this outage shows no
 * more. */
static bool spoiled(const struct failsafe_trial *t) {
    enum { SINCE_MS = 2000 };
    const struct failsafe_run *run = newest_run(t);
    return t->kept < 0 && run != NULL && run->again && !came_back(t) &&
           t->now.outage_ms >= SINCE_MS;
}

static bool sure(const struct failsafe_stray *stray) {
    return stray->reports >= FS_SURE_REPORTS;
}

static bool guard_shown(const struct failsafe_trial *t, int64_t since_ms) {
    const struct failsafe_guard *g = failsafe_guard_seen(t);
    if (g == NULL)
        return t->link_since != TIME_UNKNOWN && t->link_since >= since_ms &&
               held_for(t, t->link_since, 1000);
    return g->heard && (g->best_ms >= FS_GUARD_MS || sure(&g->rose) ||
                        (!t->has_in && held_for(t, t->link_since, FS_GUARD_MS)));
}

static bool asked(const struct failsafe_trial *t, enum failsafe_question q) {
    return t->answers[q].yes + t->answers[q].no + t->answers[q].left > 0;
}

/* The transmitter comes on again: with the sticks up, or to stop a motor that runs. */
static int switch_on(const struct failsafe_trial *t) {
    return hopeless(t) ? FS_STOP : FS_ON;
}

static int after_stopped(const struct failsafe_trial *t) {
    bool last = enough_runs(t) && !hopeless(t) && !t->no_more && !came_back(t);
    return last ? FS_RESET : switch_on(t);
}

static int stay_next(const struct failsafe_trial *t, const struct trial_place *place) {
    const struct failsafe_run *run = newest_run(t);
    if (came_back(t) || run == NULL)
        return switch_on(t);
    bool stopped = place->skipped || sure(&run->left) || hopeless(t) || spoiled(t);
    bool last = failsafe_counted(t) >= FS_RUNS_WANTED || t->tries >= FS_TRIES_MAX;
    if (stopped || (!run->low.known && run->outage_ms >= FS_NEVER_MS))
        return FS_STOPPED;
    if (delay_span_ms(&run->stayed) < t->rules.stay_ms)
        return TRIAL_STAY;
    return last && run->low.known && !long_done(t) ? FS_LONG : FS_STOPPED;
}

static int long_next(const struct failsafe_trial *t, const struct trial_place *place) {
    const struct failsafe_run *run = newest_run(t);
    if (came_back(t) || run == NULL)
        return switch_on(t);
    bool over = place->skipped || sure(&run->left) || spoiled(t) || run->outage_ms >= FS_LONG_MS;
    return over ? FS_STOPPED : TRIAL_STAY;
}

static int started_next(const struct failsafe_trial *t, const struct trial_place *place,
                        enum failsafe_start_id which, int next) {
    const struct failsafe_start *start = &t->start[which];
    if (start->guard.heard || (!start->seen && t->link_since != TIME_UNKNOWN))
        return FS_ON; /* the transmitter is on already */
    bool over =
        place->skipped || sure(&start->rose) || delay_span_ms(&start->idle) >= FS_STARTED_MS;
    return over ? next : TRIAL_STAY;
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
    if (came_back(t) && t->run[t->count - 1].guard.back.low_ms >= place->since_ms)
        return switch_on(t); /* and on again at once */
    return outage_shown(t, HOW_SWITCHED) ? FS_STAY : TRIAL_STAY;
}

/* An outage by another cause: pulled wire, fade. */
static int other_outage(const struct failsafe_trial *t, const struct trial_place *place,
                        enum failsafe_how how, int shown, int without) {
    if (place->skipped)
        return without;
    return outage_shown(t, how) ? shown : TRIAL_STAY;
}

static int quiet_next(const struct failsafe_trial *t, const struct trial_place *place) {
    if (!place->answered && !place->skipped)
        return TRIAL_STAY;
    bool ran = t->answers[ASKED_QUIET].no > 0; /* nothing more is to be raised then either */
    return hopeless(t) || ran ? TRIAL_GO_END : enough_runs(t) ? FS_START : FS_RAISE;
}

/* The ways that may be left out. */
static int other_ways(const struct failsafe_trial *t, const struct trial_place *place, bool low,
                      bool guarded) {
    switch ((enum failsafe_step_id)place->step) {
    case FS_START:
        return raised_start_next(t, place);
    case FS_FREE:
        return wait_for(low, place, FS_PULL);
    case FS_PULL:
        return other_outage(t, place, HOW_PULLED, FS_PLUG, FS_FADE);
    case FS_PLUG:
        return wait_for(guarded, place, FS_DOWN);
    case FS_DOWN:
        return wait_for(low, place, FS_FADE);
    case FS_FADE:
        return other_outage(t, place, HOW_FADED, FS_RETURN, TRIAL_GO_END);
    case FS_RETURN:
        return wait_for(guarded, place, FS_SETTLE);
    default:
        return wait_for(low, place, TRIAL_GO_END);
    }
}

static int next(const void *state, const struct snapshot *s, const struct trial_place *place) {
    const struct failsafe_trial *t = state;
    bool low = held_for(t, t->low_since, 1000), guarded = guard_shown(t, place->since_ms);
    (void)s;
    switch ((enum failsafe_step_id)place->step) {
    case FS_CAUTION:
        return wait_for(place->answered, place, t->motors == 0 ? FS_WHICH : FS_LOW);
    case FS_WHICH:
        return place->skipped || t->motors > 0 ? FS_LOW : TRIAL_STAY;
    case FS_LOW:
        return wait_for(low, place, FS_STILL);
    case FS_STILL:
        return wait_for(place->answered, place,
                        hopeless(t)             ? TRIAL_GO_END
                        : asked(t, ASKED_STILL) ? FS_RAISE
                                                : FS_LOW);
    case FS_RAISE:
        return wait_for(held_for(t, t->raised_since, 1000), place,
                        asked(t, ASKED_RUNS) ? FS_OFF : FS_RUNS_NOW);
    case FS_RUNS_NOW:
        return wait_for(place->answered, place, asked(t, ASKED_RUNS) ? FS_OFF : FS_RAISE);
    case FS_OFF:
        return switch_off_next(t, place);
    case FS_STAY:
        return stay_next(t, place);
    case FS_LONG:
        return long_next(t, place);
    case FS_STOPPED:
        return wait_for(place->answered || came_back(t), place,
                        asked(t, ASKED_SERVOS) || hopeless(t) || came_back(t) ? after_stopped(t)
                                                                              : FS_SERVOS);
    case FS_SERVOS:
        return wait_for(place->answered || came_back(t), place, after_stopped(t));
    case FS_RESET:
        return started_next(t, place, START_RESET, FS_COLD);
    case FS_COLD:
        return started_next(t, place, START_COLD, FS_ON);
    case FS_STOP:
        return wait_for(low, place, TRIAL_GO_END);
    case FS_ON:
        return wait_for(guarded, place, FS_LOWER);
    case FS_LOWER:
        return wait_for(low, place,
                        t->count == 0 ? FS_START
                        : hopeless(t) ? TRIAL_GO_END
                                      : FS_QUIET);
    case FS_QUIET:
        return quiet_next(t, place);
    default:
        return other_ways(t, place, low, guarded);
    }
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
    .pane = failsafe_pane,
    .judge = failsafe_judge,
};
