/* Limits on what may be radiated at 2.4 GHz, as they are commonly cited.  They help to see that
 * something may exceed them; that something is allowed, only the local rules say, whole and
 * current.
 *
 * Each holds under its own conditions.  Europe: ETSI EN 300 328 V2.2.2,
 * clauses 4.3.2.2.3, 4.3.2.3.3 and 4.3.2.5.3 (equipment that doesn't hop), for wideband data
 * transmission: CEPT ERC/REC 70-03, annex 3, which above 10 dBm wants the band shared adequately.
 * Any other short range device: 10 mW, EN 300 440, annex 1 of the same (both figures from a
 * practitioner's letter on the EMC-PSTC list of 2 October 2018; the recommendation itself from
 * memory).  United States: 47 CFR 15.247(a)(1)(iii), (a)(2), (b) and (e): hopping over 15 channels
 * and more (125 mW; 1 W from 75 on), or digital modulation with a 6 dB bandwidth of 500 kHz and
 * more and at most 8 dBm in 3 kHz.  Anything else: 47 CFR 15.249(a), 50 mV/m at 3 m. */
#ifndef RADIO_LIMITS_H
#define RADIO_LIMITS_H

#include <stdbool.h>

#define LIMITS_EU_EIRP_DBM        20.0
#define LIMITS_EU_DENSITY_DBM_MHZ 10.0
#define LIMITS_EU_SHORT_RANGE_DBM 10.0
#define LIMITS_US_FIELD_V_M       0.050 /* at 3 m */
#define LIMITS_EU_UTILISATION     0.10  /* of the medium, where nothing listens before it talks */

/* e.i.r.p. of a transmitter: power less the cable's loss plus the antenna's gain. */
double limits_eirp_dbm(double power_dbm, double cable_db, double gain_dbi);

/* The most that the radio may give for an e.i.r.p. (EN 300 328 has it the other way round). */
double limits_power_dbm(double eirp_dbm, double cable_db, double gain_dbi);

/* e.i.r.p. within 1 MHz.  A signal up to 1 MHz wide is in it whole; a wider one is taken as spread
 * evenly, which flatters it: the middle of a real one holds more. */
double limits_density_dbm_mhz(double eirp_dbm, double width_mhz);

/* Medium utilisation of EN 300 328: power over 100 mW times the share of time on the air. */
double limits_utilisation(double eirp_dbm, double duty);

/* 47 CFR 15.247(b): 1 W into the antenna; above 6 dBi less, dB for dB, or for fixed point-to-point
 * links 1 dB for each 3 dB. */
double limits_us_power_dbm(double gain_dbi, bool point_to_point);

#endif
