/* Answers questions to src/stat/ for the outside checks: a line on standard input is a word and
 * numbers, the answer a line of numbers with 17 digits, "none" where there is none. */
#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "stat/block.h"
#include "stat/distribution.h"
#include "stat/line.h"
#include "stat/loss.h"
#include "stat/many.h"
#include "stat/period.h"
#include "stat/permute.h"
#include "stat/proportion.h"
#include "stat/rank.h"
#include "stat/sample.h"
#include "stat/welch.h"

enum { NUMBERS_MAX = 2000, WORK_MAX = 500000 };

struct question {
    size_t count;
    double at[NUMBERS_MAX];
};

static double work[WORK_MAX];

static uint64_t whole(const struct question *q, size_t i) {
    return (uint64_t)q->at[i];
}

static bool put(const double *values, size_t count) {
    for (size_t i = 0; i < count; i++)
        printf("%s%.17g", i > 0 ? " " : "", values[i]);
    putchar('\n');
    return true;
}

static bool put_one(double value) {
    return put(&value, 1);
}

static bool put_interval(struct stat_interval i) {
    return put((double[]){i.low, i.high}, 2);
}

static bool ask_normal(const struct question *q) {
    return put((double[]){stat_normal_quantile(q->at[0]), stat_normal_tail(q->at[1])}, 2);
}

static bool ask_t(const struct question *q) {
    return put((double[]){stat_t_quantile(q->at[0], q->at[2]), stat_t_tail(q->at[1], q->at[2])}, 2);
}

static bool ask_chi2(const struct question *q) {
    return put(
        (double[]){stat_chi2_quantile(q->at[0], q->at[2]), stat_chi2_tail(q->at[1], q->at[2])}, 2);
}

static bool ask_f(const struct question *q) {
    return put((double[]){stat_f_quantile(q->at[0], q->at[2], q->at[3]),
                          stat_f_tail(q->at[1], q->at[2], q->at[3])},
               2);
}

static bool ask_beta(const struct question *q) {
    double below = stat_beta_below(q->at[1], q->at[2], q->at[3]);
    return put((double[]){stat_beta_quantile(q->at[0], q->at[2], q->at[3]), below}, 2);
}

static bool ask_gamma(const struct question *q) {
    double below = stat_gamma_below(q->at[1], q->at[2]);
    return put((double[]){stat_gamma_quantile(q->at[0], q->at[2], 1), below}, 2);
}

static bool ask_wilson(const struct question *q) {
    return put_interval(stat_wilson(whole(q, 0), whole(q, 1), q->at[2]));
}

static bool ask_exact(const struct question *q) {
    return put_interval(stat_clopper_pearson(whole(q, 0), whole(q, 1), q->at[2]));
}

static bool ask_poisson(const struct question *q) {
    return put_interval(stat_poisson_interval(whole(q, 0), q->at[1]));
}

static bool ask_binomial(const struct question *q) {
    return put_one(stat_binomial_test(whole(q, 0), whole(q, 1), q->at[2]));
}

static bool ask_newcombe(const struct question *q) {
    return put_interval(
        stat_newcombe(whole(q, 0), whole(q, 1), whole(q, 2), whole(q, 3), q->at[4]));
}

static bool ask_pooled(const struct question *q) {
    double z[2];
    return stat_pooled_z(whole(q, 0), whole(q, 1), whole(q, 2), whole(q, 3), &z[0], &z[1]) &&
           put(z, 2);
}

static bool ask_fisher(const struct question *q) {
    struct stat_fisher f;
    return stat_fisher(whole(q, 0), whole(q, 1), whole(q, 2), whole(q, 3), q->at[4], &f) &&
           put((double[]){f.two_sided, f.greater, f.less, f.odds_conditional, f.odds.low,
                          f.odds.high},
               6);
}

/* First the size of the first sample, then both. */
static bool ask_ranks(const struct question *q) {
    size_t nx = (size_t)q->at[0], ny = q->count - 1 - nx;
    struct stat_rank_sum r;
    return stat_rank_sum_work(nx, ny) <= WORK_MAX &&
           stat_rank_sum(q->at + 1, nx, q->at + 1 + nx, ny, work, &r) &&
           put((double[]){r.exact, r.w, r.two_sided, r.greater, r.less}, 5);
}

static bool ask_trend(const struct question *q) {
    struct stat_trend t;
    return stat_trend(q->at, q->count, work, WORK_MAX, &t) && t.slope_known &&
           put((double[]){(double)t.s, t.variance, t.tau_b, t.slope}, 4);
}

/* p, then the values. */
static bool ask_quantile(const struct question *q) {
    memcpy(work, q->at + 1, (q->count - 1) * sizeof *work);
    stat_sort(work, q->count - 1);
    return put_one(stat_quantile(work, q->count - 1, q->at[0]));
}

static bool ask_moments(const struct question *q) {
    struct stat_moments m = {0, 0, 0};
    double sd, r1;
    for (size_t i = 0; i < q->count; i++)
        stat_moments_add(&m, q->at[i]);
    return stat_moments_sd(&m, &sd) && stat_lag1(q->at, q->count, &r1) &&
           put((double[]){m.mean, sd, r1}, 3);
}

/* The length of a block, then the values. */
static bool ask_blocks(const struct question *q) {
    struct stat_block round, moving;
    size_t length = (size_t)q->at[0];
    return stat_block_circular(q->at + 1, q->count - 1, length, &round) &&
           stat_block_moving(q->at + 1, q->count - 1, length, &moving) &&
           put((double[]){round.centre, round.variance, moving.centre, moving.variance}, 4);
}

/* The level, then lengths: arrived, lost, arrived, ... */
static bool ask_loss(const struct question *q) {
    struct loss_runs r = {0};
    struct loss_interval i;
    for (size_t n = 1; n < q->count; n++)
        stat_loss_take(&r, n % 2 == 1, whole(q, n));
    stat_loss_interval(&r, q->at[0], &i);
    return put((double[]){i.rate, i.low, i.high}, 3);
}

/* All x, then all y. */
static bool ask_line(const struct question *q) {
    struct line_fit f;
    return stat_line_fit(q->at, q->at + q->count / 2, q->count / 2, &f) &&
           put((double[]){f.intercept, f.slope, f.intercept_se, f.slope_se, f.residual_sd, f.r2},
               6);
}

static bool ask_holm(const struct question *q) {
    stat_holm(q->at, q->count, work);
    return put(work, q->count);
}

/* The level, the size of the first sample, then both. */
static bool ask_welch(const struct question *q) {
    struct stat_moments x = {0, 0, 0}, y = {0, 0, 0};
    struct welch_difference d;
    struct welch_ratio r;
    for (size_t i = 2; i < q->count; i++)
        stat_moments_add(i < 2 + whole(q, 1) ? &x : &y, q->at[i]);
    return stat_welch(&x, &y, q->at[0], &d) && stat_welch_ratio(&x, &y, q->at[0], &r) &&
           put((double[]){d.value, d.t, d.df, d.p, d.interval.low, d.interval.high, r.value,
                          r.interval.low, r.interval.high},
               9);
}

/* The size of the first sample, then both. */
static bool ask_permute(const struct question *q) {
    static struct permute_block blocks[NUMBERS_MAX];
    static unsigned char labels[NUMBERS_MAX];
    struct permute_test t;
    for (size_t i = 1; i < q->count; i++)
        blocks[i - 1] = (struct permute_block){q->at[i], 1, i > whole(q, 0), 0};
    return stat_permute(blocks, q->count - 1, 999, 1, labels, &t) && t.exact &&
           put((double[]){t.difference, t.two_sided, t.greater, t.less}, 4);
}

/* The period, then the times. */
static bool ask_period(const struct question *q) {
    struct period_test t;
    return stat_period_test(q->at + 1, q->count - 1, q->at[0], &t) && put_one(t.p);
}

static const struct {
    const char *word;
    bool (*answer)(const struct question *q);
} words[] = {
    {"normal", ask_normal},     {"t", ask_t},
    {"chi2", ask_chi2},         {"f", ask_f},
    {"beta", ask_beta},         {"gamma", ask_gamma},
    {"wilson", ask_wilson},     {"exact", ask_exact},
    {"poisson", ask_poisson},   {"binomial", ask_binomial},
    {"newcombe", ask_newcombe}, {"pooled", ask_pooled},
    {"fisher", ask_fisher},     {"ranks", ask_ranks},
    {"trend", ask_trend},       {"quantile", ask_quantile},
    {"moments", ask_moments},   {"blocks", ask_blocks},
    {"loss", ask_loss},         {"line", ask_line},
    {"holm", ask_holm},         {"welch", ask_welch},
    {"permute", ask_permute},   {"period", ask_period},
};

static void answer(char *line) {
    static struct question q;
    char *save, *word = strtok_r(line, " \n", &save), *number;
    q.count = 0;
    while (q.count < NUMBERS_MAX && (number = strtok_r(NULL, " \n", &save)) != NULL)
        q.at[q.count++] = strtod(number, NULL);
    for (size_t i = 0; word != NULL && i < sizeof words / sizeof *words; i++)
        if (strcmp(word, words[i].word) == 0 && words[i].answer(&q))
            return;
    puts("none");
}

int main(void) {
    char *line = NULL;
    size_t size = 0;
    while (getline(&line, &size, stdin) > 0)
        answer(line);
    free(line);
    return 0;
}
