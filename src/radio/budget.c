#include "radio/budget.h"

#include <math.h>

#include "radio/chip.h"
#include "radio/decibel.h"
#include "radio/fresnel.h"
#include "radio/limits.h"
#include "radio/path.h"
#include "radio/polarisation.h"

void budget_defaults(struct budget_inputs *in) {
    *in = (struct budget_inputs){
        .mhz = 2440,
        .kbps = 250,
        .power_dbm = chip_step_dbm(CHIP_STEPS),
        .sensitivity_dbm = chip_sensitivity_dbm(250, false),
        .tx_gain_dbi = radio_dbi(0),
        .rx_gain_dbi = radio_dbi(0),
        .tx_height_m = 1.3,
        .rx_height_m = 0.5,
        .distance_m = 100,
        .margin_db = 10,
        .payload_bytes = CHIP_PAYLOAD_MAX,
        .address_bytes = 5,
        .crc_bytes = 2,
    };
}

static double polarisation_used_db(const struct budget_inputs *in) {
    return in->polarisation_deg < 0 ? polarisation_circular_db()
                                    : polarisation_practice_db(in->polarisation_deg);
}

static double obstacle_db(const struct budget_inputs *in, double distance_m) {
    if (!in->obstacle_known)
        return 0;
    double half = distance_m / 2;
    return fresnel_edge_db(fresnel_edge_v(in->mhz, in->obstacle_m, half, half));
}

/* Everything but the path: gains count up, losses down. */
static double fixed_db(const struct budget_inputs *in) {
    return in->tx_gain_dbi + in->rx_gain_dbi - in->tx_cable_db - in->rx_cable_db - in->body_db -
           polarisation_used_db(in) - obstacle_db(in, in->distance_m);
}

static double allowed_db(const struct budget_inputs *in, double margin_db) {
    return in->power_dbm + fixed_db(in) - in->sensitivity_dbm - margin_db;
}

struct budget_bracket budget_margin_db(const struct budget_inputs *in, double distance_m) {
    double allowed = allowed_db(in, 0);
    return (struct budget_bracket){
        allowed - path_free_space_db(in->mhz, distance_m),
        allowed - path_plan_db(in->mhz, distance_m, in->tx_height_m, in->rx_height_m),
    };
}

struct budget_bracket budget_range_m(const struct budget_inputs *in, double margin_db) {
    double allowed = allowed_db(in, margin_db);
    return (struct budget_bracket){
        path_free_space_m(in->mhz, allowed),
        path_plan_m(in->mhz, allowed, in->tx_height_m, in->rx_height_m),
    };
}

static void work_path(struct budget *b, const struct budget_inputs *in) {
    double h1 = in->tx_height_m, h2 = in->rx_height_m, m = in->distance_m;
    b->wavelength_m = path_wavelength_m(in->mhz);
    b->free_space_db = path_free_space_db(in->mhz, m);
    b->free_space_p525_db = path_free_space_p525_db(in->mhz, m);
    b->two_ray_db = path_two_ray_db(in->mhz, m, h1, h2);
    b->two_ray_far_db = path_two_ray_far_db(m, h1, h2);
    b->breakpoint_m = path_breakpoint_m(in->mhz, h1, h2);
    b->beyond_breakpoint = m > b->breakpoint_m;
    b->plan_db = path_plan_db(in->mhz, m, h1, h2);
    b->fresnel_radius_m = fresnel_radius_m(in->mhz, m / 2, m / 2);
    b->fresnel_radius_p526_m = fresnel_radius_p526_m(in->mhz, m / 2, m / 2);
    b->fresnel_needed_m = FRESNEL_CLEAR * b->fresnel_radius_m;
    b->line_height_m = (h1 + h2) / 2;
    b->fresnel_clear = b->line_height_m >= b->fresnel_needed_m;
    b->fresnel_clear_to_m = fresnel_clear_m(in->mhz, h1, h2);
    b->obstacle_db = obstacle_db(in, m);
    b->polarisation_db = in->polarisation_deg < 0 ? polarisation_circular_db()
                                                  : polarisation_db(in->polarisation_deg);
    b->polarisation_used_db = polarisation_used_db(in);
}

static void work_arrival(struct budget *b, const struct budget_inputs *in) {
    b->received_db = fixed_db(in);
    b->free_space_dbm = in->power_dbm + b->received_db - b->free_space_db;
    b->two_ray_dbm = in->power_dbm + b->received_db - b->two_ray_db;
    b->received_dbm = in->power_dbm + b->received_db - b->plan_db;
    b->margin_db = b->received_dbm - in->sensitivity_dbm;
    b->margin_free_space_db = b->free_space_dbm - in->sensitivity_dbm;
    b->margin_two_ray_db = b->two_ray_dbm - in->sensitivity_dbm;
    b->carrier_seen = b->received_dbm > CHIP_CARRIER_DBM;
    b->allowed_db = allowed_db(in, in->margin_db);
    struct budget_bracket range = budget_range_m(in, in->margin_db);
    b->range_free_space_m = range.free_space;
    b->range_m = range.plan;
}

static void work_packets(struct budget *b, const struct budget_inputs *in) {
    struct chip_packet p = {in->kbps, in->payload_bytes, in->address_bytes, in->crc_bytes,
                            in->acknowledged};
    b->air_us = chip_air_us(&p);
    b->ack_us = chip_ack_us(&p);
    b->cycle_us = chip_cycle_us(&p);
    b->packets_hz = chip_packets_hz(&p);
    b->rate_too_high = in->rate_hz > b->packets_hz;
    b->duty = in->rate_hz > 0 ? fmin(in->rate_hz * b->air_us / 1e6, 1) : -1;
    b->wifi_count = wifi_over(b->wifi, in->mhz, WIFI_OFDM_HALF_MHZ);
    b->wifi_wide_count = wifi_over(b->wifi_wide, in->mhz, WIFI_DSSS_HALF_MHZ);
}

/* A limit that is met to the last decimal isn't exceeded by a rounding. */
static bool over(double value, double limit) {
    return value > limit + 1e-9;
}

static void work_radiated(struct budget *b, const struct budget_inputs *in) {
    b->width_mhz = chip_width_mhz(in->kbps);
    b->width_most_mhz = chip_width_most_mhz(in->kbps);
    b->eirp_dbm = limits_eirp_dbm(in->power_dbm, in->tx_cable_db, in->tx_gain_dbi);
    b->eirp_mw = radio_mw(b->eirp_dbm);
    b->density_dbm_mhz = limits_density_dbm_mhz(b->eirp_dbm, b->width_mhz);
    b->field_v_m = radio_field_v_m(b->eirp_dbm, 3);
    double by_density = LIMITS_EU_DENSITY_DBM_MHZ + b->eirp_dbm - b->density_dbm_mhz;
    b->power_eu_dbm =
        limits_power_dbm(fmin(LIMITS_EU_EIRP_DBM, by_density), in->tx_cable_db, in->tx_gain_dbi);
    /* Counted at the antenna: the cable before it takes its part. */
    b->power_us_dbm = limits_us_power_dbm(in->tx_gain_dbi, false) + in->tx_cable_db;
    b->over_eu_eirp = over(b->eirp_dbm, LIMITS_EU_EIRP_DBM);
    b->over_eu_density = over(b->density_dbm_mhz, LIMITS_EU_DENSITY_DBM_MHZ);
    b->over_us = over(in->power_dbm, b->power_us_dbm);
    b->utilisation = b->duty >= 0 ? limits_utilisation(b->eirp_dbm, b->duty) : -1;
    b->over_eu_utilisation = over(b->utilisation, LIMITS_EU_UTILISATION);
    b->in_band = band_holds(in->mhz, b->width_most_mhz);
}

void budget_work(struct budget *out, const struct budget_inputs *in) {
    *out = (struct budget){0};
    work_path(out, in);
    work_arrival(out, in);
    work_packets(out, in);
    work_radiated(out, in);
}
