#include "judge/still.h"

#include <math.h>

#include "base/whole.h"
#include "stat/rank.h"
#include "stat/sample.h"

enum {
    FAR_LEAST = 12, /* µs: nearer is never an outlier */
    FAR_SPREADS = 5,
    TOUCH = 25, /* µs between the medians of two blocks: a stick that was moved; drift is less */
    MOVE = 60,  /* µs from peak to peak within a block, if the values follow one another */
    PAIRS_LEAST = 100, /* standard error of a correlation: 0.1 */
};

static void halve(struct still_series *s) {
    for (uint32_t c = 0; c < CHANNELS_MAX; c++)
        for (uint32_t i = 0; i < STILL_SAMPLES / 2; i++)
            s->value[c][i] = s->value[c][2 * i];
    s->count = STILL_SAMPLES / 2;
    s->every *= 2;
}

void still_add(struct still_series *s, const struct report *r, int64_t link_ms) {
    if (s->every == 0) {
        s->every = 1;
        s->from_ms = s->last_ms = link_ms;
    }
    int64_t since = link_ms - s->last_ms;
    s->covered_ms += since <= STILL_GAP_MS ? since : 0;
    s->last_ms = link_ms;
    if (s->skip > 0) {
        s->skip--;
        return;
    }
    if (s->count == STILL_SAMPLES)
        halve(s);
    for (uint32_t c = 0; c < CHANNELS_MAX; c++)
        s->value[c][s->count] = c < r->ch_count ? r->ch[c] : CHANNEL_OFF;
    s->count++;
    s->skip = s->every - 1;
}

/* Samples in a block: about a second of them, eight at least, and no more than 32 blocks. */
static uint32_t block_length(const struct still_series *s) {
    double seconds = (double)s->covered_ms / 1000;
    uint32_t length = seconds > 1 ? whole_u32(s->count / seconds + 0.5) : s->count;
    uint32_t most = (s->count + STILL_BLOCKS - 1) / STILL_BLOCKS;
    length = length < STILL_BLOCK_LEAST ? STILL_BLOCK_LEAST : length;
    return length < most ? most : length;
}

/* The channel's values from sample `from` on, ascending; how many there are. */
static uint32_t sorted(const int32_t *value, uint32_t from, uint32_t count, double *out) {
    uint32_t n = 0;
    for (uint32_t i = from; i < from + count; i++)
        if (value[i] != CHANNEL_OFF)
            out[n++] = value[i];
    stat_sort(out, n);
    return n;
}

/* The usual spread is taken from the median distance, which outliers hardly touch; of a normal
 * distribution it is 1/1.4826 standard deviations (Hampel 1974, from memory). */
static void read_middle(const int32_t *value, uint32_t count, double scale,
                        struct still_figures *out) {
    double work[STILL_SAMPLES];
    out->count = sorted(value, 0, count, work);
    if (out->count < 2)
        return;
    out->median = stat_quantile(work, out->count, 0.5);
    for (uint32_t i = 0; i < out->count; i++)
        work[i] = fabs(work[i] - out->median);
    stat_sort(work, out->count);
    out->far = FAR_SPREADS * 1.4826 * stat_quantile(work, out->count, 0.5);
    out->far = out->far < FAR_LEAST * scale ? FAR_LEAST * scale : out->far;
}

static bool is_far(const struct still_figures *f, int32_t value) {
    return fabs(value - f->median) > f->far;
}

static bool usable(const struct still_figures *f, int32_t value) {
    return value != CHANNEL_OFF && !is_far(f, value);
}

static void read_outliers(const int32_t *value, uint32_t count, struct still_figures *out) {
    uint32_t row = 0;
    for (uint32_t i = 0; i < count; i++) {
        if (value[i] == CHANNEL_OFF)
            continue;
        row = is_far(out, value[i]) ? row + 1 : 0;
        out->touched = out->touched || row >= 3;
        if (row == 0)
            continue;
        out->outliers++;
        double away = value[i] - out->median;
        if (fabs(away) > fabs((double)out->farthest))
            out->farthest = (int32_t)lround(away);
    }
}

static bool block_moments(const int32_t *value, uint32_t from, uint32_t count,
                          const struct still_figures *f, struct stat_moments *out) {
    *out = (struct stat_moments){0};
    for (uint32_t i = from; i < from + count; i++)
        if (usable(f, value[i]))
            stat_moments_add(out, value[i]);
    return out->count > 0;
}

/* A hand's movement, however far: its values follow one another.  Of noise the squared differences
 * from value to value sum to about twice the squared distances from the mean (J. von Neumann 1941,
 * Annals of Mathematical Statistics 12:367, from memory). */
static bool block_moves(const int32_t *value, uint32_t from, uint32_t count, double scale) {
    struct stat_moments all = {0};
    double steps = 0, before = NAN, low = INFINITY, high = -INFINITY;
    for (uint32_t i = from; i < from + count; i++) {
        if (value[i] == CHANNEL_OFF)
            continue;
        double v = value[i];
        steps += isnan(before) ? 0 : (v - before) * (v - before);
        before = v;
        low = v < low ? v : low;
        high = v > high ? v : high;
        stat_moments_add(&all, v);
    }
    return all.count >= STILL_BLOCK_LEAST && high - low > MOVE * scale && steps < all.squares;
}

static void read_trend(const double *means, uint32_t blocks, struct still_figures *out) {
    double work[STILL_BLOCKS * (STILL_BLOCKS - 1) / 2];
    struct stat_trend trend;
    if (blocks < 8)
        return;
    out->drift_known = true;
    out->drift_p = 1;
    if (!stat_trend(means, blocks, work, sizeof work / sizeof *work, &trend) || !trend.slope_known)
        return; /* all equal: no drift */
    out->drift = trend.slope * (blocks - 1);
    out->drift_p = trend.p;
}

/* A remainder shorter than a block goes into the mean and the noise, not into the trend. */
static void read_blocks(const int32_t *value, uint32_t count, uint32_t length, double scale,
                        struct still_figures *out) {
    double means[STILL_BLOCKS], work[STILL_SAMPLES];
    double least = INFINITY, greatest = -INFINITY, squares = 0;
    uint32_t blocks = 0, used = 0;
    struct stat_moments all = {0}, block;
    for (uint32_t from = 0; from < count; from += length) {
        uint32_t len = count - from < length ? count - from : length;
        out->touched = out->touched || block_moves(value, from, len, scale);
        if (!block_moments(value, from, len, out, &block))
            continue;
        squares += block.squares;
        used++;
        stat_moments_join(&all, &block);
        if (len < length || blocks == STILL_BLOCKS)
            continue;
        double median = stat_quantile(work, sorted(value, from, len, work), 0.5);
        least = median < least ? median : least;
        greatest = median > greatest ? median : greatest;
        means[blocks++] = block.mean;
    }
    out->mean = all.mean;
    out->noise = all.count > used ? sqrt(squares / (double)(all.count - used)) : 0;
    out->touched = out->touched || (blocks > 0 && greatest - least > TOUCH * scale &&
                                    greatest - least > 6 * out->noise);
    read_trend(means, blocks, out);
}

static void read_steps(const int32_t *value, uint32_t count, struct still_figures *out) {
    double work[STILL_SAMPLES];
    uint32_t n = 0;
    for (uint32_t i = 0; i < count; i++)
        if (usable(out, value[i]))
            work[n++] = value[i];
    if (n == 0)
        return;
    stat_sort(work, n);
    out->low = whole_i32(work[0]);
    out->high = whole_i32(work[n - 1]);
    for (uint32_t i = 1; i < n; i++) {
        int32_t step = whole_i32(work[i] - work[i - 1]);
        if (step > 0 && (!out->step_known || step < out->step)) {
            out->step_known = true;
            out->step = step;
        }
    }
}

bool still_read(const struct still_series *s, uint32_t c, double scale, struct still_figures *out) {
    *out = (struct still_figures){0};
    read_middle(s->value[c], s->count, scale, out);
    if (out->count < 2)
        return false;
    read_outliers(s->value[c], s->count, out);
    read_blocks(s->value[c], s->count, block_length(s), scale, out);
    read_steps(s->value[c], s->count, out);
    return true;
}

/* Sums of products about the means of one block. */
static uint32_t add_block(const struct still_series *s, uint32_t from, uint32_t len, uint32_t a,
                          const struct still_figures *fa, uint32_t b,
                          const struct still_figures *fb, double sums[3]) {
    const int32_t *x = s->value[a] + from, *y = s->value[b] + from;
    double mx = 0, my = 0;
    uint32_t n = 0;
    for (uint32_t i = 0; i < len; i++) {
        if (!usable(fa, x[i]) || !usable(fb, y[i]))
            continue;
        n++;
        mx += (x[i] - mx) / n;
        my += (y[i] - my) / n;
    }
    for (uint32_t i = 0; i < len; i++) {
        if (!usable(fa, x[i]) || !usable(fb, y[i]))
            continue;
        sums[0] += (x[i] - mx) * (y[i] - my);
        sums[1] += (x[i] - mx) * (x[i] - mx);
        sums[2] += (y[i] - my) * (y[i] - my);
    }
    return n;
}

bool still_correlation(const struct still_series *s, uint32_t a, const struct still_figures *fa,
                       uint32_t b, const struct still_figures *fb, double *r) {
    double sums[3] = {0};
    uint32_t pairs = 0, length = block_length(s);
    for (uint32_t from = 0; from < s->count; from += length) {
        uint32_t len = s->count - from < length ? s->count - from : length;
        pairs += add_block(s, from, len, a, fa, b, fb, sums);
    }
    if (pairs < PAIRS_LEAST || sums[1] <= 0 || sums[2] <= 0)
        return false;
    *r = sums[0] / sqrt(sums[1] * sums[2]);
    return true;
}

uint32_t still_outliers_shared(const struct still_series *s, uint32_t a,
                               const struct still_figures *fa, uint32_t b,
                               const struct still_figures *fb) {
    uint32_t shared = 0;
    for (uint32_t i = 0; i < s->count; i++)
        shared += s->value[a][i] != CHANNEL_OFF && is_far(fa, s->value[a][i]) &&
                  s->value[b][i] != CHANNEL_OFF && is_far(fb, s->value[b][i]);
    return shared;
}
