/* Supply: what each servo asks of the receiver's supply, alone and all together.
 *
 * Figures are millivolts as told by the receiver times the model file's calibration.  Without one
 * they are as good as the controller's reference: 1.1 V nominal, 1.0 to 1.2 V (ATmega328P data
 * sheet, internal voltage reference), so that the true supply is 10/11 to 12/11 of what is told;
 * with one, one step of a 10-bit converter is left, mV * mV / 1126400. */
#ifndef TRIAL_SUPPLY_H
#define TRIAL_SUPPLY_H

#include "trial/trial.h"

enum {
    STEP_POWER,
    STEP_CONNECT,
    STEP_REST,
    STEP_USB,
    STEP_ALONE,
    STEP_TOGETHER,
    STEP_UNPLUG,
    STEP_ASK,
    STEP_THROTTLE,
    STEPS
};

enum { POWER_BATTERY, POWER_REGULATOR, POWER_USB, POWER_UNTOLD };

enum {
    TRACE = 32,        /* reports kept to see how fast something moves */
    FAST_MS = 300,     /* full speed: in this time ... */
    FAST_PERCENT = 40, /* ... so much of the span; most servos turn 60 degrees in 0.1 to 0.2 s
                          (common practice) */
    MOVE_PERCENT = 5,  /* less is no movement */
    TAIL_MS = 700,     /* a servo still runs after its command has stopped */
    REST_MS = 10000,
    USB_LOW_MV = 4750,    /* a rail like USB's: its source gives 4.75 to 5.25 V (USB 2.0, 7.2.2; */
    USB_HIGH_MV = 5250,   /* from memory) */
    USB_STEADY_MV = 100,  /* and hardly moves at rest */
    SAG_LEAST_MV = 40,    /* a rail that the servos hang on sags by more (common practice: leads and
                             plugs alone have some 0.1 ohm, three small servos draw 0.5 A) */
    UNPLUGGED_MS = 1500,  /* without a line before a start, after the battery was pulled */
    RESOLUTION = 1126400, /* 1.1 V * 1024 * 1000, see above */
    FIVE_VOLT_MV = 4500,  /* a rail above it is a 5 V one, */
    FIVE_VOLT_LOW = 4000, /* and a 16 MHz board on it is out of its range below (common practice) */
};

/* What was seen while something lasted. */
struct span {
    uint64_t reports, holes, restarts, brownouts, settings_lost;
    bool known; /* low and high hold; low_most: the highest of the reports' lows */
    int32_t low_mv, high_mv, low_most_mv;
    int64_t ms;
    bool entered, skipped, port_lost;
};

struct servo {
    struct span alone;
    bool fast;     /* alone, and at full speed */
    bool moved;    /* at all, at whatever step */
    int32_t speed; /* greatest, units a second */
};

struct sample {
    int64_t ms;
    uint32_t count;
    int32_t ch[CHANNELS_MAX];
};

struct supply {
    struct trial_rules rules;
    int32_t unit_span;
    uint32_t power; /* POWER_... */
    bool asked_usb, usb_cut;
    bool unplugged;    /* the receiver went off with the model's battery, and started anew */
    int64_t report_us; /* host time of the newest report, TIME_UNKNOWN */
    bool throttle_wanted, throttle_seen;
    uint32_t has; /* keys that any report had */
    uint32_t step;
    struct span span[STEPS];
    struct servo servo[CHANNELS_MAX];
    uint32_t together; /* most that moved at once in the step for that */
    struct sample trace[TRACE];
    uint32_t traced;                 /* samples so far; the newest is trace[(traced - 1) % TRACE] */
    int64_t moving_ms[CHANNELS_MAX]; /* when it last moved; TIME_UNKNOWN */
    uint32_t alone;                  /* the newest that moved alone, CHANNELS_MAX: none yet */
};

extern const struct trial_step supply_steps[STEPS];

/* How many servos were seen to move alone and at full speed. */
uint32_t supply_fast_servos(const struct supply *p);

/* It sits where USB's 5 V would. */
bool supply_like_usb(const struct supply *p);
/* How far the lowest under load lies below the lowest at rest, mV; negative: not known. */
int32_t supply_sag(const struct supply *p);
/* That the model feeds it was seen: it went off with the battery, or the supply sags under the
 * servos as one of USB's wouldn't at that level. */
bool supply_is_models(const struct supply *p);

/* What it comes to; state is the struct supply. */
void supply_judge(const void *state, struct trial_outcome *out);

#endif
