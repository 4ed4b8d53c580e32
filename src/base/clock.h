/* Times are signed 64-bit counts whose unit stands in the name (_us, _ms).  A time that nobody
 * knows is TIME_UNKNOWN, never zero.  Only app/ and source/ ask the system for the time. */
#ifndef BASE_CLOCK_H
#define BASE_CLOCK_H

#include <stdint.h>

#define TIME_UNKNOWN INT64_MIN

#endif
