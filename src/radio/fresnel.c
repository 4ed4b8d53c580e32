#include "radio/fresnel.h"

#include <math.h>

#include "radio/path.h"

double fresnel_radius_m(double mhz, double d1, double d2) {
    return sqrt(path_wavelength_m(mhz) * d1 * d2 / (d1 + d2));
}

double fresnel_radius_p526_m(double mhz, double d1, double d2) {
    double km1 = d1 / 1000, km2 = d2 / 1000;
    return 550 * sqrt(km1 * km2 / ((km1 + km2) * mhz));
}

double fresnel_clear_m(double mhz, double h1, double h2) {
    /* In the middle the radius is sqrt(wavelength d) / 2, and the line (h1 + h2) / 2 high. */
    double radius = (h1 + h2) / FRESNEL_CLEAR;
    return radius * radius / path_wavelength_m(mhz);
}

double fresnel_edge_v(double mhz, double h, double d1, double d2) {
    return h * sqrt(2 * (d1 + d2) / (path_wavelength_m(mhz) * d1 * d2));
}

double fresnel_edge_db(double v) {
    if (v <= -0.78)
        return 0;
    return 6.9 + 20 * log10(sqrt((v - 0.1) * (v - 0.1) + 1) + v - 0.1);
}
