#include "source/source.h"

/* In the order of how often they are met, so that the usual ones are found soon.  1200 is not
 * among them: it starts the boot loader of some boards. */
static const int rates[] = {115200, 57600, 38400, 9600, 19200, 230400, 250000, 500000, 1000000};

enum {
    RATES = sizeof rates / sizeof *rates,
    ROUNDS = 2,
    ENOUGH_LINES = 5, /* good ones, with none bad: no other speed can do better */
};

static bool ended(const struct speed_search *s) {
    return s->next >= ROUNDS * RATES;
}

static void begin_rate(struct speed_search *s, int64_t now_us) {
    s->since_us = now_us;
    s->bytes = s->lines_good = s->lines_bad = 0;
}

void speed_search_begin(struct speed_search *s, int64_t now_us) {
    *s = (struct speed_search){0};
    begin_rate(s, now_us);
}

int speed_search_rate(const struct speed_search *s) {
    return ended(s) ? s->best_speed : rates[s->next % RATES];
}

/* The line that was under way when the speed was set is cut and says nothing. */
static uint64_t lines_wrong(const struct speed_search *s) {
    return s->lines_bad > 0 ? s->lines_bad - 1 : 0;
}

static void keep_best(struct speed_search *s) {
    if (s->lines_good == 0)
        return;
    double score = (double)s->lines_good / (double)(s->lines_good + lines_wrong(s));
    if (score > s->best_score) {
        s->best_score = score;
        s->best_speed = rates[s->next % RATES];
    }
}

/* A board that opening restarted may have slept through the right speed in its boot loader: when
 * something was heard but never a line, all are tried once more. */
static void next_rate(struct speed_search *s, int64_t now_us) {
    keep_best(s);
    s->next++;
    if (s->next >= RATES && (s->best_speed || !s->heard))
        s->next = ROUNDS * RATES;
    begin_rate(s, now_us);
}

bool speed_search_step(struct speed_search *s, int64_t now_us, uint64_t bytes, uint64_t lines_good,
                       uint64_t lines_bad) {
    if (ended(s))
        return false;
    s->bytes += bytes;
    s->heard = s->heard || bytes > 0;
    s->lines_good += lines_good;
    s->lines_bad += lines_bad;
    if (s->lines_good >= ENOUGH_LINES && lines_wrong(s) == 0) {
        keep_best(s);
        s->next = ROUNDS * RATES;
        return true;
    }
    if (now_us - s->since_us < SPEED_TRY_US)
        return false;
    next_rate(s, now_us);
    return true;
}

bool speed_search_done(const struct speed_search *s, int *speed) {
    *speed = s->best_speed;
    return ended(s);
}
