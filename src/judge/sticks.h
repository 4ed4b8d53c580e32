/* What the trials of the sticks share: which reports tell where the sticks are, the unit and the
 * span of the values, the channels' names, and a channel's travel as a picture. */
#ifndef JUDGE_STICKS_H
#define JUDGE_STICKS_H

#include "trial/trial.h"

/* Names and scale of a link's channels; all zero before the first moment. */
struct stick_map {
    uint32_t count;   /* channels */
    bool raw;         /* values are the converter's, not µs */
    bool span_known;  /* low and high hold: from the id line, or in µs 1000 and 2000 */
    double low, high; /* ends of the usual travel, in the values' own unit */
    double scale;     /* units for 1 µs of 1000: limits are told in µs and grow with the span */
    uint32_t inputs;  /* channels with a stick's own value (`in`); 0: the lines have none */
    char name[CHANNELS_MAX][NAME_MAX_BYTES];
    char label[CHANNELS_MAX][NAME_MAX_BYTES + 4]; /* "3 thruster", or "channel 3" without a name */
};
void stick_map_take(struct stick_map *map, const struct moment *m, const struct snapshot *s);
const char *stick_unit(const struct stick_map *map); /* "us" or "raw": for findings */
const char *stick_sign(const struct stick_map *map); /* "µs" or "raw": for people */

/* True for a report that tells where the sticks are now: not in failsafe, not locked, and with a
 * packet since the report before (where the lines tell of packets); what stands in the others was
 * put there by the receiver, or is old. */
bool sticks_told(const struct moment *m);

/* The report's value of channel `c`; false where it has none. */
bool stick_value(const struct report *r, uint32_t c, int32_t *value);

/* A travel over 800..2200 µs, or the span and a fifth more at either end: "[" and "]" the ends that
 * were reached, "<" and ">" where it came back to from below and from above ("X" where the two fall
 * together), "|" the rest when there are none, "." the usual span, "O" where it is now.  NAN: not
 * known.  Writes STICK_BAR columns and NUL. */
enum { STICK_BAR = 41 };
struct stick_marks {
    double low, high, rest, from_low, from_high, now;
};
void stick_bar(const struct stick_map *map, const struct stick_marks *marks,
               char out[STICK_BAR + 1]);

/* The name of a finding about a channel: prefix and number in one constant text, such as
 * "noise_ch3". */
enum stick_topic {
    STICK_NOISE,
    STICK_OUTLIERS,
    STICK_DRIFT,
    STICK_TRAVEL,
    STICK_RETURN,
    STICK_DIRECTION,
    STICK_OTHERS,
    STICK_DRIVES,
    STICK_SMOOTH,
    STICK_TOPICS
};
const char *stick_finding(enum stick_topic topic, uint32_t channel);

#endif
