/* An event: one thing that happened, with its time.  Live, events come out of telemetry.h; on
 * replay they come out of session.h; whatever computes, folds over them and can't tell the two
 * apart.  Slices in an event point into the producer's buffer and live until its sink returns. */
#ifndef TELEMETRY_EVENT_H
#define TELEMETRY_EVENT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include "base/bits.h"
#include "base/clock.h"
#include "base/slice.h"
#include "telemetry/keys.h"

enum {
    LINE_BYTES_MAX = 400, /* a line's bytes before its line end */
    CHANNELS_MAX = 16,
    PATTERN_MAX = 64, /* packets in `pat` */
    AIR_STEPS_MAX = 128,
};

#define CHANNEL_OFF  INT32_MIN /* an output without pulses */
#define CHANNEL_HOLD INT32_MAX /* only in identity.safe: failsafe keeps the last value */

/* The keys of an `rx` line; bit 1u << key of report.has tells that the line had it. */
#define REPORT_KEY(key, ...) KEY_##key,
enum report_key { REPORT_TABLE(REPORT_KEY) REPORT_KEYS };
#undef REPORT_KEY

_Static_assert((int)REPORT_KEYS <= 32, "a bit a key in report.has");

enum radio_registers { REGISTERS_OK, REGISTERS_DEFAULT, REGISTERS_ABSENT, REGISTERS_DIFFER };

/* A value a key, under the names in the table: times in ms, supplies in mV, flags 0 or 1, reg as
 * enum radio_registers.  Bit 0 of pat is the oldest outcome; 1 arrived, 0 missing.  Channels are µs
 * or raw, or CHANNEL_OFF. */
#define MEMBERS_U32(a)     uint32_t a;
#define MEMBERS_I32(a)     int32_t a;
#define MEMBERS_FLAG(a)    uint32_t a;
#define MEMBERS_PAIR(a, b) uint32_t a, b;
#define MEMBERS_PATTERN(a, b)                                                                      \
    uint64_t a;                                                                                    \
    uint32_t b;
#define MEMBERS_CHANNELS(a, b)                                                                     \
    uint32_t b;                                                                                    \
    int32_t a[CHANNELS_MAX];
#define MEMBERS_REGISTERS(a)              uint32_t a;
#define MEMBERS(key, shape, members, ...) REPORT_APPLY(MEMBERS_##shape, members)
struct report {
    uint32_t has;
    REPORT_TABLE(MEMBERS)
    struct slice extra; /* unknown key=value pairs in order of arrival, one space between */
};
#undef MEMBERS

/* The keys of an `id` line. */
enum identity_key {
    ID_END,
    ID_FW,
    ID_RATE,
    ID_CHANS,
    ID_UNIT,
    ID_SPAN,
    ID_SAFE,
    ID_SEQMOD,
    ID_MHZ,
    ID_HOP,
    ID_KBPS,
    ID_ADDR,
    ID_AW,
    ID_CRC,
    ID_SIZE,
    ID_ACK,
    ID_RETRIES,
    IDENTITY_KEYS
};

struct identity {
    uint32_t has;
    bool transmitter; /* end=tx */
    bool raw_unit;    /* unit=raw */
    bool dynamic_size;
    struct slice fw;
    struct slice addr;
    double rate_hz; /* packets sent a second */
    uint32_t chans;
    int32_t span_low, span_high;
    uint32_t safe_count;
    int32_t safe[CHANNELS_MAX]; /* a value, CHANNEL_HOLD or CHANNEL_OFF */
    uint32_t seqmod;            /* 0 means 2^32 */
    uint32_t mhz, hop, kbps, aw, crc, size, ack, retries;
    struct slice pairs; /* the line after its word, as it came */
};

enum boot_cause { BOOT_UNKNOWN, BOOT_POWER, BOOT_RESET, BOOT_BROWNOUT, BOOT_WATCHDOG };

struct boot {
    enum boot_cause cause;
    struct slice pairs;
};

struct air_sweep {
    uint32_t from_mhz, step_mhz, per;
    uint32_t count;
    uint32_t hits[AIR_STEPS_MAX];
    struct slice pairs;
};

enum mark_type { MARK_STOP, MARK_LEAVE, MARK_TWITCH, MARK_FACING, MARK_TEXT };

struct mark {
    enum mark_type type;
    double distance_m; /* negative when none was given */
    struct slice text; /* of facing and text */
};

enum damage_reason {
    DAMAGE_TOO_LONG,
    DAMAGE_BAD_BYTE,
    DAMAGE_BAD_CHECKSUM,
    DAMAGE_NO_CHECKSUM, /* although this stream has checksums */
    DAMAGE_BAD_NUMBER,
    DAMAGE_RANGE,
    DAMAGE_COUNTERS,    /* got, lost and pat contradict each other or the line before */
    DAMAGE_PLAIN_TEXT,  /* a sketch's own prints */
    DAMAGE_BOOT_TEXT,   /* what a boot loader prints around a restart */
    DAMAGE_CUT_RESTART, /* a line torn by the receiver's restart */
    DAMAGE_RUN_ON,      /* a line that lost its end and ran into the next one */
    DAMAGE_JOINED,      /* first line of a connection, joined midway */
    DAMAGE_TORN_END,    /* last line, without its line end */
    DAMAGE_REASONS
};

struct damage {
    enum damage_reason reason;
    bool continues; /* a further piece of the same over-long line: counts no line */
    struct slice bytes;
};

enum port_change {
    PORT_OPENED,
    PORT_LOST,
    PORT_BACK,
    PORT_LET_GO, /* by the person, to flash a sketch */
    PORT_TAKEN,  /* after that */
    PORT_SLEPT,  /* the computer slept */
    PORT_SPEED,  /* bytes used up while looking for the speed */
};

enum event_kind {
    EVENT_ABOUT,  /* a fact of the recording: key=value */
    EVENT_REPORT, /* an `rx` line or a line of bare numbers */
    EVENT_ID,
    EVENT_BOOT,
    EVENT_AIR,
    EVENT_SAY,
    EVENT_OTHER,  /* a line with an unknown word: text holds the whole line */
    EVENT_ANSWER, /* a trial's step and the person's answer */
    EVENT_MARK,
    EVENT_DAMAGE,
    EVENT_PORT,
    EVENT_END,
    EVENT_KINDS
};

struct event {
    enum event_kind kind;
    uint32_t bytes;  /* length on the wire, line end included; 0 when it wasn't on the wire */
    int64_t host_us; /* since the recording began, or TIME_UNKNOWN */
    union {
        struct report report;
        struct identity id;
        struct boot boot;
        struct air_sweep air;
        struct mark mark;
        struct damage damage;
        struct {
            enum port_change change;
            struct slice note; /* free text, such as "speed=115200" */
        } port;
        struct {
            struct slice key, value;
        } about;
        struct slice text; /* of say, other, answer and end */
    };
};

typedef void event_sink(void *context, const struct event *event);

/* Clears all that the event of a report has, and no more: other kinds' members are large.  In
 * pieces, since for one large one compilers take an instruction that is slow to start. */
static inline void event_clear_report(struct event *event) {
    enum { SIZE = offsetof(struct event, report) + sizeof event->report, PIECE = 64 };
    char *at = (char *)event;
    for (size_t left = SIZE; left >= PIECE; left -= PIECE, at += PIECE)
        memset(at, 0, PIECE);
    memset(at, 0, SIZE % PIECE);
}

static inline bool report_has(const struct report *r, enum report_key key) {
    return (r->has >> key & 1u) != 0;
}

static inline bool identity_has(const struct identity *id, enum identity_key key) {
    return (id->has >> key & 1u) != 0;
}

/* The supply that a report tells of: the lowest and the highest of its values (mv, mvmin), in mV,
 * cut to what an int32_t holds.  False, and nothing is written, where it has none. */
static inline bool report_supply(const struct report *r, int32_t *low_mv, int32_t *high_mv) {
    bool now = report_has(r, KEY_MV), least = report_has(r, KEY_MVMIN);
    if (!now && !least)
        return false;
    uint32_t a = now ? r->mv : r->mvmin, b = least ? r->mvmin : r->mv;
    uint32_t low = a < b ? a : b, high = a < b ? b : a;
    *low_mv = (int32_t)(low < INT32_MAX ? low : INT32_MAX);
    *high_mv = (int32_t)(high < INT32_MAX ? high : INT32_MAX);
    return true;
}

/* The number of arrived packets in r->pat. */
static inline uint32_t report_arrived(const struct report *r) {
    return bits_in(r->pat);
}

#endif
