#include "stat/places.h"

#include <math.h>
#include <string.h>

#include "base/whole.h"

static const double STEP = 0.04, MIDDLE = -4; /* at first from -16.8 to 8.8: flat beyond */
static const double LEAST_LIKELY = 1e-30;

static double eta_of(const struct stat_places *p, int i) {
    return MIDDLE + (i - PLACES_MIDDLE) * p->step;
}

double stat_places_place(const struct stat_places *p, double eta) {
    return (eta - MIDDLE) / p->step + PLACES_MIDDLE;
}

static double cloglog(double loss) {
    return log(-log1p(-loss));
}

void stat_places_init(struct stat_places *p) {
    p->tau = 0;
    p->step = STEP;
    p->count = 0;
    for (int i = 0; i < PLACES_GRID; i++)
        p->loss[i] = (float)-expm1(-exp(eta_of(p, i)));
}

static double times_log(double times, double of) {
    return times > 0 ? times * log(of) : 0;
}

/* The information of a stop on its eta, at the loss that it had: n l^2 / (e^l - 1), l = e^eta. */
static double information(double lost, double arrived) {
    double l = lost > 0 && arrived > 0 ? -log(arrived / (lost + arrived)) : 0;
    return l > 0 ? (lost + arrived) * l * l / expm1(l) : 0;
}

void stat_places_add(struct stat_places *p, double lost, double arrived) {
    double most = 1 / (STEP * STEP), known = information(lost, arrived);
    double share = known > most ? most / known : 1;
    double y = lost * share, a = arrived * share, n = y + a;
    double best = times_log(y, y / n) + times_log(a, a / n);
    float *row = p->likelihood[p->count++];
    for (int i = 0; i < PLACES_GRID; i++) {
        double l = exp(eta_of(p, i));
        row[i] = (float)fmax(LEAST_LIKELY, exp(times_log(y, -expm1(-l)) - a * l - best));
    }
}

/* Variance v grid steps squared, at most a third: the kernel v/2, 1 - v, v/2.  At a third its
 * fourth cumulant is 0, as a normal density's. */
static void spread_row(float row[static PLACES_GRID], int times, float v) {
    for (int t = 0; t < times; t++) {
        float before = row[0];
        for (int i = 1; i < PLACES_GRID - 1; i++) {
            float here = row[i];
            row[i] = here + v / 2 * (before - 2 * here + row[i + 1]);
            before = here;
        }
    }
}

/* Every second point, about the middle, and beyond the old ends what stood there. */
static void widen_row(float row[static PLACES_GRID]) {
    float old[PLACES_GRID];
    memcpy(old, row, sizeof old);
    for (int i = 0; i < PLACES_GRID; i++) {
        int from = PLACES_MIDDLE + 2 * (i - PLACES_MIDDLE);
        row[i] = old[from < 0 ? 0 : from >= PLACES_GRID ? PLACES_GRID - 1 : from];
    }
}

static float *row_of(struct stat_places *p, uint32_t i) {
    return i == p->count ? p->loss : p->likelihood[i];
}

void stat_places_spread(struct stat_places *p, double tau) {
    while (p->tau >= 8 * p->step) {
        for (uint32_t i = 0; i <= p->count; i++)
            widen_row(row_of(p, i));
        p->step *= 2;
    }
    double wanted = (tau * tau - p->tau * p->tau) / (p->step * p->step);
    int times = whole_i32(ceil(3 * wanted));
    for (uint32_t i = 0; times > 0 && i <= p->count; i++)
        spread_row(row_of(p, i), times, (float)(wanted / times));
    p->tau = tau;
}

double stat_places_eta(const struct stat_places *p, double loss) {
    int low = 0, high = PLACES_GRID - 1;
    while (high - low > 1) {
        int middle = (low + high) / 2;
        *(p->loss[middle] > (float)loss ? &high : &low) = middle;
    }
    double before = cloglog(p->loss[low]), after = cloglog(p->loss[high]);
    return eta_of(p, low) + p->step * (cloglog(loss) - before) / (after - before);
}
