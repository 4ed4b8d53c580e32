/* How long after the last packet something happened, by every clock that told.
 *
 * Three clocks speak: the receiver's uptime `t` (link time), its `age` of the newest packet, and
 * the host's, which stamps each line as it arrives.  Any of them may lie: an age may be capped, go
 * round, or count from the report instead of the packet; a receiver's clock may run slow,
 * altogether or only while no packet comes; and a line may be held up on its way.  So the bounds
 * rest on which report first told of the packet and of what happened, timed by the receiver's clock
 * and by the host's.  A packet may have come as much earlier as packets went untold just before:
 * some receivers bring their counters up to date once a second only.  An age shortens nothing: it
 * is a witness that may contradict.  Where the host's clock contradicts the receiver's for good,
 * the longer time counts.
 *
 * A line can only come late.  So the least of (host time - link time) over some reports is the best
 * that is known of how the two clocks stand to each other there; its growth across the outage is
 * time that the receiver's clock didn't count.  (The least delay as the reference is the idea of
 * Moon, Skelly and Towsley, "Estimation and removal of clock skew from network delay measurements",
 * INFOCOM 1999; cited from memory.) */
#ifndef JUDGE_DELAY_H
#define JUDGE_DELAY_H

#include "link/snapshot.h"

/* What one report says of time. */
struct delay_report {
    int64_t link_ms;   /* its link time */
    int64_t before_ms; /* link time of the report before, TIME_UNKNOWN: nothing to compare with */
    int64_t host_us;   /* TIME_UNKNOWN where the host's clock isn't recorded */
    bool own_clock;    /* link time is the receiver's t; else the host's clock */
    bool arrived;      /* it tells of packets that the report before didn't know */
    bool has_age;
    uint32_t age_ms;
};

/* The clocks against each other, over the newest half to whole second. */
struct delay_clocks {
    bool known;
    int64_t half;            /* half second of link time, of `newest` */
    int64_t newest, earlier; /* least of host less link time in it and in the one before, us */
    /* And how long, at most, packets went untold. */
    bool packet_known;
    int64_t packet_ms;             /* link time of the newest report that told of packets */
    int64_t span;                  /* spans of 2 s, of `untold` */
    int64_t untold, untold_before; /* the longest in it and in the one before, ms */
};

/* The last packet before an outage. */
struct delay_from {
    bool known;
    struct time_bounds at; /* link time: after the report before, not after this one */
    int64_t host_us;       /* of the report that told of it, */
    uint32_t age_ms;       /* with this age */
    bool has_age, own_clock;
    bool age_lies; /* the age didn't grow as the clock did */
    bool offset_known;
    int64_t offset_us; /* host less link time of that report, */
    int64_t least_us;  /* and the least just before: the report itself may have come late */
};

/* What happened in the outage: between two reports. */
struct delay_to {
    bool known;
    struct time_bounds at; /* link time */
    int64_t host_us;       /* of the report before which it happened */
    int64_t age_high_ms;   /* the age there, negative without */
    bool offset_known;
    int64_t late_us;  /* host less link time of that report, */
    int64_t least_us; /* and the least of it and of those in the next 3 s */
};

struct delay_bounds {
    int64_t low_ms, high_ms; /* both TIME_UNKNOWN: not known */
    bool age_lies;           /* the age contradicts the receiver's own clock */
    int64_t late_ms;         /* of it by lines that came late to the host, */
    int64_t apart_ms;        /* and between the reports that told */
    bool clock_slow; /* the host's clock says that the receiver's stood still or ran slow, */
    bool clock_fast; /* or fast */
};

/* Each report of a boot, before the calls below. */
void delay_clocks_report(struct delay_clocks *c, const struct delay_report *r);

/* A report that tells of a packet. */
void delay_begin(struct delay_from *f, const struct delay_clocks *c, const struct delay_report *r);

/* Each later report of the same outage: does the age keep up with the clock? */
void delay_follow(struct delay_from *f, const struct delay_report *r);

/* It happened between this report and the one before. */
void delay_mark(struct delay_to *to, const struct delay_report *r);

/* Reports after that, in order. */
void delay_after(struct delay_to *to, const struct delay_report *r);

struct delay_bounds delay_of(const struct delay_from *f, const struct delay_to *to);

/* Time in which something was seen, report by report, by either clock. */
struct delay_span {
    int64_t link_ms, host_us;
    bool no_host; /* some of it has no host time */
};

void delay_add(struct delay_span *s, int64_t link_ms, int64_t host_us);

/* By the slower of the clocks, ms.  Sums are compared, not steps: lines may come in bunches. */
int64_t delay_span_ms(const struct delay_span *s);

/* Time that has surely passed since the last packet, as of a report: the least that any clock says;
 * negative where nothing is known. */
int64_t delay_surely_ms(const struct delay_from *f, const struct delay_report *r);

#endif
