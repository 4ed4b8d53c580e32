#include "radio/decibel.h"

#include <math.h>

double radio_mw(double dbm) {
    return pow(10, dbm / 10);
}

double radio_dbm(double mw) {
    return mw > 0 ? 10 * log10(mw) : -INFINITY;
}

double radio_dbi(double dbd) {
    return dbd + RADIO_DIPOLE_DBI;
}

double radio_field_v_m(double eirp_dbm, double m) {
    return sqrt(30 * radio_mw(eirp_dbm) / 1000) / m;
}
