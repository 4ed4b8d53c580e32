#include "study/causes.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "stat/block.h"
#include "stat/many.h"
#include "stat/period.h"
#include "stat/rank.h"

enum { BEFORE_CELLS = DROP_BEFORE_MS / TRACE_CELL_MS };

static const double effect_least = 2; /* a cause comes before drops twice as often as by chance */
static const double level = 0.05;

/* --- what a cell says of a candidate ---------------------------------------------------------- */

typedef float cell_value(const struct trace *t, uint32_t cell, int channel, float *memory);

static bool no_move(const struct trace_cell *c) {
    return (c->flags & TRACE_SEEN) == 0;
}

static float moved(const struct trace *t, uint32_t cell, int channel, float *memory) {
    (void)memory;
    return no_move(&t->cell[cell]) ? NAN : (float)t->cell[cell].move[channel];
}

static float throttle(const struct trace *t, uint32_t cell, int channel, float *memory) {
    const struct trace_cell *c = &t->cell[cell];
    (void)channel;
    (void)memory;
    bool held = (c->flags & TRACE_FAILSAFE) != 0 || c->throttle == TRACE_NOTHING;
    return held ? NAN : (float)c->throttle;
}

/* How far below its own slow mean (some 10 s). */
static float dip(const struct trace *t, uint32_t cell, int channel, float *memory) {
    const struct trace_cell *c = &t->cell[cell];
    (void)channel;
    if (c->supply_low == TRACE_NOTHING)
        return NAN;
    float usual = (float)(c->supply != TRACE_NOTHING ? c->supply : c->supply_low);
    *memory = isnan(*memory) ? usual : *memory + (usual - *memory) / 40;
    return *memory - (float)c->supply_low;
}

static float transmitter_low(const struct trace *t, uint32_t cell, int channel, float *memory) {
    (void)channel;
    (void)memory;
    int16_t mv = t->cell[cell].transmitter;
    return mv == TRACE_NOTHING ? NAN : -(float)mv;
}

static float noise(const struct trace *t, uint32_t cell, int channel, float *memory) {
    const struct trace_cell *c = &t->cell[cell];
    (void)channel;
    (void)memory;
    return c->noise_looks == 0 ? NAN : (float)c->noise_hits / (float)c->noise_looks;
}

static float weak(const struct trace *t, uint32_t cell, int channel, float *memory) {
    const struct trace_cell *c = &t->cell[cell];
    (void)channel;
    (void)memory;
    if (c->rssi != TRACE_NOTHING)
        return -(float)c->rssi;
    return c->heard_looks == 0 ? NAN : -(float)c->heard_hits / (float)c->heard_looks;
}

static float lines_away(const struct trace *t, uint32_t cell, int channel, float *memory) {
    (void)channel;
    (void)memory;
    return (t->cell[cell].flags & (TRACE_HOLE | TRACE_HOST)) != 0 ? 1.0F : 0.0F;
}

static float packets_lost(const struct trace *t, uint32_t cell, int channel, float *memory) {
    const struct trace_cell *c = &t->cell[cell];
    (void)channel;
    (void)memory;
    return no_move(c) ? NAN : (float)c->lost;
}

static float failsafe_changed(const struct trace *t, uint32_t cell, int channel, float *memory) {
    float now = (t->cell[cell].flags & TRACE_FAILSAFE) != 0 ? 1.0F : 0.0F;
    float before = isnan(*memory) ? now : *memory;
    (void)channel;
    *memory = now;
    return now > before || now < before ? 1.0F : 0.0F;
}

static float restarted(const struct trace *t, uint32_t cell, int channel, float *memory) {
    (void)channel;
    (void)memory;
    return (t->cell[cell].flags & TRACE_RESTART) != 0 ? 1.0F : 0.0F;
}

static float transmitter_started(const struct trace *t, uint32_t cell, int channel, float *memory) {
    (void)channel;
    (void)memory;
    return (t->cell[cell].flags & TRACE_TRANSMITTER) != 0 ? 1.0F : 0.0F;
}

/* --- the candidates --------------------------------------------------------------------------- */

#define KEY(key) (1u << KEY_##key)

static const struct candidate {
    const char *name;
    cell_value *value;   /* NULL: a fact, or a test of its own */
    uint32_t any_key;    /* it needs one of these keys, */
    const char *missing; /* else this is said */
    int before, after;   /* cells around a drop's begin */
    int stage;           /* place in a chain: 1 the most upstream; 0 belongs to none */
    unsigned lines;      /* bits: chains run along one of these */
    bool twitch;         /* also a candidate for twitches */
    const char *next;
} candidates[CAUSES] = {
    [CAUSE_MOVE] = {"channel moves", moved, KEY(CH), "ch", BEFORE_CELLS, 0, 1, 1, true,
                    "Move that servo alone, first as it is, then fed from a supply of its own."},
    [CAUSE_THROTTLE] = {"throttle up", throttle, KEY(CH), "throttle in the receiver card",
                        BEFORE_CELLS, 0, 1, 1 | 4, true,
                        "Propeller off: raise the throttle in steps, with the radio on its own "
                        "battery, then as it is."},
    [CAUSE_SUPPLY] = {"supply dips", dip, KEY(MVMIN), "mvmin", BEFORE_CELLS, 0, 2, 1, true,
                      "Feed the servos from a supply of their own, grounds joined, and record "
                      "again."},
    [CAUSE_BROWNOUT] = {"receiver browned out", NULL, 0, NULL, 0, 0, 4, 1, false,
                        "The receiver's supply falls too low: a supply of its own for the servos, "
                        "thicker leads, 470 to 1000 uF more (mind polarity; rated 10 V or more)."},
    [CAUSE_WATCHDOG] = {"receiver's watchdog", NULL, 0, NULL, 0, 0, 4, 1, false,
                        "The receiver's program hung: look for waits without an end in the "
                        "sketch."},
    [CAUSE_RESET] = {"receiver was reset", NULL, 0, NULL, 0, 0, 4, 1, false,
                     "Something pulled the reset line: the serial lead, or noise on it."},
    [CAUSE_RESTART] = {"receiver restarted", restarted, 0, NULL, BEFORE_CELLS, 1, 4, 1, true,
                       "Print boot cause=... to learn whether it was the supply."},
    [CAUSE_AMNESIA] = {"radio lost its settings", NULL, KEY(REG), "reg", 0, 0, 3, 1, false,
                       "The radio's own supply dips: 10 to 100 uF at the module (mind polarity; "
                       "rated 6.3 V or more), or a regulator of its own."},
    [CAUSE_TRANSMITTER_SUPPLY] = {"transmitter's supply low", transmitter_low, KEY(TMV), "tmv",
                                  BEFORE_CELLS, 1, 2, 2, false,
                                  "Feed the transmitter from a bench supply and record again."},
    [CAUSE_TRANSMITTER] = {"transmitter restarted", transmitter_started, KEY(SEQ) | KEY(TBOOT),
                           "seq or tboot", BEFORE_CELLS, 2, 4, 2, true,
                           "Feed the transmitter from a bench supply; look at its switch and "
                           "battery leads."},
    [CAUSE_STRANGER] = {"second transmitter", NULL, KEY(TBOOT), "tboot", 0, 0, 0, 0, false,
                        "Propeller off, model held: another sender may drive it. Switch your "
                        "transmitter off: packets that still come are another's. Take another "
                        "address."},
    [CAUSE_INTERFERENCE] = {"noise on the air", noise, KEY(NOISE), "noise", 1, 1, 2, 4, false,
                            "Propeller off, transmitter off: sweep the band, and record again on a "
                            "quieter frequency."},
    [CAUSE_RHYTHM] = {"losses in a rhythm", NULL, 0, "the packets' order (pat)", 0, 0, 1, 4, false,
                      "Look for what ticks at that period: a Wi-Fi beacon (102.4 ms), the mains, a "
                      "hop cycle, the sketch's own printing."},
    [CAUSE_SIGNAL] = {"signal weak before", weak, KEY(RSSI) | KEY(HEARD), "rssi or heard",
                      BEFORE_CELLS, 0, 2, 8, false,
                      "Shorten the distance or raise both antennas, and record again."},
    [CAUSE_DISTANCE] = {"distance", NULL, 0, "five stops marked with their distance", 0, 0, 1, 8,
                        false, "Walk the range: airleash walk tells how far it reaches."},
    [CAUSE_HEADING] = {"the model's heading", NULL, 0, "headings marked (press a)", 0, 0, 1, 8, false,
                       "Power off: move the antenna clear of battery and metal, upright."},
    [CAUSE_RETRIES] = {"acknowledgements", NULL, 0, "ack and rate in the id line", 0, 0, 0, 0,
                       false,
                       "Switch acknowledgement off at both ends: if the rate is whole then, the "
                       "way back is at fault."},
    [CAUSE_CABLE] = {"serial lead or computer", lines_away, 0, NULL, 1, 1, 0, 0, false,
                     "Another lead, another port, a shorter line, before the air is blamed."},
    [CAUSE_LOSS] = {"packets lost", packets_lost, 0, NULL, 0, 0, 5, 1, true,
                    "The link is at fault: see why it drops."},
    [CAUSE_FAILSAFE] = {"failsafe came or went", failsafe_changed, KEY(FS), "fs", 0, 0, 6, 1, true,
                        "The hold time is too short for this link, or the link too poor."},
};

const char *cause_name(enum cause_id id) {
    return candidates[id].name;
}

const char *cause_next(enum cause_id id) {
    return candidates[id].next;
}

/* --- one search ------------------------------------------------------------------------------- */

struct search {
    const struct trace *t;
    struct causes *out;
    float *values, *work;
    uint32_t *index;
    struct chance_events events;
    bool outages, twitches;
    uint32_t least;
    double p[CAUSES_MAX]; /* as tested, before Holm */
};

static bool search_begin(struct search *s, const struct trace *t, struct causes *out) {
    size_t cells = t->cells > 0 ? t->cells : 1;
    memset(out, 0, sizeof *out);
    memset(s, 0, sizeof *s);
    s->t = t;
    s->out = out;
    s->least = CAUSES_EVENTS_LEAST;
    s->values = malloc(cells * sizeof *s->values);
    s->work = malloc(cells * sizeof *s->work);
    s->index = malloc(cells * sizeof *s->index);
    return s->values != NULL && s->work != NULL && s->index != NULL;
}

static void search_end(struct search *s) {
    free(s->values);
    free(s->work);
    free(s->index);
}

static struct cause *add_cause(struct search *s, enum cause_id id, int channel) {
    struct cause *c = &s->out->cause[s->out->count];
    *c = (struct cause){
        .id = id, .channel = channel, .outages = s->outages, .p = NAN, .effect = NAN, .chain = -1};
    s->p[s->out->count++] = NAN;
    return c;
}

static void take_test(struct search *s, struct cause *c, const struct chance_test *test) {
    c->tested = true;
    c->events = test->events;
    c->explained = test->explained;
    c->expected = test->expected;
    c->effect = test->effect;
    c->figure = (double)test->above;
    memcpy(c->bits, test->bits, sizeof c->bits);
    s->p[c - s->out->cause] = test->p;
    s->out->tested++;
}

static void cant_tell(struct cause *c, const char *missing) {
    c->shown = CAUSE_CANT_TELL;
    c->missing = missing;
}

/* Window of a candidate, for drops or for twitch marks. */
static void window(const struct search *s, const struct candidate *k, int *before, int *after) {
    *before = s->twitches ? TWITCH_BEFORE_MS / TRACE_CELL_MS : k->before;
    *after = s->twitches ? -TWITCH_AFTER_MS / TRACE_CELL_MS : k->after;
}

static void test_series(struct search *s, enum cause_id id, int channel) {
    const struct candidate *k = &candidates[id];
    float memory = NAN;
    int before, after;
    struct chance_test test;
    window(s, k, &before, &after);
    for (uint32_t i = 0; i < s->t->cells; i++)
        s->values[i] = k->value(s->t, i, channel, &memory);
    uint64_t seed = 1 + (uint64_t)id * 64 + (uint64_t)(channel + 1);
    bool constant = !chance_test(s->values, s->t->cells, before, after, &s->events, s->least, seed,
                                 s->work, s->index, &test);
    if (constant && id == CAUSE_MOVE)
        return; /* a channel that never moves is no candidate */
    struct cause *c = add_cause(s, id, channel);
    if (!constant)
        take_test(s, c, &test);
    c->events = s->events.count > c->events && constant ? test.events : c->events;
}

/* --- facts ------------------------------------------------------------------------------------ */

static enum cause_id restart_cause(enum boot_cause cause) {
    return cause == BOOT_BROWNOUT   ? CAUSE_BROWNOUT
           : cause == BOOT_WATCHDOG ? CAUSE_WATCHDOG
           : cause == BOOT_RESET    ? CAUSE_RESET
                                    : CAUSE_RESTART;
}

static bool is_fact(const struct trace *t, const struct trace_drop *d, enum cause_id id) {
    switch (id) {
    case CAUSE_AMNESIA:
        return d->forgot;
    case CAUSE_TRANSMITTER:
        return d->transmitter && t->transmitter_returns == 0;
    case CAUSE_STRANGER:
        return d->transmitter && t->transmitter_returns > 0;
    default:
        return d->restart && restart_cause(d->cause) == id;
    }
}

/* Drop `i` of the kept ones belongs to which event: outages are events in their own order. */
static void count_fact(struct search *s, enum cause_id id) {
    const struct trace *t = s->t;
    struct cause *c = add_cause(s, id, -1);
    uint32_t event = 0;
    for (uint32_t i = 0; i < t->drops && i < TRACE_DROPS; i++) {
        const struct trace_drop *d = &t->drop[i];
        if (!trace_outage(d) || d->hole || trace_at(t, d->from_ms) < 0)
            continue;
        if (is_fact(t, d, id)) {
            c->explained++;
            c->bits[event / 64] |= UINT64_C(1) << (event % 64);
        }
        event++;
    }
    c->events = event;
    c->shown = c->explained > 0 ? CAUSE_SHOWN : CAUSE_NOT_SHOWN;
}

static void count_facts(struct search *s) {
    static const enum cause_id facts[] = {CAUSE_BROWNOUT, CAUSE_WATCHDOG,    CAUSE_RESET,
                                          CAUSE_RESTART,  CAUSE_TRANSMITTER, CAUSE_STRANGER,
                                          CAUSE_AMNESIA};
    for (size_t i = 0; i < sizeof facts / sizeof facts[0]; i++) {
        const struct candidate *k = &candidates[facts[i]];
        if (k->any_key != 0 && (s->t->keys & k->any_key) == 0)
            cant_tell(add_cause(s, facts[i], -1), k->missing);
        else
            count_fact(s, facts[i]);
    }
}

/* Every packet comes through, by repeating it: then fewer arrive than are sent, and none is
 * missing. */
static void judge_retries(struct search *s) {
    const struct trace *t = s->t;
    struct cause *c = add_cause(s, CAUSE_RETRIES, -1);
    if (t->rate_hz <= 0) {
        cant_tell(c, candidates[CAUSE_RETRIES].missing);
        return;
    }
    if (!t->acked || !t->counted || t->arrival_ms < 10000)
        return;
    double rate = (double)t->got * 1000 / (double)t->arrival_ms;
    bool whole = (double)t->lost <= 0.01 * (double)(t->got + t->lost);
    c->figure = rate;
    c->shown = whole && rate < 0.9 * t->rate_hz ? CAUSE_SHOWN : CAUSE_NOT_SHOWN;
}

/* --- the rhythm ------------------------------------------------------------------------------- */

enum { RHYTHM_TIMES = 256, RHYTHM_SPAN_MS = 240000 };

/* The stretch with the most losses, not too long: clocks drift, and work grows with both. */
static uint32_t densest(const struct trace *t, double *times) {
    uint32_t best = 0, best_from = 0;
    for (uint32_t from = 0, to = 0; from < t->loss_times; from++) {
        while (to < t->loss_times && to - from < RHYTHM_TIMES &&
               t->loss_ms[to] - t->loss_ms[from] <= RHYTHM_SPAN_MS)
            to++;
        if (to - from > best) {
            best = to - from;
            best_from = from;
        }
    }
    for (uint32_t i = 0; i < best; i++)
        times[i] = (t->loss_ms[best_from + i] - t->loss_ms[best_from]) / 1000;
    return best;
}

static void test_rhythm(struct search *s) {
    const struct trace *t = s->t;
    double times[RHYTHM_TIMES];
    struct period_found found;
    struct cause *c = add_cause(s, CAUSE_RHYTHM, -1);
    if ((t->keys & (1u << KEY_PAT)) == 0) {
        cant_tell(c, candidates[CAUSE_RHYTHM].missing);
        return;
    }
    uint32_t count = densest(t, times);
    double rate = t->rate_hz > 0 ? t->rate_hz : 50;
    /* Below 2 Hz crowds of losses look like a period; from half the packet rate on, the packets'
     * own spacing does. */
    struct period_band band = {.least_hz = 2, .most_hz = rate * 0.45, .events_least = 20};
    if (count < band.events_least || band.most_hz <= band.least_hz ||
        !stat_period_search(times, count, &band, &found))
        return;
    c->tested = true;
    c->events = count;
    c->figure = 1000 * found.period;
    for (uint32_t i = 0; i < count; i++) {
        double off = times[i] / found.period - found.at.phase;
        off -= floor(off + 0.5);
        c->explained += fabs(off) < 0.125;
    }
    c->expected = 0.25 * count;
    c->effect = c->explained / c->expected;
    s->p[c - s->out->cause] = found.false_alarm;
    s->out->tested++;
}

/* --- the distance ------------------------------------------------------------------------------
 */

enum { STOPS_MAX = 64, STOPS_LEAST = 5 };

struct stop {
    int16_t distance_dm;
    uint64_t got, lost;
    uint32_t cells, runs;
};

static uint32_t collect_stops(const struct trace *t, struct stop *stop) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < t->cells; i++) {
        const struct trace_cell *c = &t->cell[i];
        uint32_t k = 0;
        while (k < count && stop[k].distance_dm != c->distance_dm)
            k++;
        if (c->distance_dm == TRACE_NOTHING || k == STOPS_MAX)
            continue;
        if (k == count)
            stop[count++] = (struct stop){.distance_dm = c->distance_dm};
        stop[k].got += c->got;
        stop[k].lost += c->lost;
        stop[k].runs += c->runs;
        stop[k].cells++;
    }
    return count;
}

static int nearer(const void *a, const void *b) {
    const struct stop *x = a, *y = b;
    return (x->distance_dm > y->distance_dm) - (x->distance_dm < y->distance_dm);
}

/* Losses at the farther half of the stops, and their rate there over that at the nearer ones. */
static void far_half(struct cause *c, const struct stop *stop, uint32_t count) {
    uint32_t runs = 0, far = 0, cells = 0, far_cells = 0;
    for (uint32_t i = 0; i < count; i++) {
        runs += stop[i].runs;
        cells += stop[i].cells;
        far += i >= count / 2 ? stop[i].runs : 0;
        far_cells += i >= count / 2 ? stop[i].cells : 0;
    }
    double share = (double)far_cells / cells;
    c->events = runs;
    c->explained = far;
    c->expected = share * runs;
    c->effect = runs > far ? far / share / ((runs - far) / (1 - share)) : INFINITY;
}

/* Stop by stop, does loss rise with the distance (Mann-Kendall over the stops in their order)? */
static void test_distance(struct search *s) {
    struct stop stop[STOPS_MAX];
    double share[STOPS_MAX], work[STOPS_MAX];
    struct stat_trend trend;
    struct cause *c = add_cause(s, CAUSE_DISTANCE, -1);
    uint32_t count = collect_stops(s->t, stop);
    if (count < STOPS_LEAST) {
        cant_tell(c, candidates[CAUSE_DISTANCE].missing);
        return;
    }
    qsort(stop, count, sizeof stop[0], nearer);
    for (uint32_t i = 0; i < count; i++) {
        double packets = (double)(stop[i].got + stop[i].lost);
        share[i] = packets > 0 ? (double)stop[i].lost / packets : 1; /* nothing came: all lost */
    }
    if (!stat_trend(share, count, work, STOPS_MAX, &trend))
        return;
    c->tested = true;
    far_half(c, stop, count);
    s->p[c - s->out->cause] = trend.s > 0 ? trend.p / 2 : 1 - trend.p / 2;
    s->out->tested++;
}

static void test_heading(struct search *s) {
    struct chance_test test;
    int worst;
    int8_t *kinds = malloc(s->t->cells > 0 ? s->t->cells : 1);
    struct cause *c = add_cause(s, CAUSE_HEADING, -1);
    if (s->t->headings < 2)
        cant_tell(c, candidates[CAUSE_HEADING].missing);
    if (kinds == NULL || s->t->headings < 2) {
        free(kinds);
        return;
    }
    for (uint32_t i = 0; i < s->t->cells; i++)
        kinds[i] = s->t->cell[i].heading;
    if (chance_kinds(kinds, s->t->cells, &s->events, s->least, 77, &test, &worst)) {
        take_test(s, c, &test);
        c->figure = worst;
    }
    free(kinds);
}

/* --- events ----------------------------------------------------------------------------------- */

static void add_event(struct chance_events *e, int32_t cell, uint16_t weight) {
    if (e->count == CHANCE_EVENTS_MAX || cell < 0)
        return;
    e->cell[e->count] = cell;
    e->weight[e->count++] = weight;
}

static void outage_events(struct search *s) {
    const struct trace *t = s->t;
    s->events.count = 0;
    for (uint32_t i = 0; i < t->drops && i < TRACE_DROPS; i++) {
        const struct trace_drop *d = &t->drop[i];
        s->out->outages += trace_outage(d);
        if (trace_outage(d) && !d->hole)
            add_event(&s->events, trace_at(t, d->from_ms), 1);
    }
    s->out->outages_tested = s->events.count;
}

/* Cells with loss runs; evenly thinned out where there are more than can be held. */
static void loss_events(struct search *s) {
    const struct trace *t = s->t;
    uint32_t with = 0, number = 0;
    s->events.count = 0;
    for (uint32_t i = 0; i < t->cells; i++) {
        s->out->losses += t->cell[i].runs;
        with += t->cell[i].runs > 0 && (t->cell[i].flags & TRACE_HOLE) == 0;
    }
    uint32_t each = with / CHANCE_EVENTS_MAX + 1;
    for (uint32_t i = 0; i < t->cells; i++) {
        bool usable = t->cell[i].runs > 0 && (t->cell[i].flags & TRACE_HOLE) == 0;
        if (usable && number++ % each == 0) {
            add_event(&s->events, (int32_t)i, t->cell[i].runs);
            s->out->losses_tested += t->cell[i].runs;
        }
    }
}

static void test_all(struct search *s) {
    for (int id = 0; id < CAUSES; id++) {
        const struct candidate *k = &candidates[id];
        bool fact = !s->twitches && (id == CAUSE_RESTART || id == CAUSE_TRANSMITTER);
        bool only_twitch = id == CAUSE_LOSS || id == CAUSE_FAILSAFE;
        if (k->value == NULL || fact || (s->twitches ? !k->twitch : only_twitch))
            continue;
        bool no_throttle = id == CAUSE_THROTTLE && limits_throttle(s->t->limits) < 0;
        if ((k->any_key != 0 && (s->t->keys & k->any_key) == 0) || no_throttle) {
            cant_tell(add_cause(s, (enum cause_id)id, -1), k->missing);
            continue;
        }
        for (int ch = 0; ch < (id == CAUSE_MOVE ? CHANNELS_MAX : 1); ch++)
            test_series(s, (enum cause_id)id, id == CAUSE_MOVE ? ch : -1);
    }
}

/* --- verdicts, chains, order ------------------------------------------------------------------ */

static void judge(struct search *s) {
    double adjusted[CAUSES_MAX];
    stat_holm(s->p, s->out->count, adjusted);
    for (uint32_t i = 0; i < s->out->count; i++) {
        struct cause *c = &s->out->cause[i];
        if (!c->tested)
            continue;
        c->p = adjusted[i];
        c->shown = c->p <= level && c->effect >= (c->id == CAUSE_RHYTHM ? 1.4 : effect_least)
                       ? CAUSE_SHOWN
                       : CAUSE_NOT_SHOWN;
    }
}

/* Events explained beyond chance, as a share of its sort. */
static double weight(const struct cause *c) {
    return c->events > 0 ? (c->explained - c->expected) / c->events : 0;
}

static uint32_t shared(const struct cause *a, const struct cause *b) {
    uint32_t sum = 0;
    for (size_t i = 0; i < sizeof a->bits / sizeof a->bits[0]; i++)
        sum += (uint32_t)__builtin_popcountll(a->bits[i] & b->bits[i]);
    return sum;
}

static uint32_t own(const struct cause *c) {
    return shared(c, c);
}

static bool linked(const struct cause *a, const struct cause *b) {
    const struct candidate *x = &candidates[a->id], *y = &candidates[b->id];
    if ((x->lines & y->lines) == 0 || x->stage == y->stage || a->outages != b->outages)
        return false;
    if (a->id == CAUSE_RHYTHM || b->id == CAUSE_RHYTHM)
        return true;
    uint32_t least = own(a) < own(b) ? own(a) : own(b);
    return least > 0 && 2 * shared(a, b) >= least;
}

/* Joins shown causes of one line that explain the same events; of several at one stage (sticks that
 * move together) the strongest stands for it. */
static void find_chains(struct causes *out) {
    int chains = 0;
    for (uint32_t i = 0; i < out->count; i++) {
        struct cause *a = &out->cause[i];
        for (uint32_t k = 0; k < i && a->shown == CAUSE_SHOWN; k++) {
            struct cause *b = &out->cause[k];
            if (b->shown != CAUSE_SHOWN || !linked(a, b))
                continue;
            if (b->chain < 0)
                b->chain = a->chain >= 0 ? a->chain : chains++;
            int from = a->chain, to = b->chain;
            a->chain = to;
            for (uint32_t n = 0; from >= 0 && n < out->count; n++)
                if (out->cause[n].chain == from)
                    out->cause[n].chain = to;
        }
    }
}

/* A chain is as strong as its strongest member. */
static double strength(const struct causes *out, const struct cause *c) {
    double most = weight(c);
    for (uint32_t i = 0; i < out->count && c->chain >= 0; i++)
        if (out->cause[i].chain == c->chain && weight(&out->cause[i]) > most)
            most = weight(&out->cause[i]);
    return most;
}

static bool before(const struct causes *out, const struct cause *a, const struct cause *b) {
    static const int ranks[] = {[CAUSE_SHOWN] = 0, [CAUSE_NOT_SHOWN] = 1, [CAUSE_CANT_TELL] = 2};
    if (ranks[a->shown] != ranks[b->shown])
        return ranks[a->shown] < ranks[b->shown];
    if (a->shown != CAUSE_SHOWN)
        return false;
    if (a->outages != b->outages)
        return a->outages;
    double x = strength(out, a), y = strength(out, b);
    if (a->chain == b->chain && a->chain >= 0) {
        int i = candidates[a->id].stage, k = candidates[b->id].stage;
        return i != k ? i < k : weight(a) > weight(b);
    }
    return x > y || (x >= y && a->chain >= 0 && b->chain >= 0 && a->chain < b->chain);
}

static void put_in_order(struct causes *out) {
    for (uint32_t i = 1; i < out->count; i++)
        for (uint32_t k = i; k > 0 && before(out, &out->cause[k], &out->cause[k - 1]); k--) {
            struct cause kept = out->cause[k];
            out->cause[k] = out->cause[k - 1];
            out->cause[k - 1] = kept;
        }
}

/* --- the searches ----------------------------------------------------------------------------- */

bool causes_find(const struct trace *t, struct causes *out) {
    struct search s;
    if (!search_begin(&s, t, out)) {
        search_end(&s);
        return false;
    }
    s.outages = true;
    outage_events(&s);
    count_facts(&s);
    if (s.events.count >= s.least)
        test_all(&s);
    if (s.events.count >= s.least)
        test_heading(&s);
    s.outages = false;
    loss_events(&s);
    if (out->losses_tested >= s.least) {
        test_all(&s);
        test_heading(&s);
        test_rhythm(&s);
        test_distance(&s);
    }
    judge_retries(&s);
    if (out->outages_tested < s.least && out->losses_tested < s.least)
        out->too_few = "fewer than ten drops of a sort";
    judge(&s);
    find_chains(out);
    put_in_order(out);
    search_end(&s);
    return true;
}

bool causes_twitches(const struct trace *t, struct causes *out) {
    struct search s;
    if (!search_begin(&s, t, out)) {
        search_end(&s);
        return false;
    }
    s.twitches = true;
    s.least = TWITCHES_LEAST;
    for (uint32_t i = 0; i < t->twitches && i < TRACE_TWITCHES; i++)
        add_event(&s.events, trace_at(t, t->twitch_ms[i]), 1);
    out->losses = out->losses_tested = s.events.count;
    if (s.events.count >= s.least)
        test_all(&s);
    else
        out->too_few = "fewer than five marks";
    judge(&s);
    find_chains(out);
    put_in_order(out);
    search_end(&s);
    return true;
}

/* --- more about two of them ------------------------------------------------------------------- */

const char *causes_ticks(const struct trace *t, double period_ms) {
    const struct {
        double ms;
        const char *what;
    } known[] = {
        {102.4, "the interval of a Wi-Fi beacon"},
        {20, "the mains, 50 Hz"},
        {10, "half waves of the mains, 50 Hz"},
        {1000.0 / 60, "the mains, 60 Hz"},
        {1000.0 / 120, "half waves of the mains, 60 Hz"},
        {t->hop > 1 && t->rate_hz > 0 ? 1000.0 * t->hop / t->rate_hz : 0, "the hop cycle"},
        {t->reports > 0 ? (double)t->observed_ms / (double)t->reports : 0,
         "the receiver's own printing"},
    };
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (known[i].ms > 0 && fabs(period_ms / known[i].ms - 1) < 0.007)
            return known[i].what;
    return NULL;
}

enum { THROTTLE_CELLS = 2000 / TRACE_CELL_MS };

struct throttle_block {
    double output, share;
};

/* The block that begins at a cell; false where its throttle or packets aren't known. */
static bool throttle_block(const struct trace *t, uint32_t from, struct throttle_block *out) {
    double sum = 0, packets = 0, lost = 0;
    for (uint32_t i = from; i < from + THROTTLE_CELLS; i++) {
        const struct trace_cell *c = &t->cell[i];
        if (c->throttle == TRACE_NOTHING || (c->flags & TRACE_FAILSAFE) != 0)
            return false;
        sum += c->throttle;
        lost += c->lost;
        packets += (double)c->got + c->lost;
    }
    out->output = sum / THROTTLE_CELLS;
    out->share = packets > 0 ? lost / packets : 0;
    return packets > 0;
}

static int lower(const void *a, const void *b) {
    const struct throttle_block *x = a, *y = b;
    return (x->output > y->output) - (x->output < y->output);
}

static struct throttle_step step_of(const struct throttle_block *block, uint32_t count,
                                    double *share) {
    struct throttle_step s = {
        .from = block[0].output, .to = block[count - 1].output, .blocks = count};
    struct stat_interval interval;
    for (uint32_t i = 0; i < count; i++) {
        share[i] = block[i].share;
        s.loss += block[i].share / count;
    }
    s.interval_known =
        count >= THROTTLE_BLOCKS_LEAST && stat_block_mean_t(share, count, 0.95, &interval);
    if (s.interval_known) {
        s.low = interval.low > 0 ? interval.low : 0;
        s.high = interval.high < 1 ? interval.high : 1;
    }
    return s;
}

bool causes_throttle(const struct trace *t, struct throttle_step steps[THROTTLE_STEPS]) {
    uint32_t most = t->cells / THROTTLE_CELLS, count = 0;
    struct throttle_block *block = malloc((most + 1) * sizeof *block);
    double *share = malloc((most + 1) * sizeof *share);
    for (uint32_t i = 0; block != NULL && i < most; i++)
        count += throttle_block(t, i * THROTTLE_CELLS, &block[count]);
    bool enough = block != NULL && share != NULL && limits_throttle(t->limits) >= 0 &&
                  count >= THROTTLE_STEPS * THROTTLE_BLOCKS_LEAST;
    if (enough) {
        qsort(block, count, sizeof *block, lower);
        for (uint32_t k = 0; k < THROTTLE_STEPS; k++) {
            uint32_t from = k * count / THROTTLE_STEPS, to = (k + 1) * count / THROTTLE_STEPS;
            steps[k] = step_of(&block[from], to - from, share);
        }
    }
    free(block);
    free(share);
    return enough;
}

/* --- one drop --------------------------------------------------------------------------------- */

static void look_at(const struct trace_cell *c, struct cause_before *out) {
    for (int ch = 0; ch < CHANNELS_MAX; ch++)
        if (c->move[ch] > out->way) {
            out->way = c->move[ch];
            out->channel = ch;
        }
    out->lost += c->lost;
}

void causes_before(const struct trace *t, const struct trace_drop *d, struct cause_before *out) {
    int32_t at = trace_at(t, d->from_ms);
    int low = INT32_MAX, usual = INT32_MIN;
    *out = (struct cause_before){.dip_mv = INT32_MIN, .channel = -1};
    if (at < 0)
        return;
    out->known = !d->hole;
    for (int32_t i = at > BEFORE_CELLS ? at - BEFORE_CELLS : 0; i <= at; i++) {
        const struct trace_cell *c = &t->cell[i];
        look_at(c, out);
        out->known = out->known && (c->flags & TRACE_HOLE) == 0;
        if (c->supply_low != TRACE_NOTHING && c->supply_low < low)
            low = c->supply_low;
        if (c->supply != TRACE_NOTHING && c->supply > usual)
            usual = c->supply;
    }
    if (low != INT32_MAX && usual != INT32_MIN)
        out->dip_mv = usual - low;
    int32_t end = trace_at(t, d->to_ms);
    for (int32_t i = at > 0 ? at - 1 : 0; i <= (end >= at ? end : at) + 1 && i < (int32_t)t->cells;
         i++) {
        out->noise_hits += t->cell[i].noise_hits;
        out->noise_looks += t->cell[i].noise_looks;
    }
}
