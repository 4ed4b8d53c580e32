#include <stdarg.h>
#include <stdio.h>

#include "trial/trial.h"

const char *trial_verdict_name(enum trial_verdict verdict) {
    static const char *const names[] = {
        [TRIAL_NOT_TRIED] = "not tried",
        [TRIAL_NOT_SHOWN] = "not shown",
        [TRIAL_PASSED] = "passed",
        [TRIAL_FAILED] = "failed",
    };
    return names[verdict];
}

void trial_rules_default(struct trial_rules *rules) {
    *rules = (struct trial_rules){
        .supply_scale = 1,
        .throttle_low_ms = 1000,
        .recover_ms = 2000,
        .ride_ms = 300,
        .stay_ms = 5000,
        .rest_noise = 4,
        .centre = 10,
        .crosstalk = 5,
        .soak_s = 1200,
        .soak_gap_ms = 100,
    };
    bench_limits_default(&rules->bench);
}

struct trial_finding *trial_find(struct trial_outcome *out, const char *name,
                                 enum trial_verdict verdict, const char *format, ...) {
    /* More findings than there is room for: the last place is written over. */
    uint32_t at = out->count < TRIAL_FINDINGS_MAX ? out->count++ : TRIAL_FINDINGS_MAX - 1;
    struct trial_finding *finding = &out->finding[at];
    *finding = (struct trial_finding){.name = name, .verdict = verdict};
    va_list values;
    va_start(values, format);
    vsnprintf(finding->text, sizeof finding->text, format, values);
    va_end(values);
    return finding;
}

struct trial_finding *trial_measured(struct trial_finding *finding, double low, double high,
                                     const char *unit) {
    finding->measured = true;
    finding->low = low;
    finding->high = high;
    finding->unit = unit;
    return finding;
}

struct trial_finding *trial_brief(struct trial_finding *finding, const char *format, ...) {
    va_list values;
    va_start(values, format);
    vsnprintf(finding->brief, sizeof finding->brief, format, values);
    va_end(values);
    return finding;
}

struct trial_finding *trial_aside(struct trial_finding *finding) {
    finding->aside = true;
    return finding;
}

enum trial_verdict trial_sum(const struct trial_outcome *out) {
    bool all = true, one = false;
    for (uint32_t i = 0; i < out->count; i++) {
        const struct trial_finding *f = &out->finding[i];
        if (f->verdict == TRIAL_FAILED)
            return TRIAL_FAILED;
        one = one || f->verdict == TRIAL_PASSED;
        all = all && (f->aside || f->verdict == TRIAL_PASSED);
    }
    return all && one ? TRIAL_PASSED : TRIAL_NOT_SHOWN;
}
