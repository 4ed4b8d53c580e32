#include "link/runs.h"

void runs_init(struct runs *r, runs_sink *sink, void *context) {
    *r = (struct runs){.sink = sink, .context = context};
}

/* 1, 2, 3, 4, 6, 8, 12: two bins from each power of two to the next. */
unsigned runs_bin(uint64_t length) {
    if (length < 2)
        return 0;
    if (length >= 4096)
        return RUNS_BINS - 1;
    unsigned power = 63u - (unsigned)__builtin_clzll(length);
    bool upper = (length >> (power - 1) & 1u) != 0;
    return 2 * power - 1 + upper;
}

uint64_t runs_bin_from(unsigned bin) {
    if (bin == 0)
        return 1;
    unsigned power = (bin + 1) / 2;
    uint64_t from = UINT64_C(1) << power;
    return bin % 2 == 1 ? from : from + from / 2;
}

/* A length that stands at `length` grows by `more`; 0 is none yet. */
static void lengthen(struct run_lengths *l, uint64_t length, uint64_t more) {
    uint64_t grown = length + more, squares;
    if (length == 0)
        l->count++;
    else
        l->bin[runs_bin(length)]--;
    l->bin[runs_bin(grown)]++;
    l->sum += more;
    if (grown > l->longest)
        l->longest = grown;
    /* (length + more)^2 - length^2 */
    if (__builtin_mul_overflow(more, length + grown, &squares) ||
        __builtin_add_overflow(l->squares, squares, &l->squares))
        l->squares = UINT64_MAX;
}

/* Tells the sink of `count` that are alike: the distance of the first, and of those after it 1.
 * Kept apart: with this loop inside, runs_arrived would save registers on each call. */
__attribute__((noinline)) static void tell(const struct runs *r, bool arrived, uint64_t count,
                                           uint64_t first) {
    for (uint64_t i = 0; i < count; i++) {
        struct runs_item item = {.arrived = arrived};
        if (!arrived) {
            item.distance = i == 0 ? first : 1;
            item.period = r->runs.count;
        }
        r->sink(r->context, &item);
    }
}

/* The first of `count` that arrived after a loss or a break. */
static void begin_arrived(struct runs *r, uint64_t count) {
    r->from_arrived[0] += count - 1;
    r->from_missing[0] += r->before == RUNS_MISSING;
    r->cut += r->run > 0 && r->run_cut;
    r->run = 0;
    r->before = RUNS_ARRIVED;
}

void runs_arrived(struct runs *r, uint64_t count) {
    if (count == 0)
        return;
    if (r->before == RUNS_ARRIVED)
        r->from_arrived[0] += count;
    else
        begin_arrived(r, count);
    r->packets += count;
    r->since += r->since > 0 ? count : 0;
    if (r->sink != NULL)
        tell(r, true, count, 0);
}

static void note_distance(struct runs *r, uint64_t distance, uint64_t count) {
    if (distance <= RUNS_DISTANCE_MAX)
        r->distance[distance] += count;
}

void runs_missing(struct runs *r, uint64_t count) {
    if (count == 0)
        return;
    uint64_t first = r->since; /* distance of the first of them; those after it have 1 */
    if (r->run == 0) {
        r->run_cut = r->before == RUNS_NONE;
        if (first > 0)
            lengthen(&r->between, 0, first);
    }
    r->from_arrived[1] += r->before == RUNS_ARRIVED;
    r->from_missing[1] += count - 1 + (r->before == RUNS_MISSING);
    r->packets += count;
    r->lost += count;
    lengthen(&r->runs, r->run, count);
    r->run += count;
    note_distance(r, first, 1);
    note_distance(r, 1, count - 1);
    r->since = 1;
    r->before = RUNS_MISSING;
    if (r->sink != NULL)
        tell(r, false, count, first);
}

void runs_outcome(struct runs *r, bool arrived) {
    if (arrived)
        runs_arrived(r, 1);
    else
        runs_missing(r, 1);
}

void runs_break(struct runs *r) {
    r->breaks += r->before != RUNS_NONE;
    r->cut += r->run > 0;
    r->run = 0;
    r->since = 0;
    r->before = RUNS_NONE;
}

void runs_unknown(struct runs *r, uint64_t got, uint64_t lost) {
    if (got + lost == 0)
        return;
    r->unordered_got += got;
    r->unordered_lost += lost;
    runs_break(r);
}

static void take_unordered(struct runs *r, const struct packet_step *step) {
    uint64_t arrived = bits_in(step->order);
    uint64_t missing = step->order_len - arrived + step->missing_before;
    runs_unknown(r, step->got - arrived, step->lost - missing);
}

void runs_step(struct runs *r, const struct packet_step *step) {
    if (step->transmitter_restart)
        runs_break(r);
    if (!step->counted)
        return;
    if (step->order_len + step->missing_before != step->got + step->lost)
        take_unordered(r, step);
    if (step->estimated > 0)
        runs_break(r);
    runs_missing(r, step->missing_before);
    uint64_t order = step->order;
    bool arrived;
    for (uint32_t left = step->order_len, alike; (alike = bits_row(&order, &left, &arrived)) > 0;) {
        if (arrived)
            runs_arrived(r, alike);
        else
            runs_missing(r, alike);
    }
}

uint64_t runs_cut(const struct runs *r) {
    return r->cut + (r->run > 0);
}

uint64_t runs_noticeable(const struct runs *r, uint64_t delta) {
    uint64_t sum = 0;
    for (uint64_t d = 1; d <= delta && d <= RUNS_DISTANCE_MAX; d++)
        sum += r->distance[d];
    return sum;
}
