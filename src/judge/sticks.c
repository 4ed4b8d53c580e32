#include "judge/sticks.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/whole.h"

/* Without an id line µs are taken to span what is common practice. */
static void take_span(struct stick_map *map, const struct snapshot *s) {
    bool usual = !s->span_known && !s->raw_unit;
    map->raw = s->raw_unit;
    map->span_known = s->span_known || usual;
    map->low = usual ? 1000 : s->span_low;
    map->high = usual ? 2000 : s->span_high;
    map->scale = map->raw ? (map->high - map->low) / 1000 : 1;
}

void stick_map_take(struct stick_map *map, const struct moment *m, const struct snapshot *s) {
    take_span(map, s);
    if (m->event->kind != EVENT_REPORT && map->count > 0)
        return;
    map->count = s->channel_count < CHANNELS_MAX ? s->channel_count : CHANNELS_MAX;
    for (uint32_t i = 0; i < map->count; i++) {
        char plain[8];
        snprintf(plain, sizeof plain, "ch%u", i + 1);
        memcpy(map->name[i], s->channel[i].name, sizeof map->name[i]);
        if (strcmp(plain, map->name[i]) == 0)
            snprintf(map->label[i], sizeof map->label[i], "channel %u", i + 1);
        else
            snprintf(map->label[i], sizeof map->label[i], "%u %s", i + 1, map->name[i]);
        if (s->channel[i].has_input && i >= map->inputs)
            map->inputs = i + 1;
    }
}

const char *stick_unit(const struct stick_map *map) {
    return map->raw ? "raw" : "us";
}

const char *stick_sign(const struct stick_map *map) {
    return map->raw ? "raw" : "µs";
}

bool sticks_told(const struct moment *m) {
    if (m->event->kind != EVENT_REPORT)
        return false;
    const struct report *r = &m->event->report;
    if ((report_has(r, KEY_FS) && r->fs != 0) || (report_has(r, KEY_LOCK) && r->lock != 0))
        return false;
    return !m->packets.counted || m->packets.got > 0;
}

bool stick_value(const struct report *r, uint32_t c, int32_t *value) {
    if (c >= r->ch_count || r->ch[c] == CHANNEL_OFF)
        return false;
    *value = r->ch[c];
    return true;
}

static int bar_column(const struct stick_map *map, double value) {
    double span = map->high - map->low, from = map->low - 0.2 * span;
    double share = span > 0 ? (value - from) / (1.4 * span) : 0.5;
    share = share > 1 ? 1 : share >= 0 ? share : 0;
    return whole_i32(share * (STICK_BAR - 1) + 0.5);
}

static void mark(const struct stick_map *map, char *out, double value, char glyph) {
    if (!isnan(value))
        out[bar_column(map, value)] = glyph;
}

void stick_bar(const struct stick_map *map, const struct stick_marks *k, char out[STICK_BAR + 1]) {
    memset(out, ' ', STICK_BAR);
    out[STICK_BAR] = '\0';
    for (int at = bar_column(map, map->low); at <= bar_column(map, map->high); at++)
        out[at] = '.';
    if (!isnan(k->low) && !isnan(k->high))
        for (int at = bar_column(map, k->low); at <= bar_column(map, k->high); at++)
            out[at] = '-';
    mark(map, out, k->low, '[');
    mark(map, out, k->high, ']');
    bool both = !isnan(k->from_low) && !isnan(k->from_high);
    if (both && bar_column(map, k->from_low) == bar_column(map, k->from_high)) {
        mark(map, out, k->from_low, 'X');
    } else if (both || !isnan(k->from_low) || !isnan(k->from_high)) {
        mark(map, out, k->from_low, '<');
        mark(map, out, k->from_high, '>');
    } else {
        mark(map, out, k->rest, '|');
    }
    mark(map, out, k->now, 'O');
}

#define SIXTEEN(topic)                                                                             \
    {                                                                                              \
        topic "_ch1", topic "_ch2", topic "_ch3", topic "_ch4", topic "_ch5", topic "_ch6",        \
            topic "_ch7", topic "_ch8", topic "_ch9", topic "_ch10", topic "_ch11", topic "_ch12", \
            topic "_ch13", topic "_ch14", topic "_ch15", topic "_ch16"                             \
    }

const char *stick_finding(enum stick_topic topic, uint32_t channel) {
    static const char *const names[STICK_TOPICS][CHANNELS_MAX] = {
        [STICK_NOISE] = SIXTEEN("noise"),   [STICK_OUTLIERS] = SIXTEEN("outliers"),
        [STICK_DRIFT] = SIXTEEN("drift"),   [STICK_TRAVEL] = SIXTEEN("travel"),
        [STICK_RETURN] = SIXTEEN("return"), [STICK_DIRECTION] = SIXTEEN("direction"),
        [STICK_OTHERS] = SIXTEEN("others"), [STICK_DRIVES] = SIXTEEN("drives"),
        [STICK_SMOOTH] = SIXTEEN("smooth"),
    };
    return names[topic][channel < CHANNELS_MAX ? channel : CHANNELS_MAX - 1];
}
