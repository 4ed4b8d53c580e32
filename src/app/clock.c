#include "app/clock.h"

#include <limits.h>
#include <stddef.h>
#include <time.h>

static int64_t read_us(clockid_t id) {
    struct timespec t = {0};
    clock_gettime(id, &t);
    return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

int64_t clock_us(void) {
    return read_us(CLOCK_BOOTTIME);
}

int64_t clock_slept_us(void) {
    int64_t awake = read_us(CLOCK_MONOTONIC);
    return read_us(CLOCK_BOOTTIME) - awake;
}

void clock_wall(char out[static CLOCK_TEXT]) {
    time_t now = time(NULL);
    struct tm utc;
    if (!gmtime_r(&now, &utc) || strftime(out, CLOCK_TEXT, "%Y-%m-%dT%H:%M:%SZ", &utc) == 0)
        out[0] = '\0';
}

int clock_wait_ms(int64_t now_us, int64_t deadline_us) {
    if (deadline_us == INT64_MAX)
        return -1;
    if (deadline_us <= now_us)
        return 0;
    int64_t ms = (deadline_us - now_us + 999) / 1000;
    return ms > INT_MAX ? INT_MAX : (int)ms;
}

int clock_poll(struct pollfd *fds, size_t count, int64_t now_us, int64_t deadline_us) {
    int64_t us = deadline_us > now_us ? deadline_us - now_us : 0;
    struct timespec wait = {us / 1000000, us % 1000000 * 1000};
    return ppoll(fds, count, deadline_us == INT64_MAX ? NULL : &wait, NULL);
}
