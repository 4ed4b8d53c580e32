/* The one clock of the program: monotonic, and it counts the time that the computer sleeps. */
#ifndef APP_CLOCK_H
#define APP_CLOCK_H

#include <poll.h>
#include <stddef.h>
#include <stdint.h>

int64_t clock_us(void);

/* The time asleep since the computer started, µs: it grows by each sleep's length. */
int64_t clock_slept_us(void);

/* Wall-clock time, ISO 8601 in UTC ("2026-01-31T12:34:56Z"), into out. */
enum { CLOCK_TEXT = 24 };
void clock_wall(char out[static CLOCK_TEXT]);

/* ms to wait until deadline_us for poll(): rounded up, -1 for INT64_MAX. */
int clock_wait_ms(int64_t now_us, int64_t deadline_us);

/* poll() until deadline_us, to the microsecond. */
int clock_poll(struct pollfd *fds, size_t count, int64_t now_us, int64_t deadline_us);

#endif
