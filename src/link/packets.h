/* What became of the packets between two reports, by the best evidence that the reports carry:
 * `pat`; got and lost; got against seq; got against the nominal rate.  The arrival of lines is
 * never evidence of packets. */
#ifndef LINK_PACKETS_H
#define LINK_PACKETS_H

#include "link/snapshot.h"
#include "telemetry/telemetry.h"

/* One report's share. */
struct packet_step {
    bool counted; /* got and lost hold */
    enum evidence evidence;
    uint64_t got, lost;
    uint64_t estimated;      /* lost in a gap longer than the sequence number lasts */
    uint32_t order_len;      /* outcomes whose order is known, the newest ones ... */
    uint64_t order;          /* ... bit 0 the oldest of them, 1 arrived */
    uint64_t missing_before; /* all of these, older than `order`, were missing: order known too */
    bool unseen;             /* there were other packets before these, of which nothing is known */
    bool arrived;            /* at least one packet arrived since the last report */
    int64_t good_ms;         /* link time of the newest packet, TIME_UNKNOWN before the first */
    bool transmitter_restart;
};

/* Whether it is the usual step: every packet arrived, each is spelled out, and nothing broke off.
 * Folds may take the short way then. */
static inline bool packet_step_plain(const struct packet_step *s) {
    return s->got == s->order_len && s->order == bits_ones(s->order_len) && !s->unseen &&
           !s->transmitter_restart && (s->lost | s->missing_before | s->estimated) == 0;
}

struct packets {
    double rate_hz;    /* 0 unknown */
    bool seqmod_known; /* the caller keeps it up to date */
    uint32_t seqmod;   /* likewise; 0 for 2^32; while not known, what the numbers show */
    int64_t round_ms;  /* how long the sequence number lasts; INT64_MAX where that can't be told */

    /* sums of the run */
    bool counted;           /* some report told of packets, if only that there were none */
    enum evidence evidence; /* the weakest that a counted packet rests on; with none counted, what
                               one would rest on */
    bool any;               /* a packet was counted */
    uint64_t got, lost, estimated, order_unknown;
    uint64_t unseen; /* reports before whose packets there were others that none told of */

    /* the state of this boot */
    bool based; /* base_* hold */
    uint32_t base_has, base_got, base_lost, base_seq;
    uint32_t before_got, before_lost, before_seq; /* the base before that one, */
    uint64_t before_packets;
    struct packet_step last; /* and what was counted from it */
    bool tboot_known;
    uint32_t tboot;
    int64_t good_ms;              /* newest packet of this boot, TIME_UNKNOWN before the first */
    int64_t report_ms;            /* newest report of this boot, likewise */
    int64_t rate_from_ms;         /* EVIDENCE_RATE: since when, */
    uint64_t rate_got, rate_lost; /* and what was counted since then */

    /* EVIDENCE_SEQUENCE without seqmod, and where the number lasts no report */
    bool seqmod_assumed;   /* it went round: seqmod is the least usual one that holds all numbers */
    bool seqmod_wrong;     /* a number came, or fell, that no usual modulus explains */
    uint32_t seqmod_taken; /* when it went round first */
    uint32_t seq_greatest;
    uint64_t seq_forward; /* packets that the number ran on while it rose, */
    int64_t seq_ms;       /* and the time that they took */
    uint64_t
        aliased_got; /* got in reports of more packets than the number tells apart: in no sum */

    /* EVIDENCE_RATE with age: packets lie whole intervals apart, which measures the rate */
    uint64_t pace_packets;
    int64_t pace_ms; /* that they took */
    double pace_off; /* sum of what was rounded off, in intervals */
    uint64_t pace_steps;
};

/* Why the loss isn't known though packets were counted; NULL where it is. */
const char *packets_lack(const struct packets *p);

/* The packets sent in a second as EVIDENCE_RATE takes them, and the share by which that may be
 * wrong: measured where reports have an age, else 2 %, what small chips' RC oscillators keep
 * (common practice; resonators keep 0.5 %). */
struct packets_pace {
    double rate_hz, error;
    bool measured;
};
struct packets_pace packets_pace(const struct packets *p);

void packets_init(struct packets *p);

/* The packets that are sent in a second, also told anew when seqmod has changed. */
void packets_rate(struct packets *p, double rate_hz);

/* Takes a report at link_ms.  fresh_boot: the first report of a boot that this run saw begin, whose
 * counters are all ours.  hole: lines are missing between this report and the one before.  The step
 * lives until the next call. */
const struct packet_step *packets_report(struct packets *p, const struct report *r, int64_t link_ms,
                                         bool fresh_boot, bool hole);

#endif
