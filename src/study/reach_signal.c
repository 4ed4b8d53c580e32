#include <math.h>

#include "stat/line.h"
#include "study/reach_parts.h"

enum { LOOKS_LEAST = 20, EXPONENT_STOPS_LEAST = 3 };

static void find_exponent(const struct reach_points *points, const struct reach_settings *settings,
                          struct reach_exponent *out) {
    double x[WALK_STOPS_MAX], dbm[WALK_STOPS_MAX];
    size_t count = 0, distances = 0;
    struct line_fit line;
    for (uint32_t i = 0; i < points->count; i++) {
        if (points->at[i].stop->rssi.count == 0)
            continue;
        x[count] = points->at[i].x;
        dbm[count] = points->at[i].stop->rssi.mean;
        distances += count == 0 || x[count] > x[count - 1];
        count++;
    }
    out->margin_known = count > 0 && settings->sensitivity_known;
    out->margin_db = out->margin_known ? dbm[count - 1] - settings->sensitivity_dbm : 0;
    out->known = distances >= EXPONENT_STOPS_LEAST && stat_line_fit(x, dbm, count, &line);
    if (!out->known)
        return;
    out->n = -line.slope / 10;
    out->n_se = line.slope_se / 10;
    out->sigma_db = line.residual_sd;
}

/* The stops with enough looks, nearest first: `above` is the farthest that heard at least half,
 * `below` the nearest that heard less.  A flip is between the two where the one lies right before
 * the other; where they overlap, it is somewhere in the overlap. */
static void find_flip(const struct reach_points *points, struct reach_flip *out) {
    double x[WALK_STOPS_MAX], share[WALK_STOPS_MAX];
    uint32_t count = 0, below = 0, above = 0;
    for (uint32_t i = 0; i < points->count; i++) {
        const struct walk_stop *s = points->at[i].stop;
        if (s->heard_looks < LOOKS_LEAST)
            continue;
        x[count] = points->at[i].x;
        share[count++] = (double)s->heard_hits / (double)s->heard_looks;
    }
    while (below < count && share[below] >= 0.5)
        below++;
    for (uint32_t i = 0; i < count; i++)
        above = share[i] >= 0.5 ? i : above;
    out->known = below > 0 && below < count && above + 1 < count && x[above + 1] > x[below - 1];
    if (!out->known)
        return;
    double from = x[below - 1], to = x[above + 1], down = share[below - 1] - share[above + 1];
    out->low_m = pow(10, from);
    out->high_m = pow(10, to);
    out->m = pow(10, from + (to - from) * (share[below - 1] - 0.5) / down);
}

void reach_signal(const struct reach_points *points, const struct reach_settings *settings,
                  struct reach *out) {
    find_exponent(points, settings, &out->exponent);
    find_flip(points, &out->flip);
}
