/* Radio physics against standards, handbooks and the chip's specification; the source stands beside
 * each check.  "Computed" values were worked out from the formula in Python, apart from our code.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "radio/band.h"
#include "radio/budget.h"
#include "radio/chip.h"
#include "radio/decibel.h"
#include "radio/fresnel.h"
#include "radio/limits.h"
#include "radio/path.h"
#include "radio/polarisation.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))

static void near(const char *legend, double got, double expected, double tolerance) {
    if (!(fabs(got - expected) <= tolerance))
        fail_msg("%s: got %.15g, expected %.15g", legend, got, expected);
}

/* --- the path --------------------------------------------------------------------------------- */

/* ITU-R P.525: 32.4 + 20 log f + 20 log d in MHz and km, whose 32.4 is rounded; (4 pi d / lambda)^2
 * with the exact speed of light is 0.048 dB more. */
static void loses_by_free_space(void **state) {
    (void)state;
    static const struct {
        double m, rounded, exact;
    } rows[] = {{1000, 100.148, 100.1956},
                {100, 80.148, 80.1956},
                {10, 60.148, 60.1956},
                {1, 40.148, 40.1956}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        near("P.525", path_free_space_p525_db(2440, rows[i].m), rows[i].rounded, 0.001);
        near("exact", path_free_space_db(2440, rows[i].m), rows[i].exact, 0.001);
        near("back", path_free_space_m(2440, path_free_space_db(2440, rows[i].m)), rows[i].m,
             1e-9 * rows[i].m);
    }
    near("the constants", path_free_space_db(1, 1000), 32.44778, 0.00001);
    near("band edge, low", path_free_space_db(2400, 1000), 100.0520, 0.001);
    near("band edge, high", path_free_space_db(2483.5, 1000), 100.3491, 0.001);
}

/* Rappaport, Wireless Communications, 2nd ed., example 4.2: 50 W at 900 MHz, unity gains. */
static void follows_a_worked_example(void **state) {
    (void)state;
    near("50 W", radio_dbm(50000), 47.0, 0.05);
    near("at 100 m", radio_dbm(50000) - path_free_space_db(900, 100), -24.5, 0.05);
    near("at 10 km", radio_dbm(50000) - path_free_space_db(900, 10000), -64.5, 0.05);
    near("at 100 m, exact", radio_dbm(50000) - path_free_space_db(900, 100), -24.5429, 0.0001);
}

/* Phasor sum of both rays, reflection -1, isotropic antennas 1.5 m up, 2440 MHz: computed. */
static void adds_two_rays(void **state) {
    (void)state;
    static const struct {
        double m, db;
    } rows[] = {{10, 54.6633}, {50, 70.7044}, {100, 74.9684}, {500, 100.9921}, {1000, 112.9756}};
    for (size_t i = 0; i < COUNT(rows); i++)
        near("two-ray", path_two_ray_db(2440, rows[i].m, 1.5, 1.5), rows[i].db, 0.001);
    /* Textbooks: 40 log d - 20 log h1 - 20 log h2. */
    near("far", path_two_ray_far_db(500, 1.5, 1.5), 100.9151, 0.001);
    near("they meet", path_two_ray_db(2440, 20000, 1.5, 1.5), path_two_ray_far_db(20000, 1.5, 1.5),
         0.001);
    near("the other way round", path_two_ray_db(2440, 40, 0.4, 1.7),
         path_two_ray_db(2440, 40, 1.7, 0.4), 1e-9);
}

/* ITU-R P.1411: 4 h1 h2 / lambda; 4 pi h1 h2 / lambda and 20 h1 h2 / lambda are other books'. */
static void breaks_where_it_says(void **state) {
    (void)state;
    double b = path_breakpoint_m(2440, 1.5, 1.5);
    near("1.5 and 1.5 m", b, 73.25, 0.05);
    near("1.0 and 1.5 m", path_breakpoint_m(2440, 1, 1.5), 48.83, 0.01);
    near("4 pi", b * 3.14159265358979, 230.1, 0.05);
    near("20", b * 5, 366.3, 0.05);
    /* It is the last maximum of the field: 6 dB over free space, and falling from there. */
    near("a maximum", path_free_space_db(2440, b) - path_two_ray_db(2440, b, 1.5, 1.5), 6.0206,
         0.02);
    assert_true(path_two_ray_db(2440, b * 1.2, 1.5, 1.5) > path_two_ray_db(2440, b, 1.5, 1.5));
}

/* The plan's path only grows, and its inverse finds it again. */
static void plans_a_path_that_grows(void **state) {
    (void)state;
    double before = 0;
    for (double m = 0.5; m < 1e5; m *= 1.01) {
        double db = path_plan_db(2440, m, 1.3, 0.5);
        assert_true(db >= before && db >= path_free_space_db(2440, m));
        before = db;
    }
    for (double m = 0.5; m < 1e5; m *= 3)
        near("inverse", path_plan_m(2440, path_plan_db(2440, m, 1.3, 0.5), 1.3, 0.5), m, 1e-6 * m);
}

/* ITU-R P.526-8, section 2, equations 2 and 3; its 550 is 547.53 rounded. */
static void needs_room_around_it(void **state) {
    (void)state;
    static const struct {
        double d1, d2, rounded, exact;
    } rows[] = {{500, 500, 5.5672, 5.5422},
                {250, 250, 3.9366, 3.9190},
                {50, 50, 1.7605, 1.7526},
                {100, 900, 3.3403, 3.3253}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        near("550", fresnel_radius_p526_m(2440, rows[i].d1, rows[i].d2), rows[i].rounded, 0.001);
        near("exact", fresnel_radius_m(2440, rows[i].d1, rows[i].d2), rows[i].exact, 0.001);
    }
    /* 0.6 of the radius: common rule (ITU-R P.530). */
    near("0.6", FRESNEL_CLEAR * fresnel_radius_p526_m(2440, 500, 500), 3.3403, 0.001);
    /* As far as it is clear, the line in the middle is just so high. */
    double m = fresnel_clear_m(2440, 1.3, 0.5);
    near("just clear", FRESNEL_CLEAR * fresnel_radius_m(2440, m / 2, m / 2), 0.9, 1e-9);
}

/* ITU-R P.526, J(v) of a single knife edge. */
static void bends_over_an_edge(void **state) {
    (void)state;
    near("-0.78", fresnel_edge_db(-0.7799999), 0.0040, 0.001);
    near("grazing", fresnel_edge_db(0), 6.0329, 0.001);
    near("1", fresnel_edge_db(1), 13.9257, 0.001);
    near("2.4", fresnel_edge_db(2.4), 20.5393, 0.001);
    near("far below", fresnel_edge_db(-5), 0, 0);
    /* v is the square root of 2 times the height in radii of the first zone (same page). */
    near("a radius high", fresnel_edge_v(2440, fresnel_radius_m(2440, 30, 70), 30, 70), sqrt(2),
         1e-9);
}

/* Antenna textbooks: -20 log |cos angle|; infinite when crossed, 20 to 30 dB in practice. */
static void turns_antennas(void **state) {
    (void)state;
    static const struct {
        double degrees, db;
    } rows[] = {{0, 0}, {30, 1.2494}, {45, 3.0103}, {60, 6.0206}, {80, 15.2066}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        near("theory", polarisation_db(rows[i].degrees), rows[i].db, 0.0001);
        near("practice", polarisation_practice_db(rows[i].degrees), rows[i].db, 0.0001);
    }
    assert_false(signbit(polarisation_db(0)));
    assert_true(isinf(polarisation_db(90)));
    near("crossed, in practice", polarisation_practice_db(90), 30, 0);
    near("circular to linear", polarisation_circular_db(), 3.0103, 0.0001);
}

/* --- power and limits ------------------------------------------------------------------------- */

static void converts_power(void **state) {
    (void)state;
    static const struct {
        double dbm, mw;
    } rows[] = {{-18, 0.0158489}, {-6, 0.251189}, {0, 1}, {20, 100}, {36, 3981.07}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        near("mW", radio_mw(rows[i].dbm), rows[i].mw, 1e-5 * rows[i].mw);
        near("dBm", radio_dbm(rows[i].mw), rows[i].dbm, 1e-4);
    }
    assert_true(isinf(radio_dbm(0)) && radio_dbm(0) < 0);
    near("half-wave dipole (handbooks)", radio_dbi(0), 2.15, 0.005);
    near("3 dBd", radio_dbi(3), 5.15, 0.005);
    /* ITU-R P.525: E = sqrt(30 P) / d. */
    near("field", radio_field_v_m(20, 3), 0.57735, 1e-5);
}

/* ETSI EN 300 328 V2.2.2, 4.3.2.2.3 (20 dBm e.i.r.p.), 4.3.2.3.3 (10 dBm/MHz), 4.3.2.5.3 (10 %). */
static void knows_european_limits(void **state) {
    (void)state;
    near("e.i.r.p.", LIMITS_EU_EIRP_DBM, 20, 0);
    near("density", LIMITS_EU_DENSITY_DBM_MHZ, 10, 0);
    near("allowed with 2.15 dBi", limits_power_dbm(20, 0, 2.15), 17.85, 1e-9);
    near("and back", limits_eirp_dbm(17.85, 0, 2.15), 20, 1e-9);
    near("cable", limits_eirp_dbm(10, 1.5, 5), 13.5, 1e-9);
    /* All of a signal that is narrower than 1 MHz lies in one: its density is never above its
     * power. */
    near("narrow", limits_density_dbm_mhz(12, 0.7), 12, 0);
    near("2 MHz", limits_density_dbm_mhz(12, 2), 8.9897, 0.0001);
    /* (Pout / 100 mW) times duty cycle. */
    near("utilisation", limits_utilisation(20, 0.1), 0.1, 1e-12);
    near("utilisation, 10 mW", limits_utilisation(10, 0.5), 0.05, 1e-12);
}

/* 47 CFR 15.247(b) as of 2000, with the table of powers that goes with it: 6 dBi 30 dBm, e.i.r.p.
 * 36 dBm; fixed point-to-point 24 dBi, 24 dBm, e.i.r.p. 48 dBm. */
static void knows_american_limits(void **state) {
    (void)state;
    near("6 dBi", limits_us_power_dbm(6, false), 30, 0);
    near("e.i.r.p.", limits_us_power_dbm(6, false) + 6, 36, 0);
    near("2 dBi", limits_us_power_dbm(2, false), 30, 0);
    near("9 dBi", limits_us_power_dbm(9, false), 27, 0);
    near("24 dBi, fixed", limits_us_power_dbm(24, true), 24, 0);
    near("its e.i.r.p.", limits_us_power_dbm(24, true) + 24, 48, 0);
}

/* --- the chip: nRF24L01+ Product Specification v1.0 ------------------------------------------- */

static void knows_the_chip(void **state) {
    (void)state;
    /* Table 7, typical, 0.1 % bit errors. */
    near("250", chip_sensitivity_dbm(250, false), -94, 0);
    near("1000", chip_sensitivity_dbm(1000, false), -85, 0);
    near("2000", chip_sensitivity_dbm(2000, false), -82, 0);
    /* Tables 6 and 17. */
    near("step 4", chip_step_dbm(4), 0, 0);
    near("step 3", chip_step_dbm(3), -6, 0);
    near("step 2", chip_step_dbm(2), -12, 0);
    near("step 1", chip_step_dbm(1), -18, 0);
    /* Section 6.4. */
    assert_int_equal(CHIP_CARRIER_DBM, -64);
    /* Table 6, typical and greatest. */
    near("250", chip_width_mhz(250), 0.7, 0);
    near("1000", chip_width_mhz(1000), 0.9, 0);
    near("2000", chip_width_mhz(2000), 1.8, 0);
    near("250", chip_width_most_mhz(250), 0.8, 0);
    near("1000", chip_width_most_mhz(1000), 1.0, 0);
    near("2000", chip_width_most_mhz(2000), 2.0, 0);
    assert_int_equal(CHIP_SETTLE_US, 130); /* table 16 */
    assert_true(chip_has_rate(250) && chip_has_rate(1000) && chip_has_rate(2000));
    assert_false(chip_has_rate(500) || chip_has_rate(0));
    /* E01-ML01DP5 user manual v1.3, section 2.2. */
    near("amplified", chip_sensitivity_dbm(250, true), -96, 0);
    assert_int_equal(CHIP_AMPLIFIED_DBM, 20);
}

/* Table 19: (8 (1 + A + N + C) + 9) / rate; an acknowledgement has N = 0. */
static void takes_time_on_the_air(void **state) {
    (void)state;
    static const struct {
        uint32_t kbps;
        double air, ack;
    } rows[] = {{250, 1316.0, 292.0}, {1000, 329.0, 73.0}, {2000, 164.5, 36.5}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct chip_packet p = {rows[i].kbps, 32, 5, 2, true};
        near("air", chip_air_us(&p), rows[i].air, 1e-9);
        near("ack", chip_ack_us(&p), rows[i].ack, 1e-9);
    }
    struct chip_packet p = {250, 12, 5, 2, false};
    near("12 bytes", chip_air_us(&p), 676.0, 1e-9);
}

/* Table 19 and figure 15: 1 Mbit/s, 32 bytes, bus at 8 Mbit/s: 32 + 260 + 329 + 73 + 8.2 us. */
static void takes_a_cycle(void **state) {
    (void)state;
    struct chip_packet p = {1000, 32, 5, 2, true};
    near("with acknowledgement", chip_cycle_us(&p), 702.2, 1e-9);
    near("a second", chip_packets_hz(&p), 1e6 / 702.2, 1e-6);
    p.kbps = 2000; /* its interrupt takes 6.0 us */
    near("2 Mbit/s", chip_cycle_us(&p), 32 + 260 + 164.5 + 36.5 + 6.0, 1e-9);
    p = (struct chip_packet){1000, 32, 5, 2, false};
    near("without", chip_cycle_us(&p), 32 + 130 + 329 + 8.2, 1e-9);
}

/* --- Wi-Fi ------------------------------------------------------------------------------------ */

/* IEEE 802.11, as the Linux kernel's cfg80211 has it. */
static void knows_wifi_centres(void **state) {
    (void)state;
    for (int n = 1; n <= 13; n++)
        near("centre", wifi_centre_mhz(n), 2412 + 5 * (n - 1), 0);
    near("13", wifi_centre_mhz(13), 2472, 0);
    near("14", wifi_centre_mhz(14), 2484, 0);
}

static void stands_in_channels(const char *legend, double mhz, double half, const char *expected) {
    int over[WIFI_OVER_MAX];
    char text[64] = "";
    int count = wifi_over(over, mhz, half);
    for (int i = 0; i < count; i++)
        snprintf(text + strlen(text), sizeof text - strlen(text), i > 0 ? ",%d" : "%d", over[i]);
    if (strcmp(text, expected) != 0)
        fail_msg("%s: %g MHz stands in %s, not %s", legend, mhz, expected, text);
}

/* The carrier within 10 MHz of a centre (20 MHz of OFDM), or 11 (the DSSS mask). */
static void overlaps_wifi(void **state) {
    (void)state;
    static const struct {
        int rf_ch;
        const char *channels, *wide;
    } rows[] = {{12, "1,2,3", "1,2,3"},
                {40, "5,6,7,8", "5,6,7,8"},
                {76, "12,13", "12,13"},
                {100, "", ""},
                {83, "", "13"}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        stands_in_channels("OFDM", 2400 + rows[i].rf_ch, WIFI_OFDM_HALF_MHZ, rows[i].channels);
        stands_in_channels("DSSS", 2400 + rows[i].rf_ch, WIFI_DSSS_HALF_MHZ, rows[i].wide);
    }
}

/* 2400 to 2483.5 MHz: what of the chip's 126 channels lies inside, by width. */
static void keeps_to_the_band(void **state) {
    (void)state;
    for (int ch = 0; ch <= 125; ch++) {
        assert_int_equal(band_holds(2400 + ch, 0), ch <= 83);
        assert_int_equal(band_holds(2400 + ch, 1), ch >= 1 && ch <= 83);
        assert_int_equal(band_holds(2400 + ch, 2), ch >= 1 && ch <= 82);
    }
}

/* --- the whole -------------------------------------------------------------------------------- */

/* A budget written out by hand: 0 dBm, dipoles, 250 kbit/s, 1.5 m up, 500 m. */
static void adds_up(void **state) {
    (void)state;
    struct budget_inputs in;
    struct budget b;
    budget_defaults(&in);
    in.tx_height_m = in.rx_height_m = 1.5;
    in.distance_m = 500;
    in.tx_cable_db = 0.5;
    in.rx_cable_db = 0.25;
    in.body_db = 3;
    in.polarisation_deg = 45;
    budget_work(&b, &in);
    double fixed = 2 * 2.15 - 0.5 - 0.25 - 3 - 3.0103;
    near("two-ray", b.two_ray_db, 100.9921, 0.001);
    near("arrives", b.received_dbm, fixed - 100.9921, 0.001);
    near("in hand", b.margin_db, fixed - 100.9921 + 94, 0.001);
    near("by free space", b.margin_free_space_db, fixed - (80.1956 + 13.9794) + 94, 0.001);
    near("e.i.r.p.", b.eirp_dbm, 1.65, 1e-9);
    assert_true(b.beyond_breakpoint && !b.fresnel_clear && b.in_band);
    assert_false(b.over_eu_eirp || b.over_eu_density || b.over_us);
    /* At the range there is what was wanted in hand. */
    in.distance_m = b.range_m;
    budget_work(&b, &in);
    near("at the range", b.margin_db, in.margin_db, 1e-6);
    in.distance_m = b.range_free_space_m;
    budget_work(&b, &in);
    near("at the range of free space", b.margin_free_space_db, in.margin_db, 1e-6);
}

/* A narrow signal meets the density limit first: an amplified module may exceed both. */
static void warns_of_limits(void **state) {
    (void)state;
    struct budget_inputs in;
    struct budget b;
    budget_defaults(&in);
    in.power_dbm = 17.85;
    budget_work(&b, &in);
    assert_false(b.over_eu_eirp);
    assert_true(b.over_eu_density);
    near("within both", b.power_eu_dbm, 7.85, 1e-9);
    in.power_dbm = 20;
    in.rate_hz = 50;
    budget_work(&b, &in);
    assert_true(b.over_eu_eirp && b.over_eu_density && !b.over_us);
    near("duty", b.duty, 50 * 1316e-6, 1e-12);
    near("utilisation", b.utilisation, 1.6406 * 50 * 1316e-6, 1e-5);
    assert_true(b.over_eu_utilisation);
    in.mhz = 2500;
    budget_work(&b, &in);
    assert_false(b.in_band);
}

static void crosses_antennas(void **state) {
    (void)state;
    struct budget_inputs in;
    struct budget straight, crossed, circular;
    budget_defaults(&in);
    budget_work(&straight, &in);
    in.polarisation_deg = 90;
    budget_work(&crossed, &in);
    in.polarisation_deg = BUDGET_CIRCULAR;
    budget_work(&circular, &in);
    assert_true(isinf(crossed.polarisation_db));
    near("crossed", straight.margin_db - crossed.margin_db, 30, 1e-9);
    near("circular", straight.margin_db - circular.margin_db, 3.0103, 0.0001);
    assert_true(isfinite(crossed.range_m) && crossed.range_m < straight.range_m);
}

static void meets_an_edge(void **state) {
    (void)state;
    struct budget_inputs in;
    struct budget free, grazing;
    budget_defaults(&in);
    budget_work(&free, &in);
    in.obstacle_known = true;
    budget_work(&grazing, &in);
    near("grazing", free.margin_db - grazing.margin_db, 6.0329, 0.001);
    in.obstacle_m = -20;
    budget_work(&grazing, &in);
    near("far below", free.margin_db - grazing.margin_db, 0, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(loses_by_free_space),     cmocka_unit_test(follows_a_worked_example),
        cmocka_unit_test(adds_two_rays),           cmocka_unit_test(breaks_where_it_says),
        cmocka_unit_test(plans_a_path_that_grows), cmocka_unit_test(needs_room_around_it),
        cmocka_unit_test(bends_over_an_edge),      cmocka_unit_test(turns_antennas),
        cmocka_unit_test(converts_power),          cmocka_unit_test(knows_european_limits),
        cmocka_unit_test(knows_american_limits),   cmocka_unit_test(knows_the_chip),
        cmocka_unit_test(takes_time_on_the_air),   cmocka_unit_test(takes_a_cycle),
        cmocka_unit_test(knows_wifi_centres),      cmocka_unit_test(overlaps_wifi),
        cmocka_unit_test(keeps_to_the_band),       cmocka_unit_test(adds_up),
        cmocka_unit_test(warns_of_limits),         cmocka_unit_test(crosses_antennas),
        cmocka_unit_test(meets_an_edge),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
