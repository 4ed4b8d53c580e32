#include "text/sections.h"

const struct section_row figures_sections[SECTIONS] = {
    [SECTION_TIME] = {"time", true},
    [SECTION_LOSS] = {"loss", true},
    [SECTION_OUTAGES] = {"outages", false},
    [SECTION_LINES] = {"lines", false},
    [SECTION_RESTARTS] = {"restarts", false},
    [SECTION_FAILSAFE] = {"failsafe", false},
    [SECTION_SUPPLY] = {"supply", false},
    [SECTION_ENDS] = {"ends", true},
    [SECTION_CHANNELS] = {"channels", false},
    [SECTION_BAND] = {"band", false},
    [SECTION_STANDARDS] = {"standards", false},
};

static uint32_t section_of(struct slice name) {
    for (unsigned i = 0; i < SECTIONS; i++)
        if (slice_is(name, figures_sections[i].name))
            return 1u << i;
    return 0;
}

uint32_t figures_sections_of(struct slice names) {
    uint32_t all = 0;
    while (names.at != NULL) {
        uint32_t one = section_of(slice_cut(&names, ','));
        if (one == 0)
            return 0;
        all |= one;
    }
    return all;
}

bool figures_sections_light(uint32_t sections) {
    for (unsigned i = 0; i < SECTIONS; i++)
        if ((sections >> i & 1u) != 0 && !figures_sections[i].light)
            return false;
    return sections != 0;
}
