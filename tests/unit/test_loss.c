/* The interval of the mean loss: by a two-state chain, by counts alone, by weighted sums.  Values
 * "by R" were computed with R 4.2.2: the profile likelihood with optimize() and uniroot(), weighted
 * sums with package epitools. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "dice.h"
#include "near.h"
#include "stat/chain.h"
#include "stat/counts.h"
#include "stat/loss.h"

static void chain_as_by_r(void **state) {
    static const struct {
        struct stat_chain chain;
        double low, high;
    } cases[] = {
        {{1452, 9, 9, 30}, 0.0108539, 0.0607630},
        {{1440, 6, 6, 48}, 0.0118951, 0.1037104},
        {{394, 117, 113, 213}, 0.3467653, 0.4511293},
    };
    (void)state;
    for (size_t i = 0; i < 3; i++)
        between("by R", stat_chain_mean(&cases[i].chain, 0.95), cases[i].low, cases[i].high, 6e-8);
}

static void chain_at_its_edges(void **state) {
    (void)state;
    between("no change", stat_chain_mean(&(struct stat_chain){500, 0, 0, 3}, 0.95), 0, 1, 0);
    struct stat_interval i = stat_chain_mean(&(struct stat_chain){500, 1, 0, 20}, 0.95);
    assert_true(i.low > 0 && i.high == 1); /* a loss that never ended may last for ever */
    i = stat_chain_mean(&(struct stat_chain){500, 0, 1, 20}, 0.95);
    assert_true(i.low == 0 && i.high < 0.5); /* one that never began again needn't */
    i = stat_chain_mean(&(struct stat_chain){UINT64_C(1) << 60, 1, 1, 0}, 0.95);
    assert_true(i.low > 0 && i.high < 1e-17);
}

static void weighted_sum_as_by_r(void **state) {
    /* Run lengths 3, 1, 7, 2, 12, 5. */
    (void)state;
    double sum = 30, squares = 9 + 1 + 49 + 4 + 144 + 25;
    between("greatest 12", stat_weighted_sum(sum, squares, 12, 0.95), 7.959354, 87.666641, 1e-6);
    between("greatest 30", stat_weighted_sum(sum, squares, 30, 0.95), 7.959354, 141.672583, 1e-6);
}

/* Every order of the packets that gives these counts, one by one. */
static double by_all_orders(const struct counts_block *blocks, size_t count, double p, double r) {
    unsigned packets = 0;
    double sum = 0;
    for (size_t i = 0; i < count; i++)
        packets += blocks[i].packets;
    for (unsigned order = 0; order < 1u << packets; order++) {
        double before = p / (p + r), chance = 1; /* chance that the packet before is missing */
        unsigned bits = order;
        bool fits = true;
        for (size_t i = 0; i < count && fits; i++) {
            unsigned lost = 0;
            for (unsigned k = 0; k < blocks[i].packets; k++, bits >>= 1) {
                double missing = before * (1 - r) + (1 - before) * p;
                chance *= bits & 1u ? missing : 1 - missing;
                before = bits & 1u;
                lost += bits & 1u;
            }
            fits = lost == blocks[i].lost;
        }
        sum += fits ? chance : 0;
    }
    return sum;
}

static double likelihood_of(const struct counts_block *blocks, size_t count, double p, double r) {
    struct loss_counts c = {0};
    for (size_t i = 0; i < count; i++)
        stat_counts_take(&c, blocks[i].packets, blocks[i].lost);
    return exp(stat_counts_likelihood(&c, p, r));
}

static void counts_sum_all_orders(void **state) {
    static const struct counts_block known[] = {{4, 0}, {4, 2}, {4, 1}, {4, 0}};
    struct dice d = {5};
    (void)state;
    near("computed apart, by brute force", likelihood_of(known, 4, 0.05, 0.3), 0.00465245612477,
         1e-14);
    for (int i = 0; i < 60; i++) {
        struct counts_block b[5];
        for (size_t k = 0; k < 5; k++) {
            b[k].packets = 1 + (uint32_t)dice_below(&d, 3);
            b[k].lost = (uint32_t)dice_below(&d, b[k].packets + 1);
        }
        double p = 0.02 + 0.9 * dice_share(&d), r = 0.02 + 0.9 * dice_share(&d);
        double expected = by_all_orders(b, 5, p, r);
        near_share("all orders", likelihood_of(b, 5, p, r), expected, 1e-11);
    }
}

/* 30 reports of 10 packets; computed apart with a recursion over packets. */
static void counts_profile(void **state) {
    static const struct {
        int report;
        uint64_t lost;
    } lossy[] = {{4, 3}, {5, 4}, {13, 1}, {20, 10}, {21, 6}, {26, 2}};
    struct loss_counts c = {0};
    struct counts_interval out;
    (void)state;
    for (int i = 0, k = 0; i < 30; i++) {
        bool some = k < 6 && lossy[k].report == i;
        stat_counts_take(&c, 10, some ? lossy[k].lost : 0);
        k += some;
    }
    assert_true(stat_counts_profile(&c, 0.95, &out));
    near("mean", out.mean, 0.084184, 2e-3);
    near("r", out.r, 0.168877, 4e-3);
    double p = 0.168877 * 0.084184 / (1 - 0.084184);
    near("likelihood", stat_counts_likelihood(&c, p, 0.168877), -27.299005, 1e-6);
    near("low", out.low, 0.023698, 4e-4);
    near("high", out.high, 0.251414, 4e-3);
}

static void counts_refuse(void **state) {
    struct loss_counts c = {0};
    struct counts_interval out;
    (void)state;
    assert_false(stat_counts_interval(&c, 0.95, &out));
    stat_counts_take(&c, 100, 0);
    assert_false(stat_counts_interval(&c, 0.95, &out));
    c = (struct loss_counts){0};
    stat_counts_take(&c, 100, 100);
    assert_false(stat_counts_interval(&c, 0.95, &out));
}

/* One packet a report: counts are outcomes then, and the chain is known. */
static void counts_of_single_packets(void **state) {
    struct loss_counts c = {0};
    struct loss_runs runs = {0};
    struct counts_interval by_counts;
    struct dice d = {9};
    bool missing = false;
    (void)state;
    for (int i = 0; i < 1800; i++) {
        missing = dice_chance(&d, missing ? 0.7 : 0.03);
        stat_counts_take(&c, 1, missing);
        stat_loss_take(&runs, !missing, 1);
    }
    struct stat_chain chain = {runs.packets - runs.lost - runs.gaps, runs.begun, runs.runs,
                               runs.lost - runs.runs};
    struct stat_interval expected = stat_chain_mean(&chain, 0.95);
    assert_true(stat_counts_profile(&c, 0.95, &by_counts));
    near_share("low", by_counts.low, expected.low, 0.01);
    near_share("high", by_counts.high, expected.high, 0.01);
}

/* However long a recording is, what is kept stays as it is and nothing is lost. */
static void counts_are_bounded(void **state) {
    struct loss_counts c = {0};
    struct counts_interval out;
    struct dice d = {11};
    uint64_t packets = 0, lost = 0;
    (void)state;
    for (int i = 0; i < 300000; i++) {
        uint64_t some = dice_below(&d, 9), missing = dice_chance(&d, 0.2) ? some / 2 : 0;
        packets += some;
        lost += missing;
        stat_counts_take(&c, some, missing);
    }
    uint64_t kept = 0, kept_lost = 0;
    for (uint32_t i = 0; i < COUNTS_BLOCKS; i++) {
        kept += c.block[i].packets;
        kept_lost += c.block[i].lost;
    }
    assert_true(kept == packets && kept_lost == lost && c.packets == packets && c.lost == lost);
    assert_true(stat_counts_interval(&c, 0.95, &out));
    double rate = (double)lost / (double)packets;
    assert_true(out.low < rate && rate < out.high && out.high - out.low < 0.05 * rate);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(chain_as_by_r),
        cmocka_unit_test(chain_at_its_edges),
        cmocka_unit_test(weighted_sum_as_by_r),
        cmocka_unit_test(counts_sum_all_orders),
        cmocka_unit_test(counts_profile),
        cmocka_unit_test(counts_refuse),
        cmocka_unit_test(counts_of_single_packets),
        cmocka_unit_test(counts_are_bounded),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
