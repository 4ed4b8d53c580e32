/* Tap: each part is tapped and its plugs flexed, and what the link shows meanwhile is compared with
 * a calm time before.  Events, not packets, are counted, since a bad contact loses packets in runs;
 * events nearer than MERGE_MS are one.  The comparison of the two rates is exact: given their sum,
 * the events under the hand are binomial with the share of time (Przyborowski and Wilenski 1940,
 * Biometrika 31:313). */
#include <stdio.h>

#include "stat/proportion.h"
#include "trial/kinds.h"
#include "trial/say.h"

enum { STEP_CAUTION, STEP_CALM, STEP_CHOOSE, STEP_TAP, STEPS };

enum { PARTS = 6, ROUND_MS = 15000, CALM_S = 30, CALM_MS = 1000 * CALM_S };

static const struct trial_step steps[STEPS] = {
    [STEP_CAUTION] =
        {"caution",
         "Transmitter on, throttle low. You will tap each part with a finger or a\n"
         "pencil, and flex each plug a little. First it is watched untouched.",
         "Propeller off, or wheels off the ground: a bad contact can start the motor.\n"
         "Touch nothing bare, bridge nothing with metal, and pull no plug: antenna,\n"
         "module and leads are changed with the power off.",
         ASK_YES, NULL, NULL, 0, 0},
    [STEP_CALM] = {"calm", "Touch nothing. This is the calm time to compare with.", NULL,
                   ASK_NOTHING, NULL, "30 s of lines", CALM_S, 0},
    [STEP_CHOOSE] =
        {"choose",
         "What do you tap next? Take one part after the other; a part that showed\n"
         "something may be taken again.",
         NULL, ASK_CHOICE,
         "radio module|antenna|receiver board|power lead|servo leads|transmitter|finish", NULL, 0,
         0},
    [STEP_TAP] = {"tap",
                  "Tap it and flex its plugs, gently, some two times a second, until the time\n"
                  "is up. A sound tells each time that something happened.",
                  NULL, ASK_NOTHING, NULL, "15 s of tapping", ROUND_MS / 1000, 0},
};

static const char *const part_names[PARTS] = {"radio module", "antenna",     "receiver board",
                                              "power lead",   "servo leads", "transmitter"};
static const char *const part_keys[PARTS] = {"radio_module", "antenna",     "receiver_board",
                                             "power_lead",   "servo_leads", "transmitter"};
static const char *const cures[PARTS] = {
    "Power off: solder or replace the radio module's plug and leads. Then tap it again.",
    "Power off: look at the antenna's joint and plug. Then tap it again.",
    "Power off: look for a cracked joint on the receiver board, seat it anew. Then tap it again.",
    "Power off: renew the power lead's plug and solder joints. Then tap it again.",
    "Power off: renew the servo plugs, free their leads from the radio's. Then tap them again.",
    "Transmitter off: look at its battery contacts, radio module, antenna. Then tap it again.",
};

enum { MERGE_MS = 500, SOUND_MS = 400, LINKED_MS = 1000 };
static const double sure = 0.005; /* of 6 parts twice compared: wrong in at most 6 of 100 trials */

/* What happened in some time. */
struct counts {
    uint64_t reports;
    int64_t ms;                           /* observed, with packets coming */
    uint64_t losses, registers, restarts; /* of the link */
    uint64_t damaged, missing;            /* of the serial lead */
    uint64_t link_events, lead_events;    /* the same, merged */
    int64_t link_ms, lead_ms;             /* of the newest, TIME_UNKNOWN */
};

struct tap {
    struct counts calm, part[PARTS];
    struct counts *now; /* where it counts; NULL: nowhere */
    uint32_t has;       /* keys that any report had */
    bool packets_known; /* some report told of packets */
    int64_t packet_ms;  /* link time of the newest report with one, TIME_UNKNOWN */
    bool chosen;
    uint32_t choice;
    bool registers_known;
    uint32_t registers; /* newest */
    int64_t event_ms;   /* newest of any; TIME_UNKNOWN */
    const char *event;  /* what it was */
    bool away;          /* the port was, since the newest report */
};

static void begin(void *state, const struct trial_rules *rules) {
    struct tap *t = state;
    (void)rules;
    t->packet_ms = TIME_UNKNOWN;
    t->event_ms = t->calm.link_ms = t->calm.lead_ms = TIME_UNKNOWN;
    for (int i = 0; i < PARTS; i++)
        t->part[i].link_ms = t->part[i].lead_ms = TIME_UNKNOWN;
}

/* --- what is seen ----------------------------------------------------------------------------- */

/* Counts one more event, unless it belongs to the one before; true if so. */
static bool happen(struct tap *t, uint64_t *events, int64_t *newest_ms, int64_t at_ms,
                   const char *what) {
    bool new = *newest_ms == TIME_UNKNOWN || at_ms == TIME_UNKNOWN || at_ms - *newest_ms > MERGE_MS;
    *events += new;
    *newest_ms = at_ms;
    t->event_ms = at_ms;
    t->event = what;
    return new;
}

static bool of_link(struct tap *t, int64_t at_ms, const char *what) {
    return happen(t, &t->now->link_events, &t->now->link_ms, at_ms, what);
}

static bool of_lead(struct tap *t, int64_t at_ms, const char *what) {
    return happen(t, &t->now->lead_events, &t->now->lead_ms, at_ms, what);
}

static void take_registers(struct tap *t, const struct moment *m, const struct report *r) {
    if (!report_has(r, KEY_REG))
        return;
    bool changed = t->registers_known && r->reg != t->registers && r->reg != REGISTERS_OK;
    t->registers_known = true;
    t->registers = r->reg;
    if (!changed)
        return;
    t->now->registers++;
    of_link(t, m->link_ms, "the radio's registers changed");
}

static void take_report(struct tap *t, const struct moment *m) {
    const struct report *r = &m->event->report;
    struct counts *c = t->now;
    bool follows = m->before_ms != TIME_UNKNOWN && m->link_ms != TIME_UNKNOWN && c->reports > 0 &&
                   !m->fresh_boot && !m->restarted && !m->hole && !t->away;
    t->away = false;
    t->packets_known = t->packets_known || m->packets.counted;
    if (m->packets.arrived)
        t->packet_ms = m->link_ms;
    bool linked = !t->packets_known ||
                  (t->packet_ms != TIME_UNKNOWN && m->link_ms - t->packet_ms <= LINKED_MS);
    c->ms += follows && linked ? m->link_ms - m->before_ms : 0;
    c->reports++;
    t->has |= r->has;
    if (m->packets.lost > 0 || m->outage.began)
        c->losses += of_link(t, m->link_ms, "packets were lost");
    if (m->hole) {
        c->missing++;
        of_lead(t, m->link_ms, "a line is missing on the serial lead");
    }
    take_registers(t, m, r);
}

static void take_other(struct tap *t, const struct moment *m) {
    const struct event *e = m->event;
    if (m->restarted && !m->by_opening) {
        t->now->restarts++;
        of_link(t, m->link_ms, "the receiver restarted");
    }
    bool chatter = e->kind == EVENT_DAMAGE &&
                   (e->damage.reason == DAMAGE_PLAIN_TEXT || e->damage.reason == DAMAGE_BOOT_TEXT ||
                    e->damage.reason == DAMAGE_CUT_RESTART);
    if (e->kind == EVENT_DAMAGE && !e->damage.continues && !chatter) {
        t->now->damaged++;
        of_lead(t, m->link_ms, "a line was damaged");
    }
}

static void enter(struct tap *t, uint32_t step) {
    t->now = step == STEP_CALM                                    ? &t->calm
             : step == STEP_TAP && t->chosen && t->choice < PARTS ? &t->part[t->choice]
                                                                  : NULL;
    if (t->now != NULL)
        t->now->link_ms = t->now->lead_ms = TIME_UNKNOWN;
    t->event_ms = TIME_UNKNOWN;
    if (step == STEP_CHOOSE)
        t->chosen = false;
}

static void take(void *state, const struct moment *m, const struct snapshot *s,
                 const struct trial_place *place, bool entered) {
    struct tap *t = state;
    const struct event *e = m->event;
    (void)s;
    if (entered)
        enter(t, place->step);
    if (e->kind == EVENT_ANSWER && place->step == STEP_CHOOSE && place->answered) {
        t->chosen = true;
        t->choice = place->answer;
    }
    t->away = t->away || (e->kind == EVENT_PORT &&
                          (e->port.change == PORT_LOST || e->port.change == PORT_LET_GO));
    if (t->now == NULL)
        return;
    take_other(t, m);
    if (e->kind == EVENT_REPORT)
        take_report(t, m);
}

/* --- the guide -------------------------------------------------------------------------------- */

static int next(const void *state, const struct snapshot *s, const struct trial_place *place) {
    const struct tap *t = state;
    (void)s;
    switch (place->step) {
    case STEP_CAUTION:
        return place->answered && place->answer == 1 ? STEP_CALM : TRIAL_STAY;
    case STEP_CALM:
        return place->skipped || t->calm.ms >= CALM_MS ? STEP_CHOOSE : TRIAL_STAY;
    case STEP_CHOOSE:
        if (place->skipped || (place->answered && place->answer >= PARTS))
            return TRIAL_GO_END;
        return place->answered ? STEP_TAP : TRIAL_STAY;
    default:
        return STEP_CHOOSE; /* the step's time is over */
    }
}

static void pane_counts(const struct counts *c, struct trial_pane *out) {
    say_line(out, "packets lost %llu times   radio's registers %llu   restarts %llu",
             (unsigned long long)c->losses, (unsigned long long)c->registers,
             (unsigned long long)c->restarts);
    say_line(out, "on the serial lead: damaged lines %llu, missing %llu times",
             (unsigned long long)c->damaged, (unsigned long long)c->missing);
}

static void pane(const void *state, const struct snapshot *s, const struct trial_place *place,
                 struct trial_pane *out) {
    const struct tap *t = state;
    if (place->step == STEP_CHOOSE) {
        for (int i = 0; i < PARTS; i++)
            if (t->part[i].reports > 0)
                say_line(out, "%-15s %4.0f s  %llu event%s", part_names[i],
                         (double)t->part[i].ms / 1000,
                         (unsigned long long)(t->part[i].link_events + t->part[i].lead_events),
                         t->part[i].link_events + t->part[i].lead_events == 1 ? "" : "s");
        return;
    }
    if (t->now == NULL)
        return;
    int64_t lasts_ms = place->step == STEP_CALM ? CALM_MS : ROUND_MS;
    int64_t gone_ms = place->step == STEP_CALM ? t->calm.ms : say_lasted_ms(place);
    out->progress = gone_ms < lasts_ms ? (double)gone_ms / (double)lasts_ms : 1;
    if (place->step == STEP_TAP)
        say_line(out, "Now: %s", part_names[t->choice]);
    pane_counts(t->now, out);
    bool fresh = t->event_ms != TIME_UNKNOWN && s->now_ms - t->event_ms <= SOUND_MS;
    out->sound = fresh;
    if (fresh)
        say_line(out, "NOW: %s", t->event);
}

/* --- the verdict ------------------------------------------------------------------------------ */

static double share_of_time(const struct counts *calm, const struct counts *c) {
    return (double)c->ms / (double)(c->ms + calm->ms);
}

/* Whether events come surely more often than in the calm. */
static bool more_often(uint64_t calm_events, uint64_t events, double share) {
    if (events == 0 || (double)events <= share * (double)(events + calm_events))
        return false;
    return stat_binomial_test(events, calm_events + events, share) < sure;
}

/* How long it would have to go on like this to be sure, s; 0 where no time would do. */
static double needed_s(const struct counts *calm, const struct counts *c, uint64_t calm_events,
                       uint64_t events) {
    for (uint64_t more = 2; more <= 64; more++) {
        double ms = (double)c->ms * (double)more;
        if (more_often(calm_events, events * more, ms / (ms + (double)calm->ms)))
            return ms / 1000;
    }
    return 0;
}

/* What they were: "packets lost 6 times, restarts 1". */
static const char *kinds_of(char *out, size_t size, const struct counts *c) {
    const struct {
        const char *name;
        uint64_t count;
    } kinds[] = {{"packets lost", c->losses},
                 {"registers changed", c->registers},
                 {"restarts", c->restarts},
                 {"damaged lines", c->damaged},
                 {"missing lines", c->missing}};
    size_t len = 0;
    out[0] = '\0';
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0] && len < size; i++)
        if (kinds[i].count > 0)
            len += (size_t)snprintf(out + len, size - len, "%s%s: %llu", len > 0 ? ", " : "",
                                    kinds[i].name, (unsigned long long)kinds[i].count);
    return out;
}

static void judge_some(const struct tap *t, int i, struct trial_outcome *out) {
    const struct counts *c = &t->part[i], *calm = &t->calm;
    double share = share_of_time(calm, c);
    bool link = more_often(calm->link_events, c->link_events, share);
    bool lead = more_often(calm->lead_events, c->lead_events, share);
    unsigned long long events = (unsigned long long)(c->link_events + c->lead_events);
    char kinds[112];
    kinds_of(kinds, sizeof kinds, c);
    if (link || lead) {
        trial_find(out, part_keys[i], TRIAL_FAILED,
                   "%s: %llu events in %.0f s, %llu in %.0f s of calm%s (%s).", part_names[i],
                   events, (double)c->ms / 1000,
                   (unsigned long long)(calm->link_events + calm->lead_events),
                   (double)calm->ms / 1000, link ? "" : ", all on the serial lead", kinds);
        return;
    }
    double link_s = needed_s(calm, c, calm->link_events, c->link_events);
    double lead_s = needed_s(calm, c, calm->lead_events, c->lead_events);
    double more_s = link_s > 0 && (lead_s == 0 || link_s < lead_s) ? link_s : lead_s;
    char more[64] = "no more than in the calm";
    if (more_s > 0)
        snprintf(more, sizeof more, "tapped for %.0f s like this it would be sure", more_s);
    trial_find(out, part_keys[i], TRIAL_NOT_SHOWN, "%s: %llu events in %.0f s: %s (%s).",
               part_names[i], events, (double)c->ms / 1000, more, kinds);
}

static void judge_part(const struct tap *t, int i, struct trial_outcome *out) {
    const struct counts *c = &t->part[i];
    if (c->reports == 0)
        trial_find(out, part_keys[i], TRIAL_NOT_TRIED, "%s: not tapped.", part_names[i]);
    else if (!t->packets_known)
        trial_find(out, part_keys[i], TRIAL_NOT_SHOWN, "%s: losses can't be seen without got.",
                   part_names[i])
            ->missing = "got";
    else if (t->calm.ms < CALM_MS)
        trial_find(out, part_keys[i], TRIAL_NOT_SHOWN,
                   "%s: %llu events, but no calm time to compare with.", part_names[i],
                   (unsigned long long)(c->link_events + c->lead_events));
    else if (c->link_events + c->lead_events > 0)
        judge_some(t, i, out);
    else if (c->ms < ROUND_MS * 9 / 10)
        trial_find(out, part_keys[i], TRIAL_NOT_SHOWN,
                   "%s: nothing in %.0f s with packets; %d s are wanted.", part_names[i],
                   (double)c->ms / 1000, ROUND_MS * 9 / 10000);
    else
        trial_find(out, part_keys[i], TRIAL_PASSED,
                   "%s: nothing in %.0f s, so fewer than %.0f events a minute (95 %%).",
                   part_names[i], (double)c->ms / 1000,
                   stat_none_rate_bound((double)c->ms / 60000, 0.95));
}

static void judge_calm(const struct tap *t, struct trial_outcome *out) {
    const struct counts *c = &t->calm;
    unsigned long long events = (unsigned long long)(c->link_events + c->lead_events);
    char kinds[112];
    struct trial_finding *f;
    if (c->reports > 0 && !t->packets_known) {
        f = trial_find(out, "calm", TRIAL_NOT_SHOWN,
                       "Untouched: losses can't be seen without got.");
        f->missing = "got";
        return;
    }
    if (c->ms < CALM_MS)
        f = trial_find(out, "calm", TRIAL_NOT_SHOWN,
                       "Untouched: only %.0f of %d s were seen with packets.", (double)c->ms / 1000,
                       CALM_S);
    else if (events > 0)
        f = trial_aside(trial_find(out, "calm", TRIAL_NOT_SHOWN,
                                   "Untouched: %llu events in %.0f s already (%s).", events,
                                   (double)c->ms / 1000, kinds_of(kinds, sizeof kinds, c)));
    else
        f = trial_find(out, "calm", TRIAL_PASSED, "Untouched: nothing in %.0f s.",
                       (double)c->ms / 1000);
    trial_measured(f, (double)events, (double)events, "events");
    if (c->reports > 0 && c->ms == 0)
        f->missing = "t";
}

static void choose_next(const struct tap *t, struct trial_outcome *out) {
    const char *text = "";
    for (int i = PARTS - 1; i >= 0; i--) {
        if (t->part[i].reports == 0 && out->verdict != TRIAL_FAILED)
            text = "Tap the parts that were left out.";
    }
    if (t->calm.ms >= CALM_MS && t->calm.link_events + t->calm.lead_events > 2)
        text = "Cure first what happens untouched: see airleash causes on a recording.";
    for (int i = PARTS - 1; i >= 0; i--) {
        const struct trial_finding *f = &out->finding[i + 1];
        if (f->verdict != TRIAL_FAILED)
            continue;
        double share = share_of_time(&t->calm, &t->part[i]);
        bool link = more_often(t->calm.link_events, t->part[i].link_events, share);
        text = link ? cures[i] : "Mend the serial lead first: its lines break when that is moved.";
    }
    snprintf(out->next, sizeof out->next, "%s", text);
}

static void judge(const void *state, struct trial_outcome *out) {
    const struct tap *t = state;
    char loose[100] = "";
    size_t len = 0;
    uint32_t tapped = 0;
    judge_calm(t, out);
    for (int i = 0; i < PARTS; i++)
        judge_part(t, i, out);
    for (int i = 0; i < PARTS; i++) {
        tapped += t->part[i].reports > 0;
        if (out->finding[i + 1].verdict == TRIAL_FAILED && len < sizeof loose)
            len += (size_t)snprintf(loose + len, sizeof loose - len, "%s%s", len > 0 ? ", " : "",
                                    part_names[i]);
    }
    out->verdict = trial_sum(out);
    snprintf(out->headline, sizeof out->headline, "Tapping %s: %u of %d parts tapped; %s%s.",
             trial_verdict_name(out->verdict), tapped, PARTS,
             loose[0] != '\0' ? "it disturbs the link at: " : "no part surely disturbs the link",
             loose);
    choose_next(t, out);
}

const struct trial_kind trial_tap = {
    .name = "tap",
    .title = "Tap: does a knock on a part or plug disturb the link?",
    .about = "flex each plug, tap each board; a sound on each event",
    .steps = steps,
    .step_count = STEPS,
    .size = sizeof(struct tap),
    .begin = begin,
    .take = take,
    .next = next,
    .pane = pane,
    .judge = judge,
};
