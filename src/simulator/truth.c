#include "simulator/truth.h"

#include <stdarg.h>
#include <stdio.h>

static const char *const event_names[TRUTH_EVENTS] = {
    [TRUTH_RECEIVER_BOOT] = "receiver-boot",
    [TRUTH_RECEIVER_DOWN] = "receiver-down",
    [TRUTH_TRANSMITTER_START] = "transmitter-start",
    [TRUTH_TRANSMITTER_OFF] = "transmitter-off",
    [TRUTH_FIRST_PACKET] = "first-packet",
    [TRUTH_FAILSAFE_ENTERED] = "failsafe-entered",
    [TRUTH_FAILSAFE_LEFT] = "failsafe-left",
    [TRUTH_LOCKED] = "locked",
    [TRUTH_UNLOCKED] = "unlocked",
    [TRUTH_RADIO_FORGOT] = "radio-forgot",
    [TRUTH_RADIO_SET_UP] = "radio-set-up",
    [TRUTH_WALK] = "walk-cm",
    [TRUTH_MARKER] = "marker",
    [TRUTH_INTERFERENCE] = "interference-bursts-a-minute",
    [TRUTH_ANTENNA] = "antenna-loss",
    [TRUTH_SUPPLY] = "supply-milliohm",
    [TRUTH_BIND] = "bind",
    [TRUTH_CABLE] = "cable-lost-of-10000",
    [TRUTH_WIFI] = "wifi-channel",
    [TRUTH_SWEEP] = "sweep-carriers",
    [TRUTH_SCENE_AGAIN] = "scene-again",
};

void truth_init(struct truth *t) {
    *t = (struct truth){.last_us = -1};
}

/* The receiver, or the transmitter, begins anew: what is missing now, nobody will ever know. */
static void close_link(struct truth *t) {
    t->unobserved += t->pending;
    t->pending = 0;
    t->open = false;
}

static void count_event(struct truth *t, int64_t now_us, enum truth_event what) {
    if (what == TRUTH_RECEIVER_DOWN) {
        t->counts.longest_gap_ms = truth_longest_gap_ms(t, now_us);
        t->last_us = -1;
        t->counts.receiver_restarts++;
        close_link(t);
    } else if (what == TRUTH_TRANSMITTER_START) {
        if (now_us > 0)
            t->counts.transmitter_restarts++;
        close_link(t);
    } else if (what == TRUTH_FAILSAFE_ENTERED) {
        t->counts.failsafe_entries++;
    }
}

void truth_event(struct truth *t, int64_t now_us, enum truth_event what, int32_t value) {
    count_event(t, now_us, what);
    if (t->event_count == TRUTH_EVENTS_MAX) {
        t->events_dropped++;
        return;
    }
    t->events[t->event_count++] = (struct truth_entry){now_us, value, (uint8_t)what};
}

uint32_t truth_longest_gap_ms(const struct truth *t, int64_t now_us) {
    uint32_t open_ms = t->last_us < 0 ? 0 : (uint32_t)((now_us - t->last_us) / 1000);
    return open_ms > t->counts.longest_gap_ms ? open_ms : t->counts.longest_gap_ms;
}

void truth_received(struct truth *t, int64_t now_us) {
    t->counts.longest_gap_ms = truth_longest_gap_ms(t, now_us);
    t->last_us = now_us;
    t->counts.sent++;
    t->counts.received++;
    t->counts.lost += t->pending; /* 0 unless the link was open */
    t->pending = 0;
    t->heard = t->open = true;
}

void truth_missed(struct truth *t) {
    if (!t->heard)
        return;
    t->counts.sent++;
    if (t->open)
        t->pending++;
    else
        t->unobserved++;
}

void truth_line(simulator_put *put, void *where, const char *format, ...) {
    char line[160];
    va_list args;
    va_start(args, format);
    int len = vsnprintf(line, sizeof line, format, args);
    va_end(args);
    if (len > 0)
        put(where, line, (size_t)len < sizeof line ? (size_t)len : sizeof line - 1);
}

void truth_print(const struct truth *t, int64_t now_us, simulator_put *put, void *where) {
    const struct {
        const char *key;
        uint64_t value;
    } facts[] = {
        {"sent", t->counts.sent},
        {"received", t->counts.received},
        {"lost", t->counts.lost},
        {"pending", t->pending},
        {"unobserved", t->unobserved},
        {"refused", t->refused},
        {"missed_weak", t->weak},
        {"missed_interference", t->drowned},
        {"missed_radio_forgot", t->deaf},
        {"receiver_restarts", t->counts.receiver_restarts},
        {"transmitter_restarts", t->counts.transmitter_restarts},
        {"failsafe_entries", t->counts.failsafe_entries},
        {"longest_gap_ms", truth_longest_gap_ms(t, now_us)},
        {"events_dropped", t->events_dropped},
    };
    for (size_t i = 0; i < sizeof facts / sizeof *facts; i++)
        truth_line(put, where, "%s=%llu\n", facts[i].key, (unsigned long long)facts[i].value);
    for (uint32_t i = 0; i < t->event_count; i++)
        truth_line(put, where, "event=%lld,%s,%ld\n", (long long)t->events[i].at_us,
                   event_names[t->events[i].what], (long)t->events[i].value);
}
