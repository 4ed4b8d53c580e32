/* The bind trial end to end: each leaf of its tree reached by a scene of the simulated receiver
 * or by lines, each wrong path judged as not shown; and its parts by themselves. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "trial_drive.h"

#include "simulator/simulator.h"
#include "telemetry/telemetry.h"
#include "trial/ends.h"
#include "trial/layout.h"

static struct drive_result result;

/* The person's times are those of the scenes' tables: on at 8 s, off at 18, on at 28, elsewhere at
 * 38..42. */
static const struct drive_act by_hand[] = {
    {"caution", 0.5, DRIVE_ANSWER, 1, false}, {"on", 3.3, DRIVE_ANSWER, 1, false},
    {"off", 6.3, DRIVE_ANSWER, 1, false},     {"again", 5.7, DRIVE_ANSWER, 1, false},
    {"near", 8, DRIVE_ANSWER, 1, false},      {"away", 9.5, DRIVE_ANSWER, 1, false},
    {"rxfirst", 3, DRIVE_SKIP, 0, false},     {"txfirst", 1, DRIVE_SKIP, 0, false},
};

static void trial(const char *scene, uint64_t seed, double begin_s, const struct drive_act *acts,
                  size_t count, double seconds) {
    struct drive_plan plan = {
        .trial = TRIAL_BIND, .begin_s = begin_s, .acts = acts, .act_count = count};
    struct drive *d = drive_new(&plan);
    assert_true(simulator_scene_find(scene) >= 0);
    drive_scene(d, simulator_scene_find(scene), seed, seconds);
    drive_end(d, &result);
}

static void expect(const char *legend, const char *name, enum trial_verdict finding,
                   enum trial_verdict whole) {
    const struct trial_finding *f = drive_finding(&result, name);
    if (f != NULL && f->verdict == finding && result.outcome.verdict == whole)
        return;
    drive_print(&result);
    fail_msg("%s: %s isn't %s, or the whole isn't %s", legend, name, trial_verdict_name(finding),
             trial_verdict_name(whole));
}

/* --- each leaf, three seeds ------------------------------------------------------------------- */

static void leaves(void **state) {
    static const struct {
        const char *scene, *leaf;
        enum trial_verdict verdict;
        double begin_s, seconds;
        const char *next; /* a part of it */
    } cases[] = {
        {"wires", "bytes", TRIAL_FAILED, 1, 19, "powered"},
        {"wires", "lines", TRIAL_FAILED, 22, 39, "speeds"},
        {"wires", "reports", TRIAL_FAILED, 42, 59, "loop"},
        {"mute", "radio_absent", TRIAL_FAILED, 1, 49, "3.3 V"},
        {"forgot", "radio_forgot", TRIAL_FAILED, 1, 29, "capacitor"},
        {"forgot", "radio_differs", TRIAL_FAILED, 31, 49, "SPI clock"},
        {"stranger", "stranger", TRIAL_FAILED, 1, 59, "another address"},
        {"phantom", "phantoms", TRIAL_FAILED, 1, 59, "pipe numbers"},
        {"swapped", "layout", TRIAL_FAILED, 1, 59, "fixed width"},
        {"close", "too_close", TRIAL_FAILED, 1, 59, "never nearer than 0.3 m"},
        {"image", "near_only", TRIAL_FAILED, 1, 59, "carrier"},
        {"bind", "bound", TRIAL_PASSED, 1, 88, "failsafe"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        for (uint64_t seed = 1; seed <= 3; seed++) {
            trial(cases[i].scene, seed, cases[i].begin_s, by_hand, sizeof by_hand / sizeof *by_hand,
                  cases[i].seconds);
            expect(cases[i].scene, cases[i].leaf, cases[i].verdict, cases[i].verdict);
            assert_true(result.entry.ended);
            if (strstr(result.outcome.next, cases[i].next) == NULL) {
                drive_print(&result);
                fail_msg("%s %s: no \"%s\"", cases[i].scene, cases[i].leaf, cases[i].next);
            }
        }
    }
}

/* Rejected packets at one "on" only: energy came, but once is no proof. */
static void rejected_once(void **state) {
    static const struct drive_act acts[] = {{"caution", 0.5, DRIVE_ANSWER, 1, false},
                                            {"on", 1, DRIVE_ANSWER, 1, false},
                                            {"off", 12, DRIVE_ANSWER, 1, false},
                                            {"again", 3, DRIVE_ANSWER, 1, false}};
    (void)state;
    trial("mismatch", 1, 15, acts, 4, 75);
    expect("rejected once", "refused", TRIAL_NOT_SHOWN, TRIAL_NOT_SHOWN);
    assert_null(drive_finding(&result, "no_energy"));
}

/* The scene `mismatch` has its transmitter on but for 35..40 s: another address up to 20 s, then
 * another owner, and so on in its second round. */
static void mismatches(void **state) {
    static const struct drive_act address[] = {{"caution", 0.5, DRIVE_ANSWER, 1, false},
                                               {"on", 1, DRIVE_ANSWER, 1, false},
                                               {"off", 24.2, DRIVE_ANSWER, 1, false},
                                               {"again", 2, DRIVE_ANSWER, 1, false}};
    static const struct drive_act owner[] = {{"caution", 0.5, DRIVE_ANSWER, 1, false},
                                             {"on", 1.5, DRIVE_ANSWER, 1, false},
                                             {"off", 8.7, DRIVE_ANSWER, 1, false},
                                             {"again", 22, DRIVE_ANSWER, 1, false}};
    (void)state;
    for (uint64_t seed = 1; seed <= 3; seed++) {
        trial("mismatch", seed, 1, address, 4, 60);
        expect("another address", "mismatch", TRIAL_FAILED, TRIAL_FAILED);
        assert_non_null(strstr(result.outcome.next, "E7E7E7E7E7"));
        assert_string_equal(result.route, "caution look on off again");
        trial("mismatch", seed, 16, owner, 4, 75);
        expect("another owner", "refused", TRIAL_FAILED, TRIAL_FAILED);
        assert_non_null(strstr(result.outcome.next, "link ID"));
    }
}

/* Both orders, with the times that the scene gives: the transmitter's first number is that of its
 * first packet (the receiver runs and hears it), the receiver hears within two periods of its start
 * and one report. */
static void orders(void **state) {
    static const struct drive_act acts[] = {
        {"caution", 0.5, DRIVE_ANSWER, 1, false}, {"on", 3.3, DRIVE_ANSWER, 1, false},
        {"off", 6.3, DRIVE_ANSWER, 1, false},     {"again", 5.7, DRIVE_ANSWER, 1, false},
        {"away", 9.5, DRIVE_ANSWER, 1, false},    {"rxfirst", 18, DRIVE_ANSWER, 1, false},
        {"txfirst", 17, DRIVE_ANSWER, 1, false},
    };
    (void)state;
    trial("bind", 5, 1, acts, sizeof acts / sizeof *acts, 88);
    expect("receiver first", "receiver_first", TRIAL_PASSED, TRIAL_PASSED);
    expect("transmitter first", "transmitter_first", TRIAL_PASSED, TRIAL_PASSED);
    const struct trial_finding *f = drive_finding(&result, "receiver_first");
    assert_true(f->measured && f->low == 0 && f->high <= 40);
    assert_non_null(strstr(f->text, "3 of 3 starts"));
    f = drive_finding(&result, "transmitter_first");
    assert_true(f->measured && f->low >= 0 && f->high <= 100);
    assert_non_null(strstr(f->text, "2 of 2 starts"));
}

/* --- wrong paths ------------------------------------------------------------------------------ */

static void expect_not_shown(const char *legend, const char *name, const char *words) {
    const struct trial_finding *f = name != NULL ? drive_finding(&result, name) : NULL;
    if (result.outcome.verdict == TRIAL_NOT_SHOWN && result.stands != TRIAL_PASSED &&
        (name == NULL ||
         (f != NULL && f->verdict == TRIAL_NOT_SHOWN && strstr(f->text, words) != NULL)))
        return;
    drive_print(&result);
    fail_msg("%s", legend);
}

static void skipped_steps(void **state) {
    static const char *const skips[] = {"look", "on", "off", "again", "away"};
    (void)state;
    for (size_t i = 0; i < sizeof skips / sizeof *skips; i++) {
        struct drive_act acts[16];
        size_t count = sizeof by_hand / sizeof *by_hand;
        acts[0] = (struct drive_act){skips[i], 0.2, DRIVE_SKIP, 0, false};
        memcpy(acts + 1, by_hand, sizeof by_hand);
        trial("bind", 2, 1, acts, count + 1, 88);
        expect_not_shown(skips[i], strcmp(skips[i], "look") == 0 ? "bytes" : skips[i], "skipped");
    }
}

static void no_yes_no_trial(void **state) {
    static const struct drive_act no[] = {{"caution", 0.5, DRIVE_ANSWER, 0, false}};
    (void)state;
    trial("bind", 1, 1, no, 1, 20);
    expect_not_shown("no", "caution", "nothing was tried");
    assert_string_equal(result.route, "caution");
}

static void switch_not_moved(void **state) {
    (void)state;
    trial("calm", 1, 1, by_hand, sizeof by_hand / sizeof *by_hand, 59);
    expect_not_shown("never off", "off", "the switch wasn't moved");
}

static void quits(void **state) {
    struct drive_act acts[16];
    (void)state;
    static const double times[] = {0.2, 3, 7, 15, 22, 31, 36, 44};
    for (size_t i = 0; i < sizeof times / sizeof *times; i++) {
        acts[0] = (struct drive_act){NULL, 1 + times[i], DRIVE_QUIT, 0, false};
        memcpy(acts + 1, by_hand, sizeof by_hand);
        trial("bind", 3, 1, acts, sizeof by_hand / sizeof *by_hand + 1, 60);
        expect_not_shown("quit", NULL, NULL);
        assert_true(result.entry.quit && !result.entry.ended);
    }
}

/* Off too late: the hand was slower than its Enter, and the packets still stopped. */
static void slow_hand(void **state) {
    struct drive_act acts[16];
    (void)state;
    memcpy(acts, by_hand, sizeof by_hand);
    acts[2].after_s = 4.2; /* off at 16.6 s, of which 0.6 s settle; the scene's is 18 s */
    trial("bind", 1, 1, acts, sizeof by_hand / sizeof *by_hand, 88);
    expect("slow hand", "bound", TRIAL_PASSED, TRIAL_PASSED);
}

/* --- a receiver of lines ---------------------------------------------------------------------- */

struct fake {
    bool packets, carrier, noisy, refuses;
    uint32_t n, seq, tboot, got, refused;
    const char *without; /* a key that it doesn't print */
    double at_s;
};

static void say(char *line, size_t size, const struct fake *f, const char *key, const char *format,
                unsigned a, unsigned b) {
    size_t len = strlen(line);
    if (f->without == NULL || strcmp(f->without, key) != 0)
        snprintf(line + len, size - len, format, a, b);
}

/* Reports at 20 Hz up to until_s, two packets in each. */
static void play(struct drive *d, struct fake *f, double until_s) {
    for (; f->at_s < until_s; f->at_s += 0.05) {
        char line[300] = "rx";
        uint32_t hits = (f->carrier ? 2u : 0) + (f->noisy ? 15u : 0);
        f->n++;
        f->got += f->packets ? 2 : 0;
        f->seq += f->packets ? 2 : 0;
        f->refused += f->refuses ? 2 : 0;
        say(line, sizeof line, f, "n", " n=%u", f->n, 0);
        say(line, sizeof line, f, "t", " t=%u", (unsigned)(f->at_s * 1000 + 0.5), 0);
        say(line, sizeof line, f, "ch", " ch=%u,%u", 1500, 1000);
        if (f->got > 0)
            say(line, sizeof line, f, "seq", " seq=%u tboot=%u", f->seq, f->tboot);
        say(line, sizeof line, f, "got", " got=%u lost=%u", f->got, 0);
        say(line, sizeof line, f, "refused", " refused=%u", f->refused, 0);
        say(line, sizeof line, f, "noise", " noise=%u/%u", hits, 50);
        say(line, sizeof line, f, "reg", " reg=ok", 0, 0);
        drive_line(d, f->at_s, line);
    }
}

/* The times of by_hand: on from 8 s, off from 18, on from 28. */
static void switch_by_hand(struct drive *d, struct fake *f, bool packets, bool carrier,
                           bool refuses) {
    static const double changes[] = {8, 18, 28, 60};
    for (size_t i = 0; i < sizeof changes / sizeof *changes; i++) {
        bool on = i % 2 == 1;
        f->packets = on && packets;
        f->carrier = on && carrier;
        f->refuses = on && refuses;
        f->tboot += on ? 1 : 0;
        f->seq = on ? 0 : f->seq;
        play(d, f, changes[i]);
        if (i == 2)
            f->packets = f->carrier = f->refuses = false;
    }
}

static struct drive *begin(void) {
    static struct drive_plan plan = {.trial = TRIAL_BIND,
                                     .begin_s = 1,
                                     .acts = by_hand,
                                     .act_count = sizeof by_hand / sizeof *by_hand};
    return drive_new(&plan);
}

static void leaves_of_lines(void **state) {
    static const struct {
        const char *legend, *leaf, *without;
        bool packets, carrier, refuses, noisy;
        enum trial_verdict verdict;
        const char *missing;
    } cases[] = {
        {"nothing on the air", "no_energy", NULL, false, false, false, false, TRIAL_FAILED, NULL},
        {"busy always", "carrier_always", NULL, false, false, false, true, TRIAL_FAILED, NULL},
        {"carrier follows", "mismatch", NULL, false, true, false, false, TRIAL_FAILED, NULL},
        {"refused follows", "refused", NULL, false, true, true, false, TRIAL_FAILED, NULL},
        {"bound", "bound", NULL, true, true, false, false, TRIAL_PASSED, NULL},
        {"no noise key", "energy", "noise", false, true, false, false, TRIAL_NOT_SHOWN, "noise"},
        {"no refused key", "refused", "refused", false, false, false, false, TRIAL_NOT_SHOWN,
         "refused"},
        {"no reg key", "radio", "reg", true, true, false, false, TRIAL_NOT_SHOWN, "reg"},
        {"no packets' keys", "packets", "got", false, true, false, false, TRIAL_NOT_SHOWN, "got"},
        {"no seq, no matter", "bound", "seq", true, true, false, false, TRIAL_PASSED, NULL},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct drive *d = begin();
        struct fake f = {.noisy = cases[i].noisy, .without = cases[i].without, .at_s = 0.05};
        switch_by_hand(d, &f, cases[i].packets, cases[i].carrier, cases[i].refuses);
        drive_end(d, &result);
        const struct trial_finding *found = drive_finding(&result, cases[i].leaf);
        if (found == NULL || found->verdict != cases[i].verdict ||
            (cases[i].missing != NULL) != (found->missing != NULL) ||
            (cases[i].missing != NULL && strcmp(found->missing, cases[i].missing) != 0)) {
            drive_print(&result);
            fail_msg("%s", cases[i].legend);
        }
    }
}

/* Packets that go on without seq: the switch or a stranger, nobody can tell. */
static void without_seq(void **state) {
    (void)state;
    struct drive *d = begin();
    struct fake f = {.packets = true, .without = "seq", .at_s = 0.05};
    play(d, &f, 60);
    drive_end(d, &result);
    expect_not_shown("no seq", "off", "without seq");
    assert_string_equal(drive_finding(&result, "off")->missing, "seq");
}

/* A stranger without tboot: two sequences, told apart by their numbers alone. */
static void stranger_by_numbers(void **state) {
    (void)state;
    struct drive *d = begin();
    uint32_t n = 0, got = 0, ours = 0, theirs = 40000;
    for (double at = 0.05; at < 55; at += 0.05) {
        char line[200];
        bool on = (at > 8 && at < 18) || at > 28;
        bool newest = on && n % 2 == 0;
        ours = at > 28 && at < 28.06 ? 0 : ours + 2;
        theirs += 2;
        got += on ? 4 : 2;
        snprintf(line, sizeof line, "rx n=%u t=%u ch=1500 seq=%u got=%u lost=0 noise=0/40 reg=ok",
                 ++n, (unsigned)(at * 1000 + 0.5), newest ? ours : theirs, got);
        drive_line(d, at, line);
    }
    drive_end(d, &result);
    expect("by numbers", "stranger", TRIAL_FAILED, TRIAL_FAILED);
}

/* The port goes and comes back in one step after another: what that step would have shown is gone.
 */
static void port_lost(void **state) {
    static const struct {
        const char *finding;
        double at_s;
    } cases[] = {{"bytes", 3}, {"on", 9.5}, {"off", 20}, {"again", 30}, {"away", 43}};
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct drive *d = begin();
        struct fake f = {.at_s = 0.05};
        bool lost = false;
        for (double at = 0; at < 60; at += 0.5) {
            f.packets = f.carrier = (at >= 8 && at < 18) || at >= 28;
            play(d, &f, at);
            if (!lost && at >= cases[i].at_s) {
                drive_port(d, at + 0.01, PORT_LOST, "");
                drive_port(d, at + 0.3, PORT_BACK, "kind=serial speed=115200");
                f.at_s = at + 0.35;
                lost = true;
            }
        }
        drive_end(d, &result);
        expect_not_shown(cases[i].finding, cases[i].finding, "port was away");
        assert_true(result.entry.port_lost);
    }
}

/* The receiver was switched off, not the transmitter. */
static void wrong_switch(void **state) {
    (void)state;
    struct drive *d = begin();
    struct fake f = {.at_s = 0.05};
    play(d, &f, 8);
    f.packets = true;
    play(d, &f, 18);
    f.at_s = 28;
    play(d, &f, 60);
    drive_end(d, &result);
    expect_not_shown("receiver off", "off", "receiver switched off");
}

/* --- what both ends say ----------------------------------------------------------------------- */

static void take_id(void *context, const struct event *e) {
    ends_take(context, e);
}

static void read_ids(struct ends *ends, const char *lines) {
    static struct telemetry t;
    memset(ends, 0, sizeof *ends);
    telemetry_init(&t, take_id, ends);
    telemetry_feed(&t, lines, strlen(lines), TIME_UNKNOWN);
    telemetry_end(&t, TIME_UNKNOWN);
}

#define RX                                                                                         \
    "id end=rx fw=a rate=50 mhz=2450 hop=1 kbps=1000 addr=5475672D37 aw=5 crc=2 size=20 ack=0\n"

static void both_ends(void **state) {
    static const struct {
        const char *legend, *lines;
        uint32_t differ;
        const char *names;
    } cases[] = {
        {"one end alone", RX, 0, ""},
        {"the same",
         RX "id end=tx fw=b rate=50 mhz=2450 hop=1 kbps=1000 addr=5475672d37 aw=5 crc=2 "
            "size=20 ack=0 retries=3\n",
         0, ""},
        {"reversed",
         RX "id end=tx rate=50 mhz=2450 hop=1 kbps=1000 addr=372D677554 aw=5 crc=2 size=20 "
            "ack=0\n",
         1, "addr (the same bytes in the other order)"},
        {"ack, size",
         RX "id end=tx rate=50 mhz=2450 hop=1 kbps=1000 addr=5475672D37 aw=5 crc=2 "
            "size=dyn ack=1\n",
         2, "size (dynamic on one side, fixed on the other), ack (on one side only)"},
        {"a key missing is no difference", RX "id end=tx mhz=2460 hop=1\n", 1, "mhz"},
        {"the newest counts", RX "id end=tx mhz=2460\nid end=tx mhz=2450\n", 0, ""},
        {"nearly reversed", RX "id end=tx addr=372D677555\n", 1, "addr"},
        {"crc and width", RX "id end=tx aw=3 crc=1 kbps=250 rate=40\n", 4,
         "kbps (does the chip take 250? older kinds don't), aw, crc, rate"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct ends ends;
        char names[200];
        struct text text;
        text_init(&text, names, sizeof names);
        read_ids(&ends, cases[i].lines);
        ends_names(&ends, &text);
        if (ends_differ(&ends) != cases[i].differ || strcmp(names, cases[i].names) != 0)
            fail_msg("%s: %u, \"%s\"", cases[i].legend, ends_differ(&ends), names);
    }
}

static void rows_side_by_side(void **state) {
    struct ends ends;
    char row[96];
    struct text text;
    (void)state;
    read_ids(&ends, RX "id end=tx mhz=2450 addr=372D677554 retries=5\n");
    text_init(&text, row, sizeof row);
    ends_text(&ends, 0, &text);
    assert_string_equal(row, "  mhz      2450           2450           same");
    text_clear(&text);
    ends_text(&ends, 3, &text);
    assert_string_equal(
        row, "! addr     5475672D37     372D677554     the same bytes in the other order");
    text_clear(&text);
    ends_text(&ends, 2, &text);
    assert_string_equal(row, "  kbps     1000           ?              ");
    text_clear(&text);
    ends_text(&ends, 9, &text);
    assert_string_equal(row, "  retries  ?              5              ");
}

/* nRF24L01+ Product Specification v1.0, section 9: SETUP_AW, CRC, RX_PW, RF_CH. */
static void what_cannot_be(void **state) {
    static const struct {
        const char *line, *says;
        bool sure;
    } cases[] = {
        {RX, NULL, false},
        {"id end=rx addr=0000000000\n", "addr=0000000000", true},
        {"id end=rx addr=FFFFFFFFFF\n", "addr=FFFFFFFFFF", true},
        {"id end=rx addr=E7E7E7E7E7 aw=5\n", NULL, false},
        {"id end=rx aw=0\n", "aw=0", true},
        {"id end=rx kbps=0\n", "kbps=0", true},
        {"id end=rx aw=2\n", "aw=2", false},
        {"id end=rx size=33\n", "size=33", false},
        {"id end=rx size=dyn\n", NULL, false},
        {"id end=rx mhz=2528\n", "mhz=2528", false},
        {"id end=rx crc=3\n", "crc=3", false},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct ends ends;
        char says[60];
        struct text text;
        bool sure;
        text_init(&text, says, sizeof says);
        read_ids(&ends, cases[i].line);
        bool absurd = ends_absurd(&ends.receiver, &sure, &text);
        if (absurd != (cases[i].says != NULL) ||
            (absurd && (sure != cases[i].sure || strcmp(says, cases[i].says) != 0)))
            fail_msg("%s: \"%s\"", cases[i].line, says);
    }
}

/* The transmitter's id of the same port before the trial, by the caller's pointer, names the fault.
 */
static void mismatch_names_the_fault(void **state) {
    struct ends ends;
    struct trial_rules rules;
    (void)state;
    read_ids(&ends,
             RX "id end=tx rate=50 mhz=2450 hop=1 kbps=1000 addr=372D677554 aw=5 crc=2 size=20 "
                "ack=0\n");
    trial_rules_default(&rules);
    rules.ends = &ends;
    struct drive_plan plan = {.trial = TRIAL_BIND,
                              .begin_s = 1,
                              .acts = by_hand,
                              .act_count = sizeof by_hand / sizeof *by_hand,
                              .rules = &rules};
    struct drive *d = drive_new(&plan);
    struct fake f = {.at_s = 0.05};
    switch_by_hand(d, &f, false, true, false);
    drive_end(d, &result);
    expect("reversed address", "mismatch", TRIAL_FAILED, TRIAL_FAILED);
    assert_non_null(strstr(result.outcome.next, "addr (the same bytes in the other order)"));
    expect("ends", "ends", TRIAL_FAILED, TRIAL_FAILED);
}

/* Packets came, so what the id lines say of the address can't be what the radios hold; an ack on
 * one side only can. */
static void packets_deny_the_ids(void **state) {
    static const struct {
        const char *lines;
        enum trial_verdict ends, whole;
    } cases[] = {
        {RX "id end=tx mhz=2450 addr=372D677554\n", TRIAL_NOT_SHOWN, TRIAL_PASSED},
        {RX "id end=tx mhz=2450 addr=372D677554 ack=1\n", TRIAL_FAILED, TRIAL_FAILED},
        {RX "id end=tx mhz=2450 addr=5475672D37\n", TRIAL_PASSED, TRIAL_PASSED},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct ends ends;
        struct trial_rules rules;
        trial_rules_default(&rules);
        rules.ends = &ends;
        read_ids(&ends, cases[i].lines);
        struct drive_plan plan = {.trial = TRIAL_BIND,
                                  .begin_s = 1,
                                  .acts = by_hand,
                                  .act_count = sizeof by_hand / sizeof *by_hand,
                                  .rules = &rules};
        struct drive *d = drive_new(&plan);
        struct fake f = {.at_s = 0.05};
        switch_by_hand(d, &f, true, true, false);
        drive_end(d, &result);
        expect(cases[i].lines, "ends", cases[i].ends, cases[i].whole);
    }
}

/* Each step's words keep within three lines of 72 columns. */
static void words_fit(void **state) {
    (void)state;
    const struct trial_kind *kind = trial_kinds[TRIAL_BIND];
    assert_true(strlen(kind->about) <= 56);
    for (uint32_t i = 0; i < kind->step_count; i++) {
        const char *const texts[] = {kind->steps[i].say, kind->steps[i].caution};
        for (int k = 0; k < 2; k++) {
            struct slice rest = slice_of(texts[k]);
            int lines = 0;
            while (rest.at != NULL) {
                struct slice line = slice_cut(&rest, '\n');
                if (line.len > 72 || ++lines > 3)
                    fail_msg("%s: %.*s", kind->steps[i].name, (int)line.len, line.at);
            }
        }
    }
}

/* --- payload layouts -------------------------------------------------------------------------- */

/* Values as the wrong reader sees them: what a C program would find in the same bytes. */
static void layouts(void **state) {
    static const struct {
        const char *legend;
        int32_t in[6];
        uint32_t count;
        enum layout_kind kind;
        const char *sum;
    } cases[] = {
        {"as they should be", {1500, 1000, 2000, 1500}, 4, LAYOUT_NORMAL, ""},
        {"1500 and 1000 swapped",
         {56325, 59395, 53255, 56325},
         4,
         LAYOUT_ORDER,
         "56325 is DC05 in hex; the other way round, 05DC is 1500"},
        {"the same, read with a sign",
         {-9211, -6141},
         2,
         LAYOUT_ORDER,
         "-9211 is DC05 in hex; the other way round, 05DC is 1500"},
        {"one of them normal", {56325, 1000, 53255}, 3, LAYOUT_UNEXPLAINED, ""},
        {"one unexplained", {56325, 59395, 42}, 3, LAYOUT_UNEXPLAINED, ""},
        {"32 bits read as 16", {1500, 0, 1000, 0}, 4, LAYOUT_WIDER, "every second channel"},
        {"the same, high half first", {0, 1500, 0, 1000}, 4, LAYOUT_WIDER, "every second channel"},
        {"a channel at 0 is no width", {1500, 0, 1000, 1500}, 4, LAYOUT_UNEXPLAINED, ""},
        {"16 bits read as 8",
         {0xDC, 0x05, 0xE8, 0x03},
         4,
         LAYOUT_NARROWER,
         "220 and 5 are one number: 220 + 256 x 5 = 1500"},
        {"8 bits raw", {127, 0, 255}, 3, LAYOUT_RAW, "8 bits hold 0..255"},
        {"10 bits raw", {512, 3, 700}, 3, LAYOUT_RAW, "10 bits hold 0..1023"},
        {"all 0", {0, 0, 0, 0}, 4, LAYOUT_UNEXPLAINED, ""},
        {"all 65535", {65535, 65535, 65535, 65535}, 4, LAYOUT_UNEXPLAINED, ""},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct layout l;
        struct layout_hint hint;
        struct report r = {.has = 1u << KEY_IN, .in_count = cases[i].count};
        memcpy(r.in, cases[i].in, sizeof cases[i].in);
        layout_init(&l);
        for (int k = 0; k < LAYOUT_REPORTS - 1; k++)
            layout_take(&l, &r);
        layout_read(&l, false, &hint);
        assert_int_equal(hint.kind, LAYOUT_NONE); /* not enough yet */
        layout_take(&l, &r);
        layout_read(&l, false, &hint);
        if (hint.kind != cases[i].kind || strstr(hint.sum, cases[i].sum) == NULL)
            fail_msg("%s: %d, \"%s\"", cases[i].legend, hint.kind, hint.sum);
        assert_true((hint.says != NULL) == (hint.cure != NULL));
        layout_read(&l, true, &hint);
        assert_int_equal(hint.kind, LAYOUT_NONE); /* raw, as the id says */
    }
}

/* A travel of 11 bits goes through values that a pulse has too; the channel still isn't one. */
static void raw_travel(void **state) {
    struct layout l;
    struct layout_hint hint;
    (void)state;
    layout_init(&l);
    for (int32_t v = 172; v <= 1811; v += 11) {
        struct report r = {.has = 1u << KEY_IN, .in_count = 2, .in = {v, 1983 - v}};
        layout_take(&l, &r);
    }
    layout_read(&l, false, &hint);
    assert_int_equal(hint.kind, LAYOUT_RAW);
    assert_non_null(strstr(hint.sum, "172..1811: 11 bits"));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(leaves),
        cmocka_unit_test(mismatches),
        cmocka_unit_test(rejected_once),
        cmocka_unit_test(orders),
        cmocka_unit_test(skipped_steps),
        cmocka_unit_test(no_yes_no_trial),
        cmocka_unit_test(switch_not_moved),
        cmocka_unit_test(quits),
        cmocka_unit_test(slow_hand),
        cmocka_unit_test(leaves_of_lines),
        cmocka_unit_test(without_seq),
        cmocka_unit_test(stranger_by_numbers),
        cmocka_unit_test(port_lost),
        cmocka_unit_test(wrong_switch),
        cmocka_unit_test(both_ends),
        cmocka_unit_test(rows_side_by_side),
        cmocka_unit_test(what_cannot_be),
        cmocka_unit_test(mismatch_names_the_fault),
        cmocka_unit_test(packets_deny_the_ids),
        cmocka_unit_test(words_fit),
        cmocka_unit_test(layouts),
        cmocka_unit_test(raw_travel),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
