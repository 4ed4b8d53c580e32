#include "study/missing.h"

#include <math.h>
#include <string.h>

void missing_by_range(struct missing *out, const struct budget_inputs *in, double range_m,
                      double low_m, double high_m, bool at_least) {
    struct budget_bracket margin = budget_margin_db(in, range_m);
    *out = (struct missing){
        .db = margin.plan,
        .free_space_db = margin.free_space,
        .low_db = budget_margin_db(in, high_m).plan, /* it reached farther: less is missing */
        .high_db = budget_margin_db(in, low_m).plan,
        .at_most = at_least,
    };
}

void missing_by_level(struct missing *out, const struct budget_inputs *in, double distance_m,
                      double dbm) {
    struct budget_bracket margin = budget_margin_db(in, distance_m);
    double measured = dbm - in->sensitivity_dbm;
    double db = margin.plan - measured;
    *out = (struct missing){db, margin.free_space - measured, db, db, false};
}

enum missing_known missing_by_walk(struct missing *out, const struct budget_inputs *in,
                                   const struct reach *r) {
    bool least = r->at_least_m > 0, most = isfinite(r->at_most_m);
    if (r->verdict == REACH_CLOSED) {
        missing_by_range(out, in, r->m, r->low_m, r->high_m, false);
        return MISSING_INTERVAL;
    }
    if (least) {
        double high_m = most ? r->at_most_m : r->at_least_m;
        missing_by_range(out, in, r->at_least_m, r->at_least_m, high_m, true);
        return most ? MISSING_BETWEEN : MISSING_AT_MOST;
    }
    if (!most)
        return MISSING_NOTHING_TOLD;
    missing_by_range(out, in, r->at_most_m, r->at_most_m, r->at_most_m, false);
    return MISSING_AT_LEAST;
}

static bool tells_level(const struct walk_stop *s, const struct reach *r) {
    double packets = (double)(s->got + s->lost);
    return s->rssi.count > 0 && s->distance_m > 0 && !s->died && s->counted && s->got > 0 &&
           (double)s->lost < r->loss_limit * packets && strcmp(s->facing, r->facing) == 0 &&
           s->step_known == r->step_known && (!r->step_known || s->step == r->step);
}

uint32_t missing_by_stops(struct missing *out, const struct budget_inputs *in,
                          const struct walk_stop *stops, uint32_t count, const struct reach *r) {
    struct missing sum = {.low_db = INFINITY, .high_db = -INFINITY}, one;
    uint32_t told = 0;
    for (uint32_t i = 0; i < count; i++) {
        if (!tells_level(&stops[i], r))
            continue;
        missing_by_level(&one, in, stops[i].distance_m, stops[i].rssi.mean);
        sum.db += one.db;
        sum.free_space_db += one.free_space_db;
        sum.low_db = fmin(sum.low_db, one.db);
        sum.high_db = fmax(sum.high_db, one.db);
        told++;
    }
    if (told == 0)
        return 0;
    sum.db /= told;
    sum.free_space_db /= told;
    *out = sum;
    return told;
}

const struct missing_eater missing_eaters[] = {
    {3, 30, "antennas turned against each other, or end on", "turn one of them, upright both",
     false},
    {3, 15, "a hand, a body or the hull in the way", "hold the transmitter free, turn the model",
     false},
    {3, 10, "an antenna beside metal, a battery, carbon or wires", "give it a wavelength of room",
     false},
    {10, 30, "an antenna that is broken, loose, or for another band",
     "power off: change it for a known one", false},
    {4, 20, "reeds, grass, waves or people between, or antennas too low", "raise one end", false},
    {3, 10, "a copied chip with less power or a poorer receiver", "power off: change the module",
     false},
    {3, 15, "noise on the radio's supply",
     "10 to 100 uF at the module (polarity, 6.3 V or more), a supply of its own", false},
    {3, 20, "Wi-Fi or others on the carrier", "look at the band, move the carrier", false},
    {5, 20, "an amplified module that gets too little current", "measure its supply as it sends",
     true},
};
const size_t missing_eater_count = sizeof missing_eaters / sizeof *missing_eaters;

bool missing_may_be(const struct missing_eater *eater, double db, bool amplified) {
    return (amplified || !eater->amplified) && db >= MISSING_WORTH_DB && eater->low_db <= db;
}
