/* Soak: everything left on for a long while.  What only shows now and then, a restart, a radio that
 * forgets, a gap, has time to show; what didn't show is bounded (stat_none_rate_bound), not
 * excluded. */
#include <stdio.h>

#include "base/whole.h"
#include "stat/proportion.h"
#include "trial/kinds.h"
#include "trial/say.h"

enum { STEP_CAUTION, STEP_SOAK, STEPS };

static const struct trial_step steps[STEPS] = {
    [STEP_CAUTION] = {"caution",
                      "Leave transmitter and model on, at least 2 m apart, until the time is up.\n"
                      "Move the sticks for a few seconds every minute or two.\n"
                      "Have a battery that lasts so long, not below its least voltage.",
                      "Propeller off, or wheels off the ground: it runs all the while.\n"
                      "Stay with it: no battery is left alone under load.\n"
                      "Feel now and then whether motor, regulator or leads get hot.",
                      ASK_YES, NULL, NULL, 0, 0},
    [STEP_SOAK] = {"soak", "Leave everything on. Move the sticks now and then.", NULL, ASK_NOTHING,
                   NULL, "the time to pass", 0, 0},
};

enum {
    MOVED_PERCENT = 5,     /* of the span: a stick was moved */
    STILL_MAX_MS = 300000, /* sticks must not lie still for longer */
    STILL_TELL_MS = 90000, /* the pane reminds after this */
    HOLE_MS = 1000,        /* without line numbers: reports so far apart are a hole */
};

struct soak {
    struct trial_rules rules;
    bool soaking, based; /* based: a report of this step has been seen */
    uint32_t has;        /* keys that any report had */
    uint64_t reports;
    int64_t gap_limit_ms; /* never less than three packets */
    int64_t seen_ms;      /* covered by reports that follow directly */
    int64_t holes_ms;
    uint64_t holes, unsure_holes; /* unsure: a long gap may hide there */
    uint64_t restarts, starts_of_tx;
    uint64_t failsafes, reinits, settings_lost;
    uint32_t fsn, reinit; /* newest */
    bool reinit_known;
    bool in_failsafe;
    uint32_t longest_gap_ms;
    int64_t moved_ms; /* newest movement; link time */
    int64_t still_max_ms;
    int32_t at[CHANNELS_MAX]; /* where each output was when it last moved */
    bool port_lost;
};

static void begin(void *state, const struct trial_rules *rules) {
    struct soak *k = state;
    k->rules = *rules;
    k->gap_limit_ms = rules->soak_gap_ms;
}

/* --- what is seen ----------------------------------------------------------------------------- */

/* Whether no gap beyond the limit can hide in this hole: nothing is missing by number, and as many
 * packets came as the time holds. */
static bool surely_whole(const struct moment *m, const struct snapshot *s, int64_t span_ms) {
    double expected = s != NULL ? s->rate_hz * (double)span_ms / 1000 : 0;
    return expected > 0 && m->packets.counted && m->packets.lost == 0 &&
           m->packets.estimated == 0 && (double)m->packets.got + 2 >= 0.99 * expected;
}

static void take_time(struct soak *k, const struct moment *m, const struct snapshot *s) {
    int64_t span = m->link_ms - m->before_ms;
    if (m->link_ms == TIME_UNKNOWN || m->before_ms == TIME_UNKNOWN || span < 0 || m->restarted ||
        m->fresh_boot)
        return;
    if (!m->hole && span < HOLE_MS) {
        k->seen_ms += span;
        return;
    }
    k->holes++;
    k->holes_ms += span;
    if (surely_whole(m, s, span))
        k->seen_ms += span;
    else
        k->unsure_holes++;
}

static void take_movement(struct soak *k, const struct report *r, const struct snapshot *s,
                          int64_t link_ms) {
    int32_t span = s != NULL && s->span_high > s->span_low ? s->span_high - s->span_low : 1000;
    if (link_ms == TIME_UNKNOWN)
        return;
    if (k->moved_ms == TIME_UNKNOWN)
        k->moved_ms = link_ms;
    bool moved = false;
    for (uint32_t i = 0; i < r->ch_count; i++) {
        bool value = r->ch[i] != CHANNEL_OFF && k->at[i] != CHANNEL_OFF;
        int32_t by = value ? r->ch[i] - k->at[i] : 0;
        if (!value || by * 100 > span * MOVED_PERCENT || -by * 100 > span * MOVED_PERCENT) {
            moved = moved || value;
            k->at[i] = r->ch[i];
        }
    }
    int64_t still = link_ms - k->moved_ms;
    if (still > k->still_max_ms)
        k->still_max_ms = still;
    if (moved && k->based)
        k->moved_ms = link_ms;
}

/* Counters of a fresh boot are all of this run; else their growth. */
static uint32_t growth(bool known, uint32_t before, uint32_t now) {
    return known ? now - before : 0;
}

static void take_radio(struct soak *k, const struct moment *m, const struct report *r) {
    bool boot = m->restarted || m->fresh_boot;
    k->settings_lost += m->radio_forgot;
    if (!report_has(r, KEY_REINIT))
        return;
    k->reinits += boot ? 0 : growth(k->reinit_known, k->reinit, r->reinit);
    k->reinit = r->reinit;
    k->reinit_known = true;
}

/* Of the first report its longest gap lies before the soak. */
static void take_report(struct soak *k, const struct moment *m, const struct snapshot *s) {
    const struct report *r = &m->event->report;
    bool boot = m->restarted || m->fresh_boot;
    if (s != NULL && s->rate_hz > 0 && k->gap_limit_ms < whole_i64(3000 / s->rate_hz))
        k->gap_limit_ms = whole_i64(3000 / s->rate_hz);
    if (k->based) {
        take_time(k, m, s);
        if (report_has(r, KEY_GAP) && r->gap_ms > k->longest_gap_ms)
            k->longest_gap_ms = r->gap_ms;
        if (report_has(r, KEY_FSN) && !boot)
            k->failsafes += growth(true, k->fsn, r->fsn);
        else if (report_has(r, KEY_FS) && !report_has(r, KEY_FSN))
            k->failsafes += r->fs == 1 && !k->in_failsafe;
    } else if (report_has(r, KEY_FS)) {
        k->failsafes += r->fs == 1; /* it began in failsafe */
    }
    k->starts_of_tx += m->packets.transmitter_restart;
    take_radio(k, m, r);
    take_movement(k, r, s, m->link_ms);
    k->in_failsafe = report_has(r, KEY_FS) && r->fs == 1;
    k->fsn = r->fsn;
    k->has |= r->has;
    k->reports++;
    k->based = true;
}

static void take(void *state, const struct moment *m, const struct snapshot *s,
                 const struct trial_place *place, bool entered) {
    struct soak *k = state;
    if (entered && place->step == STEP_SOAK) {
        k->soaking = true;
        k->moved_ms = TIME_UNKNOWN;
        for (int i = 0; i < CHANNELS_MAX; i++)
            k->at[i] = CHANNEL_OFF;
    }
    if (!k->soaking)
        return;
    const struct event *e = m->event;
    k->restarts += m->restarted && !m->by_opening;
    k->port_lost = k->port_lost || (e->kind == EVENT_PORT &&
                                    (e->port.change == PORT_LOST || e->port.change == PORT_LET_GO));
    if (e->kind == EVENT_REPORT)
        take_report(k, m, s);
}

/* --- the guide -------------------------------------------------------------------------------- */

static int64_t wanted_ms(const struct soak *k) {
    return (int64_t)k->rules.soak_s * 1000;
}

static int next(const void *state, const struct snapshot *s, const struct trial_place *place) {
    const struct soak *k = state;
    (void)s;
    if (place->step == STEP_CAUTION)
        return place->answered && place->answer == 1 ? STEP_SOAK : TRIAL_STAY;
    return k->seen_ms >= wanted_ms(k) ? TRIAL_GO_END : TRIAL_STAY;
}

static void pane(const void *state, const struct snapshot *s, const struct trial_place *place,
                 struct trial_pane *out) {
    const struct soak *k = state;
    char seen[SAY_CLOCK], wanted[SAY_CLOCK], left[SAY_CLOCK];
    int64_t rest = wanted_ms(k) > k->seen_ms ? wanted_ms(k) - k->seen_ms : 0;
    if (place->step != STEP_SOAK)
        return;
    out->seen = rest == 0;
    out->progress = wanted_ms(k) > 0 ? (double)k->seen_ms / (double)wanted_ms(k) : 1;
    say_line(out, "%s of %s seen, %s left", say_clock(seen, k->seen_ms),
             say_clock(wanted, wanted_ms(k)), say_clock(left, rest));
    say_line(out, "restarts %llu   failsafe %llu   radio set up anew %llu",
             (unsigned long long)k->restarts, (unsigned long long)k->failsafes,
             (unsigned long long)(k->reinits > k->settings_lost ? k->reinits : k->settings_lost));
    if ((k->has >> KEY_GAP & 1u) != 0)
        say_line(out, "longest gap %u ms, limit %lld ms", k->longest_gap_ms,
                 (long long)k->gap_limit_ms);
    else
        say_line(out, "longest gap unknown: the lines have no gap");
    if (k->holes > 0)
        say_line(out, "lines missing on the cable %llu times: %.1f s not seen",
                 (unsigned long long)k->holes, (double)k->holes_ms / 1000);
    if (k->moved_ms != TIME_UNKNOWN && s->now_ms - k->moved_ms > STILL_TELL_MS)
        say_line(out, "The sticks lie still: move them now.");
}

/* --- the verdict ------------------------------------------------------------------------------ */

static bool whole(const struct soak *k) {
    return k->seen_ms >= wanted_ms(k) && wanted_ms(k) > 0;
}

/* Of something that must not happen: failed once it did, passed when all the time was seen. */
static void judge_none(const struct soak *k, struct trial_outcome *out, const char *name,
                       const char *what, uint64_t count, bool known, const char *missing) {
    char seen[SAY_CLOCK];
    say_clock(seen, k->seen_ms);
    if (count > 0)
        trial_find(out, name, TRIAL_FAILED, "%s: %llu in the %s that was seen; none is allowed.",
                   what, (unsigned long long)count, seen);
    else if (!known)
        trial_find(out, name, TRIAL_NOT_SHOWN, "%s: can't be told without %s.", what, missing)
            ->missing = missing;
    else if (!whole(k))
        trial_find(out, name, TRIAL_NOT_SHOWN,
                   "%s: none in the %s that was seen; that is too short.", what, seen);
    else
        trial_find(out, name, TRIAL_PASSED, "%s: none in %s, so fewer than %.1f an hour (95 %%).",
                   what, seen, stat_none_rate_bound((double)k->seen_ms / 3600000, 0.95));
}

static void judge_gap(const struct soak *k, struct trial_outcome *out) {
    static const char name[] = "longest_gap";
    double gap = k->longest_gap_ms;
    long long limit = (long long)k->gap_limit_ms;
    struct trial_finding *f;
    if ((k->has >> KEY_GAP & 1u) == 0) {
        f = trial_find(out, name, TRIAL_NOT_SHOWN, "The longest gap can't be told without gap.");
        f->missing = "gap";
        return;
    }
    if (k->longest_gap_ms > k->gap_limit_ms)
        f = trial_find(out, name, TRIAL_FAILED,
                       "The longest time without a packet was %u ms; the limit is %lld ms.",
                       k->longest_gap_ms, limit);
    else if (k->unsure_holes > 0)
        f = trial_find(out, name, TRIAL_NOT_SHOWN,
                       "Longest gap seen %u ms, limit %lld ms, but lines are missing on the cable "
                       "(%llu times): a longer one may hide there.",
                       k->longest_gap_ms, limit, (unsigned long long)k->unsure_holes);
    else if (!whole(k))
        f = trial_find(out, name, TRIAL_NOT_SHOWN,
                       "Longest gap so far %u ms, limit %lld ms; the time seen is too short.",
                       k->longest_gap_ms, limit);
    else
        f = trial_find(out, name, TRIAL_PASSED,
                       "The longest time without a packet was %u ms; the limit is %lld ms.",
                       k->longest_gap_ms, limit);
    trial_measured(f, gap, gap, "ms");
}

static void judge_length(const struct soak *k, struct trial_outcome *out) {
    char seen[SAY_CLOCK], wanted[SAY_CLOCK];
    say_clock(seen, k->seen_ms);
    say_clock(wanted, wanted_ms(k));
    struct trial_finding *f = trial_find(out, "length", whole(k) ? TRIAL_PASSED : TRIAL_NOT_SHOWN,
                                         "Seen: %s of %s (minutes:seconds)%s%s", seen, wanted,
                                         k->holes > 0 ? "; lines are missing on the cable" : "",
                                         k->port_lost ? "; the port was lost meanwhile." : ".");
    trial_measured(f, (double)k->seen_ms, (double)k->seen_ms, "ms");
    if (k->reports > 0 && k->seen_ms == 0 && k->holes == 0)
        f->missing = "t";
}

/* A servo at rest draws next to nothing: a soak without movement proves little. */
static void judge_moved(const struct soak *k, struct trial_outcome *out) {
    int64_t limit = wanted_ms(k) / 2 < STILL_MAX_MS ? wanted_ms(k) / 2 : STILL_MAX_MS;
    bool lively = whole(k) && k->still_max_ms <= limit;
    char still[SAY_CLOCK], most[SAY_CLOCK];
    trial_find(out, "moved", lively ? TRIAL_PASSED : TRIAL_NOT_SHOWN,
               "The sticks lay still for at most %s (limit %s)%s",
               say_clock(still, k->still_max_ms), say_clock(most, limit),
               lively ? "." : ": servos at rest ask little of the supply.");
}

static void choose_next(const struct soak *k, struct trial_outcome *out) {
    const char *text = "";
    if (k->restarts > 0)
        text = "Run the trial of the supply: a receiver that restarts mostly has a weak one.";
    else if (k->settings_lost + k->reinits > 0)
        text = "Power off, fit 10 to 100 uF at the radio module's own pins (mind polarity; rated "
               "6.3 V or "
               "more); then run the trials of the supply and of tapping.";
    else if (k->failsafes > 0 || k->longest_gap_ms > k->gap_limit_ms)
        text = "Run the trial of tapping, and see airleash causes on the recording.";
    else if (k->unsure_holes > 0 || k->port_lost)
        text = "Mend the serial lead and soak again.";
    else if (!whole(k))
        text = "Soak again, to the end.";
    snprintf(out->next, sizeof out->next, "%s", text);
}

static void judge(const void *state, struct trial_outcome *out) {
    const struct soak *k = state;
    char seen[SAY_CLOCK];
    bool radio = k->reinit_known || (k->has >> KEY_REG & 1u) != 0;
    judge_length(k, out);
    judge_none(k, out, "restarts", "Restarts of the receiver", k->restarts,
               (k->has >> KEY_T & 1u) != 0, "t");
    judge_none(k, out, "reinit", "The radio set up anew",
               k->reinits > k->settings_lost ? k->reinits : k->settings_lost, radio, "reinit");
    judge_none(k, out, "failsafe", "Failsafe", k->failsafes, (k->has >> KEY_FS & 1u) != 0, "fs");
    judge_gap(k, out);
    judge_moved(k, out);
    if (k->starts_of_tx > 0)
        trial_find(out, "transmitter", TRIAL_FAILED, "The transmitter restarted %llu times.",
                   (unsigned long long)k->starts_of_tx);
    out->verdict = trial_sum(out);
    snprintf(out->headline, sizeof out->headline,
             "Soak %s: %s seen, %llu restarts, %llu failsafes.", trial_verdict_name(out->verdict),
             say_clock(seen, k->seen_ms), (unsigned long long)k->restarts,
             (unsigned long long)k->failsafes);
    choose_next(k, out);
}

const struct trial_kind trial_soak = {
    .name = "soak",
    .title = "Soak: does it run for a long while without a fault?",
    .about = "20 minutes on: no restart, no failsafe, no long gap",
    .steps = steps,
    .step_count = STEPS,
    .size = sizeof(struct soak),
    .begin = begin,
    .take = take,
    .next = next,
    .pane = pane,
    .judge = judge,
};
