/* Paper against field: the decibels that the budget promises and a walk, or a measured level,
 * doesn't show. The budget must be that of the walk: its power step, its antennas, its heights.
 *
 * By range: where the walk says that the link ended, paper still has so much in hand.  Ends by loss
 * and by sensitivity (0.1 % bit errors, which is a packet in four lost at full length) differ by
 * a decibel or so, which isn't counted.  By level: what should have arrived less what did. */
#ifndef STUDY_MISSING_H
#define STUDY_MISSING_H

#include <stdbool.h>
#include <stddef.h>

#include "radio/budget.h"
#include "study/reach.h"

struct missing {
    double db;              /* by the plan's path; negative: the field did better than paper */
    double free_space_db;   /* by free space: the most that can be missing */
    double low_db, high_db; /* db at the ends of the range's interval; equal without one */
    bool at_most;           /* the link never ended: no more than db are missing */
};

/* By a range of low_m..high_m around range_m (all equal where there is no interval), above 0.
 * `at_least` tells that the walk ended before the link did. */
void missing_by_range(struct missing *out, const struct budget_inputs *in, double range_m,
                      double low_m, double high_m, bool at_least);

/* By the level that a receiver with rssi measured at distance_m. */
void missing_by_level(struct missing *out, const struct budget_inputs *in, double distance_m,
                      double dbm);

/* By what the walk r (of these stops) tells of the range: its interval, or the bounds that are left
 * of one.  MISSING_NOTHING_TOLD: not even those; *out isn't written then. */
enum missing_known {
    MISSING_NOTHING_TOLD,
    MISSING_INTERVAL, /* db, low_db..high_db */
    MISSING_BETWEEN,  /* low_db to high_db; db is high_db */
    MISSING_AT_MOST,  /* no more than db: the link didn't end */
    MISSING_AT_LEAST, /* no less than db: it was never good */
};
enum missing_known missing_by_walk(struct missing *out, const struct budget_inputs *in,
                                   const struct reach *r);

/* By the levels at the walk's stops with rssi, as far as the loss there keeps below r->loss_limit
 * (farther out only what happened to be strong arrived): their mean, and in low_db and high_db the
 * stops that miss least and most.  The number of stops; 0: *out isn't written. */
uint32_t missing_by_stops(struct missing *out, const struct budget_inputs *in,
                          const struct walk_stop *stops, uint32_t count, const struct reach *r);

/* What usually eats decibels, and how many (common practice; from memory). */
struct missing_eater {
    double low_db, high_db;
    const char *what, *check;
    bool amplified; /* only where there are amplifiers */
};
extern const struct missing_eater missing_eaters[];
extern const size_t missing_eater_count;

/* Below this, paper and field agree as well as chips, antennas and ground are known. */
#define MISSING_WORTH_DB 4.0

/* Whether an eater alone, or as a part, can explain so many. */
bool missing_may_be(const struct missing_eater *eater, double db, bool amplified);

#endif
