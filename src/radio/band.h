/* The 2.4 GHz band and the Wi-Fi channels in it; frequencies in MHz. */
#ifndef RADIO_BAND_H
#define RADIO_BAND_H

#include <stdbool.h>

/* The band that most of the world leaves to such links (EN 300 328; 47 CFR 15.247). */
#define BAND_LOW_MHZ  2400.0
#define BAND_HIGH_MHZ 2483.5

/* Whether a signal of this width around the carrier lies inside. */
bool band_holds(double mhz, double width_mhz);

enum {
    WIFI_CHANNELS = 13, /* 1 to 13; 14 stands apart and is Japan's */
    WIFI_LAST = 14,
};

/* Centre of a Wi-Fi channel, 1 to 14: 2407 + 5 n, and 2484 for 14 (IEEE 802.11). */
double wifi_centre_mhz(int channel);

/* Half of what a channel takes: 20 MHz with OFDM (802.11g and later), 22 MHz by the mask of DSSS.
 */
#define WIFI_OFDM_HALF_MHZ 10.0
#define WIFI_DSSS_HALF_MHZ 11.0

/* Whether the carrier stands in the channel, its edges included. */
bool wifi_covers(int channel, double mhz, double half_mhz);

/* The channels 1 to 13 over this carrier into out; returns how many, at most WIFI_OVER_MAX. */
enum { WIFI_OVER_MAX = 5 };
int wifi_over(int out[static WIFI_OVER_MAX], double mhz, double half_mhz);

#endif
