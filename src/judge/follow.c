#include "judge/follow.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/whole.h"

/* In µs of 1000 and in ms. */
enum {
    STEP_LEAST = 4,       /* less from one report to the next is no movement */
    PAIR_LEAST = 6,       /* nor is less over two reports */
    SPEED_MOST = 1000,    /* µs a second: faster isn't judged */
    REPORT_MOST_MS = 150, /* reports farther apart don't tell of one movement */
    TURNS_MOST_MS = 170,  /* three steps within it: a hand turns once at most */
    HAND_MS = 60,         /* a hand's own unevenness stays below the limit with reports so near */
    LIMIT_MOST = 40,      /* with a limit above this nothing is shown */
    TURNS_LEAST = 3,
    TURNS_PERCENT = 3, /* so many turns, and of so many changes, are no chance */
    MOVES_LEAST = 12,
    MOVES_UNTIMED = 20,
    STEP_UNTIMED = 40,
    DWELLS_PERCENT = 25,
    LEAP = 16, /* a notch of a ratchet */
    BACKS_LEAST = 4,
    BACKS_PERCENT = 10, /* so many steps back are no hand's turns */
    FLAT = 10,          /* within it an output stands */
};
/* Of |r| where r lies between its neighbours' line: median of a normal one, times sqrt(3/2). */
static const double median_of_one = 0.6745 * 1.2247;

/* --- how smoothly it moves -------------------------------------------------------------------- */

static void count(uint16_t bins[SMOOTH_BINS], double us) {
    uint32_t bin = us >= SMOOTH_BINS - 1 ? SMOOTH_BINS - 1 : whole_u32(us);
    if (bins[bin] < UINT16_MAX)
        bins[bin]++;
}

static double in_us(const struct stick_map *map, double value) {
    return map->scale > 0 ? value / map->scale : value;
}

static int32_t lesser(int32_t a, int32_t b) {
    return abs(a) < abs(b) ? abs(a) : abs(b);
}

static bool against(int32_t a, int32_t b) {
    return (a < 0 && b > 0) || (a > 0 && b < 0);
}

static void take_backs(struct smooth *s, const struct stick_map *map) {
    if (against(s->step[1], s->step[2]))
        count(s->backs, in_us(map, lesser(s->step[1], s->step[2])));
}

static void take_turns(struct smooth *s, const struct stick_map *map) {
    const int32_t *d = s->step;
    if (!against(d[0], d[1]) || !against(d[1], d[2]))
        return;
    double us = in_us(map, lesser(lesser(d[0], d[1]), d[2]));
    count(s->turns, us);
    s->turn_worst = us > s->turn_worst ? whole_u32(us) : s->turn_worst;
}

/* The middle one of three against the line through its neighbours. */
static void take_uneven(struct smooth *s, const struct stick_map *map) {
    const int32_t *v = s->value;
    const int64_t *at = s->timed ? s->at_ms : s->report_ms;
    double way = in_us(map, fabs((double)v[2] - v[0])), ms = (double)(at[2] - at[0]);
    if (way < PAIR_LEAST || ms <= 0 || way * 1000 > SPEED_MOST * ms)
        return;
    s->moves++;
    s->moved += way / 2;
    double share = (double)(at[1] - at[0]) / ms;
    count(s->uneven, in_us(map, fabs(v[1] - v[0] - share * ((double)v[2] - v[0]))));
    double first = in_us(map, abs(v[1] - v[0])), second = in_us(map, abs(v[2] - v[1]));
    s->dwells += (first < STEP_LEAST && second >= LEAP) || (second < STEP_LEAST && first >= LEAP);
}

static void shift(struct smooth *s, int32_t value, int64_t report_ms, int64_t at_ms) {
    int32_t step = s->chain > 0 ? value - s->value[2] : 0;
    for (int i = 0; i < 2; i++) {
        s->value[i] = s->value[i + 1];
        s->step[i] = s->step[i + 1];
        s->report_ms[i] = s->report_ms[i + 1];
        s->at_ms[i] = s->at_ms[i + 1];
    }
    s->value[2] = value;
    s->step[2] = step;
    s->report_ms[2] = report_ms;
    s->at_ms[2] = at_ms;
}

void smooth_break(struct smooth *s) {
    s->chain = 0;
}

void smooth_add(struct smooth *s, const struct stick_map *map, const struct moment *m,
                int32_t value) {
    int64_t since = m->link_ms - s->report_ms[2];
    bool timed = report_has(&m->event->report, KEY_AGE) && m->packets.good_ms != TIME_UNKNOWN;
    if (m->hole || m->restarted || (s->chain > 0 && (since > REPORT_MOST_MS || timed != s->timed)))
        s->chain = 0;
    s->timed = timed;
    if (s->chain > 0) {
        s->reports++;
        s->waited_ms += (double)since;
    }
    int64_t begun_ms = s->report_ms[0];
    shift(s, value, m->link_ms, timed ? m->packets.good_ms : m->link_ms);
    int32_t step = abs(s->step[2]);
    s->changes += in_us(map, step) >= STEP_LEAST;
    if (step > 0 && (s->quantum == 0 || step < s->quantum))
        s->quantum = step;
    if (s->chain >= 2) {
        take_uneven(s, map);
        take_backs(s, map);
    }
    if (s->chain >= 3 && m->link_ms - begun_ms <= TURNS_MOST_MS)
        take_turns(s, map);
    s->chain += s->chain < 3;
}

static double median(const uint16_t bins[SMOOTH_BINS], uint32_t total) {
    uint32_t sum = 0;
    for (uint32_t i = 0; i < SMOOTH_BINS; i++) {
        if (2 * (sum + bins[i]) >= total)
            return i + (bins[i] > 0 ? (total / 2.0 - sum) / bins[i] : 0);
        sum += bins[i];
    }
    return SMOOTH_BINS;
}

static bool jumps(const struct smooth *s, const struct smooth_figures *f) {
    return f->turns >= TURNS_LEAST && f->turns * 100 >= s->changes * TURNS_PERCENT;
}

static enum smooth_kind kind_of(const struct smooth *s, const struct smooth_figures *f) {
    if (jumps(s, f))
        return SMOOTH_JUMPS;
    if (s->reports == 0 || f->limit > LIMIT_MOST)
        return SMOOTH_RARE;
    if (s->moves < (s->timed ? MOVES_LEAST : MOVES_UNTIMED))
        return s->changes > s->moves ? SMOOTH_FAST : SMOOTH_UNKNOWN;
    if (f->backs >= BACKS_LEAST && f->backs * 100 >= s->changes * BACKS_PERCENT)
        return SMOOTH_UNEVEN;
    if (!s->timed)
        return s->moved / s->moves <= STEP_UNTIMED ? SMOOTH_UNTIMED : SMOOTH_FAST;
    if (f->uneven <= f->limit)
        return SMOOTH_EVEN;
    return s->dwells * 100 >= s->moves * DWELLS_PERCENT ? SMOOTH_CLICKS : SMOOTH_UNEVEN;
}

void smooth_read(const struct smooth *s, const struct stick_map *map, double noise,
                 struct smooth_figures *out) {
    double quantum = in_us(map, s->quantum), far = 2.5 * noise;
    far = 1.5 * quantum > far ? 1.5 * quantum : far;
    *out = (struct smooth_figures){.uneven = -1, .worst = s->turn_worst};
    for (uint32_t i = whole_u32(ceil(far)); i < SMOOTH_BINS; i++) {
        out->turns += s->turns[i];
        out->backs += s->backs[i];
    }
    out->report_ms = s->reports > 0 ? s->waited_ms / s->reports : 0;
    double late = out->report_ms > HAND_MS ? out->report_ms / HAND_MS : 1;
    out->limit = 2 * noise * late * late;
    out->limit = quantum > out->limit ? quantum : out->limit;
    if (s->moves > 0 && s->timed)
        out->uneven = median(s->uneven, s->moves) / median_of_one;
    out->kind = kind_of(s, out);
}

/* --- how the output follows ------------------------------------------------------------------- */

static double bin_width(const struct stick_map *map) {
    return (map->high - map->low) / 32;
}

void follow_begin(struct follow *f, int32_t source) {
    memset(f, 0, sizeof *f);
    f->source = source;
}

void follow_break(struct follow *f) {
    f->chain = 0;
    f->before = false;
}

static void take_bin(struct follow *f, const struct stick_map *map, int32_t in, int32_t out) {
    double at = (in - map->low) / bin_width(map) + 8;
    if (!(at >= 0 && at < FOLLOW_BINS))
        return;
    uint32_t i = whole_u32(at);
    int32_t low = out > f->out ? out : f->out, high = out < f->out ? out : f->out;
    f->bin[i].low = f->bin[i].seen && f->bin[i].low < low ? f->bin[i].low : low;
    f->bin[i].high = f->bin[i].seen && f->bin[i].high > high ? f->bin[i].high : high;
    f->bin[i].seen = true;
}

/* While the stick runs fast, what stands in one report may be a packet apart. */
void follow_add(struct follow *f, const struct stick_map *map, int32_t in, int32_t out) {
    if (map->high <= map->low)
        return;
    bool slow = f->before && fabs((double)in - f->in) <= 2 * bin_width(map);
    f->chain = slow ? f->chain + 1 : 0;
    if (f->chain >= FOLLOW_CHAIN - 1)
        take_bin(f, map, in, out);
    f->in = in;
    f->out = out;
    f->before = true;
}

/* Of a bin that was passed quickly, low lies above high: each is of the report that is nearer to
 * the middle. */
static void widen(const struct follow *f, uint32_t bin, int32_t *low, int32_t *high) {
    int32_t a = f->bin[bin].low, b = f->bin[bin].high;
    *low = a < *low ? a : *low;
    *low = b < *low ? b : *low;
    *high = a > *high ? a : *high;
    *high = b > *high ? b : *high;
}

/* How far the output goes over the bins from a to b. */
static double goes(const struct follow *f, uint32_t a, uint32_t b) {
    int32_t low = INT32_MAX, high = INT32_MIN;
    for (uint32_t i = a; i <= b; i++)
        if (f->bin[i].seen)
            widen(f, i, &low, &high);
    return (double)high - low;
}

/* The widest row of bins in which the output stands; not at its ends, where it is limited. */
static void read_dead(const struct follow *f, const struct stick_map *map, uint32_t first,
                      uint32_t last, struct follow_figures *out) {
    double flat = FLAT * map->scale;
    for (uint32_t i = first + 1; i < last; i++) {
        if (!f->bin[i].seen || goes(f, first, i) <= flat)
            continue;
        for (uint32_t k = i; k < last && goes(f, i, k) <= flat; k++) {
            double wide = (k - i) * bin_width(map);
            if (f->bin[k].seen && goes(f, k, last) > flat && wide > out->dead)
                out->dead = wide;
        }
    }
}

void follow_read(const struct follow *f, const struct stick_map *map, struct follow_figures *out) {
    uint32_t first = FOLLOW_BINS, last = 0;
    memset(out, 0, sizeof *out);
    for (uint32_t i = 0; i < FOLLOW_BINS; i++) {
        if (!f->bin[i].seen)
            continue;
        first = first == FOLLOW_BINS ? i : first;
        last = i;
        double apart = (double)f->bin[i].high - f->bin[i].low;
        if (apart <= out->apart)
            continue;
        out->apart = apart;
        out->at = (int32_t)lround(map->low + (i - 8 + 0.5) * bin_width(map));
        out->low = f->bin[i].low;
        out->high = f->bin[i].high;
    }
    out->known = first < last;
    if (!out->known)
        return;
    out->reversed = f->bin[last].low + f->bin[last].high < f->bin[first].low + f->bin[first].high;
    read_dead(f, map, first, last, out);
}
