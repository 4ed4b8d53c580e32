/* What the failsafe trial proves: the claims of airleash-failsafe(7), each with what it rests on. A
 * limit that lies between the bounds of what was measured is neither kept nor broken: more reports
 * a second would tell.  What wasn't seen is not shown. */
#include <stdio.h>
#include <string.h>

#include "base/text.h"
#include "judge/failsafe_parts.h"

enum {
    SAME = 3,      /* units: an output that is held or preset stands still */
    HELD = 12,     /* and was held if it lies so near to where the stick's noise left it */
    OFF_REST = 100 /* a stick farther from its rest was moved on purpose */
};

static long long ll(int64_t value) {
    return (long long)value;
}

static double seconds(int64_t ms) {
    return (double)ms / 1000;
}

static enum trial_verdict within(int64_t low_ms, int64_t high_ms, int64_t limit_ms) {
    return low_ms == TIME_UNKNOWN || high_ms == TIME_UNKNOWN ? TRIAL_NOT_SHOWN
           : high_ms <= limit_ms                             ? TRIAL_PASSED
           : low_ms > limit_ms                               ? TRIAL_FAILED
                                                             : TRIAL_NOT_SHOWN;
}

static bool switched(const struct failsafe_run *run) {
    return run->how == HOW_SWITCHED;
}

static bool sure(const struct failsafe_stray *stray) {
    return stray->reports >= FS_SURE_REPORTS;
}

static struct trial_finding *not_shown(struct trial_outcome *out, const char *name,
                                       const char *missing, const char *why) {
    struct trial_finding *f = trial_find(out, name, TRIAL_NOT_SHOWN, "%s", why);
    f->missing = missing;
    return f;
}

static void add(struct trial_finding *f, const char *text) {
    size_t len = strlen(f->text);
    snprintf(f->text + len, sizeof f->text - len, "%s", text);
}

/* Lines that are missing where it matters are the cable's fault, not the receiver's. */
static void blame_cable(const struct failsafe_trial *t, struct trial_finding *f) {
    if (t->holes > 0 && f->missing == NULL)
        add(f, " Lines were lost or damaged on the cable in these steps: mend that first.");
}

/* Not answered, or the trial ended before it asked. */
static void unanswered(const struct failsafe_trial *t, struct trial_outcome *out, const char *name,
                       enum failsafe_question q, const char *whether) {
    const struct failsafe_answers *a = &t->answers[q];
    bool asked = a->yes + a->no + a->left + a->misfits > 0;
    trial_find(out, name, TRIAL_NOT_SHOWN, "%s %s.",
               asked ? "Nobody said" : "The trial didn't come to the question", whether);
}

/* --- where the motors rest -------------------------------------------------------------------- */

static void judge_rest_told(const struct failsafe_trial *t, struct trial_outcome *out, uint32_t i) {
    static const char *const wheres[] = {"the low end", "the high end", "the middle", "its idle"};
    const struct motor *said = &t->motor[i].said;
    char idle[16];
    failsafe_idle_words(t, i, idle, sizeof idle);
    struct trial_finding *f = trial_find(
        out, "idle", TRIAL_NOT_SHOWN,
        "With the stick down channel %d stood at %d, %.0f %% of the travel from %s (%d). If the "
        "motor rests there, say idle = %s in the model file%s.",
        said->channel + 1, t->motor[i].stands, 100 * failsafe_stands_off(t, i), wheres[said->idle],
        motor_idle_value(said, t->span_low, t->span_high), idle,
        t->span_told ? "" : ", or print span");
    f->missing = t->span_told ? NULL : "span";
}

static void rest_words(const struct failsafe_trial *t, char *out, size_t size) {
    struct text words;
    text_init(&words, out, size);
    for (uint32_t i = 0; i < t->motors; i++) {
        char one[40];
        snprintf(one, sizeof one, "%schannel %d at %d", i > 0 ? ", " : "",
                 t->motor[i].said.channel + 1, t->motor[i].rest);
        text_string(&words, one);
    }
}

static void judge_idle(const struct failsafe_trial *t, struct trial_outcome *out) {
    const struct failsafe_answers *still = &t->answers[ASKED_STILL];
    char rests[120];
    if (t->motors == 0) {
        not_shown(out, "idle", NULL,
                  "Nobody said which channels drive a motor: throttle in the model file.");
        return;
    }
    for (uint32_t i = 0; i < t->motors; i++) {
        if (t->motor[i].rest_known && failsafe_rest_told(t, i))
            continue;
        if (t->motor[i].stands_known)
            judge_rest_told(t, out, i);
        else
            not_shown(out, "idle", NULL,
                      "Where the motors rest was not seen: sticks down, outputs steady for 1 s.");
        return;
    }
    rest_words(t, rests, sizeof rests);
    if (still->no > 0)
        trial_find(out, "idle", TRIAL_FAILED,
                   "With the sticks down a motor ran, as you saw (%s): it has no rest there.",
                   rests);
    else if (still->yes == 0)
        unanswered(t, out, "idle", ASKED_STILL,
                   "whether the motors stand still with the sticks down");
    else
        trial_find(out, "idle", TRIAL_PASSED,
                   "With the sticks down all motors stood still, as you saw (%s).", rests);
}

/* --- the motors stop -------------------------------------------------------------------------- */

static void why_no_throttle(const struct failsafe_trial *t, struct trial_outcome *out) {
    static const char name[] = "throttle_low";
    bool off = false, restarted = t->count == 0 && t->unasked_restarts > 0, low = false;
    bool unseen = false, came = false;
    const struct failsafe_run *near = NULL;
    for (uint32_t i = 0; i < t->count; i++) {
        off = off || (switched(&t->run[i]) && t->run[i].raised && t->run[i].off);
        restarted = restarted || (switched(&t->run[i]) && t->run[i].restarted);
        low = low || (switched(&t->run[i]) && !t->run[i].raised);
        unseen = unseen || (switched(&t->run[i]) && t->run[i].unseen);
        came = came || (switched(&t->run[i]) && t->run[i].raised && t->run[i].again);
        near = t->run[i].raised && t->run[i].near_value != CHANNEL_OFF ? &t->run[i] : near;
    }
    if (t->motors == 0)
        not_shown(out, name, NULL, "Nobody said which channels drive a motor.");
    else if (t->any_report && !t->has_packets)
        not_shown(out, name, "got", "When the last packet came can't be told without got.");
    else if (off)
        not_shown(out, name, NULL,
                  "The pulses stopped. A servo then stays where it was, and not every speed "
                  "controller stops. If yours does, say so: off in [failsafe] of the model file.");
    else if (near != NULL)
        trial_find(out, name, TRIAL_NOT_SHOWN,
                   "Without a packet channel %d, a motor, stood at %d; at rest it is %d. If the "
                   "motor rests there too, say idle = %d in the model file.",
                   near->near_channel + 1, near->near_value,
                   failsafe_rest(t, (uint32_t)failsafe_motor_of(t, (uint32_t)near->near_channel)),
                   near->near_value);
    else if (restarted)
        not_shown(out, name, NULL, "The receiver restarted as the signal went, or soon after.");
    else
        blame_cable(t, not_shown(out, name, NULL,
                                 unseen ? "The lines that tell whether the throttles were up "
                                          "when the signal went are missing."
                                 : low  ? "A throttle was not up when the signal went: that shows "
                                          "nothing."
                                 : came ? "A packet came after the switch-off, or a damaged "
                                          "counter looked like one: that shows nothing."
                                        : "No switch-off with the throttles up was seen."));
}

/* Both bounds at their greatest, and what contradicted. */
static void worst_of(struct delay_bounds *worst, struct delay_bounds b) {
    if (b.low_ms == TIME_UNKNOWN)
        return;
    worst->low_ms = b.low_ms > worst->low_ms ? b.low_ms : worst->low_ms;
    worst->high_ms = b.high_ms > worst->high_ms ? b.high_ms : worst->high_ms;
    worst->late_ms = b.late_ms > worst->late_ms ? b.late_ms : worst->late_ms;
    worst->apart_ms = b.apart_ms > worst->apart_ms ? b.apart_ms : worst->apart_ms;
    worst->age_lies = worst->age_lies || b.age_lies;
    worst->clock_slow = worst->clock_slow || b.clock_slow;
    worst->clock_fast = worst->clock_fast || b.clock_fast;
}

static struct delay_bounds worst_low(const struct failsafe_trial *t, uint32_t *good) {
    struct delay_bounds worst = {.low_ms = TIME_UNKNOWN, .high_ms = TIME_UNKNOWN};
    *good = 0;
    for (uint32_t i = 0; i < t->count; i++) {
        const struct failsafe_run *run = &t->run[i];
        if (!switched(run) || !run->low.known || run->off || run->restarted)
            continue;
        worst_of(&worst, failsafe_low_of(run));
        *good += 1;
    }
    return worst;
}

static void judge_throttle(const struct failsafe_trial *t, struct trial_outcome *out) {
    uint32_t good;
    struct delay_bounds worst = worst_low(t, &good);
    int limit = t->rules.throttle_low_ms;
    for (uint32_t i = 0; i < t->count; i++) {
        const struct failsafe_run *run = &t->run[i];
        if (!switched(run) || !failsafe_never_low(t, run) || !t->has_packets)
            continue;
        trial_find(out, "throttle_low", TRIAL_FAILED,
                   "Channel %d, a motor, stood at %d still %lld ms after the last packet; at rest "
                   "it is %d. The limit is %d ms.",
                   run->up_channel + 1, run->up_value, ll(run->up_ms),
                   failsafe_rest(t, (uint32_t)failsafe_motor_of(t, (uint32_t)run->up_channel)),
                   limit);
        return;
    }
    if (good == 0 || !t->has_packets) {
        why_no_throttle(t, out);
        return;
    }
    enum trial_verdict verdict = within(worst.low_ms, worst.high_ms, limit);
    struct trial_finding *f =
        trial_find(out, "throttle_low", verdict,
                   "Every motor's output was at rest %lld to %lld ms after the last packet, worst "
                   "case (limit %d ms).",
                   ll(worst.low_ms), ll(worst.high_ms), limit);
    if (verdict == TRIAL_NOT_SHOWN) {
        add(f, worst.clock_slow || worst.clock_fast
                   ? " The limit lies between: the receiver's clock and the computer's disagree."
               : worst.late_ms > worst.apart_ms
                   ? " The limit lies between: lines came late to the computer."
                   : " The limit lies between: more reports a second would tell.");
        blame_cable(t, f);
    }
    trial_measured(f, (double)worst.low_ms, (double)worst.high_ms, "ms");
}

/* Clocks that contradict each other shorten nothing; but whoever reads should know. */
static void judge_clocks(const struct failsafe_trial *t, struct trial_outcome *out) {
    uint32_t good;
    struct delay_bounds b = worst_low(t, &good);
    if (b.clock_slow || b.clock_fast)
        trial_aside(trial_find(out, "clocks", TRIAL_NOT_SHOWN,
                               "The receiver's clock ran %s than the computer's in a switch-off. "
                               "The longer time was judged.",
                               b.clock_slow ? "slower" : "faster"));
    else if (b.age_lies)
        trial_aside(trial_find(out, "clocks", TRIAL_NOT_SHOWN,
                               "age did not grow as t did: it is capped or goes round. It was not "
                               "used."));
}

/* Failsafe rests on when the last packet came; so does this trial. */
static void judge_stale(const struct failsafe_trial *t, struct trial_outcome *out) {
    if (t->stale.shown)
        not_shown(out, "packets", NULL,
                  "got grew for a second and more while seq stood still: packets were counted that "
                  "were not new. Failsafe may then come late, and this trial can't see it.");
}

static void judge_repeats(const struct failsafe_trial *t, struct trial_outcome *out) {
    uint32_t good = 0;
    double least = 0, most = 0;
    for (uint32_t i = 0; i < t->count; i++) {
        const struct failsafe_run *run = &t->run[i];
        struct delay_bounds b = failsafe_low_of(run);
        if (!failsafe_counts(t, run) || run->off || b.low_ms == TIME_UNKNOWN)
            continue;
        double middle = (double)(b.low_ms + b.high_ms) / 2;
        least = good == 0 || middle < least ? middle : least;
        most = good == 0 || middle > most ? middle : most;
        good++;
    }
    enum trial_verdict verdict = good >= FS_RUNS_WANTED ? TRIAL_PASSED : TRIAL_NOT_SHOWN;
    struct trial_finding *f =
        trial_find(out, "repeats", verdict,
                   "%u switch-off%s with the throttles up brought them to rest (%d wanted).", good,
                   good == 1 ? "" : "s", FS_RUNS_WANTED);
    if (verdict == TRIAL_NOT_SHOWN)
        blame_cable(t, f);
    if (good < 2)
        return;
    char apart[60];
    snprintf(apart, sizeof apart, " The midpoints differ by %.0f ms.", most - least);
    add(f, apart);
    trial_measured(f, least, most, "ms");
}

/* The person's eyes: the only evidence of the real motor. */
static void judge_motors_stop(const struct failsafe_trial *t, struct trial_outcome *out) {
    static const char name[] = "motors_stop";
    const struct failsafe_answers *runs = &t->answers[ASKED_RUNS];
    const struct failsafe_answers *stopped = &t->answers[ASKED_STOPPED];
    if (stopped->no > 0)
        trial_find(
            out, name, TRIAL_FAILED,
            "With the transmitter off a motor stopped late, ran on or ran again, as you saw, "
            "whatever the lines say.");
    else if (runs->no > 0)
        not_shown(out, name, NULL,
                  "A motor did not run with its throttle up: whether it stops, nobody could see.");
    else if (runs->yes == 0)
        unanswered(t, out, name, ASKED_RUNS, "whether the motors ran before the signal went");
    else if (stopped->yes < failsafe_counted(t) || stopped->yes == 0)
        unanswered(t, out, name, ASKED_STOPPED,
                   "whether the motors had stopped, in each switch-off");
    else
        trial_find(
            out, name, TRIAL_PASSED,
            "The motors ran, lost their power within about a second of each switch-off, and stayed "
            "off, as you saw (%u times).",
            stopped->yes);
}

/* --- and stay so ------------------------------------------------------------------------------ */

static const struct failsafe_run *longest_stay(const struct failsafe_trial *t) {
    const struct failsafe_run *longest = NULL;
    for (uint32_t i = 0; i < t->count; i++) {
        const struct failsafe_run *run = &t->run[i];
        if (switched(run) && run->low.known && !run->off && !run->restarted &&
            (longest == NULL || run->idle_until_ms > longest->idle_until_ms))
            longest = run;
    }
    return longest;
}

/* Every switch-off that counts was watched for as long as the rules want. */
static bool each_stayed(const struct failsafe_trial *t, const struct failsafe_run **least) {
    *least = NULL;
    for (uint32_t i = 0; i < t->count; i++) {
        const struct failsafe_run *run = &t->run[i];
        if (failsafe_counts(t, run) &&
            (*least == NULL || delay_span_ms(&run->stayed) < delay_span_ms(&(*least)->stayed)))
            *least = run;
    }
    return *least != NULL && delay_span_ms(&(*least)->stayed) >= t->rules.stay_ms;
}

static void judge_stayed(const struct failsafe_trial *t, struct trial_outcome *out,
                         const struct failsafe_run *longest) {
    static const char name[] = "stays";
    const struct failsafe_run *least;
    if (!each_stayed(t, &least)) {
        blame_cable(t, trial_find(out, name, TRIAL_NOT_SHOWN,
                                  "In one switch-off the motors were seen at rest for %.1f s only "
                                  "(%.1f s wanted): the transmitter came on early, lines were "
                                  "missing, or there are fewer than 2 reports a second.",
                                  least != NULL ? seconds(delay_span_ms(&least->stayed)) : 0.0,
                                  seconds(t->rules.stay_ms)));
        return;
    }
    bool whole = failsafe_long(longest);
    struct trial_finding *f =
        whole ? trial_find(out, name, TRIAL_PASSED,
                           "The motors stayed at rest for %.0f s without a packet: beyond a 16-bit "
                           "count of ms.",
                           seconds(longest->idle_until_ms))
              : trial_find(out, name, TRIAL_NOT_SHOWN,
                           "That the motors stay at rest is not shown beyond %.0f s: a return "
                           "after a time, or when a 16-bit count of ms wraps (65.5 s), was not "
                           "waited for.",
                           seconds(longest->idle_until_ms));
    trial_measured(f, (double)longest->idle_until_ms, (double)longest->idle_until_ms, "ms");
}

static void judge_stays(const struct failsafe_trial *t, struct trial_outcome *out) {
    static const char name[] = "stays";
    const struct failsafe_run *longest = longest_stay(t);
    const struct failsafe_stray *once = NULL;
    for (uint32_t i = 0; i < t->count; i++) {
        const struct failsafe_stray *left = &t->run[i].left;
        once = left->once ? left : once;
        if (!sure(left))
            continue;
        trial_find(out, name, TRIAL_FAILED,
                   "Without a packet channel %d, a motor, left its rest again, to %d.",
                   left->channel + 1, left->value);
        return;
    }
    if (once != NULL)
        trial_find(out, name, TRIAL_NOT_SHOWN,
                   "One report showed channel %d, a motor, at %d without a packet: a damaged line, "
                   "or a short jump.",
                   once->channel + 1, once->value);
    else if (longest == NULL)
        blame_cable(t, not_shown(out, name, NULL,
                                 "No switch-off was seen in which the motors could stay at rest."));
    else
        judge_stayed(t, out, longest);
}

/* --- afterwards ------------------------------------------------------------------------------- */

enum { GUARD_LEAST_MS = 5000 };

static bool guarded(const struct failsafe_guard *g) {
    return g->best_ms >= GUARD_LEAST_MS && !g->rose.once;
}

/* Calls back with the guard of each return and of each start. */
static const struct failsafe_guard *guard_at(const struct failsafe_trial *t, uint32_t i) {
    if (i < t->count)
        return &t->run[i].guard;
    return i < t->count + FS_STARTS ? &t->start[i - t->count].guard : NULL;
}

static void judge_guard(const struct failsafe_trial *t, struct trial_outcome *out) {
    static const char name[] = "stays_until_low";
    uint32_t good = 0, back = 0, once = 0;
    const struct failsafe_guard *g;
    for (uint32_t i = 0; (g = guard_at(t, i)) != NULL; i++) {
        good += guarded(g);
        back += g->heard;
        once += g->rose.once;
        if (!sure(&g->rose))
            continue;
        trial_find(out, name, TRIAL_FAILED,
                   "With packets back and the stick still up, channel %d, a motor, went to %d "
                   "before its stick was down.",
                   g->rose.channel + 1, g->rose.value);
        return;
    }
    if (back > 0 && !t->has_in)
        not_shown(out, name, "in",
                  "Whether the motors wait for their sticks can't be told without in.");
    else if (good >= FS_RUNS_WANTED && once == 0)
        trial_find(out, name, TRIAL_PASSED,
                   "With packets back and the sticks up, the motors stayed at rest until the "
                   "sticks were down (%u times, for at least %d s).",
                   good, GUARD_LEAST_MS / 1000);
    else
        blame_cable(t, trial_find(out, name, TRIAL_NOT_SHOWN,
                                  "That the motors wait for their sticks was seen %u of %d times: "
                                  "sticks up for %d s after the transmitter is back.",
                                  good, FS_RUNS_WANTED, FS_GUARD_MS / 1000));
}

static void judge_quiet(const struct failsafe_trial *t, struct trial_outcome *out) {
    static const char name[] = "quiet";
    const struct failsafe_answers *quiet = &t->answers[ASKED_QUIET];
    if (quiet->no > 0)
        trial_find(out, name, TRIAL_FAILED,
                   "A motor ran before the sticks were down, as you saw, whatever the lines say.");
    else if (quiet->yes < failsafe_counted(t) || quiet->yes == 0)
        unanswered(t, out, name, ASKED_QUIET,
                   "whether the motors stood still until the sticks were down, each time");
    else
        trial_find(out, name, TRIAL_PASSED,
                   "The motors stood still until the sticks were down, as you saw (%u times).",
                   quiet->yes);
}

static void worst_span(struct time_bounds *worst, struct time_bounds b) {
    if (!failsafe_known(b))
        return;
    worst->low_ms = b.low_ms > worst->low_ms ? b.low_ms : worst->low_ms;
    worst->high_ms = b.high_ms > worst->high_ms ? b.high_ms : worst->high_ms;
}

static void judge_recovery(const struct failsafe_trial *t, struct trial_outcome *out) {
    struct time_bounds leave = {TIME_UNKNOWN, TIME_UNKNOWN}, unlock = leave;
    int limit = t->rules.recover_ms;
    bool back = false;
    for (uint32_t i = 0; i < t->count; i++) {
        if (failsafe_is_back(&t->run[i].guard))
            worst_span(&leave, t->run[i].guard.recovery);
        worst_span(&unlock, t->run[i].guard.unlock);
        back = back || t->run[i].guard.heard;
    }
    if (failsafe_known(leave)) {
        struct trial_finding *f =
            trial_find(out, "recovery", within(leave.low_ms, leave.high_ms, limit),
                       "Failsafe was left %lld to %lld ms after the first packet, worst case "
                       "(limit %d ms).",
                       ll(leave.low_ms), ll(leave.high_ms), limit);
        if (f->verdict == TRIAL_NOT_SHOWN)
            blame_cable(t, f);
        trial_measured(f, (double)leave.low_ms, (double)leave.high_ms, "ms");
    } else
        not_shown(out, "recovery", back && !t->has_fs ? "fs" : NULL,
                  back ? "When failsafe was left was not seen."
                       : "The transmitter was not seen to come back.");
    if (failsafe_known(unlock))
        trial_aside(trial_measured(
            trial_find(out, "unlock", within(unlock.low_ms, unlock.high_ms, limit),
                       "The outputs were free %lld to %lld ms after the sticks came down, worst "
                       "case.",
                       ll(unlock.low_ms), ll(unlock.high_ms)),
            (double)unlock.low_ms, (double)unlock.high_ms, "ms"));
    else
        trial_aside(not_shown(out, "unlock", t->any_report && !t->has_lock ? "lock" : NULL,
                              "When the outputs came free was not seen."));
}

/* --- restarts --------------------------------------------------------------------------------- */

static void judge_restarts(const struct failsafe_trial *t, struct trial_outcome *out) {
    static const char name[] = "restarts";
    const struct failsafe_start *start = &t->start[START_UNASKED];
    uint32_t n = t->unasked_restarts;
    if (sure(&start->rose)) {
        trial_find(out, name, TRIAL_FAILED,
                   "After a restart nobody asked for, channel %d, a motor, stood at %d.",
                   start->rose.channel + 1, start->rose.value);
    } else if (t->unasked_faults > 0) {
        trial_find(out, name, TRIAL_FAILED,
                   "The receiver restarted %u time%s unasked, the last time by %s.", n,
                   n == 1 ? "" : "s",
                   t->unasked_cause == BOOT_BROWNOUT ? "a brown-out" : "its watchdog");
    } else if (n > 0 || start->rose.once) {
        blame_cable(t, trial_find(out, name, TRIAL_NOT_SHOWN,
                                  "The receiver restarted %u time%s unasked, or a damaged line "
                                  "looked like it.",
                                  n, n == 1 ? "" : "s"));
    } else if (!t->has_uptime) {
        not_shown(out, name, "t", "Whether the receiver restarted can't be told without t or n.");
    } else {
        trial_find(out, name, TRIAL_PASSED, "The receiver did not restart unasked.");
    }
}

/* --- failsafe itself -------------------------------------------------------------------------- */

static void judge_flag(const struct failsafe_trial *t, struct trial_outcome *out) {
    struct delay_bounds worst = {.low_ms = TIME_UNKNOWN, .high_ms = TIME_UNKNOWN};
    for (uint32_t i = 0; i < t->count; i++)
        if (switched(&t->run[i]) && t->run[i].enter.known)
            worst_of(&worst, delay_of(&t->run[i].from, &t->run[i].enter));
    if (worst.low_ms == TIME_UNKNOWN) {
        const char *missing = !t->any_report    ? NULL
                              : !t->has_fs      ? "fs"
                              : !t->has_packets ? "got"
                                                : NULL;
        trial_aside(not_shown(out, "failsafe", missing,
                              "When the receiver entered failsafe was not seen."));
        return;
    }
    trial_aside(trial_measured(trial_find(out, "failsafe", TRIAL_PASSED,
                                          "Failsafe came %lld to %lld ms after the last packet, "
                                          "worst case.",
                                          ll(worst.low_ms), ll(worst.high_ms)),
                               (double)worst.low_ms, (double)worst.high_ms, "ms"));
}

/* The soonest that an outage made failsafe come, and how often it surely came too soon.  A
 * transmitter may say that it is switched off: then failsafe comes at once, and that shows nothing
 * of interruptions. */
static struct delay_bounds soonest_trip(const struct failsafe_trial *t, uint32_t *hasty) {
    struct delay_bounds soonest = {.low_ms = TIME_UNKNOWN, .high_ms = TIME_UNKNOWN};
    *hasty = 0;
    for (uint32_t i = 0; i < t->count; i++) {
        const struct failsafe_run *run = &t->run[i];
        struct delay_bounds b =
            run->enter.known ? delay_of(&run->from, &run->enter) : failsafe_low_of(run);
        if (b.low_ms == TIME_UNKNOWN)
            continue;
        *hasty += b.high_ms < t->rules.ride_ms;
        if (soonest.low_ms == TIME_UNKNOWN || b.low_ms < soonest.low_ms)
            soonest = b;
    }
    return soonest;
}

/* Short interruptions must pass: failsafe that comes at once makes a fade into a stop. */
static void judge_ride(const struct failsafe_trial *t, struct trial_outcome *out) {
    char rode[80] = "no short interruption was seen";
    uint32_t hasty;
    struct delay_bounds soonest = soonest_trip(t, &hasty);
    enum { AT_ONCE_MS = 20 };
    bool tripped = soonest.low_ms != TIME_UNKNOWN, none = false;
    enum trial_verdict verdict = TRIAL_NOT_SHOWN;
    for (uint32_t i = 0; i < t->count; i++)
        none = none || (!tripped && failsafe_never_low(t, &t->run[i]));
    if (t->longest_ride >= 0)
        snprintf(rode, sizeof rode, "the longest that passed lasted at least %lld ms",
                 ll(t->longest_ride));
    if (none)
        snprintf(rode, sizeof rode, "no failsafe came at all");
    else if (hasty > 0) /* once may be a damaged counter */
        verdict = hasty > 1 && soonest.low_ms >= AT_ONCE_MS ? TRIAL_FAILED : TRIAL_NOT_SHOWN;
    else if ((tripped && soonest.low_ms >= t->rules.ride_ms) || t->longest_ride >= t->rules.ride_ms)
        verdict = TRIAL_PASSED;
    struct trial_finding *f =
        tripped
            ? trial_find(out, "ride_through", verdict,
                         "Failsafe waits at least %lld ms for a packet, and interruptions up to "
                         "%d ms must pass; %s.",
                         ll(soonest.low_ms), t->rules.ride_ms, rode)
            : trial_find(out, "ride_through", verdict,
                         "Interruptions up to %d ms must pass without failsafe; %s.",
                         t->rules.ride_ms, rode);
    trial_aside(f);
    if (hasty > 1 && verdict == TRIAL_NOT_SHOWN)
        add(f, " Failsafe at once: the transmitter may say that it is switched off.");
    if (tripped)
        trial_measured(f, (double)soonest.low_ms, (double)soonest.high_ms, "ms");
}

/* --- the other channels ----------------------------------------------------------------------- */

static bool near(int32_t a, int32_t b, int32_t within_units) {
    if (a == CHANNEL_OFF || b == CHANNEL_OFF)
        return a == b;
    return a - b <= within_units && b - a <= within_units;
}

/* What one channel did, over all outages. */
struct channel_story {
    bool seen, off, held, preset, moved;
    bool stood;     /* where it was before, it would have been held or preset alike, */
    bool calm;      /* since that was where it rests */
    bool different; /* not the same each time */
    int32_t value;
};

static struct channel_story story_of(const struct failsafe_trial *t, uint32_t channel) {
    struct channel_story story = {0};
    for (uint32_t i = 0; i < t->count; i++) {
        const struct failsafe_run *run = &t->run[i];
        if (!run->settled || channel >= run->channels)
            continue;
        int32_t before = run->before[channel], after = run->after[channel];
        bool still = near(run->settle[channel], after, SAME);
        bool stayed = near(before, after, HELD);
        story.different = story.different || (story.seen && !stayed && story.preset &&
                                              !near(story.value, after, SAME));
        story.moved = story.moved || !still;
        story.off = story.off || after == CHANNEL_OFF;
        story.preset = story.preset || (!stayed && after != CHANNEL_OFF);
        story.stood = story.stood || stayed;
        story.calm =
            story.calm || channel >= t->calm_count || near(before, t->calm[channel], OFF_REST);
        story.value = after;
        story.seen = true;
    }
    story.held = story.stood && !story.preset && !story.off;
    return story;
}

enum wanted_by { WANTED_BY_NOBODY, WANTED_BY_MODEL, WANTED_BY_ID };

/* What the channel ought to do. */
static enum wanted_by wanted(const struct failsafe_trial *t, uint32_t channel, int32_t *value) {
    if (t->rules.safe_known[channel]) {
        *value = t->rules.safe[channel];
        return t->rules.safe_by_id[channel] ? WANTED_BY_ID : WANTED_BY_MODEL;
    }
    if (channel < t->told) {
        *value = t->told_safe[channel];
        return WANTED_BY_ID;
    }
    return WANTED_BY_NOBODY;
}

static void wanted_words(char *out, size_t size, int32_t value) {
    if (value == CHANNEL_HOLD)
        snprintf(out, size, "hold");
    else if (value == CHANNEL_OFF)
        snprintf(out, size, "no pulses");
    else
        snprintf(out, size, "%d", value);
}

static void story_words(char *out, size_t size, const struct channel_story *s) {
    if (s->moved)
        snprintf(out, size, "moved by itself without a packet, last to %d", s->value);
    else if (s->different)
        snprintf(out, size, "went to another place each time, last to %d", s->value);
    else if (s->off)
        snprintf(out, size, "no pulses");
    else if (s->preset)
        snprintf(out, size, "went to %d", s->value);
    else
        snprintf(out, size, "stayed at %d", s->value);
}

static bool keeps_to(const struct failsafe_trial *t, uint32_t channel, int32_t want) {
    for (uint32_t i = 0; i < t->count; i++) {
        const struct failsafe_run *run = &t->run[i];
        if (!run->settled || channel >= run->channels)
            continue;
        int32_t after = run->after[channel];
        bool same = want == CHANNEL_HOLD ? near(run->before[channel], after, HELD)
                                         : near(want, after, SAME);
        if (!same)
            return false;
    }
    return true;
}

static const char *channel_finding(uint32_t channel) {
    static const char *const names[CHANNELS_MAX] = {
        "channel_1",  "channel_2",  "channel_3",  "channel_4",  "channel_5",  "channel_6",
        "channel_7",  "channel_8",  "channel_9",  "channel_10", "channel_11", "channel_12",
        "channel_13", "channel_14", "channel_15", "channel_16"};
    return names[channel];
}

/* What the model file or the receiver calls for. */
static void judge_channel(const struct failsafe_trial *t, struct trial_outcome *out,
                          uint32_t channel, const struct channel_story *story, enum wanted_by by,
                          int32_t want) {
    char did[80], want_words[24];
    const char *own = t->rules.bench.channel_name[channel];
    bool good = !story->moved && keeps_to(t, channel, want);
    bool own_word = good && want == CHANNEL_OFF && by == WANTED_BY_ID;
    story_words(did, sizeof did, story);
    wanted_words(want_words, sizeof want_words, want);
    struct trial_finding *f = trial_find(out, channel_finding(channel),
                                         own_word ? TRIAL_NOT_SHOWN
                                         : good   ? TRIAL_PASSED
                                                  : TRIAL_FAILED,
                                         "Channel %u%s%s: %s; wanted: %s.", channel + 1,
                                         own[0] != '\0' ? ", " : "", own, did, want_words);
    if (own_word)
        add(f, " Only the receiver says that this is safe: if it is, say off in the model file.");
    else if (good && story->held && story->calm)
        add(f, " Held or preset look alike here: off its rest it would show.");
    if (story->value != CHANNEL_OFF)
        trial_measured(f, story->value, story->value, NULL);
}

static void judge_channels(const struct failsafe_trial *t, struct trial_outcome *out) {
    char list[80] = "";
    uint32_t unsaid = 0, first = 0;
    for (uint32_t i = 0; i < CHANNELS_MAX; i++) {
        struct channel_story story = story_of(t, i);
        char number[16], did[80];
        int32_t want = 0;
        enum wanted_by by = wanted(t, i, &want);
        if (!story.seen || failsafe_motor_of(t, i) >= 0)
            continue;
        if (by != WANTED_BY_NOBODY) {
            judge_channel(t, out, i, &story, by, want);
            continue;
        }
        story_words(did, sizeof did, &story);
        trial_aside(trial_find(out, channel_finding(i),
                               story.moved || story.different ? TRIAL_FAILED : TRIAL_NOT_SHOWN,
                               "Channel %u: %s. Nobody said what is safe.", i + 1, did));
        first = unsaid == 0 ? i : first;
        snprintf(number, sizeof number, "%s%u", unsaid++ > 0 ? ", " : "", i + 1);
        strncat(list, number, sizeof list - strlen(list) - 1);
    }
    if (unsaid == 0)
        return;
    trial_find(out, "channels", TRIAL_NOT_SHOWN,
               "Nobody said what is safe on channel%s %s. Say it in the model file: [failsafe] "
               "%u = hold, off or a value; or name it under throttle if it drives a motor.",
               unsaid == 1 ? "" : "s", list, first + 1)
        ->missing = "safe";
}

static void judge_servos(const struct failsafe_trial *t, struct trial_outcome *out) {
    static const char name[] = "servos";
    const struct failsafe_answers *servos = &t->answers[ASKED_SERVOS];
    if (servos->no > 0)
        trial_find(out, name, TRIAL_FAILED,
                   "A servo did not stand where the lines say, as you saw.");
    else if (servos->yes == 0)
        unanswered(t, out, name, ASKED_SERVOS, "whether the servos stood where the lines say");
    else
        trial_find(out, name, TRIAL_PASSED, "The servos stood where the lines say, as you saw.");
}

/* --- the other ways --------------------------------------------------------------------------- */

static void judge_start(const struct failsafe_trial *t, struct trial_outcome *out,
                        enum failsafe_start_id which, const char *name, const char *what) {
    const struct failsafe_start *start = &t->start[which];
    const struct failsafe_stray *rose = sure(&start->rose) ? &start->rose : &start->guard.rose;
    bool silent = which != START_RAISED;
    enum trial_verdict verdict = TRIAL_NOT_SHOWN;
    char how[100] = "not seen.";
    if (sure(rose)) {
        verdict = TRIAL_FAILED;
        snprintf(how, sizeof how, "channel %d, a motor, went to %d.", rose->channel + 1,
                 rose->value);
    } else if (silent && delay_span_ms(&start->idle) >= FS_STARTED_MS - FS_SEEN_APART_MS &&
               !start->rose.once) {
        verdict = TRIAL_PASSED;
        snprintf(how, sizeof how, "the motors were at rest from the start, seen for %.1f s.",
                 seconds(delay_span_ms(&start->idle)));
    } else if (!silent && guarded(&start->guard)) {
        verdict = TRIAL_PASSED;
        snprintf(how, sizeof how, "the motors stayed at rest with the sticks up.");
    } else if (start->seen) {
        snprintf(how, sizeof how, "the start was seen, but too little of what came of it.");
    }
    trial_aside(trial_find(out, name, verdict, "%s: %s", what, how));
}

static const struct failsafe_run *newest_of(const struct failsafe_trial *t, enum failsafe_how how) {
    const struct failsafe_run *run = NULL;
    for (uint32_t i = 0; i < t->count; i++)
        if (t->run[i].how == how)
            run = &t->run[i];
    return run;
}

static void judge_way(const struct failsafe_trial *t, struct trial_outcome *out,
                      enum failsafe_how how, const char *name, const char *what) {
    static const double faded = 0.05;
    const struct failsafe_run *run = newest_of(t, how);
    if (run == NULL || !run->raised || run->off || run->restarted || !t->has_packets) {
        trial_aside(trial_find(out, name, TRIAL_NOT_SHOWN, "%s: %s.", what,
                               run == NULL      ? "not tried"
                               : !run->raised   ? "a throttle was not up"
                               : run->off       ? "the pulses stopped"
                               : run->restarted ? "the receiver restarted"
                                                : "the lines don't tell of packets"));
        return;
    }
    if (failsafe_never_low(t, run)) {
        trial_find(out, name, TRIAL_FAILED,
                   "%s: channel %d, a motor, was still at %d after %lld ms.", what,
                   run->up_channel + 1, run->up_value, ll(run->up_ms));
        return;
    }
    struct delay_bounds b = failsafe_low_of(run);
    enum trial_verdict verdict = within(b.low_ms, b.high_ms, t->rules.throttle_low_ms);
    bool sudden = how == HOW_FADED && run->loss >= 0 && run->loss < faded;
    if (sudden && verdict == TRIAL_PASSED)
        verdict = TRIAL_NOT_SHOWN;
    if (b.low_ms == TIME_UNKNOWN) {
        trial_aside(trial_find(out, name, TRIAL_NOT_SHOWN, "%s: the end was not seen.", what));
        return;
    }
    trial_measured(
        trial_aside(trial_find(
            out, name, verdict, "%s: motors at rest %lld to %lld ms after the last packet%s.", what,
            ll(b.low_ms), ll(b.high_ms),
            sudden ? ", but the signal went at once, with hardly any loss before" : "")),
        (double)b.low_ms, (double)b.high_ms, "ms");
}

static void judge_run(const struct failsafe_trial *t, struct trial_outcome *out, uint32_t i) {
    static const char *const names[FS_RUNS_MAX] = {"outage_1", "outage_2", "outage_3", "outage_4",
                                                   "outage_5", "outage_6", "outage_7", "outage_8"};
    static const char *const hows[] = {"switched off", "wire pulled", "faded"};
    const struct failsafe_run *run = &t->run[i];
    struct delay_bounds b = failsafe_low_of(run);
    char low[100] = "a throttle was not up";
    enum trial_verdict verdict = failsafe_never_low(t, run) ? TRIAL_FAILED
                                 : run->off || run->restarted
                                     ? TRIAL_NOT_SHOWN
                                     : within(b.low_ms, b.high_ms, t->rules.throttle_low_ms);
    if (b.low_ms != TIME_UNKNOWN)
        snprintf(low, sizeof low, "motors at rest after %lld to %lld ms, seen so for %.1f s",
                 ll(b.low_ms), ll(b.high_ms), seconds(delay_span_ms(&run->stayed)));
    else if (run->raised)
        snprintf(low, sizeof low, "motors not at rest within %lld ms", ll(run->up_ms));
    struct trial_finding *f = trial_aside(trial_find(
        out, names[i], verdict, "Outage %u, %s: %s%s%s.", i + 1, hows[run->how], low,
        run->off ? "; the pulses stopped" : "", run->restarted ? "; the receiver restarted" : ""));
    if (b.low_ms != TIME_UNKNOWN)
        trial_measured(f, (double)b.low_ms, (double)b.high_ms, "ms");
}

/* --- the whole -------------------------------------------------------------------------------- */

static const struct trial_finding *first_with(const struct trial_outcome *out,
                                              enum trial_verdict verdict) {
    for (uint32_t i = 0; i < out->count; i++)
        if (out->finding[i].verdict == verdict &&
            !(verdict != TRIAL_FAILED && out->finding[i].aside))
            return &out->finding[i];
    return NULL;
}

/* A cure for the first fault, or what is to be done to show the rest. */
static const char *next_of(const struct trial_outcome *out) {
    static const struct {
        const char *name, *failed, *open;
    } cures[] = {
        {"idle",
         "Bring the throttle's rest down to where the motor stops, then do this trial again.",
         "Say in the model file which channels drive a motor and where each rests; then do this "
         "trial again and answer its questions."},
        {"throttle_low",
         "In the receiver: note the time of each good packet; half a second later set every "
         "motor's "
         "output to rest. Then do this trial again.",
         "Do it again: throttles up first, then the transmitter off."},
        {"motors_stop",
         "What the receiver prints is not what the motor gets. Check the wiring, and that ch is "
         "printed from what was written to the pin.",
         "Do it again with the motors connected, model held, and answer what you see."},
        {"packets", "",
         "In the receiver: count a packet only when its number is new, and empty the radio's "
         "buffer "
         "after each. Then do this trial again."},
        {"repeats", "", "Do it again with all three switch-offs: one may be luck."},
        {"stays", "Something writes to a motor's output in failsafe: find it.",
         "Do it again, and leave the transmitter off until the console says so, 70 s once."},
        {"stays_until_low",
         "In the receiver: after failsafe and after each start keep every motor at rest until its "
         "stick was seen down.",
         "Do it again, and leave the sticks up when the transmitter comes on."},
        {"quiet",
         "In the receiver: after failsafe and after each start keep every motor at rest until its "
         "stick was seen down.",
         "Do it again, and answer what you saw."},
        {"recovery", "Look for what the receiver waits for after the first packet.",
         "Do it again, and let the transmitter come back."},
        {"restarts",
         "Find the restart first: airleash causes, and the supply trial. Then do this one again.",
         "Do it again; if the receiver restarts again, find out why (airleash causes)."},
        {"servos", "Check which output drives which servo, then do this trial again.",
         "Do it again, and answer what you see."},
    };
    bool failed = first_with(out, TRIAL_FAILED) != NULL;
    const struct trial_finding *f = first_with(out, failed ? TRIAL_FAILED : TRIAL_NOT_SHOWN);
    if (f == NULL)
        return "Do it again after any change of firmware, channels or wiring.";
    if (f->missing != NULL && strcmp(f->missing, "safe") != 0 && strcmp(f->missing, "span") != 0)
        return "Print the missing key in the receiver's lines, then do this trial again.";
    for (size_t i = 0; i < sizeof cures / sizeof cures[0]; i++)
        if (strcmp(cures[i].name, f->name) == 0)
            return failed ? cures[i].failed : cures[i].open;
    return failed ? "Set the presets in the receiver right, then do this trial again."
                  : "Say in the model file what each channel should do, then do this trial again.";
}

/* What may be left out, and was. */
static void left_out(const struct trial_outcome *out, char *text, size_t size) {
    static const struct {
        const char *name, *what;
    } parts[] = {{"restart_silent", "reset"},
                 {"start_silent", "cold start"},
                 {"start_raised", "start with throttle up"},
                 {"radio_pulled", "radio's wire"},
                 {"fade_out", "fade"}};
    struct text words;
    text_init(&words, text, size);
    for (size_t k = 0; k < sizeof parts / sizeof parts[0]; k++)
        for (uint32_t i = 0; i < out->count; i++) {
            if (strcmp(out->finding[i].name, parts[k].name) != 0 ||
                out->finding[i].verdict != TRIAL_NOT_SHOWN)
                continue;
            text_string(&words, words.len > 0 ? ", " : " Not shown: ");
            text_string(&words, parts[k].what);
        }
    if (words.len > 0)
        text_char(&words, '.');
}

static void write_headline(const struct failsafe_trial *t, struct trial_outcome *out) {
    const struct trial_finding *failed = first_with(out, TRIAL_FAILED);
    const struct trial_finding *open = first_with(out, TRIAL_NOT_SHOWN);
    const struct failsafe_run *longest = longest_stay(t);
    char rest[100] = "";
    uint32_t good;
    struct delay_bounds low = worst_low(t, &good);
    if (failed != NULL || open != NULL) {
        snprintf(out->headline, sizeof out->headline, "%s",
                 failed != NULL ? failed->text : open->text);
        return;
    }
    left_out(out, rest, sizeof rest);
    snprintf(out->headline, sizeof out->headline,
             "Motors at rest within %lld ms (limit %d ms), for %.0f s, and until their sticks were "
             "down.%s",
             ll(low.high_ms), t->rules.throttle_low_ms,
             longest != NULL ? seconds(longest->idle_until_ms) : 0.0, rest);
}

void failsafe_judge(const void *state, struct trial_outcome *out) {
    const struct failsafe_trial *t = state;
    judge_idle(t, out);
    judge_throttle(t, out);
    judge_stale(t, out);
    judge_repeats(t, out);
    judge_stays(t, out);
    judge_motors_stop(t, out);
    judge_guard(t, out);
    judge_quiet(t, out);
    judge_restarts(t, out);
    judge_recovery(t, out);
    judge_channels(t, out);
    judge_servos(t, out);
    judge_clocks(t, out);
    judge_flag(t, out);
    judge_ride(t, out);
    judge_start(t, out, START_RESET, "restart_silent", "Receiver reset with the transmitter off");
    judge_start(t, out, START_COLD, "start_silent", "Receiver started with the transmitter off");
    judge_start(t, out, START_RAISED, "start_raised", "Receiver started with the throttle up");
    judge_way(t, out, HOW_PULLED, "radio_pulled", "Radio's supply pulled");
    judge_way(t, out, HOW_FADED, "fade_out", "Signal faded slowly");
    for (uint32_t i = 0; i < t->count; i++)
        judge_run(t, out, i);
    out->verdict = trial_sum(out);
    write_headline(t, out);
    snprintf(out->next, sizeof out->next, "%s", next_of(out));
}
