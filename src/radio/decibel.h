/* Decibels and what they stand for. */
#ifndef RADIO_DECIBEL_H
#define RADIO_DECIBEL_H

/* Milliwatts of a power in dBm, and back (by definition); dBm of 0 mW or less is -INFINITY. */
double radio_mw(double dbm);
double radio_dbm(double mw);

#endif
