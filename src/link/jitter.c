#include "link/jitter.h"

#include <math.h>

#include "base/clock.h"

void jitter_init(struct jitter *j) {
    *j = (struct jitter){.good_ms = TIME_UNKNOWN};
}

static void differ(struct jitter *j, double difference_ms) {
    double d = fabs(difference_ms);
    j->ms += (d - j->ms) / 16;
    if (d > j->peak_ms)
        j->peak_ms = d;
    j->updates++;
}

void jitter_transit(struct jitter *j, double transit_ms) {
    if (j->have)
        differ(j, transit_ms - j->transit_ms);
    j->have = true;
    j->transit_ms = transit_ms;
}

void jitter_packet(struct jitter *j, int64_t good_ms, uint64_t packets, double rate_hz) {
    if (good_ms == TIME_UNKNOWN || packets == 0 || rate_hz <= 0) {
        jitter_break(j);
        return;
    }
    if (j->have)
        differ(j, (double)(good_ms - j->good_ms) - (double)packets * 1000.0 / rate_hz);
    j->have = true;
    j->good_ms = good_ms;
}

void jitter_break(struct jitter *j) {
    j->have = false;
}
