#include "simulator/tug.h"

#include <stdio.h>

#include "emit/emit.h"

enum {
    THROTTLE_LOW_MAX = 1050, /* "seen low" */
    ID_EVERY_US = 5000000,
    SLOW_KEYS_EVERY = 5, /* reports: what changes slowly goes out 4 times a second */
    MAST_LIGHT = 6,
    RADAR = 7,
};

static const int32_t safe[TUG_OUTPUTS] = {1500, 1000, 1500, EMIT_HOLD, 1000, 1000, 1500, EMIT_OFF};
static const uint8_t address[5] = {0x54, 0x75, 0x67, 0x2D, 0x37};
static const char *const cause_names[] = {"power", "reset", "brownout", "watchdog"};

static void set_outputs(struct tug *t) {
    if (t->fs || t->lock) {
        for (int i = 0; i < TUG_OUTPUTS; i++)
            if (safe[i] != EMIT_HOLD)
                t->outputs[i] = safe[i];
        return;
    }
    for (int i = 0; i < STICKS; i++)
        t->outputs[i] = t->newest.in[i];
    t->outputs[MAST_LIGHT] = t->newest.in[LIGHT] > 1500 ? 1900 : 1100;
    t->outputs[RADAR] = 1300;
}

static void start_interval(struct tug *t) {
    t->outcomes = 0;
    t->gap_us = 0;
    t->mvmin = INT32_MAX;
    t->heard_hits = t->heard_looks = t->noise_hits = t->noise_looks = 0;
    t->saw_default = false;
}

static void print_identity(struct cable *cable) {
    struct emit e;
    emit_begin(&e, cable_byte, cable, "id");
    emit_word(&e, "end", "rx");
    emit_word(&e, "fw", "tug-rx-1");
    emit_u32(&e, "rate", 1000000 / SHORE_PERIOD_US);
    emit_u32(&e, "chans", TUG_OUTPUTS);
    emit_word(&e, "unit", "us");
    emit_list(&e, "span", (const int32_t[]){1000, 2000}, 2);
    emit_list(&e, "safe", safe, TUG_OUTPUTS);
    emit_u32(&e, "seqmod", 65536);
    emit_u32(&e, "mhz", 2450);
    emit_u32(&e, "hop", 1);
    emit_u32(&e, "kbps", 1000);
    emit_hex(&e, "addr", address, sizeof address);
    emit_u32(&e, "aw", sizeof address);
    emit_u32(&e, "crc", 2);
    emit_u32(&e, "size", 20);
    emit_u32(&e, "ack", 0);
    emit_end(&e);
}

void tug_boot(struct tug *t, int64_t now_us, enum tug_cause cause, bool sweep,
              struct cable *cable) {
    struct emit e;
    *t = (struct tug){.up = true,
                      .bare = t->bare,
                      .words = t->words,
                      .radio = t->radio,
                      .boot_us = now_us,
                      .fs = true,
                      .lock = true,
                      .mv = t->mv,
                      .id_us = now_us + ID_EVERY_US};
    for (int i = 0; i < TUG_OUTPUTS; i++)
        t->outputs[i] = EMIT_OFF; /* a held output has nothing to hold yet */
    set_outputs(t);
    start_interval(t);
    if (t->bare)
        return;
    emit_begin(&e, cable_byte, cable, "boot");
    emit_word(&e, "cause", cause_names[cause]);
    emit_end(&e);
    if (sweep) {
        emit_begin(&e, cable_byte, cable, "say");
        emit_text(&e, "sweep of the band, no link meanwhile");
        emit_end(&e);
    } else {
        print_identity(cable);
    }
}

void tug_sweep(const uint8_t hits[TUG_SWEEP_CARRIERS], struct cable *cable) {
    enum { A_LINE = 14 };
    for (int from = 0; from < TUG_SWEEP_CARRIERS; from += A_LINE) {
        struct emit e;
        int32_t value[A_LINE];
        for (int i = 0; i < A_LINE; i++)
            value[i] = hits[from + i];
        emit_begin(&e, cable_byte, cable, "air");
        emit_u32(&e, "from", (uint32_t)(TUG_SWEEP_FIRST + from));
        emit_u32(&e, "step", 1);
        emit_u32(&e, "per", TUG_SWEEP_LOOKS);
        emit_list(&e, "hits", value, A_LINE);
        emit_end(&e);
    }
    print_identity(cable);
}

void tug_down(struct tug *t) {
    t->up = false;
    for (int i = 0; i < TUG_OUTPUTS; i++)
        t->outputs[i] = EMIT_OFF;
}

static void push_outcome(struct tug *t, bool arrived) {
    uint8_t carry = arrived;
    for (int i = 0; i < 8; i++) {
        uint8_t next = t->history[i] >> 7;
        t->history[i] = (uint8_t)(t->history[i] << 1 | carry);
        carry = next;
    }
    if (t->outcomes < 64)
        t->outcomes++;
}

/* What is missing between two good packets is known now; across a transmitter's start, nothing. */
static void count_packet(struct tug *t, const struct packet *packet) {
    uint32_t missing = 0;
    if (t->have_packet && packet->tboot == t->newest.tboot)
        missing = (uint16_t)(packet->seq - t->newest.seq - 1);
    t->lost += missing;
    t->got++;
    for (uint32_t i = missing < 64 ? missing : 64; i > 0; i--)
        push_outcome(t, false);
    push_outcome(t, true);
}

static void note_gap(struct tug *t, int64_t now_us) {
    if (t->have_packet && now_us - t->last_us > t->gap_us)
        t->gap_us = now_us - t->last_us;
}

static bool is_repeat(const struct tug *t, const struct packet *packet) {
    return t->have_packet && packet->tboot == t->newest.tboot && packet->seq == t->newest.seq;
}

void tug_hear(struct tug *t, int64_t now_us, const struct packet *packet, bool carrier) {
    if (packet->owner != SHORE_OWNER) {
        t->refused++;
        return;
    }
    if (is_repeat(t, packet))
        return;
    t->heard_looks++;
    t->heard_hits += carrier;
    count_packet(t, packet);
    note_gap(t, now_us);
    t->have_packet = true;
    t->last_us = now_us;
    t->newest = *packet;
    t->fs = false;
    if (t->lock && packet->in[THROTTLE] <= THROTTLE_LOW_MAX) {
        t->lock = false;
        t->say = "throttle seen low: outputs free";
    }
    set_outputs(t);
}

void tug_look(struct tug *t, bool carrier) {
    t->noise_looks++;
    t->noise_hits += carrier;
}

bool tug_expects(const struct tug *t, int64_t now_us) {
    if (!t->have_packet || t->fs)
        return false;
    int64_t phase = (now_us - t->last_us) % SHORE_PERIOD_US;
    return phase < 1500 || phase > SHORE_PERIOD_US - 1500;
}

void tug_supply(struct tug *t, int32_t mv) {
    t->mv = mv;
    if (mv < t->mvmin)
        t->mvmin = mv;
}

void tug_failsafe(struct tug *t) {
    t->fs = t->lock = true;
    t->fsn++;
    t->say = "nothing heard for 500 ms: failsafe";
    set_outputs(t);
}

bool tug_care(struct tug *t) {
    t->reinit += t->radio == RADIO_FORGETS || t->radio == RADIO_DIFFERS;
    if (!t->radio_forgot)
        return false;
    t->radio_forgot = false;
    t->saw_default = true;
    t->reinit++;
    t->skip = true;
    t->say = "radio had lost its settings: set up again";
    return true;
}

static void print_bare(const struct tug *t, struct cable *cable) {
    char text[120];
    int len = 0;
    for (int i = 0; i < TUG_OUTPUTS; i++)
        len += snprintf(text + len, sizeof text - (size_t)len, "%s%ld", i > 0 ? "," : "",
                        t->outputs[i] == EMIT_OFF ? 0L : (long)t->outputs[i]);
    snprintf(text + len, sizeof text - (size_t)len, "\r\n");
    cable_text(cable, text);
}

static const char *registers(const struct tug *t) {
    static const char *const names[] = {[RADIO_WELL] = "ok",
                                        [RADIO_ABSENT] = "absent",
                                        [RADIO_FORGETS] = "default",
                                        [RADIO_DIFFERS] = "differs",
                                        [RADIO_FLOATS] = "ok"};
    return t->saw_default ? "default" : names[t->radio];
}

/* What a line that floats reads as: a packet each time that the program looks, all ones but for
 * what the neighbouring wires couple into it. */
static void read_phantoms(struct tug *t, int64_t now_us) {
    enum { A_REPORT = 15 };
    for (uint32_t i = 0; i < A_REPORT; i++) {
        uint32_t noise = (t->got + 1) * 2654435761u;
        struct packet packet = {.owner = SHORE_OWNER,
                                .tboot = (uint16_t)(noise >> 16),
                                .seq = (uint16_t)(noise >> 7),
                                .tmv = 65535,
                                .tstep = 4};
        for (int k = 0; k < STICKS; k++)
            packet.in[k] = 65535;
        tug_hear(t, now_us - (A_REPORT - 1 - (int64_t)i) * TUG_REPORT_US / A_REPORT, &packet,
                 false);
    }
}

static uint32_t ms(int64_t us) {
    return (uint32_t)(us / 1000);
}

static void print_packets(const struct tug *t, int64_t now_us, struct emit *e) {
    if (t->have_packet) {
        emit_u32(e, "seq", t->newest.seq);
        emit_u32(e, "tboot", t->newest.tboot);
    }
    emit_u32(e, "got", t->got);
    emit_u32(e, "lost", t->lost);
    emit_pattern(e, "pat", t->history, (uint8_t)t->outcomes);
    if (t->have_packet) {
        emit_u32(e, "age", ms(now_us - t->last_us));
        emit_u32(e, "gap", ms(t->gap_us));
    }
    emit_u32(e, "fs", t->fs);
    emit_u32(e, "fsn", t->fsn);
}

static void print_slow(const struct tug *t, struct emit *e) {
    emit_u32(e, "refused", t->refused);
    emit_u32(e, "reinit", t->reinit);
    if (t->have_packet) {
        emit_u32(e, "tmv", t->newest.tmv);
        emit_pair(e, "tstep", t->newest.tstep, 4);
    }
}

static void print_report(struct tug *t, int64_t now_us, struct cable *cable) {
    struct emit e;
    note_gap(t, now_us); /* the one still open */
    emit_begin(&e, cable_byte, cable, "rx");
    emit_u32(&e, "n", ++t->n);
    emit_u32(&e, "t", ms(now_us - t->boot_us));
    emit_list(&e, "ch", t->outputs, TUG_OUTPUTS);
    if (t->have_packet)
        emit_list(&e, "in", t->newest.in, STICKS);
    emit_u32(&e, "lock", t->lock);
    print_packets(t, now_us, &e);
    emit_u32(&e, "mv", (uint32_t)t->mv);
    emit_u32(&e, "mvmin", (uint32_t)(t->mvmin < t->mv ? t->mvmin : t->mv));
    emit_pair(&e, "heard", t->heard_hits, t->heard_looks);
    emit_pair(&e, "noise", t->noise_hits, t->noise_looks);
    emit_word(&e, "reg", registers(t));
    if (t->n % SLOW_KEYS_EVERY == 1)
        print_slow(t, &e);
    emit_end(&e);
    start_interval(t);
}

static void print_say(struct tug *t, struct cable *cable) {
    struct emit e;
    emit_begin(&e, cable_byte, cable, "say");
    emit_text(&e, t->say);
    emit_end(&e);
    t->say = NULL;
}

void tug_report(struct tug *t, int64_t now_us, struct cable *cable) {
    if (t->bare) {
        print_bare(t, cable);
        return;
    }
    if (t->skip) { /* what happened goes into the next one */
        t->skip = false;
        return;
    }
    if (t->radio == RADIO_FLOATS)
        read_phantoms(t, now_us);
    if (!t->words)
        print_report(t, now_us, cable);
    if (t->say != NULL)
        print_say(t, cable);
    if (now_us >= t->id_us) {
        t->id_us += ID_EVERY_US;
        print_identity(cable);
    }
}
