/* Fits walks for the outside check.  A line on standard input is one: K blocks a stop, P places,
 * the places in metres, then each stop: metres, and K times lost and packets.  The answer: verdict,
 * bursts, then low_m, at_least_m, m, at_most_m and high_m, and at each place the curve's loss, low
 * and high; 17 digits. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "study/reach.h"

enum { LINE_MAX_BYTES = 1 << 16, NUMBERS_MAX = 4096 };

static struct walk_stop take_stop(const double *at, unsigned blocks) {
    struct walk_stop s = {.distance_m = at[0],
                          .counted = true,
                          .order_unknown = true,
                          .to_ms = 2000 * (int64_t)blocks,
                          .block_ms = 2000,
                          .blocks = blocks};
    for (unsigned b = 0; b < blocks; b++) {
        uint64_t lost = (uint64_t)at[1 + 2 * b], packets = (uint64_t)at[2 + 2 * b];
        s.block[b] = (struct walk_block){packets - lost, lost};
        s.got += packets - lost;
        s.lost += lost;
    }
    return s;
}

static void answer(const double *at, size_t count) {
    static struct walk_stop stops[WALK_STOPS_MAX];
    unsigned blocks = (unsigned)at[0], places = (unsigned)at[1];
    size_t each = 1 + 2 * (size_t)blocks, from = 2 + places;
    uint32_t all = (uint32_t)((count - from) / each);
    struct reach_settings settings;
    struct reach r;
    if (blocks > WALK_BLOCKS_MAX || all > WALK_STOPS_MAX)
        exit(2);
    for (uint32_t i = 0; i < all; i++)
        stops[i] = take_stop(at + from + i * each, blocks);
    reach_settings_default(&settings);
    reach_find(stops, all, &settings, &r);
    printf("%d %.17g %.17g %.17g %.17g %.17g %.17g", (int)r.verdict, r.fit.bursts, r.low_m,
           r.at_least_m, r.m, r.at_most_m, r.high_m);
    for (unsigned i = 0; i < places; i++) {
        struct reach_at c = {-1, -1, -1};
        reach_at(&r, at[2 + i], &c);
        printf(" %.17g %.17g %.17g", c.loss, c.low, c.high);
    }
    putchar('\n');
}

int main(void) {
    static char line[LINE_MAX_BYTES];
    static double at[NUMBERS_MAX];
    while (fgets(line, sizeof line, stdin)) {
        size_t count = 0;
        for (char *word = strtok(line, " \n"); word && count < NUMBERS_MAX;
             word = strtok(NULL, " \n"))
            at[count++] = strtod(word, NULL);
        if (count > 2)
            answer(at, count);
    }
    return 0;
}
