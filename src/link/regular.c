#include "link/regular.h"

#include <math.h>
#include <string.h>

#include "base/whole.h"

static const double Z_95 = 1.959963984540054;

enum { SLOPES_MAX = REGULAR_BLOCKS * (REGULAR_BLOCKS - 1) / 2 };

static void clear_blocks(struct regular *g) {
    memset(g->block, 0, sizeof g->block);
    g->begin_ms = TIME_UNKNOWN;
    g->block_ms = REGULAR_BLOCK_MS;
    g->last_ms = TIME_UNKNOWN;
}

void regular_init(struct regular *g) {
    memset(g, 0, sizeof *g);
    g->shortest_ms = g->longest_ms = g->longest_at_ms = TIME_UNKNOWN;
    clear_blocks(g);
}

static void add_interval(struct regular *g, int64_t from_ms, int64_t to_ms) {
    int64_t length = to_ms - from_ms;
    double off = (double)length - g->mean_ms;
    g->intervals++;
    g->mean_ms += off / (double)g->intervals;
    g->squares += off * ((double)length - g->mean_ms);
    if (g->shortest_ms == TIME_UNKNOWN || length < g->shortest_ms)
        g->shortest_ms = length;
    if (g->longest_ms == TIME_UNKNOWN || length > g->longest_ms) {
        g->longest_ms = length;
        g->longest_at_ms = from_ms;
    }
}

double regular_sd_ms(const struct regular *g) {
    return g->intervals < 2 ? -1 : sqrt(g->squares / (double)(g->intervals - 1));
}

/* --- the receiver's clock against the host's -------------------------------------------------- */

static const struct regular_block *prompter(const struct regular_block *a,
                                            const struct regular_block *b) {
    if (!a->filled || !b->filled)
        return a->filled ? a : b;
    return b->late_us < a->late_us ? b : a;
}

static void merge_pairs(struct regular *g) {
    for (size_t i = 0; i < REGULAR_BLOCKS / 2; i++)
        g->block[i] = *prompter(&g->block[2 * i], &g->block[2 * i + 1]);
    memset(&g->block[REGULAR_BLOCKS / 2], 0, REGULAR_BLOCKS / 2 * sizeof g->block[0]);
    g->block_ms *= 2;
}

static void add_point(struct regular *g, int64_t rx_ms, int64_t host_us) {
    if (g->begin_ms == TIME_UNKNOWN)
        g->begin_ms = rx_ms;
    while (rx_ms - g->begin_ms >= g->block_ms * REGULAR_BLOCKS)
        merge_pairs(g);
    struct regular_block *at = &g->block[(rx_ms - g->begin_ms) / g->block_ms];
    struct regular_block point = {true, rx_ms, host_us - rx_ms * 1000};
    *at = *prompter(at, &point);
}

static void sort(double *value, size_t count) {
    for (size_t i = 1; i < count; i++) {
        double moving = value[i];
        size_t k = i;
        for (; k > 0 && value[k - 1] > moving; k--)
            value[k] = value[k - 1];
        value[k] = moving;
    }
}

/* Lateness that grows by `slope` µs a ms: host = receiver (1 + slope / 1000) + constant. */
static double ppm_of(double slope) {
    double s = slope / 1000;
    return -s / (1 + s) * 1e6;
}

static bool is_clock(double slope) {
    double ratio = 1 + slope / 1000; /* host time a receiver time */
    return ratio <= REGULAR_RATIO_MOST && ratio >= 1 / REGULAR_RATIO_MOST;
}

static size_t rank(double at, size_t count) {
    return at < 0 ? 0 : at > (double)(count - 1) ? count - 1 : (size_t)whole_u64(at);
}

static struct regular_drift fit(const struct regular *g) {
    struct regular_block point[REGULAR_BLOCKS];
    double slope[SLOPES_MAX];
    size_t points = 0, count = 0;
    for (size_t i = 0; i < REGULAR_BLOCKS; i++)
        if (g->block[i].filled)
            point[points++] = g->block[i];
    struct regular_drift d;
    memset(&d, 0, sizeof d); /* the bytes between its members too: drifts are compared as bytes */
    /* cppcheck-suppress uninitvar ; where points > 0, as many were filled */
    d.span_ms = points > 0 ? point[points - 1].rx_ms - point[0].rx_ms : 0;
    if (points < REGULAR_BLOCKS_LEAST || d.span_ms < REGULAR_SPAN_LEAST_MS)
        return d;
    for (size_t i = 0; i < points; i++)
        for (size_t k = i + 1; k < points; k++)
            slope[count++] = (double)(point[k].late_us - point[i].late_us) /
                             (double)(point[k].rx_ms - point[i].rx_ms);
    sort(slope, count);
    double n = (double)points, middle = (slope[(count - 1) / 2] + slope[count / 2]) / 2;
    double reach = Z_95 * sqrt(n * (n - 1) * (2 * n + 5) / 18); /* of Kendall's S, no ties */
    double least = slope[rank(rint(((double)count - reach) / 2) - 1, count)];
    double most = slope[rank(rint(((double)count + reach) / 2), count)];
    d.untimed = !(is_clock(least) && is_clock(middle) && is_clock(most));
    if (d.untimed)
        return d;
    d.known = true;
    d.ppm = ppm_of(middle);
    d.high_ppm = ppm_of(least);
    d.low_ppm = ppm_of(most);
    return d;
}

struct regular_drift regular_drift(const struct regular *g) {
    struct regular_drift now = fit(g);
    return g->longest.known && g->longest.span_ms >= now.span_ms ? g->longest : now;
}

void regular_report(struct regular *g, int64_t rx_ms, int64_t host_us, bool next) {
    if (rx_ms == TIME_UNKNOWN || (g->last_ms != TIME_UNKNOWN && rx_ms < g->last_ms)) {
        regular_restart(g);
        return;
    }
    if (next && g->last_ms != TIME_UNKNOWN)
        add_interval(g, g->last_ms, rx_ms);
    g->last_ms = rx_ms;
    if (host_us != TIME_UNKNOWN)
        add_point(g, rx_ms, host_us);
}

void regular_restart(struct regular *g) {
    g->longest = regular_drift(g);
    clear_blocks(g);
}
