#include "study/until.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/whole.h"
#include "stat/distribution.h"
#include "stat/mover.h"
#include "stat/spend.h"

bool until_init(struct until *u, const struct until_plan *plan, double rate_hz) {
    memset(u, 0, sizeof *u);
    u->plan = *plan;
    int most = whole_i32(fmin(SPEND_LOOKS_MAX, plan->seconds / UNTIL_SECONDS_LEAST));
    u->looks = most < 1 ? 1 : most;
    u->each_ms = whole_i64(plan->seconds * 1000) / u->looks;
    sample_init(&u->sample, rate_hz);
    size_t recordings = plan->question == UNTIL_DIFFERS ? plan->reference.count : 1;
    u->work = malloc(recordings * SAMPLE_BLOCKS * sizeof *u->work);
    return u->work != NULL;
}

void until_release(struct until *u) {
    free(u->work);
    u->work = NULL;
}

/* Time of the complete blocks that hold packets. */
static int64_t counted_ms(const struct sample *s) {
    int64_t whole = 0;
    for (uint32_t i = 0; i < s->full; i++)
        if (s->block[i].got + s->block[i].lost > 0)
            whole += s->block_ms;
    return whole;
}

/* Packets of the complete blocks: the totals as a look sees them. */
static void total(struct sample *s) {
    s->got = s->lost = 0;
    for (uint32_t i = 0; i < s->full; i++) {
        s->got += s->block[i].got;
        s->lost += s->block[i].lost;
    }
    s->counted = s->got + s->lost > 0;
}

/* Where nothing was lost yet, a drop may last a second: short looks see few drops, and the long
 * ones are those that they miss. */
static double drop_length(const struct until *u) {
    return fmax(10, u->sample.sent_hz);
}

static double alike_of(const struct side_samples *samples, int64_t block_ms,
                       struct permute_block *work) {
    struct side_alike sum = {.blocks = 0};
    for (uint32_t i = 0; i < samples->count; i++) {
        uint32_t count = side_blocks(samples->sample[i], block_ms, side_weigh_loss, false, 0, work);
        side_alike_add(&sum, work, count);
    }
    return side_alike_read(&sum);
}

enum { ALIKE_LEAST = 10 }; /* blocks that each tell their own; fewer tell no spread */

/* A side's loss with its limits; false with too few blocks. */
static bool measure(const struct side_samples *samples, double drop, double level,
                    uint32_t blocks_least, struct permute_block *work, struct mover *out) {
    struct side side;
    struct side_spread spread;
    side_read(samples, &side);
    int64_t block_ms = side_block_ms(samples, &side);
    double alike = alike_of(samples, block_ms, work);
    if (!side_spread(samples, block_ms, alike, work, &spread))
        return false;
    if (side.minutes * 60000 < (double)block_ms * fmax(blocks_least, ALIKE_LEAST * alike))
        return false;
    out->value = side.rate;
    out->limits = side_limits(&side, &spread, drop, level);
    return true;
}

static void judge(struct until *u, const struct mover *now, double level) {
    struct mover than = {u->plan.limit, {u->plan.limit, u->plan.limit}};
    if (u->plan.question == UNTIL_DIFFERS) {
        if (!measure(&u->plan.reference, drop_length(u), level, SIDE_BLOCKS_LEAST, u->work, &than))
            return;
        u->reference_rate = than.value;
    }
    struct stat_interval difference = stat_mover_difference(now, &than);
    if (difference.high < 0)
        u->verdict = UNTIL_BELOW;
    else if (difference.low > 0)
        u->verdict = UNTIL_ABOVE;
}

static void look(struct until *u) {
    const struct sample *one = &u->sample;
    struct side_samples samples = {&one, 1};
    struct spend_hurdle hurdle;
    struct mover now;
    u->taken++;
    total(&u->sample);
    if (!u->sample.counted || !stat_spend(SPEND_LATE, u->looks, u->taken, &hurdle))
        return;
    double level = 1 - hurdle.p;
    u->rate = (double)one->lost / (double)(one->got + one->lost);
    u->counted_s = (double)counted_ms(one) / 1000;
    u->limits = (struct stat_interval){0, 1};
    if (!measure(&samples, drop_length(u), level, UNTIL_BLOCKS_LEAST, u->work, &now))
        return;
    u->limits = now.limits;
    judge(u, &now, level);
}

static bool acks_differ(const struct until *u) {
    if (u->plan.question != UNTIL_DIFFERS || u->sample.ack == ACK_UNKNOWN)
        return false;
    for (uint32_t i = 0; i < u->plan.reference.count; i++) {
        enum sample_ack ack = u->plan.reference.sample[i]->ack;
        if (ack != ACK_UNKNOWN && ack != u->sample.ack)
            return true;
    }
    return false;
}

bool until_feed(struct until *u, const struct moment *m) {
    if (u->verdict != UNTIL_OPEN)
        return true;
    sample_feed(&u->sample, m);
    if (acks_differ(u))
        u->verdict = UNTIL_REFUSED;
    if (u->sample.full == u->seen || u->taken >= u->looks)
        return false;
    u->seen = u->sample.full;
    if (counted_ms(&u->sample) >= u->each_ms * (u->taken + 1))
        look(u);
    return u->verdict != UNTIL_OPEN;
}

void until_end(struct until *u) {
    if (u->verdict == UNTIL_OPEN && u->taken < u->looks)
        look(u);
    if (u->verdict == UNTIL_OPEN)
        u->verdict = UNTIL_UNDECIDED;
}

/* Variance of the losses of independent drops over that of independent packets: the sum of squared
 * lengths over that of lengths; 3 for geometric lengths of mean 2. */
static double clump_of(const struct side_samples *reference) {
    struct side side;
    side_read(reference, &side);
    return side.runs.lost > 0 ? (double)side.runs.run_squares / (double)side.runs.lost : 0;
}

double until_expected_s(const struct until *u, double rate_hz) {
    static const double power = 0.8, without_reference = 3;
    struct spend_hurdle hurdle;
    struct side side;
    double clump = without_reference, loss = u->plan.limit;
    if (u->plan.question == UNTIL_DIFFERS) {
        side_read(&u->plan.reference, &side);
        clump = clump_of(&u->plan.reference);
        loss = side.rate;
    }
    if (rate_hz <= 0 || loss <= 0 || clump <= 0)
        return -1;
    for (int at = 1; at <= u->looks && stat_spend(SPEND_LATE, u->looks, at, &hurdle); at++) {
        double z = hurdle.z + stat_normal_quantile(power), seconds = (double)u->each_ms * at / 1000;
        if (z * z * clump / (loss / 2) <= rate_hz * seconds)
            return seconds;
    }
    return -1;
}
