#include <math.h>
#include <stdio.h>

#include "base/printable.h"
#include "radio/chip.h"
#include "radio/limits.h"
#include "text/budget_text.h"

struct out {
    const struct budget_inputs *in;
    const struct budget *b;
    const struct budget_facts *facts;
    struct say to;
};

/* A length with three figures at least, in m or km. */
struct words {
    char at[32];
};

static struct words length(double m) {
    struct words w;
    if (m >= 10000)
        snprintf(w.at, sizeof w.at, "%.0f km", m / 1000);
    else if (m >= 1000)
        snprintf(w.at, sizeof w.at, "%.1f km", m / 1000);
    else
        snprintf(w.at, sizeof w.at, m >= 100 ? "%.0f m" : m >= 10 ? "%.1f m" : "%.2f m", m);
    return w;
}

static void text_band(const struct out *o) {
    if (o->b->in_band)
        return;
    bool carrier_in = band_holds(o->in->mhz, 0);
    say(&o->to, "CAUTION   %g MHz %s 2400 to 2483.5 MHz, the band\n", o->in->mhz,
        carrier_in ? "is so near the edge that its signal leaves" : "lies outside");
    say(&o->to,
        "          that is open to such links. Computed all the same; don't send there.\n\n");
}

static void text_inputs(const struct out *o) {
    const struct budget_inputs *in = o->in;
    const struct budget_from *from = &o->facts->from;
    say(&o->to, "What goes in\n");
    say(&o->to, "  carrier     %g MHz, %u kbit/s%s\n", in->mhz, in->kbps,
        from->mhz == BUDGET_TOLD && from->kbps == BUDGET_TOLD ? ", by the walk's id line"
        : from->mhz == BUDGET_TOLD  ? "; the carrier by the walk's id line"
        : from->kbps == BUDGET_TOLD ? "; the rate by the walk's id line"
                                    : "");
    say(&o->to, "  power       %g dBm", in->power_dbm);
    if (o->facts->step > 0)
        say(&o->to, ", step %u of %d of the chip (each within 4 dB)", o->facts->step, CHIP_STEPS);
    else if (in->amplified)
        say(&o->to, " from a module with amplifiers");
    say(&o->to, "\n  sensitivity %g dBm, %s\n", in->sensitivity_dbm,
        from->sensitivity == BUDGET_GIVEN ? "as given"
        : !in->amplified                  ? "typical of the chip at this rate"
        : in->kbps == 250                 ? "typical of a module with amplifiers"
                                          : "assumed: 2 dB better than the chip, as at 250 kbit/s");
    say(&o->to, "  antennas    %g dBi at the transmitter, %g dBi at the receiver\n",
        in->tx_gain_dbi, in->rx_gain_dbi);
    say(&o->to, "  heights     %g m and %g m above the ground or the water\n", in->tx_height_m,
        in->rx_height_m);
    say(&o->to, "  losses      cables %g and %g dB; hand, body and hull %g dB\n", in->tx_cable_db,
        in->rx_cable_db, in->body_db);
    say(&o->to, "  packet      %u bytes, address %u, CRC %u, %s\n\n", in->payload_bytes,
        in->address_bytes, in->crc_bytes, in->acknowledged ? "acknowledged" : "no acknowledgement");
}

static void text_turn(const struct out *o) {
    const struct budget *b = o->b;
    if (o->in->polarisation_deg < 0)
        say(&o->to, "  antennas    circular to linear: %.1f dB\n", b->polarisation_used_db);
    else if (isinf(b->polarisation_db))
        say(&o->to,
            "  antennas    crossed, 90 degrees: infinite by theory; 20 to 30 dB in practice,\n"
            "              %.0f dB are taken\n",
            b->polarisation_used_db);
    else
        say(&o->to, "  antennas    turned by %g degrees: %.1f dB%s\n", o->in->polarisation_deg,
            b->polarisation_used_db,
            b->polarisation_db > b->polarisation_used_db ? ", as much as it gets in practice" : "");
    if (o->in->obstacle_known)
        say(&o->to, "  edge        half-way, %g m %s the line of sight: %.1f dB\n",
            fabs(o->in->obstacle_m), o->in->obstacle_m < 0 ? "below" : "above", b->obstacle_db);
}

static void text_way(const struct out *o) {
    const struct budget *b = o->b;
    say(&o->to, "On the way, %s\n", length(o->in->distance_m).at);
    say(&o->to, "  free space  %.1f dB (by the rounded constant of ITU-R P.525 %.1f dB)\n",
        b->free_space_db, b->free_space_p525_db);
    say(&o->to, "  two-ray     %.1f dB, with the reflection off flat ground or water\n",
        b->two_ray_db);
    say(&o->to,
        "              beyond %s (4 h1 h2 / wavelength) doubling the way costs 12 dB, not 6;\n",
        length(b->breakpoint_m).at);
    say(&o->to, "              nearer, the signal goes up and down with deep holes\n");
    say(&o->to, "  Fresnel     zone radius %.2f m half-way; 0.6 of it, %.2f m, should be free\n",
        b->fresnel_radius_m, b->fresnel_needed_m);
    say(&o->to, "              over flat ground %.2f m are: %s, good as far as %s\n",
        b->line_height_m, b->fresnel_clear ? "enough" : "too little",
        length(b->fresnel_clear_to_m).at);
    text_turn(o);
    if (b->beyond_breakpoint)
        say(&o->to, "  taken       %.1f dB: the worse of free space and two-ray\n\n", b->plan_db);
    else
        say(&o->to, "  taken       %.1f dB: free space, this being nearer than %s\n\n", b->plan_db,
            length(b->breakpoint_m).at);
}

static void text_arrival(const struct out *o) {
    const struct budget *b = o->b;
    say(&o->to, "What arrives\n");
    say(&o->to, "  level       %.1f dBm; the chip's one-bit carrier detector (%d dBm) %s it\n",
        b->received_dbm, CHIP_CARRIER_DBM, b->carrier_seen ? "sees" : "misses");
    say(&o->to, "  in hand     %.1f dB over the sensitivity (in free space %.1f dB)%s\n\n",
        b->margin_db, b->margin_free_space_db, b->margin_db < 0 ? ": no link" : "");
    say(&o->to, "How far\n");
    if (b->range_m < 1)
        say(&o->to, "  %g dB in hand: nowhere, not even at 1 m\n", o->in->margin_db);
    else {
        say(&o->to, "  %g dB in hand as far as %s near the ground", o->in->margin_db,
            length(b->range_m).at);
        say(&o->to, ", %s in free space\n", length(b->range_free_space_m).at);
    }
    say(&o->to, "  That is paper: a range walk tells. Plan with a part of what was walked.\n\n");
}

static void text_limit(const struct out *o, bool over, const char *name, const char *values) {
    say(&o->to, "  %-11s %s: %s\n", name, values, over ? "MAY EXCEED IT" : "below it");
}

static void text_radiated(const struct out *o) {
    const struct budget *b = o->b;
    char values[80];
    say(&o->to, "What is radiated\n");
    say(&o->to, "  e.i.r.p.    %.2f dBm (%.3g mW), %.2f dBm in 1 MHz\n", b->eirp_dbm, b->eirp_mw,
        b->density_dbm_mhz);
    snprintf(values, sizeof values, "%.0f dBm e.i.r.p. (EN 300 328)", LIMITS_EU_EIRP_DBM);
    text_limit(o, b->over_eu_eirp, "Europe", values);
    snprintf(values, sizeof values, "%.0f dBm in 1 MHz (EN 300 328)", LIMITS_EU_DENSITY_DBM_MHZ);
    text_limit(o, b->over_eu_density, "", values);
    if (b->utilisation >= 0 && b->eirp_dbm > LIMITS_EU_DENSITY_DBM_MHZ) {
        snprintf(values, sizeof values, "10 %% of the medium (EN 300 328), here %.1f %%",
                 100 * b->utilisation);
        text_limit(o, b->over_eu_utilisation, "", values);
    }
    say(&o->to,
        "              these hold for wideband data transmission; above 10 dBm it must also\n"
        "              share the band as that standard says\n");
    snprintf(values, sizeof values, "else %.0f dBm e.i.r.p. (EN 300 440, ERC/REC 70-03 annex 1)",
             LIMITS_EU_SHORT_RANGE_DBM);
    text_limit(o, b->eirp_dbm > LIMITS_EU_SHORT_RANGE_DBM, "", values);
    snprintf(values, sizeof values, "%.1f dBm into this antenna (47 CFR 15.247)", b->power_us_dbm);
    text_limit(o, b->over_us, "USA", values);
    say(&o->to,
        "              only 500 kHz wide or more (6 dB), at most 8 dBm in 3 kHz; or hopping\n"
        "              over 75 channels, or over 15 with 21 dBm\n");
    snprintf(values, sizeof values, "else %.0f mV/m at 3 m (47 CFR 15.249), here %.0f",
             1000 * LIMITS_US_FIELD_V_M, 1000 * b->field_v_m);
    text_limit(o, b->field_v_m > LIMITS_US_FIELD_V_M, "", values);
    if (b->over_eu_eirp || b->over_eu_density)
        say(&o->to, "  to be under both European limits the radio may give %.2f dBm at most\n",
            b->power_eu_dbm);
    say(&o->to, "  Limits as they are commonly cited, no permission. Stricter ones may apply:\n"
                "  local law comes first, check your local rules.\n");
    say(&o->to, "  Antennas on before power; strong modules never nearer than 0.3 m.\n\n");
}

static void text_packets(const struct out *o) {
    const struct budget *b = o->b;
    say(&o->to, "Packets\n");
    say(&o->to, "  on the air  %.1f us each", b->air_us);
    if (o->in->acknowledged)
        say(&o->to, ", the acknowledgement %.1f us", b->ack_us);
    say(&o->to, "\n  at most     %.0f a second: %.0f us each with upload (8 Mbit/s) and settling\n",
        b->packets_hz, b->cycle_us);
    if (b->duty >= 0)
        say(&o->to, "  at %g a second the air is taken %.1f %% of the time%s\n", o->in->rate_hz,
            100 * b->duty, b->rate_too_high ? ": more than the radio can send" : "");
    say(&o->to, "  Wi-Fi       ");
    if (b->wifi_count == 0)
        say(&o->to, "stands in no channel 1 to 13");
    else
        say(&o->to, "stands in channel%s", b->wifi_count == 1 ? "" : "s");
    for (int i = 0; i < b->wifi_count; i++)
        say(&o->to, "%s %d", i > 0 ? "," : "", b->wifi[i]);
    say(&o->to, " (20 MHz wide)\n");
}

static void text_eaters(const struct out *o, double db) {
    if (db < -MISSING_WORTH_DB) {
        say(&o->to, "  is an input wrong? Power, heights and sensitivity are the usual ones\n");
        return;
    }
    if (db < MISSING_WORTH_DB) {
        say(&o->to, "  paper and field agree as well as chips, antennas and ground are known\n");
        return;
    }
    say(&o->to, "  what usually eats decibels, alone or together:\n");
    for (size_t i = 0; i < missing_eater_count; i++) {
        const struct missing_eater *e = &missing_eaters[i];
        if (missing_may_be(e, db, o->in->amplified))
            say(&o->to, "  %2.0f to %2.0f dB %s:\n              %s\n", e->low_db, e->high_db,
                e->what, e->check);
    }
}

static void say_missing(const struct out *o, const struct missing *m) {
    if (m->db < 0)
        say(&o->to,
            "  missing     nothing: the field does %.1f dB better than paper near the ground\n",
            -m->db);
    else
        say(&o->to, "  missing     %s%.1f dB near the ground, %.1f dB by free space\n",
            m->at_most ? "at most " : "", m->db, m->free_space_db);
}

static void say_walked_range(const struct out *o, const struct budget_walk *w) {
    const struct reach *r = &w->reach;
    double limit = 100 * r->loss_limit;
    if (w->known == MISSING_INTERVAL)
        say(&o->to, "  walked      %g %% were lost at %s (95 %%: %s to %s)\n", limit,
            length(r->m).at, length(r->low_m).at, length(r->high_m).at);
    else
        say(&o->to, "  walked      no distance for %g %% loss: %s\n", limit,
            reach_word(r->verdict));
    if (w->known == MISSING_BETWEEN || w->known == MISSING_AT_MOST)
        say(&o->to, "              at least %s%s\n", length(r->at_least_m).at,
            r->at_least_m >= r->farthest_m ? ", as far as you walked" : "");
    if (w->known == MISSING_BETWEEN || w->known == MISSING_AT_LEAST)
        say(&o->to, "              at most %s\n", length(r->at_most_m).at);
}

static void say_missing_range(const struct out *o, const struct budget_walk *w) {
    const struct missing *m = &w->range;
    say(&o->to, "  missing     ");
    if (w->known == MISSING_INTERVAL)
        say(&o->to, "%.1f dB near the ground (%.1f to %.1f), %.1f dB by free space%s\n", m->db,
            m->low_db, m->high_db, m->free_space_db,
            m->db < 0 ? ": the field does better than paper" : "");
    else if (w->known == MISSING_BETWEEN)
        say(&o->to, "%.1f to %.1f dB near the ground\n", m->low_db, m->high_db);
    else if (w->known == MISSING_AT_MOST)
        say(&o->to, "%.1f dB near the ground at most: farther out it may go on well\n", m->db);
    else if (w->known == MISSING_AT_LEAST)
        say(&o->to, "%.1f dB near the ground at least: nearer by it may be bad as well\n", m->db);
    else
        say(&o->to, "can't tell: %s\n", reach_reason(w->reach.verdict));
}

static void say_walk(const struct out *o, const struct budget_walk *w) {
    const struct missing *m = &w->level;
    char name[200];
    say(&o->to, "  walk        %s, %u stops\n", printable(name, sizeof name, w->file),
        w->reach.stops);
    if (w->reach.stops == 0)
        say(&o->to, "              it has none: stops are marks, or --switch CH finds them\n");
    if (w->step > 0 && w->step != o->facts->step)
        say(&o->to,
            "  CAUTION     it was walked at power step %u: --step %u gives paper the same power\n",
            w->step, w->step);
    say_walked_range(o, w);
    say_missing_range(o, w);
    if (w->level_stops == 0)
        return;
    say(&o->to, "  level       at %u stop%s %.1f dB below paper near the ground (%.1f to %.1f)\n",
        w->level_stops, w->level_stops == 1 ? "" : "s", m->db, m->low_db, m->high_db);
}

/* What is surely missing by the walk; negative where that can't be told. */
static bool walk_tells(const struct budget_walk *w, double *db) {
    bool range = w->known == MISSING_INTERVAL || w->known == MISSING_AT_LEAST;
    bool small = w->known == MISSING_AT_MOST && w->range.db < MISSING_WORTH_DB;
    *db = -INFINITY;
    if (range || small)
        *db = w->range.db;
    if (w->known == MISSING_BETWEEN)
        *db = (w->range.low_db + w->range.high_db) / 2;
    if (w->level_stops > 0)
        *db = fmax(*db, w->level.db);
    return isfinite(*db);
}

bool budget_surely_missing(const struct budget_facts *f, double *db) {
    double by_walk;
    *db = -INFINITY;
    if (f->by_range)
        *db = f->by_range->db;
    if (f->by_level)
        *db = fmax(*db, f->by_level->db);
    if (f->walk && walk_tells(f->walk, &by_walk))
        *db = fmax(*db, by_walk);
    return isfinite(*db);
}

static void text_field(const struct out *o) {
    const struct budget_facts *f = o->facts;
    double missing;
    if (!f->by_range && !f->by_level && !f->walk)
        return;
    say(&o->to, "\nPaper against field\n");
    if (f->by_range) {
        say(&o->to, "  the link ended at %s, where paper has %.1f dB %s\n", length(f->walked_m).at,
            fabs(f->by_range->db), f->by_range->db < 0 ? "too little" : "in hand");
        say_missing(o, f->by_range);
    }
    if (f->by_level) {
        say(&o->to, "  %g dBm came over %s, where paper has %.1f dBm\n", f->level_dbm,
            length(o->in->distance_m).at, o->b->received_dbm);
        say_missing(o, f->by_level);
    }
    if (f->walk)
        say_walk(o, f->walk);
    if (budget_surely_missing(f, &missing))
        text_eaters(o, missing);
    else
        say(&o->to, "  whether so many are missing, a walk to where the link ends would tell\n");
}

void budget_text(const struct budget_inputs *in, const struct budget *b,
                 const struct budget_facts *facts, say_put *put, void *where) {
    struct out o = {in, b, facts, {put, where}};
    text_band(&o);
    text_inputs(&o);
    text_way(&o);
    text_arrival(&o);
    text_radiated(&o);
    text_packets(&o);
    text_field(&o);
}
