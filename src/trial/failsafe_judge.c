/* What the failsafe trial proves.  A limit that lies between the bounds of what was measured is
 * neither kept nor broken: more reports a second would tell. */
#include <stdio.h>
#include <string.h>

#include "trial/failsafe_parts.h"

enum {
    SAME = 3, /* units: an output that is held or preset stands still */
    HELD = 12 /* and was held if it lies so near to where the stick's noise left it */
};

static long long ll(int64_t value) {
    return (long long)value;
}

static enum trial_verdict within(struct time_bounds b, int64_t limit_ms) {
    if (!failsafe_known(b))
        return TRIAL_NOT_SHOWN;
    return b.high_ms <= limit_ms ? TRIAL_PASSED
           : b.low_ms > limit_ms ? TRIAL_FAILED
                                 : TRIAL_NOT_SHOWN;
}

/* The worst of several: each bound at its greatest. */
static void worst_of(struct time_bounds *worst, struct time_bounds b) {
    if (!failsafe_known(b))
        return;
    if (!failsafe_known(*worst))
        *worst = b;
    worst->low_ms = b.low_ms > worst->low_ms ? b.low_ms : worst->low_ms;
    worst->high_ms = b.high_ms > worst->high_ms ? b.high_ms : worst->high_ms;
}

static bool switched(const struct failsafe_run *run) {
    return run->how == HOW_SWITCHED;
}

/* Never came down for longer than the limit, in a silence that began with the throttle up. */
static bool never_low(const struct failsafe_trial *t, const struct failsafe_run *run) {
    return run->raised && !failsafe_known(run->low) && run->raised_ms > t->rules.throttle_low_ms;
}

static struct trial_finding *not_shown(struct trial_outcome *out, const char *name,
                                       const char *missing, const char *why) {
    struct trial_finding *f = trial_find(out, name, TRIAL_NOT_SHOWN, "%s", why);
    f->missing = missing;
    return f;
}

/* The telemetry key without which no time since the last packet is known; NULL: all there. */
static const char *clock_missing(const struct failsafe_trial *t) {
    return !t->any_report || t->has_age || t->has_got ? NULL : "age";
}

/* --- the throttle ----------------------------------------------------------------------------- */

static void why_no_throttle(const struct failsafe_trial *t, struct trial_outcome *out) {
    bool low = false;
    for (uint32_t i = 0; i < t->count; i++)
        low = low || (switched(&t->run[i]) && !t->run[i].raised);
    if (t->throttle < 0)
        not_shown(out, "throttle_low", NULL, "Nobody said which channel is the throttle.");
    else if (clock_missing(t) != NULL)
        not_shown(out, "throttle_low", clock_missing(t),
                  "When the last packet came can't be told without age, or got and t.");
    else if (low)
        not_shown(out, "throttle_low", NULL,
                  "The throttle was not up when the signal went: that proves nothing.");
    else
        not_shown(out, "throttle_low", NULL, "No switch-off with the throttle up was seen.");
}

static void judge_throttle(const struct failsafe_trial *t, struct trial_outcome *out) {
    struct time_bounds worst = {TIME_UNKNOWN, TIME_UNKNOWN};
    uint32_t good = 0;
    for (uint32_t i = 0; i < t->count; i++) {
        const struct failsafe_run *run = &t->run[i];
        if (!switched(run))
            continue;
        if (never_low(t, run)) {
            trial_find(out, "throttle_low", TRIAL_FAILED,
                       "The throttle was still up %lld ms after the last packet; the limit is %d.",
                       ll(run->raised_ms), t->rules.throttle_low_ms);
            return;
        }
        worst_of(&worst, run->low);
        good += failsafe_known(run->low);
    }
    if (good == 0) {
        why_no_throttle(t, out);
        return;
    }
    enum trial_verdict verdict = within(worst, t->rules.throttle_low_ms);
    struct trial_finding *f = trial_find(
        out, "throttle_low", verdict,
        "The throttle came low %lld to %lld ms after the last packet, at worst; the limit is %d%s.",
        ll(worst.low_ms), ll(worst.high_ms), t->rules.throttle_low_ms,
        verdict == TRIAL_NOT_SHOWN ? ", which lies between: more reports a second would tell" : "");
    trial_measured(f, (double)worst.low_ms, (double)worst.high_ms, "ms");
}

static void judge_flag(const struct failsafe_trial *t, struct trial_outcome *out) {
    struct time_bounds worst = {TIME_UNKNOWN, TIME_UNKNOWN};
    for (uint32_t i = 0; i < t->count; i++)
        if (switched(&t->run[i]))
            worst_of(&worst, t->run[i].enter);
    if (!failsafe_known(worst)) {
        const char *missing = t->any_report && !t->has_fs ? "fs" : clock_missing(t);
        trial_aside(not_shown(out, "failsafe", missing,
                              "When the receiver entered failsafe was not seen."));
        return;
    }
    trial_measured(trial_find(out, "failsafe", TRIAL_PASSED,
                              "Failsafe came %lld to %lld ms after the last packet, at worst.",
                              ll(worst.low_ms), ll(worst.high_ms)),
                   (double)worst.low_ms, (double)worst.high_ms, "ms");
}

static void judge_repeats(const struct failsafe_trial *t, struct trial_outcome *out) {
    uint32_t good = 0;
    double least = 0, most = 0;
    for (uint32_t i = 0; i < t->count; i++) {
        const struct failsafe_run *run = &t->run[i];
        if (!switched(run) || !failsafe_known(run->low))
            continue;
        double middle = (double)(run->low.low_ms + run->low.high_ms) / 2;
        least = good == 0 || middle < least ? middle : least;
        most = good == 0 || middle > most ? middle : most;
        good++;
    }
    enum trial_verdict verdict = good >= FS_RUNS_WANTED ? TRIAL_PASSED : TRIAL_NOT_SHOWN;
    struct trial_finding *f = trial_find(
        out, "repeats", verdict, "%u of %d switch-offs with the throttle up brought it low.", good,
        FS_RUNS_WANTED);
    if (good < 2)
        return;
    size_t len = strlen(f->text);
    snprintf(f->text + len, sizeof f->text - len, " The middles lie %.0f ms apart.", most - least);
    trial_measured(f, least, most, "ms");
}

static void judge_stays(const struct failsafe_trial *t, struct trial_outcome *out) {
    int64_t longest = -1;
    for (uint32_t i = 0; i < t->count; i++) {
        const struct failsafe_run *run = &t->run[i];
        if (run->left) {
            trial_find(out, "stays", TRIAL_FAILED,
                       "In the silence the throttle left its idle again, to %d.", run->left_to);
            return;
        }
        if (switched(run) && failsafe_known(run->low) && run->stayed_ms > longest)
            longest = run->stayed_ms;
    }
    if (longest >= t->rules.stay_ms)
        trial_measured(trial_find(out, "stays", TRIAL_PASSED,
                                  "The throttle stayed low for %.1f s of silence.",
                                  (double)longest / 1000),
                       (double)longest, (double)longest, "ms");
    else if (longest < 0)
        not_shown(out, "stays", NULL, "No silence was seen in which the throttle could stay low.");
    else
        trial_find(out, "stays", TRIAL_NOT_SHOWN,
                   "The throttle was seen low for %.1f s of silence only, of %.1f: the transmitter "
                   "came on again too early, or lines were missing.",
                   (double)longest / 1000, (double)t->rules.stay_ms / 1000);
}

/* --- afterwards ------------------------------------------------------------------------------- */

enum { GUARD_LEAST_MS = 1000 };

static bool guarded(const struct failsafe_guard *g) {
    return g->held_ms >= GUARD_LEAST_MS || g->locked_ms >= GUARD_LEAST_MS;
}

static void judge_guard(const struct failsafe_trial *t, struct trial_outcome *out) {
    static const char name[] = "stays_until_low";
    uint32_t good = 0, back = 0;
    for (uint32_t i = 0; i < t->count; i++) {
        const struct failsafe_guard *g = &t->run[i].guard;
        if (g->rose) {
            trial_find(out, name, TRIAL_FAILED,
                       "When the transmitter came back with the stick up, the throttle went to %d "
                       "before the stick was low.",
                       g->rose_to);
            return;
        }
        good += guarded(g);
        back += g->heard;
    }
    if (good > 0)
        trial_find(out, name, TRIAL_PASSED,
                   "With the transmitter back and the stick up, the throttle stayed low until the "
                   "stick was low (seen %u times).",
                   good);
    else if (back > 0 && !t->has_in)
        not_shown(out, name, "in",
                  "Whether the throttle waits for a low stick can't be told without in or lock.");
    else
        not_shown(out, name, NULL,
                  "The transmitter was not seen to come back with the throttle stick up.");
}

static void judge_recovery(const struct failsafe_trial *t, struct trial_outcome *out) {
    struct time_bounds leave = {TIME_UNKNOWN, TIME_UNKNOWN}, unlock = leave;
    bool back = false;
    for (uint32_t i = 0; i < t->count; i++) {
        worst_of(&leave, t->run[i].guard.recovery);
        worst_of(&unlock, t->run[i].guard.unlock);
        back = back || t->run[i].guard.heard;
    }
    if (failsafe_known(leave))
        trial_measured(trial_find(out, "recovery", within(leave, t->rules.recover_ms),
                                  "Failsafe was left %lld to %lld ms after the first packet, at "
                                  "worst; the limit is %d.",
                                  ll(leave.low_ms), ll(leave.high_ms), t->rules.recover_ms),
                       (double)leave.low_ms, (double)leave.high_ms, "ms");
    else
        not_shown(out, "recovery", back && !t->has_fs ? "fs" : NULL,
                  back ? "When failsafe was left was not seen."
                       : "The transmitter was not seen to come back.");
    if (failsafe_known(unlock))
        trial_aside(trial_measured(
            trial_find(out, "unlock", within(unlock, t->rules.recover_ms),
                       "The outputs were free %lld to %lld ms after the stick came low, at worst.",
                       ll(unlock.low_ms), ll(unlock.high_ms)),
            (double)unlock.low_ms, (double)unlock.high_ms, "ms"));
    else
        trial_aside(not_shown(out, "unlock", t->any_report && !t->has_lock ? "lock" : NULL,
                              "When the outputs were free again was not seen."));
}

/* Short interruptions must pass: failsafe that comes at once makes a fade into a stop. */
static void judge_ride(const struct failsafe_trial *t, struct trial_outcome *out) {
    char rode[80] = "no short interruption was seen";
    int64_t soonest = -1;
    enum trial_verdict verdict = TRIAL_NOT_SHOWN;
    for (uint32_t i = 0; i < t->count; i++) {
        struct time_bounds b = t->run[i].enter;
        if (!failsafe_known(b) && failsafe_known(t->run[i].low))
            b = t->run[i].low;
        if (failsafe_known(b) && (soonest < 0 || b.low_ms < soonest))
            soonest = b.low_ms;
    }
    if (t->longest_ride >= 0)
        snprintf(rode, sizeof rode, "the longest that passed lasted at least %lld ms",
                 ll(t->longest_ride));
    if (t->shortest_trip >= 0 && t->shortest_trip < t->rules.ride_ms)
        verdict = TRIAL_FAILED;
    else if (soonest >= t->rules.ride_ms || t->longest_ride >= t->rules.ride_ms)
        verdict = TRIAL_PASSED;
    struct trial_finding *f =
        soonest >= 0
            ? trial_find(out, "ride_through", verdict,
                         "Failsafe waits at least %lld ms for a packet, and interruptions up to "
                         "%d must pass; %s.",
                         ll(soonest), t->rules.ride_ms, rode)
            : trial_find(out, "ride_through", verdict,
                         "Interruptions up to %d ms must pass without failsafe; %s.",
                         t->rules.ride_ms, rode);
    trial_aside(f);
    if (t->longest_ride >= 0 || soonest >= 0)
        trial_measured(f, (double)(soonest > t->longest_ride ? soonest : t->longest_ride),
                       (double)(t->shortest_trip >= 0 ? t->shortest_trip : soonest), "ms");
}

/* --- the channels ----------------------------------------------------------------------------- */

static bool near(int32_t a, int32_t b, int32_t reach) {
    if (a == CHANNEL_OFF || b == CHANNEL_OFF)
        return a == b;
    return a - b <= reach && b - a <= reach;
}

/* What one channel did, over all silences. */
struct channel_story {
    bool seen, off, held, preset, moved;
    bool stood;     /* where it was before, it would have been held or preset alike */
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
        story.value = after;
        story.seen = true;
    }
    story.held = story.stood && !story.preset && !story.off;
    return story;
}

/* What the channel ought to do; false where nobody said. */
static bool wanted(const struct failsafe_trial *t, uint32_t channel, int32_t *value) {
    if (t->rules.safe_known[channel]) {
        *value = t->rules.safe[channel];
        return true;
    }
    if (channel < t->told) {
        *value = t->told_safe[channel];
        return true;
    }
    return false;
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
        snprintf(out, size, "moved on its own in the silence, last to %d", s->value);
    else if (s->different)
        snprintf(out, size, "went elsewhere each time, last to %d", s->value);
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

static void judge_channel(const struct failsafe_trial *t, struct trial_outcome *out,
                          uint32_t channel) {
    static const char *const names[CHANNELS_MAX] = {
        "channel_1",  "channel_2",  "channel_3",  "channel_4",  "channel_5",  "channel_6",
        "channel_7",  "channel_8",  "channel_9",  "channel_10", "channel_11", "channel_12",
        "channel_13", "channel_14", "channel_15", "channel_16"};
    struct channel_story story = story_of(t, channel);
    char did[80], want_words[24];
    int32_t want;
    const char *own = t->rules.bench.channel_name[channel];
    bool named = own[0] != '\0';
    if (!story.seen)
        return;
    story_words(did, sizeof did, &story);
    if (!wanted(t, channel, &want)) {
        trial_aside(trial_find(
            out, names[channel], story.moved || story.different ? TRIAL_FAILED : TRIAL_PASSED,
            "Channel %u%s%s: %s.%s", channel + 1, named ? " " : "", own, did,
            story.held ? " Held or preset: both look like this. Off its rest it would show." : ""));
        return;
    }
    wanted_words(want_words, sizeof want_words, want);
    bool good = !story.moved && keeps_to(t, channel, want);
    struct trial_finding *f = trial_find(out, names[channel], good ? TRIAL_PASSED : TRIAL_FAILED,
                                         "Channel %u%s%s: %s; wanted: %s.", channel + 1,
                                         named ? " " : "", own, did, want_words);
    if (story.value != CHANNEL_OFF)
        trial_measured(f, story.value, story.value, NULL);
}

/* --- the other ways --------------------------------------------------------------------------- */

static void judge_start(const struct failsafe_trial *t, struct trial_outcome *out,
                        enum failsafe_start_id which, const char *name, const char *what) {
    const struct failsafe_start *start = &t->start[which];
    bool silent = which != START_RAISED;
    enum trial_verdict verdict = TRIAL_NOT_SHOWN;
    char how[100] = "not seen.";
    int32_t rose_to = start->rose ? start->rose_to : start->guard.rose_to;
    if (start->rose || start->guard.rose) {
        verdict = TRIAL_FAILED;
        snprintf(how, sizeof how, "the throttle went to %d.", rose_to);
    } else if (silent && start->idle_ms >= FS_STARTED_MS - FS_SEEN_APART_MS) {
        verdict = TRIAL_PASSED;
        snprintf(how, sizeof how, "the throttle was low from the start, seen for %.1f s.",
                 (double)start->idle_ms / 1000);
    } else if (!silent && guarded(&start->guard)) {
        verdict = TRIAL_PASSED;
        snprintf(how, sizeof how, "the throttle stayed low with the stick up.");
    } else if (start->seen) {
        snprintf(how, sizeof how, "the start was seen, but not for long enough what came of it.");
    }
    trial_aside(trial_find(out, name, verdict, "%s: %s", what, how));
}

static void judge_way(const struct failsafe_trial *t, struct trial_outcome *out,
                      enum failsafe_how how, const char *name, const char *what) {
    static const double faded = 0.05;
    const struct failsafe_run *run = NULL;
    for (uint32_t i = 0; i < t->count; i++)
        if (t->run[i].how == how)
            run = &t->run[i];
    if (run == NULL || !run->raised) {
        trial_aside(trial_find(out, name, TRIAL_NOT_SHOWN, "%s: %s.", what,
                               run == NULL ? "not tried" : "the throttle was not up"));
        return;
    }
    if (never_low(t, run)) {
        trial_find(out, name, TRIAL_FAILED, "%s: the throttle was still up after %lld ms.", what,
                   ll(run->raised_ms));
        return;
    }
    enum trial_verdict verdict = within(run->low, t->rules.throttle_low_ms);
    bool sudden = how == HOW_FADED && run->loss >= 0 && run->loss < faded;
    if (sudden && verdict == TRIAL_PASSED)
        verdict = TRIAL_NOT_SHOWN;
    struct trial_finding *f = trial_aside(
        trial_find(out, name, verdict, "%s: throttle low %lld to %lld ms after the last packet%s.",
                   what, ll(run->low.low_ms), ll(run->low.high_ms),
                   sudden ? ", but the signal went at once, with hardly any loss before" : ""));
    if (failsafe_known(run->low))
        trial_measured(f, (double)run->low.low_ms, (double)run->low.high_ms, "ms");
}

static void judge_runs(const struct failsafe_trial *t, struct trial_outcome *out) {
    static const char *const names[FS_RUNS_MAX] = {"silence_1", "silence_2", "silence_3",
                                                   "silence_4", "silence_5", "silence_6",
                                                   "silence_7", "silence_8"};
    static const char *const hows[] = {"switched off", "wire pulled", "faded"};
    for (uint32_t i = 0; i < t->count; i++) {
        const struct failsafe_run *run = &t->run[i];
        char low[80] = "the throttle was not up", back[60] = "";
        enum trial_verdict verdict =
            never_low(t, run) ? TRIAL_FAILED : within(run->low, t->rules.throttle_low_ms);
        if (failsafe_known(run->low))
            snprintf(low, sizeof low, "throttle low after %lld to %lld ms, seen so for %.1f s",
                     ll(run->low.low_ms), ll(run->low.high_ms), (double)run->stayed_ms / 1000);
        else if (run->raised)
            snprintf(low, sizeof low, "throttle not low within %lld ms", ll(run->raised_ms));
        if (run->restarted)
            snprintf(back, sizeof back, "; the receiver restarted");
        struct trial_finding *f = trial_aside(trial_find(
            out, names[i], verdict, "Silence %u, %s: %s%s.", i + 1, hows[run->how], low, back));
        if (failsafe_known(run->low))
            trial_measured(f, (double)run->low.low_ms, (double)run->low.high_ms, "ms");
    }
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

static bool skipped_parts(const struct trial_outcome *out) {
    for (uint32_t i = 0; i < out->count; i++)
        if (out->finding[i].aside && out->finding[i].verdict == TRIAL_NOT_SHOWN)
            return true;
    return false;
}

/* A cure for the first fault, or what is to be done to show the rest. */
static const char *next_of(const struct trial_outcome *out) {
    static const struct {
        const char *name, *failed, *open;
    } cures[] = {
        {"throttle_low",
         "In the receiver: note the time of each good packet; half a second later set the throttle "
         "low. Then do this trial again.",
         "Do it again: throttle up first, then the transmitter off."},
        {"repeats", "", "Do it again with all three switch-offs: one may be luck."},
        {"stays", "Something writes to the throttle's output in failsafe: find it.",
         "Do it again, and leave the transmitter off until the console says so."},
        {"stays_until_low",
         "In the receiver: after failsafe and after each start keep the throttle low until its "
         "stick was seen low.",
         "Do it again, and leave the stick up when the transmitter comes on."},
        {"recovery", "Look for what the receiver waits for after the first packet.",
         "Do it again, and let the transmitter come back."},
    };
    bool failed = first_with(out, TRIAL_FAILED) != NULL;
    const struct trial_finding *f = first_with(out, failed ? TRIAL_FAILED : TRIAL_NOT_SHOWN);
    if (f == NULL && skipped_parts(out))
        return "What was skipped isn't proven: the starts, the pulled wire, the fade. After any "
               "change of firmware or channels do it again.";
    if (f == NULL)
        return "Do it again after any change of firmware or channels.";
    if (f->missing != NULL)
        return "Print the missing key in the receiver's lines, then do this trial again.";
    for (size_t i = 0; i < sizeof cures / sizeof cures[0]; i++)
        if (strcmp(cures[i].name, f->name) == 0)
            return failed ? cures[i].failed : cures[i].open;
    return failed ? "Set the presets in the receiver right, then do this trial again."
                  : "Do it again, and do what each step says.";
}

void failsafe_judge(const void *state, struct trial_outcome *out) {
    const struct failsafe_trial *t = state;
    judge_throttle(t, out);
    judge_repeats(t, out);
    judge_stays(t, out);
    judge_guard(t, out);
    judge_recovery(t, out);
    judge_flag(t, out);
    judge_ride(t, out);
    for (uint32_t i = 0; i < CHANNELS_MAX; i++)
        judge_channel(t, out, i);
    judge_start(t, out, START_RESET, "restart_silent", "Receiver reset in the silence");
    judge_start(t, out, START_COLD, "start_silent", "Receiver started with the transmitter off");
    judge_start(t, out, START_RAISED, "start_raised", "Receiver started with the throttle up");
    judge_way(t, out, HOW_PULLED, "radio_pulled", "Radio's supply pulled");
    judge_way(t, out, HOW_FADED, "fade_out", "Signal faded slowly");
    judge_runs(t, out);
    out->verdict = trial_sum(out);
    const struct trial_finding *failed = first_with(out, TRIAL_FAILED);
    const struct trial_finding *open = first_with(out, TRIAL_NOT_SHOWN);
    if (failed != NULL)
        snprintf(out->headline, sizeof out->headline, "%s", failed->text);
    else if (open != NULL)
        snprintf(out->headline, sizeof out->headline, "Not shown: %.180s", open->text);
    else
        snprintf(out->headline, sizeof out->headline,
                 "Without signal the throttle comes low within %.0f ms, stays low, and waits for "
                 "its stick.",
                 out->finding[0].high);
    snprintf(out->next, sizeof out->next, "%s", next_of(out));
}
