#include "study/walk.h"

#include <string.h>

#include "base/number.h"

void walk_init(struct walk *w, const struct walk_limits *limits) {
    memset(w, 0, sizeof *w);
    w->limits = *limits;
    w->good_ms = w->quiet_ms = TIME_UNKNOWN;
}

/* --- marks ------------------------------------------------------------------------------------ */

static void end_stop(struct walk *w, int64_t at_ms) {
    if (w->here) {
        struct walk_stop *s = &w->stop[w->count - 1];
        s->to_ms = at_ms > s->from_ms ? at_ms : s->from_ms;
        s->open = false;
    }
    w->here = w->dying = false;
}

static void begin_stop(struct walk *w, int64_t at_ms, double distance_m,
                       const char facing[static WALK_FACING]) {
    if (w->count == WALK_STOPS_MAX) {
        w->passed_over++;
        return;
    }
    struct walk_stop *s = &w->stop[w->count++];
    *s = (struct walk_stop){.distance_m = distance_m,
                            .from_ms = at_ms,
                            .to_ms = at_ms,
                            .open = true,
                            .block_ms = WALK_BLOCK_MS,
                            .longest_gap_ms = TIME_UNKNOWN,
                            .longest_gap_low_ms = TIME_UNKNOWN};
    memcpy(s->facing, facing, WALK_FACING);
    w->here = true;
}

void walk_copy_facing(char out[static WALK_FACING], struct slice text) {
    struct slice rest = text, number = slice_cut(&rest, ' ');
    double degrees;
    out[0] = '\0';
    if (number_decimal(number, &degrees) == NUMBER_OK && (degrees == 0 || degrees == 360))
        return;
    size_t len = text.len < WALK_FACING ? text.len : WALK_FACING - 1;
    while (len > 0 && len < text.len && ((unsigned char)text.at[len] & 0xC0) == 0x80)
        len--;
    for (size_t i = 0; i < len; i++)
        out[i] = text.at[i];
    out[len] = '\0';
}

void walk_stop_at(struct walk *w, int64_t at_ms, double distance_m, struct slice facing) {
    char heading[WALK_FACING] = "";
    walk_copy_facing(heading, facing);
    if (at_ms == TIME_UNKNOWN) {
        w->marks_untimed++;
        return;
    }
    end_stop(w, at_ms);
    if (distance_m < 0)
        w->marks_no_place++;
    else
        begin_stop(w, at_ms, distance_m, heading);
}

void walk_leave_at(struct walk *w, int64_t at_ms) {
    if (at_ms == TIME_UNKNOWN)
        w->marks_untimed++;
    else
        end_stop(w, at_ms);
}

static void take_mark(struct walk *w, const struct mark *mark, int64_t at_ms) {
    static const struct slice ahead = {"", 0};
    if (mark->type == MARK_STOP)
        walk_stop_at(w, at_ms, mark->distance_m, ahead);
    else if (mark->type == MARK_LEAVE)
        walk_leave_at(w, at_ms);
    else if (mark->type == MARK_FACING && w->here)
        walk_stop_at(w, at_ms, w->stop[w->count - 1].distance_m, mark->text);
}

/* --- what a report adds to a stop ------------------------------------------------------------- */

static int64_t end_of(const struct walk_stop *s) {
    return s->open ? INT64_MAX : s->to_ms;
}

static int64_t later(int64_t a, int64_t b) {
    return a > b ? a : b;
}

static int64_t earlier(int64_t a, int64_t b) {
    return a < b ? a : b;
}

/* Two blocks become one, so that there is room for as many again. */
static void widen_blocks(struct walk_stop *s) {
    for (size_t i = 0; i < WALK_BLOCKS_MAX / 2; i++) {
        s->block[i].got = s->block[2 * i].got + s->block[2 * i + 1].got;
        s->block[i].lost = s->block[2 * i].lost + s->block[2 * i + 1].lost;
    }
    memset(s->block + WALK_BLOCKS_MAX / 2, 0, sizeof s->block / 2);
    s->block_ms *= 2;
}

static void take_blocks(struct walk_stop *s, const struct moment *m) {
    int64_t good_ms = m->packets.good_ms;
    int64_t upto = earlier(good_ms, end_of(s)) - s->from_ms;
    while (upto / s->block_ms >= WALK_BLOCKS_MAX)
        widen_blocks(s);
    int64_t since = m->from_ms == TIME_UNKNOWN ? good_ms : earlier(m->from_ms, good_ms);
    int64_t i = later(since - s->from_ms - 1, 0) / s->block_ms;
    for (; i * s->block_ms < upto; i++) {
        int64_t begin = s->from_ms + i * s->block_ms;
        struct packet_share share = moment_share(m, begin, earlier(begin + s->block_ms, end_of(s)));
        s->block[i].got += share.got;
        s->block[i].lost += share.lost;
    }
    s->blocks = (uint32_t)(upto / s->block_ms);
}

static void take_packets(struct walk_stop *s, const struct moment *m) {
    s->counted |= m->packets.counted;
    if (!m->packets.counted || m->packets.good_ms == TIME_UNKNOWN ||
        m->packets.good_ms <= s->from_ms)
        return;
    struct packet_share share = moment_share(m, s->from_ms, end_of(s));
    s->got += share.got;
    s->lost += share.lost;
    if (share.got + share.lost > 0 && !moment_ordered(m))
        s->order_unknown = true;
    moment_runs(m, s->from_ms, end_of(s), &s->runs);
    take_blocks(s, m);
}

/* Of a stretch of time, what lies within the stop, ms; 0 or less: nothing. */
static int64_t overlap(const struct walk_stop *s, int64_t from_ms, int64_t to_ms) {
    return earlier(to_ms, end_of(s)) - later(from_ms, s->from_ms);
}

static void keep_gap(struct walk_stop *s, int64_t low, int64_t high) {
    s->longest_gap_low_ms = later(s->longest_gap_low_ms, low);
    s->longest_gap_ms = later(s->longest_gap_ms, high);
}

/* At least so much of the gap that closed with this report lies within the stop. */
static int64_t closed_low(const struct moment *m, int64_t good_ms, int64_t within) {
    int64_t outside = m->packets.good_ms - good_ms - within;
    return later(m->outage.gap_low_ms - outside, 0);
}

/* good_ms: the newest packet before this report. */
static void take_gaps(struct walk_stop *s, const struct moment *m, int64_t good_ms) {
    if (m->outage.closed && good_ms != TIME_UNKNOWN) {
        int64_t within = overlap(s, good_ms, m->packets.good_ms);
        if (within > 0)
            keep_gap(s, closed_low(m, good_ms, within), earlier(m->outage.gap_high_ms, within));
    }
    if (m->packets.good_ms != TIME_UNKNOWN) {
        int64_t open = overlap(s, m->packets.good_ms, m->link_ms);
        if (open > 0)
            keep_gap(s, open, open);
    }
}

static void take_radio(struct walk_stop *s, const struct report *r, bool arrived) {
    if (report_has(r, KEY_RSSI) && arrived)
        stat_moments_add(&s->rssi, r->rssi_dbm);
    if (report_has(r, KEY_HEARD)) {
        s->heard_hits += r->heard_hits;
        s->heard_looks += r->heard_looks;
    }
    if (report_has(r, KEY_TSTEP) && arrived) {
        s->step_known = true;
        s->step = r->tstep;
        s->steps = r->tsteps;
    }
    int32_t low, high;
    if (report_supply(r, &low, &high) && low > 0 &&
        (s->supply_low_mv == 0 || low < s->supply_low_mv))
        s->supply_low_mv = low;
}

/* The newest stop that has a part of (from_ms, to_ms]. */
static struct walk_stop *stop_during(struct walk *w, int64_t from_ms, int64_t to_ms) {
    for (uint32_t i = w->count; i-- > 0;) {
        struct walk_stop *s = &w->stop[i];
        if (s->from_ms < to_ms && end_of(s) > from_ms)
            return s;
        if (end_of(s) <= from_ms)
            break;
    }
    return NULL;
}

static void take_report(struct walk *w, const struct moment *m) {
    const struct report *r = &m->event->report;
    struct walk_stop *s = stop_during(w, m->before_ms, m->link_ms);
    if (!s)
        return;
    s->failsafes += m->failsafes;
    s->failsafe_known |= report_has(r, KEY_FS) || report_has(r, KEY_FSN);
    s->transmitter_restarts += m->packets.transmitter_restart;
    take_radio(s, r, m->packets.arrived);
}

/* --- the link's death ------------------------------------------------------------------------- */

static void die(struct walk *w, int64_t from_ms, int64_t lasted_ms) {
    struct walk_stop *s = &w->stop[w->count - 1];
    end_stop(w, from_ms + w->limits.died_ms);
    s->died = true;
    s->dead_ms = lasted_ms;
    w->dying = true;
    w->dead_from_ms = from_ms;
}

/* An outage of the stop is open at this report, or ended with it; only reports tell. */
static void look_for_death(struct walk *w, const struct moment *m) {
    if (w->dying && m->packets.arrived)
        w->dying = false;
    else if (w->dying)
        w->stop[w->count - 1].dead_ms = m->link_ms - w->dead_from_ms;
    if (!w->here || !m->packets.counted || w->quiet_ms == TIME_UNKNOWN)
        return;
    struct walk_stop *s = &w->stop[w->count - 1];
    int64_t since = later(w->quiet_ms, s->from_ms);
    if (!m->packets.arrived) {
        if (m->link_ms - since >= w->limits.died_ms)
            die(w, since, m->link_ms - since);
        return;
    }
    int64_t within = overlap(s, w->good_ms, m->packets.good_ms);
    if (!m->outage.closed || w->good_ms == TIME_UNKNOWN || within < w->limits.died_ms)
        return;
    int64_t low = closed_low(m, w->good_ms, within);
    if (low >= w->limits.died_ms) {
        die(w, since, low);
        w->dying = false;
    }
}

/* --- the fold --------------------------------------------------------------------------------- */

static void take_moment(struct walk *w, const struct moment *m) {
    if (m->restarted || m->fresh_boot)
        w->good_ms = w->quiet_ms = TIME_UNKNOWN;
    look_for_death(w, m);
    int64_t since = earlier(m->from_ms, w->good_ms);
    for (uint32_t i = w->count; i-- > 0 && end_of(&w->stop[i]) > since;) {
        take_packets(&w->stop[i], m);
        take_gaps(&w->stop[i], m, w->good_ms);
    }
    take_report(w, m);
    w->good_ms = m->packets.good_ms;
    if (m->packets.good_ms != TIME_UNKNOWN)
        w->quiet_ms = m->packets.good_ms;
    else if (w->quiet_ms == TIME_UNKNOWN)
        w->quiet_ms = m->link_ms;
}

void walk_feed_unmarked(struct walk *w, const struct moment *m) {
    if (m->link_ms == TIME_UNKNOWN)
        return;
    if (m->event->kind == EVENT_REPORT)
        take_moment(w, m);
    struct walk_stop *s =
        m->restarted && !m->by_opening ? stop_during(w, m->link_ms - 1, m->link_ms + 1) : NULL;
    if (s)
        s->receiver_restarts++;
    walk_advance(w, m->link_ms);
}

void walk_feed(struct walk *w, const struct moment *m) {
    if (m->event->kind == EVENT_MARK)
        take_mark(w, &m->event->mark, m->link_ms);
    walk_feed_unmarked(w, m);
}

void walk_advance(struct walk *w, int64_t now_ms) {
    if (w->here && now_ms > w->stop[w->count - 1].to_ms)
        w->stop[w->count - 1].to_ms = now_ms;
}
