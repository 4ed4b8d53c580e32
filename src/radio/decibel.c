#include "radio/decibel.h"

#include <math.h>

double radio_mw(double dbm) {
    return pow(10, dbm / 10);
}

double radio_dbm(double mw) {
    return mw > 0 ? 10 * log10(mw) : -INFINITY;
}
