#include "json/parts.h"

#include <stdio.h>

static json_t *count(uint64_t value) {
    return json_integer((json_int_t)value);
}

static json_t *carriers(const struct survey *s) {
    json_t *list = json_array();
    for (int i = 0; i < SURVEY_MHZ; i++) {
        if (s->looks[i] == 0)
            continue;
        json_t *one = json_object();
        json_object_set_new(one, "mhz", json_integer(SURVEY_FROM_MHZ + i));
        json_object_set_new(one, "hits", count(s->hits[i]));
        json_object_set_new(one, "looks", count(s->looks[i]));
        json_array_append_new(list, one);
    }
    return list;
}

static json_t *spot(const struct survey_spot *of) {
    json_t *one = json_object(), *wifi = json_array();
    json_object_set_new(one, "mhz", json_integer(of->mhz));
    json_object_set_new(one, "hits", count(of->hits));
    json_object_set_new(one, "looks", count(of->looks));
    json_object_set_new(one, "low", json_real(of->low));
    json_object_set_new(one, "high", json_real(of->high));
    json_object_set_new(one, "clear_mhz", json_integer(of->clear_mhz));
    for (int i = 0; i < of->wifi_count; i++)
        json_array_append_new(wifi, json_integer(of->wifi[i]));
    json_object_set_new(one, "wifi_channels", wifi);
    return one;
}

static void put_spot(json_t *air, json_t *because, const char *key, const struct survey_spot *of,
                     const char *why) {
    char path[32];
    json_object_set_new(air, key, of->known ? spot(of) : json_null());
    snprintf(path, sizeof path, "air.%s", key);
    if (!of->known)
        json_object_set_new(because, path, json_string(why));
}

void survey_json(const struct survey *s, json_t *root, json_t *because) {
    json_t *air = json_object();
    bool swept = s && s->sweeps > 0;
    struct survey_advice a = {.width_mhz = 0};
    if (swept)
        survey_advise(s, &a);
    const char *why = swept ? "too few looks" : "no sweep";
    json_object_set_new(root, "air", air);
    json_object_set_new(air, "sweeps", count(swept ? s->sweeps : 0));
    json_object_set_new(air, "carriers", swept ? carriers(s) : json_array());
    put_spot(air, because, "quietest", &a.best, why);
    put_spot(air, because, "runner_up", &a.second, why);
    put_spot(air, because, "now", &a.now, swept && s->mhz == 0 ? "mhz" : why);
}
