/* What a bench is made of; private to link/. */
#ifndef LINK_PARTS_H
#define LINK_PARTS_H

#include "link/alarms.h"
#include "link/bench.h"
#include "link/bursts.h"
#include "link/channels.h"
#include "link/failsafe.h"
#include "link/jitter.h"
#include "link/lines.h"
#include "link/log_entries.h"
#include "link/moment.h"
#include "link/outage.h"
#include "link/outages.h"
#include "link/packets.h"
#include "link/regular.h"
#include "link/runs.h"
#include "link/steady.h"
#include "link/timeline.h"
#include "link/window.h"
#include "stat/counts.h"
#include "telemetry/counters.h"

struct bench {
    struct bench_limits limits;
    struct moment moment; /* what the newest event meant */

    struct timeline timeline;
    struct packets packets;
    struct window window;
    struct outage outage;
    struct failsafe failsafe;
    struct channels channels;
    struct lines lines;
    struct alarms alarms;
    struct log_entries log_entries;

    /* the figures of the standards; measure.c reads them */
    struct loss_runs loss_runs;
    struct loss_counts counts;
    struct runs runs;
    struct bursts bursts;
    struct jitter jitter;
    struct regular regular;
    struct outages outages;
    struct steady steady;

    /* the newest report */
    bool have_report;
    struct telemetry_base last;   /* what it leaves behind for the next, */
    struct telemetry_base before; /* and the report before it */
    bool report_low_known;        /* it told of the supply: */
    int32_t report_low_mv;        /* the lowest that it told */
    bool fresh_boot;              /* a boot began whose first report is still to come */
    bool heard_boot, heard_run;
    uint64_t unsent; /* outages of which nobody knows how many packets were sent */
    uint64_t holes;
    int64_t holes_ms;

    /* the port and the host's clock */
    int64_t now_us;      /* newest host time; TIME_UNKNOWN in a capture without */
    int64_t line_us;     /* of the newest line, or of the opening */
    bool lines_gone;     /* none for longer than the limit */
    int64_t report_us;   /* of the newest new report, or of the opening */
    bool reports_gone;   /* none for longer than that limit, though one came before */
    bool reports_repeat; /* since it, reports came that repeat their n or t */
    bool port_away;      /* lost or let go */
    int64_t opened_us;   /* when the port was opened, while its first line is still to come */
    bool opening_counts; /* that opening may restart the board */
    uint64_t port_losses;
    uint32_t speed;   /* of the port, bits a second; 0 unknown */
    double load_peak; /* greatest share of it filled over 10 s */
    bool load_told;

    /* restarts */
    bool boot_seen;
    uint64_t receiver_restarts, opening_restarts, transmitter_restarts;
    uint64_t by_cause[5];
    bool transmitter_restarts_known;
    uint32_t restart_count;
    struct restart restarts[RESTARTS_MAX];

    /* facts of the id line */
    double id_rate_hz;
    bool acked, raw_unit, span_known;
    int32_t span_low, span_high;
    char firmware[32];
    uint32_t mhz, kbps;

    /* supply and radio */
    bool supply_known, supply_low_known, supply_min_known, dip_open;
    int32_t supply_mv, supply_low_mv, supply_high_mv;
    int64_t supply_mean_16; /* slow mean, in sixteenths of mV */
    bool transmitter_supply_known, step_known, rssi_known, registers_known, refused_known;
    int32_t transmitter_mv, transmitter_low_mv, rssi_dbm;
    uint32_t step, steps;
    uint32_t registers;
    uint64_t registers_forgotten, settings_lost, refused;
    int64_t supply_low_at_ms;
    uint32_t reinit_base, refused_base;
    bool reinit_based, refused_based;
    bool lock_known, locked;
    int64_t judged_cell; /* window cell at which loss was last judged */
    bool lossy;
    char names[CHANNELS_MAX][NAME_MAX_BYTES]; /* that a bare line gave */
};

/* The rest of what one report says: lock, supply, transmitter, radio.  In radio.c. */
void bench_take_radio(struct bench *b, const struct report *r, int64_t link_ms);
void bench_take_refused(struct bench *b, const struct report *r); /* one that has it */
uint32_t bench_full_step(const struct bench *b, uint32_t steps);  /* the power step that is full */

/* Loss judged, alarms raised and cleared, at link_ms; not in a light bench.  In judge.c. */
void bench_judge(struct bench *b, int64_t link_ms);
enum link_state bench_state(const struct bench *b);
bool bench_reports_come(const struct bench *b);    /* new ones: what is known is of now */
bool bench_sees_packets(const struct bench *b);    /* new reports come, and packets with them */
int32_t bench_supply_limit(const struct bench *b); /* mV, 0 none */

/* Whether what was counted tells the loss.  In snapshot.c. */
bool bench_loss_known(const struct bench *b);
/* The interval of the mean loss, 95 %, as bench_measure gives it, whether or not the loss was
 * steady; false where there is none.  In measure.c. */
bool bench_loss_limits(const struct bench *b, struct stat_interval *out);
/* At the newest report the last packet was longer ago than the limit; in a light bench too. */
bool bench_outage_open(const struct bench *b);

/* Keeps a restart with its time. */
void bench_restarted(struct bench *b, enum restart_kind kind, enum boot_cause cause, int64_t at_ms);

void bench_happen(struct bench *b, enum log_entry_kind kind, int64_t at_ms, int64_t a_value,
                  int64_t b_value, struct slice text);

#endif
