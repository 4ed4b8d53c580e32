/* Small things that several trials say. */
#ifndef TRIAL_SAY_H
#define TRIAL_SAY_H

#include "trial/trial.h"

/* One more line of the pane, as printf; without room it is dropped. */
void say_line(struct trial_pane *pane, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* "channel 4 (winch)", or "channel 4" where the model file has no name. */
enum { SAY_CHANNEL = 48 };
const char *say_channel(char out[SAY_CHANNEL], const struct trial_rules *rules, uint32_t channel);

/* How long the step has lasted, ms: link time, else host time; 0 where neither is known. */
int64_t say_lasted_ms(const struct trial_place *place);

/* "14:20" */
enum { SAY_CLOCK = 24 };
const char *say_clock(char out[SAY_CLOCK], int64_t ms);

#endif
