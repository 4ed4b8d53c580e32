/* The air over the lake: how strong the transmitter arrives at the tug, what else is on the
 * carrier, and whether a packet gets through.  Levels are hundredths of a dBm, whole numbers.
 *
 * Path: free space (ITU-R P.525) to the breakpoint 4 h1 h2 / wavelength, which is 21 m for antennas
 * 1.3 m and 0.5 m up, and 40 dB a decade from there (ITU-R P.1411, line of sight, median), as the
 * reflection off the water makes it.  Fading: Rice, correlated from packet to packet (first-order
 * autoregressive), and a slow shadow of 1.5 dB.  Receiver: nRF24L01+ Product Specification v1.0:
 * sensitivity -85 dBm at 0.1 % bit errors and 1 Mbit/s (table 7), carrier detect -64 dBm (6.4),
 * co-channel C/I 12 dB (table 9), transmit power 0, -6, -12, -18 dBm (table 6), greatest input 0
 * dBm (table 7).  Amplified radios send 20 dB more (common practice: 100 mW modules) and take 17 dB
 * less; that packets are lost gradually above that, over 12 dB, is a guess, and so are the 46 dB by
 * which an image is weaker. */
#ifndef SIMULATOR_LAKE_H
#define SIMULATOR_LAKE_H

#include "simulator/chance.h"

enum lake_fading { FADING_BENCH, FADING_STANDING, FADING_WALKING, FADINGS };

enum lake_outcome { PACKET_ARRIVED, PACKET_WEAK, PACKET_DROWNED };

enum { LAKE_PACKET_US = 233, LAKE_QUIET = -20000, LAKE_CARRIER = -6400, LAKE_WIFI_MAX = 4 };

struct lake {
    struct chance chance;
    enum lake_fading at_rest, fading; /* while nobody walks; now */
    int32_t fade_x, fade_y, shadow;   /* 4096 is one standard deviation */
    int32_t power;                    /* transmitter, hundredths of a dBm */
    int32_t antenna;                  /* what the tug's loses, hundredths of a dB */
    bool strong;                      /* amplifiers at both ends */
    bool image;                       /* the transmitter is on another carrier */
    int64_t walk_from_us;             /* walking from one distance to the other */
    int32_t walk_from_cm, walk_to_cm, walk_cm_s;
    int32_t bursts_a_minute, burst_mean_us, burst_dbm; /* interference */
    int32_t beacon_us, beacon_long_us, beacon_level;   /* a carrier in step with a clock; 0: none */
    int32_t sparks, spark_level;                       /* now, 65536ths of the time; level */
    bool burst;
    int32_t burst_level;
    int64_t burst_change_us;
    uint64_t bursts;
    struct lake_wifi {
        int32_t mhz, share, dbm; /* centre, share of the time in 65536ths, level at the tug */
    } wifi[LAKE_WIFI_MAX];
    int wifi_count;
};

void lake_init(struct lake *l, uint64_t seed);

/* From now on walk to this distance; speed 0 is there at once. */
void lake_walk(struct lake *l, int64_t now_us, int32_t to_cm, int32_t cm_s);
int32_t lake_distance_cm(const struct lake *l, int64_t now_us);

/* Bursts of interference from now on; none with bursts_a_minute 0. */
void lake_disturb(struct lake *l, int64_t now_us, int32_t bursts_a_minute, int32_t mean_us,
                  int32_t dbm);

/* Fading moves on by one packet. */
void lake_step(struct lake *l, int64_t now_us);

/* The transmitter's level at the tug. */
int32_t lake_level(const struct lake *l, int64_t now_us);

/* Interference at that time, LAKE_QUIET when none; times may go back by no more than a packet. */
int32_t lake_noise(struct lake *l, int64_t now_us);

/* A Wi-Fi network on a channel, 1 to 13, that sends so many thousandths of the time.  It is heard
 * only in a sweep: whoever places one keeps it off the link's carrier. */
void lake_wifi(struct lake *l, int32_t channel, int32_t thousandths, int32_t dbm);

/* One look of a sweep at a carrier. */
bool lake_look(struct lake *l, int32_t mhz);

/* Whether the packet sent at that time gets through. */
enum lake_outcome lake_carry(struct lake *l, int64_t now_us);

#endif
