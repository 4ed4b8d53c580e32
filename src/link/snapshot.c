#include "link/snapshot.h"

#include <stdio.h>
#include <string.h>

#include "base/whole.h"
#include "link/parts.h"
#include "stat/loss.h"

const char *link_state_name(enum link_state state) {
    static const char *const names[LINK_STATES] = {
        [STATE_NO_LINES] = "no lines",
        [STATE_NO_REPORTS] = "no reports",
        [STATE_NEVER_HEARD] = "no packets yet",
        [STATE_LINKED] = "linked",
        [STATE_LOSSY] = "lossy",
        [STATE_OUTAGE] = "outage",
        [STATE_FAILSAFE] = "failsafe",
        [STATE_LOCKED] = "locked",
        [STATE_UNKNOWN] = "unknown",
    };
    return names[state];
}

const char *evidence_name(enum evidence evidence) {
    static const char *const names[] = {
        [EVIDENCE_NONE] = "none",         [EVIDENCE_RATE] = "rate",
        [EVIDENCE_SEQUENCE] = "sequence", [EVIDENCE_COUNTERS] = "counters",
        [EVIDENCE_PATTERN] = "pattern",
    };
    return names[evidence];
}

const char *alarm_name(enum alarm alarm) {
    static const char *const names[ALARMS] = {
        [ALARM_FAILSAFE] = "failsafe",
        [ALARM_OUTAGE] = "outage",
        [ALARM_LOSS] = "loss",
        [ALARM_SUPPLY] = "supply",
        [ALARM_RECEIVER_RESTART] = "receiver restart",
        [ALARM_TRANSMITTER_RESTART] = "transmitter restart",
        [ALARM_RADIO] = "radio registers",
        [ALARM_NO_LINES] = "no lines",
        [ALARM_NO_REPORTS] = "no reports",
        [ALARM_PORT] = "port gone",
    };
    return names[alarm];
}

/* Of a picture the bounds of the losses take the longest. */
static void keep_bounds(struct packet_count *count, const struct packet_count *before) {
    if (!count->known || count->lost == 0)
        return;
    count->low_known = before->low_known;
    count->high_known = before->high_known;
    count->low = before->low;
    count->high = before->high;
}

static void bound(struct packet_count *count, const struct loss_runs *runs) {
    struct loss_interval interval;
    stat_loss_interval(runs, 0.95, &interval);
    count->high_known = count->low_known = interval.kind == LOSS_RUNS;
    count->low = interval.low;
    count->high = interval.high;
}

bool bench_loss_known(const struct bench *b) {
    return b->packets.counted && packets_lack(&b->packets) == NULL;
}

/* Into a cleared count, so that no byte between its members is left to chance. */
static void span_count(const struct bench *b, int64_t span_ms, bool intervals,
                       struct packet_count *count) {
    struct window_cell sum = window_sum(&b->window, span_ms);
    struct loss_runs runs;
    count->got = sum.got;
    count->lost = sum.lost;
    count->known = bench_loss_known(b) && bench_sees_packets(b);
    if (intervals && count->known && sum.lost > 0 &&
        window_runs(&b->window, count->got + count->lost, &runs))
        bound(count, &runs);
}

static void run_count(const struct bench *b, bool intervals, struct packet_count *count) {
    count->got = b->packets.got;
    count->lost = b->packets.lost;
    count->known = bench_loss_known(b);
    if (!count->known)
        count->got += b->packets.aliased_got;
    struct stat_interval limits;
    if (!intervals || !bench_loss_limits(b, &limits))
        return;
    count->high_known = count->low_known = true;
    count->low = limits.low;
    count->high = limits.high;
}

static void read_time(const struct bench *b, struct snapshot *s) {
    s->link_ms = b->timeline.link_ms;
    s->now_ms = timeline_at(&b->timeline, b->now_us);
    s->link_time_rough = b->timeline.rough;
    s->live = b->now_us != TIME_UNKNOWN;
    s->lines_age_ms =
        s->live && b->line_us != TIME_UNKNOWN ? (b->now_us - b->line_us) / 1000 : TIME_UNKNOWN;
    s->reports_age_ms =
        s->live && b->report_us != TIME_UNKNOWN ? (b->now_us - b->report_us) / 1000 : TIME_UNKNOWN;
    s->reports_repeat = b->reports_repeat;
    bool uptime = b->have_report && (b->last.has >> KEY_T & 1u) != 0;
    s->uptime_ms = uptime ? (int64_t)b->last.t_ms : TIME_UNKNOWN;
}

static void read_packets(const struct bench *b, struct snapshot *s, bool intervals) {
    s->evidence = b->packets.evidence;
    s->rate_hz = b->packets.rate_hz;
    s->got_told = (b->last.has >> KEY_GOT & 1u) != 0;
    s->acked = b->acked;
    s->heard = b->heard_run;
    s->bare = b->have_report && b->last.has == 1u << KEY_CH;
    run_count(b, intervals, &s->total);
    span_count(b, 10000, intervals, &s->last_10s);
    span_count(b, 1000, false, &s->last_1s); /* some 45 packets: an interval would only flicker */
    s->lost_why = packets_lack(&b->packets);
    s->seqmod_assumed = b->packets.evidence == EVIDENCE_SEQUENCE && b->packets.seqmod_assumed;
    s->seqmod = b->packets.seqmod;
    s->lost_estimated = b->packets.estimated;
    s->order_unknown = b->packets.order_unknown;
    s->unseen = b->packets.unseen;
    s->unsent = b->unsent;
    s->refused = b->refused;
    s->refused_known = b->refused_known;
}

/* Within a second of a report the host's clock carries the outage on; beyond it nobody knows. */
static void read_outage(const struct bench *b, struct snapshot *s) {
    enum { CARRY_MS = 1000 };
    s->outage_ms = TIME_UNKNOWN;
    bool known = bench_reports_come(b) || b->outage.open; /* one that was open lasted so long */
    if (known && b->outage.good_ms != TIME_UNKNOWN && s->link_ms != TIME_UNKNOWN) {
        int64_t until = s->now_ms - s->link_ms < CARRY_MS ? s->now_ms : s->link_ms;
        s->outage_ms = until - b->outage.good_ms;
        s->outstanding_known = s->rate_hz > 0;
        s->outstanding = whole_u64((double)s->outage_ms * s->rate_hz / 1000.0);
    }
    s->outages = b->outage.outages;
    s->outages_unsure = b->outage.unsure;
    s->outage_limit_ms = b->outage.limit_ms;
    outage_longest(&b->outage, &s->longest_low_ms, &s->longest_gap_ms, &s->longest_at_ms);
    s->silent_at_end = b->outage.open;
    window_seconds(&b->window, s->recent);
    if (b->outage.open) {
        int64_t seconds = (b->outage.report_ms - b->outage.good_ms) / 1000;
        for (int64_t i = 0; i <= seconds && i < RECENT_SECONDS; i++)
            s->recent[RECENT_SECONDS - 1 - i].silent = true;
    }
}

static void read_lines(const struct bench *b, struct snapshot *s) {
    s->lines_good = b->lines.good;
    s->lines_damaged = b->lines.damaged;
    s->lines_missing = b->lines.missing;
    s->holes = b->holes;
    s->holes_ms = b->holes_ms;
    s->missing_known = b->lines.missing_known;
    memcpy(s->damaged, b->lines.by_reason, sizeof s->damaged);
    s->bytes_good = b->lines.bytes_good;
    s->bytes_damaged = b->lines.bytes_damaged;
    s->reports = b->lines.reports;
    s->unknown_words = b->lines.unknown_words;
    s->unknown_keys = b->lines.unknown_keys;
    s->receiver_restarts = b->receiver_restarts;
    s->opening_restarts = b->opening_restarts;
    s->transmitter_restarts = b->transmitter_restarts;
    bool only_seq = !b->packets.tboot_known; /* which tells nothing where it falls anyhow */
    s->transmitter_restarts_known =
        b->transmitter_restarts_known && !(only_seq && b->packets.seqmod_wrong);
    s->uptime_wraps = b->timeline.wraps;
    s->clock_steps = b->timeline.steps;
    memcpy(s->restarts_by_cause, b->by_cause, sizeof s->restarts_by_cause);
    s->restart_count = b->restart_count;
    s->restarts = b->restarts;
    s->port_losses = b->port_losses;
}

static void read_windows(const struct bench *b, struct snapshot *s) {
    struct window_cell sum = window_sum(&b->window, 10000);
    double seconds = (double)window_covered(&b->window, 10000) / 1000.0;
    if (seconds >= 1) {
        s->line_hz = sum.reports / seconds;
        s->byte_hz = sum.bytes / seconds;
    }
    s->speed = b->speed;
    s->load_peak = b->load_peak > 0 ? b->load_peak : -1;
    s->heard_known = sum.heard_looks > 0;
    s->noise_known = sum.noise_looks > 0;
    s->heard_hits = sum.heard_hits;
    s->heard_looks = sum.heard_looks;
    s->noise_hits = sum.noise_hits;
    s->noise_looks = sum.noise_looks;
}

static void read_radio(const struct bench *b, struct snapshot *s) {
    s->supply_known = b->supply_known;
    s->supply_min_known = b->supply_min_known;
    s->supply_mv = b->supply_mv;
    s->supply_low_mv = b->supply_low_mv;
    s->supply_low_at_ms = b->supply_low_at_ms;
    s->transmitter_supply_known = b->transmitter_supply_known;
    s->transmitter_mv = b->transmitter_mv;
    s->transmitter_low_mv = b->transmitter_low_mv;
    s->step_known = b->step_known;
    s->step = b->step;
    s->steps = b->steps;
    s->full_step = bench_full_step(b, b->steps);
    s->rssi_known = b->rssi_known;
    s->rssi_dbm = b->rssi_dbm;
    s->registers_known = b->registers_known;
    s->registers = (enum radio_registers)b->registers;
    s->registers_forgotten = b->registers_forgotten;
    s->settings_lost = b->settings_lost;
    s->lock_known = b->lock_known;
    s->locked = b->locked;
    memcpy(s->firmware, b->firmware, sizeof s->firmware);
    s->mhz = b->mhz;
    s->kbps = b->kbps;
}

static void read_channels(const struct bench *b, struct snapshot *s) {
    double seconds = (double)window_covered(&b->window, 10000) / 1000.0;
    uint64_t changes[CHANNELS_MAX] = {0};
    window_changes(&b->window, 10000, changes);
    s->channel_count = b->channels.count;
    s->raw_unit = b->raw_unit;
    channels_read(&b->channels, s->channel);
    s->span_known = b->span_known;
    s->span_low = b->span_known ? b->span_low : 1000;
    s->span_high = b->span_known ? b->span_high : 2000;
    for (uint32_t i = 0; i < CHANNELS_MAX; i++) {
        struct channel_state *c = &s->channel[i];
        c->changes_hz = seconds >= 1 ? (double)changes[i] / seconds : -1;
        const char *name =
            b->limits.channel_name[i][0] != '\0' ? b->limits.channel_name[i] : b->names[i];
        if (name[0] != '\0')
            memcpy(c->name, name, NAME_MAX_BYTES);
        else
            snprintf(c->name, sizeof c->name, "ch%u", i + 1);
        if (b->span_known || !c->ends_known)
            continue;
        s->span_low = c->low < s->span_low ? c->low : s->span_low;
        s->span_high = c->high > s->span_high ? c->high : s->span_high;
    }
}

static void read_all(const struct bench *b, struct snapshot *s, bool intervals) {
    memset(s, 0, sizeof *s);
    read_time(b, s);
    s->state = bench_state(b);
    read_packets(b, s, intervals);
    read_outage(b, s);
    read_lines(b, s);
    read_windows(b, s);
    read_radio(b, s);
    read_channels(b, s);
    s->failsafe_known = b->failsafe.known;
    s->failsafe = b->failsafe.active;
    s->failsafe_entries = b->failsafe.entries;
    s->failsafe_count = b->failsafe.count;
    s->failsafe_events = b->failsafe.event;
    for (int i = 0; i < ALARMS; i++)
        s->alarm[i] = b->alarms.state[i].raised;
    s->log_entries = b->log_entries.count;
    s->log_entry = b->log_entries.ring;
}

void bench_read(const struct bench *b, struct snapshot *s) {
    read_all(b, s, true);
}

void bench_glance(const struct bench *b, struct snapshot *s) {
    read_all(b, s, false);
}

void bench_read_on(const struct bench *b, struct snapshot *s) {
    const struct packet_count total = s->total, last_10s = s->last_10s;
    bench_glance(b, s);
    keep_bounds(&s->total, &total);
    keep_bounds(&s->last_10s, &last_10s);
}
