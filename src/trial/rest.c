/* Rest: do the values stand still when nobody touches a stick?  Half a minute with hands off. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/text.h"
#include "judge/sticks.h"
#include "judge/still.h"
#include "trial/kinds.h"

/* A rest that takes too long goes on to the servos, so these stand behind it. */
enum { STEP_READY, STEP_REST, STEP_SERVOS, STEP_AGAIN };
enum {
    REST_MS = 30000,
    LEAST_MS = 20000,  /* less of it shows nothing, */
    SILENT_MS = 300,   /* so long without a stick's value is told to the person */
    LEAST_VALUES = 25, /* nor do fewer values: their spread is known to 14 % */
};

static const struct trial_step rest_steps[] = {
    [STEP_READY] = {.name = "ready",
                    .say = "Transmitter and receiver on, all sticks at rest, throttle at its low\n"
                           "end.  Lay the transmitter down where nothing shakes it.",
                    .caution = "The model is live: propeller off, or wheels off the ground.",
                    .ask = ASK_READY},
    [STEP_REST] = {.name = "rest",
                   .say = "Hands off everything for half a minute.",
                   .ask = ASK_NOTHING,
                   .waits = "30 s with hands off",
                   .least_s = 30,
                   .most_s = 90},
    [STEP_AGAIN] = {.name = "again",
                    .say = "A stick was moved: the lines below say which.  So once more from the\n"
                           "beginning: hands off everything for half a minute.",
                    .ask = ASK_NOTHING,
                    .waits = "30 s with hands off",
                    .least_s = 30,
                    .most_s = 90},
    [STEP_SERVOS] = {.name = "servos",
                     .say = "Still hands off.  Look at the servos and listen.\n"
                            "Does one of them jitter or buzz?",
                     .caution = "Look, don't touch: keep fingers away from the linkages.",
                     .ask = ASK_YES_NO},
};

struct state {
    struct trial_rules rules;
    struct stick_map map;
    struct still_series series;
    uint64_t left_out; /* reports of this rest that told no stick's value */
    bool untimed;      /* reports without any time */
    bool packets_told; /* some report told of packets */
    bool asked_again;
    bool servos_known, servos_jitter;
    bool refused_known; /* the receiver's count of refused packets, at the rest's begin and end */
    uint64_t refused_first, refused_last;
};

static void begin(void *place, const struct trial_rules *rules) {
    struct state *k = place;
    memset(k, 0, sizeof *k);
    k->rules = *rules;
}

static void start_rest(struct state *k, const struct snapshot *s) {
    memset(&k->series, 0, sizeof k->series);
    k->left_out = 0;
    k->refused_known = s->refused_known;
    k->refused_first = k->refused_last = s->refused;
}

static void take_report(struct state *k, const struct moment *m, const struct snapshot *s) {
    k->untimed = m->link_ms == TIME_UNKNOWN;
    k->packets_told = k->packets_told || m->packets.counted || m->packets.arrived;
    if (!sticks_told(m) || k->untimed) {
        /* A report between two packets is none of these. */
        k->left_out +=
            k->untimed || k->series.count == 0 || m->link_ms - k->series.last_ms > SILENT_MS;
        return;
    }
    if (!k->refused_known && s->refused_known) {
        k->refused_known = true;
        k->refused_first = s->refused;
    }
    k->refused_last = s->refused;
    if (k->series.covered_ms < REST_MS)
        still_add(&k->series, &m->event->report, m->link_ms);
}

static void take(void *place, const struct moment *m, const struct snapshot *s,
                 const struct trial_place *at, bool entered) {
    struct state *k = place;
    stick_map_take(&k->map, m, s);
    bool resting = at->step == STEP_REST || at->step == STEP_AGAIN;
    if (entered && resting)
        start_rest(k, s);
    if (entered && at->step == STEP_AGAIN)
        k->asked_again = true;
    if (resting && m->event->kind == EVENT_REPORT)
        take_report(k, m, s);
    if (at->step == STEP_SERVOS && at->answered) {
        k->servos_known = true;
        k->servos_jitter = at->answer == 1;
    }
}

static bool enough(const struct state *k) {
    return k->series.covered_ms >= LEAST_MS && k->series.count >= LEAST_VALUES;
}

static bool is_touched(const struct state *k) {
    struct still_figures f;
    for (uint32_t c = 0; c < k->map.count; c++)
        if (still_read(&k->series, c, k->map.scale, &f) && f.touched)
            return true;
    return false;
}

static int next(const void *place, const struct snapshot *s, const struct trial_place *at) {
    const struct state *k = place;
    (void)s;
    bool over = k->series.covered_ms >= REST_MS && k->series.count >= LEAST_VALUES;
    switch (at->step) {
    case STEP_READY:
        return at->answered || at->skipped ? STEP_REST : TRIAL_STAY;
    case STEP_REST:
        if (over)
            return is_touched(k) ? STEP_AGAIN : STEP_SERVOS;
        return at->skipped ? STEP_SERVOS : TRIAL_STAY;
    case STEP_AGAIN:
        return over || at->skipped ? STEP_SERVOS : TRIAL_STAY;
    default:
        return at->answered || at->skipped ? TRIAL_GO_END : TRIAL_STAY;
    }
}

/* --- the figures of all channels */

struct figures {
    bool known[CHANNELS_MAX]; /* measured, not moved, enough of it */
    struct still_figures of[CHANNELS_MAX];
    uint32_t shown, noisy, wild; /* channels: known, above the limit, with outliers */
    uint32_t noisiest, wildest;  /* channel */
    uint32_t drifting;           /* a channel that drifts, CHANNELS_MAX: none */
    bool pair_known;
    uint32_t pair[2]; /* the two whose noise goes most together */
    double pair_r;
    uint32_t with; /* noisy channels whose noise goes with the noisiest one's */
    double limit;
};

static bool drifts(const struct figures *g, const struct still_figures *f) {
    return f->drift_known && f->drift_p < 0.01 && fabs(f->drift) > g->limit;
}

static void read_channel(const struct state *k, struct figures *g, uint32_t c) {
    struct still_figures *f = &g->of[c];
    if (!still_read(&k->series, c, k->map.scale, f) || f->touched || !enough(k) ||
        f->count < LEAST_VALUES)
        return;
    g->known[c] = true;
    if (g->shown++ == 0 || f->noise > g->of[g->noisiest].noise)
        g->noisiest = c;
    g->noisy += f->noise > g->limit;
    if (f->outliers > 0 && (g->wild++ == 0 || f->outliers > g->of[g->wildest].outliers))
        g->wildest = c;
    if (g->drifting == CHANNELS_MAX && drifts(g, f))
        g->drifting = c;
}

enum { TOGETHER_PERCENT = 50 };

static void read_pairs(const struct state *k, struct figures *g) {
    for (uint32_t a = 0; a < k->map.count; a++) {
        for (uint32_t b = a + 1; b < k->map.count; b++) {
            double r;
            if (!g->known[a] || !g->known[b] ||
                !still_correlation(&k->series, a, &g->of[a], b, &g->of[b], &r))
                continue;
            bool noisy = g->of[a].noise > g->limit && g->of[b].noise > g->limit;
            g->with +=
                noisy && 100 * r > TOGETHER_PERCENT && (a == g->noisiest || b == g->noisiest);
            if (g->pair_known && fabs(r) <= fabs(g->pair_r))
                continue;
            g->pair_known = true;
            g->pair[0] = a;
            g->pair[1] = b;
            g->pair_r = r;
        }
    }
}

static void read_all(const struct state *k, struct figures *g) {
    memset(g, 0, sizeof *g);
    g->limit = k->rules.rest_noise * (k->map.scale > 0 ? k->map.scale : 1);
    g->drifting = CHANNELS_MAX;
    for (uint32_t c = 0; c < k->map.count; c++)
        read_channel(k, g, c);
    read_pairs(k, g);
}

/* --- findings */

#define NAME_OF(k, c) ((k)->map.label[c])

static void find_noise(const struct state *k, const struct figures *g, uint32_t c,
                       struct trial_outcome *out) {
    const struct still_figures *f = &g->of[c];
    bool quiet = f->noise <= g->limit;
    char steps[60] = "";
    if (f->step_known && f->step >= 3 * k->map.scale && f->step > 1)
        snprintf(steps, sizeof steps, ", in steps of %d", (int)f->step);
    else if (f->step_known && f->high - f->low <= f->step)
        snprintf(steps, sizeof steps, ", one step of %d", (int)f->step);
    struct trial_finding *finding = trial_find(
        out, stick_finding(STICK_NOISE, c), quiet ? TRIAL_PASSED : TRIAL_FAILED,
        "%s: rests at %.1f, noise %.1f %s (limit %.3g), peak to peak %d%s", NAME_OF(k, c), f->mean,
        f->noise, stick_sign(&k->map), g->limit, (int)(f->high - f->low), steps);
    trial_measured(finding, f->noise, f->noise, stick_unit(&k->map));
    if (f->outliers > 0)
        trial_measured(trial_find(out, stick_finding(STICK_OUTLIERS, c), TRIAL_FAILED,
                                  "%s: %u of %u values far outside, the worst by %+d %s",
                                  NAME_OF(k, c), f->outliers, f->count, (int)f->farthest,
                                  stick_sign(&k->map)),
                       f->farthest, f->farthest, stick_unit(&k->map));
    if (drifts(g, f))
        trial_measured(trial_find(out, stick_finding(STICK_DRIFT, c), TRIAL_FAILED,
                                  "%s: drifts, by %+.1f %s in %.0f s", NAME_OF(k, c), f->drift,
                                  stick_sign(&k->map), (double)k->series.covered_ms / 1000),
                       f->drift, f->drift, stick_unit(&k->map));
}

static void find_unshown(const struct state *k, const struct figures *g, uint32_t c,
                         struct trial_outcome *out) {
    const struct still_figures *f = &g->of[c];
    const char *name = stick_finding(STICK_NOISE, c);
    if (f->touched)
        trial_find(out, name, TRIAL_NOT_SHOWN, "%s: was moved meanwhile%s", NAME_OF(k, c),
                   k->asked_again ? ", the second time too" : "");
    else if (k->left_out > k->series.count)
        trial_find(out, name, TRIAL_NOT_SHOWN,
                   "%s: too few values; in failsafe, locked or without packets they aren't "
                   "the stick's",
                   NAME_OF(k, c));
    else
        trial_find(out, name, TRIAL_NOT_SHOWN, "%s: too few values: %.0f s of %d s", NAME_OF(k, c),
                   (double)k->series.covered_ms / 1000, REST_MS / 1000);
}

/* Whose noise it is: what all share, or each one's own. */
static void find_shared(const struct state *k, const struct figures *g, struct trial_outcome *out) {
    if (g->shown == 0)
        return;
    struct trial_finding *finding;
    enum trial_verdict verdict = g->noisy > 0 ? TRIAL_FAILED : TRIAL_PASSED;
    if (g->noisy > 1 && 2 * (g->with + 1) > g->noisy)
        finding = trial_find(
            out, "shared", verdict,
            "%u channels jitter together, %s most: the supply, or a reference that they share",
            g->with + 1, NAME_OF(k, g->noisiest));
    else if (g->noisy > 1)
        finding = trial_find(out, "shared", verdict,
                             "%u channels jitter, each on its own: potentiometers, wiring, or "
                             "no averaging at all",
                             g->noisy);
    else if (g->noisy == 1)
        finding =
            trial_find(out, "shared", verdict, "%s alone jitters: its potentiometer or its wiring",
                       NAME_OF(k, g->noisiest));
    else if (g->pair_known && 100 * fabs(g->pair_r) > TOGETHER_PERCENT)
        finding = trial_find(out, "shared", verdict,
                             "%s and "
                             "%s jitter together, within the limit",
                             NAME_OF(k, g->pair[0]), NAME_OF(k, g->pair[1]));
    else
        finding = trial_find(out, "shared", verdict, "no two channels jitter together");
    if (g->pair_known)
        trial_measured(finding, g->pair_r, g->pair_r, NULL);
}

static void find_servos(const struct state *k, const struct figures *g, struct trial_outcome *out) {
    if (g->shown == 0)
        return;
    if (!k->servos_known)
        trial_find(out, "servos", TRIAL_NOT_SHOWN,
                   "whether the servos jitter: not answered, and the lines can't tell");
    else if (!k->servos_jitter)
        trial_find(out, "servos", TRIAL_PASSED, "the servos stand still, as the person saw it");
    else if (g->noisy + g->wild > 0)
        trial_find(out, "servos", TRIAL_FAILED,
                   "a servo jitters, as the values do: cure those first");
    else
        trial_find(out, "servos", TRIAL_FAILED,
                   "a servo jitters though the values stand still: the output side, or the servo "
                   "itself");
}

/* Values that are held look as still as a stick's. */
static bool may_be_held(const struct state *k, const struct figures *g) {
    bool stands = g->shown > 0;
    for (uint32_t c = 0; c < k->map.count; c++)
        stands = stands && (!g->known[c] || g->of[c].high == g->of[c].low);
    return stands && !k->packets_told;
}

static void find_held(const struct state *k, const struct figures *g, struct trial_outcome *out) {
    if (may_be_held(k, g))
        trial_find(
            out, "packets", TRIAL_NOT_SHOWN,
            "not one value changed, and whether packets came isn't told: held values look the "
            "same")
            ->missing = "got";
}

/* --- headline and the next step */

static void say_outliers(const struct state *k, const struct figures *g, struct text *t) {
    bool refused = k->refused_known && k->refused_last > k->refused_first;
    uint32_t shared = 0;
    for (uint32_t c = 0; c < k->map.count; c++)
        if (c != g->wildest && g->known[c] && g->of[c].outliers > 0)
            shared +=
                still_outliers_shared(&k->series, g->wildest, &g->of[g->wildest], c, &g->of[c]);
    if (shared > 0)
        text_string(t, "Several channels jump in the same report: a packet taken for another. ");
    if (shared > 0 && !refused)
        text_string(t, "None was rejected: check size and layout at both ends, add a checksum.");
    else if (shared > 0)
        text_string(t, "Some were rejected as well: see who else sends, propeller off meanwhile.");
    else
        text_format(t,
                    "Sketch: is channel %u read while an interrupt writes it (two bytes, one at a "
                    "time)? Else its wiper: another potentiometer, and this trial again.",
                    (unsigned)(g->wildest + 1));
}

static void say_next(const struct state *k, const struct figures *g, struct trial_outcome *out) {
    struct text t;
    text_init(&t, out->next, sizeof out->next);
    unsigned noisiest = (unsigned)(g->noisiest + 1);
    if (g->shown == 0 && k->series.count > k->left_out)
        text_string(&t, "Try again, with hands off for the whole half minute.");
    else if (g->shown == 0)
        text_string(&t, "Link the transmitter, throttle low, and try again with hands off.");
    else if (g->wild > 0)
        say_outliers(k, g, &t);
    else if (g->noisy > 1 && 2 * (g->with + 1) > g->noisy)
        text_string(&t, "Feed the transmitter from a battery, power off, 100 nF at the converter's "
                        "reference, keep the radio's supply apart; then this trial again.");
    else if (g->noisy == 1)
        text_format(&t,
                    "Swap channel %u's potentiometer with a quiet one: does the noise go along? "
                    "Then it is worn; else 100 nF at the wiper, and look at the joints.",
                    noisiest);
    else if (g->noisy > 1)
        text_string(&t, "Take the mean of 8 readings in the transmitter's sketch, potentiometers "
                        "of 10 kilohm at most, 100 nF at each wiper; then this trial again.");
    else if (g->drifting < CHANNELS_MAX)
        text_format(&t,
                    "Let all warm up for five minutes and try again; if channel %u still drifts, "
                    "look at its potentiometer and at the reference.",
                    (unsigned)(g->drifting + 1));
    else if (k->servos_known && k->servos_jitter)
        text_string(&t, "Swap that servo with a quiet one. If the place keeps trembling: pulses "
                        "made by software, long prints, a long servo lead, or the supply.");
    else if (out->verdict == TRIAL_NOT_SHOWN)
        text_string(&t, "Try again for what was not shown, with hands off to the end.");
}

static void say_headline(const struct state *k, const struct figures *g,
                         struct trial_outcome *out) {
    struct text t;
    text_init(&t, out->headline, sizeof out->headline);
    const char *sign = stick_sign(&k->map);
    if (g->shown == 0)
        text_string(&t, "Nothing shown: too few values with hands off.");
    else if (g->noisy > 0)
        text_format(&t,
                    "Not quiet: "
                    "%s has a noise of %.1f %s.",
                    NAME_OF(k, g->noisiest), g->of[g->noisiest].noise, sign);
    else if (g->wild > 0)
        text_format(&t, "Single values far outside on %u channel%s.", g->wild,
                    g->wild == 1 ? "" : "s");
    else if (g->drifting < CHANNELS_MAX)
        text_format(&t, "%s drifts, by %+.1f %s.", NAME_OF(k, g->drifting),
                    g->of[g->drifting].drift, sign);
    else if (k->servos_known && k->servos_jitter)
        text_string(&t, "The values stand still, a servo doesn't.");
    else if (out->verdict == TRIAL_NOT_SHOWN)
        text_format(&t, "Quiet in %u of %u channels; not all was seen.", g->shown, k->map.count);
    else
        text_format(&t, "Quiet: %u channels, the noisiest %.1f %s.", g->shown,
                    g->of[g->noisiest].noise, sign);
}

static void judge(const void *place, struct trial_outcome *out) {
    const struct state *k = place;
    struct figures g;
    memset(out, 0, sizeof *out);
    read_all(k, &g);
    find_shared(k, &g, out);
    find_servos(k, &g, out);
    find_held(k, &g, out);
    for (uint32_t c = 0; c < k->map.count; c++) {
        if (g.known[c])
            find_noise(k, &g, c, out);
        else if (k->series.count == 0 || g.of[c].count > 0)
            find_unshown(k, &g, c, out);
    }
    if (g.shown == 0)
        trial_find(out, "rest", TRIAL_NOT_SHOWN, "no channel was seen at rest for long enough")
            ->missing = k->untimed ? "t" : NULL;
    out->verdict = trial_sum(out);
    say_headline(k, &g, out);
    say_next(k, &g, out);
}

/* --- the pane */

static void pane_channel(const struct state *k, uint32_t c, struct trial_pane *out) {
    struct still_figures f;
    char *line = out->line[out->lines];
    size_t size = sizeof out->line[0];
    if (!still_read(&k->series, c, k->map.scale, &f))
        return;
    out->lines++;
    if (f.touched)
        snprintf(line, size, "%-14.14s moved: leave it alone", NAME_OF(k, c));
    else
        snprintf(line, size, "%-14.14s rests at %7.1f   noise %5.2f %s   peak to peak %3d%s",
                 NAME_OF(k, c), f.mean, f.noise, stick_sign(&k->map), (int)(f.high - f.low),
                 f.outliers > 0 ? "   jumps" : "");
}

static void pane(const void *place, const struct snapshot *s, const struct trial_place *at,
                 struct trial_pane *out) {
    const struct state *k = place;
    memset(out, 0, sizeof *out);
    out->progress = -1;
    if (at->step == STEP_READY)
        return;
    out->progress = (double)k->series.covered_ms / REST_MS;
    out->progress = out->progress > 1 ? 1 : out->progress;
    out->seen = k->series.covered_ms >= REST_MS;
    if ((s->failsafe_known && s->failsafe) || (s->lock_known && s->locked))
        snprintf(out->line[out->lines++], sizeof out->line[0],
                 "%s: these aren't the sticks' values",
                 s->failsafe_known && s->failsafe ? "failsafe" : "locked: throttle low first");
    else if (k->left_out > 0)
        snprintf(out->line[out->lines++], sizeof out->line[0],
                 "%llu reports left out: no stick values in them", (unsigned long long)k->left_out);
    for (uint32_t c = 0; c < k->map.count && out->lines < TRIAL_LINES_MAX; c++)
        pane_channel(k, c, out);
}

const struct trial_kind trial_rest = {
    .name = "rest",
    .title = "Rest: do the values stand still with hands off?",
    .about = "hands off for 30 s: noise, jumps and drift",
    .steps = rest_steps,
    .step_count = sizeof rest_steps / sizeof *rest_steps,
    .size = sizeof(struct state),
    .begin = begin,
    .take = take,
    .next = next,
    .pane = pane,
    .judge = judge,
};
