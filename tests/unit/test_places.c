/* Losses averaged over places: against values that R and C gave alike, and against plain sums. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "stat/places.h"

static struct stat_places places;

static double tau_of(double db) {
    return db * log(10) / 10;
}

/* As the fit does it: in steps of a twentieth. */
static void spread_to(double tau) {
    for (double t = fmax(places.tau, 0.03); t < tau; t *= 1.05)
        if (t > places.tau)
            stat_places_spread(&places, t);
    stat_places_spread(&places, tau);
}

/* The mean over places at shadowings of 0, 3, 6 and 10 dB is 10 % at these eta: R 4.2 by integrate
 * and uniroot, and a C program, to the last digit alike. Here within what the grid costs. */
static void finds_where_the_mean_passes(void **state) {
    static const struct {
        double db, eta;
    } rows[] = {{0, -2.250367}, {3, -2.457597}, {6, -2.998762}, {10, -3.962628}};
    (void)state;
    stat_places_init(&places);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        spread_to(tau_of(rows[i].db));
        near("eta", stat_places_eta(&places, 0.1), rows[i].eta, 1e-3);
    }
}

/* Places at that distance that lose more than the limit: 38.2 % at 3 dB and 29.4 % at 6 (the same
 * two programs): those whose eta, normal about eta0, lies above that of 10 %. */
static void few_places_carry_the_mean(void **state) {
    static const struct { double db, worse; } rows[] = {{3, 0.382}, {6, 0.294}};
    double eta_limit = log(-log(0.9));
    (void)state;
    stat_places_init(&places);
    for (size_t i = 0; i < 2; i++) {
        spread_to(tau_of(rows[i].db));
        double z = (eta_limit - stat_places_eta(&places, 0.1)) / tau_of(rows[i].db);
        near("worse", erfc(z / sqrt(2)) / 2, rows[i].worse, 5e-4);
    }
}

/* By a sum over z in small steps. */
static double likelihood_by_sum(double lost, double arrived, double eta, double tau) {
    double sum = 0, weights = 0, n = lost + arrived;
    double best =
        (lost > 0 ? lost * log(lost / n) : 0) + (arrived > 0 ? arrived * log(arrived / n) : 0);
    for (int i = -4000; i <= 4000; i++) {
        double z = i * 0.002, weight = exp(-z * z / 2), l = exp(eta + tau * z);
        double y = lost > 0 ? lost * log(-expm1(-l)) : 0;
        sum += weight * exp(y - arrived * l - best);
        weights += weight;
    }
    return sum / weights;
}

static void smooths_likelihoods(void **state) {
    static const struct {
        double lost, arrived;
    } stops[] = {{0, 500}, {3, 497}, {40, 460}, {120, 5}, {500, 0}, {2.5, 60}};
    static const double taus[] = {0.1, 0.5, 1.4, 4};
    (void)state;
    stat_places_init(&places);
    for (size_t s = 0; s < 6; s++)
        stat_places_add(&places, stops[s].lost, stops[s].arrived);
    for (size_t t = 0; t < 4; t++) {
        spread_to(taus[t]);
        for (size_t s = 0; s < 6; s++)
            for (double eta = -9; eta < 3; eta += 0.7) {
                double place = stat_places_place(&places, eta);
                double got = stat_places_at(places.likelihood[s], place);
                double wanted = likelihood_by_sum(stops[s].lost, stops[s].arrived, eta, taus[t]);
                near("likelihood", got, wanted, 0.01 * wanted + 2e-3);
            }
    }
}

/* A long stay tells no more than the grid shows, and never says that something can't be. */
static void keeps_within_the_grid(void **state) {
    (void)state;
    stat_places_init(&places);
    stat_places_add(&places, 1e6, 9e6);
    double best = stat_places_place(&places, log(-log(0.9)));
    assert_true(stat_places_at(places.likelihood[0], best) > 0.6);
    assert_true(stat_places_at(places.likelihood[0], -1000) >= 1e-30f);
    assert_true(stat_places_at(places.likelihood[0], 1e9) >= 1e-30f);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_where_the_mean_passes),
        cmocka_unit_test(few_places_carry_the_mean),
        cmocka_unit_test(smooths_likelihoods),
        cmocka_unit_test(keeps_within_the_grid),
    };
    return cmocka_run_group_tests_name("places", tests, NULL, NULL);
}
