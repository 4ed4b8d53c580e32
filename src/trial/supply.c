#include "trial/supply.h"

#include <stdlib.h>

#include "base/whole.h"
#include "trial/kinds.h"
#include "trial/say.h"

const struct trial_step supply_steps[STEPS] = {
    [STEP_POWER] = {"power", "What powers the receiver and its servos right now?",
                    "Never join USB's 5 V and the model's 5 V.", ASK_CHOICE,
                    "battery|regulator (BEC)|USB", NULL, 0, 0},
    [STEP_CONNECT] = {"connect",
                      "Transmitter on, throttle low; then connect the model's own battery. To the\n"
                      "computer go only ground and the receiver's TX wire, not USB's 5 V.",
                      "Propeller off, or wheels off the ground: the motor can start the moment\n"
                      "the battery is connected. Never join USB 5 V and the model's 5 V. No\n"
                      "battery below its maker's least voltage; charge it attended.",
                      ASK_YES, NULL, NULL, 0, 0},
    [STEP_REST] = {"rest", "Hands off all sticks.", NULL, ASK_NOTHING, NULL,
                   "10 s with every stick at rest", 10, 120},
    [STEP_USB] = {"usb",
                  "The supply sits steady near 5 V, as USB's does. Is the 5 V wire of the USB\n"
                  "lead really cut, so that the model alone powers the receiver?",
                  NULL, ASK_YES_NO, NULL, NULL, 0, 0},
    [STEP_ALONE] = {"alone",
                    "One servo after the other, each alone, the throttle left low: snap its\n"
                    "stick from end to end twice, wait two seconds, then the next.\n"
                    "Enter when all of them have moved.",
                    NULL, ASK_READY, NULL, "each servo alone at full speed", 0, 0},
    [STEP_TOGETHER] = {"together",
                       "All servos at once: snap all sticks from end to end together, five\n"
                       "times, the throttle left low. Enter when it is done.",
                       NULL, ASK_READY, NULL, "all servos moving at once", 0, 0},
    [STEP_UNPLUG] = {"unplug",
                     "Nothing seen so far shows that the model feeds the receiver, and not USB.\n"
                     "Pull the model's battery for three seconds and connect it again; the lead\n"
                     "to the computer stays. Enter when lines come again, or if none stopped.",
                     "Throttle low, propeller off or wheels off the ground: the motor can start\n"
                     "the moment the battery is connected.",
                     ASK_READY, NULL, "the receiver off, and started anew", 0, 0},
    [STEP_ASK] = {"ask", "Add the motor? It shows what throttle and servos ask together.",
                  "Only with the propeller off or the wheels off the ground, and the model\n"
                  "held fast. Else say no.",
                  ASK_YES_NO, NULL, NULL, 0, 0},
    [STEP_THROTTLE] = {"throttle",
                       "Raise the throttle slowly above half, snap all sticks, then bring it low\n"
                       "again. Enter when it is done.",
                       "Propeller off, or wheels off the ground.", ASK_READY, NULL,
                       "throttle above half", 0, 0},
};

uint32_t supply_fast_servos(const struct supply *p) {
    uint32_t count = 0;
    for (int i = 0; i < CHANNELS_MAX; i++)
        count += p->servo[i].fast;
    return count;
}

static void begin(void *state, const struct trial_rules *rules) {
    struct supply *p = state;
    static const uint32_t by_model[] = {[MODEL_POWER_UNKNOWN] = POWER_UNTOLD,
                                        [MODEL_POWER_USB] = POWER_USB,
                                        [MODEL_POWER_BATTERY] = POWER_BATTERY,
                                        [MODEL_POWER_REGULATOR] = POWER_REGULATOR};
    p->rules = *rules;
    p->power = by_model[rules->power];
    p->unit_span = 1000;
    p->alone = CHANNELS_MAX;
    p->report_us = TIME_UNKNOWN;
    for (int i = 0; i < CHANNELS_MAX; i++)
        p->moving_ms[i] = TIME_UNKNOWN;
}

static int32_t scaled(const struct supply *p, uint32_t mv) {
    double scale = p->rules.supply_calibrated ? p->rules.supply_scale : 1;
    return whole_i32((double)mv * scale + 0.5);
}

/* --- what moves ------------------------------------------------------------------------------- */

/* How far a channel went within the newest FAST_MS, and how fast at most, units a second. */
static int32_t travel(const struct supply *p, uint32_t channel, int32_t *speed) {
    const struct sample *now = &p->trace[(p->traced - 1) % TRACE];
    int32_t most = 0;
    *speed = 0;
    for (uint32_t back = 1; back < TRACE && back < p->traced; back++) {
        const struct sample *then = &p->trace[(p->traced - 1 - back) % TRACE];
        int64_t ms = now->ms - then->ms;
        if (ms > FAST_MS || channel >= then->count || then->ch[channel] == CHANNEL_OFF ||
            now->ch[channel] == CHANNEL_OFF)
            break;
        int32_t by = abs(now->ch[channel] - then->ch[channel]);
        most = by > most ? by : most;
        if (back == 1 && ms > 0)
            *speed = (int32_t)((int64_t)by * 1000 / ms);
    }
    return most;
}

static bool is_throttle(const struct supply *p, uint32_t channel) {
    return limits_throttle(&p->rules.bench) == (int)channel;
}

static bool is_busy(const struct supply *p, uint32_t channel, int64_t now_ms) {
    return p->moving_ms[channel] != TIME_UNKNOWN && now_ms - p->moving_ms[channel] <= TAIL_MS;
}

/* The throttle's way from its idle, percent of the way that it has. */
static int32_t throttle_percent(const struct supply *p, const struct report *r,
                                const struct snapshot *s) {
    int channel = limits_throttle(&p->rules.bench);
    if (channel < 0 || (uint32_t)channel >= r->ch_count || r->ch[channel] == CHANNEL_OFF ||
        s == NULL)
        return 0;
    const struct motor *motor = &p->rules.bench.motor[0];
    int32_t rest = motor_idle_value(motor, s->span_low, s->span_high);
    double way = motor_travel(r->ch[channel], rest, s->span_low, s->span_high);
    bool both = motor_turns_both_ways(rest, s->span_low, s->span_high);
    return whole_i32((both ? 200 : 100) * way);
}

/* Notes what moves; returns how many do, and in *alone the one that moves where it is but one. */
static uint32_t take_movement(struct supply *p, const struct report *r, int64_t now_ms,
                              uint32_t *alone) {
    struct sample *sample = &p->trace[p->traced++ % TRACE];
    uint32_t busy = 0;
    *sample = (struct sample){.ms = now_ms, .count = r->ch_count};
    for (uint32_t i = 0; i < r->ch_count; i++)
        sample->ch[i] = r->ch[i];
    for (uint32_t i = 0; i < r->ch_count; i++) {
        int32_t speed;
        int32_t way = travel(p, i, &speed);
        if (way * 100 >= p->unit_span * MOVE_PERCENT)
            p->moving_ms[i] = now_ms;
        if (!is_busy(p, i, now_ms) || is_throttle(p, i))
            continue;
        p->servo[i].moved = true;
        busy++;
        *alone = i;
    }
    return busy;
}

/* --- what the supply does --------------------------------------------------------------------- */

static void take_low(struct supply *p, struct span *span, const struct moment *m) {
    const struct report *r = &m->event->report;
    bool least = report_has(r, KEY_MVMIN), now = report_has(r, KEY_MV);
    span->reports++;
    span->holes += m->hole;
    span->settings_lost += m->radio_forgot;
    if (!least && !now)
        return;
    int32_t low = scaled(p, least && (!now || r->mvmin < r->mv) ? r->mvmin : r->mv);
    int32_t high = scaled(p, now ? r->mv : r->mvmin);
    span->low_mv = !span->known || low < span->low_mv ? low : span->low_mv;
    span->high_mv = !span->known || high > span->high_mv ? high : span->high_mv;
    span->low_most_mv = !span->known || low > span->low_most_mv ? low : span->low_most_mv;
    span->known = true;
}

/* A servo alone: its minimum, and how fast it was. */
static void take_alone(struct supply *p, uint32_t channel, const struct moment *m) {
    struct servo *servo = &p->servo[channel];
    int32_t speed;
    int32_t way = travel(p, channel, &speed);
    take_low(p, &servo->alone, m);
    servo->fast = servo->fast || way * 100 >= p->unit_span * FAST_PERCENT;
    servo->speed = speed > servo->speed ? speed : servo->speed;
    p->alone = channel;
}

static void take_rest(struct supply *p, const struct moment *m, uint32_t busy) {
    struct span *rest = &p->span[STEP_REST];
    if (busy > 0)
        return;
    take_low(p, rest, m);
    if (rest->reports > 1 && m->before_ms != TIME_UNKNOWN && !m->hole)
        rest->ms += m->link_ms - m->before_ms;
}

static void take_report(struct supply *p, const struct moment *m, const struct snapshot *s) {
    const struct report *r = &m->event->report;
    uint32_t alone = 0;
    p->has |= r->has;
    if (s != NULL && s->span_high > s->span_low)
        p->unit_span = s->span_high - s->span_low;
    if (m->link_ms == TIME_UNKNOWN)
        return;
    if (m->restarted || m->fresh_boot)
        p->traced = 0; /* outputs that jump at a start are no stick's doing */
    uint32_t busy = take_movement(p, r, m->link_ms, &alone);
    if (p->step == STEP_REST) {
        take_rest(p, m, busy);
        return;
    }
    take_low(p, &p->span[p->step], m);
    if (p->step == STEP_ALONE && busy == 1)
        take_alone(p, alone, m);
    if (p->step == STEP_TOGETHER && busy > p->together)
        p->together = busy;
    if (p->step == STEP_THROTTLE && throttle_percent(p, r, s) >= 50)
        p->throttle_seen = true;
}

/* Pulled on purpose: no lines for a while, and then a start that isn't a watchdog's or a hand's at
 * the reset pin. */
static void take_unplugged(struct supply *p, const struct moment *m) {
    bool silent = p->report_us != TIME_UNKNOWN && m->host_us != TIME_UNKNOWN &&
                  m->host_us - p->report_us >= UNPLUGGED_MS * INT64_C(1000);
    bool power = m->cause != BOOT_WATCHDOG && m->cause != BOOT_RESET;
    p->unplugged = p->unplugged || (silent && power);
}

static void take_restart(struct supply *p, const struct moment *m) {
    if (p->step == STEP_UNPLUG) {
        take_unplugged(p, m);
        return;
    }
    struct span *span = &p->span[p->step];
    span->restarts++;
    span->brownouts += m->cause == BOOT_BROWNOUT || m->cause == BOOT_POWER;
    if (p->step == STEP_ALONE && p->alone < CHANNELS_MAX)
        p->servo[p->alone].alone.restarts++;
}

static void take_answer(struct supply *p, const struct trial_place *place) {
    struct span *span = &p->span[place->step];
    span->skipped = span->skipped || place->skipped;
    if (!place->answered)
        return;
    if (place->step == STEP_POWER)
        p->power = place->answer;
    if (place->step == STEP_USB)
        p->usb_cut = place->answer == 1;
    if (place->step == STEP_ASK)
        p->throttle_wanted = place->answer == 1;
}

static void take(void *state, const struct moment *m, const struct snapshot *s,
                 const struct trial_place *place, bool entered) {
    struct supply *p = state;
    const struct event *e = m->event;
    p->step = place->step;
    p->span[p->step].entered = true;
    if (entered && p->step == STEP_USB)
        p->asked_usb = true;
    if (e->kind == EVENT_ANSWER && !entered)
        take_answer(p, place);
    if (e->kind == EVENT_PORT && (e->port.change == PORT_LOST || e->port.change == PORT_LET_GO))
        p->span[p->step].port_lost = true;
    if (m->restarted && !m->by_opening)
        take_restart(p, m);
    if (e->kind == EVENT_REPORT)
        take_report(p, m, s);
    if (e->kind == EVENT_REPORT)
        p->report_us = m->host_us;
}

/* --- the guide -------------------------------------------------------------------------------- */

bool supply_like_usb(const struct supply *p) {
    const struct span *rest = &p->span[STEP_REST];
    return rest->known && rest->low_mv >= USB_LOW_MV && rest->high_mv <= USB_HIGH_MV &&
           rest->high_mv - rest->low_mv <= USB_STEADY_MV;
}

int32_t supply_sag(const struct supply *p) {
    static const uint32_t loaded[] = {STEP_ALONE, STEP_TOGETHER, STEP_THROTTLE};
    const struct span *rest = &p->span[STEP_REST];
    int32_t most = -1;
    for (size_t i = 0; i < sizeof loaded / sizeof *loaded && rest->known; i++) {
        const struct span *span = &p->span[loaded[i]];
        int32_t sag = span->known && span->low_mv < rest->low_mv ? rest->low_mv - span->low_mv : 0;
        if (span->known && sag > most)
            most = sag;
    }
    return most;
}

bool supply_is_models(const struct supply *p) {
    const struct span *rest = &p->span[STEP_REST];
    int32_t wobble = rest->known ? rest->low_most_mv - rest->low_mv : 0;
    int32_t sag = supply_sag(p);
    bool sags = sag >= SAG_LEAST_MV && sag > wobble;
    return p->unplugged || (sags && !supply_like_usb(p));
}

static int next(const void *state, const struct snapshot *s, const struct trial_place *place) {
    const struct supply *p = state;
    bool on = place->answered || place->skipped;
    (void)s;
    switch (place->step) {
    case STEP_POWER:
        if (p->power == POWER_USB)
            return TRIAL_GO_END;
        return on || p->power != POWER_UNTOLD ? STEP_CONNECT : TRIAL_STAY;
    case STEP_CONNECT:
        return place->answered && place->answer == 1 ? STEP_REST : TRIAL_STAY;
    case STEP_REST:
        if (p->span[STEP_REST].ms < REST_MS && !place->skipped)
            return TRIAL_STAY;
        return supply_like_usb(p) ? STEP_USB : STEP_ALONE;
    case STEP_USB:
        if (place->answered && place->answer == 0)
            return TRIAL_GO_END;
        return on ? STEP_ALONE : TRIAL_STAY;
    case STEP_TOGETHER:
        if (!on)
            return TRIAL_STAY;
        return supply_sag(p) >= 0 && !supply_is_models(p) ? STEP_UNPLUG : STEP_ASK;
    case STEP_ASK:
        if (place->answered && place->answer == 1)
            return STEP_THROTTLE;
        return on ? TRIAL_GO_END : TRIAL_STAY;
    case STEP_THROTTLE:
        return on ? TRIAL_GO_END : TRIAL_STAY;
    default:
        return on ? (int)place->step + 1 : TRIAL_STAY;
    }
}

static void pane_servo(const struct supply *p, uint32_t i, struct trial_pane *out) {
    const struct servo *servo = &p->servo[i];
    const struct span *rest = &p->span[STEP_REST];
    char name[SAY_CHANNEL];
    say_channel(name, &p->rules, i);
    if (!servo->alone.known)
        say_line(out, "%-28s not alone yet", name);
    else if (rest->known)
        say_line(out, "%-28s low %d mV, sag %d mV%s", name, servo->alone.low_mv,
                 rest->low_mv - servo->alone.low_mv, servo->fast ? "" : "  (too slow: snap it)");
    else
        say_line(out, "%-28s low %d mV%s", name, servo->alone.low_mv,
                 servo->fast ? "" : "  (too slow: snap it)");
}

static void pane(const void *state, const struct snapshot *s, const struct trial_place *place,
                 struct trial_pane *out) {
    const struct supply *p = state;
    const struct span *span = &p->span[place->step];
    if (place->step == STEP_REST) {
        out->progress = p->span[STEP_REST].ms < REST_MS ? (double)span->ms / REST_MS : 1;
        out->seen = span->ms >= REST_MS;
    }
    if (place->step == STEP_ALONE || place->step == STEP_TOGETHER)
        for (uint32_t i = 0; i < CHANNELS_MAX; i++)
            if (p->servo[i].moved)
                pane_servo(p, i, out);
    if (place->step == STEP_ALONE)
        out->seen = supply_fast_servos(p) > 0;
    if (place->step == STEP_TOGETHER) {
        say_line(out, "at once so far: %u of %u", p->together, supply_fast_servos(p));
        out->seen = p->together >= 2 && p->together >= supply_fast_servos(p);
    }
    if (place->step == STEP_THROTTLE)
        out->seen = p->throttle_seen;
    if (place->step == STEP_UNPLUG)
        out->seen = p->unplugged;
    if ((place->step == STEP_ASK || place->step == STEP_THROTTLE) &&
        limits_throttle(&p->rules.bench) < 0)
        say_line(out, "The model file names no throttle channel: this can't be judged.");
    if (place->step < STEP_REST)
        return;
    if (span->known)
        say_line(out, "lowest at this step %d mV   restarts %llu   radio forgot %llu", span->low_mv,
                 (unsigned long long)span->restarts, (unsigned long long)span->settings_lost);
    else if (s->reports > 0)
        say_line(out, "the lines tell no supply: mv and mvmin would");
}

const struct trial_kind trial_supply = {
    .name = "supply",
    .title = "Supply: does it hold while the servos pull?",
    .about = "each servo alone, then together; who sags it most",
    .steps = supply_steps,
    .step_count = STEPS,
    .size = sizeof(struct supply),
    .begin = begin,
    .take = take,
    .next = next,
    .pane = pane,
    .judge = supply_judge,
};
