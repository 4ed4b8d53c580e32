/* What the lines `id`, `boot` and `air` say, out of the key=value pairs after their word (checksum
 * already taken off).  The decoder and the reader of recordings share these, so that a line gives
 * the same event from either.  Slices in the result point into `pairs`.
 *
 * All return false, with *why, where the decoder refuses the line; the result is then half filled.
 * Unknown keys are passed over (they stay in .pairs). */
#ifndef TELEMETRY_PAIRS_H
#define TELEMETRY_PAIRS_H

#include <stdbool.h>

#include "base/slice.h"
#include "telemetry/event.h"

bool identity_parse(struct slice pairs, struct identity *id, enum damage_reason *why);
bool boot_parse(struct slice pairs, struct boot *boot, enum damage_reason *why);
bool air_parse(struct slice pairs, struct air_sweep *air, enum damage_reason *why);

#endif
