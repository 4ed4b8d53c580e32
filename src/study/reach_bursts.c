#include <math.h>

#include "study/reach_parts.h"

/* Squared residuals of a stop's blocks about its own loss, over what independent packets give. */
static void add_blocks(const struct walk_stop *s, double *squares, double *df) {
    double got = 0, lost = 0;
    for (uint32_t b = 0; b < s->blocks; b++) {
        got += (double)s->block[b].got;
        lost += (double)s->block[b].lost;
    }
    if (s->blocks < 2 || !(got > 0) || !(lost > 0))
        return;
    double p = lost / (got + lost);
    for (uint32_t b = 0; b < s->blocks; b++) {
        double n = (double)(s->block[b].got + s->block[b].lost);
        double miss = (double)s->block[b].lost - n * p;
        *squares += n > 0 ? miss * miss / (n * p * (1 - p)) : 0;
        *df += n > 0 ? 1 : 0;
    }
    *df -= 1;
}

/* A chain of two states whose correlation dies out over c packets has 2c - 1 times the variance of
 * independent ones, and c = n p (1-p) / runs: blocks that are short beside the runs miss a part of
 * it. */
double reach_bursts(const struct reach_points *points) {
    double squares = 0, df = 0, variance = 0, runs = 0;
    for (uint32_t i = 0; i < points->count; i++) {
        const struct walk_stop *s = points->at[i].stop;
        add_blocks(s, &squares, &df);
        if (s->order_unknown || s->runs.packets == 0)
            continue;
        double n = (double)s->runs.packets, p = (double)s->runs.lost / n;
        variance += n * p * (1 - p);
        runs += (double)s->runs.runs;
    }
    double by_blocks = df > 0 ? squares / df : 1;
    double by_runs = runs > 0 ? 2 * variance / runs - 1 : 1;
    return fmax(1, fmax(by_blocks, by_runs));
}
