/* Two linear antennas turned against each other.  By theory -20 log |cos angle| (antenna
 * textbooks): infinite at 90 degrees.  No real pair is that good: reflections and the antennas' own
 * faults leave 20 to 30 dB (common practice). */
#ifndef RADIO_POLARISATION_H
#define RADIO_POLARISATION_H

/* dB at so many degrees; INFINITY at 90. */
double polarisation_db(double degrees);

/* The same, never more than practice shows. */
#define POLARISATION_PRACTICE_LOW_DB  20.0
#define POLARISATION_PRACTICE_HIGH_DB 30.0
double polarisation_practice_db(double degrees);

/* Between a circular antenna and a linear one, at any angle: half the power, 3.01 dB. */
double polarisation_circular_db(void);

#endif
