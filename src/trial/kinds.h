/* The kinds of trial, each in a file of its name. */
#ifndef TRIAL_KINDS_H
#define TRIAL_KINDS_H

#include "trial/trial.h"

extern const struct trial_kind trial_failsafe;
extern const struct trial_kind trial_bind;
extern const struct trial_kind trial_controls;
extern const struct trial_kind trial_rest;
extern const struct trial_kind trial_supply;
extern const struct trial_kind trial_tap;
extern const struct trial_kind trial_soak;

#endif
