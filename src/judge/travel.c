#include "judge/travel.h"

#include <math.h>
#include <string.h>

#include "base/whole.h"

/* In µs of 1000. */
enum {
    MOVED = 80, /* so far from where it was: a hand moved it */
    CALM = 60,  /* hands off: no value farther from the mean */
    NEAR = 40,  /* back at its rest */
    STILL = 30, /* stands */
    END = 200,  /* so near an end of the span it rests there: a throttle, a switch */
    FAR = 400,  /* what rests at an end must go so far */
    STEP = 6,   /* a difference from one report to the next that isn't noise */
};
enum { STILL_MS = 700, ALL_STILL_MS = 1000, SETTLE_MS = 300, SETTLED_MS = 700 };

void travel_calm_add(struct travel_calm *calm, const struct stick_map *map, const struct report *r,
                     int64_t link_ms) {
    int32_t value;
    for (uint32_t c = 0; c < map->count; c++)
        if (stick_value(r, c, &value) && calm->of[c].count > 0 &&
            fabs(value - calm->of[c].mean) > CALM * map->scale)
            calm->begun = false;
    if (!calm->begun) {
        *calm = (struct travel_calm){.begun = true, .from_ms = link_ms};
    }
    calm->now_ms = link_ms;
    for (uint32_t c = 0; c < map->count; c++)
        if (stick_value(r, c, &value))
            stat_moments_add(&calm->of[c], value);
}

bool travel_calm_read(const struct travel_calm *calm, struct travel_base *out) {
    if (!calm->begun || calm->now_ms - calm->from_ms < CALM_MS)
        return false;
    memset(out, 0, sizeof *out);
    bool any = false;
    for (uint32_t c = 0; c < CHANNELS_MAX; c++) {
        if (calm->of[c].count < CALM_VALUES)
            continue;
        any = out->known[c] = true;
        out->rest[c] = calm->of[c].mean;
        stat_moments_sd(&calm->of[c], &out->noise[c]);
    }
    return any;
}

/* --- which one moves */

void travel_begin(struct travel *t) {
    memset(t, 0, sizeof *t);
    t->mover = -1;
}

static void note_here(struct travel *t, const struct stick_map *map, const struct report *r,
                      int64_t link_ms) {
    t->begun = true;
    for (uint32_t c = 0; c < map->count; c++) {
        t->here[c] = c < r->ch_count ? r->ch[c] : CHANNEL_OFF;
        t->here_in[c] = report_has(r, KEY_IN) && c < r->in_count ? r->in[c] : CHANNEL_OFF;
        t->anchor[c] = t->here[c];
        t->still_ms[c] = link_ms;
    }
}

static bool went(int32_t here, int32_t value, double far) {
    return here != CHANNEL_OFF && value != CHANNEL_OFF && fabs((double)value - here) > far;
}

/* Twice in a row, so that a single wild value is no movement. */
static void note_moved(struct travel *t, const struct stick_map *map, const struct report *r) {
    uint16_t away = 0, away_in = 0;
    for (uint32_t c = 0; c < map->count; c++) {
        int32_t value;
        if (stick_value(r, c, &value) && went(t->here[c], value, MOVED * map->scale))
            away |= (uint16_t)(1u << c);
        if (report_has(r, KEY_IN) && c < r->in_count &&
            went(t->here_in[c], r->in[c], MOVED * map->scale))
            away_in |= (uint16_t)(1u << c);
    }
    t->moved |= away & t->away;
    t->moved_in |= away_in & t->away_in;
    t->away = away;
    t->away_in = away_in;
}

static uint32_t lowest(uint16_t bits) {
    return (uint32_t)__builtin_ctz(bits);
}

static bool one_bit(uint16_t bits) {
    return bits != 0 && (bits & (bits - 1)) == 0;
}

/* With the sticks' own values it shows whether two channels moved because one stick drives both; a
 * stick that itself moves no channel is none of this. */
static void find_mover(struct travel *t, const struct stick_map *map) {
    if (t->moved == 0)
        return;
    bool one_stick = map->inputs > 0 && one_bit(t->moved_in);
    if (!one_bit(t->moved) && !one_stick) {
        t->muddle = true;
        return;
    }
    if (t->mover >= 0 && (t->moved >> t->mover & 1u) != 0 &&
        (!one_stick || (t->moved_in >> t->mover & 1u) != 0)) {
        t->follows = (uint16_t)(t->moved & ~(1u << t->mover));
        return;
    }
    uint32_t mover = lowest(t->moved);
    if (one_stick && (t->moved & t->moved_in) != 0)
        mover = lowest(t->moved_in);
    t->mover = (int32_t)mover;
    t->follows = (uint16_t)(t->moved & ~(1u << mover));
}

/* --- the mover's way */

static void note_level(struct travel *t, double value, double near) {
    for (uint32_t i = 0; i < t->levels && i < TRAVEL_LEVELS; i++)
        if (fabs(value - t->level[i]) <= near)
            return;
    if (t->levels < TRAVEL_LEVELS)
        t->level[t->levels] = value;
    if (t->levels <= TRAVEL_LEVELS)
        t->levels++;
}

static void note_step(struct travel *t, int32_t value, double least) {
    if (value >= 0 && value < TRAVEL_STEPS)
        t->seen[value / 64] |= UINT64_C(1) << (value % 64);
    if (!t->before_known)
        return;
    bool moves = fabs((double)value - t->before) > least;
    t->motions += moves && !t->moving;
    t->moves += moves;
    t->moving = moves;
    if (!moves)
        note_level(t, value, 2 * least);
    double low = value > t->before ? value : t->before;
    double high = value < t->before ? value : t->before;
    t->low = t->ends_known && t->low < low ? t->low : low;
    t->high = t->ends_known && t->high > high ? t->high : high;
    t->ends_known = true;
}

static uint32_t part_of(const struct stick_map *map, double value) {
    double span = map->high - map->low;
    double part = span > 0 ? (value - map->low) / span * TRAVEL_PARTS : 0;
    return part < 0 ? 0 : part >= TRAVEL_PARTS ? TRAVEL_PARTS - 1 : whole_u32(part);
}

static void note_others(struct travel *t, const struct stick_map *map, const struct report *r,
                        int32_t mine) {
    uint32_t part = part_of(map, mine);
    for (uint32_t c = 0; c < map->count; c++) {
        int32_t value;
        if ((int32_t)c != t->mover && stick_value(r, c, &value))
            stat_moments_add(&t->other[part][c], value);
    }
}

static double noise_of(const struct travel_base *base, uint32_t c) {
    return base->known[c] ? base->noise[c] : 0;
}

static void note_still(struct travel *t, const struct stick_map *map,
                       const struct travel_base *base, const struct report *r, int64_t link_ms) {
    for (uint32_t c = 0; c < map->count; c++) {
        int32_t value;
        double within = STILL * map->scale + 3 * noise_of(base, c);
        if (!stick_value(r, c, &value) || fabs(value - t->anchor[c]) <= within)
            continue;
        t->anchor[c] = value;
        t->still_ms[c] = link_ms;
    }
}

void travel_add(struct travel *t, const struct stick_map *map, const struct travel_base *base,
                const struct report *r, int64_t link_ms) {
    if (!t->begun)
        note_here(t, map, r, link_ms);
    t->now_ms = link_ms;
    note_moved(t, map, r);
    note_still(t, map, base, r, link_ms);
    int32_t before = t->mover, value;
    find_mover(t, map);
    if (t->muddle || t->mover < 0)
        return;
    if (before != t->mover) {
        t->before = t->here[t->mover];
        t->before_known = true;
    }
    if (!stick_value(r, (uint32_t)t->mover, &value))
        return;
    double noise = noise_of(base, (uint32_t)t->mover);
    double least = STEP * map->scale > 5 * noise ? STEP * map->scale : 5 * noise;
    note_step(t, value, least);
    note_others(t, map, r, value);
    t->before = value;
}

/* --- what it comes to */

static double rest_of(const struct travel *t, const struct travel_base *base) {
    return base->known[t->mover] ? base->rest[t->mover] : t->here[t->mover];
}

bool travel_rests_at_end(const struct stick_map *map, double rest) {
    return rest < map->low + END * map->scale || rest > map->high - END * map->scale;
}

/* What rests at an end has been at that end before it was moved. */
static bool end_seen(const struct stick_map *map, double rest, double reached, double side) {
    double far = side * (reached - rest);
    if (!travel_rests_at_end(map, rest))
        return far >= END * map->scale;
    bool rests_low = rest < map->low + END * map->scale;
    return rests_low == (side < 0) || far >= FAR * map->scale;
}

bool travel_low_seen(const struct travel *t, const struct stick_map *map,
                     const struct travel_base *base) {
    return t->mover >= 0 && t->ends_known && end_seen(map, rest_of(t, base), t->low, -1);
}

bool travel_high_seen(const struct travel *t, const struct stick_map *map,
                      const struct travel_base *base) {
    return t->mover >= 0 && t->ends_known && end_seen(map, rest_of(t, base), t->high, 1);
}

bool travel_done(const struct travel *t, const struct stick_map *map,
                 const struct travel_base *base) {
    if (t->muddle || t->mover < 0 || !travel_low_seen(t, map, base) ||
        !travel_high_seen(t, map, base))
        return false;
    double near = NEAR * map->scale + 5 * noise_of(base, (uint32_t)t->mover);
    return fabs(t->before - rest_of(t, base)) <= near &&
           t->now_ms - t->still_ms[t->mover] >= STILL_MS;
}

bool travel_all_still(const struct travel *t, const struct stick_map *map) {
    if (!t->begun)
        return false;
    for (uint32_t c = 0; c < map->count; c++)
        if (t->now_ms - t->still_ms[c] < ALL_STILL_MS)
            return false;
    return true;
}

/* A hand takes several reports from end to end, a switch one or two. */
uint32_t travel_positions(const struct travel *t) {
    bool jumps = t->motions >= 2 && t->moves <= 2 * t->motions;
    return jumps && t->levels >= 2 && t->levels <= TRAVEL_LEVELS ? t->levels : 0;
}

uint32_t travel_values(const struct travel *t, int32_t *step) {
    enum { VALUES_LEAST = 30 };
    uint32_t count = 0;
    int32_t last = -1, least = TRAVEL_STEPS;
    for (int32_t v = 0; v < TRAVEL_STEPS; v++) {
        if ((t->seen[v / 64] >> (v % 64) & 1u) == 0)
            continue;
        if (count++ > 0 && v - last < least)
            least = v - last;
        last = v;
    }
    *step = count >= VALUES_LEAST ? least : 0;
    return count;
}

bool travel_crosstalk(const struct travel *t, const struct stick_map *map,
                      const struct travel_base *base, uint32_t *other, double *shift) {
    enum { VALUES_LEAST = 4 };
    bool any = false;
    for (uint32_t c = 0; c < map->count; c++) {
        if (!base->known[c] || (int32_t)c == t->mover || (t->follows >> c & 1u) != 0)
            continue;
        for (int part = 0; part < TRAVEL_PARTS; part++) {
            const struct stat_moments *m = &t->other[part][c];
            if (m->count < VALUES_LEAST)
                continue;
            double away =
                fabs(m->mean - base->rest[c]) - 3 * base->noise[c] / sqrt((double)m->count);
            away = away > 0 ? away : 0;
            if (any && away <= *shift)
                continue;
            any = true;
            *other = c;
            *shift = away;
        }
    }
    return any;
}

/* --- flicks */

void flicks_begin(struct flicks *f) {
    memset(f, 0, sizeof *f);
    f->side = -1;
    f->strange = -1;
}

static void note_strange(struct flicks *f, uint32_t mover, uint16_t follows,
                         const struct stick_map *map, const struct travel_base *base,
                         const struct report *r) {
    int32_t strange = -1, value;
    for (uint32_t c = 0; c < map->count && strange < 0; c++)
        if (c != mover && (follows >> c & 1u) == 0 && base->known[c] && stick_value(r, c, &value) &&
            fabs(value - base->rest[c]) > MOVED * map->scale)
            strange = (int32_t)c;
    f->strange_row = strange >= 0 ? f->strange_row + 1 : 0;
    f->strange = f->strange_row >= 2 ? strange : -1;
}

static void note_return(struct flicks *f) {
    struct stat_moments *side = &f->back[f->side];
    bool first = f->back[0].count + f->back[1].count == 0;
    double mean = f->settled.mean;
    stat_moments_add(side, mean);
    f->low = first || mean < f->low ? mean : f->low;
    f->high = first || mean > f->high ? mean : f->high;
    f->side = -1;
    f->settling = false;
}

static void settle(struct flicks *f, double value, double noise, const struct stick_map *map,
                   int64_t link_ms) {
    enum { VALUES = 4 };
    bool first = f->settled.count == 0;
    f->settled_low = first || value < f->settled_low ? value : f->settled_low;
    f->settled_high = first || value > f->settled_high ? value : f->settled_high;
    stat_moments_add(&f->settled, value);
    if (f->settled_high - f->settled_low > STILL * map->scale + 6 * noise) {
        f->settling = false; /* still on its way, or held */
        return;
    }
    if (f->settled.count >= VALUES && link_ms - f->back_ms >= SETTLED_MS)
        note_return(f);
}

void flicks_add(struct flicks *f, uint32_t mover, uint16_t follows, const struct stick_map *map,
                const struct travel_base *base, const struct report *r, int64_t link_ms) {
    int32_t value;
    note_strange(f, mover, follows, map, base, r);
    if (!base->known[mover] || !stick_value(r, mover, &value))
        return;
    double away = value - base->rest[mover];
    if (fabs(away) > MOVED * map->scale) {
        f->side = away < 0 ? 0 : 1;
        f->settling = false;
        return;
    }
    if (f->side < 0)
        return;
    if (!f->settling) {
        f->settling = true;
        f->back_ms = link_ms;
        f->settled = (struct stat_moments){0};
        return;
    }
    if (link_ms - f->back_ms >= SETTLE_MS)
        settle(f, value, base->noise[mover], map, link_ms);
}

bool flicks_done(const struct flicks *f) {
    return f->back[0].count >= FLICKS_WANTED && f->back[1].count >= FLICKS_WANTED;
}
