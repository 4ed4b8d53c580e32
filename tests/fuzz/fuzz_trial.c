/* Any course of a guided trial: bytes tell what the receiver does, what the wire does and what the
 * person answers, in time; trial_drive.h plays it, and what was recorded is judged again, which
 * must come to the same.
 *
 * The first two bytes: the trial, and the limits; then three bytes an act: what, with what, and how
 * many reports pass until the next.  A minute of it at most, since each takes about a second. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "../unit/trial_drive.h"
#include "telemetry/words.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { CHANNELS = 6, ANSWERS = 60, REPORT_MS = 100, PACKETS = 6, REPORTS = 500 };

struct receiver {
    uint32_t n, t, seq, got, lost, fsn, tboot, reinit, age;
    uint32_t fs, lock, reg, mv, dip, noise, step;
    int32_t ch[CHANNELS], in[CHANNELS];
    bool dead;  /* no packet arrives */
    bool mute;  /* no line arrives */
    bool bare;  /* the report has few keys */
    double now; /* s */
};

static const int32_t levels[] = {1000, 1010, 1100, 1250, 1495, 1500,  1503, 1520,
                                 1750, 1900, 1990, 2000, 2100, -3000, 0,    65535};

static int32_t level(uint8_t byte) {
    return levels[byte & 15u];
}

static void packets(struct receiver *r) {
    r->age += REPORT_MS;
    if (r->dead)
        return;
    r->seq = (r->seq + PACKETS) % 65536;
    r->got += PACKETS;
    r->age = 5;
    if (r->fs == 0)
        memcpy(r->ch, r->in, sizeof r->ch);
}

static void list(char *out, size_t room, const char *key, const int32_t *values) {
    size_t len = strlen(out);
    for (int i = 0; i < CHANNELS; i++)
        len += (size_t)snprintf(out + len, room - len, "%s%d", i == 0 ? key : ",", values[i]);
}

static void report(struct receiver *r, struct drive *d) {
    char line[400] = "";
    packets(r);
    r->n++;
    r->t += REPORT_MS;
    r->now += REPORT_MS / 1000.0;
    if (r->mute)
        return;
    snprintf(line, sizeof line, "rx n=%u t=%u", r->n, r->t);
    list(line, sizeof line, " ch=", r->ch);
    size_t len = strlen(line);
    if (!r->bare) {
        list(line, sizeof line, " in=", r->in);
        len = strlen(line);
        snprintf(line + len, sizeof line - len,
                 " lock=%u seq=%u tboot=%u got=%u lost=%u age=%u gap=%u fs=%u fsn=%u mv=%u "
                 "mvmin=%u heard=%u/9 noise=%u/9 reg=%s reinit=%u tstep=%u/4",
                 r->lock, r->seq, r->tboot, r->got, r->lost, r->age, r->age, r->fs, r->fsn, r->mv,
                 r->mv - r->dip, r->dead ? 0 : 9, r->noise,
                 registers_name((enum radio_registers)r->reg), r->reinit, r->step);
    } else
        snprintf(line + len, sizeof line - len, " got=%u", r->got);
    drive_line(d, r->now, line);
}

static void restart(struct receiver *r, struct drive *d, uint8_t cause) {
    char line[60];
    r->n = r->t = r->got = r->lost = r->fsn = r->reinit = 0;
    r->fs = r->lock = 1;
    r->now += 0.2;
    snprintf(line, sizeof line, "boot cause=%s", boot_cause_name((enum boot_cause)(cause % 5)));
    drive_line(d, r->now, line);
}

static void identify(struct receiver *r, struct drive *d, uint8_t what) {
    char line[200];
    snprintf(line, sizeof line,
             "id end=%s fw=tug-%d rate=60 chans=%d unit=us span=1000,2000 safe=1500,1000,hold,off "
             "seqmod=65536 mhz=%d hop=1 kbps=%d addr=%02X aw=5 crc=%d size=%d ack=%d",
             (what & 1) != 0 ? "tx" : "rx", what >> 1 & 1, CHANNELS - (what >> 2 & 1),
             2440 + (what >> 3 & 1), (what & 16) != 0 ? 250 : 1000, what >> 5 & 1,
             2 - (what >> 6 & 1), 20 + (what >> 7), what >> 7);
    drive_line(d, r->now, line);
}

static void sticks(struct receiver *r, uint8_t what, uint8_t with) {
    if (what < 6)
        r->in[what] = level(with);
    else if (what < 12)
        r->ch[what - 6] = level(with);
    else
        for (int i = 0; i < CHANNELS; i++)
            r->in[i] += ((with >> i) & 1) * (what - 13);
}

static void act(struct receiver *r, struct drive *d, uint8_t what, uint8_t with) {
    switch (what % 32) {
    case 16:
        r->dead = (with & 1) != 0;
        break;
    case 17:
        r->fs = with & 1;
        r->fsn += r->fs;
        break;
    case 18:
        r->lock = with & 1;
        break;
    case 19:
        r->lost += with;
        r->seq += with;
        break;
    case 20:
        r->mv = 20u * with + 200;
        break;
    case 21:
        r->dip = with;
        break;
    case 22:
        restart(r, d, with);
        break;
    case 23:
        r->tboot = with;
        r->seq = 0;
        break;
    case 24:
        r->reg = with & 3;
        r->reinit += with >> 7;
        break;
    case 25:
        r->mute = (with & 1) != 0;
        break;
    case 26:
        drive_port(d, r->now, (enum port_change)(with % (PORT_SPEED + 1)), "fuzz");
        break;
    case 27:
        identify(r, d, with);
        break;
    case 28:
        r->noise = with % 10;
        break;
    case 29:
        r->bare = (with & 1) != 0;
        break;
    case 30:
        r->now += with % 8;
        break;
    case 31:
        r->step = with & 7;
        break;
    default:
        sticks(r, what % 32, with);
    }
}

/* The person answers at times: each fourth act is one, and so many seconds into the run. */
static size_t answers_of(struct drive_act *answers, const uint8_t *data, size_t size) {
    size_t count = 0;
    double at = 0;
    for (size_t i = 0; i + 3 <= size; i += 3) {
        at += REPORT_MS * data[i + 2] / 1000.0;
        if (data[i] < 192 || count == ANSWERS)
            continue;
        unsigned kind = data[i + 1] & 15;
        answers[count++] = (struct drive_act){.after_s = at,
                                              .what = kind == 15   ? DRIVE_QUIT
                                                      : kind == 14 ? DRIVE_SKIP
                                                                   : DRIVE_ANSWER,
                                              .answer = kind > 10  ? 0
                                                        : kind > 4 ? 1
                                                                   : kind};
    }
    return count;
}

static void limits_of(struct trial_rules *rules, uint8_t byte) {
    trial_rules_default(rules);
    limits_one_motor(&rules->bench, (byte & 1) != 0 ? 1 : -1,
                     (byte & 2) != 0 ? IDLE_HIGH : IDLE_LOW);
    rules->power = (enum model_power)(byte >> 2 & 3);
    rules->soak_s = (byte & 16) != 0 ? 10 : rules->soak_s;
    rules->brownout_mv = (byte & 32) != 0 ? 2700 : 0;
    for (int i = 0; (byte & 64) != 0 && i < CHANNELS; i++) {
        rules->safe[i] = i == 2 ? CHANNEL_HOLD : i == 3 ? CHANNEL_OFF : 1000 + 500 * (i & 1);
        rules->safe_known[i] = true;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static struct drive_result result;
    struct drive_act answers[ANSWERS];
    struct trial_rules rules;
    if (size < 5)
        return 0;
    limits_of(&rules, data[1]);
    struct drive_plan plan = {.trial = (enum trial_id)(data[0] % TRIALS),
                              .begin_s = 1,
                              .acts = answers,
                              .act_count = answers_of(answers, data + 2, size - 2),
                              .rules = &rules};
    struct drive *d = drive_new(&plan);
    struct receiver r = {.mv = 5000, .dip = 20, .step = 4, .tboot = 7, .fs = 1, .lock = 1};
    for (int i = 0; i < CHANNELS; i++)
        r.ch[i] = r.in[i] = i == 1 ? 1000 : 1500;
    identify(&r, d, 0);
    for (size_t i = 2, reports = 0; i + 3 <= size && reports < REPORTS; i += 3) {
        if (data[i] < 192)
            act(&r, d, data[i], data[i + 1]);
        for (int n = 0; n < data[i + 2] && reports < REPORTS; n++, reports++)
            report(&r, d);
    }
    drive_end(d, &result);
    return 0;
}
