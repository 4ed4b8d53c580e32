#include <jansson.h>
#include <math.h>
#include <stddef.h>
#include <string.h>

#include "radio/chip.h"
#include "radio/limits.h"
#include "json/json.h"
#include "json/json_text.h"

struct number {
    const char *key;
    size_t offset; /* of a double in struct budget_inputs or struct budget */
};

#define IN(key, member)                                                                            \
    { key, offsetof(struct budget_inputs, member) }
#define OUT(key, member)                                                                           \
    { key, offsetof(struct budget, member) }

static const struct number inputs[] = {
    IN("mhz", mhz),
    IN("power_dbm", power_dbm),
    IN("sensitivity_dbm", sensitivity_dbm),
    IN("tx_gain_dbi", tx_gain_dbi),
    IN("rx_gain_dbi", rx_gain_dbi),
    IN("tx_cable_db", tx_cable_db),
    IN("rx_cable_db", rx_cable_db),
    IN("body_db", body_db),
    IN("tx_height_m", tx_height_m),
    IN("rx_height_m", rx_height_m),
    IN("distance_m", distance_m),
    IN("margin_wanted_db", margin_db),
};

static const struct number results[] = {
    OUT("wavelength_m", wavelength_m),
    OUT("free_space_db", free_space_db),
    OUT("free_space_p525_db", free_space_p525_db),
    OUT("two_ray_db", two_ray_db),
    OUT("two_ray_far_db", two_ray_far_db),
    OUT("two_ray_breakpoint_m", breakpoint_m),
    OUT("path_db", plan_db),
    OUT("fresnel_radius_m", fresnel_radius_m),
    OUT("fresnel_radius_p526_m", fresnel_radius_p526_m),
    OUT("fresnel_needed_m", fresnel_needed_m),
    OUT("fresnel_height_m", line_height_m),
    OUT("fresnel_clear_to_m", fresnel_clear_to_m),
    OUT("edge_db", obstacle_db),
    OUT("polarisation_used_db", polarisation_used_db),
    OUT("received_dbm", received_dbm),
    OUT("received_free_space_dbm", free_space_dbm),
    OUT("received_two_ray_dbm", two_ray_dbm),
    OUT("margin_db", margin_db),
    OUT("margin_free_space_db", margin_free_space_db),
    OUT("margin_two_ray_db", margin_two_ray_db),
    OUT("path_allowed_db", allowed_db),
    OUT("range_m", range_m),
    OUT("range_free_space_m", range_free_space_m),
    OUT("width_mhz", width_mhz),
    OUT("width_most_mhz", width_most_mhz),
    OUT("eirp_dbm", eirp_dbm),
    OUT("eirp_mw", eirp_mw),
    OUT("density_dbm_mhz", density_dbm_mhz),
    OUT("field_3m_v_m", field_v_m),
    OUT("power_within_eu_dbm", power_eu_dbm),
    OUT("power_within_us_dbm", power_us_dbm),
    OUT("air_time_us", air_us),
    OUT("ack_time_us", ack_us),
    OUT("cycle_us", cycle_us),
    OUT("packets_hz", packets_hz),
};

/* Which of several forms in use a figure has. */
static const struct {
    const char *key, *form;
} conventions[] = {
    {"free_space_db", "(4 pi d / wavelength)^2, c = 299792458 m/s: constant 32.44778"},
    {"free_space_p525_db", "ITU-R P.525, constant rounded to 32.4"},
    {"two_ray_db", "sum of both rays, reflection -1, isotropic antennas"},
    {"two_ray_far_db", "40 log d - 20 log h1 - 20 log h2"},
    {"two_ray_breakpoint_m", "4 h1 h2 / wavelength (ITU-R P.1411)"},
    {"path_db", "free space to the breakpoint, the worse of free space and two-ray beyond"},
    {"fresnel_radius_m", "sqrt(wavelength d1 d2 / (d1 + d2)), half-way"},
    {"fresnel_radius_p526_m", "ITU-R P.526, constant rounded to 550"},
    {"fresnel_needed_m", "0.6 of fresnel_radius_m"},
    {"edge_db", "ITU-R P.526, one knife edge half-way"},
    {"polarisation_db", "-20 log |cos angle|"},
    {"polarisation_used_db", "at most 30 dB, as in practice"},
    {"missing_db", "margin over path_db at walked_m"},
    {"range_m", "path_db is path_allowed_db"},
    {"sensitivity_dbm", "0.1 % bit errors"},
    {"width_mhz", "20 dB down, typical"},
    {"density_dbm_mhz", "whole within 1 MHz, or spread evenly over width_mhz"},
    {"cycle_us", "upload at 8 Mbit/s, settling, air time, acknowledgement, interrupt"},
    {"wifi_channels", "carrier within 10 MHz of the centre of channels 1 to 13"},
    {"wifi_channels_22_mhz", "within 11 MHz"},
};

static void put_numbers(json_t *root, const struct number *list, size_t count, const void *of) {
    for (size_t i = 0; i < count; i++) {
        double value;
        memcpy(&value, (const char *)of + list[i].offset, sizeof value);
        json_object_set_new(root, list[i].key, json_real(value));
    }
}

struct document {
    json_t *root, *because;
};

/* A number, or null with the reason. */
static void put_if(struct document *d, const char *key, bool known, double value, const char *why) {
    json_object_set_new(d->root, key, known ? json_real(value) : json_null());
    if (!known)
        json_object_set_new(d->because, key, json_string(why));
}

static void put_count(struct document *d, const char *key, uint32_t value) {
    json_object_set_new(d->root, key, json_integer(value));
}

static void put_bool(struct document *d, const char *key, bool value) {
    json_object_set_new(d->root, key, json_boolean(value));
}

static void put_inputs(struct document *d, const struct budget_inputs *in,
                       const struct budget_facts *facts) {
    put_numbers(d->root, inputs, sizeof inputs / sizeof *inputs, in);
    put_count(d, "kbps", in->kbps);
    put_bool(d, "amplified", in->amplified);
    put_if(d, "step", facts->step > 0, facts->step, "not given");
    if (facts->step > 0)
        put_count(d, "step", facts->step);
    put_bool(d, "sensitivity_given", facts->from.sensitivity == BUDGET_GIVEN);
    bool circular = in->polarisation_deg < 0;
    put_if(d, "polarisation_deg", !circular, in->polarisation_deg, "circular");
    put_if(d, "edge_m", in->obstacle_known, in->obstacle_m, "not given");
    put_count(d, "payload_bytes", in->payload_bytes);
    put_count(d, "address_bytes", in->address_bytes);
    put_count(d, "crc_bytes", in->crc_bytes);
    put_bool(d, "ack", in->acknowledged);
    put_if(d, "rate_hz", in->rate_hz > 0, in->rate_hz, "not given");
}

static void put_wifi(struct document *d, const char *key, const int *channel, int count) {
    json_t *list = json_array();
    for (int i = 0; i < count; i++)
        json_array_append_new(list, json_integer(channel[i]));
    json_object_set_new(d->root, key, list);
}

static void put_results(struct document *d, const struct budget *b) {
    put_numbers(d->root, results, sizeof results / sizeof *results, b);
    put_if(d, "polarisation_db", !isinf(b->polarisation_db), b->polarisation_db, "infinite");
    put_bool(d, "fresnel_clear", b->fresnel_clear);
    put_bool(d, "carrier_seen", b->carrier_seen);
    put_bool(d, "in_band", b->in_band);
    put_bool(d, "may_exceed_eu_eirp", b->over_eu_eirp);
    put_bool(d, "may_exceed_eu_density", b->over_eu_density);
    put_bool(d, "may_exceed_us", b->over_us);
    put_bool(d, "may_exceed_eu_short_range", b->eirp_dbm > LIMITS_EU_SHORT_RANGE_DBM);
    put_bool(d, "may_exceed_us_field", b->field_v_m > LIMITS_US_FIELD_V_M);
    put_if(d, "duty", b->duty >= 0, b->duty, "rate");
    put_if(d, "utilisation", b->utilisation >= 0, b->utilisation, "rate");
    put_wifi(d, "wifi_channels", b->wifi, b->wifi_count);
    put_wifi(d, "wifi_channels_22_mhz", b->wifi_wide, b->wifi_wide_count);
}

static void put_missing(struct document *d, const struct budget_facts *facts) {
    static const struct missing none;
    static const char why[] = "not given";
    const struct missing *r = facts->by_range ? facts->by_range : &none;
    const struct missing *l = facts->by_level ? facts->by_level : &none;
    put_if(d, "walked_m", facts->by_range, facts->walked_m, why);
    put_if(d, "missing_db", facts->by_range, r->db, why);
    put_if(d, "missing_free_space_db", facts->by_range, r->free_space_db, why);
    put_if(d, "level_dbm", facts->by_level, facts->level_dbm, why);
    put_if(d, "missing_level_db", facts->by_level, l->db, why);
    put_if(d, "missing_level_free_space_db", facts->by_level, l->free_space_db, why);
}

static void put_walk_range(struct document *d, const struct budget_walk *w) {
    const struct reach *r = &w->reach;
    bool closed = r->verdict == REACH_CLOSED;
    const char *why = reach_word(r->verdict);
    put_if(d, "walk_m", closed, r->m, why);
    put_if(d, "walk_low_m", closed, r->low_m, why);
    put_if(d, "walk_high_m", closed, r->high_m, why);
    put_if(d, "walk_at_least_m", r->at_least_m > 0, r->at_least_m, "not shown");
    put_if(d, "walk_at_most_m", isfinite(r->at_most_m), r->at_most_m, "not shown");
}

static void put_walk_missing(struct document *d, const struct budget_walk *w) {
    static const bool low[] = {
        [MISSING_INTERVAL] = true, [MISSING_BETWEEN] = true, [MISSING_AT_LEAST] = true};
    static const bool high[] = {
        [MISSING_INTERVAL] = true, [MISSING_BETWEEN] = true, [MISSING_AT_MOST] = true};
    bool has_low = w->known < sizeof low && low[w->known];
    bool has_high = w->known < sizeof high && high[w->known];
    const char *why = reach_word(w->reach.verdict);
    put_if(d, "walk_missing_db", w->known == MISSING_INTERVAL, w->range.db, why);
    put_if(d, "walk_missing_low_db", has_low, w->range.low_db, why);
    put_if(d, "walk_missing_high_db", has_high, w->range.high_db, why);
    put_if(d, "walk_level_missing_db", w->level_stops > 0, w->level.db, "rssi");
    put_if(d, "walk_level_missing_low_db", w->level_stops > 0, w->level.low_db, "rssi");
    put_if(d, "walk_level_missing_high_db", w->level_stops > 0, w->level.high_db, "rssi");
}

/* Only where a walk was given: its keys aren't there otherwise. */
static void put_walk(struct document *d, const struct budget_walk *w) {
    json_t *name = json_string(w->file);
    json_object_set_new(d->root, "walk_file", name ? name : json_null());
    json_object_set_new(d->root, "walk_verdict", json_string(reach_word(w->reach.verdict)));
    json_object_set_new(d->root, "walk_loss_limit", json_real(w->reach.loss_limit));
    put_count(d, "walk_stops", w->reach.stops);
    put_count(d, "walk_level_stops", w->level_stops);
    put_if(d, "walk_step", w->step > 0, w->step, "tstep");
    if (w->step > 0)
        put_count(d, "walk_step", w->step);
    put_walk_range(d, w);
    put_walk_missing(d, w);
}

char *budget_json(const struct budget_inputs *in, const struct budget *b,
                  const struct budget_facts *facts) {
    struct document d = {json_object(), json_object()};
    json_object_set_new(d.root, "format", json_string("airleash-budget-1"));
    put_inputs(&d, in, facts);
    put_results(&d, b);
    put_missing(&d, facts);
    if (facts->walk)
        put_walk(&d, facts->walk);
    json_t *forms = json_object();
    for (size_t i = 0; i < sizeof conventions / sizeof *conventions; i++)
        json_object_set_new(forms, conventions[i].key, json_string(conventions[i].form));
    json_object_set_new(d.root, "conventions", forms);
    json_object_set_new(d.root, "eu_eirp_limit_dbm", json_real(LIMITS_EU_EIRP_DBM));
    json_object_set_new(d.root, "eu_density_limit_dbm_mhz", json_real(LIMITS_EU_DENSITY_DBM_MHZ));
    json_object_set_new(d.root, "eu_short_range_limit_dbm", json_real(LIMITS_EU_SHORT_RANGE_DBM));
    json_object_set_new(d.root, "us_field_limit_v_m", json_real(LIMITS_US_FIELD_V_M));
    json_object_set_new(d.root, "caution",
                        json_string("limits as commonly cited, each under its own conditions, no "
                                    "permission; stricter ones may apply: local law comes first"));
    json_object_set_new(d.root, "unknown_because", d.because);
    return json_text(d.root, 12);
}
