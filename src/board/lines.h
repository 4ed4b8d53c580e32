/* The lines that the two ends print, by emit/.  No hardware: `put` takes the bytes. */
#ifndef BOARD_LINES_H
#define BOARD_LINES_H

#include "board/radio.h"
#include "board/uplink.h"
#include "emit/emit.h"

struct looks {
    uint8_t hits, looks; /* at most 255 */
};

/* What a report says beside the uplink. */
struct rx_facts {
    uint32_t n, now_ms;
    uint16_t mv, mvmin;
    struct looks heard, noise;
    enum radio_state reg; /* the worst since the last report */
    uint32_t reinit;
};

/* A report in the making.  It is printed some keys at a time, so that the program can look after
 * the radio in between; all of it tells of the moment at which it was begun. */
struct lines_report {
    struct emit emit;
    struct rx_facts report;
    struct uplink uplink;
    uint8_t step;
};

void lines_report_begin(struct lines_report *l, emit_byte *put, const struct rx_facts *r,
                        const struct uplink *u);

/* Prints the next keys; true once the line has ended. */
bool lines_report_step(struct lines_report *l);

/* `preset` is NULL for a transmitter; `radio` NULL where no chip answers. */
void lines_id(emit_byte *put, const char *end, const char *fw, const uint16_t *preset,
              const struct radio_facts *radio);

void lines_boot(emit_byte *put, const char *cause);
void lines_say(emit_byte *put, const char *text);

/* What a transmitter says each second: for a person, and to set its sticks by. */
struct sending {
    uint32_t sent, reinit;
    uint16_t mv;
    uint8_t step;
    enum radio_state reg;
    uint16_t us[PAYLOAD_CHANNELS];
    uint16_t adc[PAYLOAD_CHANNELS]; /* counts, the first `sticks` of them */
    uint8_t sticks;
};

void lines_sending(emit_byte *put, const struct sending *s);

/* One part of a sweep: hits of `count` (at most 16) carriers, 1 MHz apart. */
void lines_air(emit_byte *put, uint16_t from_mhz, uint8_t per, const uint8_t *hits, uint8_t count);

#endif
