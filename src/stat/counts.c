#include "stat/counts.h"

#include <math.h>
#include <string.h>

#include "base/whole.h"
#include "stat/distribution.h"
#include "stat/loss.h"

static uint32_t capped_sum(uint32_t a, uint64_t b) {
    uint64_t sum = a + b;
    return sum < a || sum > UINT32_MAX ? UINT32_MAX : (uint32_t)sum;
}

static void join(struct counts_block *to, uint64_t packets, uint64_t lost) {
    to->packets = capped_sum(to->packets, packets);
    to->lost = capped_sum(to->lost, lost);
}

static void join_pairs(struct loss_counts *c) {
    for (uint32_t i = 0; i < COUNTS_BLOCKS / 2; i++) {
        c->block[i] = c->block[2 * i];
        join(&c->block[i], c->block[2 * i + 1].packets, c->block[2 * i + 1].lost);
    }
    memset(&c->block[COUNTS_BLOCKS / 2], 0, COUNTS_BLOCKS / 2 * sizeof c->block[0]);
    c->halvings++;
    c->full = COUNTS_BLOCKS / 2;
}

void stat_counts_take(struct loss_counts *c, uint64_t packets, uint64_t lost) {
    if (packets == 0)
        return;
    c->packets += packets;
    c->lost += lost;
    join(&c->block[c->full], packets, lost);
    if (++c->reports < UINT32_C(1) << c->halvings)
        return;
    c->reports = 0;
    if (++c->full == COUNTS_BLOCKS)
        join_pairs(c);
}

/* --- likelihood ------------------------------------------------------------------------------- */

/* Blocks of one (packets, lost) share their chances; rows of blocks without a loss, or without an
 * arrival, are one block each, which changes nothing. */
struct kind {
    uint32_t packets, lost;
    double to[2][2]; /* from the first packet's outcome to the last's, these included */
    double scale;    /* log of what the four were divided by */
};

enum { KINDS = 512, KIND_SLOTS = 1024, KIND_NONE = UINT16_MAX };

struct plan {
    uint32_t blocks, kinds;
    struct counts_block block[COUNTS_BLOCKS];
    uint16_t kind_of[COUNTS_BLOCKS]; /* KIND_NONE: it has no place, and is worked out each time */
    struct kind kind[KINDS];
    uint16_t slot[KIND_SLOTS]; /* of kinds, by their hash; 1 more than the number */
};

static uint16_t find_kind(struct plan *plan, const struct counts_block *b) {
    uint32_t at = (b->packets * UINT32_C(2654435761) ^ b->lost * UINT32_C(40503)) % KIND_SLOTS;
    for (; plan->slot[at] != 0; at = (at + 1) % KIND_SLOTS) {
        const struct kind *k = &plan->kind[plan->slot[at] - 1];
        if (k->packets == b->packets && k->lost == b->lost)
            return plan->slot[at] - 1;
    }
    if (plan->kinds == KINDS)
        return KIND_NONE;
    plan->kind[plan->kinds] = (struct kind){.packets = b->packets, .lost = b->lost};
    plan->slot[at] = (uint16_t)++plan->kinds;
    return (uint16_t)(plan->kinds - 1);
}

static bool joins(const struct counts_block *a, const struct counts_block *b) {
    bool same = (a->lost == 0 && b->lost == 0) || (a->lost == a->packets && b->lost == b->packets);
    return same && a->packets < UINT32_MAX - b->packets;
}

/* The terms that a block's chances take, about. */
static double work_of(const struct counts_block *b) {
    uint32_t got = b->packets - b->lost, least = got < b->lost ? got : b->lost;
    return 1 + 8 * sqrt(least);
}

/* `each` blocks as one.  Beyond 2^16 packets of either sort both are taken in proportion: less is
 * known then than was seen, never more. */
static struct counts_block joined(const struct loss_counts *c, uint32_t first, uint32_t each) {
    static const double most = 65536;
    struct counts_block sum = {0, 0};
    for (uint32_t i = first; i < first + each && i <= c->full && i < COUNTS_BLOCKS; i++)
        join(&sum, c->block[i].packets, c->block[i].lost);
    double got = (double)sum.packets - sum.lost, least = fmin(got, sum.lost);
    if (least <= most)
        return sum;
    double part = most / least, lost = floor(sum.lost * part);
    return (struct counts_block){whole_u32(lost + floor(got * part)), whole_u32(lost)};
}

static void gather(struct plan *plan, const struct loss_counts *c, uint32_t each) {
    plan->blocks = 0;
    for (uint32_t i = 0; i <= c->full && i < COUNTS_BLOCKS; i += each) {
        struct counts_block b = joined(c, i, each);
        if (b.packets == 0)
            continue;
        if (plan->blocks > 0 && joins(&plan->block[plan->blocks - 1], &b))
            join(&plan->block[plan->blocks - 1], b.packets, b.lost);
        else
            plan->block[plan->blocks++] = b;
    }
}

/* Of very long recordings neighbours are joined until the work is bounded; a hundred blocks tell
 * the scatter well enough. */
static void make_plan(struct plan *plan, const struct loss_counts *c) {
    static const double work_most = 30000;
    enum { BLOCKS_ENOUGH = 128 };
    double work = INFINITY;
    plan->blocks = plan->kinds = 0;
    for (uint32_t each = 1; work > work_most && (each == 1 || c->full / each >= BLOCKS_ENOUGH);
         each *= 2) {
        gather(plan, c, each);
        work = 0;
        for (uint32_t i = 0; i < plan->blocks; i++)
            work += work_of(&plan->block[i]);
    }
    memset(plan->slot, 0, sizeof plan->slot);
    for (uint32_t i = 0; i < plan->blocks; i++)
        plan->kind_of[i] = find_kind(plan, &plan->block[i]);
}

static double log_choose(double n, double k) {
    return lgamma(n + 1) - lgamma(k + 1) - lgamma(n - k + 1);
}

/* Sums over the number j of rows, of terms relative to that of `middle`: both ends unlike, both
 * arrived, both missing. */
struct sums {
    double unlike, arrived, missing;
};

static void add_terms(struct sums *sum, double lost, double got, double step, double from,
                      int way) {
    double term = 1;
    for (double j = from; j >= 1 && j <= fmin(lost, got); j += way) {
        if (way > 0 || j < from) { /* the middle one once */
            sum->unlike += term;
            sum->arrived += term * (got - j) / j;
            sum->missing += term * (lost - j) / j;
        }
        double below = way > 0 ? j : j - 1; /* the ratio of the term at below + 1 to that at it */
        double ratio = (lost - below) * (got - below) / (below * below) * step;
        term *= way > 0 ? ratio : 1 / ratio;
        if (term * (lost + got) < 1e-13 * sum->unlike)
            break;
    }
}

/* The greatest term: where (lost - j)(got - j) step = j^2. */
static double greatest_at(double lost, double got, double step) {
    double half = (lost + got) * step / 2, square = 1 - step, least = fmin(lost, got);
    double root = sqrt(fmax(0, half * half + square * lost * got * step));
    double at = floor(lost * got * step / (half + root)); /* holds for a square of 0 too */
    return fmin(fmax(at, 1), least);
}

/* Of `lost` missing packets and `got` arrived ones, both sorts in j rows, there are
 * C(lost-1, j-1) C(got-1, j-1) orders with a given first packet; those that begin and end alike
 * have one row more of that sort. */
static void weigh(struct kind *k, double p, double r) {
    double lost = k->lost, got = k->packets - k->lost;
    memset(k->to, 0, sizeof k->to);
    if (k->lost == 0 || k->lost == k->packets) {
        int sort = k->lost > 0;
        k->to[sort][sort] = 1;
        k->scale = (k->packets - 1.0) * log1p(sort ? -r : -p);
        return;
    }
    double step = p * r / ((1 - p) * (1 - r)), middle = greatest_at(lost, got, step);
    struct sums sum = {0, 0, 0};
    add_terms(&sum, lost, got, step, middle, 1);
    add_terms(&sum, lost, got, step, middle, -1);
    k->scale = middle * log(p * r) + (lost - middle) * log1p(-r) + (got - middle) * log1p(-p);
    if (middle > 1)
        k->scale += log_choose(lost - 1, middle - 1) + log_choose(got - 1, middle - 1);
    k->to[0][0] = sum.arrived / (1 - p);
    k->to[1][1] = sum.missing / (1 - r);
    k->to[1][0] = sum.unlike / p;
    k->to[0][1] = sum.unlike / r;
}

static double likelihood(struct plan *plan, double p, double r) {
    double arrived = r / (p + r), missing = p / (p + r), sum = 0;
    uint32_t scaled = 0;
    for (uint32_t i = 0; i < plan->kinds; i++)
        weigh(&plan->kind[i], p, r);
    for (uint32_t i = 0; i < plan->blocks; i++) {
        struct kind own = {.packets = plan->block[i].packets, .lost = plan->block[i].lost};
        const struct kind *k = &own;
        if (plan->kind_of[i] == KIND_NONE)
            weigh(&own, p, r);
        else
            k = &plan->kind[plan->kind_of[i]];
        double first_arrived = arrived * (1 - p) + missing * r;
        double first_missing = arrived * p + missing * (1 - r);
        arrived = first_arrived * k->to[0][0] + first_missing * k->to[1][0];
        missing = first_arrived * k->to[0][1] + first_missing * k->to[1][1];
        sum += k->scale;
        if (++scaled == 8 || i + 1 == plan->blocks) {
            double total = arrived + missing;
            sum += log(total);
            arrived /= total;
            missing /= total;
            scaled = 0;
        }
    }
    return sum == sum ? sum : -INFINITY;
}

double stat_counts_likelihood(const struct loss_counts *c, double p, double r) {
    struct plan plan;
    make_plan(&plan, c);
    return likelihood(&plan, p, r);
}

/* --- profile ---------------------------------------------------------------------------------- */

/* The greatest of f over low..high, which has one top; Brent's search is not needed for the few
 * digits wanted.  Golden section: a step keeps 0.618 of the span. */
struct top {
    double at, value;
};
typedef double function(void *context, double x);

static struct top find_top(function *f, void *context, double low, double high, double digits) {
    static const double part = 0.3819660112501051;
    double a = low + part * (high - low), b = high - part * (high - low);
    double fa = f(context, a), fb = f(context, b);
    while (high - low > digits) {
        if (fa >= fb) {
            high = b;
            b = a;
            fb = fa;
            a = low + part * (high - low);
            fa = f(context, a);
        } else {
            low = a;
            a = b;
            fa = fb;
            b = high - part * (high - low);
            fb = f(context, b);
        }
    }
    return fa >= fb ? (struct top){a, fa} : (struct top){b, fb};
}

struct profile {
    struct plan plan;
    double odds;
    double log_r; /* that was best at the odds before: the next lies near by */
};

static double at_log_r(void *context, double log_r) {
    struct profile *f = context;
    double r = exp(log_r), p = f->odds * r;
    return likelihood(&f->plan, fmin(p, 1 - 1e-9), fmin(r, 1 - 1e-9));
}

static double best_at(void *context, double log_odds) {
    enum { TRIES = 6 };
    struct profile *f = context;
    f->odds = exp(log_odds);
    double most = fmin(0, -log_odds), reach = 0.4; /* p and r are at most 1 */
    struct top top = {0, 0};
    for (int i = 0; i < TRIES; i++, reach *= 2) {
        double low = f->log_r - reach, high = fmin(most, f->log_r + reach);
        if (low >= high)
            low = high - 2 * reach;
        top = find_top(at_log_r, f, low, high, 0.01);
        f->log_r = top.at;
        if (top.at > low + 0.02 && (top.at < high - 0.02 || high == most))
            break;
    }
    return top.value;
}

/* Where twice the likelihood's fall from the top reaches `fall`.  Its root is nearly a straight
 * line in the log odds, so that a secant finds it in a few steps. */
static double cross(struct profile *f, const struct top *top, double fall, double direction,
                    double first) {
    static const double farthest = 20;
    double wanted = sqrt(fall), near = 0, at = first, reached = 0;
    double from = f->log_r;
    double inside = 0, outside = INFINITY;
    for (int i = 0; i < 12; i++) {
        reached = sqrt(fmax(0, 2 * (top->value - best_at(f, top->at + direction * at))));
        if (fabs(reached - wanted) < 0.01)
            break;
        if (reached < wanted) {
            inside = at;
            near = reached;
        } else {
            outside = at;
        }
        if (at >= farthest)
            break;
        double next = reached > near || reached > 0 ? at * wanted / fmax(reached, 0.2) : 2 * at;
        if (next <= inside || next >= outside)
            next = isinf(outside) ? 2 * at : (inside + outside) / 2;
        at = fmin(next, farthest);
    }
    f->log_r = from;
    return top->at + direction * at;
}

/* --- scatter ---------------------------------------------------------------------------------- */

/* From sums over 1, 2, 4 .. blocks: the greatest
 * of them, since a sum shorter than the runs sees only part of it. */
double stat_counts_clump(const struct loss_counts *c) {
    enum { GROUPS_LEAST = 16, BLOCKS_MOST = 32 }; /* longer sums only add chance */
    double mean = (double)c->lost / (double)c->packets, clump = 1;
    for (uint32_t each = 1; each <= BLOCKS_MOST && c->full / each >= GROUPS_LEAST; each *= 2) {
        uint32_t groups = c->full / each;
        double squares = 0, lost = 0;
        for (uint32_t g = 0; g < groups; g++) {
            double off = 0;
            for (uint32_t i = g * each; i < (g + 1) * each; i++) {
                off += c->block[i].lost - mean * c->block[i].packets;
                lost += c->block[i].lost;
            }
            squares += off * off;
        }
        if (lost > 0)
            clump = fmax(clump, squares / lost / ((1 - mean) * (1 - mean)) * groups / (groups - 1));
    }
    return clump;
}

/* Blocks without an arrival, one after the other, and what their neighbours lost. */
static double longest_of(const struct plan *plan) {
    double longest = 0;
    for (uint32_t i = 0; i < plan->blocks; i++) {
        const struct counts_block *b = &plan->block[i];
        double run = b->lost;
        if (b->lost == b->packets) {
            run += i > 0 ? plan->block[i - 1].lost : 0;
            run += i + 1 < plan->blocks ? plan->block[i + 1].lost : 0;
        }
        longest = fmax(longest, run);
    }
    return longest;
}

static double share(double odds) {
    return odds / (1 + odds);
}

bool stat_counts_profile(const struct loss_counts *c, double level, struct counts_interval *out) {
    struct profile f;
    if (c->lost == 0 || c->lost >= c->packets)
        return false;
    double arrived = (double)(c->packets - c->lost), lost = (double)c->lost;
    make_plan(&f.plan, c);
    out->clump = stat_counts_clump(c);
    out->longest = longest_of(&f.plan);
    double mean_run = (out->clump + 1) / 2, log_odds = log(lost / arrived);
    f.log_r = fmin(-log(mean_run), -0.05 - fmax(0, log_odds));
    double guess = sqrt(out->clump / lost);
    struct top top = find_top(best_at, &f, log_odds - guess, log_odds + guess, 0.05 * guess);
    double fall = stat_chi2_quantile(level, 1);
    out->mean = share(exp(top.at));
    out->r = exp(f.log_r);
    out->low = share(exp(cross(&f, &top, fall, -1, 2 * guess)));
    out->high = share(exp(cross(&f, &top, fall, 1, 2 * guess)));
    return true;
}

bool stat_counts_interval(const struct loss_counts *c, double level, struct counts_interval *out) {
    static const double runs_many = 1000; /* the scatter tells all that the chain would */
    if (c->lost == 0 || c->lost >= c->packets)
        return false;
    double arrived = (double)(c->packets - c->lost), lost = (double)c->lost;
    double clump = stat_counts_clump(c), greatest = clump + 1; /* twice a geometric mean run */
    *out = (struct counts_interval){.low = 1, .high = 0, .clump = clump};
    if (lost < runs_many * clump && stat_counts_profile(c, level, out))
        greatest = fmax(greatest, out->longest);
    struct stat_interval sum = stat_weighted_sum(lost, clump * lost, greatest, level);
    out->low = fmin(out->low, share(sum.low / arrived));
    out->high = fmax(out->high, share(sum.high / arrived));
    return true;
}
