#include "study/sample.h"

#include <math.h>
#include <string.h>

void sample_init(struct sample *s, double sent_hz) {
    memset(s, 0, sizeof *s);
    s->sent_hz = sent_hz;
    s->sent_fixed = sent_hz > 0;
    s->begin_ms = s->good_ms = TIME_UNKNOWN;
    s->block_ms = SAMPLE_BLOCK_MS;
}

static int32_t lower(int32_t a, int32_t b) {
    return a == 0 || (b != 0 && b < a) ? b : a;
}

void sample_block_join(struct sample_block *a, const struct sample_block *b) {
    a->got += b->got;
    a->lost += b->lost;
    a->outages += b->outages;
    a->jitters += b->jitters;
    a->jitter_ms += b->jitter_ms;
    a->supplies += b->supplies;
    a->supply_mv += b->supply_mv;
    a->supply_low_mv = lower(a->supply_low_mv, b->supply_low_mv);
    a->noise_hits += b->noise_hits;
    a->noise_looks += b->noise_looks;
}

static void merge_pairs(struct sample *s) {
    for (uint32_t i = 0; i < SAMPLE_BLOCKS / 2; i++) {
        struct sample_block pair = s->block[2 * i];
        sample_block_join(&pair, &s->block[2 * i + 1]);
        s->block[i] = pair;
    }
    memset(&s->block[SAMPLE_BLOCKS / 2], 0, SAMPLE_BLOCKS / 2 * sizeof s->block[0]);
    s->block_ms *= 2;
    s->full /= 2;
}

/* Makes room up to a time; the block that holds it is at least begun. */
static void reach(struct sample *s, int64_t at_ms) {
    while (at_ms - s->begin_ms >= s->block_ms * SAMPLE_BLOCKS)
        merge_pairs(s);
    int64_t number = (at_ms - s->begin_ms) / s->block_ms;
    if (number > (int64_t)s->full)
        s->full = (uint32_t)number;
}

static uint32_t index_at(const struct sample *s, int64_t at_ms) {
    int64_t number = (at_ms - s->begin_ms) / s->block_ms;
    return number < 0 ? 0 : number > (int64_t)s->full ? s->full : (uint32_t)number;
}

static struct sample_block *block_at(struct sample *s, int64_t at_ms) {
    return &s->block[index_at(s, at_ms)];
}

static void take_share(struct sample_block *block, const struct moment *m, int64_t from_ms,
                       int64_t to_ms) {
    struct packet_share share = moment_share(m, from_ms, to_ms);
    block->got += share.got;
    block->lost += share.lost;
}

static void take_packets(struct sample *s, const struct moment *m) {
    int64_t good_ms = m->packets.good_ms;
    moment_runs(m, INT64_MIN, INT64_MAX, &s->runs);
    if (!moment_ordered(m))
        s->unordered_lost += m->packets.lost;
    if (moment_packets(m) == 0 || good_ms == TIME_UNKNOWN)
        return;
    uint32_t first = index_at(s, m->from_ms == TIME_UNKNOWN ? good_ms : m->from_ms);
    uint32_t last = index_at(s, good_ms);
    for (uint32_t i = first; i <= last; i++) {
        int64_t begin_ms = s->begin_ms + (int64_t)i * s->block_ms;
        take_share(&s->block[i], m, i == first ? INT64_MIN : begin_ms,
                   i == last ? INT64_MAX : begin_ms + s->block_ms);
    }
}

/* The size of the transit times' differences, as in jitter.h. */
static void take_jitter(struct sample *s, const struct moment *m) {
    const struct packet_step *step = &m->packets;
    if (step->unseen || step->transmitter_restart)
        s->good_ms = TIME_UNKNOWN;
    if (!step->arrived)
        return;
    bool told = step->counted && step->estimated == 0 && s->sent_hz > 0 && moment_packets(m) > 0;
    if (told && s->good_ms != TIME_UNKNOWN && step->good_ms != TIME_UNKNOWN) {
        double sent_ms = (double)moment_packets(m) * 1000.0 / s->sent_hz;
        struct sample_block *block = block_at(s, step->good_ms);
        block->jitter_ms += fabs((double)(step->good_ms - s->good_ms) - sent_ms);
        block->jitters++;
    }
    s->good_ms = told ? step->good_ms : TIME_UNKNOWN;
}

static void take_report(struct sample *s, const struct moment *m) {
    const struct report *r = &m->event->report;
    struct sample_block *block = block_at(s, m->link_ms);
    block->outages += m->outage.ended;
    if (report_has(r, KEY_MV)) {
        block->supply_mv += r->mv;
        block->supplies++;
    }
    int32_t low, high;
    if (report_has(r, KEY_MVMIN) && report_supply(r, &low, &high))
        block->supply_low_mv = lower(block->supply_low_mv, low);
    if (report_has(r, KEY_NOISE)) {
        block->noise_hits += r->noise_hits;
        block->noise_looks += r->noise_looks;
    }
}

static void take_identity(struct sample *s, const struct identity *id) {
    if (identity_has(id, ID_RATE) && !s->sent_fixed)
        s->sent_hz = id->rate_hz;
    if (id->transmitter || !identity_has(id, ID_ACK))
        return;
    enum sample_ack said = id->ack != 0 ? ACK_WITH : ACK_WITHOUT;
    s->ack = s->ack == ACK_UNKNOWN || s->ack == said ? said : ACK_BOTH;
}

void sample_feed(struct sample *s, const struct moment *m) {
    if (m->restarted) {
        stat_loss_break(&s->runs);
        s->good_ms = TIME_UNKNOWN;
    }
    if (m->event->kind == EVENT_ID)
        take_identity(s, &m->event->id);
    if (m->event->kind != EVENT_REPORT)
        return;
    if (m->link_ms == TIME_UNKNOWN) { /* no clock, no blocks */
        moment_runs(m, INT64_MIN, INT64_MAX, &s->runs);
        return;
    }
    if (s->begin_ms == TIME_UNKNOWN)
        s->begin_ms = m->link_ms;
    reach(s, m->link_ms);
    take_packets(s, m);
    take_jitter(s, m);
    take_report(s, m);
}

void sample_take(struct sample *s, const struct snapshot *snapshot) {
    s->got = snapshot->total.got;
    s->lost = snapshot->total.lost;
    s->counted = snapshot->total.known && s->got + s->lost > 0;
    s->evidence = snapshot->evidence;
    s->rate_hz = snapshot->rate_hz;
    s->outages_known = snapshot->longest_gap_ms != TIME_UNKNOWN;
    s->outage_limit_ms = snapshot->outage_limit_ms;
    s->outages = snapshot->outages;
    s->failsafe_known = snapshot->failsafe_known;
    s->failsafes = snapshot->failsafe_entries;
    s->registers_known = snapshot->registers_known;
    s->settings_lost = snapshot->settings_lost;
    s->receiver_restarts = snapshot->receiver_restarts;
    s->transmitter_restarts_known = snapshot->transmitter_restarts_known;
    s->transmitter_restarts = snapshot->transmitter_restarts;
}

uint32_t sample_joined(const struct sample *s, uint32_t each) {
    return s->full / each;
}

struct sample_block sample_block_at(const struct sample *s, uint32_t each, uint32_t index) {
    struct sample_block sum = {0};
    for (uint32_t k = 0; k < each; k++)
        sample_block_join(&sum, &s->block[index * each + k]);
    return sum;
}

int64_t sample_observed_ms(const struct sample *s) {
    int64_t whole = 0;
    for (uint32_t i = 0; i <= s->full; i++)
        if (s->block[i].got + s->block[i].lost > 0)
            whole += s->block_ms;
    return whole;
}

void sample_runs_join(struct loss_runs *a, const struct loss_runs *b) {
    a->packets += b->packets;
    a->lost += b->lost;
    a->runs += b->runs;
    a->gaps += b->gaps;
    a->run_squares += b->run_squares;
    a->begun += b->begun;
    if (b->run_longest > a->run_longest)
        a->run_longest = b->run_longest;
    a->open = 0;
}
