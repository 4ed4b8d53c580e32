/* A hand at the sticks, for tests: reports 20 times a second of channels that are moved by a table,
 * each trembling by about a µs.  Needs trial_drive.h. */
#ifndef TESTS_UNIT_HAND_H
#define TESTS_UNIT_HAND_H

#include <math.h>
#include <stdio.h>
#include <string.h>

struct hand {
    struct drive *d;
    unsigned channels, inputs; /* inputs: so many of them are told as `in` */
    double at_s;
    double value[16];
    double jitter; /* half the width of what is added */
    int step;      /* values are multiples of it */
    bool failsafe; /* the receiver's own values: all of them 1000 */
    bool silent;   /* no packet comes in */
    bool untimed;
    unsigned got;
    unsigned dice;
};

static double hand_dice(struct hand *h) {
    h->dice = h->dice * 1664525u + 1013904223u; /* Numerical Recipes */
    return (double)(h->dice >> 8) / 8388608.0 - 1;
}

static int hand_value(struct hand *h, unsigned c) {
    double noisy = h->value[c] + h->jitter * hand_dice(h);
    return (int)lround(noisy / h->step) * h->step;
}

static void hand_report(struct hand *h) {
    char line[400];
    int len = snprintf(line, sizeof line, "rx ");
    int value[16];
    unsigned ms = (unsigned)lround(h->at_s * 1000);
    if (!h->untimed)
        len += snprintf(line + len, sizeof line - (size_t)len, "t=%u ", ms);
    for (unsigned c = 0; c < h->channels; c++) {
        value[c] = hand_value(h, c);
        len += snprintf(line + len, sizeof line - (size_t)len, "%s%d", c == 0 ? "ch=" : ",",
                        h->failsafe ? 1000 : value[c]);
    }
    for (unsigned c = 0; c < h->inputs; c++)
        len += snprintf(line + len, sizeof line - (size_t)len, "%s%d", c == 0 ? " in=" : ",",
                        value[c]);
    h->got += h->silent || h->failsafe ? 0 : 2;
    snprintf(line + len, sizeof line - (size_t)len, " got=%u lost=0 fs=%d", h->got, h->failsafe);
    drive_line(h->d, h->at_s, line);
    h->at_s += 0.05;
}

static struct hand hand_new(struct drive *d, unsigned channels, double rest) {
    struct hand h = {.d = d, .channels = channels, .jitter = 1.5, .step = 1, .got = 10};
    for (unsigned c = 0; c < channels; c++)
        h.value[c] = rest;
    return h;
}

static void hand_wait(struct hand *h, double seconds) {
    for (double end = h->at_s + seconds; h->at_s < end - 1e-6;)
        hand_report(h);
}

/* Moves the channels in mask to a value, evenly. */
static void hand_move_all(struct hand *h, unsigned mask, double to, double seconds) {
    double from[16];
    int reports = seconds < 0.05 ? 1 : (int)lround(seconds / 0.05);
    memcpy(from, h->value, sizeof from);
    for (int i = 1; i <= reports; i++) {
        for (unsigned c = 0; c < h->channels; c++)
            if ((mask >> c & 1u) != 0)
                h->value[c] = from[c] + (to - from[c]) * i / reports;
        hand_report(h);
    }
}

static void hand_move(struct hand *h, unsigned channel, double to, double seconds) {
    hand_move_all(h, 1u << channel, to, seconds);
}

#endif
