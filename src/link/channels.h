/* What each channel does: its value, the ends it reached, how it rests, how often it changes. */
#ifndef LINK_CHANNELS_H
#define LINK_CHANNELS_H

#include "link/snapshot.h"

enum {
    REST_BLOCK = 32,  /* reports */
    REST_SPREAD = 40, /* a block whose peak to peak is more than this moves: in µs some 4 % of the
                         usual travel, well above the noise of a poor stick; */
    REST_STILL = 6, /* one of no more than this is at rest; between the two the order of the values
                       decides */
};

/* A stick rests where it spent most of its blocks at rest, not where it was held last. */
struct rest_place {
    uint64_t blocks;
    double mean; /* of its blocks' means */
};
enum { REST_PLACES = 6, REST_NEAR = 15 }; /* units within which a block belongs to a place */

enum { STEP_VALUES = 4096 }; /* µs, and raw values of converters up to 12 bits */

struct channel {
    bool present;
    int32_t value;
    int32_t input;
    bool has_input;
    uint64_t reports, changes;
    uint32_t steps;  /* distinct values within 0 .. STEP_VALUES - 1 */
    bool steps_over; /* some value lay outside */
    uint64_t seen[STEP_VALUES / 64];
    /* the block being filled; block_rests tells of the newest full one */
    uint32_t block_len;
    int32_t block[REST_BLOCK];
    bool block_rests;
    double block_mean;
    /* blocks at rest */
    struct rest_place place[REST_PLACES];
    int32_t noise_peak;
    uint64_t rest_blocks;
    double rest_squares; /* sum of squared deviations from their block's mean */
};

/* Sums over the blocks in which both channels were at rest. */
struct channel_pair {
    uint64_t blocks;
    double cross, squares_a, squares_b; /* of deviations from the block's mean */
};

struct channels {
    uint32_t count;                                /* greatest seen */
    int32_t low[CHANNELS_MAX], high[CHANNELS_MAX]; /* ends; low > high: none known */
    struct channel channel[CHANNELS_MAX];
    struct channel_pair pair[CHANNELS_MAX][CHANNELS_MAX]; /* [a][b] with a < b */
};

void channels_init(struct channels *c);

/* Takes a report; changed gets 1 for each channel whose value differs from the one before. */
void channels_report(struct channels *c, const struct report *r, uint8_t changed[CHANNELS_MAX]);

/* Takes only what the ends are made of. */
void channels_ends(struct channels *c, const struct report *r);

/* Fills in all but the name and the rate of changes. */
void channels_read(const struct channels *c, struct channel_state *out);

#endif
