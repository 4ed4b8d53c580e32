/* Interarrival jitter by RFC 3550 (2003), 6.4.1: J += (|D| - J) / 16, D being the difference
 * between the transit times of two packets that arrived one after the other, in order of arrival.
 *
 * What the telemetry allows: t - age is the arrival of each report's newest packet by the
 * receiver's own clock, to the millisecond; the packets counted since (or the growth of seq) times
 * the packet interval is how much later it was sent, if the transmitter keeps its rate.  So D is
 * taken between the newest packets of reports that follow each other, not between all packets; the
 * sender's own unsteadiness is part of it; and cutting times to milliseconds makes up to half of
 * one (a third, over all intervals) out of nothing.  No serial delay enters, and serial delay is
 * never called radio delay. */
#ifndef LINK_JITTER_H
#define LINK_JITTER_H

#include <stdbool.h>
#include <stdint.h>

struct jitter {
    double ms;         /* J; 0 before the first difference */
    double peak_ms;    /* greatest |D| */
    uint64_t updates;  /* differences taken; with none J is unknown */
    bool have;         /* the packet before is known: */
    double transit_ms; /* its transit time (jitter_transit), */
    int64_t good_ms;   /* or its arrival (jitter_packet) */
};

void jitter_init(struct jitter *j);

/* The next packet in order of arrival: arrival less sending, whatever the offset of the clocks. */
void jitter_transit(struct jitter *j, double transit_ms);

/* The newest packet of a report: it arrived at good_ms and was sent `packets` after the one before
 * (got + lost of the step).  Call it only where a packet arrived; use one kind of call per struct.
 * Without a rate, a time, or packets there is no difference, and the next has none either. */
void jitter_packet(struct jitter *j, int64_t good_ms, uint64_t packets, double rate_hz);

/* Across a restart of either end, or a gap of unknown packets, there is no difference. */
void jitter_break(struct jitter *j);

#endif
