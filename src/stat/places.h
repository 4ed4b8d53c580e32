/* Losses that differ from place to place, averaged over a normal spread of given width.
 *
 * The loss at a place is 1 - exp(-e^eta): with Rayleigh fading exactly what a power below a
 * threshold costs, e^eta being the threshold over the mean power (complementary log-log; McCullagh
 * and Nelder 1989, chapter 4).  Places alike in distance have eta + tau z, z standard normal.  Kept
 * on a grid of eta are the mean loss over such places, and of each stop the likelihood of what it
 * lost, its own place unknown.  Both are convolutions with a normal density, worked out as heat
 * spreads: a small step of width after the other, so tau only grows.  The grid's step grows with
 * tau, an eighth to a quarter of it, and the grid with its step. */
#ifndef STAT_PLACES_H
#define STAT_PLACES_H

#include <stdint.h>

#include "base/whole.h"

enum { PLACES_MAX = 64, PLACES_GRID = 640, PLACES_MIDDLE = PLACES_GRID / 2 };

struct stat_places {
    double tau, step; /* of the grid: 0.04 at first */
    uint32_t count;
    float loss[PLACES_GRID]; /* the mean loss about each eta */
    float likelihood[PLACES_MAX][PLACES_GRID];
};

void stat_places_init(struct stat_places *p);

/* Adds a stop, as long as tau is 0 and fewer than PLACES_MAX are in.  Its likelihood is 1 at best
 * and 1e-30 at least: nothing is taken to be less likely.  lost and arrived may be fractions, of
 * packets that hang together.  A stop that knew its own eta better than the grid's step is taken to
 * know it as well as that. */
void stat_places_add(struct stat_places *p, double lost, double arrived);

/* Widens the spread to tau; not below the present one. */
void stat_places_spread(struct stat_places *p, double tau);

/* Eta at which the mean loss passes a share between 0 and 1. */
double stat_places_eta(const struct stat_places *p, double loss);

/* Where eta lies on the grid, counted in steps from its first point; may lie outside. */
double stat_places_place(const struct stat_places *p, double eta);

/* A row's value there, by a straight line; beyond the ends it goes on as it ends. */
static inline double stat_places_at(const float row[static PLACES_GRID], double place) {
    double within = place < 0 ? 0 : place > PLACES_GRID - 2 ? PLACES_GRID - 2 : place;
    int i = whole_i32(within);
    return row[i] + (within - i) * (row[i + 1] - row[i]);
}

#endif
