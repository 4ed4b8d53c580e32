#include "link/outages.h"

/* The 1-2-5 series, ms. */
static const int64_t from_ms[OUTAGES_BINS] = {0,     100,   200,   500,    1000,   2000,   5000,
                                              10000, 20000, 50000, 100000, 200000, 500000, 1000000};

void outages_init(struct outages *o) {
    *o = (struct outages){0};
}

unsigned outages_bin(int64_t length_ms) {
    unsigned bin = OUTAGES_BINS - 1;
    while (bin > 0 && length_ms < from_ms[bin])
        bin--;
    return bin;
}

int64_t outages_bin_from_ms(unsigned bin) {
    return from_ms[bin];
}

void outages_add(struct outages *o, int64_t low_ms, int64_t high_ms) {
    o->count++;
    o->bin[outages_bin(low_ms + (high_ms - low_ms) / 2)]++;
    o->astride += outages_bin(low_ms) != outages_bin(high_ms);
    o->total_low_ms += low_ms;
    o->total_high_ms += high_ms;
    if (high_ms > o->longest_high_ms) {
        o->longest_low_ms = low_ms;
        o->longest_high_ms = high_ms;
    }
}
