/* What the bench knows at one moment: the one struct that the console, the figures and the tests
 * read.  Counts, not shares; times in ms of link time (from the first report of the run) unless the
 * name says otherwise; TIME_UNKNOWN where unknown. */
#ifndef LINK_SNAPSHOT_H
#define LINK_SNAPSHOT_H

#include <stdbool.h>
#include <stdint.h>

#include "base/clock.h"
#include "telemetry/event.h"

enum {
    FAILSAFE_EVENTS_MAX = 256, /* kept in full; later ones are only counted */
    RESTARTS_MAX = 256,        /* likewise */
    LOG_ENTRIES_MAX = 128,
    RECENT_SECONDS = 60, /* one cell a second in the strip */
    NAME_MAX_BYTES = 24,
};

enum link_state {
    STATE_NO_LINES,    /* nothing arrives on the cable */
    STATE_NO_REPORTS,  /* lines arrive, but no new report: what is shown is old */
    STATE_NEVER_HEARD, /* lines, but no packet yet since the receiver's boot */
    STATE_LINKED,
    STATE_LOSSY,    /* linked, loss over 10 s above the limit */
    STATE_OUTAGE,   /* no packet for longer than the outage limit */
    STATE_FAILSAFE, /* the receiver says so */
    STATE_LOCKED,   /* outputs locked until the throttle is seen low */
    STATE_UNKNOWN,  /* lines that don't tell */
    LINK_STATES
};
const char *link_state_name(enum link_state state); /* "no lines", ... */

/* On what the packet counts rest, weakest first. */
enum evidence {
    EVIDENCE_NONE,
    EVIDENCE_RATE,     /* growth of got against the nominal rate */
    EVIDENCE_SEQUENCE, /* got against seq */
    EVIDENCE_COUNTERS, /* got and lost */
    EVIDENCE_PATTERN,  /* pat */
};
const char *evidence_name(enum evidence evidence); /* "none", "rate", "sequence", ... */

/* Packets of some span of time.  `lost` is meaningless while known is false. */
struct packet_count {
    uint64_t got, lost;
    bool known;
    /* The mean loss of the time observed, 95 %, by loss runs; with few of them high alone. */
    bool high_known, low_known;
    double low, high; /* shares */
};

struct second_cell { /* one of the recent seconds */
    uint32_t got, lost;
    bool observed; /* some report covered it */
    bool silent;   /* it lies in an outage longer than the limit */
};

/* A time that is known only to lie between two reports; both TIME_UNKNOWN where it isn't known. */
struct time_bounds {
    int64_t low_ms, high_ms;
};

struct failsafe_event {
    struct time_bounds enter, leave; /* leave: unknown while it lasts or where unseen */
    bool unseen; /* known from the entry counter alone: entered and left between two reports */
    int64_t packet_ms;           /* the last packet before it, TIME_UNKNOWN where not known */
    struct time_bounds throttle; /* the throttle's output came to idle after that packet; unknown
                                    where it was idle already, or nobody said which one it is */
    struct time_bounds again;    /* the first packet after entering */
};

enum restart_kind {
    RESTART_RECEIVER,
    RESTART_OPENING, /* of the receiver, by our opening the port */
    RESTART_TRANSMITTER,
    RESTART_RADIO, /* the radio lost its settings while the receiver ran on: its supply */
};

struct restart {
    enum restart_kind kind;
    enum boot_cause cause; /* of the receiver's */
    int64_t at_ms;         /* when it was seen */
};

struct channel_state {
    char name[NAME_MAX_BYTES]; /* from the model file or the wire; "ch1" where neither says */
    bool present;              /* in the newest report */
    int32_t value;             /* or CHANNEL_OFF */
    bool has_input;            /* `in` is there */
    int32_t input;
    bool ends_known;
    int32_t low, high;  /* least and greatest value of the run */
    uint64_t reports;   /* with a value */
    uint64_t changes;   /* reports whose value differs from the one before */
    double changes_hz;  /* over the last 10 s of reports; negative while unknown */
    bool rest_known;    /* a block of 32 reports within 40 units has been seen */
    double rest;        /* where it spent most of its blocks at rest */
    double noise;       /* standard deviation within such blocks, pooled over the run */
    int32_t noise_peak; /* greatest peak to peak within one */
    bool steps_known;   /* no value lay outside 0..4095 */
    uint32_t steps;     /* distinct values */
    bool partner_known; /* at least four blocks at rest together with another that isn't constant */
    uint32_t partner;   /* the channel, from 0, whose noise goes most with this one's: */
    double correlation; /* Pearson's coefficient */
};

enum alarm {
    ALARM_FAILSAFE,
    ALARM_OUTAGE,
    ALARM_LOSS,
    ALARM_SUPPLY,
    ALARM_RECEIVER_RESTART,
    ALARM_TRANSMITTER_RESTART,
    ALARM_RADIO, /* registers read back wrong */
    ALARM_NO_LINES,
    ALARM_NO_REPORTS,
    ALARM_PORT,
    ALARMS
};
const char *alarm_name(enum alarm alarm); /* for people and for the command run on alarm */

enum log_entry_kind {
    LOG_ENTRY_PORT_OPENED,
    LOG_ENTRY_PORT_LOST,
    LOG_ENTRY_PORT_BACK,
    LOG_ENTRY_PORT_LET_GO,
    LOG_ENTRY_PORT_TAKEN,
    LOG_ENTRY_SLEPT,
    LOG_ENTRY_FIRST_PACKET,
    LOG_ENTRY_OUTAGE_BEGAN,
    LOG_ENTRY_OUTAGE_ENDED,     /* a: length, ms */
    LOG_ENTRY_FAILSAFE_ENTERED, /* a: entries; b: 1 when the last was left again unseen */
    LOG_ENTRY_FAILSAFE_LEFT,    /* a: length, ms */
    LOG_ENTRY_LOCKED,
    LOG_ENTRY_UNLOCKED,
    LOG_ENTRY_RECEIVER_RESTART, /* a: enum boot_cause; b: 1 our own opening, 2 a first start */
    LOG_ENTRY_TRANSMITTER_RESTART,
    LOG_ENTRY_UPTIME_WRAPPED,
    LOG_ENTRY_CLOCK_STEP,    /* the receiver's clock went back, its counters ran on */
    LOG_ENTRY_LINES_MISSING, /* a: how many */
    LOG_ENTRY_DAMAGE,        /* a: enum damage_reason; b: lines in a row */
    LOG_ENTRY_REGISTERS,     /* a: enum radio_registers, now */
    LOG_ENTRY_REINIT,
    LOG_ENTRY_SUPPLY_DIP, /* a: mV */
    LOG_ENTRY_POWER_STEP, /* a: step, b: steps; text: not empty when below full power */
    LOG_ENTRY_FIRMWARE,   /* text: fw */
    LOG_ENTRY_SAY,        /* text, printable only */
    LOG_ENTRY_MARK,       /* a: enum mark_type, b: distance in cm or -1; text */
    LOG_ENTRY_CROWDED,    /* a: percent of the serial speed that lines fill, b: that speed */
    LOG_ENTRY_ALARM,      /* a: enum alarm; b: 1 raised, 0 cleared */
    LOG_ENTRY_KINDS
};

struct log_entry {
    enum log_entry_kind kind;
    int64_t at_ms; /* link time, or TIME_UNKNOWN */
    int64_t host_us;
    int64_t a, b;
    char text[64]; /* printable, cut to fit: ASCII, or UTF-8 of a mark */
};

struct snapshot {
    /* time */
    int64_t link_ms;      /* of the newest report; TIME_UNKNOWN before it or with no clock at all */
    int64_t now_ms;       /* link time reached, ticks included; at least link_ms */
    bool link_time_rough; /* rests on the host's clock: reports have no t */
    bool live;            /* host times are known */
    int64_t lines_age_ms; /* since the last line by the host's clock, or TIME_UNKNOWN */
    int64_t reports_age_ms; /* since the newest new report likewise: one whose n and t moved on */
    bool reports_repeat;    /* reports came since, but repeat their n or their t */
    int64_t uptime_ms;      /* receiver's own, of the newest report */

    enum link_state state;
    enum evidence evidence;
    bool heard;     /* a packet has been received in this run */
    bool bare;      /* only lines of bare numbers so far */
    double rate_hz; /* nominal, from model file or id; 0 unknown */
    bool got_told;  /* the newest report has got */
    bool acked;     /* ack=1: loss is after retries */

    /* packets; of the last seconds nothing is known while no packet or no new report comes */
    struct packet_count total, last_10s, last_1s;
    bool not_steady; /* for who has asked bench_measure: total's interval would mean nothing */
    const char
        *lost_why; /* why `lost` isn't known though packets are counted; NULL: see unknown.h */
    bool seqmod_assumed;     /* the lines don't tell the modulus of seq; this was taken: */
    uint32_t seqmod;         /* 0 for 2^32 */
    uint64_t lost_estimated; /* in gaps longer than the sequence number lasts; not in lost */
    uint64_t refused;        /* by the radio's payload checks */
    bool refused_known;
    uint64_t unsent; /* outages of which nobody knows how many packets were sent: too few were
                        received or told as lost.  The transmitter may have been off */
    uint64_t unseen; /* reports before whose packets there were others that no report told of:
                        neither in got nor in lost */
    uint64_t order_unknown; /* of got + lost: order in time unknown (cable holes, full patterns) */
    int64_t outage_ms;      /* since the last packet, as of now; TIME_UNKNOWN before the first */
    uint64_t outstanding;   /* packets expected in that outage, by the rate; never in the totals */
    bool outstanding_known;
    struct second_cell recent[RECENT_SECONDS]; /* [RECENT_SECONDS-1] is the newest */

    /* outages between two packets that are longer than the limit */
    uint64_t outages;
    uint64_t outages_unsure; /* may have been as long: the reports don't tell; not in outages */
    int64_t outage_limit_ms;
    int64_t longest_gap_ms; /* closed or still open; TIME_UNKNOWN while unknown */
    int64_t longest_low_ms; /* no less than this, by the resolution of the reports */
    int64_t longest_at_ms;  /* when it began */
    bool silent_at_end;     /* the newest outage is longer than the limit and still open */

    /* lines */
    uint64_t lines_good, lines_damaged, lines_missing;
    uint64_t holes;   /* between two reports, lines missing or damaged in between */
    int64_t holes_ms; /* the time that they span: what happened in it is known by counters alone */
    bool missing_known; /* reports carry n */
    uint64_t damaged[DAMAGE_REASONS];
    uint64_t bytes_good, bytes_damaged;
    uint64_t reports, unknown_words, unknown_keys;
    double line_hz;   /* reports a second over the last 10 s; 0 unknown */
    double byte_hz;   /* bytes a second on the cable, the same */
    uint32_t speed;   /* of the port, bits a second; 0 unknown */
    double load_peak; /* greatest share of it that lines filled over 10 s; negative unknown */

    /* restarts */
    uint64_t receiver_restarts, opening_restarts, transmitter_restarts, uptime_wraps, clock_steps;
    uint64_t restarts_by_cause[5]; /* enum boot_cause; no boot line counts as BOOT_UNKNOWN */
    uint32_t restart_count;
    const struct restart *restarts;
    uint64_t port_losses;
    bool transmitter_restarts_known; /* reports carry seq or tboot */

    /* failsafe */
    bool failsafe_known, failsafe, lock_known, locked;
    uint64_t failsafe_entries; /* of this run */
    uint32_t failsafe_count;   /* of failsafe_events */
    const struct failsafe_event *failsafe_events;

    /* supply and radio */
    bool supply_known, supply_min_known, transmitter_supply_known, step_known;
    int32_t supply_mv, supply_low_mv; /* now, by mv; the least that the run told (mv, mvmin) */
    int64_t supply_low_at_ms;         /* when that was */
    int32_t transmitter_mv, transmitter_low_mv;
    uint32_t step, steps;
    uint32_t
        full_step; /* the step that is full power: the model file's, else the last of the steps */
    bool rssi_known;
    int32_t rssi_dbm;
    bool registers_known;
    enum radio_registers registers;
    uint64_t registers_forgotten; /* reports with reg=default */
    uint64_t settings_lost;       /* how often that began while the receiver ran on */
    bool heard_known, noise_known;
    uint64_t heard_hits, heard_looks, noise_hits, noise_looks; /* of the last 10 s */

    /* channels */
    uint32_t channel_count; /* greatest seen in the run */
    bool raw_unit;
    int32_t span_low, span_high; /* to draw within: id, else what was seen, at least 1000..2000 */
    bool span_known;             /* the id line told it */
    struct channel_state channel[CHANNELS_MAX];

    bool alarm[ALARMS]; /* raised now */

    char firmware[32];  /* of the receiver's id; empty unknown */
    uint32_t mhz, kbps; /* of the receiver's id; 0 unknown */

    /* newest last: log_entry[(log_entries - 1) % LOG_ENTRIES_MAX] is the newest */
    uint64_t log_entries;
    const struct log_entry *log_entry;
};

#endif
