/* What stands on the air, by the sweeps that a receiver makes at boot: a fold over `air` lines.  A
 * look is one bit, carrier or none, so that only strong signals are ever seen: a quiet place is no
 * proof. Nothing is allocated. */
#ifndef STUDY_SURVEY_H
#define STUDY_SURVEY_H

#include "radio/band.h"
#include "telemetry/event.h"

enum {
    SURVEY_FROM_MHZ = 2400,
    SURVEY_MHZ = 128,       /* room for the chip's 126 carriers */
    SURVEY_APART_MHZ = 10,  /* runner-up from the quietest, at least */
    SURVEY_AROUND_MHZ = 2,  /* to either side: what a carrier there would hear too */
    SURVEY_CLEAR_MHZ = 10,  /* farther than that from anything heard is no better */
    SURVEY_LOOKS_LEAST = 50 /* at a carrier; with fewer nothing is suggested */
};

struct survey {
    uint32_t lines, sweeps; /* a carrier that comes again begins another sweep */
    uint32_t top_mhz;       /* of the sweep so far */
    uint64_t hits[SURVEY_MHZ], looks[SURVEY_MHZ];
    uint64_t outside;   /* looks beyond that room, of which nothing is kept */
    uint32_t mhz, kbps; /* what the receiver's id says; 0 unknown */
};

void survey_init(struct survey *s);

/* Takes `air` and `id` lines; others pass. */
void survey_feed(struct survey *s, const struct event *event);

/* Greatest share of hits at a carrier, 0..1; -1 without a look. */
double survey_peak(const struct survey *s);

/* A carrier to think about. */
struct survey_spot {
    bool known;
    uint32_t mhz;
    uint64_t hits, looks; /* within SURVEY_AROUND_MHZ */
    double low, high;     /* share of hits there, 95 % (Wilson; looks taken as independent) */
    uint32_t clear_mhz;   /* to the nearest carrier with a hit; SURVEY_CLEAR_MHZ or more: that */
    int wifi_count;       /* channels 1 to 13 that stand over it, 20 MHz wide */
    int wifi[WIFI_OVER_MAX];
};

struct survey_advice {
    double width_mhz; /* that the signal takes, by kbps; the widest where that isn't known */
    struct survey_spot best, second;
    struct survey_spot now; /* the receiver's own carrier, where it is known and was looked at */
};

/* The quietest carriers, whole signals within 2400 to 2483.5 MHz only: fewest hits first, then the
 * farthest from anything heard, then the fewest of the usual Wi-Fi channels 1, 6 and 11 over it. */
void survey_advise(const struct survey *s, struct survey_advice *out);

/* Hits and looks within the 20 MHz of a Wi-Fi channel, in the band. */
void survey_wifi(const struct survey *s, int channel, uint64_t *hits, uint64_t *looks);

#endif
