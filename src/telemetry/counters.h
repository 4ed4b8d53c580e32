/* What the last good report of this boot leaves behind, and whether the next agrees with it. */
#ifndef TELEMETRY_COUNTERS_H
#define TELEMETRY_COUNTERS_H

#include "telemetry/telemetry.h"

/* False when got, lost and pat of report contradict each other or the base. */
bool counters_agree(const struct telemetry_base *base, const struct report *report,
                    int64_t host_us);

/* Makes a good report the base. */
void counters_keep(struct telemetry_base *base, const struct report *report, int64_t host_us);

#endif
