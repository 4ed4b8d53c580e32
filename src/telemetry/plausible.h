/* Lines without a checksum: whether a report can follow the one before.  One that can't is damage,
 * as from a lost or wrong digit, and must make no restart, packet or cause. */
#ifndef TELEMETRY_PLAUSIBLE_H
#define TELEMETRY_PLAUSIBLE_H

#include "telemetry/telemetry.h"

/* Whether one of the report's values contradicts the others or the base:
 * - a counter's key is missing that every report had, five at least; where damage was seen, any
 * key;
 * - n, t or got goes back without the others; lost goes back in a boot;
 * - n runs ahead of t, or t of n; where no n is told, t leaps and the sequence number doesn't;
 *   both by the usual time between reports, once five in a row kept it;
 * - got grows by more than 50 and 1 a ms, or by more than the sequence number, where it didn't five
 *   times in a row;
 * - a sequence number above 255 goes back to one above 64 of the same start of the transmitter, or
 *   runs ahead of its usual pace;
 * - an output leaves 500 to 2500, or the outputs change in number, where they were microseconds.
 * Where damage was seen in other lines (wary), also:
 * - the sequence number begins anew, or the transmitter has another start number;
 * - it doesn't run on as got and lost grow, where it did so five times;
 * - age or gap is longer than the time without a packet can be.
 * Bare numbers have nothing to be held against. */
enum plausible plausible(const struct telemetry_base *base, const struct telemetry_shape *shape,
                         const struct telemetry_packets *packets, bool wary,
                         const struct report *report);

/* Whether a report has gone as far as the second one after the base has, at least. */
bool plausible_second(const struct telemetry_base *base, const struct telemetry_shape *shape,
                      const struct report *report);

/* A report was refused that is barely plausible. */
void plausible_refuse(struct telemetry_shape *shape, const struct report *report);

/* Takes a good report into the shape, before it becomes the base. */
void plausible_keep(struct telemetry_shape *shape, const struct telemetry_base *base,
                    const struct telemetry_packets *packets, const struct report *report);

#endif
