/* What the newest event meant for the link: for folds that need more than the sums of a snapshot
 * (the range walk, the causes, a comparison, the trials).  They are fed each event after the bench
 * was, with bench_moment(). */
#ifndef LINK_MOMENT_H
#define LINK_MOMENT_H

#include "link/bench.h"
#include "link/outage.h"
#include "link/packets.h"
#include "stat/loss.h"

struct moment {
    const struct event *event; /* lives as long as the event itself */
    int64_t host_us;           /* host time reached, TIME_UNKNOWN in a capture without */
    int64_t link_ms;           /* of a report its own link time; of another event the link time that
                                  the host's clock has reached; TIME_UNKNOWN before the first */
    uint32_t boot;             /* how many boots of the receiver were seen before this moment; a
                                  report of another boot has nothing in common with the one before */
    bool restarted;            /* the receiver did, and it was seen at this event: */
    bool by_opening;           /* our opening of the port did that */
    enum boot_cause cause;
    bool radio_forgot; /* a loss of settings of the radio began with this report */

    /* The rest is of a report; of another event nothing is counted and times are unknown. */
    int64_t before_ms; /* link time of the report before; TIME_UNKNOWN for the run's first */
    bool fresh_boot;   /* first report of a boot that the run saw begin */
    bool hole;         /* lines are missing between the report before and this one */
    bool heard;        /* a packet of this boot has been received by now */
    struct packet_step packets; /* what came since the report before; their times: evenly over */
    int64_t from_ms;            /* (from_ms, packets.good_ms] */
    struct outage_step outage;  /* the longest gap that closed; an outage that ended or began */
    uint64_t failsafes;         /* entries into failsafe since the report before */
};

/* Of the event that was fed last; lives until the next call with b. */
const struct moment *bench_moment(const struct bench *b);

/* Packets that a report told of. */
uint64_t moment_packets(const struct moment *m);

/* Time of the packet `index` (0 the oldest), ms of link time, with parts; index below
 * moment_packets.  NAN where the packets have no time. */
double moment_packet_ms(const struct moment *m, uint64_t index);

/* Whether the order in which these packets arrived or were missing is known; where it is, the
 * outcome of one. */
bool moment_ordered(const struct moment *m);
bool moment_arrived(const struct moment *m, uint64_t index);

struct packet_share {
    uint64_t got, lost;
};

/* The share of the packets in (from_ms, to_ms].  Where the order isn't known losses are spread
 * evenly, but after an outage the lost ones come first.  Shares of neighbouring spans add up. */
struct packet_share moment_share(const struct moment *m, int64_t from_ms, int64_t to_ms);

/* The same packets into loss runs: in order, or with a break where the order isn't known. */
void moment_runs(const struct moment *m, int64_t from_ms, int64_t to_ms, struct loss_runs *runs);

#endif
