/* Decibels and what they stand for. */
#ifndef RADIO_DECIBEL_H
#define RADIO_DECIBEL_H

/* Milliwatts of a power in dBm, and back (by definition); dBm of 0 mW or less is -INFINITY. */
double radio_mw(double dbm);
double radio_dbm(double mw);

/* Gain over an isotropic antenna of one that is given over a half-wave dipole: 2.15 dB more
 * (antenna handbooks; a dipole's 1.64 is 2.15 dB). */
#define RADIO_DIPOLE_DBI 2.15
double radio_dbi(double dbd);

/* Field strength in V/m at `m` metres in free space from an e.i.r.p. in dBm: sqrt(30 P) / d
 * (ITU-R P.525, point to area). */
double radio_field_v_m(double eirp_dbm, double m);

#endif
