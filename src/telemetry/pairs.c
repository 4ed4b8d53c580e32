#include "telemetry/pairs.h"

#include <string.h>

#include "telemetry/parse.h"

static bool judge(enum parse_verdict verdict, enum damage_reason *why) {
    if (verdict == PARSE_OK)
        return true;
    *why = verdict == PARSE_RANGE ? DAMAGE_RANGE : DAMAGE_BAD_NUMBER;
    return false;
}

bool identity_parse(struct slice pairs, struct identity *id, enum damage_reason *why) {
    struct event event;
    memset(&event, 0, sizeof event);
    bool good = judge(parse_identity(pairs, &event), why);
    *id = event.id;
    return good;
}

bool boot_parse(struct slice pairs, struct boot *boot, enum damage_reason *why) {
    struct event event;
    memset(&event, 0, sizeof event);
    bool good = judge(parse_boot(pairs, &event), why);
    *boot = event.boot;
    return good;
}

bool air_parse(struct slice pairs, struct air_sweep *air, enum damage_reason *why) {
    struct event event;
    memset(&event, 0, sizeof event);
    bool good = judge(parse_air(pairs, &event), why);
    *air = event.air;
    return good;
}
