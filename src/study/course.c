#include "study/course.h"

#include <math.h>
#include <string.h>

#include "base/whole.h"

void course_init(struct course *c) {
    memset(c, 0, sizeof *c);
    c->bin_ms = COURSE_BIN_MS;
}

static void range_join(struct course_range *into, const struct course_range *from) {
    if (from->count == 0)
        return;
    if (into->count == 0 || from->low < into->low)
        into->low = from->low;
    if (into->count == 0 || from->high > into->high)
        into->high = from->high;
    into->sum += from->sum;
    into->count += from->count;
}

static void range_take(struct course_range *range, int32_t value) {
    range_join(range, &(struct course_range){1, value, value, value});
}

static void bin_join(struct course_bin *into, const struct course_bin *from) {
    into->got += from->got;
    into->lost += from->lost;
    into->noise_hits += from->noise_hits;
    into->noise_looks += from->noise_looks;
    range_join(&into->supply, &from->supply);
    range_join(&into->supply_low, &from->supply_low);
    range_join(&into->transmitter, &from->transmitter);
    for (int i = 0; i < COURSE_LANES; i++) {
        into->on_ms[i] += from->on_ms[i];
        into->begun[i] += from->begun[i];
    }
    for (int i = 0; i < CHANNELS_MAX; i++) {
        range_join(&into->channel[i], &from->channel[i]);
        into->off[i] += from->off[i];
    }
}

void course_join(const struct course *c, uint32_t first, uint32_t group, struct course_bin *out) {
    memset(out, 0, sizeof *out);
    for (uint32_t i = first; i < first + group && i < c->bins; i++)
        bin_join(out, &c->bin[i]);
}

static void merge_pairs(struct course *c) {
    for (uint32_t i = 0; i < COURSE_BINS / 2; i++) {
        struct course_bin joined = c->bin[2 * i];
        bin_join(&joined, &c->bin[2 * i + 1]);
        c->bin[i] = joined;
    }
    memset(&c->bin[COURSE_BINS / 2], 0, sizeof c->bin[0] * (COURSE_BINS / 2));
    c->bin_ms *= 2;
    c->bins = (c->bins + 1) / 2;
}

/* The bin that ends at or after at_ms: times belong to (from, to]. */
static struct course_bin *bin_at(struct course *c, int64_t at_ms) {
    int64_t before = at_ms > 0 ? at_ms - 1 : 0;
    while (before / c->bin_ms >= COURSE_BINS)
        merge_pairs(c);
    uint32_t index = (uint32_t)(before / c->bin_ms);
    if (index >= c->bins)
        c->bins = index + 1;
    return &c->bin[index];
}

/* --- lanes */

/* The state of a lane lasted over (from, to]. */
static void lane_time(struct course *c, enum course_lane_id id, int64_t from_ms, int64_t to_ms) {
    bin_at(c, to_ms); /* merges first */
    int64_t from = from_ms > 0 ? from_ms : 0;
    while (from < to_ms) {
        int64_t end = (from / c->bin_ms + 1) * c->bin_ms;
        int64_t to = end < to_ms ? end : to_ms;
        c->bin[from / c->bin_ms].on_ms[id] += to - from;
        from = to;
    }
}

static void lane_open(struct course *c, enum course_lane_id id, int64_t at_ms) {
    struct course_lane *lane = &c->lane[id];
    lane->open = true;
    lane->now = (struct course_span){at_ms, at_ms};
    bin_at(c, at_ms)->begun[id]++;
}

static void lane_extend(struct course *c, enum course_lane_id id, int64_t to_ms) {
    struct course_lane *lane = &c->lane[id];
    if (to_ms > lane->now.to_ms) {
        lane_time(c, id, lane->now.to_ms, to_ms);
        lane->now.to_ms = to_ms;
    }
}

static void lane_close(struct course *c, enum course_lane_id id) {
    struct course_lane *lane = &c->lane[id];
    if (lane->open && lane->count < COURSE_SPANS)
        lane->span[lane->count++] = lane->now;
    else if (lane->open)
        lane->more++;
    lane->open = false;
}

static void lane_add(struct course *c, enum course_lane_id id, int64_t from_ms, int64_t to_ms) {
    lane_open(c, id, from_ms);
    lane_extend(c, id, to_ms);
    lane_close(c, id);
}

/* A state that lasts: begins, goes on, or has ended. */
static void lane_state(struct course *c, enum course_lane_id id, bool on, int64_t now_ms) {
    if (on && !c->lane[id].open)
        lane_open(c, id, now_ms);
    if (on)
        lane_extend(c, id, now_ms);
    else
        lane_close(c, id);
}

/* --- outages */

double course_length_ms(uint32_t bin) {
    return bin == 0 ? 0 : pow(10, (double)(bin - 1) / COURSE_DECADE);
}

static uint32_t length_bin(int64_t ms) {
    if (ms < 1)
        return 0;
    double bin = 1 + floor(log10((double)ms) * COURSE_DECADE + 1e-9);
    return bin < COURSE_LENGTHS ? whole_u32(bin) : COURSE_LENGTHS - 1;
}

static void take_outage(struct course *c, const struct moment *m) {
    const struct outage_step *s = &m->outage;
    if (s->ended) {
        c->outages++;
        c->at_least[length_bin(s->low_ms)]++;
        c->at_most[length_bin(s->high_ms)]++;
        if (!c->lane[COURSE_OUTAGE].open)
            lane_open(c, COURSE_OUTAGE, s->from_ms);
        lane_extend(c, COURSE_OUTAGE, s->from_ms + s->high_ms);
        lane_close(c, COURSE_OUTAGE);
    }
    if (s->began)
        lane_open(c, COURSE_OUTAGE, s->from_ms);
    if (c->lane[COURSE_OUTAGE].open)
        lane_extend(c, COURSE_OUTAGE, m->link_ms);
}

/* --- reports */

static void take_packets(struct course *c, const struct moment *m) {
    const struct packet_step *s = &m->packets;
    uint64_t packets = moment_packets(m);
    c->counted = c->counted || s->counted;
    if (packets == 0)
        return;
    if (s->good_ms == TIME_UNKNOWN) {
        c->untimed += packets;
        return;
    }
    int64_t from = m->from_ms != TIME_UNKNOWN && m->from_ms < s->good_ms ? m->from_ms : INT64_MIN;
    bin_at(c, s->good_ms); /* merges first, so that bin_ms stays as it is */
    int64_t first = from > 0 ? from / c->bin_ms : 0;
    if (from == INT64_MIN)
        first = (s->good_ms > 0 ? s->good_ms - 1 : 0) / c->bin_ms;
    for (int64_t i = first; i < c->bins; i++) {
        /* The first and the last take what lies beyond: rounding loses no packet. */
        int64_t low = i == first ? INT64_MIN : i * c->bin_ms;
        int64_t high = i + 1 == c->bins ? INT64_MAX : (i + 1) * c->bin_ms;
        struct packet_share share = moment_share(m, low, high);
        c->bin[i].got += share.got;
        c->bin[i].lost += share.lost;
    }
}

static void take_values(struct course *c, struct course_bin *bin, const struct report *r) {
    int32_t low, high;
    if (report_supply(r, &low, &high)) {
        range_take(&bin->supply_low, low);
        if (high > c->supply_highest_mv)
            c->supply_highest_mv = high;
    }
    if (report_has(r, KEY_MV))
        range_take(&bin->supply, (int32_t)(r->mv < INT32_MAX ? r->mv : INT32_MAX));
    if (report_has(r, KEY_TMV))
        range_take(&bin->transmitter, (int32_t)r->tmv);
    if (report_has(r, KEY_NOISE)) {
        bin->noise_hits += r->noise_hits;
        bin->noise_looks += r->noise_looks;
    }
    for (uint32_t i = 0; i < r->ch_count && i < CHANNELS_MAX; i++) {
        if (r->ch[i] == CHANNEL_OFF)
            bin->off[i]++;
        else
            range_take(&bin->channel[i], r->ch[i]);
    }
}

static void take_report(struct course *c, const struct moment *m) {
    const struct report *r = &m->event->report;
    c->keys |= r->has;
    take_packets(c, m);
    if (m->link_ms == TIME_UNKNOWN) {
        c->bare++;
        return;
    }
    take_values(c, bin_at(c, m->link_ms), r);
    take_outage(c, m);
    if (report_has(r, KEY_FS))
        lane_state(c, COURSE_FAILSAFE, r->fs != 0, m->link_ms);
    if (m->hole && m->before_ms != TIME_UNKNOWN && !c->lane[COURSE_CABLE].open)
        lane_add(c, COURSE_CABLE, m->before_ms, m->link_ms);
    if (m->packets.transmitter_restart)
        lane_add(c, COURSE_TRANSMITTER, m->link_ms, m->link_ms);
}

static void take_mark(struct course *c, const struct moment *m) {
    if (c->marks == COURSE_MARKS)
        return;
    c->mark[c->marks++] =
        (struct course_mark){m->link_ms, m->event->mark.type, m->event->mark.distance_m};
}

/* An outage that a restart ended comes with the event of the restart. */
static void take_restart(struct course *c, const struct moment *m) {
    if (m->event->kind != EVENT_REPORT && m->outage.ended)
        take_outage(c, m);
    else if (!m->outage.began)
        lane_close(c, COURSE_OUTAGE);
    lane_add(c, COURSE_RECEIVER, m->link_ms, m->link_ms);
}

void course_feed(struct course *c, const struct moment *m) {
    if (m->event->kind == EVENT_REPORT)
        take_report(c, m);
    if (m->link_ms == TIME_UNKNOWN)
        return;
    if (m->link_ms > c->end_ms)
        c->end_ms = m->link_ms;
    if (m->restarted)
        take_restart(c, m);
    if (m->event->kind == EVENT_PORT)
        lane_state(c, COURSE_CABLE, m->event->port.change == PORT_LOST, m->link_ms);
    if (m->event->kind == EVENT_MARK)
        take_mark(c, m);
}
