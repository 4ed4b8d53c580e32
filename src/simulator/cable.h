/* The serial cable: gathers a line and hands it over whole, or loses or damages it on the way.
 * Transmission takes no time here: a line is there at the moment when it was made. */
#ifndef SIMULATOR_CABLE_H
#define SIMULATOR_CABLE_H

#include <stddef.h>

#include "simulator/chance.h"
#include "simulator/simulator.h"

enum { CABLE_LINE_MAX = 512 };

enum cable_state {
    CABLE_WHOLE,
    CABLE_CUT,   /* nothing comes through */
    CABLE_SPEED, /* the two sides have set different speeds */
};

struct cable {
    struct chance chance;
    simulator_put *put;
    void *where;
    int32_t lose, damage; /* lines of 10000 */
    enum cable_state state;
    bool tear; /* the next line is cut off where its sender stopped: no line end */
    uint64_t lines, bytes, lines_lost, lines_damaged, lines_torn;
    size_t len;
    char line[CABLE_LINE_MAX];
};

void cable_init(struct cable *c, uint64_t seed, simulator_put *put, void *where);

/* An emit_byte: takes one byte; the line goes out at its LF. */
void cable_byte(void *cable, uint8_t byte);

/* A whole piece of plain text, such as a boot loader prints. */
void cable_text(struct cable *c, const char *text);

#endif
