#include "study/reduced.h"

#include <math.h>
#include <string.h>

#include "radio/chip.h"

static bool is_at(const struct walk_stop *s, uint32_t step) {
    return s->step_known && s->step == step && s->rssi.count > 0;
}

/* The mean over all pairs of stops that differ by the power alone; 0: no such pair. */
static double on_spot(const struct walk *w, uint32_t reduced, uint32_t full) {
    double sum = 0;
    uint32_t pairs = 0;
    for (uint32_t i = 0; i < w->count; i++)
        for (uint32_t k = 0; k < w->count; k++) {
            const struct walk_stop *low = &w->stop[i], *high = &w->stop[k];
            if (!is_at(low, reduced) || !is_at(high, full) || low->distance_m != high->distance_m ||
                strcmp(low->facing, high->facing) != 0)
                continue;
            sum += high->rssi.mean - low->rssi.mean;
            pairs++;
        }
    return pairs > 0 ? fmax(0, sum / pairs) : 0;
}

static enum reduced_kind find_db(const struct walk *w, const struct reach *r, uint32_t full_step,
                                 bool amplified, double *db) {
    if (!r->step_known || full_step == 0)
        return REDUCED_NO_STEP;
    if (r->step >= full_step)
        return REDUCED_NOT;
    *db = on_spot(w, r->step, full_step);
    if (*db > 0)
        return REDUCED_ON_SPOT;
    if (amplified)
        return REDUCED_AMPLIFIED;
    if (r->steps != CHIP_STEPS || r->step == 0 || full_step > CHIP_STEPS)
        return REDUCED_NO_DB;
    *db = chip_step_dbm(full_step) - chip_step_dbm(r->step);
    return REDUCED_BY_STEPS;
}

void reduced_find(const struct walk *w, const struct reach *r, uint32_t full_step, bool amplified,
                  double given_db, struct reduced *out) {
    *out = (struct reduced){.kind = REDUCED_GIVEN, .db = given_db};
    if (!(given_db > 0))
        out->kind = find_db(w, r, full_step, amplified, &out->db);
    if (!(out->db > 0))
        return;
    reach_full_power(r, out->db, &out->full);
    out->full_known = out->full.low_m > 0 || isfinite(out->full.high_m);
}
