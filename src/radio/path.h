/* Loss on the way between two antennas, in dB; frequencies in MHz, lengths in metres, all above 0.
 *
 * Free space has two constants about: ITU-R P.525 rounds 20 log(4 pi km MHz / c) to 32.4, the exact
 * one is 32.4478, so that the two forms differ by 0.048 dB.
 *
 * Two-ray: the direct ray and the one off flat ground, the ground taken as a perfect mirror that
 * turns the phase (reflection -1, as any ground does at grazing incidence), isotropic antennas.
 * Up to the breakpoint the two interfere, with deep nulls; beyond it the loss grows by 40 dB a
 * decade. */
#ifndef RADIO_PATH_H
#define RADIO_PATH_H

#define RADIO_C 299792458.0 /* m/s, by definition of the metre */

double path_wavelength_m(double mhz);

/* (4 pi d / wavelength)^2, and the rounded form of ITU-R P.525: 32.4 + 20 log MHz + 20 log km. */
double path_free_space_db(double mhz, double m);
double path_free_space_p525_db(double mhz, double m);

/* The distance at which path_free_space_db is `db`. */
double path_free_space_m(double mhz, double db);

/* The sum of both rays as phasors, e^(-jkr)/r each, over the ground distance m between antennas h1
 * and h2 above ground. */
double path_two_ray_db(double mhz, double m, double h1, double h2);

/* Its approximation from far beyond the breakpoint: 40 log d - 20 log h1 - 20 log h2 (textbooks;
 * no frequency in it). */
double path_two_ray_far_db(double m, double h1, double h2);

/* 4 h1 h2 / wavelength (ITU-R P.1411), the last maximum of the field.  Other books say breakpoint
 * to 4 pi h1 h2 / wavelength or to 20 h1 h2 / wavelength. */
double path_breakpoint_m(double mhz, double h1, double h2);

/* What a plan is made with: free space as far as the breakpoint, since nobody knows in which ripple
 * a model will be; beyond it the worse of free space and two-ray.  It only grows with m. */
double path_plan_db(double mhz, double m, double h1, double h2);

/* The distance, from 0.01 m to 1000 km, at which path_plan_db is `db`. */
double path_plan_m(double mhz, double db, double h1, double h2);

#endif
