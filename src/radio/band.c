#include "radio/band.h"

#include <math.h>

bool band_holds(double mhz, double width_mhz) {
    return mhz - width_mhz / 2 >= BAND_LOW_MHZ && mhz + width_mhz / 2 <= BAND_HIGH_MHZ;
}

double wifi_centre_mhz(int channel) {
    return channel == WIFI_LAST ? 2484 : 2407 + 5.0 * channel;
}

bool wifi_covers(int channel, double mhz, double half_mhz) {
    return fabs(mhz - wifi_centre_mhz(channel)) <= half_mhz;
}

int wifi_over(int out[static WIFI_OVER_MAX], double mhz, double half_mhz) {
    int count = 0;
    for (int channel = 1; channel <= WIFI_CHANNELS && count < WIFI_OVER_MAX; channel++)
        if (wifi_covers(channel, mhz, half_mhz))
            out[count++] = channel;
    return count;
}
