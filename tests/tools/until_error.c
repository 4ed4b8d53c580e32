/* How often an evidence budget decides wrongly over its looks, on simulated air.
 *
 * usage: until_error [RUNS]      200 runs a cell; the suite 'outside' runs 20
 *
 * true: the link's loss over the limit, or over that of the reference (a recording of 120 s of the
 * same air).  At 1 whatever is decided is wrong.  AIR: two states, each left with a constant chance
 * a packet (Gilbert 1960); wander: the loss's logarithm has standard deviation 0.5 and forgets in
 * 8 s (told, not judged).  50 packets a second; planned 200 or 600 s, five looks.
 *
 * What was found (until_error 200, a minute on one core):
 *
 * - Steady air, loss 0.5, 2 and 5 %, mean run 1 to 50 (48 cells): wrong in at most 7 of 200.
 * - With wander in up to 22 of 200, "below" more often than "above": a look at few minutes of a
 *   link that wanders for tens of seconds knows little of it.
 * - Limit 2 %, planned 600 s; how often the right side was told, and after how long (mean):
 *
 *     mean run   half of the limit   twice the limit
 *         1        100 %, 194 s        100 %, 143 s
 *         3        100 %, 322 s        100 %, 255 s
 *        10         76 %, 511 s        100 %, 387 s
 *
 *   Against a reference of 120 s, which is itself uncertain: half in 96, 49 and 4 %; twice in 97,
 *   74 and 21 %.
 * - Tried before: Pocock's even hurdles, 17 of 100 with wander against 14 with these (the limits
 *   taken evenly in both); on steady air they are quicker (half of it at run 3 after 212 s).
 */
#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "study/until.h"

enum { RATE = 50, BURN_IN = 5000 };
#define COUNT(a) (sizeof(a) / sizeof *(a))

struct cell {
    bool differs; /* from a reference of 120 s, else a limit */
    bool wander;
    double loss, mean_run, factor; /* factor: true loss over the limit, or the reference's loss */
    int seconds;
};

/* splitmix64 (Steele, Lea and Flood 2014); 0 < u < 1. */
static double chance(uint64_t *state) {
    uint64_t z = *state += 0x9E3779B97F4A7C15u;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    z ^= z >> 31;
    return ((double)(z >> 11) + 0.5) / 9007199254740992.0;
}

static double normal(uint64_t *state) {
    double radius = sqrt(-2 * log(chance(state)));
    return radius * cos(6.283185307179586 * chance(state));
}

struct air {
    double loss, mean_run, wander;
    bool wandering, arrived;
};

/* Two states (Gilbert 1960); wandering, the loss's logarithm has standard deviation 0.5 and forgets
 * in 8 s. */
static bool next(struct air *a, uint64_t *state) {
    static const double sd = 0.5, forgets_s = 8;
    double loss = a->loss, end = 1 / a->mean_run;
    if (a->wandering) {
        double keep = exp(-1 / (forgets_s * RATE));
        a->wander = keep * a->wander + sqrt(1 - keep * keep) * sd * normal(state);
        loss *= exp(a->wander - sd * sd / 2);
    }
    if (a->mean_run <= 1)
        return a->arrived = chance(state) >= loss;
    double leave = a->arrived ? end * loss / (1 - loss) : end;
    if (chance(state) < leave)
        a->arrived = !a->arrived;
    return a->arrived;
}

/* What reports would have told, as moments: so many arrived, or so many missing and one arrived. */
struct teller {
    struct event event;
    int64_t good_ms;
    uint64_t arrived, missing;
    void *to;
    bool (*feed)(void *to, const struct moment *m);
};

static bool tell(struct teller *t, uint64_t got, uint64_t lost, int64_t at_ms) {
    struct moment m = {.event = &t->event, .host_us = TIME_UNKNOWN, .link_ms = at_ms};
    m.from_ms = t->good_ms;
    m.packets = (struct packet_step){.counted = true,
                                     .got = got,
                                     .lost = lost,
                                     .arrived = true,
                                     .evidence = EVIDENCE_PATTERN,
                                     .good_ms = at_ms,
                                     .order_len = lost > 0,
                                     .order = lost > 0,
                                     .missing_before = lost};
    t->good_ms = at_ms;
    return t->feed(t->to, &m);
}

static bool tell_packet(struct teller *t, bool arrived, int64_t at_ms) {
    bool done = false;
    if (!arrived) {
        if (t->arrived > 0)
            done = tell(t, t->arrived, 0, at_ms - 1000 / RATE);
        t->arrived = 0;
        t->missing++;
        return done;
    }
    if (t->missing > 0) {
        done = tell(t, 1, t->missing, at_ms);
        t->missing = 0;
    } else if (++t->arrived >= RATE) {
        done = tell(t, t->arrived, 0, at_ms);
        t->arrived = 0;
    }
    return done;
}

static bool feed_until(void *to, const struct moment *m) {
    return until_feed(to, m);
}

static bool feed_sample(void *to, const struct moment *m) {
    sample_feed(to, m);
    return false;
}

static void run_air(const struct cell *c, double loss, int seconds, uint64_t *state,
                    struct teller *t) {
    struct air air = {loss, c->mean_run, 0.5 * normal(state), c->wander, true};
    bool done = false;
    for (int i = 0; i < BURN_IN; i++)
        next(&air, state);
    for (int i = 1; i <= seconds * RATE && !done; i++)
        done = tell_packet(t, next(&air, state), (int64_t)i * 1000 / RATE);
}

struct tally {
    unsigned below, above, undecided;
    double seconds;
};

static void run_one(const struct cell *c, uint64_t *state, struct tally *t) {
    static struct until u;
    static struct sample reference;
    const struct sample *one = &reference;
    struct until_plan plan = {.question = c->differs ? UNTIL_DIFFERS : UNTIL_LIMIT,
                              .limit = c->loss,
                              .reference = {&one, 1},
                              .seconds = c->seconds};
    struct teller told = {.event = {.kind = EVENT_REPORT}, .good_ms = 0};
    if (c->differs) {
        sample_init(&reference, RATE);
        told.to = &reference;
        told.feed = feed_sample;
        run_air(c, c->loss, 120, state, &told);
        for (uint32_t i = 0; i <= reference.full; i++) {
            reference.got += reference.block[i].got;
            reference.lost += reference.block[i].lost;
        }
        reference.counted = true;
    }
    if (!until_init(&u, &plan, RATE))
        exit(3);
    told = (struct teller){
        .event = {.kind = EVENT_REPORT}, .good_ms = 0, .to = &u, .feed = feed_until};
    run_air(c, c->factor * c->loss, c->seconds, state, &told);
    until_end(&u);
    t->below += u.verdict == UNTIL_BELOW;
    t->above += u.verdict == UNTIL_ABOVE;
    t->undecided += u.verdict == UNTIL_UNDECIDED;
    t->seconds += u.counted_s;
    until_release(&u);
}

static struct tally run_cell(const struct cell *c, unsigned runs, uint64_t seed) {
    struct tally t = {0, 0, 0, 0};
    for (unsigned i = 0; i < runs; i++)
        run_one(c, &seed, &t);
    printf("%-9s %-6s %5.1f%% %4.0f %5.2f %5d  %5u %5u %5u  %6.0f\n",
           c->differs ? "reference" : "limit", c->wander ? "wander" : "steady", 100 * c->loss,
           c->mean_run, c->factor, c->seconds, t.below, t.above, t.undecided, t.seconds / runs);
    fflush(stdout);
    return t;
}

/* The loss is the limit, or the reference's: whatever is decided is wrong. */
static unsigned run_errors(unsigned runs, uint64_t *seed) {
    static const double losses[] = {0.005, 0.02, 0.05}, mean_runs[] = {1, 3, 10, 50};
    static const int lengths[] = {200, 600};
    unsigned worst = 0;
    for (int kind = 0; kind < 4; kind++)
        for (size_t l = 0; l < COUNT(losses); l++)
            for (size_t r = 0; r < COUNT(mean_runs); r++)
                for (size_t s = 0; s < COUNT(lengths); s++) {
                    struct cell c = {kind % 2 == 1, kind / 2 == 1, losses[l], mean_runs[r], 1,
                                     lengths[s]};
                    struct tally t = run_cell(&c, runs, (*seed)++ << 32);
                    if (kind < 2 && t.below + t.above > worst)
                        worst = t.below + t.above;
                }
    return worst;
}

static unsigned run_power(unsigned runs, uint64_t *seed) {
    static const double factors[] = {0.5, 2}, mean_runs[] = {1, 3, 10};
    unsigned least = runs;
    for (int differs = 0; differs < 2; differs++)
        for (size_t f = 0; f < COUNT(factors); f++)
            for (size_t r = 0; r < COUNT(mean_runs); r++) {
                struct cell c = {differs == 1, false, 0.02, mean_runs[r], factors[f], 600};
                struct tally t = run_cell(&c, runs, (*seed)++ << 32);
                unsigned right = factors[f] < 1 ? t.below : t.above;
                if (differs == 0 && mean_runs[r] <= 3 && right < least)
                    least = right;
            }
    return least;
}

int main(int argc, char **argv) {
    unsigned runs = argc > 1 ? (unsigned)strtoul(argv[1], NULL, 10) : 200;
    uint64_t seed = 1;
    if (runs < 1) {
        fputs("usage: until_error [RUNS]\n", stderr);
        return 2;
    }
    /* The project's mark is 16 of 200; with fewer runs, so that a true 5 % hardly ever fails. */
    unsigned most = runs >= 200 ? runs * 16 / 200 : (unsigned)(0.05 * runs + 3 * sqrt(0.05 * runs));
    puts("question  air     loss  run  true     s  below above undec.  took s");
    unsigned wrong = run_errors(runs, &seed), right = run_power(runs, &seed);
    printf("\nwrong in at most %u of %u a cell (mark: %u); half or twice the limit is told in at "
           "least %u\n",
           wrong, runs, most, right);
    return wrong <= most && right >= runs * 8 / 10 ? 0 : 1;
}
