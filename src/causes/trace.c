#include "causes/trace.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/whole.h"

bool trace_init(struct trace *t, const struct bench_limits *limits) {
    memset(t, 0, sizeof *t);
    t->limits = limits;
    t->begin_ms = t->restart_from_ms = t->quiet_until_ms = t->forgot_ms = TIME_UNKNOWN;
    t->heading_now = -1;
    t->distance_now = TRACE_NOTHING;
    t->cell = malloc(TRACE_CELLS * sizeof *t->cell);
    t->drop = malloc(TRACE_DROPS * sizeof *t->drop);
    t->loss_ms = malloc(TRACE_LOSSES * sizeof *t->loss_ms);
    t->no_memory = t->cell == NULL || t->drop == NULL || t->loss_ms == NULL;
    return !t->no_memory;
}

void trace_release(struct trace *t) {
    free(t->cell);
    free(t->drop);
    free(t->loss_ms);
    t->cell = NULL;
    t->drop = NULL;
    t->loss_ms = NULL;
}

/* --- cells ------------------------------------------------------------------------------------ */

int32_t trace_at(const struct trace *t, int64_t at_ms) {
    if (t->begin_ms == TIME_UNKNOWN || at_ms == TIME_UNKNOWN || at_ms < t->begin_ms)
        return -1;
    int64_t number = (at_ms - t->begin_ms) / TRACE_CELL_MS;
    return number < t->cells ? (int32_t)number : -1;
}

static const struct trace_cell empty = {
    .supply_low = TRACE_NOTHING,
    .supply = TRACE_NOTHING,
    .transmitter = TRACE_NOTHING,
    .throttle = TRACE_NOTHING,
    .rssi = TRACE_NOTHING,
    .distance_dm = TRACE_NOTHING,
    .heading = -1,
};

/* Makes at_ms the newest moment, or NULL where there is no room for it. */
static struct trace_cell *reach(struct trace *t, int64_t at_ms) {
    if (at_ms == TIME_UNKNOWN)
        return NULL;
    if (t->begin_ms == TIME_UNKNOWN)
        t->begin_ms = at_ms;
    int64_t number = (at_ms - t->begin_ms) / TRACE_CELL_MS;
    if (number < 0 || number >= TRACE_CELLS)
        return NULL;
    while ((int64_t)t->cells <= number)
        t->cell[t->cells++] = empty;
    return &t->cell[number];
}

static void flag(struct trace *t, int64_t at_ms, enum trace_flag flag) {
    struct trace_cell *c = reach(t, at_ms);
    if (c != NULL)
        c->flags = (uint16_t)(c->flags | flag);
}

static uint16_t add_capped(uint16_t sum, uint64_t more) {
    return (uint16_t)(sum + more < UINT16_MAX ? sum + more : UINT16_MAX);
}

static uint8_t add_byte(uint8_t sum, uint32_t more) {
    return (uint8_t)(sum + more < UINT8_MAX ? sum + more : UINT8_MAX);
}

static int16_t millivolts(uint32_t mv) {
    return (int16_t)(mv < INT16_MAX ? mv : INT16_MAX);
}

static int16_t lesser(int16_t a, int16_t b) {
    return a == TRACE_NOTHING || b < a ? b : a;
}

/* What supply and outputs do in a drop and in the second after it follows from the drop: they can't
 * be its cause, nor that of the next one. */
static bool follows_a_drop(const struct trace *t, const struct moment *m) {
    const struct report *r = &m->event->report;
    return (report_has(r, KEY_FS) && r->fs != 0) || m->fresh_boot ||
           (report_has(r, KEY_AGE) && r->age_ms > (uint32_t)t->limits->outage_ms) ||
           (t->quiet_until_ms != TIME_UNKNOWN && m->link_ms < t->quiet_until_ms);
}

static void be_quiet(struct trace *t, int64_t until_ms) {
    if (t->quiet_until_ms == TIME_UNKNOWN || t->quiet_until_ms < until_ms)
        t->quiet_until_ms = until_ms;
}

/* A few packets missing make outputs leap too, only less. */
static void note_drop(struct trace *t, const struct moment *m) {
    if (m->fresh_boot)
        be_quiet(t, m->link_ms + TRACE_AFTER_MS);
    else if (m->packets.lost > 2)
        be_quiet(t, m->link_ms + TRACE_AFTER_MS / 2);
}

static void take_supplies(struct trace_cell *c, const struct report *r) {
    int32_t low, high;
    if (report_has(r, KEY_MV))
        c->supply = millivolts(r->mv);
    if (report_has(r, KEY_MVMIN) && report_supply(r, &low, &high))
        c->supply_low = lesser(c->supply_low, millivolts((uint32_t)low));
    if (report_has(r, KEY_TMV))
        c->transmitter = lesser(c->transmitter, millivolts(r->tmv));
}

static void take_levels(const struct trace *t, struct trace_cell *c, const struct report *r) {
    if (report_has(r, KEY_RSSI))
        c->rssi = lesser(c->rssi, (int16_t)r->rssi_dbm);
    if (report_has(r, KEY_NOISE)) {
        c->noise_hits = add_byte(c->noise_hits, r->noise_hits);
        c->noise_looks = add_byte(c->noise_looks, r->noise_looks);
    }
    if (report_has(r, KEY_HEARD)) {
        c->heard_hits = add_byte(c->heard_hits, r->heard_hits);
        c->heard_looks = add_byte(c->heard_looks, r->heard_looks);
    }
    int at = limits_throttle(t->limits);
    if (at >= 0 && (uint32_t)at < r->ch_count && r->ch[at] != CHANNEL_OFF)
        c->throttle = (int16_t)(t->limits->motor[0].idle == IDLE_HIGH ? -r->ch[at] : r->ch[at]);
}

/* How far the outputs got from where they stood before this cell.  Catching up after a gap is no
 * movement. */
static void take_moves(struct trace *t, struct trace_cell *c, const struct moment *m,
                       bool follows) {
    const struct report *r = &m->event->report;
    follows = follows || m->hole || !m->packets.arrived;
    bool anew = follows || !t->output_known || (c->flags & TRACE_MOVES) == 0;
    if (t->output_known && !follows)
        c->flags |= TRACE_MOVES;
    for (uint32_t i = 0; i < CHANNELS_MAX; i++) {
        int32_t now = i < r->ch_count ? r->ch[i] : CHANNEL_OFF;
        if (anew)
            t->stood[i] = follows || !t->output_known ? now : t->output[i];
        int64_t way = (int64_t)now - t->stood[i];
        bool both = now != CHANNEL_OFF && t->stood[i] != CHANNEL_OFF;
        way = way < 0 ? -way : way;
        if (!follows && both && way > c->move[i])
            c->move[i] = add_capped(0, (uint64_t)way);
        t->output[i] = now;
    }
    t->output_known = true;
}

/* --- drops ------------------------------------------------------------------------------------ */

static struct trace_drop *newest(struct trace *t) {
    return t->drops > 0 && t->drops <= TRACE_DROPS ? &t->drop[t->drops - 1] : NULL;
}

/* The drop that something from from_ms to to_ms belongs to: the newest, or one of its own.  NULL
 * when there is no room left. */
static struct trace_drop *drop_of(struct trace *t, int64_t from_ms, int64_t to_ms) {
    struct trace_drop *d = newest(t);
    bool same = t->open && d != NULL && from_ms <= d->to_ms + TRACE_APART_MS;
    if (!same) {
        t->drops++;
        t->open = true;
        d = newest(t);
        if (d != NULL)
            *d = (struct trace_drop){.from_ms = from_ms, .to_ms = to_ms};
    }
    if (d == NULL)
        return NULL;
    d->from_ms = from_ms < d->from_ms ? from_ms : d->from_ms;
    d->to_ms = to_ms > d->to_ms ? to_ms : d->to_ms;
    return d;
}

/* A run of `lost` packets, the first at at_ms, that an outage of about gap_ms makes. */
static void lose(struct trace *t, const struct moment *m, double at_ms, uint64_t lost,
                 double gap_ms) {
    int64_t from = whole_i64(floor(at_ms));
    struct trace_drop *d = drop_of(t, from, from + whole_i64(gap_ms));
    struct trace_cell *c = reach(t, from);
    bool outage = gap_ms > (double)t->limits->outage_ms;
    if (!outage && c != NULL)
        c->runs = add_byte(c->runs, 1);
    if (!outage && moment_ordered(m) && t->loss_times < TRACE_LOSSES)
        t->loss_ms[t->loss_times++] = at_ms;
    if (d == NULL)
        return;
    d->lost += lost;
    d->runs++;
    d->outage = d->outage || outage;
    d->hole = d->hole || m->hole;
}

static void take_losses(struct trace *t, const struct moment *m) {
    enum { SPELLED_MAX = 4096 };
    uint64_t packets = moment_packets(m);
    if (m->packets.lost == 0 || m->packets.good_ms == TIME_UNKNOWN)
        return;
    double first = moment_packet_ms(m, 0);
    double apart =
        packets > 1 ? (moment_packet_ms(m, packets - 1) - first) / (double)(packets - 1) : 0;
    if (!moment_ordered(m) || packets > SPELLED_MAX) {
        lose(t, m, first, m->packets.lost, apart * (double)m->packets.lost);
        return;
    }
    uint64_t from = 0;
    for (uint64_t i = 0; i < packets; i++) {
        if (moment_arrived(m, i))
            continue;
        if (i == 0 || moment_arrived(m, i - 1))
            from = i;
        if (i + 1 == packets || moment_arrived(m, i + 1))
            lose(t, m, moment_packet_ms(m, from), i + 1 - from, apart * (double)(i + 2 - from));
    }
}

/* Time with reports for each of them. */
static double usual_interval(const struct trace *t) {
    return t->reports > 1 ? (double)t->observed_ms / (double)t->reports : INFINITY;
}

/* Of an outage that ended here: the sequence number went on by less than a fifth of the packets
 * that were due in it.  Not told where the number could have gone round. */
static bool was_paused(const struct trace *t, const struct moment *m) {
    const struct packet_step *p = &m->packets;
    double rate = t->rate_hz > 0      ? t->rate_hz
                  : t->arrival_ms > 0 ? (double)t->got * 1000 / (double)t->arrival_ms
                                      : 0;
    double due = (double)m->outage.low_ms * rate / 1000 - 1;
    double round = !t->seqmod_known ? 256 : t->seqmod > 0 ? t->seqmod : 4294967296.0;
    bool told = p->counted && p->evidence != EVIDENCE_RATE && !m->hole && p->estimated == 0;
    return told && !p->transmitter_restart && due >= 3 && due < 0.8 * round &&
           (double)p->lost < due / 5;
}

/* The receiver's own reports stayed away for most of the outage, although none is missing. */
static bool was_stalled(const struct trace *t, const struct moment *m) {
    const struct report *r = &m->event->report;
    if (!report_has(r, KEY_N) || !report_has(r, KEY_T) || m->hole || m->fresh_boot ||
        m->before_ms == TIME_UNKNOWN)
        return false;
    double away = (double)(m->link_ms - m->before_ms);
    return away > 3 * usual_interval(t) && away > 0.6 * (double)m->outage.low_ms;
}

static void take_outage(struct trace *t, const struct moment *m) {
    const struct outage_step *s = &m->outage;
    if (!s->ended)
        return;
    struct trace_drop *d = drop_of(t, s->from_ms, s->from_ms + s->high_ms);
    be_quiet(t, m->link_ms + TRACE_AFTER_MS);
    if (d == NULL)
        return;
    d->outage = true;
    d->hole = d->hole || m->hole;
    d->forgot = d->forgot || (t->forgot_ms != TIME_UNKNOWN && t->forgot_ms >= s->from_ms);
    d->stalled = d->stalled || was_stalled(t, m);
    d->paused = d->paused || (was_paused(t, m) && !d->stalled);
}

/* A restart begins with the last that was heard of the boot before and ends with the first packet
 * after it. */
static void take_restart(struct trace *t, const struct moment *m, int64_t before_ms) {
    if (m->restarted && !m->by_opening) {
        t->restarts[m->cause]++;
        int64_t from = before_ms != TIME_UNKNOWN ? before_ms : m->link_ms;
        if (from == TIME_UNKNOWN)
            return;
        struct trace_drop *d = drop_of(t, from, m->link_ms > from ? m->link_ms : from);
        t->restart_from_ms = from;
        flag(t, from, TRACE_RESTART);
        if (d != NULL) {
            d->restart = true;
            d->cause = m->cause;
        }
    }
    if (m->restarted && m->by_opening) {
        t->openings++;
        flag(t, m->link_ms, TRACE_OPENING);
    }
    if (t->restart_from_ms != TIME_UNKNOWN && m->heard && m->link_ms != TIME_UNKNOWN) {
        drop_of(t, t->restart_from_ms, m->link_ms);
        t->restart_from_ms = TIME_UNKNOWN;
    }
}

/* A start number that was there before the one before: two transmitters take turns. */
static void take_transmitter(struct trace *t, const struct moment *m) {
    const struct report *r = &m->event->report;
    if (m->packets.transmitter_restart) {
        struct trace_drop *d =
            drop_of(t, m->from_ms != TIME_UNKNOWN ? m->from_ms : m->link_ms, m->link_ms);
        t->transmitter_starts++;
        flag(t, m->link_ms, TRACE_TRANSMITTER);
        if (d != NULL)
            d->transmitter = true;
    }
    if (!report_has(r, KEY_TBOOT) || (t->tboot_known && r->tboot == t->tboot))
        return;
    if (t->tboot_before_known && r->tboot == t->tboot_before)
        t->transmitter_returns++;
    t->tboot_before_known = t->tboot_known;
    t->tboot_before = t->tboot;
    t->tboot_known = true;
    t->tboot = r->tboot;
}

/* --- reports and the rest --------------------------------------------------------------------- */

static void count_time(struct trace *t, const struct moment *m) {
    if (m->before_ms == TIME_UNKNOWN || m->fresh_boot || !m->packets.counted)
        return;
    t->observed_ms += m->link_ms - m->before_ms;
    if (m->packets.arrived)
        t->arrival_ms += m->link_ms - m->before_ms;
}

/* A report tells of all the time since the one before. */
static void mark_seen(struct trace *t, const struct moment *m) {
    int64_t from = m->before_ms != TIME_UNKNOWN && !m->fresh_boot ? m->before_ms + 1 : m->link_ms;
    unsigned flags = m->packets.counted ? TRACE_SEEN : 0;
    if (m->hole)
        flags |= TRACE_HOLE;
    if (report_has(&m->event->report, KEY_FS) && m->event->report.fs != 0)
        flags |= TRACE_FAILSAFE;
    int64_t begin = t->begin_ms != TIME_UNKNOWN ? t->begin_ms : from;
    int64_t end = begin + (int64_t)TRACE_CELLS * TRACE_CELL_MS; /* no further: a clock may leap */
    for (int64_t at = from; at <= m->link_ms && at < end; at += TRACE_CELL_MS) {
        flag(t, at, (enum trace_flag)flags);
        struct trace_cell *c = reach(t, at);
        if (c != NULL) {
            c->heading = t->heading_now;
            c->distance_dm = t->distance_now;
        }
    }
    flag(t, m->link_ms, (enum trace_flag)flags);
}

/* The registers are found to be the chip's own at the begin of a drop, in it, or at its end. */
static void take_registers(struct trace *t, const struct moment *m) {
    const struct report *r = &m->event->report;
    struct trace_drop *d = newest(t);
    if (m->radio_forgot) {
        t->settings_lost++;
        flag(t, m->link_ms, TRACE_FORGOT);
    }
    if (!report_has(r, KEY_REG) || r->reg != REGISTERS_DEFAULT)
        return;
    t->forgot_ms = m->link_ms;
    if (d != NULL && t->open && m->link_ms <= d->to_ms + 2 * TRACE_APART_MS)
        d->forgot = true;
}

static void take_report(struct trace *t, const struct moment *m) {
    const struct report *r = &m->event->report;
    t->keys |= r->has;
    t->reports++;
    if (m->link_ms == TIME_UNKNOWN)
        return;
    count_time(t, m);
    mark_seen(t, m);
    struct trace_cell *c = reach(t, m->link_ms);
    take_losses(t, m);
    take_transmitter(t, m);
    if (m->packets.counted) {
        t->counted = true;
        t->got += m->packets.got;
        t->lost += m->packets.lost;
    }
    if (m->hole && !m->fresh_boot)
        t->holes++;
    if (c == NULL)
        return;
    c->got = add_capped(c->got, m->packets.got);
    c->lost = add_capped(c->lost, m->packets.lost);
    note_drop(t, m);
    bool follows = follows_a_drop(t, m);
    if (!follows)
        take_supplies(c, r);
    take_levels(t, c, r);
    take_moves(t, c, m, follows);
    take_registers(t, m);
}

static void take_id(struct trace *t, const struct identity *id) {
    if (identity_has(id, ID_RATE))
        t->rate_hz = id->rate_hz;
    if (id->transmitter)
        return;
    t->raw_unit = id->raw_unit;
    t->seqmod_known = identity_has(id, ID_SEQMOD);
    t->seqmod = t->seqmod_known ? id->seqmod : 0;
    if (identity_has(id, ID_ACK))
        t->acked = id->ack != 0;
    if (identity_has(id, ID_HOP))
        t->hop = id->hop;
}

static void take_heading(struct trace *t, struct slice text) {
    char name[sizeof t->heading[0]] = {0};
    size_t len = text.len < sizeof name - 1 ? text.len : sizeof name - 1;
    memcpy(name, text.at, len);
    for (uint32_t i = 0; i < t->headings; i++)
        if (strcmp(t->heading[i], name) == 0) {
            t->heading_now = (int8_t)i;
            return;
        }
    if (t->headings == TRACE_HEADINGS)
        return;
    memcpy(t->heading[t->headings], name, sizeof name);
    t->heading_now = (int8_t)t->headings++;
}

static int16_t in_decimetres(double metres) {
    return metres >= 0 && metres < 3000 ? (int16_t)lround(metres * 10) : TRACE_NOTHING;
}

static void take_mark(struct trace *t, const struct moment *m) {
    const struct mark *mark = &m->event->mark;
    if (mark->type == MARK_TWITCH && m->link_ms != TIME_UNKNOWN) {
        if (t->twitches < TRACE_TWITCHES)
            t->twitch_ms[t->twitches] = m->link_ms;
        t->twitches++;
    } else if (mark->type == MARK_FACING) {
        take_heading(t, mark->text);
    } else if (mark->type == MARK_LEAVE || mark->type == MARK_STOP) {
        t->heading_now = -1;
        t->distance_now = mark->type == MARK_STOP ? in_decimetres(mark->distance_m) : TRACE_NOTHING;
    }
}

static void take_port(struct trace *t, const struct moment *m) {
    enum port_change change = m->event->port.change;
    if (change != PORT_LOST && change != PORT_SLEPT)
        return;
    t->port_losses += change == PORT_LOST;
    flag(t, m->link_ms, TRACE_HOST);
}

void trace_feed(struct trace *t, const struct moment *m) {
    int64_t before_ms =
        t->cells > 0 ? t->begin_ms + (int64_t)(t->cells - 1) * TRACE_CELL_MS : TIME_UNKNOWN;
    take_outage(t, m);
    take_restart(t, m, before_ms);
    switch (m->event->kind) {
    case EVENT_REPORT:
        take_report(t, m);
        break;
    case EVENT_ID:
        take_id(t, &m->event->id);
        break;
    case EVENT_MARK:
        take_mark(t, m);
        break;
    case EVENT_PORT:
        take_port(t, m);
        break;
    case EVENT_DAMAGE:
        t->damaged += !m->event->damage.continues;
        break;
    default:
        break;
    }
}

bool trace_outage(const struct trace_drop *d) {
    return d->outage || d->restart || d->transmitter || d->forgot;
}

void trace_end(struct trace *t) {
    t->open = false;
    for (uint32_t i = 0; i < t->drops && i < TRACE_DROPS; i++) {
        const struct trace_drop *d = &t->drop[i];
        for (int32_t k = trace_at(t, d->from_ms), end = trace_at(t, d->to_ms);
             trace_outage(d) && k >= 0 && k <= end; k++)
            t->cell[k].flags |= TRACE_DROP;
    }
}

void trace_walked(struct trace *t, const struct walk *walk) {
    for (uint32_t i = 0; i < t->cells; i++)
        t->cell[i].distance_dm = TRACE_NOTHING;
    for (uint32_t k = 0; k < walk->count; k++) {
        const struct walk_stop *stop = &walk->stop[k];
        int16_t distance_dm = in_decimetres(stop->distance_m);
        for (int64_t at = stop->from_ms; at < stop->to_ms; at += TRACE_CELL_MS) {
            int32_t cell = trace_at(t, at);
            if (cell >= 0)
                t->cell[cell].distance_dm = distance_dm;
        }
    }
}
