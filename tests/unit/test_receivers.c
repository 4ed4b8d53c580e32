/* Wrong receivers and sticks that the trial of the controls must not pass, and right ones that it
 * must not fail.  A hand moves three sticks by a law of motion; packets are sent 50 times a second,
 * some are lost; each receiver does with them what its row says; reports come at their own time.
 *
 * A hand's movement: Flash and Hogan, "The coordination of arm movements", J. Neurosci. 5 (1985):
 * the smoothest one, x = 10 s^3 - 15 s^4 + 6 s^5 (from memory).  A hand's tremor at 8 to 12 Hz,
 * and its speed that wavers some three times a second, are from memory too. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "dice.h"
#include "trial_drive.h"

enum { STICKS = 3, PACKET_MS = 20, HISTORY = 100 };

enum fault {
    RIGHT,
    ROTATED,      /* three channels in another order */
    SWAPPED,      /* 1 and 2 */
    REVERSED,     /* channel 1, in the receiver */
    MIXED,        /* stick 2 drives channel 1 by half, too */
    LATE,         /* channel 1 by `amount` ms */
    FREEZES,      /* channel 1 for `amount` ms as soon as it comes above 1750 */
    STANDS,       /* channel 2 for ever */
    DEAD_BAND,    /* channel 1, `amount` to either side of the middle */
    OLD_PACKETS,  /* every fifth packet channel 1 is the value of 200 ms ago */
    NOISY,        /* stick 2 by a normal error of `amount` */
    NOISY_MOVING, /* the same, only while it moves */
    STEPS,        /* values in steps of `amount` */
    CURVE,        /* x^3 mixed half and half with x */
    RATCHET,      /* stick 3 goes in notches of 25 */
    FILTER,       /* channel 1 by a low pass of `amount` ms */
    LIMITS,       /* channel 1 ends at 1000 and 2000, its stick goes on */
};

struct receiver {
    const char *name;
    enum fault fault;
    double amount;
    double sweep_s; /* from end to end */
    double tremor;  /* of the hand, µs */
    double waver;   /* of its speed, share */
    int report_ms;  /* 50 where 0 */
    int loss;       /* percent */
    bool ageless;   /* reports without age */
    bool bare;      /* nor the sticks' values */
    int meant;      /* to the question: 0 passed over, 1 yes, -1 no */
    enum trial_verdict wanted;
    bool or_not_shown; /* as well */
    const char *finding, *text;
};

struct bench_hand {
    const struct receiver *r;
    struct drive *d;
    struct dice dice;
    int64_t ms;
    double stick[STICKS]; /* where the hand holds them */
    bool moving;
    int in[STICKS], out[STICKS]; /* as of the newest packet */
    int past[HISTORY][STICKS];   /* of each packet sent, the newest at packets % HISTORY */
    unsigned packets, got, lost;
    int64_t good_ms, frozen_ms;
    double filtered;
};

static struct drive_result result;
static unsigned long seeds = 1; /* runs of each row; more: the first argument */

static double normal(struct dice *d) { /* Box and Muller 1958 */
    double u = 1 - dice_share(d), v = dice_share(d);
    return sqrt(-2 * log(u)) * cos(2 * 3.14159265 * v);
}

static double clip(double value, double low, double high) {
    return value < low ? low : value > high ? high : value;
}

static int converted(struct bench_hand *h, int c) {
    const struct receiver *r = h->r;
    double value = h->stick[c] + 0.5 * normal(&h->dice);
    if (h->moving)
        value += r->tremor * sin(2 * 3.14159265 * 9.0 * (double)h->ms / 1000);
    bool noisy = r->fault == NOISY || (r->fault == NOISY_MOVING && h->moving);
    if (noisy && c == 1)
        value += r->amount * normal(&h->dice);
    if (r->fault == RATCHET && c == 2)
        value = 1000 + 25 * floor((h->stick[2] - 1000) / 25 + 0.5);
    if (r->fault == STEPS)
        value = r->amount * floor(value / r->amount + 0.5);
    return (int)lround(value);
}

static int late(const struct bench_hand *h, double ms) {
    unsigned back = (unsigned)(ms / PACKET_MS);
    return h->past[(h->packets > back ? h->packets - back : 0) % HISTORY][0];
}

static double first_output(struct bench_hand *h) {
    const struct receiver *r = h->r;
    double x = h->in[0], off = x - 1500;
    switch (r->fault) {
    case REVERSED:
        return 3000 - x;
    case MIXED:
        return clip(x + 0.5 * (h->in[1] - 1500), 1000, 2000);
    case LATE:
        return late(h, r->amount);
    case FREEZES:
        if (x > 1750 && h->frozen_ms == 0)
            h->frozen_ms = h->ms;
        return h->frozen_ms > 0 && (double)(h->ms - h->frozen_ms) < r->amount ? 1750 : x;
    case DEAD_BAND:
        return fabs(off) < r->amount
                   ? 1500
                   : 1500 + (off > 0 ? off - r->amount : off + r->amount) * 500 / (500 - r->amount);
    case OLD_PACKETS:
        return h->packets % 5 == 0 ? late(h, 200) : x;
    case CURVE:
        return 1500 + 0.5 * off + 0.5 * off * off * off / 250000;
    case FILTER:
        h->filtered += (x - h->filtered) * PACKET_MS / (PACKET_MS + r->amount);
        return h->filtered;
    default:
        return clip(x, 1000, 2000);
    }
}

static void receive(struct bench_hand *h) {
    h->out[0] = (int)lround(first_output(h));
    for (int c = 1; c < STICKS; c++)
        h->out[c] = (int)clip(h->in[c], 900, 2100);
    if (h->r->fault == STANDS)
        h->out[1] = 1500;
    if (h->r->fault == SWAPPED || h->r->fault == ROTATED) {
        h->out[0] = h->in[1];
        h->out[1] = h->r->fault == SWAPPED ? h->in[0] : h->in[2];
        h->out[2] = h->r->fault == SWAPPED ? h->in[2] : h->in[0];
    }
}

static void send(struct bench_hand *h) {
    int *now = h->past[++h->packets % HISTORY];
    for (int c = 0; c < STICKS; c++)
        now[c] = converted(h, c);
    if (dice_share(&h->dice) * 100 < h->r->loss) {
        h->lost++;
        return;
    }
    memcpy(h->in, now, sizeof h->in);
    h->got++;
    h->good_ms = h->ms;
    receive(h);
}

static void report(struct bench_hand *h) {
    char line[300], age[24] = "", in[60] = "";
    if (!h->r->ageless)
        snprintf(age, sizeof age, " age=%d", (int)(h->ms - h->good_ms));
    if (!h->r->bare)
        snprintf(in, sizeof in, " in=%d,%d,%d", h->in[0], h->in[1], h->in[2]);
    snprintf(line, sizeof line, "rx n=%lld t=%lld ch=%d,%d,%d%s seq=%u got=%u lost=%u%s fs=0",
             (long long)(h->ms / (h->r->report_ms ? h->r->report_ms : 50)), (long long)h->ms,
             h->out[0], h->out[1], h->out[2], in, h->packets, h->got, h->lost, age);
    drive_line(h->d, (double)h->ms / 1000, line);
}

static void a_millisecond(struct bench_hand *h) {
    h->ms++;
    if (h->ms % PACKET_MS == 7)
        send(h);
    if (h->ms % (h->r->report_ms ? h->r->report_ms : 50) == 0)
        report(h);
}

static void rest(struct bench_hand *h, double seconds) {
    for (int64_t end = h->ms + (int64_t)(seconds * 1000); h->ms < end;)
        a_millisecond(h);
}

static void move_to(struct bench_hand *h, int c, double to, double seconds) {
    double from = h->stick[c];
    h->moving = true;
    int64_t begun = h->ms, length = (int64_t)(seconds * 1000);
    while (h->ms < begun + length) {
        double s = (double)(h->ms - begun) / (double)length;
        s += h->r->waver * sin(2 * 3.14159265 * 3 * s * seconds) / (2 * 3.14159265 * 3 * seconds);
        s = clip(s, 0, 1);
        h->stick[c] = from + (to - from) * (10 * pow(s, 3) - 15 * pow(s, 4) + 6 * pow(s, 5));
        a_millisecond(h);
    }
    h->stick[c] = to;
    h->moving = false;
}

static void visit(struct bench_hand *h, int c) {
    double home = h->stick[c], sweep = h->r->sweep_s > 0 ? h->r->sweep_s : 2;
    bool throttle = c == 2;
    double far = h->r->fault == LIMITS && c == 0 ? 100 : 0;
    if (!throttle)
        move_to(h, c, 1000 - far, sweep / 2);
    rest(h, 1);
    move_to(h, c, 2000 + far, sweep);
    rest(h, 1);
    move_to(h, c, home, sweep / 2);
    rest(h, 2.5);
    for (int i = 0; i < 6 && !throttle; i++) {
        move_to(h, c, home + (i < 3 ? -250 : 250), 0.3);
        rest(h, 0.3);
        move_to(h, c, home, 0.1);
        rest(h, 2.2);
    }
    rest(h, 6);
}

static void play(const struct receiver *r, uint64_t seed) {
    struct drive_act acts[] = {
        {"clear", 0.5, DRIVE_ANSWER, 1, false},
        {"way", 2, DRIVE_ANSWER, 1, false},
        {"meant", 1, r->meant == 0 ? DRIVE_SKIP : DRIVE_ANSWER, r->meant > 0, false},
        {"flick", 25, DRIVE_SKIP, 0, false},
        {"move", 26, DRIVE_SKIP, 0, false}};
    struct trial_rules rules;
    trial_rules_default(&rules);
    limits_one_motor(&rules.bench, r->fault == ROTATED ? 1 : 2, IDLE_LOW);
    struct drive_plan plan = {TRIAL_CONTROLS, 0.5, acts, sizeof acts / sizeof *acts, &rules};
    struct bench_hand h = {.r = r,
                           .d = drive_new(&plan),
                           .stick = {1500, 1500, 1000},
                           .filtered = 1500,
                           .dice = {20250 + seed}};
    for (int i = 0; i < HISTORY; i++)
        h.past[i][0] = 1500;
    drive_line(h.d, 0.001, "id end=rx fw=t rate=50 chans=3 unit=us seqmod=0");
    rest(&h, 7);
    for (int c = 0; c < STICKS; c++)
        visit(&h, c);
    rest(&h, 30);
    drive_end(h.d, &result);
}

static void hold(const struct receiver *rows, size_t count) {
    bool bad = false;
    for (size_t i = 0; i < count * seeds; i++) {
        const struct receiver *r = &rows[i % count];
        play(r, i / count);
        const struct trial_finding *f =
            r->finding != NULL ? drive_finding(&result, r->finding) : NULL;
        enum trial_verdict verdict = result.outcome.verdict;
        bool right = verdict == r->wanted || (r->or_not_shown && verdict == TRIAL_NOT_SHOWN);
        if (right && (r->finding == NULL || (f != NULL && strstr(f->text, r->text) != NULL)))
            continue;
        drive_print(&result);
        bad = true;
        print_message("%s: wanted %s %s\n", r->name, trial_verdict_name(r->wanted),
                      r->text != NULL ? r->text : "");
    }
    assert_false(bad);
}

static void wrong_receivers(void **state) {
    static const struct receiver rows[] = {
        {.name = "rotated",
         .fault = ROTATED,
         .wanted = TRIAL_FAILED,
         .finding = "drives_ch1",
         .text = "by the stick of channel 2, not by its own"},
        {.name = "swapped",
         .fault = SWAPPED,
         .wanted = TRIAL_FAILED,
         .finding = "drives_ch2",
         .text = "by the stick of channel 1, not by its own"},
        {.name = "mixed, nobody says that it is meant",
         .fault = MIXED,
         .wanted = TRIAL_NOT_SHOWN,
         .finding = "drives_ch2",
         .text = "also drives channel 1"},
        {.name = "mixed, not meant",
         .fault = MIXED,
         .meant = -1,
         .wanted = TRIAL_FAILED,
         .finding = "drives_ch2",
         .text = "not meant"},
        {.name = "late by 1 s",
         .fault = LATE,
         .amount = 1000,
         .wanted = TRIAL_FAILED,
         .finding = "drives_ch1",
         .text = "late or stuck"},
        {.name = "late by 0.4 s",
         .fault = LATE,
         .amount = 400,
         .wanted = TRIAL_FAILED,
         .finding = "drives_ch1",
         .text = "late or stuck"},
        {.name = "late by 1 s, called meant",
         .fault = LATE,
         .amount = 1000,
         .meant = 1,
         .wanted = TRIAL_NOT_SHOWN,
         .finding = "drives_ch1",
         .text = "late or stuck"},
        {.name = "freezes for 2 s",
         .fault = FREEZES,
         .amount = 2000,
         .wanted = TRIAL_FAILED,
         .finding = "drives_ch1",
         .text = "late or stuck"},
        {.name = "freezes for ever",
         .fault = FREEZES,
         .amount = 1e9,
         .wanted = TRIAL_FAILED,
         .finding = "drives_ch1",
         .text = "late or stuck"},
        {.name = "an output stands",
         .fault = STANDS,
         .wanted = TRIAL_FAILED,
         .finding = "drives_ch2",
         .text = "the output stood still"},
        {.name = "a wide dead band",
         .fault = DEAD_BAND,
         .amount = 90,
         .wanted = TRIAL_NOT_SHOWN,
         .finding = "drives_ch1",
         .text = "stands while its stick goes about"},
        {.name = "old packets in between", .fault = OLD_PACKETS, .wanted = TRIAL_FAILED},
        {.name = "noisy",
         .fault = NOISY,
         .amount = 12,
         .wanted = TRIAL_FAILED,
         .or_not_shown = true,
         .finding = "smooth_ch2",
         .text = ""},
        {.name = "noisy by less",
         .fault = NOISY,
         .amount = 10,
         .wanted = TRIAL_FAILED,
         .or_not_shown = true,
         .finding = "smooth_ch2",
         .text = ""},
        {.name = "noisy while it moves",
         .fault = NOISY_MOVING,
         .amount = 20,
         .wanted = TRIAL_FAILED,
         .or_not_shown = true,
         .finding = "smooth_ch2",
         .text = ""},
        {.name = "less noisy while it moves",
         .fault = NOISY_MOVING,
         .amount = 12,
         .wanted = TRIAL_FAILED,
         .or_not_shown = true,
         .finding = "smooth_ch2",
         .text = ""},
        {.name = "noisy while it moves, 10 reports a second",
         .fault = NOISY_MOVING,
         .amount = 30,
         .report_ms = 100,
         .wanted = TRIAL_FAILED,
         .or_not_shown = true,
         .finding = "smooth_ch2",
         .text = ""},
        {.name = "noisy, no age",
         .fault = NOISY,
         .amount = 12,
         .ageless = true,
         .wanted = TRIAL_FAILED,
         .or_not_shown = true,
         .finding = "smooth_ch2",
         .text = ""},
        {.name = "noisy while it moves, no age",
         .fault = NOISY_MOVING,
         .amount = 20,
         .ageless = true,
         .wanted = TRIAL_FAILED,
         .or_not_shown = true,
         .finding = "smooth_ch2",
         .text = ""},
    };
    (void)state;
    hold(rows, sizeof rows / sizeof *rows);
}

static void right_receivers(void **state) {
    static const struct receiver rows[] = {
        {.name = "plain", .wanted = TRIAL_PASSED, .finding = "smooth_ch1", .text = "evenly"},
        {.name = "a fifth of the packets lost", .loss = 20, .wanted = TRIAL_PASSED},
        {.name = "reversed",
         .fault = REVERSED,
         .wanted = TRIAL_PASSED,
         .finding = "drives_ch1",
         .text = "reversed in the receiver"},
        {.name = "mixed, meant",
         .fault = MIXED,
         .meant = 1,
         .wanted = TRIAL_PASSED,
         .finding = "drives_ch2",
         .text = "meant so"},
        {.name = "another order, meant",
         .fault = SWAPPED,
         .meant = 1,
         .wanted = TRIAL_PASSED,
         .finding = "drives_ch1",
         .text = "meant so"},
        {.name = "a wide dead band, meant",
         .fault = DEAD_BAND,
         .amount = 90,
         .meant = 1,
         .wanted = TRIAL_PASSED},
        {.name = "a dead band of 3 %", .fault = DEAD_BAND, .amount = 15, .wanted = TRIAL_PASSED},
        {.name = "late by one packet", .fault = LATE, .amount = 20, .wanted = TRIAL_PASSED},
        {.name = "8 bits", .fault = STEPS, .amount = 4, .wanted = TRIAL_PASSED},
        {.name = "6 bits", .fault = STEPS, .amount = 16, .wanted = TRIAL_PASSED},
        {.name = "a curve", .fault = CURVE, .wanted = TRIAL_PASSED},
        {.name = "a filter", .fault = FILTER, .amount = 30, .wanted = TRIAL_PASSED},
        {.name = "limited ends", .fault = LIMITS, .wanted = TRIAL_PASSED},
        {.name = "a ratchet", .fault = RATCHET, .sweep_s = 5, .wanted = TRIAL_PASSED},
        {.name = "a ratchet, fast", .fault = RATCHET, .wanted = TRIAL_PASSED, .or_not_shown = true},
        {.name = "trembling hand", .tremor = 4, .wanted = TRIAL_PASSED},
        {.name = "wavering hand", .waver = 0.5, .tremor = 2, .wanted = TRIAL_PASSED},
        {.name = "slow and wavering", .waver = 0.5, .sweep_s = 5, .wanted = TRIAL_PASSED},
        {.name = "moved fast", .sweep_s = 0.6, .wanted = TRIAL_PASSED, .or_not_shown = true},
        {.name = "moved very fast", .sweep_s = 0.25, .wanted = TRIAL_PASSED, .or_not_shown = true},
        {.name = "10 reports a second", .report_ms = 100, .wanted = TRIAL_PASSED, .waver = 0.5},
        {.name = "5 reports a second",
         .report_ms = 200,
         .wanted = TRIAL_PASSED,
         .or_not_shown = true,
         .waver = 0.5},
        {.name = "50 reports a second", .report_ms = 20, .wanted = TRIAL_PASSED, .tremor = 4},
        {.name = "no age", .ageless = true, .wanted = TRIAL_PASSED, .loss = 5},
        {.name = "no stick values", .bare = true, .wanted = TRIAL_PASSED},
    };
    (void)state;
    hold(rows, sizeof rows / sizeof *rows);
}

int main(int argc, char **argv) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(wrong_receivers),
        cmocka_unit_test(right_receivers),
    };
    if (argc > 1)
        seeds = strtoul(argv[1], NULL, 10);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
