/* What the bind trial saw at each step. */
#include <string.h>

#include "judge/bind_parts.h"

static int64_t now_us(const struct moment *m) {
    if (m->host_us != TIME_UNKNOWN)
        return m->host_us;
    return m->link_ms == TIME_UNKNOWN ? 0 : m->link_ms * 1000;
}

int64_t bind_watched_ms(const struct bind_watch *w) {
    if (w->from_us == TIME_UNKNOWN || !w->entered || w->to_us < w->from_us)
        return 0;
    return (w->to_us - w->from_us) / 1000;
}

bool bind_seen(const struct bind_watch *w) {
    return !w->broken && bind_watched_ms(w) >= BIND_ENOUGH_MS;
}

bool bind_two_senders(const struct bind_watch *w) {
    return w->switches_back >= 4 ||
           (w->advance >= BIND_PACKETS && w->got > w->advance + w->advance / 2 + BIND_PACKETS);
}

double bind_loss(const struct bind_watch *w) {
    double packets = (double)(w->got + w->lost);
    return packets > 0 ? (double)w->lost / packets : -1;
}

/* --- the carrier detector --------------------------------------------------------------------- */

/* At least five hits, three times as dense as with the transmitter off (one hit more than were
 * seen there, so that none counts for something). */
static bool follows(const struct bind_watch *on, const struct bind_watch *off) {
    return on->noise_hits >= 5 && (double)on->noise_hits * (double)off->noise_looks >
                                      3.0 * (double)(off->noise_hits + 1) * (double)on->noise_looks;
}

enum bind_energy bind_energy(const struct bind *b) {
    const struct bind_watch *off = &b->watch[BIND_OFF];
    static const enum bind_step ons[] = {BIND_ON, BIND_AGAIN};
    bool all = true, any = false;
    uint32_t seen = 0;
    if (!bind_seen(off) || off->noise_looks == 0)
        return ENERGY_UNKNOWN;
    for (size_t i = 0; i < sizeof ons / sizeof *ons; i++) {
        const struct bind_watch *on = &b->watch[ons[i]];
        if (!bind_seen(on) || on->noise_looks == 0)
            continue;
        seen++;
        all = all && follows(on, off);
        any = any || follows(on, off);
    }
    if (seen < 2)
        return ENERGY_UNKNOWN; /* on, off and on again, or chance may have done it */
    if (all)
        return ENERGY_FOLLOWS;
    if (any)
        return ENERGY_UNKNOWN;
    return off->noise_hits * 100 >= off->noise_looks ? ENERGY_ALWAYS : ENERGY_NONE;
}

/* --- opening a watch -------------------------------------------------------------------------- */

static void clear(struct bind_watch *w) {
    struct bind_watch kept = *w;
    *w = (struct bind_watch){.entered = true,
                             .answered = kept.answered,
                             .skipped = kept.skipped,
                             .broken = kept.broken,
                             .since_us = kept.since_us,
                             .from_us = TIME_UNKNOWN,
                             .from_ms = TIME_UNKNOWN,
                             .to_us = kept.to_us,
                             .report_us = TIME_UNKNOWN,
                             .packet_us = TIME_UNKNOWN};
}

static void open_watch(struct bind_watch *w, const struct moment *m, int64_t wait_ms) {
    clear(w);
    w->from_us = now_us(m) + wait_ms * 1000;
    w->from_ms = m->link_ms == TIME_UNKNOWN ? INT64_MIN : m->link_ms + wait_ms;
}

static void enter(struct bind *b, const struct moment *m, const struct trial_place *place) {
    struct bind_watch *left = &b->watch[b->step];
    if (left->entered && left->to_us < now_us(m))
        left->to_us = now_us(m);
    b->step = (enum bind_step)place->step;
    struct bind_watch *w = &b->watch[b->step];
    memset(w, 0, sizeof *w);
    clear(w);
    w->since_us = w->to_us = now_us(m);
    if (b->step == BIND_LOOK)
        open_watch(w, m, 0);
}

static bool is_on_step(enum bind_step step) {
    return step == BIND_ON || step == BIND_AGAIN || step == BIND_NEAR;
}

/* Packets that came before the step say nothing of the switch. */
static bool quiet_before(const struct bind *b) {
    return b->step == BIND_ON ? b->watch[BIND_LOOK].got == 0
                              : b->watch[b->step - 1].packet_us == TIME_UNKNOWN;
}

/* A step is done when the person says so, or when packets show it: they come, or they stop after a
 * link that was seen.  Packets that come again then were only delayed. */
static void open_by_packets(struct bind *b, const struct moment *m) {
    struct bind_watch *w = &b->watch[b->step];
    if (m->event->kind != EVENT_REPORT || w->answered)
        return;
    if (is_on_step(b->step) && w->from_us == TIME_UNKNOWN && m->packets.arrived && quiet_before(b))
        open_watch(w, m, 0);
    if (b->step != BIND_OFF || b->watch[BIND_ON].got < BIND_PACKETS)
        return;
    if (m->packets.arrived) {
        clear(w);
        w->packet_us = now_us(m);
    } else if (w->from_us == TIME_UNKNOWN && now_us(m) - w->since_us > BIND_QUIET_MS * 1000 &&
               (w->packet_us == TIME_UNKNOWN || now_us(m) - w->packet_us > BIND_QUIET_MS * 1000)) {
        open_watch(w, m, 0);
    }
}

static void answered(struct bind *b, const struct moment *m, const struct trial_place *place) {
    struct bind_watch *w = &b->watch[b->step];
    if (b->step == BIND_CAUTION)
        b->agreed = place->answered && place->answer != 0;
    if (place->skipped) {
        clear(w);
        w->skipped = true;
    } else if (place->answered && !w->answered) {
        w->answered = true;
        bool shown = is_on_step(b->step) && w->from_us != TIME_UNKNOWN;
        if (b->step != BIND_LOOK && !shown)
            open_watch(w, m, BIND_SETTLE_MS);
    }
}

/* --- lines ------------------------------------------------------------------------------------ */

static void take_line(struct bind_watch *w, const struct event *e) {
    w->bytes += e->bytes;
    if (e->kind == EVENT_DAMAGE) {
        w->damaged += !e->damage.continues;
        w->damage[e->damage.reason] += e->bytes;
        return;
    }
    if (e->bytes == 0)
        return;
    w->lines++;
    w->ids += e->kind == EVENT_ID;
    w->boots += e->kind == EVENT_BOOT;
    w->says += e->kind == EVENT_SAY || e->kind == EVENT_OTHER;
}

/* Bytes used up while looking for the speed belong to a `port` row. */
static void take_port(struct bind_watch *w, const struct event *e) {
    enum port_change change = e->port.change;
    w->broken = w->broken || change == PORT_LOST || change == PORT_LET_GO || change == PORT_SLEPT;
}

/* --- reports ---------------------------------------------------------------------------------- */

static bool tells_of_packets(const struct report *r) {
    return (r->has & (1u << KEY_GOT | 1u << KEY_PAT | 1u << KEY_SEQ | 1u << KEY_AGE)) != 0;
}

static void take_packets(struct bind_watch *w, const struct moment *m) {
    struct packet_share share = {m->packets.got, m->packets.lost};
    if (!m->packets.counted)
        share = (struct packet_share){m->packets.arrived, 0};
    else if (m->packets.good_ms != TIME_UNKNOWN)
        share = moment_share(m, w->from_ms, INT64_MAX);
    w->got += share.got;
    w->lost += share.lost;
    if (share.got > 0)
        w->packet_us = now_us(m);
}

/* What the receiver counted between two reports that both lie in the watch. */
static void take_counters(struct bind *b, struct bind_watch *w, const struct moment *m) {
    const struct report *r = &m->event->report;
    if (m->fresh_boot)
        b->refused_known = b->reinit_known = false;
    if (report_has(r, KEY_REFUSED)) {
        bool within = b->refused_known && b->refused_us >= w->from_us;
        if (w->from_us != TIME_UNKNOWN && within && r->refused >= b->refused) {
            w->refused += r->refused - b->refused;
            w->refused_known = true;
        }
        b->refused = r->refused;
        b->refused_known = true;
        b->refused_us = now_us(m);
    }
    if (report_has(r, KEY_REINIT)) {
        if (w->from_us != TIME_UNKNOWN && b->reinit_known && r->reinit >= b->reinit)
            w->reinits += r->reinit - b->reinit;
        b->reinit = r->reinit;
        b->reinit_known = true;
    }
}

static void take_report(struct bind_watch *w, const struct moment *m) {
    const struct report *r = &m->event->report;
    w->reports++;
    w->bare += !report_has(r, KEY_N) && !report_has(r, KEY_T) && !tells_of_packets(r);
    w->tells = w->tells || tells_of_packets(r);
    w->report_us = now_us(m);
    if (report_has(r, KEY_REG)) {
        w->reg_reports++;
        w->reg[r->reg]++;
    }
    if (m->before_ms == TIME_UNKNOWN || m->before_ms >= w->from_ms) {
        w->noise_hits += report_has(r, KEY_NOISE) ? r->noise_hits : 0;
        w->noise_looks += report_has(r, KEY_NOISE) ? r->noise_looks : 0;
        w->heard_hits += report_has(r, KEY_HEARD) ? r->heard_hits : 0;
        w->heard_looks += report_has(r, KEY_HEARD) ? r->heard_looks : 0;
    }
    take_packets(w, m);
}

/* --- whose sequence --------------------------------------------------------------------------- */

/* How far the number went on; where nobody says when it goes round, the least that fits. */
static uint64_t went_on(const struct bind *b, uint32_t from, uint32_t to) {
    static const uint64_t usual[] = {UINT64_C(1) << 8, UINT64_C(1) << 16, UINT64_C(1) << 32};
    const struct identity *id = &b->ends.receiver.id;
    if (to >= from)
        return to - from;
    if (b->ends.receiver.known && identity_has(id, ID_SEQMOD))
        return (uint64_t)to + (id->seqmod == 0 ? usual[2] : id->seqmod) - from;
    size_t i = 0;
    while (from >= usual[i])
        i++;
    return (uint64_t)to + usual[i] - from;
}

static bool continues(const struct bind *b, const struct bind_lineage *l, const struct moment *m) {
    const struct report *r = &m->event->report;
    if (!l->used)
        return false;
    if (report_has(r, KEY_TBOOT))
        return l->tboot == r->tboot;
    if (m->link_ms == TIME_UNKNOWN || l->at_ms == TIME_UNKNOWN)
        return false;
    double rate = b->rate_hz > 0 ? b->rate_hz : 200; /* no hand-made link is faster by much */
    double most = 1.5 * rate * (double)(m->link_ms - l->at_ms) / 1000 + 10;
    return (double)went_on(b, l->seq, r->seq) <= most;
}

static void take_sequence(struct bind *b, struct bind_watch *w, const struct moment *m) {
    const struct report *r = &m->event->report;
    uint32_t at = 0;
    if (!report_has(r, KEY_SEQ) || !m->packets.arrived)
        return;
    b->seq_known = true;
    while (at < BIND_LINEAGES && !continues(b, &b->lineage[at], m))
        at++;
    bool fresh = at == BIND_LINEAGES;
    if (fresh) {
        at = b->next;
        b->next = (b->next + 1) % BIND_LINEAGES;
        for (int i = 0; i < BIND_STEPS; i++)
            b->watch[i].hits[at] = 0;
    }
    if (w->from_us != TIME_UNKNOWN) {
        w->new_lineages += fresh;
        if (w->hits[at] > 0)
            w->advance += went_on(b, b->lineage[at].seq, r->seq);
        w->switches_back += at != b->newest && w->hits[at] > 0;
        w->hits[at]++;
    }
    b->newest = at;
    b->lineage[at] = (struct bind_lineage){true, r->seq, r->tboot, m->link_ms};
}

/* --- orders of power-on ----------------------------------------------------------------------- */

static void order_linked(struct bind_order *o, double low, double high) {
    o->low = o->linked == 0 || low < o->low ? low : o->low;
    o->high = o->linked == 0 || high > o->high ? high : o->high;
    o->linked++;
}

/* The transmitter counts its packets from 0 at each start: the first number heard tells how many
 * went by unheard. */
static void take_transmitter_start(struct bind *b, const struct moment *m) {
    const struct report *r = &m->event->report;
    uint64_t packets = m->packets.got + m->packets.lost;
    if (!m->packets.transmitter_restart || !report_has(r, KEY_SEQ) || b->rate_hz <= 0)
        return;
    if (b->step != BIND_AGAIN && b->step != BIND_RX_FIRST)
        return;
    double first = (double)r->seq + 1 - (double)packets;
    first = first > 0 ? first : 0;
    b->rx_first.starts++;
    order_linked(&b->rx_first, first * 1000 / b->rate_hz, (first + 1) * 1000 / b->rate_hz);
}

/* The receiver's own uptime at its first packet. */
static void take_receiver_start(struct bind *b, const struct moment *m) {
    if (b->step != BIND_TX_FIRST)
        return;
    if (m->restarted) {
        b->boot_us = now_us(m);
        b->boot_before_ms = 0;
        b->tx_first.starts++;
    }
    if (b->boot_us == TIME_UNKNOWN || m->event->kind != EVENT_REPORT)
        return;
    const struct report *r = &m->event->report;
    if (!report_has(r, KEY_T))
        return;
    if (!m->packets.arrived) {
        b->boot_before_ms = r->t_ms;
        return;
    }
    uint32_t age = report_has(r, KEY_AGE) && r->age_ms <= r->t_ms ? r->age_ms : 0;
    order_linked(&b->tx_first, (double)b->boot_before_ms, (double)(r->t_ms - age));
    b->boot_us = TIME_UNKNOWN;
}

/* --- the fold --------------------------------------------------------------------------------- */

static void take_watched(struct bind *b, struct bind_watch *w, const struct moment *m) {
    const struct event *e = m->event;
    if (w->from_us == TIME_UNKNOWN || now_us(m) < w->from_us)
        return;
    if (e->kind == EVENT_PORT)
        return;
    take_line(w, e);
    if (e->kind != EVENT_REPORT)
        return;
    take_report(w, m);
    if (m->packets.arrived && (is_on_step(b->step) || b->step == BIND_AWAY))
        layout_take(&b->layout, &e->report);
}

void bind_take(void *state, const struct moment *m, const struct snapshot *s,
               const struct trial_place *place, bool entered) {
    struct bind *b = state;
    const struct event *e = m->event;
    if (entered)
        enter(b, m, place);
    struct bind_watch *w = &b->watch[b->step];
    w->to_us = now_us(m);
    b->rate_hz = s->rate_hz;
    ends_take(&b->ends, e);
    if (e->kind == EVENT_ANSWER)
        answered(b, m, place);
    if (e->kind == EVENT_PORT)
        take_port(w, e);
    open_by_packets(b, m);
    take_watched(b, w, m);
    take_receiver_start(b, m);
    if (e->kind != EVENT_REPORT)
        return;
    take_counters(b, w, m);
    take_sequence(b, w, m);
    take_transmitter_start(b, m);
}
