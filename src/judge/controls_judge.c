/* What the trial of the controls comes to. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/text.h"
#include "base/whole.h"
#include "judge/controls_parts.h"

/* --- findings */

static double in_units(const struct controls *k, double us) {
    return us * k->map.scale;
}

enum { FAR = 400, DEAD = 60 }; /* µs of 1000 */

static void find_steps(const struct controls *k, const struct control *c, char *out, size_t size) {
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

static bool both_ends(const struct controls *k, const struct control *c) {
    return travel_low_seen(&c->way, &k->map, &k->base) &&
           travel_high_seen(&c->way, &k->map, &k->base);
}

static void find_travel(const struct controls *k, uint32_t at, struct trial_outcome *out) {
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
    trial_brief(finding, "%.0f to %.0f%s", 5 * round(low / 5), 5 * round(high / 5),
                travel_positions(&c->way) > 0 ? more : "");
    trial_measured(finding, low, high, stick_unit(&k->map));
}

/* From three returns on a side shows what it does. */
static bool returns_known(const struct control *c) {
    return c->flicked && flicks_done(&c->flicks);
}

/* Half the spread of its rests, and three times its noise: common practice. */
static double deadband(const struct controls *k, uint32_t at) {
    const struct flicks *f = &k->of[at].flicks;
    return (f->high - f->low) / 2 + 3 * k->base.noise[at];
}

static enum trial_verdict judge_return(const struct controls *k, const struct flicks *f) {
    double middle = (k->map.low + k->map.high) / 2;
    double off = (f->back[0].mean + f->back[1].mean) / 2 - middle;
    if (f->high - f->low >= in_units(k, SPREAD))
        return TRIAL_FAILED;
    if (!k->map.span_known)
        return TRIAL_NOT_SHOWN;
    return fabs(off) <= in_units(k, k->rules.centre) ? TRIAL_PASSED : TRIAL_FAILED;
}

static void find_return(const struct controls *k, uint32_t at, struct trial_outcome *out) {
    const struct control *c = &k->of[at];
    const struct flicks *f = &c->flicks;
    const char *name = stick_finding(STICK_RETURN, at);
    if (!k->base.known[at]) {
        trial_find(out, name, TRIAL_NOT_SHOWN, "%s: its rest wasn't seen at the start",
                   NAME_OF(k, at));
        return;
    }
    if (!controls_comes_back(k, at))
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
    trial_brief(finding, "back at its centre");
    trial_measured(finding, f->low, f->high, stick_unit(&k->map));
}

static void find_way(const struct controls *k, uint32_t at, struct trial_outcome *out) {
    const struct control *c = &k->of[at];
    const char *name = stick_finding(STICK_DIRECTION, at);
    if (!c->asked)
        trial_find(out, name, TRIAL_NOT_SHOWN,
                   "%s: the right way? Not answered, and the lines can't tell", NAME_OF(k, at));
    else
        trial_brief(trial_find(out, name, c->right ? TRIAL_PASSED : TRIAL_FAILED,
                               "%s: goes the %s way, as the person saw it", NAME_OF(k, at),
                               c->right ? "right" : "wrong"),
                    "the right way");
}

static void find_others(const struct controls *k, uint32_t at, struct trial_outcome *out) {
    const struct control *c = &k->of[at];
    const char *name = stick_finding(STICK_OTHERS, at);
    double limit = in_units(k, k->rules.crosstalk), shift;
    uint32_t other;
    if (!both_ends(k, c) || !travel_crosstalk(&c->way, &k->map, &k->base, &other, &shift)) {
        if (k->map.count > 1)
            trial_find(out, name, TRIAL_NOT_SHOWN, "%s: what moves with it wasn't seen",
                       NAME_OF(k, at));
        return;
    }
    struct trial_finding *finding;
    if (shift > limit)
        finding = trial_find(out, name, TRIAL_FAILED,
                             "%s: moves %s too, by %.1f %s beyond its noise (limit %.3g)",
                             NAME_OF(k, at), NAME_OF(k, other), shift, stick_sign(&k->map), limit);
    else
        finding = trial_brief(
            trial_find(out, name, TRIAL_PASSED,
                       "%s: moves nothing else: %.1f %s at most beyond its noise (limit "
                       "%.3g)",
                       NAME_OF(k, at), shift, stick_sign(&k->map), limit),
            "nothing else moves");
    trial_measured(finding, shift, shift, stick_unit(&k->map));
}

/* --- which stick, and how it follows it */

static int32_t one_source(uint16_t moved_in) {
    bool one = moved_in != 0 && (moved_in & (moved_in - 1)) == 0;
    return one ? __builtin_ctz(moved_in) : -1;
}

void controls_drives(const struct controls *k, uint32_t channel, struct drives *out) {
    const struct control *c = &k->of[channel];
    double bin = (k->map.high - k->map.low) / 32;
    memset(out, 0, sizeof *out);
    out->told = k->map.inputs > 0;
    out->source = one_source(c->way.moved_in);
    if (!out->told || !c->moved || out->source < 0)
        return;
    out->mapped = out->source != (int32_t)channel && (c->way.moved >> out->source & 1u) == 0;
    out->others = c->way.follows;
    follow_read(&c->follow, &k->map, &out->follow);
    out->apart = out->follow.apart > in_units(k, FOLLOW_APART);
    out->dead = out->follow.dead > in_units(k, DEAD) + bin;
}

bool controls_strange(const struct drives *d) {
    return d->told && (d->mapped || d->others != 0 || d->apart || d->dead);
}

static void also(struct text *t) {
    text_string(t, t->len > 0 ? "; " : "");
}

const char *controls_drives_text(const struct controls *k, const struct drives *d,
                                 char out[DRIVES_WORDS]) {
    struct text t;
    const char *between = "its stick also drives ";
    text_init(&t, out, DRIVES_WORDS);
    if (d->mapped)
        text_format(&t, "moved by the stick of %s, not by its own", NAME_OF(k, d->source));
    if (d->apart) {
        also(&t);
        text_format(&t, "late or stuck: with the stick at %d it stood at %d and at %d",
                    (int)d->follow.at, (int)d->follow.low, (int)d->follow.high);
    }
    for (uint32_t c = 0; c < k->map.count; c++) {
        if ((d->others >> c & 1u) == 0)
            continue;
        text_string(&t, between[0] == ',' || t.len == 0 ? "" : "; ");
        text_format(&t, "%s%s", between, NAME_OF(k, c));
        between = ", ";
    }
    if (d->dead) {
        also(&t);
        text_format(&t, "stands while its stick goes about %.0f %s", d->follow.dead,
                    stick_sign(&k->map));
    }
    if (t.len == 0)
        text_string(&t, "its own stick drives it");
    if (d->follow.reversed)
        text_string(&t, ", reversed in the receiver");
    return out;
}

static enum trial_verdict judge_drives(const struct control *c, const struct drives *d) {
    if (c->meant_asked && !c->meant && controls_strange(d))
        return TRIAL_FAILED;
    if (d->apart)
        return c->meant ? TRIAL_NOT_SHOWN : TRIAL_FAILED;
    if (d->mapped)
        return c->meant ? TRIAL_PASSED : TRIAL_FAILED;
    return !controls_strange(d) || c->meant ? TRIAL_PASSED : TRIAL_NOT_SHOWN;
}

static void find_drives(const struct controls *k, uint32_t at, struct trial_outcome *out) {
    const struct control *c = &k->of[at];
    const char *name = stick_finding(STICK_DRIVES, at);
    struct drives d;
    char words[DRIVES_WORDS];
    controls_drives(k, at, &d);
    if (!d.told)
        return;
    if (d.source < 0) {
        trial_find(out, name, TRIAL_NOT_SHOWN, "%s: %s", NAME_OF(k, at),
                   c->way.moved_in == 0 ? "moved, but no stick's value did"
                                        : "moved while more than one stick's value did");
        return;
    }
    if (!d.follow.known) {
        trial_find(out, name, d.mapped && !c->meant ? TRIAL_FAILED : TRIAL_NOT_SHOWN,
                   "%s: %s; how it follows wasn't seen: hold it at its ends", NAME_OF(k, at),
                   controls_drives_text(k, &d, words));
        return;
    }
    const char *word = !controls_strange(&d) ? ""
                       : !c->meant_asked     ? ""
                       : c->meant            ? "; meant so, as the person said"
                                             : "; not meant, as the person said";
    trial_brief(trial_find(out, name, judge_drives(c, &d), "%s: %s%s", NAME_OF(k, at),
                           controls_drives_text(k, &d, words), word),
                "%.50s", controls_strange(&d) || d.follow.reversed ? words : "own stick");
}

/* --- how smoothly */

static enum trial_verdict judge_smooth(enum smooth_kind kind) {
    if (kind == SMOOTH_JUMPS)
        return TRIAL_FAILED;
    return kind == SMOOTH_EVEN || kind == SMOOTH_CLICKS || kind == SMOOTH_UNTIMED ? TRIAL_PASSED
                                                                                  : TRIAL_NOT_SHOWN;
}

static void smooth_words(const struct controls *k, const struct smooth_figures *f, char *out,
                         size_t size) {
    static const char *const words[] = {
        [SMOOTH_UNKNOWN] = "whether it jumps wasn't seen: too little movement",
        [SMOOTH_FAST] = "moved too fast to tell whether it jumps: take 2 s from end to end",
        [SMOOTH_CLICKS] = "moves in clicks and never back: a ratchet",
        [SMOOTH_UNEVEN] = "moves in leaps: a worn track, or a ratchet moved fast? Move it "
                          "more slowly",
    };
    if (f->kind == SMOOTH_JUMPS)
        snprintf(out, size, "jumps back and forth as no hand does: %u times, by up to %u µs",
                 f->turns, f->worst);
    else if (f->kind == SMOOTH_RARE)
        snprintf(out, size,
                 "whether it jumps can't be told with a report every %.0f ms: a hand is as fast",
                 f->report_ms);
    else if (f->kind == SMOOTH_EVEN)
        snprintf(out, size, "moves evenly: %.1f µs off its line (limit %.3g)", f->uneven, f->limit);
    else if (f->kind == SMOOTH_UNTIMED)
        snprintf(out, size, "never jumps back and forth; smaller jumps can't be told without age");
    else
        snprintf(out, size, "%s", words[f->kind]);
    (void)k;
}

static void find_smooth(const struct controls *k, uint32_t at, struct trial_outcome *out) {
    const struct control *c = &k->of[at];
    struct smooth_figures f;
    char words[120];
    if (travel_positions(&c->way) > 0)
        return;
    smooth_read(&c->smooth, &k->map, k->rules.rest_noise, &f);
    smooth_words(k, &f, words, sizeof words);
    struct trial_finding *finding =
        trial_brief(trial_find(out, stick_finding(STICK_SMOOTH, at), judge_smooth(f.kind), "%s: %s",
                               NAME_OF(k, at), words),
                    f.kind == SMOOTH_CLICKS ? "clicks" : "smooth");
    if (f.kind == SMOOTH_JUMPS)
        trial_measured(finding, f.worst, f.worst, "us");
    else if (f.kind == SMOOTH_EVEN)
        trial_measured(finding, f.uneven, f.uneven, "us");
}

/* It rests where the sketch takes it for idle, and goes no farther to that side. */
static bool rests_idle(const struct controls *k, uint32_t c, double wanted, bool *beyond) {
    double rest = k->base.rest[c], off = in_units(k, END_OFF), span = k->map.high - k->map.low;
    const struct control *moved = &k->of[c];
    int32_t low = whole_i32(k->map.low), high = whole_i32(k->map.high), idle = whole_i32(wanted);
    *beyond = false;
    if (!motor_turns_both_ways(idle, low, high) && moved->moved)
        *beyond = 2 * wanted < k->map.low + k->map.high ? moved->way.low < rest - off
                                                        : moved->way.high > rest + off;
    return motor_travel((int32_t)lround(rest), idle, low, high) * span <= off;
}

static void find_motor(const struct controls *k, const struct motor *motor,
                       struct trial_outcome *out) {
    static const char *const wheres[] = {"its low end", "its high end", "the middle", "its idle"};
    uint32_t c = (uint32_t)motor->channel;
    if (c >= k->map.count || !k->base.known[c] || !k->map.span_known) {
        struct trial_finding *f = trial_find(out, "throttle_idle", TRIAL_NOT_SHOWN,
                                             "throttle, channel %u: its rest wasn't seen", c + 1);
        f->missing = !k->map.span_known ? "span" : NULL;
        return;
    }
    bool beyond;
    double rest = k->base.rest[c], off = in_units(k, END_OFF);
    double wanted = motor_idle_value(motor, whole_i32(k->map.low), whole_i32(k->map.high));
    bool idle = rests_idle(k, c, wanted, &beyond);
    trial_measured(trial_find(out, "throttle_idle", idle && !beyond ? TRIAL_PASSED : TRIAL_FAILED,
                              "%s: rests at %.0f %s, %s (%s, %.0f, within %.3g)", NAME_OF(k, c),
                              rest, stick_sign(&k->map),
                              !idle    ? "which isn't idle"
                              : beyond ? "but goes beyond that"
                                       : "idle",
                              wheres[motor->idle], wanted, off),
                   rest, rest, stick_unit(&k->map));
}

/* Each motor's stick rests where the model file says that the motor does. */
static void find_throttle(const struct controls *k, struct trial_outcome *out) {
    const struct bench_limits *limits = &k->rules.bench;
    if (limits->motors == 0)
        trial_find(out, "throttle_idle", TRIAL_NOT_SHOWN,
                   "whether the throttle rests at idle: no model file says which channel it is")
            ->missing = "throttle";
    for (uint32_t i = 0; i < limits->motors; i++)
        find_motor(k, &limits->motor[i], out);
}

/* Its stick went far, and the output never moved. */
static bool stands_dead(const struct controls *k, uint32_t c) {
    return k->in[c].ends && k->in[c].high - k->in[c].low >= in_units(k, FAR) &&
           (k->ever >> c & 1u) == 0;
}

static void find_unmoved(const struct controls *k, uint32_t c, struct trial_outcome *out) {
    const char *name = stick_finding(STICK_TRAVEL, c);
    if (!controls_has_stick(k, c))
        trial_aside(trial_find(out, name, TRIAL_NOT_SHOWN,
                               "%s: has no stick of its own, as the lines say", NAME_OF(k, c)));
    else if (stands_dead(k, c))
        trial_find(out, stick_finding(STICK_DRIVES, c), TRIAL_FAILED,
                   "%s: its stick's value went from %d to %d, the output stood still",
                   NAME_OF(k, c), (int)k->in[c].low, (int)k->in[c].high);
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
    {"drives", NULL,
     "Compare the order of the channels in both programs, the packet's layout, and the receiver's "
     "mixing; then try failsafe anew: it may hold the wrong channel."},
    {"direction", "goes the wrong way",
     "Reverse that channel in the transmitter's sketch, then try failsafe anew: its preset may now "
     "be the wrong end."},
    {"travel", "doesn't go from end to end",
     "In the transmitter's sketch map the ends that are always reached to those that are wanted; "
     "where a servo buzzes at its end, make the travel smaller."},
    {"smooth", "jumps while it moves",
     "Swap its potentiometer with another stick's: does the jumping go along? Then it is worn; "
     "else "
     "look at its joints, its leads and the reference; then the trial of rest."},
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
static const char *label_of(const struct controls *k, const struct trial_finding *f) {
    const char *number = strstr(f->name, "_ch");
    uint32_t channel = number != NULL && number[4] == '\0' ? (uint32_t)(number[3] - '1')
                       : number != NULL                    ? (uint32_t)(number[4] - '0') + 9
                                                           : CHANNELS_MAX;
    return channel < CHANNELS_MAX ? NAME_OF(k, channel) : "the throttle";
}

static void say_fault(const struct controls *k, const struct fault *fault,
                      const struct trial_finding *worst, struct trial_outcome *out) {
    uint32_t others = 0;
    char more[32] = "";
    for (uint32_t i = 0; i < out->count; i++)
        others += out->finding[i].verdict == TRIAL_FAILED && &out->finding[i] != worst;
    if (others > 0)
        snprintf(more, sizeof more, ", and %u more", others);
    if (fault->what == NULL)
        snprintf(out->headline, sizeof out->headline, "Not right: %.150s%s.", worst->text, more);
    else
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

static void say_rest(const struct controls *k, struct trial_outcome *out) {
    uint32_t moved = 0;
    const char *next = "Begin again and go through what was not shown, one stick at a time.";
    for (uint32_t c = 0; c < k->map.count; c++)
        moved += k->of[c].moved;
    if (!k->clear)
        next = "Begin again once propeller and linkages are clear.";
    else if (only_throttle(out))
        next = "Give the throttle's channel in a model file ([channels] throttle) and judge the "
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

static void say(const struct controls *k, struct trial_outcome *out) {
    for (size_t i = 0; i < sizeof faults / sizeof *faults; i++) {
        const struct trial_finding *worst = find_fault(out, &faults[i]);
        if (worst != NULL) {
            say_fault(k, &faults[i], worst, out);
            return;
        }
    }
    say_rest(k, out);
}

void controls_judge(const void *place, struct trial_outcome *out) {
    const struct controls *k = place;
    memset(out, 0, sizeof *out);
    find_throttle(k, out);
    if (k->untimed)
        trial_find(out, "time", TRIAL_NOT_SHOWN, "the lines carry no time")->missing = "t";
    if (k->map.count > 0 && k->map.inputs == 0)
        trial_aside(trial_find(out, "drives", TRIAL_NOT_SHOWN,
                               "which stick drives which output: only the person's word"))
            ->missing = "in";
    for (uint32_t c = 0; c < k->map.count; c++) {
        if (!k->of[c].moved) {
            find_unmoved(k, c, out);
            continue;
        }
        find_drives(k, c, out);
        find_travel(k, c, out);
        find_smooth(k, c, out);
        find_return(k, c, out);
        find_way(k, c, out);
        find_others(k, c, out);
    }
    out->verdict = trial_sum(out);
    say(k, out);
}
