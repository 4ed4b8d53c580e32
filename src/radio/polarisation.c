#include "radio/polarisation.h"

#include <math.h>

static const double degree = 3.14159265358979323846 / 180;

double polarisation_db(double degrees) {
    double along = fabs(cos(degrees * degree));
    /* cos(90 degrees) comes out as 6e-17, since pi/2 is no double. */
    return along < 1e-12 ? INFINITY : fabs(20 * log10(along));
}

double polarisation_practice_db(double degrees) {
    return fmin(polarisation_db(degrees), POLARISATION_PRACTICE_HIGH_DB);
}

double polarisation_circular_db(void) {
    return 10 * log10(2);
}
