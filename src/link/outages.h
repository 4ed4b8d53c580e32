/* Outages: outages longer than the limit that a packet ended, by length.  A length is known only
 * to lie between bounds; it is filed under the middle of them, and `astride` counts those whose
 * bounds lie in different bins.  One still open is no outage yet: say "no link for the last N s"
 * instead. */
#ifndef LINK_OUTAGES_H
#define LINK_OUTAGES_H

#include <stdint.h>

enum { OUTAGES_BINS = 14 }; /* under 0.1 s, from 0.1, 0.2, 0.5, 1, 2, 5 s and so on, from 1000 s */

struct outages {
    uint64_t count, astride;
    uint64_t bin[OUTAGES_BINS];
    int64_t total_low_ms, total_high_ms;     /* silent time */
    int64_t longest_low_ms, longest_high_ms; /* 0: none */
};

void outages_init(struct outages *o);
void outages_add(struct outages *o, int64_t low_ms, int64_t high_ms);

unsigned outages_bin(int64_t length_ms);
int64_t outages_bin_from_ms(unsigned bin); /* its least length */

#endif
