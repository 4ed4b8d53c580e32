#include "study/compare.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "stat/distribution.h"
#include "stat/many.h"
#include "stat/mover.h"
#include "stat/sample.h"

static const double level = 0.95, alpha = 0.05;
static const double margin_part = 1.0 / 3, margin_least = 0.005;

struct comparison {
    const struct side_samples *a, *b;
    struct compare *out;
    uint64_t draws;
    struct permute_block *block; /* room for every block of both sides */
    uint32_t *from;              /* number of the recording of each */
    unsigned char *work;         /* a byte a block */
};

/* --- what is compared beside the loss --------------------------------------------------------- */

static void weigh_outages(const struct sample_block *b, int64_t ms, double *amount,
                          double *weight) {
    *amount = (double)b->outages;
    *weight = b->got + b->lost > 0 ? (double)ms / 60000 : 0;
}

static void weigh_jitter(const struct sample_block *b, int64_t ms, double *amount, double *weight) {
    (void)ms;
    *amount = b->jitter_ms;
    *weight = (double)b->jitters;
}

static void weigh_supply(const struct sample_block *b, int64_t ms, double *amount, double *weight) {
    (void)ms;
    *amount = b->supply_mv;
    *weight = (double)b->supplies;
}

static void weigh_dips(const struct sample_block *b, int64_t ms, double *amount, double *weight) {
    (void)ms;
    *amount = b->supply_low_mv;
    *weight = b->supply_low_mv != 0;
}

static void weigh_noise(const struct sample_block *b, int64_t ms, double *amount, double *weight) {
    (void)ms;
    *amount = (double)b->noise_hits;
    *weight = (double)b->noise_looks;
}

static side_weigh *const weighs[COMPARE_FIGURES] = {
    [COMPARE_OUTAGES] = weigh_outages, [COMPARE_JITTER] = weigh_jitter,
    [COMPARE_SUPPLY] = weigh_supply,   [COMPARE_DIPS] = weigh_dips,
    [COMPARE_NOISE] = weigh_noise,
};

/* --- blocks ----------------------------------------------------------------------------------- */

/* The blocks of both sides in order of stratum: the first recordings, the second ones, and so on,
 * where the sides have as many; else all in one. */
static uint32_t gather(const struct comparison *c, int64_t block_ms, side_weigh *weigh) {
    uint32_t most = c->a->count > c->b->count ? c->a->count : c->b->count, count = 0;
    bool pairs = c->a->count == c->b->count;
    for (uint32_t i = 0; i < 2 * most; i++) {
        const struct side_samples *side = i % 2 == 0 ? c->a : c->b;
        if (i / 2 >= side->count)
            continue;
        uint32_t more = side_blocks(side->sample[i / 2], block_ms, weigh, i % 2 == 1,
                                    pairs ? i / 2 : 0, c->block + count);
        for (uint32_t k = 0; k < more; k++)
            c->from[count++] = i;
    }
    return count;
}

static uint32_t count_second(const struct permute_block *block, uint32_t count) {
    uint32_t second = 0;
    for (uint32_t i = 0; i < count; i++)
        second += block[i].second;
    return second;
}

struct dealt {
    bool tested;
    uint32_t blocks_a, blocks_b;
    double alike; /* neighbouring blocks that count as one */
    double p;
};

static double alike_of(const struct comparison *c, uint32_t count) {
    struct side_alike sum = {.blocks = 0};
    for (uint32_t begin = 0, end; begin < count; begin = end) {
        for (end = begin; end < count && c->from[end] == c->from[begin]; end++)
            ;
        side_alike_add(&sum, c->block + begin, end - begin);
    }
    return side_alike_read(&sum);
}

/* One group's share and the squared standard error of it, as if its blocks were independent. */
static double group_share(const struct permute_block *block, uint32_t count, bool second,
                          double *variance) {
    double amount = 0, weight = 0, squares = 0, n = 0;
    for (uint32_t i = 0; i < count; i++) {
        amount += block[i].second == second ? block[i].lost : 0;
        weight += block[i].second == second ? block[i].packets : 0;
        n += block[i].second == second;
    }
    for (uint32_t i = 0; i < count; i++) {
        double off = block[i].lost - amount / weight * block[i].packets;
        squares += block[i].second == second ? off * off : 0;
    }
    *variance = n / (n - 1) * squares / (weight * weight);
    return amount / weight;
}

/* Student's t, for blocks of which `alike` count as one. */
static double chance_of(const struct permute_block *block, uint32_t count, double alike) {
    double va, vb, d = group_share(block, count, false, &va);
    d -= group_share(block, count, true, &vb);
    double se = sqrt(alike * (va + vb));
    return se > 0 ? 2 * stat_t_tail(fabs(d) / se, fmax(1, count / (2 * alike - 1) - 2)) : 0;
}

static struct dealt deal_blocks(const struct comparison *c, int64_t block_ms, side_weigh *weigh) {
    struct permute_test test;
    uint32_t count = gather(c, block_ms, weigh), b = count_second(c->block, count);
    struct dealt d = {false, count - b, b, 1, 1};
    d.tested = d.blocks_a >= SIDE_BLOCKS_LEAST && d.blocks_b >= SIDE_BLOCKS_LEAST;
    if (!d.tested)
        return d;
    d.alike = alike_of(c, count);
    if (stat_permute(c->block, count, c->draws, 1, c->work, &test))
        d.p = test.two_sided;
    if (d.alike > 1) /* dealing out believed in independent blocks */
        d.p = fmax(d.p, chance_of(c->block, count, d.alike));
    return d;
}

/* --- the other figures ------------------------------------------------------------------------ */

static bool value_of(const struct side_samples *samples, side_weigh *weigh, double *value) {
    double amount = 0, weight = 0;
    for (uint32_t i = 0; i < samples->count; i++)
        for (uint32_t k = 0; k <= samples->sample[i]->full; k++) {
            double one, of;
            weigh(&samples->sample[i]->block[k], samples->sample[i]->block_ms, &one, &of);
            amount += of > 0 ? one : 0;
            weight += of;
        }
    *value = weight > 0 ? amount / weight : 0;
    return weight > 0;
}

/* Outages are counted from a length on: another length, another count. */
static bool outages_known(const struct side_samples *side, int64_t limit_ms) {
    for (uint32_t i = 0; i < side->count; i++)
        if (!side->sample[i]->outages_known || side->sample[i]->outage_limit_ms != limit_ms)
            return false;
    return true;
}

static bool fed_by_usb(const struct side_samples *side) {
    for (uint32_t i = 0; i < side->count; i++)
        if (side->sample[i]->usb)
            return true;
    return false;
}

/* The figure of each side, where its recordings have it. */
static void find_values(const struct comparison *c, enum compare_figure_id id) {
    struct compare_figure *f = &c->out->figure[id];
    int64_t limit_ms = c->a->sample[0]->outage_limit_ms;
    f->known_a = value_of(c->a, weighs[id], &f->a);
    f->known_b = value_of(c->b, weighs[id], &f->b);
    if (id == COMPARE_OUTAGES) {
        f->known_a = f->known_a && outages_known(c->a, limit_ms);
        f->known_b = f->known_b && outages_known(c->b, limit_ms);
    } else if (id == COMPARE_SUPPLY || id == COMPARE_DIPS) {
        f->known_a = f->known_a && !fed_by_usb(c->a);
        f->known_b = f->known_b && !fed_by_usb(c->b);
    }
}

static void compare_figures(const struct comparison *c, int64_t block_ms) {
    double p[COMPARE_FIGURES], holm[COMPARE_FIGURES];
    for (int i = 0; i < COMPARE_FIGURES; i++) {
        struct compare_figure *f = &c->out->figure[i];
        find_values(c, (enum compare_figure_id)i);
        p[i] = NAN;
        if (!f->known_a || !f->known_b)
            continue;
        struct dealt dealt = deal_blocks(c, block_ms, weighs[i]);
        f->tested = dealt.tested;
        if (dealt.tested)
            p[i] = dealt.p;
    }
    stat_holm(p, COMPARE_FIGURES, holm);
    for (int i = 0; i < COMPARE_FIGURES; i++) {
        struct compare_figure *f = &c->out->figure[i];
        f->p = f->tested ? holm[i] : 1;
        if (f->tested)
            f->answer = f->p > alpha ? COMPARE_SAME : f->b > f->a ? COMPARE_HIGHER : COMPARE_LOWER;
    }
}

/* --- the loss --------------------------------------------------------------------------------- */

/* Packets that a drop lasts where a side lost none: as the other's; ten where neither lost any. */
static double drop_length(const struct compare *out) {
    static const double guess = 10;
    uint64_t runs = out->a.runs.runs + out->b.runs.runs;
    return runs > 0 ? (double)(out->a.runs.lost + out->b.runs.lost) / (double)runs : guess;
}

static void find_limits(const struct comparison *c) {
    struct compare *out = c->out;
    double drop = drop_length(out);
    struct side_spread sa, sb;
    bool a_known = side_spread(c->a, out->block_ms, out->alike, c->block, &sa);
    bool b_known = side_spread(c->b, out->block_ms, out->alike, c->block, &sb);
    out->a.loss = side_limits(&out->a, a_known ? &sa : NULL, drop, level);
    out->b.loss = side_limits(&out->b, b_known ? &sb : NULL, drop, level);
    struct mover a = {out->a.rate, out->a.loss}, b = {out->b.rate, out->b.loss};
    out->difference.rate = b.value - a.value;
    out->difference.limits = stat_mover_difference(&b, &a);
    out->ratio.known = a.value > 0;
    out->ratio.value = out->ratio.known ? b.value / a.value : 0;
    out->ratio.limits = stat_mover_ratio(&b, &a);
    out->ratio.high_known = isfinite(out->ratio.limits.high);
    out->largest = fmax(-out->difference.limits.low, out->difference.limits.high);
    out->margin = fmax(margin_least, margin_part * a.value);
}

static double sample_rate(const struct sample *s) {
    return (double)s->lost / (double)(s->got + s->lost);
}

static void add_rates(const struct side_samples *side, struct stat_moments *m) {
    for (uint32_t i = 0; i < side->count; i++)
        stat_moments_add(m, sample_rate(side->sample[i]));
}

/* Whether the recordings of each side agree better than the sides differ: Student's t with their
 * common scatter, the recordings as its units. */
static bool agree(const struct comparison *c) {
    struct stat_moments a = {0}, b = {0};
    add_rates(c->a, &a);
    add_rates(c->b, &b);
    double df = (double)(a.count + b.count - 2);
    double variance = (a.squares + b.squares) / df;
    double se = sqrt(variance * (1 / (double)a.count + 1 / (double)b.count));
    return fabs(a.mean - b.mean) > stat_t_quantile(1 - alpha / 2, df) * se;
}

/* Ways to choose which recordings are B's: p can't be below two of them. */
static bool is_enough(uint32_t a, uint32_t b) {
    static const double least = 2 / 0.05;
    double ways = 1;
    for (uint32_t i = 1; i <= a && ways < least; i++)
        ways = ways * (double)(b + i) / (double)i;
    return ways >= least;
}

static void put_whole(const struct side_samples *side, bool second, struct permute_block *out) {
    for (uint32_t i = 0; i < side->count; i++) {
        const struct sample *s = side->sample[i];
        out[i] = (struct permute_block){(double)s->lost, (double)(s->got + s->lost), second, 0};
    }
}

static void deal_whole(const struct comparison *c) {
    struct permute_test test;
    if (!is_enough(c->a->count, c->b->count))
        return;
    put_whole(c->a, false, c->block);
    put_whole(c->b, true, c->block + c->a->count);
    if (!stat_permute(c->block, c->a->count + c->b->count, c->draws, 1, c->work, &test))
        return;
    c->out->whole = true;
    c->out->p = fmax(c->out->p, test.two_sided);
}

/* The wall-clock beginnings of a side, from the first to the last; not known where one isn't. */
struct span {
    bool known;
    const char *first, *last;
};

static struct span span_of(const struct side_samples *side) {
    struct span span = {true, side->sample[0]->begun, side->sample[0]->begun};
    for (uint32_t i = 0; i < side->count; i++) {
        const char *begun = side->sample[i]->begun;
        span.known = span.known && begun[0] != '\0';
        span.first = strcmp(begun, span.first) < 0 ? begun : span.first;
        span.last = strcmp(begun, span.last) > 0 ? begun : span.last;
    }
    return span;
}

/* Why a difference that was shown may be drift. */
static enum compare_doubt doubt_of(const struct comparison *c) {
    struct span a = span_of(c->a), b = span_of(c->b);
    c->out->order_known = a.known && b.known;
    if (c->a->count < 2 || c->b->count < 2)
        return COMPARE_SINGLE;
    if (!agree(c))
        return COMPARE_SCATTER;
    if (c->out->order_known && (strcmp(a.last, b.first) < 0 || strcmp(b.last, a.first) < 0))
        return COMPARE_ORDER;
    return COMPARE_NO_DOUBT;
}

/* How much longer each side would have to be recorded: for a difference as large as this one to be
 * shown four times in five, or for none as large as the margin to be left.  Standard errors shrink
 * with the root of the time. */
static double more_minutes(const struct compare *out) {
    static const double power = 0.8, over = 60;
    double z = stat_normal_quantile(0.5 + level / 2),
           minutes = (out->a.minutes + out->b.minutes) / 2;
    double d = fabs(out->difference.rate);
    double se = (out->difference.limits.high - out->difference.limits.low) / (2 * z);
    double show = d > 0 ? pow((z + stat_normal_quantile(power)) * se / d, 2) : INFINITY;
    double rule_out = d < out->margin ? pow(z * se / (out->margin - d), 2) : INFINITY;
    double more = fmax(0, minutes * (fmin(show, rule_out) - 1));
    uint32_t blocks = out->a.blocks < out->b.blocks ? out->a.blocks : out->b.blocks;
    if (blocks < SIDE_BLOCKS_LEAST)
        more = fmax(more, (SIDE_BLOCKS_LEAST - blocks) * (double)out->block_ms / 60000);
    more = fmax(more, 0.5); /* a shorter one isn't worth the walk */
    return more <= over ? more : -1;
}

static void judge(const struct comparison *c) {
    struct compare *out = c->out;
    const struct stat_interval *d = &out->difference.limits;
    bool shown = out->tested && out->p <= alpha && (d->low > 0 || d->high < 0);
    out->doubt = doubt_of(c);
    if (shown && out->doubt == COMPARE_NO_DOUBT)
        out->verdict = out->difference.rate < 0 ? COMPARE_HELPED : COMPARE_WORSE;
    else if (shown)
        out->verdict = COMPARE_DIFFERS;
    else
        out->verdict =
            out->tested && out->largest <= out->margin ? COMPARE_ALIKE : COMPARE_UNDECIDED;
    if (!shown)
        out->doubt = COMPARE_NO_DOUBT;
    out->more_minutes = out->verdict == COMPARE_UNDECIDED ? more_minutes(out) : -1;
}

static enum compare_lack lack_of(const struct compare *out) {
    if ((out->a.ack == ACK_WITH && out->b.ack == ACK_WITHOUT) ||
        (out->a.ack == ACK_WITHOUT && out->b.ack == ACK_WITH) || out->a.ack == ACK_BOTH ||
        out->b.ack == ACK_BOTH)
        return COMPARE_ACK_DIFFERS;
    if (!out->a.counted)
        return COMPARE_LACKS_LOSS_A;
    if (!out->b.counted)
        return COMPARE_LACKS_LOSS_B;
    return out->a.minutes > 0 && out->b.minutes > 0 ? COMPARE_LACKS_NOTHING : COMPARE_LACKS_TIME;
}

static void compare_loss(const struct comparison *c) {
    struct compare *out = c->out;
    int64_t for_a = side_block_ms(c->a, &out->a), for_b = side_block_ms(c->b, &out->b);
    out->block_ms = for_a > for_b ? for_a : for_b;
    struct dealt dealt = deal_blocks(c, out->block_ms, side_weigh_loss);
    out->a.blocks = dealt.blocks_a;
    out->b.blocks = dealt.blocks_b;
    out->tested = dealt.tested;
    out->p = dealt.p;
    out->alike = dealt.alike;
    if (dealt.tested)
        deal_whole(c);
    find_limits(c);
    judge(c);
}

bool compare_find(const struct side_samples *a, const struct side_samples *b, uint64_t draws,
                  struct compare *out) {
    size_t room = (size_t)(a->count + b->count) * SAMPLE_BLOCKS;
    struct comparison c = {
        a,           b, out, draws, malloc(room * sizeof *c.block), malloc(room * sizeof *c.from),
        malloc(room)};
    bool memory = c.block != NULL && c.from != NULL && c.work != NULL;
    memset(out, 0, sizeof *out);
    out->more_minutes = -1;
    if (memory) {
        side_read(a, &out->a);
        side_read(b, &out->b);
        out->lack = lack_of(out);
        out->block_ms = side_block_ms(a, &out->a);
        compare_figures(&c, out->block_ms);
        if (out->lack == COMPARE_LACKS_NOTHING)
            compare_loss(&c);
        else
            out->verdict = COMPARE_REFUSED;
    }
    free(c.block);
    free(c.from);
    free(c.work);
    return memory;
}
