/* Controls: does each stick move its own channel, all the way, the right way, and nothing else; and
 * does it come back to where it was?  One stick after the other, in the person's order: the one
 * that moves is the one that is meant. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/text.h"
#include "trial/kinds.h"
#include "trial/travel.h"

enum { STEP_CLEAR, STEP_STILL, STEP_MOVE, STEP_AGAIN, STEP_FLICK, STEP_WAY };

/* Common practice, in µs of 1000: ends 1000 and 2000 +-20 or the builder's own, a stick comes back
 * within 10, throttle low at 1020 or less. */
enum { END_OFF = 20, SPREAD = 10, COARSE = 8 };

static const struct trial_step control_steps[] = {
    [STEP_CLEAR] = {.name = "clear",
                    .say = "Transmitter and receiver on.  Each stick and switch will be moved to\n"
                           "its ends, and what it drives moves with it.",
                    .caution = "Propeller off, or wheels off the ground.  Hands and cables clear\n"
                               "of propeller, rudder and linkages.  Is that so?",
                    .ask = ASK_YES},
    [STEP_STILL] = {.name = "still",
                    .say =
                        "Throttle at its low end, switches as at start, all other sticks let go.\n"
                        "Hands off for a few seconds.",
                    .ask = ASK_NOTHING,
                    .waits = "3 s with hands off",
                    .least_s = 3,
                    .most_s = 60},
    [STEP_MOVE] = {.name = "move",
                   .say = "Move ONE stick or switch that isn't done yet: slowly to one end, hold,\n"
                          "slowly to the other end, hold, and let it go (throttle: back to low).\n"
                          "Press Enter when none is left.",
                   .ask = ASK_NOTHING,
                   .waits = "both ends, and back at rest"},
    [STEP_AGAIN] = {.name = "again",
                    .say = "More than one moved: the lines below name them.\n"
                           "Let all of them go; then move one alone.",
                    .ask = ASK_NOTHING,
                    .waits = "all at rest"},
    [STEP_FLICK] = {.name = "flick",
                    .say =
                        "The same stick: pull it half way to one side and let it snap back, three\n"
                        "times; then three times from the other side.  Wait a second each time.\n"
                        "Enter goes on, where a stick doesn't come back by itself.",
                    .ask = ASK_NOTHING,
                    .waits = "three returns from each side"},
    [STEP_WAY] = {.name = "way",
                  .say = "Move it once more and look at the model, not at the screen.\n"
                         "Does what it drives go the right way?",
                  .caution = "The motor may run: keep clear of the propeller.",
                  .ask = ASK_YES_NO},
};

struct control {
    bool moved;     /* alone, so that `way` is its own */
    bool done;      /* to both ends, and it came back */
    uint32_t visit; /* in which this was */
    struct travel way;
    bool flicked;
    struct flicks flicks;
    bool asked, right; /* the direction, as the person saw it */
};

struct state {
    struct trial_rules rules;
    struct stick_map map;
    bool clear;   /* the yes */
    bool untimed; /* reports without any time: nothing can be measured in them */
    struct travel_calm calm;
    bool based;
    struct travel_base base;
    struct travel visit;
    uint32_t visits;
    struct flicks flicks;
    int32_t newest;    /* the channel of this or the last visit, -1 */
    uint16_t muddle;   /* what moved when more than one did, the last time */
    uint16_t together; /* channels that only moved together with another */
    struct control of[CHANNELS_MAX];
};

static void begin(void *place, const struct trial_rules *rules) {
    struct state *k = place;
    memset(k, 0, sizeof *k);
    k->rules = *rules;
    k->newest = -1;
    travel_begin(&k->visit);
    flicks_begin(&k->flicks);
}

/* --- what was seen */

/* Going half as far later takes nothing back of what was seen. */
static bool goes_as_far(const struct state *k, const struct control *c) {
    double before = c->way.high - c->way.low, now = k->visit.high - k->visit.low;
    return !c->done || now >= before - END_OFF * k->map.scale;
}

static void forget_visit(struct state *k) {
    k->together |= k->visit.moved;
    for (uint32_t c = 0; c < k->map.count; c++)
        if (k->of[c].visit == k->visits) /* it seemed to be alone at first */
            memset(&k->of[c], 0, sizeof k->of[c]);
    k->muddle = k->visit.moved;
    k->newest = -1;
}

static void keep_visit(struct state *k) {
    if (k->visit.muddle)
        forget_visit(k);
    if (k->visit.muddle || k->visit.mover < 0)
        return;
    struct control *c = &k->of[k->visit.mover];
    bool done = travel_done(&k->visit, &k->map, &k->base);
    k->newest = k->visit.mover;
    if (c->moved && ((c->done && !done) || !goes_as_far(k, c)))
        return;
    c->moved = true;
    c->done = done;
    c->visit = k->visits;
    c->way = k->visit;
}

static void enter(struct state *k, uint32_t step) {
    if (step == STEP_STILL)
        memset(&k->calm, 0, sizeof k->calm);
    if (step == STEP_MOVE || step == STEP_AGAIN) {
        travel_begin(&k->visit);
        k->visits++;
        k->newest = -1;
    }
    if (step == STEP_FLICK)
        flicks_begin(&k->flicks);
}

static void take_flicks(struct state *k, const struct report *r, int64_t link_ms) {
    if (k->newest < 0)
        return;
    struct control *c = &k->of[k->newest];
    flicks_add(&k->flicks, (uint32_t)k->newest, c->way.follows, &k->map, &k->base, r, link_ms);
    c->flicked = true;
    c->flicks = k->flicks;
}

static void take_report(struct state *k, const struct moment *m, uint32_t step) {
    const struct report *r = &m->event->report;
    k->untimed = m->link_ms == TIME_UNKNOWN;
    if (!sticks_told(m) || k->untimed)
        return;
    if (step == STEP_STILL && !k->based) {
        travel_calm_add(&k->calm, &k->map, r, m->link_ms);
        k->based = travel_calm_read(&k->calm, &k->base);
    } else if (step == STEP_MOVE || step == STEP_AGAIN) {
        travel_add(&k->visit, &k->map, &k->base, r, m->link_ms);
        if (step == STEP_MOVE)
            keep_visit(k);
    } else if (step == STEP_FLICK) {
        take_flicks(k, r, m->link_ms);
    }
}

static void take(void *place, const struct moment *m, const struct snapshot *s,
                 const struct trial_place *at, bool entered) {
    struct state *k = place;
    stick_map_take(&k->map, m, s);
    if (entered)
        enter(k, at->step);
    if (at->step == STEP_CLEAR && at->answered)
        k->clear = at->answer == 1;
    if (k->clear && m->event->kind == EVENT_REPORT)
        take_report(k, m, at->step);
    if (at->step == STEP_WAY && at->answered && k->newest >= 0) {
        k->of[k->newest].asked = true;
        k->of[k->newest].right = at->answer == 1;
    }
}

/* --- the guide */

/* A channel that a stick drives, as far as the lines tell. */
static bool has_stick(const struct state *k, uint32_t c) {
    return k->map.inputs == 0 || c < k->map.inputs;
}

static bool all_done(const struct state *k) {
    for (uint32_t c = 0; c < k->map.count; c++)
        if (has_stick(k, c) && !k->of[c].moved)
            return false;
    return k->map.count > 0;
}

static bool comes_back(const struct state *k, uint32_t c) {
    double rest = k->base.known[c] ? k->base.rest[c] : k->of[c].way.here[c];
    return !travel_rests_at_end(&k->map, rest) && travel_positions(&k->of[c].way) == 0;
}

static int after_move(const struct state *k, const struct trial_place *at) {
    if (k->visit.muddle)
        return STEP_AGAIN;
    bool on = at->answered || at->skipped;
    if (k->newest < 0)
        return on ? TRIAL_GO_END : TRIAL_STAY;
    if (travel_done(&k->visit, &k->map, &k->base)) {
        bool flicks = k->base.known[k->newest] && comes_back(k, (uint32_t)k->newest);
        return flicks ? STEP_FLICK : STEP_WAY;
    }
    return on ? STEP_WAY : TRIAL_STAY;
}

static int next(const void *place, const struct snapshot *s, const struct trial_place *at) {
    const struct state *k = place;
    (void)s;
    bool on = at->answered || at->skipped;
    switch (at->step) {
    case STEP_CLEAR:
        return !at->answered ? TRIAL_STAY : at->answer == 1 ? STEP_STILL : TRIAL_GO_END;
    case STEP_STILL:
        return k->based || on ? STEP_MOVE : TRIAL_STAY;
    case STEP_MOVE:
        return after_move(k, at);
    case STEP_AGAIN:
        return travel_all_still(&k->visit, &k->map) || on ? STEP_MOVE : TRIAL_STAY;
    case STEP_FLICK:
        return flicks_done(&k->flicks) || on ? STEP_WAY : TRIAL_STAY;
    default:
        return !on ? TRIAL_STAY : all_done(k) ? TRIAL_GO_END : STEP_MOVE;
    }
}

/* --- findings */

#define NAME_OF(k, c) ((k)->map.label[c])

static double in_units(const struct state *k, double us) {
    return us * k->map.scale;
}

static void find_steps(const struct state *k, const struct control *c, char *out, size_t size) {
    int32_t step;
    uint32_t positions = travel_positions(&c->way), values = travel_values(&c->way, &step);
    out[0] = '\0';
    if (positions > 0)
        snprintf(out, size, ", a switch of %u positions", positions);
    else if (step > 1)
        snprintf(out, size, ", no two values nearer than %d%s", (int)step,
                 step >= in_units(k, COARSE) ? ": coarse" : "");
    else if (values > 0)
        snprintf(out, size, ", %u steps seen", values);
}

static bool both_ends(const struct state *k, const struct control *c) {
    return travel_low_seen(&c->way, &k->map, &k->base) &&
           travel_high_seen(&c->way, &k->map, &k->base);
}

static void find_travel(const struct state *k, uint32_t at, struct trial_outcome *out) {
    const struct control *c = &k->of[at];
    const char *name = stick_finding(STICK_TRAVEL, at), *sign = stick_sign(&k->map);
    char more[48];
    if (!both_ends(k, c)) {
        trial_find(out, name, TRIAL_NOT_SHOWN, "%s: not moved to both ends", NAME_OF(k, at));
        return;
    }
    find_steps(k, c, more, sizeof more);
    struct trial_finding *finding;
    double off = in_units(k, END_OFF), low = c->way.low, high = c->way.high;
    double margin = k->base.known[at] ? 3 * k->base.noise[at] : 0;
    if (!k->map.span_known) {
        finding = trial_find(out, name, TRIAL_NOT_SHOWN,
                             "%s: %.0f to %.0f%s; which ends are right isn't told", NAME_OF(k, at),
                             low, high, more);
        finding->missing = "span";
    } else {
        bool right = fabs(low - k->map.low) <= off && fabs(high - k->map.high) <= off;
        finding = trial_find(out, name, right ? TRIAL_PASSED : TRIAL_FAILED,
                             "%s: %.0f to %.0f %s%s (wanted %.0f and %.0f, within %.3g); "
                             "always reached: %.0f and %.0f",
                             NAME_OF(k, at), low, high, sign, more, k->map.low, k->map.high, off,
                             ceil(low + margin), floor(high - margin));
    }
    trial_measured(finding, low, high, stick_unit(&k->map));
}

/* From three returns on a side shows what it does. */
static bool returns_known(const struct control *c) {
    return c->flicked && flicks_done(&c->flicks);
}

/* Half the spread of its rests, and three times its noise: common practice. */
static double deadband(const struct state *k, uint32_t at) {
    const struct flicks *f = &k->of[at].flicks;
    return (f->high - f->low) / 2 + 3 * k->base.noise[at];
}

static enum trial_verdict judge_return(const struct state *k, const struct flicks *f) {
    double middle = (k->map.low + k->map.high) / 2;
    double off = (f->back[0].mean + f->back[1].mean) / 2 - middle;
    if (f->high - f->low >= in_units(k, SPREAD))
        return TRIAL_FAILED;
    if (!k->map.span_known)
        return TRIAL_NOT_SHOWN;
    return fabs(off) <= in_units(k, k->rules.centre) ? TRIAL_PASSED : TRIAL_FAILED;
}

static void find_return(const struct state *k, uint32_t at, struct trial_outcome *out) {
    const struct control *c = &k->of[at];
    const struct flicks *f = &c->flicks;
    const char *name = stick_finding(STICK_RETURN, at);
    if (!k->base.known[at]) {
        trial_find(out, name, TRIAL_NOT_SHOWN, "%s: its rest wasn't seen at the start",
                   NAME_OF(k, at));
        return;
    }
    if (!comes_back(k, at))
        return;
    if (!returns_known(c)) {
        trial_find(out, name, TRIAL_NOT_SHOWN,
                   "%s: came back %u times from below and %u from above, %d each are wanted",
                   NAME_OF(k, at), (unsigned)f->back[0].count, (unsigned)f->back[1].count,
                   FLICKS_WANTED);
        return;
    }
    struct trial_finding *finding =
        trial_find(out, name, judge_return(k, f),
                   "%s: back at %.1f from below, at %.1f from above (wanted %.0f within %.3g, all "
                   "within %.3g); a dead band of %.0f would do",
                   NAME_OF(k, at), f->back[0].mean, f->back[1].mean, (k->map.low + k->map.high) / 2,
                   in_units(k, k->rules.centre), in_units(k, SPREAD), ceil(deadband(k, at)));
    trial_measured(finding, f->low, f->high, stick_unit(&k->map));
}

static void find_way(const struct state *k, uint32_t at, struct trial_outcome *out) {
    const struct control *c = &k->of[at];
    const char *name = stick_finding(STICK_DIRECTION, at);
    if (!c->asked)
        trial_find(out, name, TRIAL_NOT_SHOWN,
                   "%s: the right way? Not answered, and the lines can't tell", NAME_OF(k, at));
    else
        trial_find(out, name, c->right ? TRIAL_PASSED : TRIAL_FAILED,
                   "%s: goes the %s way, as the person saw it", NAME_OF(k, at),
                   c->right ? "right" : "wrong");
}

static void name_follows(const struct state *k, uint16_t follows, char *out, size_t size) {
    struct text t;
    text_init(&t, out, size);
    for (uint32_t c = 0; c < k->map.count; c++)
        if ((follows >> c & 1u) != 0)
            text_format(&t, "%s%s", t.len > 0 ? ", " : "; its stick also drives ", NAME_OF(k, c));
}

static void find_others(const struct state *k, uint32_t at, struct trial_outcome *out) {
    const struct control *c = &k->of[at];
    const char *name = stick_finding(STICK_OTHERS, at);
    double limit = in_units(k, k->rules.crosstalk), shift;
    uint32_t other;
    char follows[72];
    if (!both_ends(k, c) || !travel_crosstalk(&c->way, &k->map, &k->base, &other, &shift)) {
        if (k->map.count > 1)
            trial_find(out, name, TRIAL_NOT_SHOWN, "%s: what moves with it wasn't seen",
                       NAME_OF(k, at));
        return;
    }
    name_follows(k, c->way.follows, follows, sizeof follows);
    struct trial_finding *finding;
    if (shift > limit)
        finding = trial_find(out, name, TRIAL_FAILED,
                             "%s moves "
                             "%s by %.1f %s beyond its noise (limit %.3g)%s",
                             NAME_OF(k, at), NAME_OF(k, other), shift, stick_sign(&k->map), limit,
                             follows);
    else
        finding =
            trial_find(out, name, TRIAL_PASSED,
                       "%s moves nothing else: %.1f %s at most beyond its noise (limit %.3g)%s",
                       NAME_OF(k, at), shift, stick_sign(&k->map), limit, follows);
    trial_measured(finding, shift, shift, stick_unit(&k->map));
}

/* The throttle rests at its idle end, and that end is the number that the sketch takes for idle. */
static void find_throttle(const struct state *k, struct trial_outcome *out) {
    int c = limits_throttle(&k->rules.bench);
    bool high = c >= 0 && k->rules.bench.motor[0].idle == IDLE_HIGH;
    const char *end = high ? "high" : "low";
    if (c < 0) {
        trial_find(out, "throttle_idle", TRIAL_NOT_SHOWN,
                   "whether the throttle rests at idle: no card says which channel it is")
            ->missing = "throttle";
        return;
    }
    if ((uint32_t)c >= k->map.count || !k->base.known[c] || !k->map.span_known) {
        struct trial_finding *f = trial_find(out, "throttle_idle", TRIAL_NOT_SHOWN,
                                             "throttle, channel %d: its rest wasn't seen", c + 1);
        f->missing = !k->map.span_known ? "span" : NULL;
        return;
    }
    double rest = k->base.rest[c], off = in_units(k, END_OFF);
    bool idle = high ? rest >= k->map.high - off : rest <= k->map.low + off;
    const struct control *moved = &k->of[c];
    bool last =
        !moved->moved || (high ? moved->way.high <= rest + off : moved->way.low >= rest - off);
    trial_measured(trial_find(out, "throttle_idle", idle && last ? TRIAL_PASSED : TRIAL_FAILED,
                              "%s: rests at %.0f %s, %s (its %s end, %.0f, within %.3g)",
                              NAME_OF(k, c), rest, stick_sign(&k->map),
                              !idle  ? "which isn't idle"
                              : last ? "idle"
                                     : "but goes beyond that",
                              end, high ? k->map.high : k->map.low, off),
                   rest, rest, stick_unit(&k->map));
}

static void find_unmoved(const struct state *k, uint32_t c, struct trial_outcome *out) {
    const char *name = stick_finding(STICK_TRAVEL, c);
    if (!has_stick(k, c))
        trial_aside(trial_find(out, name, TRIAL_NOT_SHOWN,
                               "%s: has no stick of its own, as the lines say", NAME_OF(k, c)));
    else if ((k->together >> c & 1u) != 0)
        trial_find(out, name, TRIAL_NOT_SHOWN, "%s: moved only together with another",
                   NAME_OF(k, c));
    else
        trial_find(out, name, TRIAL_NOT_SHOWN, "%s: never moved", NAME_OF(k, c));
}

/* --- headline and the next step */

/* By the finding's name, up to its channel; the gravest first. */
static const struct fault {
    const char *name, *what, *cure;
} faults[] = {
    {"throttle_idle", "doesn't rest at idle",
     "Lower the throttle's trim, or mend its end points in the sketch, before anything else: the "
     "motor may start as soon as a battery is connected."},
    {"direction", "goes the wrong way",
     "Reverse that channel in the transmitter's sketch, then try failsafe anew: its preset may now "
     "be the wrong end."},
    {"travel", "doesn't go from end to end",
     "In the transmitter's sketch map the ends that are always reached to those that are wanted; "
     "where a servo buzzes at its end, make the travel smaller."},
    {"return", "doesn't come back to its centre",
     "Take the middle between both returns as the centre, with the dead band told above; a spread "
     "beyond the limit is the stick's spring or bearing."},
    {"others", "moves another channel",
     "Was it a thumb? Then try again. Else read that converter input twice and take the second; "
     "potentiometers of 10 kilohm at most, 100 nF at the wiper; a cold joint?"},
};

static const struct trial_finding *find_fault(const struct trial_outcome *out,
                                              const struct fault *fault) {
    for (uint32_t i = 0; i < out->count; i++)
        if (out->finding[i].verdict == TRIAL_FAILED &&
            strncmp(out->finding[i].name, fault->name, strlen(fault->name)) == 0)
            return &out->finding[i];
    return NULL;
}

/* The channel of a finding, by its name. */
static const char *label_of(const struct state *k, const struct trial_finding *f) {
    const char *number = strstr(f->name, "_ch");
    uint32_t channel = number != NULL && number[4] == '\0' ? (uint32_t)(number[3] - '1')
                       : number != NULL                    ? (uint32_t)(number[4] - '0') + 9
                                                           : CHANNELS_MAX;
    return channel < CHANNELS_MAX ? NAME_OF(k, channel) : "the throttle";
}

static void say_fault(const struct state *k, const struct fault *fault,
                      const struct trial_finding *worst, struct trial_outcome *out) {
    uint32_t others = 0;
    char more[32] = "";
    for (uint32_t i = 0; i < out->count; i++)
        others += out->finding[i].verdict == TRIAL_FAILED && &out->finding[i] != worst;
    if (others > 0)
        snprintf(more, sizeof more, ", and %u more", others);
    snprintf(out->headline, sizeof out->headline, "Not right: %s %s%s.", label_of(k, worst),
             fault->what, more);
    snprintf(out->next, sizeof out->next, "%s", fault->cure);
}

/* All else was shown: the person needs no stick in hand for the rest. */
static bool only_throttle(const struct trial_outcome *out) {
    bool throttle = false;
    for (uint32_t i = 0; i < out->count; i++) {
        const struct trial_finding *f = &out->finding[i];
        if (f->verdict != TRIAL_NOT_SHOWN || f->aside)
            continue;
        throttle = f->missing != NULL && strcmp(f->missing, "throttle") == 0;
        if (!throttle)
            return false;
    }
    return throttle;
}

static void say_rest(const struct state *k, struct trial_outcome *out) {
    uint32_t moved = 0;
    const char *next = "Begin again and go through what was not shown, one stick at a time.";
    for (uint32_t c = 0; c < k->map.count; c++)
        moved += k->of[c].moved;
    if (!k->clear)
        next = "Begin again once propeller and linkages are clear.";
    else if (only_throttle(out))
        next = "Give the throttle's channel in a card ([channels] throttle) and judge the "
               "recording again with it.";
    else if (out->verdict == TRIAL_PASSED)
        next = "Try failsafe next; do it again after any change of channels or ends.";
    snprintf(out->next, sizeof out->next, "%s", next);
    if (out->verdict == TRIAL_PASSED)
        snprintf(out->headline, sizeof out->headline,
                 "All %u sticks and switches do what they should.", moved);
    else if (moved == 0)
        snprintf(out->headline, sizeof out->headline, "Nothing shown: no stick was moved alone.");
    else
        snprintf(out->headline, sizeof out->headline,
                 "Nothing wrong with %u sticks and switches; not all was seen.", moved);
}

static void say(const struct state *k, struct trial_outcome *out) {
    for (size_t i = 0; i < sizeof faults / sizeof *faults; i++) {
        const struct trial_finding *worst = find_fault(out, &faults[i]);
        if (worst != NULL) {
            say_fault(k, &faults[i], worst, out);
            return;
        }
    }
    say_rest(k, out);
}

static void judge(const void *place, struct trial_outcome *out) {
    const struct state *k = place;
    memset(out, 0, sizeof *out);
    find_throttle(k, out);
    if (k->untimed)
        trial_find(out, "time", TRIAL_NOT_SHOWN, "the lines carry no time")->missing = "t";
    for (uint32_t c = 0; c < k->map.count; c++) {
        if (!k->of[c].moved) {
            find_unmoved(k, c, out);
            continue;
        }
        find_travel(k, c, out);
        find_return(k, c, out);
        find_way(k, c, out);
        find_others(k, c, out);
    }
    out->verdict = trial_sum(out);
    say(k, out);
}

/* --- the pane */

static void pane_bar(const struct state *k, const struct snapshot *s, uint32_t c,
                     struct trial_pane *out) {
    const struct control *it = &k->of[c];
    char bar[STICK_BAR + 1], ends[24] = "";
    struct stick_marks marks = {NAN, NAN, NAN, NAN, NAN, NAN};
    if (k->base.known[c])
        marks.rest = k->base.rest[c];
    if (it->moved && it->way.ends_known) {
        marks.low = it->way.low;
        marks.high = it->way.high;
        snprintf(ends, sizeof ends, "%.0f..%.0f", marks.low, marks.high);
    }
    if (it->flicked && it->flicks.back[0].count > 0)
        marks.from_low = it->flicks.back[0].mean;
    if (it->flicked && it->flicks.back[1].count > 0)
        marks.from_high = it->flicks.back[1].mean;
    if (s->channel[c].present && s->channel[c].value != CHANNEL_OFF)
        marks.now = s->channel[c].value;
    stick_bar(&k->map, &marks, bar);
    snprintf(out->line[out->lines++], sizeof out->line[0], "%-13.13s %s %s%s", NAME_OF(k, c), bar,
             ends, it->asked ? (it->right ? " right way" : " wrong way") : "");
}

static void pane_note(const struct state *k, const struct snapshot *s, const struct trial_place *at,
                      struct trial_pane *out) {
    char *line = out->line[out->lines];
    size_t size = sizeof out->line[0];
    line[0] = '\0';
    if ((s->failsafe_known && s->failsafe) || (s->lock_known && s->locked))
        snprintf(line, size, "%s: these aren't the sticks' values",
                 s->failsafe_known && s->failsafe ? "failsafe" : "locked: throttle low first");
    else if (at->step == STEP_MOVE && k->newest >= 0)
        snprintf(line, size, "%s: low end %s, high end %s", NAME_OF(k, k->newest),
                 travel_low_seen(&k->visit, &k->map, &k->base) ? "seen" : "not yet",
                 travel_high_seen(&k->visit, &k->map, &k->base) ? "seen" : "not yet");
    else if (at->step == STEP_FLICK && k->flicks.strange >= 0)
        snprintf(line, size,
                 "that is "
                 "%s: flick %s",
                 NAME_OF(k, k->flicks.strange), NAME_OF(k, k->newest));
    else if (at->step == STEP_FLICK && k->newest >= 0)
        snprintf(line, size, "%s: %u of %d from below, %u of %d from above", NAME_OF(k, k->newest),
                 (unsigned)k->flicks.back[0].count, FLICKS_WANTED,
                 (unsigned)k->flicks.back[1].count, FLICKS_WANTED);
    else if (at->step == STEP_WAY && k->newest >= 0)
        snprintf(line, size, "this one: %s", NAME_OF(k, k->newest));
    if (line[0] != '\0')
        out->lines++;
}

static void pane_together(const struct state *k, struct trial_pane *out) {
    struct text t;
    text_init(&t, out->line[out->lines++], sizeof out->line[0]);
    text_string(&t, "moved together:");
    for (uint32_t c = 0; c < k->map.count; c++)
        if ((k->muddle >> c & 1u) != 0)
            text_format(&t, " %s", NAME_OF(k, c));
}

static void pane(const void *place, const struct snapshot *s, const struct trial_place *at,
                 struct trial_pane *out) {
    const struct state *k = place;
    memset(out, 0, sizeof *out);
    out->progress = -1;
    if (at->step == STEP_CLEAR)
        return;
    if (at->step == STEP_STILL) {
        out->seen = k->based;
        out->progress = k->based ? 1 : (double)(k->calm.now_ms - k->calm.from_ms) / CALM_MS;
        out->progress = out->progress > 1 ? 1 : out->progress;
    }
    if (at->step == STEP_MOVE)
        out->seen = travel_done(&k->visit, &k->map, &k->base);
    if (at->step == STEP_FLICK)
        out->seen = flicks_done(&k->flicks);
    pane_note(k, s, at, out);
    if (at->step == STEP_AGAIN)
        pane_together(k, out);
    /* The stick in hand first: a small terminal may have no room for all. */
    if (k->newest >= 0)
        pane_bar(k, s, (uint32_t)k->newest, out);
    for (uint32_t c = 0; c < k->map.count && out->lines < TRIAL_LINES_MAX; c++)
        if ((int32_t)c != k->newest)
            pane_bar(k, s, c, out);
}

const struct trial_kind trial_controls = {
    .name = "controls",
    .title = "Controls: does each stick move its channel, and only that?",
    .about = "each stick: ends, centre, the right way, nothing else",
    .steps = control_steps,
    .step_count = sizeof control_steps / sizeof *control_steps,
    .size = sizeof(struct state),
    .begin = begin,
    .take = take,
    .next = next,
    .pane = pane,
    .judge = judge,
};
