#include "study/missing.h"

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

const struct missing_eater missing_eaters[] = {
    {3, 30, "antennas turned against each other, or end on", "turn one of them, upright both",
     false},
    {3, 15, "a hand, a body or the hull in the way", "hold the transmitter free, turn the model",
     false},
    {3, 10, "an antenna beside metal, a battery, carbon or wires", "give it a wavelength of room",
     false},
    {10, 30, "an antenna that is broken, loose, or for another band", "change it for a known one",
     false},
    {4, 20, "reeds, grass, waves or people between, or antennas too low", "raise one end", false},
    {3, 10, "a copied chip with less power or a poorer receiver", "change the module", false},
    {3, 15, "noise on the radio's supply", "a capacitor at the module, a supply of its own", false},
    {3, 20, "Wi-Fi or others on the carrier", "look at the band, move the carrier", false},
    {5, 20, "an amplified module that gets too little current", "measure its supply as it sends",
     true},
};
const size_t missing_eater_count = sizeof missing_eaters / sizeof *missing_eaters;

bool missing_may_be(const struct missing_eater *eater, double db, bool amplified) {
    return (amplified || !eater->amplified) && db >= MISSING_WORTH_DB && eater->low_db <= db;
}
