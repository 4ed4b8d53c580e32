#include "trial/say.h"

#include <stdarg.h>
#include <stdio.h>

void say_line(struct trial_pane *pane, const char *format, ...) {
    if (pane->lines >= TRIAL_LINES_MAX)
        return;
    char *line = pane->line[pane->lines++];
    va_list values;
    va_start(values, format);
    vsnprintf(line, sizeof pane->line[0], format, values);
    va_end(values);
}

const char *say_channel(char out[SAY_CHANNEL], const struct trial_rules *rules, uint32_t channel) {
    const char *name = rules->bench.channel_name[channel];
    snprintf(out, SAY_CHANNEL, "channel %u%s%s%s", channel + 1, name[0] != '\0' ? " (" : "", name,
             name[0] != '\0' ? ")" : "");
    return out;
}

int64_t say_lasted_ms(const struct trial_place *place) {
    if (place->now_ms != TIME_UNKNOWN && place->since_ms != TIME_UNKNOWN)
        return place->now_ms - place->since_ms;
    if (place->now_us != TIME_UNKNOWN && place->since_us != TIME_UNKNOWN)
        return (place->now_us - place->since_us) / 1000;
    return 0;
}

const char *say_clock(char out[SAY_CLOCK], int64_t ms) {
    snprintf(out, SAY_CLOCK, "%lld:%02lld", (long long)(ms / 60000), (long long)(ms / 1000 % 60));
    return out;
}
