/* The link on paper: what goes in, what is lost on the way, what arrives, and what follows from it.
 */
#ifndef RADIO_BUDGET_H
#define RADIO_BUDGET_H

#include <stdbool.h>
#include <stdint.h>

#include "radio/band.h"

/* In place of an angle: one antenna is circular, the other linear. */
#define BUDGET_CIRCULAR (-1.0)

struct budget_inputs {
    double mhz;
    uint32_t kbps; /* chip_has_rate */
    bool amplified;
    double power_dbm;       /* at the radio's connector */
    double sensitivity_dbm; /* of the receiver */
    double tx_gain_dbi, rx_gain_dbi;
    double tx_cable_db, rx_cable_db;
    double body_db; /* hand, body, hull, at both ends together */
    double tx_height_m, rx_height_m;
    double distance_m;       /* along the ground */
    double polarisation_deg; /* between the antennas, 0..90, or BUDGET_CIRCULAR */
    bool obstacle_known;
    double obstacle_m; /* an edge at mid-path, above the line of sight (negative: below) */
    double margin_db;  /* wanted in hand */
    uint32_t payload_bytes, address_bytes, crc_bytes;
    bool acknowledged;
    double rate_hz; /* packets a second, 0 unknown */
};

/* What the commands take where nothing is said: a carrier in the middle of the band, the bare chip
 * at its longest-reaching rate and full power, half-wave dipoles, a hand-held transmitter and a
 * boat. */
void budget_defaults(struct budget_inputs *in);

struct budget {
    double wavelength_m;
    /* the way */
    double free_space_db, free_space_p525_db;
    double two_ray_db, two_ray_far_db;
    double breakpoint_m;
    bool beyond_breakpoint;
    double plan_db; /* path_plan_db */
    double fresnel_radius_m, fresnel_radius_p526_m;
    double fresnel_needed_m; /* 0.6 of the radius */
    double line_height_m;    /* of the line of sight at mid-path, over flat ground */
    bool fresnel_clear;
    double fresnel_clear_to_m; /* it would be, as far as that */
    double obstacle_db;        /* 0 without one */
    double polarisation_db;    /* by theory: INFINITY when crossed */
    double polarisation_used_db;
    /* what arrives */
    double received_db; /* all but the path, from the transmitter's power to the receiver's input */
    double received_dbm; /* by plan_db */
    double free_space_dbm, two_ray_dbm;
    double margin_db, margin_free_space_db, margin_two_ray_db;
    bool carrier_seen; /* the chip's one-bit detector would see received_dbm */
    /* how far for the wanted margin */
    double allowed_db; /* that the path may lose */
    double range_m;    /* by plan_db: the lower end */
    double range_free_space_m;
    /* what is radiated */
    double width_mhz, width_most_mhz;
    double eirp_dbm, eirp_mw, density_dbm_mhz, field_v_m; /* the field at 3 m */
    double power_eu_dbm;                                  /* within both limits of EN 300 328 */
    double power_us_dbm;
    bool over_eu_eirp, over_eu_density, over_us, over_eu_utilisation;
    bool in_band;
    /* packets */
    double air_us, ack_us, cycle_us, packets_hz;
    double duty, utilisation; /* share of time on the air, medium utilisation; negative unknown */
    bool rate_too_high;
    int wifi_count, wifi_wide_count; /* channels of 20 and of 22 MHz over the carrier */
    int wifi[WIFI_OVER_MAX], wifi_wide[WIFI_OVER_MAX];
};

void budget_work(struct budget *out, const struct budget_inputs *in);

/* The margin at another distance, all else equal: by free space and as planned (the lower one). */
struct budget_bracket {
    double free_space, plan;
};
struct budget_bracket budget_margin_db(const struct budget_inputs *in, double distance_m);

/* The distance for another margin, likewise; an edge costs what it
 * costs at distance_m. */
struct budget_bracket budget_range_m(const struct budget_inputs *in, double margin_db);

#endif
