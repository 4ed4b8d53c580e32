/* Two boards with their firmwares, their radios on one air, and a scene.
 *
 * usage: rig --list
 *        rig SCENE|chance-SEED RECEIVER.elf TRANSMITTER.elf FOLDER [--pty] [--watch ADDRESS]...
 *
 * Writes into FOLDER what the receiver printed (SCENE.log), what the transmitter printed
 * (SCENE.tx.log), and what really happened (SCENE.truth): a line an event, its time in ticks of
 * 1/16 us, then
 *     sent N ADDRESS CHANNEL KBPS LENGTH CRC   the transmitter's frame N began, with these
 *     air N OUTCOME            and that became of it at the receiver's chip
 *     read N                   the receiver read its payload out of the chip
 *     pulse CHANNEL TICKS      a servo pulse ended
 *     boot END CAUSE           a processor left reset
 *     stop END                 its program no longer runs: the button, or it hangs
 *     stick CHANNEL COUNT      the ADC count of a stick from now on
 *     supply END MV            the supply from now on
 *     poll TICKS               longest pause yet between two looks of the receiver at its radio
 *     fault END NAME COUNT     breaches of the chip's specification (at the end)
 *     watch ADDRESS CALLS SUM LONGEST   ticks in a function of the receiver (at the end)
 *     crash END COUNT          the emulator gave up a program (at the end)
 *
 * With --pty it runs in real time: prints the pseudo-terminal's name, waits for a line on standard
 * input; the receiver's bytes go to the terminal too.  Then it prints "done" and waits for another
 * line, so that the terminal stays.
 */
#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "air.h"
#include "board.h"
#include "scene.h"
#include "stranger.h"

enum {
    QUANTUM = 10 * TICKS_US,
    PATH_DB = 55, /* -55 dBm at full power: 9 dB above the carrier bit's threshold */
    TX_ON_MS = 37,
    OUTAGE_MS = 300, /* below failsafe's limit */
    STEP_MS = 500,   /* of the sticks */
    LOW_UNTIL_MS = 1500
};

static const char *const outcome_names[OUTCOME_COUNT] = {
    [HEARD] = "heard", [HEARD_AGAIN] = "again", [DROPPED] = "dropped",   [COLLIDED] = "collided",
    [DEAF] = "deaf",   [WEAK] = "weak",         [NO_MATCH] = "mismatch", [NO_ROOM] = "no-room",
};

static const char *const fault_names[FAULT_COUNT] = {
    [FAULT_ACTIVE_WRITE] = "active-write", [FAULT_RESET_SPI] = "reset-spi",
    [FAULT_SHORT_CE] = "short-ce",         [FAULT_TX_OVERFLOW] = "tx-overflow",
    [FAULT_EMPTY_READ] = "empty-read",     [FAULT_LENGTH] = "length",
    [FAULT_UNKNOWN] = "unknown",
};

struct rig {
    const struct scene *scene;
    struct air air;
    struct chip chip[2]; /* the transmitter's is 0, as air.h wants it */
    struct board tx, rx;
    struct stranger stranger;
    FILE *truth, *log[2];
    int pty, slave;  /* -1: none */
    uint32_t events; /* done so far */
    uint32_t seed;
    int64_t now, stepped;
};

static const char *end_name(const struct rig *r, const struct board *b) {
    return b == &r->rx ? "rx" : "tx";
}

static const char *cause_name(uint32_t cause) {
    return cause == CAUSE_POWER      ? "power"
           : cause == CAUSE_RESET    ? "reset"
           : cause == CAUSE_BROWNOUT ? "brownout"
                                     : "watchdog";
}

static void on_air(void *context, const struct flight *f, const struct chip *at, enum outcome o) {
    struct rig *r = context;
    if (f->from != 0 || at != &r->chip[1])
        return;
    const struct frame *frame = &f->frame;
    fprintf(r->truth, "%" PRId64 " sent %u ", f->begin, frame->tag);
    for (int i = 0; i < frame->format.aw; i++)
        fprintf(r->truth, "%02X", frame->format.address[i]);
    fprintf(r->truth, " %u %u %u %u\n", frame->channel, frame->kbps, frame->length,
            frame->format.crc);
    fprintf(r->truth, "%" PRId64 " air %u %s\n", f->end, f->frame.tag, outcome_names[o]);
}

static void on_note(struct rig *r, struct board *b, int64_t now, enum board_note note, uint32_t one,
                    uint32_t two) {
    if (note == NOTE_BOOT)
        fprintf(r->truth, "%" PRId64 " boot %s %s\n", now, end_name(r, b), cause_name(one));
    else if (b != &r->rx)
        return;
    else if (note == NOTE_PULSE)
        fprintf(r->truth, "%" PRId64 " pulse %u %u\n", now, one, two);
    else if (note == NOTE_READ)
        fprintf(r->truth, "%" PRId64 " read %u\n", now, one);
    else
        fprintf(r->truth, "%" PRId64 " poll %u\n", now, one);
}

static void on_rx_note(void *context, int64_t now, enum board_note note, uint32_t a, uint32_t b) {
    struct rig *r = context;
    on_note(r, &r->rx, now, note, a, b);
}

static void on_tx_note(void *context, int64_t now, enum board_note note, uint32_t a, uint32_t b) {
    struct rig *r = context;
    on_note(r, &r->tx, now, note, a, b);
}

static void on_rx_byte(void *context, int64_t now, uint8_t byte) {
    struct rig *r = context;
    (void)now;
    putc(byte, r->log[1]);
    if (r->pty >= 0 && write(r->pty, &byte, 1) < 0 && errno != EAGAIN)
        perror("pty");
}

static void on_tx_byte(void *context, int64_t now, uint8_t byte) {
    struct rig *r = context;
    (void)now;
    putc(byte, r->log[0]);
}

static void set_stick(struct rig *r, int channel, int count) {
    r->tx.stick[channel - 1] = (uint16_t)count;
    fprintf(r->truth, "%" PRId64 " stick %d %d\n", r->now, channel, count);
}

static void set_supply(struct rig *r, struct board *b, int mv) {
    board_supply(b, (uint16_t)mv, r->now);
    fprintf(r->truth, "%" PRId64 " supply %s %d\n", r->now, end_name(r, b), mv);
}

static void set_carrier(struct rig *r, const struct event *e) {
    r->air.carrier = (struct carrier){.channel = (uint8_t)e->a, .dbm = e->b};
    r->air.carrier.period = 20500 * TICKS_US;
    r->air.carrier.on = r->air.carrier.period * e->c / 100;
}

static void happen(struct rig *r, const struct event *e) {
    switch (e->what) {
    case AIR_LOSS:
        r->air.loss = (struct loss){(enum loss_kind)e->a, (uint16_t)e->b, (uint16_t)e->c};
        break;
    case AIR_RESIZE:
        r->air.resize = (int8_t)e->a;
        break;
    case AIR_CARRIER:
        set_carrier(r, e);
        break;
    case AIR_STRANGER:
        stranger_send(&r->stranger, e->a * (int64_t)TICKS_MS, (uint8_t)e->b, r->now);
        break;
    case RX_SUPPLY:
    case TX_SUPPLY:
        set_supply(r, e->what == RX_SUPPLY ? &r->rx : &r->tx, e->a);
        break;
    case RX_RADIO:
    case TX_RADIO:
        board_radio_cut(e->what == RX_RADIO ? &r->rx : &r->tx, e->a == 0, r->now);
        break;
    case RX_TEAR:
        r->chip[1].tear = (uint8_t)e->a;
        r->chip[1].stuck = (uint8_t)e->b;
        break;
    case RX_RESET:
    case TX_RESET:
        fprintf(r->truth, "%" PRId64 " stop %s\n", r->now, e->what == RX_RESET ? "rx" : "tx");
        board_reset(e->what == RX_RESET ? &r->rx : &r->tx, r->now);
        break;
    case RX_HANG:
        fprintf(r->truth, "%" PRId64 " stop rx\n", r->now);
        board_hang(&r->rx);
        break;
    case RX_JUMPER:
        board_close_jumper(&r->rx, e->a != 0);
        break;
    case RX_OLDER:
        r->chip[1].plus = false;
        board_radio_cut(&r->rx, true, r->now);
        board_radio_cut(&r->rx, false, r->now);
        break;
    case TX_STICK:
        set_stick(r, e->a, e->b);
        break;
    case TX_SWITCH:
        board_close_switch(&r->tx, (uint8_t)e->a, e->b != 0);
        break;
    }
}

/* Both ends, the middle, and anything between; the throttle stays low until the lock is off. */
static void step_sticks(struct rig *r) {
    static const uint16_t places[] = {0, 1023, 512, 511, 513, 1, 1022};
    for (int i = 1; i <= BOARD_STICKS_COUNT; i++) {
        r->seed = r->seed * 1664525u + 1013904223u;
        uint32_t pick = r->seed >> 16;
        uint32_t kinds = sizeof places / sizeof places[0];
        int count = pick % 2 ? places[pick / 2 % kinds] : (int)(pick / 2 % 1024);
        if (i == 3 && r->now < (int64_t)LOW_UNTIL_MS * TICKS_MS)
            count = 0;
        set_stick(r, i, count);
    }
}

static void do_events(struct rig *r) {
    const struct event *e = r->scene->event;
    for (; r->events < SCENE_EVENTS && e[r->events].ms > 0; r->events++) {
        if (e[r->events].ms * (int64_t)TICKS_MS > r->now)
            break;
        happen(r, &e[r->events]);
    }
    if (!r->scene->steady && r->now - r->stepped >= (int64_t)STEP_MS * TICKS_MS) {
        r->stepped = r->now;
        step_sticks(r);
    }
}

static void run(struct rig *r, int64_t from, int64_t to) {
    for (r->now = from; r->now < to; r->now += QUANTUM) {
        do_events(r);
        board_run(&r->tx, r->now + QUANTUM);
        board_run(&r->rx, r->now + QUANTUM);
        stranger_advance(&r->stranger, r->now + QUANTUM);
    }
}

static void pace(const struct timespec *began, int64_t ticks) {
    int64_t ns = ticks * 1000 / TICKS_US + began->tv_nsec;
    struct timespec t = {.tv_sec = began->tv_sec + ns / 1000000000, .tv_nsec = ns % 1000000000};
    clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &t, NULL);
}

static void run_scene(struct rig *r) {
    int64_t end = r->scene->ms * (int64_t)TICKS_MS, off = end - (int64_t)OUTAGE_MS * TICKS_MS;
    int64_t on = (int64_t)TX_ON_MS * TICKS_MS, piece = r->pty >= 0 ? TICKS_MS : end;
    struct timespec began;
    clock_gettime(CLOCK_MONOTONIC, &began);
    for (int64_t at = 0; at < end; at = r->now) {
        int64_t next = at < on ? on : at < off ? off : end;
        if (at == 0)
            set_supply(r, &r->rx, 5000);
        if (at == on)
            set_supply(r, &r->tx, 5000);
        if (at == off)
            set_supply(r, &r->tx, 0);
        run(r, at, next - at > piece ? at + piece : next);
        if (r->pty >= 0)
            pace(&began, r->now);
    }
}

static void write_ends(struct rig *r) {
    for (int i = 0; i < FAULT_COUNT; i++)
        for (int end = 0; end < 2; end++)
            if (r->chip[end].faults[i] > 0)
                fprintf(r->truth, "%" PRId64 " fault %s %s %u\n", r->now, end ? "rx" : "tx",
                        fault_names[i], r->chip[end].faults[i]);
    for (int i = 0; i < BOARD_WATCHES; i++) {
        const struct board_watch *w = &r->rx.watch[i];
        if (w->address)
            fprintf(r->truth, "%" PRId64 " watch %u %u %" PRId64 " %" PRId64 "\n", r->now,
                    w->address, w->calls, w->sum, w->longest);
    }
    if (r->rx.crashes + r->tx.crashes > 0)
        fprintf(r->truth, "%" PRId64 " crash any %u\n", r->now, r->rx.crashes + r->tx.crashes);
}

static bool open_files(struct rig *r, const char *folder) {
    static const char *const ends[] = {".tx.log", ".log", ".truth"};
    FILE **files[] = {&r->log[0], &r->log[1], &r->truth};
    char path[512];
    for (int i = 0; i < 3; i++) {
        snprintf(path, sizeof path, "%s/%s%s", folder, r->scene->name, ends[i]);
        *files[i] = fopen(path, "w");
        if (!*files[i]) {
            perror(path);
            return false;
        }
    }
    return true;
}

static bool close_files(struct rig *r) {
    FILE *files[] = {r->log[0], r->log[1], r->truth};
    bool good = true;
    for (int i = 0; i < 3; i++)
        good &= fclose(files[i]) == 0;
    return good;
}

static bool wait_for_line(void) {
    char line[16];
    return fgets(line, sizeof line, stdin) != NULL;
}

/* One end of the slave is held open, or readers coming and going would be errors here. */
static bool open_pty(struct rig *r) {
    struct termios raw;
    r->pty = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK);
    if (r->pty < 0 || grantpt(r->pty) != 0 || unlockpt(r->pty) != 0)
        return false;
    r->slave = open(ptsname(r->pty), O_RDWR | O_NOCTTY);
    if (r->slave < 0 || tcgetattr(r->slave, &raw) != 0)
        return false;
    cfmakeraw(&raw);
    tcsetattr(r->slave, TCSANOW, &raw);
    printf("%s\n", ptsname(r->pty));
    fflush(stdout);
    return wait_for_line();
}

static bool set_up(struct rig *r, char **argv) {
    air_init(&r->air, 20251125, PATH_DB);
    r->air.told = on_air;
    r->air.context = r;
    for (int i = 0; i < 2; i++) {
        chip_init(&r->chip[i]);
        air_join(&r->air, &r->chip[i]);
    }
    stranger_init(&r->stranger);
    air_join(&r->air, &r->stranger.chip);
    if (!board_init(&r->rx, &r->chip[1], argv[2]) || !board_init(&r->tx, &r->chip[0], argv[3]))
        return false;
    r->rx.servos = true;
    r->rx.told = on_rx_note;
    r->tx.told = on_tx_note;
    r->rx.byte = on_rx_byte;
    r->tx.byte = on_tx_byte;
    r->rx.context = r->tx.context = r;
    r->rx.bod_mv = r->tx.bod_mv = 2700;
    r->rx.radio_mv = r->tx.radio_mv = 2200;
    for (int i = 0; i < BOARD_STICKS_COUNT; i++)
        set_stick(r, i + 1, i == 2 ? 0 : 512);
    return true;
}

static bool options(struct rig *r, int argc, char **argv) {
    int watches = 0;
    for (int i = 5; i < argc; i++) {
        if (strcmp(argv[i], "--pty") == 0 && r->pty < 0) {
            if (!open_pty(r))
                return false;
        } else if (strcmp(argv[i], "--watch") == 0 && i + 1 < argc && watches < BOARD_WATCHES) {
            r->rx.watch[watches++].address = (uint32_t)strtoul(argv[++i], NULL, 0);
            r->rx.stepping = true;
        } else {
            return false;
        }
    }
    return true;
}

static int list(void) {
    for (unsigned i = 0; i < scene_count; i++) {
        const struct scene *s = &scenes[i];
        printf("{\"name\":\"%s\",\"legend\":\"%s\",\"receiver\":\"%s\",\"transmitter\":\"%s\","
               "\"ms\":%u,\"restarts\":%u,\"tx_starts\":%u,\"cause\":\"%s\",\"heard\":%u,"
               "\"refused\":%u,\"failsafes\":%u,\"reinits\":%u,\"reg\":\"%s\",\"loss\":%u,"
               "\"by_hand\":%u}\n",
               s->name, s->legend, s->receiver ? s->receiver : "",
               s->transmitter ? s->transmitter : "", s->ms, s->expect.restarts, s->expect.tx_starts,
               s->expect.cause ? s->expect.cause : "", s->expect.heard, s->expect.refused,
               s->expect.failsafes, s->expect.reinits, s->expect.reg ? s->expect.reg : "ok",
               s->expect.loss, s->expect.by_hand);
    }
    return 0;
}

static const struct scene *find(const char *name) {
    static struct scene chance;
    unsigned seed;
    for (unsigned i = 0; i < scene_count; i++)
        if (strcmp(scenes[i].name, name) == 0)
            return &scenes[i];
    if (sscanf(name, "chance-%u", &seed) != 1)
        return NULL;
    scene_by_chance(&chance, seed);
    chance.name = name;
    return &chance;
}

int main(int argc, char **argv) {
    static struct rig rig = {.pty = -1, .slave = -1, .seed = 3};
    if (argc == 2 && strcmp(argv[1], "--list") == 0)
        return list();
    rig.scene = argc >= 5 ? find(argv[1]) : NULL;
    if (!rig.scene || !open_files(&rig, argv[4]) || !set_up(&rig, argv) ||
        !options(&rig, argc, argv)) {
        fputs("usage: rig SCENE RECEIVER.elf TRANSMITTER.elf FOLDER [--pty] [--watch ADDRESS]\n",
              stderr);
        return 2;
    }
    run_scene(&rig);
    write_ends(&rig);
    if (rig.pty >= 0) {
        puts("done");
        fflush(stdout);
        wait_for_line();
    }
    return close_files(&rig) ? 0 : 1;
}
