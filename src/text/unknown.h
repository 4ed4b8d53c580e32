/* Why a figure can't be told: the telemetry key that would tell it.  Text and JSON ask the same. */
#ifndef TEXT_UNKNOWN_H
#define TEXT_UNKNOWN_H

#include "link/snapshot.h"

enum figure {
    FIGURE_LINK_TIME,
    FIGURE_GOT,
    FIGURE_LOST,
    FIGURE_REFUSED,
    FIGURE_MISSING_LINES,
    FIGURE_OUTAGES,
    FIGURE_RECEIVER_RESTARTS,
    FIGURE_TRANSMITTER_RESTARTS,
    FIGURE_FAILSAFE,
    FIGURE_SUPPLY,
    FIGURE_SUPPLY_LOW,
    FIGURE_TRANSMITTER_SUPPLY,
    FIGURE_STEP,
    FIGURE_RSSI,
    FIGURE_REGISTERS,
    FIGURE_LOAD,
    FIGURES
};

/* NULL when the figure is known, else the missing key's name; where no key would help, what was
 * missing instead: a phrase with a space in it. */
const char *unknown_why(const struct snapshot *s, enum figure figure);

/* How far the lines can be trusted where only their values show damage, two sentences; false where
 * there is nothing to say. */
bool unknown_damage(char *out, size_t size, const struct snapshot *s);

/* How often a channel changed, a second of the whole run; negative when that can't be told. */
double figures_changes_hz(const struct snapshot *s, const struct channel_state *c);

#endif
