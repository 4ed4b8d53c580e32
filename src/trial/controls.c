/* Controls: does each stick move its own channel, all the way, the right way, and nothing else; and
 * does it come back to where it was?  One stick after the other, in the person's order: the one
 * that moves is the one that is meant. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/text.h"
#include "judge/controls_parts.h"
#include "trial/kinds.h"

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
                         "Does the part that this stick is for move, and the right way?",
                  .caution = "The motor may run: keep clear of the propeller.",
                  .ask = ASK_YES_NO},
    [STEP_MEANT] = {.name = "meant",
                    .say = "This output doesn't simply follow its own stick: see below.\n"
                           "Did you build it so (a mixer, another order, a dead band)?",
                    .ask = ASK_YES_NO},
};

static void begin(void *place, const struct trial_rules *rules) {
    struct controls *k = place;
    memset(k, 0, sizeof *k);
    k->rules = *rules;
    k->newest = -1;
    travel_begin(&k->visit);
    flicks_begin(&k->flicks);
}

/* --- what was seen */

/* Going half as far later takes nothing back of what was seen. */
static bool goes_as_far(const struct controls *k, const struct control *c) {
    double before = c->way.high - c->way.low, now = k->visit.high - k->visit.low;
    return !c->done || now >= before - END_OFF * k->map.scale;
}

static void forget_visit(struct controls *k) {
    k->together |= k->visit.moved;
    for (uint32_t c = 0; c < k->map.count; c++)
        if (k->of[c].visit == k->visits) /* it seemed to be alone at first */
            memset(&k->of[c], 0, sizeof k->of[c]);
    k->muddle = k->visit.moved;
    k->newest = -1;
}

static void keep_visit(struct controls *k) {
    if (k->visit.muddle)
        forget_visit(k);
    if (k->visit.muddle || k->visit.mover < 0)
        return;
    struct control *c = &k->of[k->visit.mover];
    bool done = travel_done(&k->visit, &k->map, &k->base);
    k->newest = k->visit.mover;
    c->smooth = k->smooth;
    c->follow = k->follow;
    if (c->moved && ((c->done && !done) || !goes_as_far(k, c)))
        return;
    c->moved = true;
    c->done = done;
    c->visit = k->visits;
    c->way = k->visit;
}

/* The stick whose value moved, negative where it wasn't one alone. */
static int32_t source_of(const struct travel *t) {
    bool one = t->moved_in != 0 && (t->moved_in & (t->moved_in - 1)) == 0;
    return one ? __builtin_ctz(t->moved_in) : -1;
}

/* Where both stood when the visit began is the first that is known of the two. */
static void begin_follow(struct controls *k, int32_t mover, int32_t source) {
    follow_begin(&k->follow, source + 1);
    if (source < 0 || k->visit.here_in[source] == CHANNEL_OFF)
        return;
    for (int i = 0; i < FOLLOW_CHAIN; i++)
        follow_add(&k->follow, &k->map, k->visit.here_in[source], k->visit.here[mover]);
    follow_break(&k->follow);
}

/* What an earlier visit to the same stick showed counts on. */
static void take_way(struct controls *k, const struct moment *m, int32_t before) {
    const struct report *r = &m->event->report;
    int32_t mover = k->visit.mover, source = source_of(&k->visit), value;
    if (mover < 0 || k->visit.muddle || !stick_value(r, (uint32_t)mover, &value))
        return;
    if (before != mover) {
        k->smooth = k->of[mover].smooth;
        k->follow = k->of[mover].follow;
        smooth_break(&k->smooth);
        follow_break(&k->follow);
    }
    smooth_add(&k->smooth, &k->map, m, value);
    if (k->follow.source != source + 1)
        begin_follow(k, mover, source);
    if (source >= 0 && report_has(r, KEY_IN) && (uint32_t)source < r->in_count &&
        r->in[source] != CHANNEL_OFF)
        follow_add(&k->follow, &k->map, r->in[source], value);
}

/* How far the sticks' own values go, whatever the outputs do. */
static void take_inputs(struct controls *k, const struct report *r) {
    for (uint32_t c = 0; c < r->in_count && report_has(r, KEY_IN) && c < CHANNELS_MAX; c++) {
        int32_t now = r->in[c], before = k->in[c].before;
        if (now == CHANNEL_OFF)
            continue;
        if (k->in[c].known) {
            int32_t low = now > before ? now : before, high = now < before ? now : before;
            k->in[c].low = k->in[c].ends && k->in[c].low < low ? k->in[c].low : low;
            k->in[c].high = k->in[c].ends && k->in[c].high > high ? k->in[c].high : high;
            k->in[c].ends = true;
        }
        k->in[c].known = true;
        k->in[c].before = now;
    }
}

static void take_move(struct controls *k, const struct moment *m, bool keep) {
    const struct report *r = &m->event->report;
    int32_t before = k->visit.mover;
    travel_add(&k->visit, &k->map, &k->base, r, m->link_ms);
    k->ever |= k->visit.moved;
    if (!keep)
        return;
    take_inputs(k, r);
    take_way(k, m, before);
    keep_visit(k);
}

static void enter(struct controls *k, uint32_t step) {
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

static void take_flicks(struct controls *k, const struct report *r, int64_t link_ms) {
    if (k->newest < 0)
        return;
    struct control *c = &k->of[k->newest];
    flicks_add(&k->flicks, (uint32_t)k->newest, c->way.follows, &k->map, &k->base, r, link_ms);
    c->flicked = true;
    c->flicks = k->flicks;
}

static void take_report(struct controls *k, const struct moment *m, uint32_t step) {
    const struct report *r = &m->event->report;
    k->untimed = m->link_ms == TIME_UNKNOWN;
    if (!sticks_told(m) || k->untimed)
        return;
    if (step == STEP_STILL && !k->based) {
        travel_calm_add(&k->calm, &k->map, r, m->link_ms);
        k->based = travel_calm_read(&k->calm, &k->base);
    } else if (step == STEP_MOVE || step == STEP_AGAIN) {
        take_move(k, m, step == STEP_MOVE);
    } else if (step == STEP_FLICK) {
        take_flicks(k, r, m->link_ms);
    }
}

static void take(void *place, const struct moment *m, const struct snapshot *s,
                 const struct trial_place *at, bool entered) {
    struct controls *k = place;
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
    if (at->step == STEP_MEANT && at->answered && k->newest >= 0) {
        k->of[k->newest].meant_asked = true;
        k->of[k->newest].meant = at->answer == 1;
    }
}

/* --- the guide */

/* A channel that a stick drives, as far as the lines tell. */
bool controls_has_stick(const struct controls *k, uint32_t c) {
    return k->map.inputs == 0 || c < k->map.inputs;
}

static bool all_done(const struct controls *k) {
    for (uint32_t c = 0; c < k->map.count; c++)
        if (controls_has_stick(k, c) && !k->of[c].moved)
            return false;
    return k->map.count > 0;
}

bool controls_comes_back(const struct controls *k, uint32_t c) {
    double rest = k->base.known[c] ? k->base.rest[c] : k->of[c].way.here[c];
    return !travel_rests_at_end(&k->map, rest) && travel_positions(&k->of[c].way) == 0;
}

static int after_move(const struct controls *k, const struct trial_place *at) {
    if (k->visit.muddle)
        return STEP_AGAIN;
    bool on = at->answered || at->skipped;
    if (k->newest < 0)
        return on ? TRIAL_GO_END : TRIAL_STAY;
    if (travel_done(&k->visit, &k->map, &k->base)) {
        bool flicks = k->base.known[k->newest] && controls_comes_back(k, (uint32_t)k->newest);
        return flicks ? STEP_FLICK : STEP_WAY;
    }
    return on ? STEP_WAY : TRIAL_STAY;
}

static int after_way(const struct controls *k, const struct trial_place *at) {
    struct drives d = {0};
    if (k->newest >= 0)
        controls_drives(k, (uint32_t)k->newest, &d);
    if (at->step == STEP_WAY && controls_strange(&d))
        return STEP_MEANT;
    return all_done(k) ? TRIAL_GO_END : STEP_MOVE;
}

static int next(const void *place, const struct snapshot *s, const struct trial_place *at) {
    const struct controls *k = place;
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
        return on ? after_way(k, at) : TRIAL_STAY;
    }
}

/* --- the pane */

static void pane_bar(const struct controls *k, const struct snapshot *s, uint32_t c,
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

static void pane_meant(const struct controls *k, char *line, size_t size) {
    struct drives d;
    char words[DRIVES_WORDS];
    controls_drives(k, (uint32_t)k->newest, &d);
    snprintf(line, size, "%s: %s", NAME_OF(k, k->newest), controls_drives_text(k, &d, words));
}

static void pane_note(const struct controls *k, const struct snapshot *s,
                      const struct trial_place *at, struct trial_pane *out) {
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
    else if (at->step == STEP_MEANT && k->newest >= 0)
        pane_meant(k, line, size);
    if (line[0] != '\0')
        out->lines++;
}

static void pane_together(const struct controls *k, struct trial_pane *out) {
    struct text t;
    text_init(&t, out->line[out->lines++], sizeof out->line[0]);
    text_string(&t, "moved together:");
    for (uint32_t c = 0; c < k->map.count; c++)
        if ((k->muddle >> c & 1u) != 0)
            text_format(&t, " %s", NAME_OF(k, c));
}

static void pane(const void *place, const struct snapshot *s, const struct trial_place *at,
                 struct trial_pane *out) {
    const struct controls *k = place;
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
    .size = sizeof(struct controls),
    .begin = begin,
    .take = take,
    .next = next,
    .pane = pane,
    .judge = controls_judge,
};
