#include "link/moment.h"

#include <math.h>

#include "base/whole.h"
#include "link/parts.h"

const struct moment *bench_moment(const struct bench *b) {
    return &b->moment;
}

uint64_t moment_packets(const struct moment *m) {
    return m->packets.counted ? m->packets.got + m->packets.lost : 0;
}

/* Where the packets before the newest one are not known to have come after anything, they all lie
 * at the newest one's time. */
static int64_t packets_from(const struct moment *m) {
    bool known = m->from_ms != TIME_UNKNOWN && m->from_ms < m->packets.good_ms;
    return known ? m->from_ms : m->packets.good_ms;
}

double moment_packet_ms(const struct moment *m, uint64_t index) {
    if (m->packets.good_ms == TIME_UNKNOWN)
        return NAN;
    int64_t from = packets_from(m);
    double span = (double)(m->packets.good_ms - from);
    return (double)from + span * (double)(index + 1) / (double)moment_packets(m);
}

bool moment_ordered(const struct moment *m) {
    const struct packet_step *s = &m->packets;
    return s->lost == 0 || s->order_len + s->missing_before == s->got + s->lost;
}

bool moment_arrived(const struct moment *m, uint64_t index) {
    const struct packet_step *s = &m->packets;
    uint64_t spelled_from = s->got + s->lost - s->order_len;
    if (s->lost == 0)
        return true;
    return index >= spelled_from && (s->order >> (index - spelled_from) & 1u) != 0;
}

/* How many of the packets lie at or before until_ms. */
static uint64_t packets_until(const struct moment *m, int64_t until_ms) {
    uint64_t packets = moment_packets(m);
    int64_t from = packets_from(m), to = m->packets.good_ms;
    if (packets == 0 || to == TIME_UNKNOWN || until_ms < from)
        return 0;
    if (until_ms >= to)
        return packets;
    double at = (double)(until_ms - from) * (double)packets / (double)(to - from);
    return whole_u64(at) < packets ? whole_u64(at) : packets;
}

static uint64_t low_bits(uint64_t bits, uint64_t count) {
    return count >= 64 ? bits : bits & ((UINT64_C(1) << count) - 1);
}

/* How many of the first `count` packets arrived. */
static uint64_t arrived_until(const struct moment *m, uint64_t count) {
    const struct packet_step *s = &m->packets;
    uint64_t packets = moment_packets(m);
    if (s->lost == 0)
        return count;
    if (!moment_ordered(m) && m->outage.ended) /* they came when the outage was over */
        return count > s->lost ? count - s->lost : 0;
    if (!moment_ordered(m))
        return whole_u64((double)count * (double)s->got / (double)packets);
    uint64_t spelled_from = packets - s->order_len;
    if (count <= spelled_from)
        return 0;
    return bits_in(low_bits(s->order, count - spelled_from));
}

struct packet_share moment_share(const struct moment *m, int64_t from_ms, int64_t to_ms) {
    uint64_t first = packets_until(m, from_ms), last = packets_until(m, to_ms);
    if (last <= first)
        return (struct packet_share){0, 0};
    uint64_t got = arrived_until(m, last) - arrived_until(m, first);
    return (struct packet_share){got, last - first - got};
}

void moment_runs(const struct moment *m, int64_t from_ms, int64_t to_ms, struct loss_runs *runs) {
    uint64_t first = packets_until(m, from_ms), last = packets_until(m, to_ms);
    if (last <= first)
        return;
    if (m->packets.unseen || m->packets.transmitter_restart || m->packets.estimated > 0)
        stat_loss_break(runs);
    if (m->packets.lost == 0) {
        stat_loss_take(runs, true, last - first);
    } else if (!moment_ordered(m)) {
        stat_loss_break(runs);
    } else { /* all before the outcomes that were spelled out are missing, be they millions */
        uint64_t spelled = m->packets.got + m->packets.lost - m->packets.order_len;
        uint64_t from = spelled < first ? first : spelled < last ? spelled : last;
        stat_loss_take(runs, false, from - first);
        for (uint64_t i = from; i < last; i++)
            stat_loss_take(runs, moment_arrived(m, i), 1);
    }
}
