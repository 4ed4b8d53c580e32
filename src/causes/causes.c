#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "causes/causes_parts.h"
#include "stat/joint.h"

static const double effect_least = 2;      /* drops come with a cause twice as often as without, */
static const double explained_least = 1.5; /* and half as many again as by chance */
static const double level = 0.05;

/* --- one search ------------------------------------------------------------------------------- */

struct search {
    const struct trace *t;
    struct causes *out;
    float *values, *work;
    uint32_t *index;
    double *table; /* statistics of the candidates, a row each */
    double *most;  /* work for their joint test */
    uint32_t shifts, rows;
    struct chance_events events;
    struct chance_events some; /* those of them that a candidate can have caused */
    bool outages, twitches;
    uint32_t least;
    int row[CAUSES_MAX];  /* of the table, -1 none */
    double p[CAUSES_MAX]; /* of a test of its own; NAN where there is none */
};

static bool search_begin(struct search *s, const struct trace *t, struct causes *out) {
    size_t cells = t->cells > 0 ? t->cells : 1;
    memset(out, 0, sizeof *out);
    memset(s, 0, sizeof *s);
    s->t = t;
    s->out = out;
    s->least = CAUSES_EVENTS_LEAST;
    s->shifts = chance_shifts(t->cells);
    s->values = malloc(cells * sizeof *s->values);
    s->work = malloc(cells * sizeof *s->work);
    s->index = malloc(cells * sizeof *s->index);
    s->table = malloc((CAUSES_MAX * (size_t)s->shifts + 1) * sizeof *s->table);
    s->most = malloc(((size_t)s->shifts + 1) * sizeof *s->most);
    return s->values != NULL && s->work != NULL && s->index != NULL && s->table != NULL &&
           s->most != NULL;
}

static void search_end(struct search *s) {
    free(s->values);
    free(s->work);
    free(s->index);
    free(s->table);
    free(s->most);
}

static struct cause *add_cause(struct search *s, enum cause_id id, int channel) {
    struct cause *c = &s->out->cause[s->out->count];
    *c = (struct cause){
        .id = id, .channel = channel, .outages = s->outages, .p = NAN, .effect = NAN, .chain = -1};
    s->row[s->out->count] = -1;
    s->p[s->out->count++] = NAN;
    return c;
}

/* Where the next test's statistics go. */
static double *next_row(struct search *s) {
    return &s->table[(size_t)s->rows * s->shifts];
}

static void take_test(struct search *s, struct cause *c, const struct chance_test *test) {
    c->tested = true;
    c->events = test->events;
    c->explained = test->explained;
    c->expected = test->expected;
    c->effect = test->effect;
    c->figure = (double)test->above;
    memcpy(c->bits, test->bits, sizeof c->bits);
    s->row[c - s->out->cause] = (int)s->rows++;
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

/* An outage whose surroundings were told. */
static bool is_event(const struct trace *t, const struct trace_drop *d) {
    return trace_outage(d) && !d->hole && trace_at(t, d->from_ms) >= 0;
}

/* What is known of a drop rules some candidates out: a weak signal restarts no receiver, and the
 * receiver's supply neither stops the transmitter nor pulls its own reset line. */
static bool ruled_out(const struct trace_drop *d, enum cause_id id) {
    bool sender = d->transmitter || d->paused;
    bool told = d->restart && (d->cause == BOOT_WATCHDOG || d->cause == BOOT_RESET);
    switch (id) {
    case CAUSE_SIGNAL:
    case CAUSE_INTERFERENCE:
        return d->restart || d->forgot || d->stalled || sender;
    case CAUSE_SUPPLY:
        return sender || told || d->stalled;
    case CAUSE_MOVE:
    case CAUSE_THROTTLE:
        return sender || d->stalled;
    case CAUSE_TRANSMITTER_SUPPLY:
        return d->restart || d->stalled;
    default:
        return false;
    }
}

/* The n-th event is the n-th kept outage that isn't in a hole. */
static const struct chance_events *events_for(struct search *s, enum cause_id id) {
    const struct trace *t = s->t;
    uint32_t event = 0;
    if (!s->outages || s->twitches)
        return &s->events;
    s->some = s->events;
    for (uint32_t i = 0; i < t->drops && i < TRACE_DROPS && event < s->some.count; i++)
        if (is_event(t, &t->drop[i])) {
            if (ruled_out(&t->drop[i], id))
                s->some.weight[event] = 0;
            event++;
        }
    return &s->some;
}

static void test_series(struct search *s, enum cause_id id, int channel) {
    const struct candidate *k = &causes_candidates[id];
    int before, after;
    struct chance_test test;
    window(s, k, &before, &after);
    causes_series(s->t, id, channel, s->values, s->work);
    bool tested = chance_test(s->values, s->t->cells, before, after, events_for(s, id), s->least,
                              s->work, s->index, next_row(s), &test);
    if (!tested && id == CAUSE_MOVE)
        return; /* a channel that never moves is no candidate */
    struct cause *c = add_cause(s, id, channel);
    c->events = test.events;
    if (tested)
        take_test(s, c, &test);
}

/* --- facts ------------------------------------------------------------------------------------ */

static enum cause_id restart_cause(enum boot_cause cause) {
    return cause == BOOT_BROWNOUT   ? CAUSE_BROWNOUT
           : cause == BOOT_WATCHDOG ? CAUSE_WATCHDOG
           : cause == BOOT_RESET    ? CAUSE_RESET
           : cause == BOOT_POWER    ? CAUSE_POWER
                                    : CAUSE_RESTART;
}

static bool is_fact(const struct trace *t, const struct trace_drop *d, enum cause_id id) {
    switch (id) {
    case CAUSE_SETTINGS_LOST:
        return d->forgot;
    case CAUSE_TRANSMITTER:
        return d->transmitter && t->transmitter_returns == 0;
    case CAUSE_STRANGER:
        return d->transmitter && t->transmitter_returns > 1; /* one may be a damaged line */
    case CAUSE_PAUSE:
        return d->paused && !d->restart && !d->transmitter;
    case CAUSE_STALL:
        return d->stalled && !d->restart;
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
        if (!is_event(t, d))
            continue;
        if (is_fact(t, d, id)) {
            c->explained++;
            c->bits[event / 64] |= UINT64_C(1) << (event % 64);
        }
        event++;
    }
    c->events = event;
    /* One outage in which nothing was sent may be somebody's switch. */
    uint32_t enough = id == CAUSE_PAUSE || id == CAUSE_STALL ? 2 : 1;
    c->shown = c->explained >= enough ? CAUSE_SHOWN : CAUSE_NOT_SHOWN;
}

static void count_facts(struct search *s) {
    static const enum cause_id facts[] = {
        CAUSE_BROWNOUT,    CAUSE_WATCHDOG, CAUSE_RESET,         CAUSE_POWER, CAUSE_RESTART,
        CAUSE_TRANSMITTER, CAUSE_STRANGER, CAUSE_SETTINGS_LOST, CAUSE_STALL, CAUSE_PAUSE};
    for (size_t i = 0; i < sizeof facts / sizeof facts[0]; i++) {
        const struct candidate *k = &causes_candidates[facts[i]];
        if (k->any_key != 0 && (s->t->keys & k->any_key) == 0)
            cant_tell(add_cause(s, facts[i], -1), k->missing);
        else if (facts[i] == CAUSE_PAUSE && s->t->acked) /* what isn't acknowledged is sent again */
            cant_tell(add_cause(s, facts[i], -1), "acknowledgement switched off");
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
        cant_tell(c, causes_candidates[CAUSE_RETRIES].missing);
        return;
    }
    if (!t->acked || !t->counted || t->arrival_ms < 10000)
        return;
    double rate = (double)t->got * 1000 / (double)t->arrival_ms;
    bool whole = (double)t->lost <= 0.01 * (double)(t->got + t->lost);
    c->figure = rate;
    c->shown = whole && rate < 0.9 * t->rate_hz ? CAUSE_SHOWN : CAUSE_NOT_SHOWN;
}

/* --- tests of their own ----------------------------------------------------------------------- */

static void take_own_test(struct search *s, struct cause *c, double p) {
    c->tested = true;
    s->p[c - s->out->cause] = p;
    s->out->tested++;
}

static void take_rhythm(struct search *s, struct cause *c, const struct causes_rhythm *found) {
    c->events = found->events;
    c->explained = found->explained;
    c->expected = found->expected;
    c->effect = found->explained / found->expected;
    c->figure = found->period_ms;
    take_own_test(s, c, found->p);
}

static void test_rhythm(struct search *s) {
    struct causes_rhythm found;
    struct cause *c = add_cause(s, CAUSE_RHYTHM, -1);
    if ((s->t->keys & (1u << KEY_PAT)) == 0)
        cant_tell(c, causes_candidates[CAUSE_RHYTHM].missing);
    else if (causes_rhythm(s->t, &found))
        take_rhythm(s, c, &found);
}

/* Outages that come by the clock. */
static void test_regular(struct search *s) {
    double begin[TRACE_DROPS], work[TRACE_DROPS];
    struct causes_rhythm found;
    uint32_t count = 0;
    for (uint32_t i = 0; i < s->t->drops && i < TRACE_DROPS; i++)
        if (trace_outage(&s->t->drop[i]) && !s->t->drop[i].hole)
            begin[count++] = (double)s->t->drop[i].from_ms;
    if (causes_regular(begin, count, work, &found))
        take_rhythm(s, add_cause(s, CAUSE_RHYTHM, -1), &found);
}

static void test_distance(struct search *s) {
    struct causes_distance found;
    bool enough = causes_distance(s->t, &found);
    for (int k = 0; k < 2; k++) {
        enum cause_id id = k == 0 ? CAUSE_DISTANCE : CAUSE_OVERLOAD;
        struct cause *c = add_cause(s, id, -1);
        if (!enough)
            cant_tell(c, causes_candidates[id].missing);
        if (!enough || !found.tested)
            continue;
        c->events = found.events;
        c->explained = k == 0 ? found.explained : found.events - found.explained;
        c->expected = k == 0 ? found.expected : found.events - found.expected;
        c->effect = k == 0 ? found.effect : found.effect > 0 ? 1 / found.effect : INFINITY;
        take_own_test(s, c, k == 0 ? found.rises : found.falls);
    }
}

/* Of the whole walk, whatever was lost. */
static void test_antenna(struct search *s) {
    struct causes_antenna found;
    bool enough = causes_antenna(s->t, &found);
    if (!found.walked)
        return;
    struct cause *c = add_cause(s, CAUSE_ANTENNA, -1);
    if (!enough) {
        cant_tell(c, causes_candidates[CAUSE_ANTENNA].missing);
        return;
    }
    c->events = found.stops;
    c->explained = found.weak;
    c->expected = found.expected;
    c->effect = found.weak / found.expected;
    c->figure = found.weak > 0 ? found.below_db : 0;
    take_own_test(s, c, found.p);
}

static void test_drift(struct search *s) {
    struct causes_drift found;
    struct cause *c = add_cause(s, CAUSE_DRIFT, -1);
    if (!causes_drift(s->t, s->outages ? &s->events : NULL, &found)) {
        cant_tell(c, causes_candidates[CAUSE_DRIFT].missing);
        return;
    }
    c->events = found.events;
    c->explained = found.explained;
    c->expected = found.expected;
    c->effect = found.effect;
    c->figure = found.fall_mv;
    c->supply = found.supply;
    take_own_test(s, c, found.p);
}

static void test_heading(struct search *s) {
    struct chance_test test;
    int worst;
    int8_t *kinds = malloc(s->t->cells > 0 ? s->t->cells : 1);
    struct cause *c = add_cause(s, CAUSE_HEADING, -1);
    if (s->t->headings < 2)
        cant_tell(c, causes_candidates[CAUSE_HEADING].missing);
    if (kinds == NULL || s->t->headings < 2) {
        free(kinds);
        return;
    }
    for (uint32_t i = 0; i < s->t->cells; i++)
        kinds[i] = s->t->cell[i].heading;
    if (chance_kinds(kinds, s->t->cells, &s->events, s->least, next_row(s), &test, &worst)) {
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

static uint32_t all_weights(const struct chance_events *e) {
    uint32_t sum = 0;
    for (uint32_t i = 0; i < e->count; i++)
        sum += e->weight[i];
    return sum;
}

/* What a second transmitter explains is no evidence of anything else. */
static bool stranger_near(const struct trace *t, int32_t cell) {
    enum { AROUND = 2000 / TRACE_CELL_MS };
    for (int32_t i = cell - AROUND; t->transmitter_returns > 0 && i <= cell + AROUND; i++)
        if (i >= 0 && i < (int32_t)t->cells && (t->cell[i].flags & TRACE_TRANSMITTER) != 0)
            return true;
    return false;
}

static void outage_events(struct search *s) {
    const struct trace *t = s->t;
    s->events.count = 0;
    for (uint32_t i = 0; i < t->drops && i < TRACE_DROPS; i++) {
        const struct trace_drop *d = &t->drop[i];
        s->out->outages += trace_outage(d);
        if (is_event(t, d))
            add_event(&s->events, trace_at(t, d->from_ms),
                      stranger_near(t, trace_at(t, d->from_ms)) ? 0 : 1);
    }
    s->out->outages_tested = all_weights(&s->events);
}

static bool loss_cell(const struct trace *t, uint32_t i) {
    return t->cell[i].runs > 0 && (t->cell[i].flags & TRACE_HOLE) == 0 &&
           !stranger_near(t, (int32_t)i);
}

static uint64_t loss_runs(const struct trace *t) {
    uint64_t sum = 0;
    for (uint32_t i = 0; i < t->cells; i++)
        sum += loss_cell(t, i) ? t->cell[i].runs : 0;
    return sum;
}

/* Cells with loss runs; evenly thinned out where there are more than can be held. */
static void loss_events(struct search *s) {
    const struct trace *t = s->t;
    uint32_t with = 0, number = 0;
    s->events.count = 0;
    for (uint32_t i = 0; i < t->cells; i++) {
        s->out->losses += t->cell[i].runs;
        with += loss_cell(t, i);
    }
    uint32_t each = with / CHANCE_EVENTS_MAX + 1;
    for (uint32_t i = 0; i < t->cells; i++) {
        if (loss_cell(t, i) && number++ % each == 0) {
            add_event(&s->events, (int32_t)i, t->cell[i].runs);
            s->out->losses_tested += t->cell[i].runs;
        }
    }
}

static void test_all(struct search *s) {
    for (int id = 0; id < CAUSES; id++) {
        const struct candidate *k = &causes_candidates[id];
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

/* A test of its own gets a tenth of the level, of the distance a fifth (of five stops the least p
 * is 1/120), of the drift a twentieth (parts of a run hang together a little); what is left is for
 * those that are judged together.  So the chance of one false accusation is at most the level over
 * all of them. */
static double own_share(enum cause_id id) {
    return id == CAUSE_DISTANCE || id == CAUSE_OVERLOAD ? 0.2 : id == CAUSE_DRIFT ? 0.05 : 0.1;
}

static double adjusted(const struct search *s, uint32_t i, const double *together, double left) {
    double p =
        s->row[i] >= 0 ? together[s->row[i]] / left : s->p[i] / own_share(s->out->cause[i].id);
    return p < 1 ? p : 1;
}

static void judge(struct search *s) {
    double together[CAUSES_MAX] = {0};
    size_t order[CAUSES_MAX];
    double left = 1;
    if (s->rows > 0)
        stat_joint(s->table, s->rows, s->shifts, together, order, s->most);
    for (uint32_t i = 0; i < s->out->count; i++)
        left -= isnan(s->p[i]) ? 0 : own_share(s->out->cause[i].id);
    for (uint32_t i = 0; i < s->out->count; i++) {
        struct cause *c = &s->out->cause[i];
        if (!c->tested)
            continue;
        c->p = adjusted(s, i, together, left);
        bool strong = c->effect >= effect_least && c->explained >= explained_least * c->expected;
        c->shown = c->p <= level && strong ? CAUSE_SHOWN : CAUSE_NOT_SHOWN;
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
    const struct candidate *x = &causes_candidates[a->id], *y = &causes_candidates[b->id];
    if ((x->lines & y->lines) == 0 || x->stage == y->stage || a->outages != b->outages)
        return false;
    if (a->id == CAUSE_RHYTHM || b->id == CAUSE_RHYTHM || a->id == CAUSE_ANTENNA ||
        b->id == CAUSE_ANTENNA)
        return true; /* of the run as a whole */
    uint32_t least = own(a) < own(b) ? own(a) : own(b);
    return least > 0 && 2 * shared(a, b) >= least;
}

/* Sticks that a person moves together come before the same events: the one that explains most of
 * them stands for all. */
static void leave_companions_out(struct causes *out) {
    for (uint32_t i = 0; i < out->count; i++)
        for (uint32_t k = 0; k < out->count; k++) {
            struct cause *a = &out->cause[i], *b = &out->cause[k];
            bool both = a->id == CAUSE_MOVE && b->id == CAUSE_MOVE && a->outages == b->outages &&
                        a->shown == CAUSE_SHOWN && b->shown == CAUSE_SHOWN && i != k;
            if (both && weight(b) <= weight(a) && 2 * shared(a, b) >= own(b))
                b->shown = CAUSE_NOT_SHOWN;
        }
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
        int i = causes_candidates[a->id].stage, k = causes_candidates[b->id].stage;
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

static double recorded_s(const struct trace *t) {
    return t->cells * (double)TRACE_CELL_MS / 1000;
}

/* Why nothing was tested, and how long a recording would do, at as many drops a minute. */
static void say_too_few(struct search *s, uint32_t most) {
    double shortest = CAUSES_SECONDS_LEAST, now = recorded_s(s->t);
    struct causes *out = s->out;
    bool brief = s->shifts == 0;
    if (out->outages + out->losses == 0) {
        out->too_few = "nothing was lost";
        return;
    }
    out->too_few = brief ? "the recording is too short" : "fewer than ten drops of a sort";
    out->enough_s = most > 0 && most < s->least ? now * s->least / most : shortest;
    out->enough_s = out->enough_s > shortest ? out->enough_s : shortest;
}

static void test_outages(struct search *s) {
    s->outages = true;
    outage_events(s);
    count_facts(s);
    if (s->shifts == 0 || s->out->outages_tested < s->least)
        return;
    test_all(s);
    test_heading(s);
    test_regular(s);
    if (loss_runs(s->t) < s->least) /* else the losses tell it */
        test_drift(s);
}

static void test_losses(struct search *s) {
    s->outages = false;
    loss_events(s);
    if (s->shifts == 0 || s->out->losses_tested < s->least)
        return;
    test_all(s);
    test_heading(s);
    test_rhythm(s);
    test_drift(s);
    test_distance(s);
}

bool causes_find(const struct trace *t, struct causes *out) {
    struct search s;
    if (!search_begin(&s, t, out)) {
        search_end(&s);
        return false;
    }
    test_outages(&s);
    test_losses(&s);
    test_antenna(&s);
    judge_retries(&s);
    uint32_t most =
        out->outages_tested > out->losses_tested ? out->outages_tested : out->losses_tested;
    if (s.shifts == 0 || most < s.least)
        say_too_few(&s, most);
    judge(&s);
    leave_companions_out(out);
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
    if (s.events.count < s.least)
        out->too_few = "fewer than five marks";
    else if (s.shifts == 0)
        out->too_few = "the recording is too short";
    else
        test_all(&s);
    judge(&s);
    leave_companions_out(out);
    find_chains(out);
    put_in_order(out);
    search_end(&s);
    return true;
}
