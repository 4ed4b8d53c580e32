#include <stdio.h>

#include "trial/say.h"
#include "trial/supply.h"

/* The true supply lies between these. */
static void bounds(const struct supply *p, int32_t mv, double *low, double *high) {
    double step = (double)mv * mv / RESOLUTION;
    *low = p->rules.supply_calibrated ? mv - step : mv * 10.0 / 11;
    *high = p->rules.supply_calibrated ? mv + step : mv * 12.0 / 11;
}

/* The limit of the alarm, 0: none. */
static int32_t alarm_mv(const struct supply *p) {
    if (p->rules.supply_low_mv > 0)
        return p->rules.supply_low_mv;
    if (p->rules.bench.supply_low_mv > 0)
        return p->rules.bench.supply_low_mv;
    return p->span[STEP_REST].known && p->span[STEP_REST].high_mv > FIVE_VOLT_MV ? FIVE_VOLT_LOW
                                                                                 : 0;
}

static enum trial_verdict against(const struct supply *p, int32_t mv, int32_t limit) {
    double low, high;
    bounds(p, mv, &low, &high);
    return high < limit ? TRIAL_FAILED : low >= limit ? TRIAL_PASSED : TRIAL_NOT_SHOWN;
}

/* What keeps a minimum from being the true one; NULL: nothing. */
static const char *blurred(const struct supply *p, const struct span *span) {
    if (span->port_lost)
        return "the port was lost meanwhile";
    if (span->holes > 0)
        return "lines are missing on the cable, with what they would have told";
    if ((p->has >> KEY_MVMIN & 1u) == 0)
        return "dips between reports are not shown without mvmin";
    return NULL;
}

/* The minimum of some span against the alarm's limit. */
static void judge_low(const struct supply *p, struct trial_outcome *out, const char *name,
                      const char *what, const struct span *span) {
    int32_t limit = alarm_mv(p), sag = p->span[STEP_REST].low_mv - span->low_mv;
    const char *blur = blurred(p, span);
    enum trial_verdict verdict = limit > 0 ? against(p, span->low_mv, limit) : TRIAL_NOT_SHOWN;
    double low, high;
    char sags[48] = "";
    if (verdict == TRIAL_PASSED && blur != NULL)
        verdict = TRIAL_NOT_SHOWN;
    if (span->restarts > 0)
        verdict = TRIAL_FAILED;
    if (span != &p->span[STEP_REST] && p->span[STEP_REST].known && sag > 0)
        snprintf(sags, sizeof sags, ", %d mV below rest", sag);
    bounds(p, span->low_mv, &low, &high);
    struct trial_finding *f =
        limit > 0
            ? trial_find(out, name, verdict, "%s: lowest %d mV%s; alarm at %d mV%s%s%s.", what,
                         span->low_mv, sags, limit,
                         span->restarts > 0 ? "; the receiver restarted, so it went lower" : "",
                         blur != NULL ? "; " : "", blur != NULL ? blur : "")
            : trial_find(out, name, verdict,
                         "%s: lowest %d mV%s; no limit is known: give low_mv in "
                         "the model file%s%s.",
                         what, span->low_mv, sags, blur != NULL ? "; " : "",
                         blur != NULL ? blur : "");
    trial_measured(f, low, high, "mV");
    if ((p->has >> KEY_MVMIN & 1u) == 0)
        f->missing = "mvmin";
}

static void judge_step(const struct supply *p, struct trial_outcome *out, const char *name,
                       const char *what, uint32_t step) {
    const struct span *span = &p->span[step];
    if (span->known)
        judge_low(p, out, name, what, span);
    else if (span->reports > 0)
        trial_find(out, name, TRIAL_NOT_SHOWN, "%s: the supply can't be told without mv and mvmin.",
                   what)
            ->missing = "mvmin";
    else
        trial_find(out, name, TRIAL_NOT_SHOWN, "%s: not reached.", what);
}

/* Neither the load nor the pulled battery shows in the lines: another source may feed it. */
static void judge_source(const struct supply *p, struct trial_outcome *out) {
    const struct span *rest = &p->span[STEP_REST];
    const char *pulled = p->span[STEP_UNPLUG].entered
                             ? "it didn't go off when the battery was to be pulled"
                             : "nobody pulled the battery to see";
    if (supply_like_usb(p))
        trial_find(
            out, "power", TRIAL_NOT_SHOWN,
            "Who feeds the receiver: %d to %d mV at rest is as USB's 5 V, %d mV lower at most "
            "under load; %s.",
            rest->low_mv, rest->high_mv, supply_sag(p), pulled);
    else
        trial_find(
            out, "power", TRIAL_NOT_SHOWN,
            "Who feeds the receiver: the servos' load lowers its supply by %d mV at most, so "
            "that something else may feed it; %s.",
            supply_sag(p), pulled);
}

/* What powers it; true where the rest may be judged. */
static bool judge_power(const struct supply *p, struct trial_outcome *out) {
    static const char *const words[] = {"its battery", "a regulator (BEC)"};
    const char *by = p->rules.power != MODEL_POWER_UNKNOWN ? "says the model file" : "as you said";
    if (p->power == POWER_UNTOLD)
        trial_find(out, "power", TRIAL_NOT_SHOWN, "Nobody said what powers the receiver.");
    else if (p->power == POWER_USB)
        trial_find(out, "power", TRIAL_NOT_SHOWN,
                   "USB powers the receiver, %s: that tells nothing of the model's own supply.",
                   by);
    else if (p->asked_usb && !p->usb_cut)
        trial_find(out, "power", TRIAL_NOT_SHOWN,
                   "The supply sits at %d to %d mV at rest, as USB's does, and its 5 V wire isn't "
                   "known to be cut.",
                   p->span[STEP_REST].low_mv, p->span[STEP_REST].high_mv);
    else if (supply_sag(p) >= 0 && !supply_is_models(p)) {
        judge_source(p, out);
        return true; /* the figures hold, whatever feeds it */
    } else {
        trial_find(out, "power", TRIAL_PASSED, "The receiver runs on %s, %s.", words[p->power], by);
        return true;
    }
    return false;
}

/* The servos that moved alone, the one that sags the supply most first. */
static uint32_t ranked(const struct supply *p, uint32_t order[CHANNELS_MAX]) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < CHANNELS_MAX; i++) {
        if (!p->servo[i].alone.known)
            continue;
        uint32_t at = count++;
        for (; at > 0 && p->servo[order[at - 1]].alone.low_mv > p->servo[i].alone.low_mv; at--)
            order[at] = order[at - 1];
        order[at] = i;
    }
    return count;
}

static void judge_servos(const struct supply *p, struct trial_outcome *out) {
    static const char *const names[CHANNELS_MAX] = {"servo_1",  "servo_2",  "servo_3",  "servo_4",
                                                    "servo_5",  "servo_6",  "servo_7",  "servo_8",
                                                    "servo_9",  "servo_10", "servo_11", "servo_12",
                                                    "servo_13", "servo_14", "servo_15", "servo_16"};
    uint32_t order[CHANNELS_MAX];
    uint32_t count = ranked(p, order);
    char name[SAY_CHANNEL], what[SAY_CHANNEL + 16];
    for (uint32_t i = 0; i < count; i++) {
        const struct servo *servo = &p->servo[order[i]];
        snprintf(what, sizeof what, "%u. %s", i + 1, say_channel(name, &p->rules, order[i]));
        if (servo->fast)
            judge_low(p, out, names[order[i]], what, &servo->alone);
        else
            trial_find(out, names[order[i]], TRIAL_NOT_SHOWN,
                       "%s: moved too slowly, at most %d units a second; it has to be snapped.",
                       say_channel(name, &p->rules, order[i]), servo->speed);
    }
    for (uint32_t i = 0; i < CHANNELS_MAX && count > 0; i++)
        if (p->servo[i].moved && !p->servo[i].alone.known)
            trial_find(out, names[i], TRIAL_NOT_SHOWN, "%s: moved only together with others.",
                       say_channel(name, &p->rules, i));
    if (count > 0)
        return;
    bool moved = p->span[STEP_ALONE].reports > 0 && !p->span[STEP_ALONE].known;
    struct trial_finding *f =
        trial_find(out, "servos", TRIAL_NOT_SHOWN,
                   moved ? "Each servo alone: the supply can't be told without mv and mvmin."
                         : "Each servo alone: none was seen to move alone.");
    if (moved)
        f->missing = "mvmin";
}

static void judge_together(const struct supply *p, struct trial_outcome *out) {
    uint32_t servos = supply_fast_servos(p);
    char what[64];
    if (p->span[STEP_TOGETHER].reports > 0 && !p->span[STEP_TOGETHER].known) {
        judge_step(p, out, "together", "All together", STEP_TOGETHER);
        return;
    }
    if (!p->span[STEP_TOGETHER].known || p->together < 2 || p->together < servos) {
        const struct span *span = &p->span[STEP_TOGETHER];
        if (span->restarts > 0)
            judge_step(p, out, "together", "All together", STEP_TOGETHER);
        else
            trial_find(out, "together", TRIAL_NOT_SHOWN,
                       "All together: at most %u of the %u servos moved at once.", p->together,
                       servos);
        return;
    }
    snprintf(what, sizeof what, "%u servos at once", p->together);
    judge_step(p, out, "together", what, STEP_TOGETHER);
}

static void judge_throttle(const struct supply *p, struct trial_outcome *out) {
    if (!p->span[STEP_THROTTLE].entered)
        trial_find(out, "throttle", TRIAL_NOT_SHOWN, "With the motor: %s.",
                   p->span[STEP_ASK].entered ? "declined, so not seen" : "not reached");
    else if (limits_throttle(&p->rules.bench) < 0)
        trial_find(out, "throttle", TRIAL_NOT_SHOWN,
                   "With the motor: the model file doesn't say which channel is the throttle.");
    else if (!p->throttle_seen)
        trial_find(out, "throttle", TRIAL_NOT_SHOWN,
                   "With the motor: the throttle was never above half.");
    else
        judge_step(p, out, "throttle", "With the motor", STEP_THROTTLE);
}

struct sums {
    uint64_t restarts, brownouts, settings_lost;
    bool known;
    int32_t low_mv;
    bool blurred;
};

static struct sums sum(const struct supply *p) {
    static const uint32_t loaded[] = {STEP_REST, STEP_ALONE, STEP_TOGETHER, STEP_THROTTLE};
    struct sums sums = {0};
    for (size_t i = 0; i < sizeof loaded / sizeof loaded[0]; i++) {
        const struct span *span = &p->span[loaded[i]];
        sums.restarts += span->restarts;
        sums.brownouts += span->brownouts;
        sums.settings_lost += span->settings_lost;
        if (span->known && (!sums.known || span->low_mv < sums.low_mv))
            sums.low_mv = span->low_mv;
        sums.known = sums.known || span->known;
        sums.blurred = sums.blurred || (span->reports > 0 && blurred(p, span) != NULL);
    }
    return sums;
}

/* Restarts and losses of settings by step: "alone 1, together 2". */
static const char *by_step(const struct supply *p, bool restarts, char *out, size_t size) {
    size_t len = 0;
    out[0] = '\0';
    for (uint32_t i = STEP_REST; i < STEPS; i++) {
        uint64_t count = restarts ? p->span[i].restarts : p->span[i].settings_lost;
        if (count > 0 && len < size)
            len += (size_t)snprintf(out + len, size - len, "%s%s %llu", len > 0 ? ", " : "",
                                    supply_steps[i].name, (unsigned long long)count);
    }
    return out;
}

static void judge_faults(const struct supply *p, const struct sums *sums,
                         struct trial_outcome *out) {
    char list[96];
    bool reached = p->span[STEP_TOGETHER].reports > 0;
    if (sums->restarts > 0)
        trial_find(out, "restarts", TRIAL_FAILED,
                   "The receiver restarted %llu times, %llu by brown-out or power (%s).",
                   (unsigned long long)sums->restarts, (unsigned long long)sums->brownouts,
                   by_step(p, true, list, sizeof list));
    else if ((p->has >> KEY_T & 1u) == 0)
        trial_find(out, "restarts", TRIAL_NOT_SHOWN, "Restarts can't be told without t.")->missing =
            "t";
    else
        trial_find(out, "restarts", reached ? TRIAL_PASSED : TRIAL_NOT_SHOWN,
                   reached ? "No restart of the receiver."
                           : "No restart of the receiver so far; not all steps were reached.");
    if (sums->settings_lost > 0)
        trial_find(out, "settings_lost", TRIAL_FAILED,
                   "The radio lost its settings %llu times while the receiver ran on (%s): its "
                   "own supply dipped.",
                   (unsigned long long)sums->settings_lost, by_step(p, false, list, sizeof list));
    else if ((p->has >> KEY_REG & 1u) == 0)
        trial_find(out, "settings_lost", TRIAL_NOT_SHOWN,
                   "Whether the radio lost its settings can't be told without reg.")
            ->missing = "reg";
    else
        trial_find(out, "settings_lost", reached ? TRIAL_PASSED : TRIAL_NOT_SHOWN,
                   reached ? "The radio kept its settings."
                           : "The radio kept its settings so far; not all steps were reached.");
}

/* Headroom to the controller's reset: only where somebody said where that is. */
static void judge_brownout(const struct supply *p, const struct sums *sums,
                           struct trial_outcome *out) {
    static const char levels[] = "an ATmega328P resets at 4.1 to 4.5 V, 2.5 to 2.9 V or 1.7 to "
                                 "2.0 V, by its fuses (data sheet)";
    int32_t limit = p->rules.brownout_mv;
    if (limit <= 0 || !sums->known) {
        trial_aside(trial_find(out, "brownout", TRIAL_NOT_SHOWN,
                               "Headroom to brown-out: give brownout_mv in the model file; %s.",
                               levels));
        return;
    }
    double low, high;
    enum trial_verdict verdict = against(p, sums->low_mv, limit);
    if (verdict == TRIAL_PASSED && sums->blurred)
        verdict = TRIAL_NOT_SHOWN;
    if (verdict == TRIAL_FAILED && sums->restarts == 0)
        verdict = TRIAL_NOT_SHOWN; /* it should have reset: one of the two figures is wrong */
    bounds(p, sums->low_mv, &low, &high);
    trial_measured(trial_find(out, "brownout", verdict,
                              "Headroom to brown-out at %d mV: %d mV at the lowest.", limit,
                              sums->low_mv - limit),
                   low - limit, high - limit, "mV");
}

static void judge_meter(const struct supply *p, struct trial_outcome *out) {
    if (p->rules.supply_calibrated)
        trial_aside(trial_find(out, "calibration", TRIAL_PASSED,
                               "Figures are corrected by the model file's calibration, times %.4f.",
                               p->rules.supply_scale));
    else
        trial_aside(trial_find(out, "calibration", TRIAL_NOT_SHOWN,
                               "Not calibrated: the controller's reference is 1.0 to 1.2 V (data "
                               "sheet), so each figure may be 9 %% too high or too low."));
}

static const char *cure(const struct supply *p, const struct sums *sums,
                        const struct trial_outcome *out) {
    if (p->power == POWER_USB || (p->asked_usb && !p->usb_cut))
        return "Run it from the model's battery; from the USB lead connect only ground and the "
               "receiver's TX wire.";
    if (sums->restarts > 0)
        return "Thicker, shorter leads and a charged battery; then a BEC for the servos alone; 470 "
               "to "
               "1000 uF at the receiver (mind polarity; rated 10 V or more). Change parts with the "
               "power off.";
    if (sums->settings_lost > 0)
        return "10 to 100 uF at the radio module's own pins (mind polarity; rated 6.3 V or more), "
               "and "
               "a 3.3 V regulator that can feed it. Solder with the power off.";
    if (out->verdict == TRIAL_FAILED)
        return "Power off, then: thicker and shorter leads; a separate BEC for the servos; look "
               "whether the first servo of the list drives into a stop.";
    if (sums->known && (p->has >> KEY_MVMIN & 1u) == 0)
        return "Let the receiver print mvmin, its lowest supply since the last report.";
    if (!p->rules.supply_calibrated && sums->known && alarm_mv(p) > 0 &&
        against(p, sums->low_mv, alarm_mv(p)) == TRIAL_NOT_SHOWN)
        return "Calibrate: read the supply with a good meter at rest and put meter_mv and told_mv "
               "into the model file.";
    if (out->verdict == TRIAL_PASSED)
        return "Run it again with the battery as low as you ever use it, never below its maker's "
               "least voltage; charge it attended.";
    if (supply_sag(p) >= 0 && !supply_is_models(p))
        return "Connect only ground and the receiver's TX wire, run it again, and pull the battery "
               "where it asks for it.";
    return "Run it again to its end, each step as it says.";
}

/* The first thing that is missing to a verdict. */
static const struct trial_finding *first_unshown(const struct trial_outcome *out) {
    for (uint32_t i = 0; i < out->count; i++)
        if (out->finding[i].verdict == TRIAL_NOT_SHOWN && !out->finding[i].aside)
            return &out->finding[i];
    return NULL;
}

static void say_headline(const struct supply *p, const struct sums *sums, bool fit,
                         struct trial_outcome *out) {
    uint32_t order[CHANNELS_MAX];
    char name[SAY_CHANNEL], *head = out->headline;
    size_t size = sizeof out->headline;
    const struct trial_finding *unshown = first_unshown(out);
    if (!fit || !sums->known)
        snprintf(head, size, "Supply not shown: %.170s",
                 fit ? "no step was seen with a supply figure." : out->finding[0].text);
    else if (out->verdict == TRIAL_NOT_SHOWN && unshown != NULL)
        snprintf(head, size, "Supply not shown. %.180s", unshown->text);
    else if (ranked(p, order) > 0)
        snprintf(head, size, "Supply %s: lowest %d mV; alone %s sags it most, by %d mV.",
                 trial_verdict_name(out->verdict), sums->low_mv,
                 say_channel(name, &p->rules, *order),
                 p->span[STEP_REST].low_mv - p->servo[*order].alone.low_mv);
    else
        snprintf(head, size, "Supply %s: lowest %d mV.", trial_verdict_name(out->verdict),
                 sums->low_mv);
}

void supply_judge(const void *state, struct trial_outcome *out) {
    const struct supply *p = state;
    struct sums sums = sum(p);
    bool fit = judge_power(p, out);
    if (fit) {
        const struct span *rest = &p->span[STEP_REST];
        if (rest->known && rest->ms < REST_MS)
            trial_find(out, "rest", TRIAL_NOT_SHOWN, "At rest: only %.1f of 10 s were seen.",
                       (double)rest->ms / 1000);
        else
            judge_step(p, out, "rest", "At rest", STEP_REST);
        judge_servos(p, out);
        judge_together(p, out);
        judge_throttle(p, out);
        judge_faults(p, &sums, out);
        judge_brownout(p, &sums, out);
        judge_meter(p, out);
    }
    out->verdict = fit ? trial_sum(out) : TRIAL_NOT_SHOWN;
    say_headline(p, &sums, fit, out);
    snprintf(out->next, sizeof out->next, "%s", cure(p, &sums, out));
}
