#include "link/window.h"

#include <string.h>

#include "base/whole.h"

void window_init(struct window *w) {
    memset(w, 0, sizeof *w);
    w->begin_ms = TIME_UNKNOWN;
}

/* Floor division: link time starts at 0, but packets may lie before the first report. */
static int64_t cell_number(int64_t ms) {
    int64_t number = ms / WINDOW_CELL_MS;
    return ms < 0 && ms % WINDOW_CELL_MS != 0 ? number - 1 : number;
}

static size_t slot(int64_t number) {
    int64_t rest = number % WINDOW_CELLS;
    return (size_t)(rest < 0 ? rest + WINDOW_CELLS : rest);
}

void window_advance(struct window *w, int64_t now_ms) {
    int64_t to = cell_number(now_ms);
    if (w->begin_ms == TIME_UNKNOWN) {
        w->begin_ms = now_ms;
        w->head = to;
        return;
    }
    if (to - w->head >= WINDOW_CELLS) { /* none of what is there stays */
        memset(w->cell, 0, sizeof w->cell);
        w->ten = (struct window_ten){0};
        w->head = to;
    }
    while (w->head < to) {
        const struct window_cell *leaving = &w->cell[slot(w->head + 1 - WINDOW_TEN)];
        w->ten.got -= leaving->got;
        w->ten.lost -= leaving->lost;
        w->ten.bytes -= leaving->bytes;
        memset(&w->cell[slot(++w->head)], 0, sizeof w->cell[0]);
    }
}

static bool inside(const struct window *w, int64_t number) {
    return w->begin_ms != TIME_UNKNOWN && number <= w->head && number > w->head - WINDOW_CELLS;
}

struct window_cell *window_at(struct window *w, int64_t at_ms) {
    int64_t number = cell_number(at_ms);
    return inside(w, number) ? &w->cell[slot(number)] : &w->outside;
}

static void count_at(struct window *w, int64_t number, uint32_t got, uint32_t lost) {
    if (!inside(w, number))
        return;
    struct window_cell *cell = &w->cell[slot(number)];
    cell->got += got;
    cell->lost += lost;
    if (number > w->head - WINDOW_TEN) {
        w->ten.got += got;
        w->ten.lost += lost;
    }
}

static void keep_outcome(struct window *w, bool arrived) {
    uint64_t bit = UINT64_C(1) << (w->outcomes % 64);
    uint64_t *word = &w->outcome[w->outcomes / 64 % (WINDOW_OUTCOMES / 64)];
    *word = arrived ? *word | bit : *word & ~bit;
    w->outcomes++;
    w->ordered++;
}

bool window_runs(const struct window *w, uint64_t packets, struct loss_runs *out) {
    *out = (struct loss_runs){0};
    if (packets > w->ordered || packets > WINDOW_OUTCOMES)
        return false;
    for (uint64_t i = w->outcomes - packets; i < w->outcomes; i++)
        stat_loss_take(out, (w->outcome[i / 64 % (WINDOW_OUTCOMES / 64)] >> (i % 64) & 1u) != 0, 1);
    return true;
}

void window_report(struct window *w, int64_t at_ms, uint32_t bytes) {
    int64_t number = cell_number(at_ms);
    if (!inside(w, number))
        return;
    w->cell[slot(number)].reports++;
    w->cell[slot(number)].bytes += bytes;
    if (number > w->head - WINDOW_TEN)
        w->ten.bytes += bytes;
}

/* Order known: each outcome goes where it belongs.  The oldest come first, those missing before the
 * pattern ahead of it. */
static bool outcome_arrived(const struct packet_step *s, uint64_t index, uint64_t packets) {
    uint64_t ordered_from = packets - s->order_len;
    if (index < ordered_from)
        return index >= s->missing_before && index - s->missing_before < s->got;
    return (s->order >> (index - ordered_from) & 1u) != 0;
}

enum { SPELLED_MAX = 2000 }; /* packets placed one by one */

static void place(struct window *w, const struct packet_step *s, uint64_t packets, int64_t from_ms,
                  int64_t to_ms) {
    bool ordered = s->order_len + s->missing_before == packets;
    for (uint64_t i = 0; i < packets; i++) {
        int64_t at = from_ms + (int64_t)((i + 1) * (uint64_t)(to_ms - from_ms) / packets);
        bool arrived = ordered ? outcome_arrived(s, i, packets)
                               : (i + 1) * s->got / packets > i * s->got / packets;
        count_at(w, cell_number(at), arrived, !arrived);
        if (ordered || s->lost == 0)
            keep_outcome(w, arrived);
        else
            w->ordered = 0;
    }
}

/* Many packets: each cell of the span gets its share, and the shares add up. */
static void spread(struct window *w, const struct packet_step *s, int64_t from_ms, int64_t to_ms) {
    w->ordered = 0;
    int64_t first = cell_number(from_ms), last = cell_number(to_ms);
    double cells = (double)(last - first + 1);
    int64_t from = first > w->head - WINDOW_CELLS ? first : w->head - WINDOW_CELLS + 1;
    for (int64_t number = from; number <= last && number <= w->head; number++) {
        double before = (double)(number - first) / cells,
               after = (double)(number - first + 1) / cells;
        count_at(w, number, whole_u32((double)s->got * after) - whole_u32((double)s->got * before),
                 whole_u32((double)s->lost * after) - whole_u32((double)s->lost * before));
    }
}

void window_packets(struct window *w, const struct packet_step *s, int64_t from_ms, int64_t to_ms) {
    uint64_t packets = s->got + s->lost;
    if (packets == 0 || to_ms == TIME_UNKNOWN)
        return;
    if (from_ms == TIME_UNKNOWN || from_ms > to_ms)
        from_ms = to_ms;
    if (packets > SPELLED_MAX)
        spread(w, s, from_ms, to_ms);
    else
        place(w, s, packets, from_ms, to_ms);
}

static void mark(struct window *w, int64_t from_ms, int64_t to_ms, bool silent) {
    int64_t first = cell_number(from_ms), last = cell_number(to_ms);
    if (w->begin_ms == TIME_UNKNOWN)
        return;
    if (first <= w->head - WINDOW_CELLS)
        first = w->head - WINDOW_CELLS + 1;
    for (int64_t number = first; number <= last && number <= w->head; number++) {
        if (silent)
            w->cell[slot(number)].silent = true;
        else
            w->cell[slot(number)].observed = true;
    }
}

void window_observed(struct window *w, int64_t from_ms, int64_t to_ms) {
    mark(w, from_ms, to_ms, false);
}

void window_silent(struct window *w, int64_t from_ms, int64_t to_ms) {
    mark(w, from_ms, to_ms, true);
}

static void add(struct window_cell *sum, const struct window_cell *cell) {
    sum->got += cell->got;
    sum->lost += cell->lost;
    sum->reports += cell->reports;
    sum->bytes += cell->bytes;
    sum->heard_hits += cell->heard_hits;
    sum->heard_looks += cell->heard_looks;
    sum->noise_hits += cell->noise_hits;
    sum->noise_looks += cell->noise_looks;
    sum->observed |= cell->observed;
    sum->silent |= cell->silent;
}

struct window_cell window_sum(const struct window *w, int64_t span_ms) {
    struct window_cell sum = {0};
    int64_t cells = span_ms / WINDOW_CELL_MS;
    for (int64_t i = 0; i < cells && i < WINDOW_CELLS && w->begin_ms != TIME_UNKNOWN; i++)
        add(&sum, &w->cell[slot(w->head - i)]);
    return sum;
}

void window_changes(const struct window *w, int64_t span_ms, uint64_t *out) {
    int64_t cells = span_ms / WINDOW_CELL_MS;
    for (size_t channel = 0; channel < CHANNELS_MAX; channel++)
        out[channel] = 0;
    for (int64_t i = 0; i < cells && i < WINDOW_CELLS && w->begin_ms != TIME_UNKNOWN; i++) {
        for (size_t channel = 0; channel < CHANNELS_MAX; channel++)
            out[channel] += w->cell[slot(w->head - i)].changes[channel];
    }
}

int64_t window_covered(const struct window *w, int64_t span_ms) {
    if (w->begin_ms == TIME_UNKNOWN)
        return 0;
    int64_t covered = (w->head + 1) * WINDOW_CELL_MS - w->begin_ms;
    return covered < span_ms ? covered : span_ms;
}

void window_seconds(const struct window *w, struct second_cell *out) {
    enum { PER_SECOND = 1000 / WINDOW_CELL_MS };
    memset(out, 0, RECENT_SECONDS * sizeof *out);
    for (int64_t i = 0; i < WINDOW_CELLS && w->begin_ms != TIME_UNKNOWN; i++) {
        const struct window_cell *cell = &w->cell[slot(w->head - i)];
        struct second_cell *second = &out[RECENT_SECONDS - 1 - i / PER_SECOND];
        second->got += cell->got;
        second->lost += cell->lost;
        second->observed |= cell->observed;
        second->silent |= cell->silent;
    }
}
