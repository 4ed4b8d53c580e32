#include "trial/kinds.h"

const struct trial_kind *const trial_kinds[TRIALS] = {
    [TRIAL_FAILSAFE] = &trial_failsafe, [TRIAL_BIND] = &trial_bind,
    [TRIAL_CONTROLS] = &trial_controls, [TRIAL_REST] = &trial_rest,
    [TRIAL_SUPPLY] = &trial_supply,     [TRIAL_TAP] = &trial_tap,
    [TRIAL_SOAK] = &trial_soak,
};
