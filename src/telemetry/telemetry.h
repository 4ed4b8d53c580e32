/* The decoder: bytes pushed in as they come, in any chunking; events out, one a line.  It owns no
 * port and no clock and allocates nothing.  Every byte ends in exactly one event: bytes in = bytes
 * of good lines + bytes of refused lines + bytes of the line still open. */
#ifndef TELEMETRY_TELEMETRY_H
#define TELEMETRY_TELEMETRY_H

#include <stddef.h>
#include <stdint.h>

#include "telemetry/event.h"
#include "telemetry/scan.h"

struct telemetry_tally {
    uint64_t bytes_in, bytes_good, bytes_refused;
    uint64_t lines_good, lines_refused;
    uint64_t refused[DAMAGE_REASONS]; /* lines by reason */
};

/* What the last good report of this boot leaves behind to judge the next one by. */
struct telemetry_base {
    bool known; /* there is such a report */
    bool hole;  /* a line was refused since, or the connection broke: reports may be missing */
    uint32_t has, n, t_ms, got, lost;
    int64_t host_us;
};

/* What else a line without a checksum is held against (plausible.h). */
struct telemetry_shape {
    uint32_t steady, alike; /* keys that every report since the boot had, and how many those were */
    bool us; /* every output was within 700 to 2300, or off: these are microseconds */
    uint32_t ch_count;
    uint32_t has, seq, tboot, age_ms; /* of the newest report */
    uint32_t usual_ms;                /* from one report to the next, */
    uint32_t regular, odd;            /* how many lay so far apart, and in a row otherwise */
    uint32_t moved_ms;                /* uptime when the sequence number last moved */
    uint32_t ran, ran_ms;             /* packets by the sequence number, and the time they took */
    uint32_t exact;               /* reports in a row whose number ran on as got and lost grew, */
    uint32_t within;              /* and by no less than got */
    bool other_known;             /* a number was refused that may be another transmitter's, */
    uint32_t other_seq, other_ms; /* and at which uptime */
};

/* A report that contradicts the base is believed where it follows the report before that one, or
 * others that were refused. */
enum telemetry_amends { AMENDS_NOTHING, AMENDS_LAST, AMENDS_ALL };

/* Whether a report without a checksum can follow the one before (plausible.h). */
enum plausible {
    PLAUSIBLE,
    PLAUSIBLE_BARELY, /* another transmitter, or a stall in an outage, could have made it */
    PLAUSIBLE_NOT,
};

/* What id lines told of the packets. */
struct telemetry_packets {
    bool seqmod_known;
    uint32_t seqmod; /* 0 for 2^32 */
};

/* A key of an earlier report, ready to be looked for behind the same key in the next. */
struct telemetry_guess {
    uint64_t text, mask; /* `key=` as eight bytes, and which of them it has; no key is 1, 0 */
    struct telemetry_guess *next; /* what followed this key */
    uint32_t bit;                 /* as in report.has */
    uint16_t number;              /* where in struct report its plain number goes, 0: it has none */
    uint8_t key, len;
    uint8_t digits; /* a number of no more digits is surely within its bound */
};

/* Not to be copied: it points into itself. */
struct telemetry {
    event_sink *sink;
    void *context;
    struct telemetry_tally tally;
    uint32_t unwanted; /* keys of reports that nobody wants */
    /* the line still open */
    size_t len;
    bool overlong;
    char line[LINE_BYTES_MAX + 2];
    /* what the lines so far have shown */
    bool fresh;     /* nothing seen since the connection: the next line may lack its head */
    bool checksums; /* a checksummed line has been seen: one without is damage */
    char fw[2][32]; /* of the last id line of either end, cut to fit; [1] is the transmitter's */
    struct telemetry_base base;
    struct telemetry_base before;  /* the good report before that one */
    struct telemetry_base doubted; /* the newest report refused for its counters, */
    unsigned doubts;               /* and how many such in a row agree with one another */
    enum telemetry_amends amends;  /* what a report that is believed in spite of the base amends */
    struct telemetry_shape shape, shape_before, shape_doubted; /* of the same three reports */
    struct telemetry_packets packets;
    uint16_t id_crc[2], id_doubted[2]; /* of the id lines without a checksum of either end: the last
                                          good one, and the last refused for being another */
    bool id_known[2];
    enum plausible fits; /* of the report being judged */
    bool wary;           /* bytes or values were seen that nobody sent: others may be wrong too */
    struct telemetry_guess guess[REPORT_KEYS + 1]; /* what followed each key; the last: the first */
    struct scan scan;                              /* of the line being judged */
    char scratch[LINE_BYTES_MAX + 8];              /* where `extra` is put together */
};

/* Starts with nothing seen; sink gets every event, with context. */
void telemetry_init(struct telemetry *t, event_sink *sink, void *context);

/* Whoever needs only some keys of reports says so (bits as in report.has): the values of the others
 * are passed over unread in lines whose checksum holds, and the report hasn't them. */
void telemetry_want(struct telemetry *t, uint32_t keys);

/* Takes len bytes that one read brought at host_us (or TIME_UNKNOWN). */
void telemetry_feed(struct telemetry *t, const char *bytes, size_t len, int64_t host_us);

/* No more bytes: a line still open is good only if its checksum holds. */
void telemetry_end(struct telemetry *t, int64_t host_us);

/* A new connection on the same stream: ends the open line, and the next may lack its head. */
void telemetry_rejoin(struct telemetry *t, int64_t host_us);

/* CRC-16/IBM-3740 over len bytes, continued from crc (0xFFFF to begin).  Parameters and the check
 * value 29B1 for "123456789": CRC RevEng catalogue. */
uint16_t telemetry_crc(uint16_t crc, const char *bytes, size_t len);

#endif
