/* The room that a path needs around its line of sight, and what an edge in it costs.  Lengths in
 * metres, frequencies in MHz; d1 and d2 are the distances from a point of the path to its ends. */
#ifndef RADIO_FRESNEL_H
#define RADIO_FRESNEL_H

/* Radius of the first zone: sqrt(wavelength d1 d2 / (d1 + d2)), and ITU-R P.526's form of it, 550
 * sqrt(d1 d2 / ((d1 + d2) f)) in km and MHz, whose constant is rounded up from 547.5 (+0.45 %). */
double fresnel_radius_m(double mhz, double d1, double d2);
double fresnel_radius_p526_m(double mhz, double d1, double d2);

/* A path counts as free where this part of that radius is (common rule; ITU-R P.530). */
#define FRESNEL_CLEAR 0.6

/* The longest path over flat ground whose middle is so far clear. */
double fresnel_clear_m(double mhz, double h1, double h2);

/* ITU-R P.526: a single knife edge `h` above the line of sight (negative: below); 0 where it is so
 * far below that the formula no longer holds (v up to -0.78). */
double fresnel_edge_v(double mhz, double h, double d1, double d2);
double fresnel_edge_db(double v);

#endif
