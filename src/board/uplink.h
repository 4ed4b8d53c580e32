/* The receiver's side of the link: what has arrived, what is missing, and what the outputs are
 * commanded to do.  No hardware: time is a parameter, in ms since boot, and may wrap.
 */
#ifndef BOARD_UPLINK_H
#define BOARD_UPLINK_H

#include "board/payload.h"

#define PRESET_HOLD 0 /* failsafe keeps the last value; no pulses before there was one */
#define PRESET_OFF  1 /* no pulses */

struct uplink_rules {
    uint16_t owner;
    uint16_t preset[PAYLOAD_CHANNELS]; /* microseconds, PRESET_HOLD or PRESET_OFF */
    uint8_t throttle;                  /* channel, from 0 */
    uint16_t low_us;                   /* the throttle is low up to here */
    uint8_t low_packets;               /* so many low ones in a row release it */
    uint16_t hold_ms;                  /* outage until failsafe */
};

struct uplink {
    const struct uplink_rules *rules;
    struct payload newest; /* once `any` */
    uint32_t got, lost, refused, fsn;
    uint32_t last_ms;    /* when the newest one came */
    uint32_t longest_ms; /* outage since the last report that has ended */
    uint8_t history[8];  /* as emit_pattern wants it */
    uint8_t outcomes;    /* valid in history: since the last report, at most 64 */
    uint8_t low_run;
    bool any, fs, lock;
};

void uplink_init(struct uplink *u, const struct uplink_rules *rules);

/* A packet from the radio.  False where it was refused, or was a copy of one that came before. */
bool uplink_take(struct uplink *u, const uint8_t *bytes, uint8_t length, uint32_t now_ms);

/* Enters failsafe when it is due; call it often. */
void uplink_tick(struct uplink *u, uint32_t now_ms);

/* What the outputs shall do: microseconds or PRESET_OFF.  While `lock` lasts, the throttle stays at
 * its preset and the other channels follow the sticks. */
void uplink_outputs(const struct uplink *u, uint16_t channel[PAYLOAD_CHANNELS]);

/* Longest outage since the last report, the open one included; only once `any`. */
uint32_t uplink_gap(const struct uplink *u, uint32_t now_ms);

/* The report has been printed: the pattern and the longest outage begin anew. */
void uplink_reported(struct uplink *u);

#endif
