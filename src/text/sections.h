/* The parts of the figures that one can ask for alone: one table that parsing, help, completion and
 * the page walk. */
#ifndef TEXT_SECTIONS_H
#define TEXT_SECTIONS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/slice.h"

enum figures_section {
    SECTION_TIME,
    SECTION_LOSS,
    SECTION_OUTAGES,
    SECTION_LINES,
    SECTION_RESTARTS,
    SECTION_FAILSAFE,
    SECTION_SUPPLY,
    SECTION_ENDS,
    SECTION_CHANNELS,
    SECTION_BAND,
    SECTION_STANDARDS,
    SECTIONS
};

struct section_row {
    const char *name;
    bool light; /* a light bench knows it; see bench_limits */
};
extern const struct section_row figures_sections[SECTIONS];

/* Names divided by commas, as a mask with bit 1u << enum figures_section; 0 when one is unknown. */
uint32_t figures_sections_of(struct slice names);

/* True when a light bench knows all of them; 0 is all there are. */
bool figures_sections_light(uint32_t sections);

#endif
