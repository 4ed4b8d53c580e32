/* The virtual air: frames of several chips in flight, who hears them, and what is lost. */
#ifndef RIG_AIR_H
#define RIG_AIR_H

#include "chip.h"

enum { AIR_CHIPS = 4, AIR_FLIGHTS = 32 };

enum loss_kind {
    LOSS_NONE,
    LOSS_RANDOM, /* each frame, with chance a / 1000 */
    LOSS_BURSTS, /* two states: bad begins with chance a / 1000, ends with b / 1000 a frame */
    LOSS_EVERY,  /* every a-th */
    LOSS_ALL
};

struct loss {
    enum loss_kind kind;
    uint16_t a, b;
};

struct flight {
    bool used;
    uint8_t from;
    uint8_t told; /* a bit for each chip that it has been handed to */
    int64_t begin, end;
    struct frame frame;
};

/* A steady carrier without a message, for `on` of each `period` ticks; off where on is 0. */
struct carrier {
    uint8_t channel;
    int dbm; /* at every receiver */
    int64_t period, on;
};

/* Told once a frame and receiver, at the frame's end. */
typedef void air_told(void *context, const struct flight *f, const struct chip *at,
                      enum outcome outcome);

struct air {
    struct chip *chip[AIR_CHIPS];
    uint8_t chips;
    int path_db[AIR_CHIPS][AIR_CHIPS]; /* from, to: loss between two chips */
    struct loss loss;                  /* of frames from chip 0 to chip 1 */
    struct carrier carrier;
    int8_t resize; /* bytes that payloads from chip 0 grow by, with a CRC to match */
    uint32_t seed, counter;
    uint32_t frames; /* begun so far; the number of the newest */
    bool bad;        /* of LOSS_BURSTS */
    struct flight flight[AIR_FLIGHTS];
    air_told *told;
    void *context;
};

/* All paths get `path_db`. */
void air_init(struct air *a, uint32_t seed, int path_db);

void air_join(struct air *a, struct chip *c);

/* A chip starts to radiate its frame. */
void air_begin(struct air *a, const struct chip *from, const struct frame *f, int64_t begin);

/* The chip's supply fails: what it is sending breaks off, and nobody understands it. */
void air_break(struct air *a, const struct chip *from, int64_t now);

/* Hands the chip what has ended up to `now`, in order. */
void air_hand(struct air *a, struct chip *to, int64_t now);

/* Whether a signal of at least `dbm` was at the chip, on the channel, from `from` to `to` without
 * a break. */
bool air_power(const struct air *a, const struct chip *at, uint8_t channel, int dbm, int64_t from,
               int64_t to);

#endif
