#include "link/parts.h"

#include <stdlib.h>
#include <string.h>

#include "base/number.h"
#include "base/whole.h"

static const struct slice no_text = {"", 0};

enum {
    OPENING_EARLY_US = 500000, /* a boot up to this long before the opening returned, */
    OPENING_LATE_US = 3000000, /* or this long after it, boot loader included, is the opening's */
};

void bench_limits_default(struct bench_limits *limits) {
    memset(limits, 0, sizeof *limits);
    limits->outage_ms = 100;
    limits->lossy_share = 0.05;
    limits->no_lines_ms = 2000;
    limits->opening_restarts = true;
}

struct bench *bench_new(const struct bench_limits *limits) {
    struct bench *b = calloc(1, sizeof *b);
    if (b == NULL)
        return NULL;
    b->limits = *limits;
    timeline_init(&b->timeline);
    packets_init(&b->packets);
    window_init(&b->window);
    outage_init(&b->outage);
    failsafe_init(&b->failsafe);
    channels_init(&b->channels);
    lines_init(&b->lines);
    alarms_init(&b->alarms);
    runs_init(&b->runs, NULL, NULL);
    bursts_init(&b->bursts, BURSTS_GMIN);
    jitter_init(&b->jitter);
    regular_init(&b->regular);
    outages_init(&b->outages);
    steady_init(&b->steady);
    b->now_us = b->line_us = b->report_us = b->opened_us = TIME_UNKNOWN;
    b->judged_cell = INT64_MIN;
    return b;
}

void bench_free(struct bench *b) {
    free(b);
}

void bench_happen(struct bench *b, enum log_entry_kind kind, int64_t at_ms, int64_t a_value,
                  int64_t b_value, struct slice text) {
    log_entries_add(&b->log_entries, kind, at_ms, b->now_us, a_value, b_value, text);
}

void bench_restarted(struct bench *b, enum restart_kind kind, enum boot_cause cause,
                     int64_t at_ms) {
    if (b->restart_count < RESTARTS_MAX)
        b->restarts[b->restart_count++] = (struct restart){kind, cause, at_ms};
}

static int64_t link_now(const struct bench *b) {
    return timeline_at(&b->timeline, b->now_us);
}

static void judge_now(struct bench *b) {
    if (!b->limits.light) /* which raises no alarms, so that the time needn't be worked out */
        bench_judge(b, link_now(b));
}

/* The rate and all that rests on it: an outage is at least three packets long. */
static void settle_rate(struct bench *b) {
    double rate = b->limits.rate_hz > 0 ? b->limits.rate_hz : b->id_rate_hz;
    packets_rate(&b->packets, rate);
    int64_t limit = b->limits.outage_ms;
    if (rate > 0 && 3000.0 / rate > (double)limit)
        limit = whole_i64(3000.0 / rate);
    b->outage.limit_ms = limit;
}

static void line_came(struct bench *b, const struct event *e) {
    if (e->host_us != TIME_UNKNOWN)
        b->line_us = e->host_us;
    b->lines_gone = false;
}

/* --- restarts --------------------------------------------------------------------------------- */

/* Whether a boot that began at boot_us is what opening the port did. */
static bool by_opening(const struct bench *b, int64_t boot_us) {
    return b->opening_counts && b->opened_us != TIME_UNKNOWN && boot_us != TIME_UNKNOWN &&
           boot_us >= b->opened_us - OPENING_EARLY_US && boot_us <= b->opened_us + OPENING_LATE_US;
}

static void outage_happened(struct bench *b, const struct outage_step *step) {
    if (!step->ended)
        return;
    b->moment.outage = *step;
    outages_add(&b->outages, step->low_ms, step->high_ms);
    bench_happen(b, LOG_ENTRY_OUTAGE_ENDED, step->from_ms + step->high_ms, step->high_ms,
                 step->low_ms, no_text);
}

bool bench_outage_open(const struct bench *b) {
    int64_t good_ms = b->packets.good_ms, now_ms = b->timeline.link_ms;
    return good_ms != TIME_UNKNOWN && now_ms != TIME_UNKNOWN &&
           now_ms - good_ms > b->outage.limit_ms;
}

/* What the boot before held is closed; the counters of the next report are all ours. */
static void begin_boot(struct bench *b) {
    b->unsent += bench_outage_open(b); /* what was lost in it no report told */
    struct outage_step step = outage_restart(&b->outage);
    outage_happened(b, &step);
    failsafe_restart(&b->failsafe);
    stat_loss_break(&b->loss_runs);
    runs_break(&b->runs);
    bursts_break(&b->bursts);
    jitter_break(&b->jitter);
    regular_restart(&b->regular);
    b->fresh_boot = true;
    b->heard_boot = false;
    b->lock_known = false;
    b->reinit_based = b->refused_based = true;
    b->reinit_base = b->refused_base = 0;
}

static void count_restart(struct bench *b, enum boot_cause cause, bool opening, int64_t at_ms) {
    if (opening) {
        b->opening_restarts++;
    } else {
        b->receiver_restarts++;
        b->by_cause[cause]++;
        alarms_set(&b->alarms, ALARM_RECEIVER_RESTART, true, false, at_ms, 0);
    }
    b->moment.restarted = true;
    b->moment.by_opening = opening;
    b->moment.cause = cause;
    bench_restarted(b, opening ? RESTART_OPENING : RESTART_RECEIVER, cause, at_ms);
    bench_happen(b, LOG_ENTRY_RECEIVER_RESTART, at_ms, (int64_t)cause, opening ? 1 : 0, no_text);
}

static void take_boot(struct bench *b, const struct event *e) {
    lines_good(&b->lines, e);
    lines_boot(&b->lines);
    bool opening = by_opening(b, e->host_us);
    b->opened_us = TIME_UNKNOWN;
    if (opening || b->have_report || b->boot_seen)
        count_restart(b, e->boot.cause, opening, link_now(b));
    else
        bench_happen(b, LOG_ENTRY_RECEIVER_RESTART, TIME_UNKNOWN, (int64_t)e->boot.cause, 2,
                     no_text);
    b->boot_seen = true;
    begin_boot(b);
}

static int64_t boot_time(const struct report *r, int64_t host_us) {
    bool known = report_has(r, KEY_T) && host_us != TIME_UNKNOWN;
    return known ? host_us - (int64_t)r->t_ms * 1000 : TIME_UNKNOWN;
}

/* A boot that no boot line announced: one that the report shows, or that opening the port did. */
static void find_boot(struct bench *b, const struct report *r, int64_t host_us, bool shown) {
    bool opening = !b->fresh_boot && by_opening(b, boot_time(r, host_us));
    if (!b->fresh_boot && (shown || opening)) {
        count_restart(b, BOOT_UNKNOWN, opening, link_now(b));
        begin_boot(b);
    }
    if (!b->have_report && report_has(r, KEY_N) && r->n == 1)
        b->fresh_boot = true;
}

/* How a report follows what was there. */
static enum succession follow(struct bench *b, const struct report *r, int64_t host_us) {
    enum succession how = FOLLOWS;
    if (b->fresh_boot)
        how = FOLLOWS_RESTART;
    else if (b->have_report)
        how = counters_succession(&b->last, r, host_us);
    if (how == FOLLOWS_RESTART && !b->fresh_boot && counters_amend(&b->before, &b->last, r))
        how = FOLLOWS; /* the last was damaged */
    if (how == FOLLOWS_RESTART || !b->have_report)
        find_boot(b, r, host_us, how == FOLLOWS_RESTART);
    b->opened_us = TIME_UNKNOWN;
    return how;
}

/* --- reports ---------------------------------------------------------------------------------- */

/* What the interval of the loss rests on. */
static void take_loss_runs(struct loss_runs *r, const struct packet_step *step) {
    bool ordered = step->order_len + step->missing_before == step->got + step->lost;
    if (step->transmitter_restart)
        stat_loss_break(r);
    if (!ordered && step->lost == 0) {
        stat_loss_take(r, true, step->got);
        return;
    }
    if (!ordered || step->estimated > 0)
        stat_loss_break(r);
    if (step->missing_before > 0)
        stat_loss_take(r, false, step->missing_before);
    uint64_t order = step->order;
    bool arrived;
    for (uint32_t left = step->order_len, alike; (alike = bits_row(&order, &left, &arrived)) > 0;)
        stat_loss_take(r, arrived, alike);
}

/* Loss and its runs take the packets in their order. */
static void take_order(struct bench *b, const struct packet_step *step) {
    if (step->counted)
        stat_counts_take(&b->counts, step->got + step->lost, step->lost);
    if (packet_step_plain(step)) {
        stat_loss_take(&b->loss_runs, true, step->got);
        runs_arrived(&b->runs, step->got);
        return;
    }
    if (step->unseen) {
        stat_loss_break(&b->loss_runs);
        runs_break(&b->runs);
    }
    if (step->counted) {
        take_loss_runs(&b->loss_runs, step);
        runs_step(&b->runs, step);
    }
}

/* So do the other figures of the standards. */
static void take_standards(struct bench *b, const struct packet_step *step) {
    if (step->transmitter_restart)
        jitter_break(&b->jitter);
    if (step->unseen) {
        bursts_unknown(&b->bursts);
        jitter_break(&b->jitter);
    }
    if (step->counted)
        bursts_step(&b->bursts, step);
    if (step->arrived && step->counted && step->estimated == 0)
        jitter_packet(&b->jitter, step->good_ms, step->got + step->lost, b->packets.rate_hz);
    else if (step->arrived)
        jitter_break(&b->jitter);
}

/* Others came before these packets, of which nothing is known: their time isn't observed. */
static int64_t unseen_until(const struct bench *b, const struct packet_step *s, int64_t from_ms) {
    double packets = (double)(s->got + s->lost), rate = b->packets.rate_hz;
    double before = (double)(b->packets.got + b->packets.lost) - packets;
    double each_ms = rate > 0     ? 1000 / rate
                     : before > 0 ? (double)b->steady.observed_ms / before
                                  : 0;
    int64_t since_ms = s->good_ms - whole_i64(packets * each_ms);
    return since_ms > from_ms ? since_ms : from_ms;
}

/* Since when a step's packets were sent: from_ms is the newest packet before them.  After an outage
 * of which they are too few to have been sent all along, they lie just before the newest: a
 * transmitter that was off sent nothing, and nothing is known of the outage. */
static int64_t sent_from(struct bench *b, const struct packet_step *s, int64_t from_ms,
                         int64_t before_ms) {
    bool timed = from_ms != TIME_UNKNOWN && before_ms != TIME_UNKNOWN;
    if (s->unseen && timed)
        return unseen_until(b, s, from_ms);
    if (!s->arrived || !s->counted || !timed || before_ms - from_ms <= b->outage.limit_ms)
        return from_ms;
    double rate = b->packets.rate_hz;
    int64_t least_ms = rate > 0 ? whole_i64((double)(s->got + s->lost) * 1000 / rate) : 0;
    bool all = rate > 0 ? s->good_ms - from_ms <= 2 * least_ms : s->lost > 0;
    if (all)
        return from_ms;
    b->unsent += s->estimated == 0;
    return rate > 0 ? s->good_ms - least_ms : before_ms;
}

static void take_packets(struct bench *b, const struct report *r, int64_t before_ms, bool fresh,
                         bool hole) {
    int64_t link_ms = b->timeline.link_ms;
    int64_t from_ms = fresh ? TIME_UNKNOWN : b->packets.good_ms;
    if (from_ms == TIME_UNKNOWN)
        from_ms = before_ms;
    if (fresh && report_has(r, KEY_T) && link_ms != TIME_UNKNOWN &&
        (from_ms == TIME_UNKNOWN || from_ms < link_ms - (int64_t)r->t_ms))
        from_ms = link_ms - (int64_t)r->t_ms; /* nothing came before the boot */
    const struct packet_step *step = packets_report(&b->packets, r, link_ms, fresh, hole);
    from_ms = sent_from(b, step, from_ms, before_ms);
    take_order(b, step);
    steady_step(&b->steady, step, from_ms, step->good_ms);
    if (b->limits.light)
        return;
    take_standards(b, step);
    b->moment.packets = *step;
    b->moment.from_ms = from_ms;
    window_packets(&b->window, step, from_ms, step->good_ms);
    if (link_ms != TIME_UNKNOWN && before_ms != TIME_UNKNOWN && step->counted && !fresh)
        window_observed(&b->window, before_ms, link_ms);
    if (report_has(r, KEY_TBOOT) || report_has(r, KEY_SEQ))
        b->transmitter_restarts_known = true;
    if (step->transmitter_restart) {
        b->transmitter_restarts++;
        alarms_set(&b->alarms, ALARM_TRANSMITTER_RESTART, true, false, link_ms, 0);
        bench_restarted(b, RESTART_TRANSMITTER, BOOT_UNKNOWN, link_ms);
        bench_happen(b, LOG_ENTRY_TRANSMITTER_RESTART, link_ms, 0, 0, no_text);
    }
    bool heard = step->good_ms != TIME_UNKNOWN || step->arrived ||
                 (report_has(r, KEY_GOT) && r->got > 0) || report_has(r, KEY_AGE);
    if (heard && !b->heard_boot)
        bench_happen(b, LOG_ENTRY_FIRST_PACKET, step->good_ms < 0 ? link_ms : step->good_ms, 0, 0,
                     no_text);
    b->heard_boot = b->heard_boot || heard;
    b->heard_run = b->heard_run || heard;

    struct outage_step outage =
        outage_report(&b->outage, r, step, link_ms, hole, b->packets.rate_hz);
    if (outage.closed || outage.began)
        b->moment.outage = outage;
    if (outage.ended) {
        window_silent(&b->window, outage.from_ms, outage.from_ms + outage.high_ms);
        outage_happened(b, &outage);
    }
    if (outage.began)
        bench_happen(b, LOG_ENTRY_OUTAGE_BEGAN, outage.from_ms, 0, 0, no_text);
}

/* Idle is within 20 µs of the motor's rest, or a fiftieth of the travel where the unit is another
 * (common practice: throttle low is 1000 +- 20 µs). */
static const double idle_most = 0.02 + 1e-9;

static enum throttle_state throttle_state(const struct bench *b, const struct report *r) {
    int32_t low = b->span_known ? b->span_low : 1000, high = b->span_known ? b->span_high : 2000;
    int at = limits_throttle(&b->limits);
    if (at < 0 || (uint32_t)at >= r->ch_count || r->ch[at] == CHANNEL_OFF)
        return THROTTLE_UNKNOWN;
    int32_t rest = motor_idle_value(&b->limits.motor[0], low, high);
    bool idle = motor_travel(r->ch[at], rest, low, high) <= idle_most;
    return idle ? THROTTLE_IDLE : THROTTLE_RAISED;
}

static void take_failsafe(struct bench *b, const struct report *r, bool fresh) {
    int64_t link_ms = b->timeline.link_ms;
    struct failsafe_view view = {.heard = b->heard_boot,
                                 .fresh_boot = fresh,
                                 .arrived = b->packets.last.arrived,
                                 .good_ms = b->packets.good_ms,
                                 .throttle = throttle_state(b, r)};
    struct failsafe_step step = failsafe_report(&b->failsafe, r, link_ms, &view);
    b->moment.failsafes = step.entered;
    if (step.left && step.lasted_ms != TIME_UNKNOWN)
        bench_happen(b, LOG_ENTRY_FAILSAFE_LEFT, link_ms, step.lasted_ms, 0, no_text);
    if (step.entered > 0)
        bench_happen(b, LOG_ENTRY_FAILSAFE_ENTERED, link_ms, (int64_t)step.entered,
                     !b->failsafe.active, no_text);
}

/* `names=steer,throttle` of a bare line, once a channel. */
static void take_names(struct bench *b, struct slice rest) {
    for (size_t i = 0; i < CHANNELS_MAX && rest.at != NULL; i++) {
        struct slice name = slice_cut(&rest, ',');
        if (b->names[i][0] != '\0' || name.len == 0)
            continue;
        size_t len = name.len < NAME_MAX_BYTES - 1 ? name.len : NAME_MAX_BYTES - 1;
        memcpy(b->names[i], name.at, len);
    }
}

static void take_extra(struct bench *b, struct slice extra) {
    if (slice_starts(extra, "names="))
        take_names(b, slice_sub(extra, 6, extra.len));
    else
        lines_unknown_keys(&b->lines, extra);
}

static void take_channels(struct bench *b, const struct report *r, uint32_t bytes) {
    uint8_t changed[CHANNELS_MAX];
    int64_t link_ms = b->timeline.link_ms;
    channels_report(&b->channels, r, changed);
    if (link_ms == TIME_UNKNOWN)
        return;
    window_report(&b->window, link_ms, bytes);
    struct window_cell *cell = window_at(&b->window, link_ms);
    for (size_t i = 0; i < CHANNELS_MAX; i++)
        cell->changes[i] = (uint8_t)(cell->changes[i] + changed[i]);
}

static void take_light(struct bench *b, const struct report *r) {
    channels_ends(&b->channels, r);
    if (report_has(r, KEY_REFUSED))
        bench_take_refused(b, r);
}

static void take_rest(struct bench *b, const struct event *e, int64_t before_ms, bool fresh,
                      bool hole) {
    take_failsafe(b, &e->report, fresh);
    take_channels(b, &e->report, e->bytes);
    bench_take_radio(b, &e->report, b->timeline.link_ms);
    b->moment.before_ms = b->have_report ? before_ms : TIME_UNKNOWN;
    b->moment.fresh_boot = fresh;
    b->moment.hole = hole;
    b->moment.heard = b->heard_boot;
}

/* Whether it is another report than the one before.  A main loop that hangs can leave an interrupt
 * that prints the same again and again. */
static bool is_new(const struct bench *b, const struct report *r, enum succession how) {
    uint32_t both = b->last.has & r->has;
    bool n_stands = (both >> KEY_N & 1u) != 0 && r->n == b->last.n;
    bool t_stands = (both >> KEY_T & 1u) != 0 && r->t_ms == b->last.t_ms;
    return !b->have_report || how == FOLLOWS_RESTART || !(n_stands || t_stands);
}

static void report_came(struct bench *b, const struct event *e, enum succession how) {
    b->reports_repeat = !is_new(b, &e->report, how);
    if (b->reports_repeat)
        return;
    b->reports_gone = false;
    if (e->host_us != TIME_UNKNOWN)
        b->report_us = e->host_us;
}

static void take_report(struct bench *b, const struct event *e) {
    const struct report *r = &e->report;
    int64_t before_ms = b->timeline.link_ms;
    enum succession how = follow(b, r, e->host_us);
    bool fresh = b->fresh_boot;
    uint64_t missing;
    report_came(b, e, how);
    timeline_report(&b->timeline, r, e->host_us, how);
    int64_t link_ms = b->timeline.link_ms;
    bool hole = lines_report(&b->lines, e, fresh, &missing);
    if (how == FOLLOWS_WRAP)
        bench_happen(b, LOG_ENTRY_UPTIME_WRAPPED, link_ms, 0, 0, no_text);
    if (how == FOLLOWS_STEP)
        bench_happen(b, LOG_ENTRY_CLOCK_STEP, link_ms, 0, 0, no_text);
    if (missing > 0)
        bench_happen(b, LOG_ENTRY_LINES_MISSING, link_ms, (int64_t)missing, 0, no_text);
    if (hole && !fresh) {
        b->holes++;
        if (link_ms != TIME_UNKNOWN && before_ms != TIME_UNKNOWN)
            b->holes_ms += link_ms - before_ms;
    }
    bool light = b->limits.light;
    if (!light && link_ms != TIME_UNKNOWN)
        window_advance(&b->window, link_ms);
    if (!light && report_has(r, KEY_T) && link_ms != TIME_UNKNOWN)
        regular_report(&b->regular, link_ms, e->host_us, !hole && !fresh);
    take_packets(b, r, before_ms, fresh, hole);
    if (light)
        take_light(b, r);
    else
        take_rest(b, e, before_ms, fresh, hole);
    if (r->extra.len > 0)
        take_extra(b, r->extra);
    b->have_report = true;
    b->fresh_boot = false;
    b->before = b->last;
    if (fresh)
        b->before.known = false;
    counters_keep(&b->last, r, e->host_us);
    if (!light)
        bench_judge(b, link_ms);
}

/* --- the other events ------------------------------------------------------------------------- */

static void copy_name(char *out, size_t size, struct slice text) {
    size_t len = text.len < size - 1 ? text.len : size - 1;
    memcpy(out, text.at, len);
    out[len] = '\0';
}

static void take_id(struct bench *b, const struct event *e) {
    const struct identity *id = &e->id;
    lines_good(&b->lines, e);
    if (identity_has(id, ID_RATE)) /* either end knows what the transmitter sends */
        b->id_rate_hz = id->rate_hz;
    if (identity_has(id, ID_SEQMOD)) {
        b->packets.seqmod_known = true;
        b->packets.seqmod = id->seqmod;
    }
    settle_rate(b);
    if (id->transmitter)
        return;
    if (identity_has(id, ID_ACK))
        b->acked = id->ack != 0;
    b->raw_unit = id->raw_unit;
    if (identity_has(id, ID_SPAN)) {
        b->span_known = true;
        b->span_low = id->span_low;
        b->span_high = id->span_high;
    }
    if (identity_has(id, ID_MHZ))
        b->mhz = id->mhz;
    if (identity_has(id, ID_KBPS))
        b->kbps = id->kbps;
    if (identity_has(id, ID_FW)) {
        char fw[sizeof b->firmware] = {0};
        copy_name(fw, sizeof fw, id->fw);
        if (strcmp(fw, b->firmware) != 0)
            bench_happen(b, LOG_ENTRY_FIRMWARE, link_now(b), 0, 0, id->fw);
        memcpy(b->firmware, fw, sizeof fw);
    }
}

static void take_text(struct bench *b, const struct event *e) {
    lines_good(&b->lines, e);
    if (e->kind == EVENT_SAY && e->text.len > 0)
        bench_happen(b, LOG_ENTRY_SAY, link_now(b), 0, 0, e->text);
}

static void take_damage(struct bench *b, const struct event *e) {
    lines_damaged(&b->lines, e);
    if (!e->damage.continues)
        bench_happen(b, LOG_ENTRY_DAMAGE, link_now(b), e->damage.reason, 1, no_text);
}

static void take_mark(struct bench *b, const struct event *e) {
    int64_t cm = e->mark.distance_m < 0 ? -1 : whole_i64(e->mark.distance_m * 100 + 0.5);
    bench_happen(b, LOG_ENTRY_MARK, link_now(b), e->mark.type, cm, e->mark.text);
}

/* A port row's note: kind=serial speed=115200. */
static void read_port_note(struct bench *b, struct slice note, bool *serial) {
    *serial = false;
    while (note.at != NULL && note.len > 0) {
        struct slice pair = slice_cut(&note, ' ');
        *serial |= slice_is(pair, "kind=serial");
        if (slice_starts(pair, "speed="))
            number_u32(slice_sub(pair, 6, pair.len), &b->speed);
    }
}

static void take_opening(struct bench *b, const struct event *e, bool serial) {
    b->port_away = false;
    b->opened_us = b->line_us = b->report_us = e->host_us;
    b->lines_gone = b->reports_gone = false;
    /* Only a real serial port has the line that resets a board. */
    b->opening_counts = serial && b->limits.opening_restarts;
}

static void take_port(struct bench *b, const struct event *e) {
    static const enum log_entry_kind kinds[] = {
        [PORT_OPENED] = LOG_ENTRY_PORT_OPENED, [PORT_LOST] = LOG_ENTRY_PORT_LOST,
        [PORT_BACK] = LOG_ENTRY_PORT_BACK,     [PORT_LET_GO] = LOG_ENTRY_PORT_LET_GO,
        [PORT_TAKEN] = LOG_ENTRY_PORT_TAKEN,   [PORT_SLEPT] = LOG_ENTRY_SLEPT,
    };
    enum port_change change = e->port.change;
    bool serial;
    read_port_note(b, e->port.note, &serial);
    if (change == PORT_SPEED)
        return;
    bench_happen(b, kinds[change], link_now(b), 0, 0, no_text);
    if (change == PORT_OPENED || change == PORT_BACK || change == PORT_TAKEN)
        take_opening(b, e, serial);
    else if (change != PORT_SLEPT)
        b->port_away = true;
    b->port_losses += change == PORT_LOST;
    judge_now(b);
}

static void take_nothing(struct bench *b, const struct event *e) {
    (void)b;
    (void)e;
}

static void take_good(struct bench *b, const struct event *e) {
    lines_good(&b->lines, e);
}

static void begin_moment(struct bench *b, const struct event *e) {
    b->moment = (struct moment){.event = e,
                                .host_us = b->now_us,
                                .before_ms = TIME_UNKNOWN,
                                .from_ms = TIME_UNKNOWN,
                                .packets.good_ms = TIME_UNKNOWN};
}

static void end_moment(struct bench *b) {
    bool report = b->moment.event->kind == EVENT_REPORT;
    b->moment.link_ms = report ? b->timeline.link_ms : link_now(b);
    b->moment.boot = (uint32_t)(b->receiver_restarts + b->opening_restarts);
}

void bench_feed(struct bench *b, const struct event *e) {
    static void (*const take[EVENT_KINDS])(struct bench *, const struct event *) = {
        [EVENT_ABOUT] = take_nothing, [EVENT_REPORT] = take_report,  [EVENT_ID] = take_id,
        [EVENT_BOOT] = take_boot,     [EVENT_AIR] = take_good,       [EVENT_SAY] = take_text,
        [EVENT_OTHER] = take_text,    [EVENT_ANSWER] = take_nothing, [EVENT_MARK] = take_mark,
        [EVENT_DAMAGE] = take_damage, [EVENT_PORT] = take_port,      [EVENT_END] = take_nothing,
    };
    if (b->outage.limit_ms == 0)
        settle_rate(b);
    if (e->host_us != TIME_UNKNOWN)
        bench_advance(b, e->host_us);
    if (e->bytes > 0)
        line_came(b, e);
    if (b->limits.light) {
        take[e->kind](b, e); /* and nobody asks what it meant */
        return;
    }
    begin_moment(b, e);
    take[e->kind](b, e);
    end_moment(b);
}

/* When so much time without one has passed; never where none came yet. */
static int64_t deadline_of(const struct bench *b, int64_t since_us) {
    return since_us == TIME_UNKNOWN ? INT64_MAX : since_us + (int64_t)b->limits.no_lines_ms * 1000;
}

/* Those that lie up to host_us, in their order: a report is a line, so that its deadline is the
 * first or falls together with that of the lines. */
static void pass_deadlines(struct bench *b, int64_t host_us) {
    int64_t lines_us = deadline_of(b, b->line_us), reports_us = deadline_of(b, b->report_us);
    if (b->port_away)
        return;
    if (b->have_report && !b->reports_gone && host_us >= reports_us) {
        b->now_us = reports_us;
        b->reports_gone = true;
        b->lines_gone = b->lines_gone || lines_us == reports_us;
        judge_now(b);
    }
    if (!b->lines_gone && host_us >= lines_us) {
        b->now_us = lines_us;
        b->lines_gone = true;
        judge_now(b);
    }
}

void bench_advance(struct bench *b, int64_t host_us) {
    if (host_us == TIME_UNKNOWN || (b->now_us != TIME_UNKNOWN && host_us <= b->now_us))
        return;
    pass_deadlines(b, host_us);
    b->now_us = host_us;
    judge_now(b);
}
