#include "radio/path.h"

#include <complex.h>
#include <math.h>

static const double pi = 3.14159265358979323846;

double path_wavelength_m(double mhz) {
    return RADIO_C / (mhz * 1e6);
}

double path_free_space_db(double mhz, double m) {
    return 20 * log10(4 * pi * m / path_wavelength_m(mhz));
}

double path_free_space_p525_db(double mhz, double m) {
    return 32.4 + 20 * log10(mhz) + 20 * log10(m / 1000);
}

double path_free_space_m(double mhz, double db) {
    return path_wavelength_m(mhz) / (4 * pi) * pow(10, db / 20);
}

double path_two_ray_db(double mhz, double m, double h1, double h2) {
    double lambda = path_wavelength_m(mhz), k = 2 * pi / lambda;
    double direct = hypot(m, h1 - h2), reflected = hypot(m, h1 + h2);
    /* Far out both are nearly equal: their difference is 4 h1 h2 / (r1 + r2), without the rounding.
     */
    double longer = 4 * h1 * h2 / (direct + reflected);
    double complex sum = 1 / direct - cexp(-I * (k * longer)) / reflected;
    return -20 * log10(lambda / (4 * pi) * cabs(sum));
}

double path_two_ray_far_db(double m, double h1, double h2) {
    return 40 * log10(m) - 20 * log10(h1) - 20 * log10(h2);
}

double path_breakpoint_m(double mhz, double h1, double h2) {
    return 4 * h1 * h2 / path_wavelength_m(mhz);
}

double path_plan_db(double mhz, double m, double h1, double h2) {
    double free = path_free_space_db(mhz, m);
    if (m <= path_breakpoint_m(mhz, h1, h2))
        return free;
    return fmax(free, path_two_ray_db(mhz, m, h1, h2));
}

double path_plan_m(double mhz, double db, double h1, double h2) {
    double low = log(0.01), high = log(1e6);
    for (int i = 0; i < 100; i++) {
        double middle = (low + high) / 2;
        if (path_plan_db(mhz, exp(middle), h1, h2) <= db)
            low = middle;
        else
            high = middle;
    }
    return exp(low);
}
