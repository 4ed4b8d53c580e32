#include "link/bursts.h"

void bursts_init(struct bursts *b, uint64_t gmin) {
    *b = (struct bursts){.gmin = gmin > 0 ? gmin : 1};
}

static void to_gap(struct bursts *b, uint64_t packets, uint64_t lost) {
    if (packets == 0)
        return;
    b->gaps += !b->in_gap;
    b->in_gap = true;
    b->gap_packets += packets;
    b->gap_lost += lost;
}

static void to_unsure(struct bursts *b, uint64_t packets, uint64_t lost) {
    if (packets == 0)
        return;
    b->in_gap = false;
    b->unsure_packets += packets;
    b->unsure_lost += lost;
}

static void to_burst(struct bursts *b, bool cut) {
    b->in_gap = false;
    b->count++;
    b->cut += cut;
    b->packets += b->held_packets;
    b->lost += b->held_lost;
    if (b->held_packets > b->longest)
        b->longest = b->held_packets;
}

/* What was held belongs together and is decided.  clear: at least gmin received packets follow. */
static void decide(struct bursts *b, bool clear) {
    bool cut = b->held_cut || !clear;
    uint64_t tail = b->tail;
    if (b->held_lost > 1)
        to_burst(b, cut);
    else if (cut)
        to_unsure(b, b->held_packets, b->held_lost);
    else
        to_gap(b, b->held_packets, b->held_lost);
    b->held_packets = b->held_lost = b->tail = 0;
    b->held_cut = false;
    if (clear)
        to_gap(b, tail, 0);
    else
        to_unsure(b, tail, 0);
}

static void received(struct bursts *b) {
    if (b->held_lost == 0 && !b->near) {
        to_gap(b, 1, 0);
        return;
    }
    b->tail++;
    if (b->tail < b->gmin)
        return;
    if (b->held_lost > 0) {
        decide(b, true);
    } else {
        to_gap(b, b->tail, 0);
        b->tail = 0;
        b->near = false;
    }
}

void bursts_arrived(struct bursts *b, uint64_t count) {
    for (; count > 0 && (b->held_lost > 0 || b->near); count--)
        received(b);
    to_gap(b, count, 0);
}

void bursts_missing(struct bursts *b, uint64_t count) {
    if (count == 0)
        return;
    if (b->held_lost > 0) {
        b->held_packets += b->tail + count;
    } else {
        to_unsure(b, b->tail, 0);
        b->held_cut = b->near;
        b->held_packets = count;
        b->near = false;
    }
    b->held_lost += count;
    b->tail = 0;
}

void bursts_outcome(struct bursts *b, bool arrived) {
    if (arrived)
        received(b);
    else
        bursts_missing(b, 1);
}

void bursts_unknown(struct bursts *b) {
    if (b->held_lost > 0)
        decide(b, false);
    else
        to_unsure(b, b->tail, 0);
    b->tail = 0;
    b->near = true;
    b->in_gap = false;
}

void bursts_break(struct bursts *b) {
    if (b->held_lost > 0)
        decide(b, true);
    else
        to_gap(b, b->tail, 0);
    b->tail = 0;
    b->near = false;
    b->in_gap = false;
}

void bursts_step(struct bursts *b, const struct packet_step *step) {
    if (step->transmitter_restart)
        bursts_break(b);
    if (!step->counted)
        return;
    if (step->order_len + step->missing_before < step->got + step->lost || step->estimated > 0)
        bursts_unknown(b);
    bursts_missing(b, step->missing_before);
    uint64_t order = step->order;
    bool arrived;
    for (uint32_t left = step->order_len, alike; (alike = bits_row(&order, &left, &arrived)) > 0;) {
        if (arrived)
            bursts_arrived(b, alike);
        else
            bursts_missing(b, alike);
    }
}

static double ratio(uint64_t part, uint64_t whole) {
    return whole > 0 ? (double)part / (double)whole : -1;
}

void bursts_read(const struct bursts *b, double interval_ms, struct bursts_figures *out) {
    struct bursts ended = *b;
    bursts_break(&ended);
    *out = (struct bursts_figures){
        .count = ended.count,
        .packets = ended.packets,
        .lost = ended.lost,
        .longest = ended.longest,
        .cut = ended.cut,
        .gaps = ended.gaps,
        .gap_packets = ended.gap_packets,
        .gap_lost = ended.gap_lost,
        .unsure_packets = ended.unsure_packets,
        .unsure_lost = ended.unsure_lost,
        .density = ratio(ended.lost, ended.packets),
        .mean_packets = ratio(ended.packets, ended.count),
        .mean_ms = -1,
        .gap_density = ratio(ended.gap_lost, ended.gap_packets),
        .gap_mean_packets = ratio(ended.gap_packets, ended.gaps),
        .gap_mean_ms = -1,
    };
    if (interval_ms > 0 && ended.count > 0)
        out->mean_ms = out->mean_packets * interval_ms;
    if (interval_ms > 0 && ended.gaps > 0)
        out->gap_mean_ms = out->gap_mean_packets * interval_ms;
}
