/* From what was seen to a verdict and the next step: rung by rung, from the cable up to the link.
 * The first rung that breaks ends the climb. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/text.h"
#include "judge/bind_parts.h"

enum climb { CLIMB_ON, CLIMB_END };

static void headline(struct trial_outcome *out, const char *text) {
    if (out->headline[0] == '\0')
        snprintf(out->headline, sizeof out->headline, "%s", text);
}

static void next_step(struct trial_outcome *out, const char *text) {
    if (out->next[0] == '\0')
        snprintf(out->next, sizeof out->next, "%s", text);
}

/* A finding that ends the climb, with its headline and what to do next. */
static enum climb end_with(struct trial_outcome *out, struct trial_finding *finding,
                           const char *head, const char *next) {
    (void)finding;
    headline(out, head);
    next_step(out, next);
    return CLIMB_END;
}

static enum climb lacks(struct trial_outcome *out, const char *name, const char *key,
                        const char *what) {
    struct trial_finding *f =
        trial_find(out, name, TRIAL_NOT_SHOWN, "%s can't be told without %s.", what, key);
    char next[200];
    f->missing = key;
    snprintf(next, sizeof next, "Let the receiver print %s, then try again.", key);
    return end_with(out, f, "Not shown: the reports don't say enough.", next);
}

static enum climb not_seen(struct trial_outcome *out, const struct bind_watch *w, const char *name,
                           const char *what) {
    const char *why = !w->entered  ? "that step was never come to"
                      : w->broken  ? "the port was away meanwhile"
                      : w->skipped ? "the step was skipped"
                                   : "it was not watched for two seconds";
    struct trial_finding *f =
        trial_find(out, name, TRIAL_NOT_SHOWN, "%s wasn't seen: %s.", what, why);
    return end_with(out, f, "Not shown: not every step was seen.",
                    "Run the trial again, with each step.");
}

static double seconds(const struct bind_watch *w) {
    return (double)bind_watched_ms(w) / 1000;
}

/* --- the cable -------------------------------------------------------------------------------- */

static enum climb judge_caution(const struct bind *b, struct trial_outcome *out) {
    if (b->agreed)
        return CLIMB_ON;
    struct trial_finding *f = trial_find(out, "caution", TRIAL_NOT_SHOWN,
                                         "The caution had no yes, so that nothing was tried.");
    return end_with(out, f, "Not shown: nothing was tried.", "");
}

static enum climb judge_bytes(const struct bind *b, struct trial_outcome *out) {
    const struct bind_watch *w = &b->watch[BIND_LOOK];
    if (!bind_seen(w))
        return not_seen(out, w, "bytes", "What comes on the cable");
    if (w->bytes > 0)
        return CLIMB_ON;
    if (bind_watched_ms(w) < 3000)
        return not_seen(out, w, "bytes", "What comes on the cable");
    struct trial_finding *f =
        trial_find(out, "bytes", TRIAL_FAILED, "Not one byte came in %.0f s.", seconds(w));
    return end_with(out, f, "Nothing comes on the cable.",
                    "Is the board powered, and this its port? Its TX goes to the adapter's RX, "
                    "grounds joined; press its reset once; some boards print only while a program "
                    "has the port.");
}

/* What kind of damage says most of the cause. */
static const struct {
    enum damage_reason reason;
    const char *hint, *next;
} damage_hints[] = {
    {DAMAGE_BAD_BYTE, "most hold bytes that no line has: another speed",
     "Try the other speeds (--speed auto), then the crystal's and the fuses' settings of the "
     "board."},
    {DAMAGE_TOO_LONG, "no line end comes: another speed",
     "Try the other speeds (--speed auto), then the crystal's and the fuses' settings of the "
     "board."},
    {DAMAGE_BAD_CHECKSUM, "they are lines, but damaged on the way",
     "Look at cable, ground and motor leads; is a second program reading the same port?"},
    {DAMAGE_NO_CHECKSUM, "they are lines, but damaged on the way",
     "Look at cable, ground and motor leads; is a second program reading the same port?"},
    {DAMAGE_PLAIN_TEXT, "they are text of a sketch's own: the speed is right",
     "Let the sketch print telemetry lines: 'airleash sketch' writes one that does."},
    {DAMAGE_BOOT_TEXT, "they are a boot loader's: the program doesn't run",
     "Load the program again, and watch the supply while it starts."},
};

static enum climb judge_lines(const struct bind *b, struct trial_outcome *out) {
    const struct bind_watch *w = &b->watch[BIND_LOOK];
    const char *hint = "none of them is a line", *next = "Check the speed on both sides.";
    uint64_t most = 0;
    for (size_t i = 0; i < sizeof damage_hints / sizeof *damage_hints; i++) {
        uint64_t count = w->damage[damage_hints[i].reason];
        if (count <= most)
            continue;
        most = count;
        hint = damage_hints[i].hint;
        next = damage_hints[i].next;
    }
    if (w->lines * 10 < w->damaged || w->lines == 0) {
        struct trial_finding *f = trial_find(out, "lines", TRIAL_FAILED,
                                             "%llu bytes came, and hardly a line in them: %s.",
                                             (unsigned long long)w->bytes, hint);
        return end_with(out, f, "Bytes come, but no lines.", next);
    }
    trial_find(out, "lines", TRIAL_PASSED, "%llu lines came in %.0f s, %llu damaged%s%s.",
               (unsigned long long)w->lines, seconds(w), (unsigned long long)w->damaged,
               w->damaged > 0 ? ": " : "", w->damaged > 0 ? hint : "");
    return CLIMB_ON;
}

static enum climb judge_reports(const struct bind *b, struct trial_outcome *out) {
    const struct bind_watch *w = &b->watch[BIND_LOOK];
    if (w->reports == 0) {
        struct trial_finding *f = trial_find(
            out, "reports", TRIAL_FAILED,
            "Lines come, but no rx line among them: boot %llu, id %llu, text %llu.",
            (unsigned long long)w->boots, (unsigned long long)w->ids, (unsigned long long)w->says);
        return end_with(out, f, "Lines come, but no reports.",
                        w->boots > 1 ? "The receiver starts again and again: look at its supply."
                                     : "Does the program come to its loop? A radio that doesn't "
                                       "answer at its start may hold it there.");
    }
    return w->bare == w->reports ? lacks(out, "reports", "got", "Packets") : CLIMB_ON;
}

/* --- the radio chip --------------------------------------------------------------------------- */

static void add_up(const struct bind *b, uint64_t reg[4], uint64_t *told, uint64_t *reinits) {
    memset(reg, 0, 4 * sizeof *reg);
    *told = *reinits = 0;
    for (int i = 0; i < BIND_STEPS; i++) {
        for (int k = 0; k < 4; k++)
            reg[k] += b->watch[i].reg[k];
        *told += b->watch[i].reg_reports;
        *reinits += b->watch[i].reinits;
    }
}

static const struct {
    enum radio_registers registers;
    const char *name, *what, *head, *next;
} radio_faults[] = {
    {REGISTERS_ABSENT, "radio_absent", "the radio chip doesn't answer (all 0 or all 1)",
     "The radio chip doesn't answer.",
     "Measure 3.3 V at the module. Power off, then: check ground, CE, CSN and the three SPI wires "
     "one "
     "by one; try another module."},
    {REGISTERS_DEFAULT, "radio_forgot", "the radio chip stands at its power-on settings",
     "The radio chip forgets its settings.",
     "Its supply dips: a capacitor of 10 to 100 uF at its pins (mind polarity; 6.3 V or more), "
     "short "
     "leads, its own regulator; fit them with the power off. Right after a start: is it set up?"},
    {REGISTERS_DIFFER, "radio_differs", "the radio chip holds other settings than were written",
     "The radio chip contradicts the program.",
     "Shorter leads and a slower SPI clock (1 MHz); 250 kbit/s needs a plus type: try 1 Mbit/s at "
     "both ends."},
};

static bool packets_seen(const struct bind *b) {
    return b->watch[BIND_ON].got + b->watch[BIND_AGAIN].got + b->watch[BIND_AWAY].got +
               b->watch[BIND_LOOK].got >=
           BIND_PACKETS;
}

/* The fault in a fifth of the reports is no accident of a start. */
static enum climb judge_radio(const struct bind *b, struct trial_outcome *out) {
    uint64_t reg[4], told, reinits;
    add_up(b, reg, &told, &reinits);
    if (told == 0) {
        trial_aside(trial_find(out, "radio", TRIAL_NOT_SHOWN,
                               "Whether the radio chip answers can't be told without reg."))
            ->missing = "reg";
        return CLIMB_ON;
    }
    for (size_t i = 0; i < sizeof radio_faults / sizeof *radio_faults; i++) {
        uint64_t count = reg[radio_faults[i].registers];
        if (count * 5 < told)
            continue;
        struct trial_finding *f = trial_find(
            out, radio_faults[i].name, TRIAL_FAILED,
            "In %llu of %llu reports %s; it was set up anew %llu times.", (unsigned long long)count,
            (unsigned long long)told, radio_faults[i].what, (unsigned long long)reinits);
        enum climb climb = end_with(out, f, radio_faults[i].head, radio_faults[i].next);
        return packets_seen(b) ? CLIMB_ON : climb;
    }
    /* Some may be of a start; more than one in fifty are no accident. */
    bool kept = reg[REGISTERS_OK] * 50 >= told * 49;
    trial_find(out, "radio", kept ? TRIAL_PASSED : TRIAL_NOT_SHOWN,
               "The radio chip kept its settings in %llu of %llu reports.",
               (unsigned long long)reg[REGISTERS_OK], (unsigned long long)told);
    return CLIMB_ON;
}

static enum climb judge_read_back(const struct bind *b, struct trial_outcome *out) {
    char value[60];
    struct text text;
    bool sure;
    text_init(&text, value, sizeof value);
    if (!ends_absurd(&b->ends.receiver, &sure, &text))
        return CLIMB_ON;
    if (!sure) {
        trial_aside(
            trial_find(out, "read_back", TRIAL_NOT_SHOWN,
                       "The id line says %s, which no radio of the nRF24L01+ kind can hold; "
                       "yours may be another.",
                       value));
        return CLIMB_ON;
    }
    struct trial_finding *f = trial_find(out, "read_back", TRIAL_FAILED,
                                         "The id line says %s as read back from the radio: that "
                                         "can't be.",
                                         value);
    return end_with(out, f, "The radio chip's answers can't be.", radio_faults[0].next);
}

/* --- the switch ------------------------------------------------------------------------------- */

static enum climb judge_steps(const struct bind *b, struct trial_outcome *out) {
    const struct bind_watch *on = &b->watch[BIND_ON], *off = &b->watch[BIND_OFF];
    if (!bind_seen(on))
        return not_seen(out, on, "on", "The transmitter switched on");
    if (!bind_seen(off))
        return not_seen(out, off, "off", "The transmitter switched off");
    if (off->reports < 5 || off->to_us - off->report_us > BIND_QUIET_MS * 1000) {
        struct trial_finding *f = trial_find(
            out, "off", TRIAL_NOT_SHOWN,
            "With the transmitter off hardly a report came: was the receiver switched off?");
        return end_with(out, f, "Not shown: the receiver fell silent with the transmitter.",
                        "Run the trial again; only the transmitter is switched off and on.");
    }
    const struct bind_watch *again = &b->watch[BIND_AGAIN];
    if (!bind_seen(again))
        return not_seen(out, again, "again", "The transmitter switched on again");
    return on->tells || again->tells ? CLIMB_ON : lacks(out, "packets", "got", "Packets");
}

/* Packets that came only right after the answer: a slow hand. */
static bool stopped(const struct bind_watch *off) {
    return off->got == 0 ||
           (off->packet_us != TIME_UNKNOWN && off->to_us - off->packet_us >= BIND_QUIET_MS * 1000);
}

static bool same_sequence(const struct bind *b) {
    const struct bind_watch *on = &b->watch[BIND_ON], *off = &b->watch[BIND_OFF];
    for (int i = 0; i < BIND_LINEAGES; i++)
        if (off->hits[i] > 0 && on->hits[i] > 0)
            return true;
    return false;
}

static bool phantoms(const struct bind *b) {
    const struct bind_watch *off = &b->watch[BIND_OFF];
    double rate = (double)off->got / seconds(off);
    double most = b->rate_hz > 0 ? 3 * b->rate_hz : 300;
    return rate > most || off->new_lineages >= 5;
}

static enum climb judge_stranger(const struct bind *b, struct trial_outcome *out) {
    const struct bind_watch *on = &b->watch[BIND_ON], *off = &b->watch[BIND_OFF];
    bool two = bind_two_senders(on) || bind_two_senders(&b->watch[BIND_AGAIN]);
    if (!two && same_sequence(b)) {
        struct trial_finding *f = trial_find(
            out, "off", TRIAL_NOT_SHOWN,
            "The same sequence of packets went on after \"off\" (%llu came): the switch wasn't "
            "moved, or the packets were never this transmitter's.",
            (unsigned long long)off->got);
        return end_with(
            out, f, "Not shown: the packets didn't stop with the switch.",
            "Propeller off, model held: another sender may drive it. Take the transmitter's "
            "battery "
            "out at \"off\"; packets that still come are another's: change the address.");
    }
    struct trial_finding *f = trial_find(
        out, "stranger", TRIAL_FAILED,
        two ? "With the transmitter on two senders' packets came; with it off one went on, %llu "
              "packets "
              "in %.0f s."
            : "With the transmitter off packets of another sequence came, %llu in %.0f s.",
        (unsigned long long)off->got, seconds(off));
    return end_with(
        out, f, "A stranger sends on your address.",
        "Propeller off, model held: it can drive the model. Find it, or choose another address at "
        "both ends; let each packet carry a link ID.");
}

static enum climb judge_off(const struct bind *b, struct trial_outcome *out) {
    const struct bind_watch *off = &b->watch[BIND_OFF];
    if (stopped(off))
        return CLIMB_ON;
    if (phantoms(b)) {
        struct trial_finding *f = trial_find(
            out, "phantoms", TRIAL_FAILED,
            "With the transmitter off %.0f packets a second \"came\", in no sequence: nobody sent "
            "them.",
            (double)off->got / seconds(off));
        return end_with(
            out, f, "The receiver sees packets that nobody sends.",
            "A data line that floats reads as packets: check the SPI wires and the "
            "module; let the program refuse pipe numbers over 5 and lengths of 0 or over "
            "32.");
    }
    if (!b->seq_known) {
        struct trial_finding *f = trial_find(
            out, "off", TRIAL_NOT_SHOWN,
            "%llu packets came with the transmitter off; whether the switch was moved or "
            "a stranger sends can't be told without seq.",
            (unsigned long long)off->got);
        f->missing = "seq";
        return end_with(out, f, "Not shown: the packets didn't stop with the switch.",
                        "Let each packet carry a sequence number, and the receiver print seq.");
    }
    return judge_stranger(b, out);
}

/* --- no packets ------------------------------------------------------------------------------- */

static bool refused_rises(const struct bind_watch *w) {
    return bind_seen(w) && w->refused_known && w->refused >= 5;
}

/* Rejected packets are energy; on and on again must show them, or chance may have done it. */
static enum climb rejected_once(const struct bind *b, struct trial_outcome *out) {
    struct trial_finding *f = trial_find(
        out, "refused", TRIAL_NOT_SHOWN,
        "Packets were rejected with the transmitter on, but not surely both times (%llu, "
        "then %llu; %llu with it off).",
        (unsigned long long)b->watch[BIND_ON].refused,
        (unsigned long long)b->watch[BIND_AGAIN].refused,
        (unsigned long long)b->watch[BIND_OFF].refused);
    return end_with(
        out, f, "Not shown: packets were rejected, but not at each step.",
        "Run the trial again and press Enter only when the switch has been moved; compare "
        "payload, check and link ID of both ends.");
}

static enum climb judge_refused(const struct bind *b, struct trial_outcome *out) {
    const struct bind_watch *on = &b->watch[BIND_ON], *off = &b->watch[BIND_OFF];
    const struct bind_watch *again = &b->watch[BIND_AGAIN];
    if (!on->refused_known && !again->refused_known)
        return CLIMB_ON; /* named below, where it matters */
    if (refused_rises(off)) {
        struct trial_finding *f = trial_find(
            out, "refused", TRIAL_FAILED,
            "%llu packets were rejected with the transmitter off: they are a stranger's.",
            (unsigned long long)off->refused);
        return end_with(
            out, f, "A stranger's packets are rejected.",
            "Propeller off, model held: another sender may come through. Choose another "
            "address at both ends, then try again.");
    }
    if (on->refused + again->refused == 0)
        return CLIMB_ON;
    if (!refused_rises(on) || !refused_rises(again))
        return rejected_once(b, out);
    struct trial_finding *f = trial_find(
        out, "refused", TRIAL_FAILED,
        "Packets come with the switch and all are rejected (%llu, then %llu; none with it off): "
        "their length, check or link ID is wrong.",
        (unsigned long long)on->refused, (unsigned long long)again->refused);
    return end_with(
        out, f, "Packets come, but the receiver rejects them.",
        "Compare the payload's structure and the link ID in both programs; use types of "
        "a fixed width and check the length.");
}

static void say_mismatch(const struct bind *b, struct trial_outcome *out) {
    char names[120], next[200];
    struct text text;
    text_init(&text, names, sizeof names);
    if (ends_differ(&b->ends) > 0) {
        ends_names(&b->ends, &text);
        snprintf(next, sizeof next, "Make these the same at both ends: %s.", names);
    } else if (b->ends.receiver.known && b->ends.transmitter.known) {
        snprintf(next, sizeof next,
                 "Both id lines agree: do they tell what was read back from the "
                 "radio, or only what was asked for?");
    } else {
        snprintf(
            next, sizeof next,
            "Compare the transmitter's id line (here, or --other FILE). For one test only, "
            "propeller "
            "off: address E7E7E7E7E7, the chip's at power-on, which others have too. Then your own "
            "again.");
    }
    next_step(out, next);
}

static enum climb judge_mismatch(const struct bind *b, struct trial_outcome *out) {
    const struct bind_watch *on = &b->watch[BIND_ON], *off = &b->watch[BIND_OFF];
    struct trial_finding *f = trial_find(
        out, "mismatch", TRIAL_FAILED,
        "The carrier follows the switch (%llu of %llu looks on, %llu of %llu off), but no packet "
        "comes: address, rate, CRC or address width differ.",
        (unsigned long long)on->noise_hits, (unsigned long long)on->noise_looks,
        (unsigned long long)off->noise_hits, (unsigned long long)off->noise_looks);
    say_mismatch(b, out);
    return end_with(out, f, "Energy comes, but no packets: the ends differ.", "");
}

static enum climb judge_near(const struct bind *b, struct trial_outcome *out) {
    const struct bind_watch *near = &b->watch[BIND_NEAR];
    if (!bind_seen(near) || near->got < BIND_PACKETS)
        return CLIMB_ON;
    struct trial_finding *f = trial_find(
        out, "near_only", TRIAL_FAILED,
        "By your word of the distance packets come at half a metre (%llu), and none at 2 m.",
        (unsigned long long)near->got);
    if (ends_differ(&b->ends) > 0)
        say_mismatch(b, out);
    return end_with(
        out, f, "Linked only below 1 m.",
        "Another carrier's image, or no antenna: compare mhz of both ends; power off, then look at "
        "the antennas and their plugs. A bind counts only at 5 m.");
}

static enum climb judge_outage(const struct bind *b, struct trial_outcome *out) {
    enum bind_energy energy = bind_energy(b);
    const struct bind_watch *off = &b->watch[BIND_OFF];
    if (energy == ENERGY_FOLLOWS)
        return judge_mismatch(b, out);
    if (judge_near(b, out) == CLIMB_END)
        return CLIMB_END;
    if (off->noise_looks == 0)
        return lacks(out, "energy", "noise", "No packet came; whether energy does");
    if (!b->watch[BIND_ON].refused_known && !b->watch[BIND_AGAIN].refused_known)
        trial_aside(trial_find(out, "refused", TRIAL_NOT_SHOWN,
                               "Whether packets are rejected can't be told without refused."))
            ->missing = "refused";
    if (energy == ENERGY_ALWAYS) {
        struct trial_finding *f =
            trial_find(out, "carrier_always", TRIAL_FAILED,
                       "The carrier is busy with the transmitter off too: %llu of %llu looks.",
                       (unsigned long long)off->noise_hits, (unsigned long long)off->noise_looks);
        return end_with(out, f, "Somebody else fills the carrier.",
                        "Move 5 m away, laptop and phones too, or take another carrier within "
                        "2400..2483 MHz at both ends.");
    }
    if (energy == ENERGY_UNKNOWN) {
        struct trial_finding *f = trial_find(
            out, "energy", TRIAL_NOT_SHOWN,
            "Whether the carrier follows the switch isn't plain: once it did, once not.");
        return end_with(out, f, "Not shown: the carrier detector is in two minds.",
                        "Run the trial again, away from other radios.");
    }
    struct trial_finding *f =
        trial_find(out, "no_energy", TRIAL_FAILED,
                   "No packet came, and no carrier above -64 dBm with the transmitter on.");
    return end_with(out, f, "No energy comes from the transmitter.",
                    "Does it run (its light, its own serial lines, its current)? Antenna fitted? "
                    "Same carrier (mhz) at both ends? Reduced power?");
}

/* --- packets ---------------------------------------------------------------------------------- */

static double percent(double share) {
    return 100 * share;
}

/* Heard always, packets poor, much better farther away. */
static enum climb judge_close(const struct bind *b, struct trial_outcome *out) {
    const struct bind_watch *near = &b->watch[BIND_AGAIN], *away = &b->watch[BIND_AWAY];
    double lost = bind_loss(near), later = bind_loss(away);
    if (!bind_seen(away) || near->got + near->lost < 50 || lost < 0.1 || away->got < BIND_PACKETS ||
        later < 0 || later * 3 > lost)
        return CLIMB_ON;
    if (near->heard_looks == 0)
        return lacks(out, "too_close", "heard", "Whether the transmitter was too close");
    if ((double)near->heard_hits < 0.9 * (double)near->heard_looks)
        return CLIMB_ON;
    struct trial_finding *f = trial_find(
        out, "too_close", TRIAL_FAILED,
        "Near by %.0f %% of the packets were lost though the carrier was heard at %.0f %% of them; "
        "5 m away %.1f %%: too strong, not too weak.",
        percent(lost), percent((double)near->heard_hits / (double)near->heard_looks),
        percent(later));
    return end_with(out, f, "Too close: the receiver is overloaded.",
                    "The binding itself is right. Test from 2 m or more, strong modules at their "
                    "lowest step, never nearer than 0.3 m.");
}

static enum climb judge_away(const struct bind *b, struct trial_outcome *out) {
    const struct bind_watch *again = &b->watch[BIND_AGAIN], *away = &b->watch[BIND_AWAY];
    if (again->got < BIND_PACKETS) {
        struct trial_finding *f = trial_find(
            out, "again", TRIAL_NOT_SHOWN,
            "Packets came at first, but not when the transmitter was switched on again.");
        return end_with(
            out, f, "Not shown: the second start brought no link.",
            "Start both ends in either order, several times: does it depend on which is "
            "first?");
    }
    trial_find(out, "switch", TRIAL_PASSED,
               "Packets came with the switch on, stopped with it off and came again.");
    if (!bind_seen(away) || !away->answered) {
        not_seen(out, away, "away", "The link at 5 m");
        next_step(out, "");
        return CLIMB_END;
    }
    if (away->got >= BIND_PACKETS && bind_loss(away) < 0.2)
        return CLIMB_ON;
    bool gone = away->got < BIND_PACKETS || bind_loss(away) > 0.8;
    struct trial_finding *f =
        trial_find(out, gone ? "near_only" : "away", gone ? TRIAL_FAILED : TRIAL_NOT_SHOWN,
                   "At 5 m %llu packets came and %llu were known to be lost.",
                   (unsigned long long)away->got, (unsigned long long)away->lost);
    return end_with(
        out, f, gone ? "The link ends before 5 m." : "Not shown: a poor link at 5 m.",
        "Another carrier's image, a missing antenna or a starved module: compare mhz of both ends; "
        "power off, then look at antennas and plugs, then at the modules' supply.");
}

static enum climb judge_bound(const struct bind *b, struct trial_outcome *out) {
    const struct bind_watch *away = &b->watch[BIND_AWAY];
    double lost = bind_loss(away);
    char share[40] = "";
    if (lost >= 0)
        snprintf(share, sizeof share, ", %.1f %% lost", percent(lost));
    trial_find(out, "bound", TRIAL_PASSED, "At 5 m or more %llu packets came in %.0f s%s.",
               (unsigned long long)away->got, seconds(away), share);
    headline(out, "Bound: the packets follow your switch, at 5 m too.");
    return CLIMB_ON;
}

static enum climb judge_packets(const struct bind *b, struct trial_outcome *out) {
    bool came = b->watch[BIND_ON].got >= BIND_PACKETS || b->watch[BIND_AGAIN].got >= BIND_PACKETS;
    if (!came && judge_refused(b, out) == CLIMB_END)
        return CLIMB_END;
    return came ? CLIMB_ON : judge_outage(b, out);
}

/* --- beside the ladder ------------------------------------------------------------------------ */

static void judge_layout(const struct bind *b, struct trial_outcome *out) {
    struct layout_hint hint;
    const struct identity *id = &b->ends.receiver.id;
    layout_read(&b->layout, b->ends.receiver.known && id->raw_unit, &hint);
    if (hint.kind == LAYOUT_NONE)
        return;
    if (hint.kind == LAYOUT_NORMAL) {
        trial_find(out, "layout", TRIAL_PASSED, "Every channel value is one of a servo pulse.");
    } else if (hint.says == NULL) {
        trial_aside(trial_find(out, "layout", TRIAL_NOT_SHOWN,
                               "Some channel values are outside 800..2200, and no usual mistake of "
                               "the payload's layout explains them all."));
    } else {
        trial_find(out, "layout", TRIAL_FAILED, "%s %s.", hint.says, hint.sum);
        if (out->headline[0] == '\0' || strncmp(out->headline, "Bound", 5) == 0)
            snprintf(out->headline, sizeof out->headline,
                     "Packets come, but their values can't be.");
        next_step(out, hint.cure);
    }
}

/* Every fact that differs is one with which no packet could have come. */
static bool denied_by_packets(const struct bind *b) {
    if (b->watch[BIND_AGAIN].got < BIND_PACKETS)
        return false;
    for (uint32_t i = 0; i < ENDS_ROWS; i++) {
        struct ends_row row;
        ends_row(&b->ends, i, &row);
        if (row.mark == ENDS_DIFFERS && !row.blocks)
            return false;
    }
    return true;
}

static void judge_ends(const struct bind *b, struct trial_outcome *out) {
    char names[160];
    struct text text;
    text_init(&text, names, sizeof names);
    if (!b->ends.receiver.known || !b->ends.transmitter.known) {
        trial_aside(trial_find(out, "ends", TRIAL_NOT_SHOWN,
                               "Whether both ends' settings agree: the %s's id line wasn't seen.",
                               b->ends.receiver.known ? "transmitter" : "receiver"))
            ->missing = "id";
    } else if (ends_shared(&b->ends) == 0) {
        trial_aside(trial_find(out, "ends", TRIAL_NOT_SHOWN,
                               "Whether both ends' settings agree: their id lines have no key in "
                               "common."));
    } else if (ends_differ(&b->ends) == 0) {
        trial_find(out, "ends", TRIAL_PASSED, "Both id lines agree in all that both of them say.");
    } else if (denied_by_packets(b)) {
        ends_names(&b->ends, &text);
        trial_aside(trial_find(out, "ends", TRIAL_NOT_SHOWN,
                               "The id lines differ in %s, yet packets come: one of them doesn't "
                               "tell what the radio holds.",
                               names));
    } else {
        ends_names(&b->ends, &text);
        trial_find(out, "ends", TRIAL_FAILED, "The two ends differ in %s.", names);
        if (strncmp(out->headline, "Bound", 5) == 0)
            snprintf(out->headline, sizeof out->headline,
                     "Packets come, but the two ends differ in their settings.");
        say_mismatch(b, out);
    }
}

static void judge_order(const struct bind *b, struct trial_outcome *out, const char *name,
                        const struct bind_order *o, const char *what, uint32_t never) {
    if (o->starts == 0) {
        struct trial_finding *f = trial_aside(
            trial_find(out, name, TRIAL_NOT_SHOWN, "%s: no such start was seen.", what));
        if (!b->seq_known)
            f->missing = "seq";
        return;
    }
    if (never > 0) {
        trial_find(out, name, TRIAL_FAILED, "%s: %lu of %lu starts brought no packet in 5 s.", what,
                   (unsigned long)never, (unsigned long)o->starts);
        next_step(out,
                  "Links in one order only: does the program set its radio up again, and begin "
                  "its hops anew, when nothing is heard?");
        return;
    }
    if (o->linked == 0)
        return;
    bool good = o->high <= b->rules.recover_ms;
    struct trial_finding *f = trial_find(
        out, name, good ? TRIAL_PASSED : TRIAL_FAILED,
        "%s: the first packet after %.0f to %.0f ms in %lu of %lu starts; the limit is %ld ms.",
        what, o->low, o->high, (unsigned long)o->linked, (unsigned long)o->starts,
        (long)b->rules.recover_ms);
    trial_measured(f, o->low, o->high, "ms");
}

static void judge_orders(const struct bind *b, struct trial_outcome *out) {
    const struct bind_watch *w = &b->watch[BIND_TX_FIRST];
    bool waited = b->boot_us != TIME_UNKNOWN && w->to_us - b->boot_us >= 5000000;
    uint32_t never = b->tx_first.starts - b->tx_first.linked;
    never -= never > 0 && !waited;
    judge_order(b, out, "receiver_first", &b->rx_first, "Receiver on first", 0);
    judge_order(b, out, "transmitter_first", &b->tx_first, "Transmitter on first", never);
}

void bind_judge(const void *state, struct trial_outcome *out) {
    static enum climb (*const rungs[])(const struct bind *, struct trial_outcome *) = {
        judge_caution, judge_bytes, judge_lines,   judge_reports, judge_radio, judge_read_back,
        judge_steps,   judge_off,   judge_packets, judge_close,   judge_away,  judge_bound};
    const struct bind *b = state;
    size_t rung = 0;
    while (rung < sizeof rungs / sizeof *rungs && rungs[rung](b, out) == CLIMB_ON)
        rung++;
    bool climbed = rung == sizeof rungs / sizeof *rungs;
    if (b->watch[BIND_LOOK].reports > 0) {
        judge_ends(b, out);
        judge_layout(b, out);
    }
    if (climbed)
        judge_orders(b, out);
    out->verdict = trial_sum(out);
    if (out->verdict == TRIAL_PASSED)
        next_step(out, "Now the failsafe trial: after each new binding it is unproven.");
}
