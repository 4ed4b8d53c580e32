/* What happens in each run of the rig, and what has to come of it. */
#ifndef RIG_SCENE_H
#define RIG_SCENE_H

#include <stdbool.h>
#include <stdint.h>

enum log_entry {
    AIR_LOSS,     /* a: enum loss_kind, b and c: its numbers */
    AIR_RESIZE,   /* payloads of the transmitter grow by a bytes */
    AIR_CARRIER,  /* a: channel, b: dBm, c: per cent of each 20.5 ms; 0 ends it */
    AIR_STRANGER, /* a third transmitter, every a ms, on channel b; 0 ends it */
    RX_SUPPLY,    /* a: mV */
    TX_SUPPLY,
    RX_RADIO, /* a: 1 has its supply, 0 is cut off */
    TX_RADIO,
    RX_TEAR,  /* its supply fails after a bytes of the next payload; b: what the wires read then */
    RX_RESET, /* the button */
    TX_RESET,
    RX_HANG,   /* the program runs into an endless loop */
    RX_JUMPER, /* a: closed */
    RX_OLDER,  /* its chip is of the older kind, without 250 kbit/s */
    TX_STICK,  /* a: channel from 1, b: ADC count */
    TX_SWITCH  /* a: bit of port D, b: closed */
};

struct event {
    uint32_t ms;
    enum log_entry what;
    int32_t a, b, c;
};

enum { SCENE_EVENTS = 40 };

struct scene {
    const char *name, *legend;
    const char *receiver, *transmitter; /* how they are built, NULL: as they are */
    uint32_t ms;
    bool steady; /* the sticks rest but for the events; else they step every 500 ms */
    struct event event[SCENE_EVENTS]; /* ends with ms == 0 */
    struct {
        uint8_t restarts, tx_starts; /* besides the first */
        const char *cause;           /* of the restarts */
        bool heard;                  /* anything at all */
        bool refused;
        uint8_t failsafes; /* entered, once there was a link */
        uint8_t reinits;
        const char *reg; /* states told besides ok, or NULL */
        bool loss;       /* some, else none */
        bool by_hand;    /* only where it is asked for: it takes minutes */
    } expect;
};

/* Makes up a run by chance; what has to come of it is left to the truth. */
void scene_by_chance(struct scene *s, uint32_t seed);

extern const struct scene scenes[];
extern const unsigned scene_count;

#endif
