/* A third transmitter without a processor: the rig itself plays its driver. */
#ifndef RIG_STRANGER_H
#define RIG_STRANGER_H

#include "chip.h"

struct stranger {
    struct chip chip;
    int64_t period, next; /* ticks; 0: silent */
    uint8_t channel;
};

void stranger_init(struct stranger *s);
void stranger_send(struct stranger *s, int64_t period, uint8_t channel, int64_t now);
void stranger_advance(struct stranger *s, int64_t now);

#endif
