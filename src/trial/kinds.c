#include "trial/kinds.h"

const struct trial_kind *const trial_kinds[TRIALS] = {
    [TRIAL_FAILSAFE] = &trial_failsafe,
    [TRIAL_BIND] = NULL,
    [TRIAL_CONTROLS] = NULL,
    [TRIAL_REST] = NULL,
    [TRIAL_SUPPLY] = NULL,
    [TRIAL_TAP] = NULL,
    [TRIAL_SOAK] = NULL,
};
