#include "radio/limits.h"

#include "radio/decibel.h"

static const double us_power_dbm = 30, us_gain_dbi = 6, eu_utilisation_mw = 100;

double limits_eirp_dbm(double power_dbm, double cable_db, double gain_dbi) {
    return power_dbm - cable_db + gain_dbi;
}

double limits_power_dbm(double eirp_dbm, double cable_db, double gain_dbi) {
    return eirp_dbm + cable_db - gain_dbi;
}

double limits_density_dbm_mhz(double eirp_dbm, double width_mhz) {
    return width_mhz > 1 ? eirp_dbm - radio_dbm(width_mhz) : eirp_dbm;
}

double limits_utilisation(double eirp_dbm, double duty) {
    return radio_mw(eirp_dbm) / eu_utilisation_mw * duty;
}

double limits_us_power_dbm(double gain_dbi, bool point_to_point) {
    double over = gain_dbi > us_gain_dbi ? gain_dbi - us_gain_dbi : 0;
    return us_power_dbm - (point_to_point ? over / 3 : over);
}
