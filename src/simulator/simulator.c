#include "simulator/simulator.h"

#include <stdlib.h>
#include <string.h>

#include "simulator/cable.h"
#include "simulator/lake.h"
#include "simulator/rail.h"
#include "simulator/script.h"
#include "simulator/shore.h"
#include "simulator/truth.h"
#include "simulator/tug.h"

enum {
    STARTUP_US = 65000,     /* AVR start-up time by fuse; the boot loader's wait comes on top */
    TRANSMITTER_US = 250000 /* from its switch to its first packet */
};
static const int64_t never = INT64_MAX;

/* What falls due, in the order in which things of the same time happen. */
enum due {
    DUE_SCRIPT,
    DUE_RAIL,
    DUE_BOOT,
    DUE_PACKET,
    DUE_OTHER,
    DUE_FAILSAFE,
    DUE_CARE,
    DUE_LOOK,
    DUE_SWEEP,
    DUE_REPORT,
    DUES
};

struct simulator {
    int scene;
    uint64_t seed;
    int64_t now_us;
    int64_t due_us[DUES];
    int64_t scene_us; /* when this round of the scene began */
    size_t step;
    enum script_bind bind;
    bool sweep;           /* the jumper for one is closed */
    enum tug_cause cause; /* of the boot to come */
    int32_t sparks_full;  /* of the motor, percent of the time at full throttle */
    int64_t nominal_ns;   /* the transmitter's clock: packets leave up to 0.2 ms after it */
    int64_t period_ns;    /* its resonator is off by up to 300 ppm, so that the two clocks drift */
    int64_t on_air_us;    /* the newest packet's start */
    struct chance chance;
    struct shore shore;
    struct shore other; /* on another tug, with our address */
    int64_t other_us;   /* its next packet */
    struct lake lake;
    struct rail rail;
    struct tug tug;
    struct cable cable;
    struct truth truth;
};

int simulator_scene_find(const char *name) {
    for (size_t i = 0; i < simulator_scene_count; i++)
        if (strcmp(simulator_scenes[i].name, name) == 0)
            return (int)i;
    return -1;
}

static void receiver_starts_in(struct simulator *p, int64_t wait_us, enum tug_cause cause) {
    p->cause = cause;
    for (int i = DUE_FAILSAFE; i < DUES; i++)
        p->due_us[i] = never;
    p->due_us[DUE_BOOT] = p->now_us + wait_us;
}

struct simulator *simulator_new(int scene, uint64_t seed, simulator_put *put, void *where) {
    if (scene < 0 || (size_t)scene >= simulator_scene_count)
        return NULL;
    struct simulator *p = calloc(1, sizeof *p);
    if (p == NULL)
        return NULL;
    p->scene = scene;
    p->seed = seed;
    p->on_air_us = -1000000;
    chance_init(&p->chance, seed, 5);
    p->period_ns = SHORE_PERIOD_US * 1000 + chance_between(&p->chance, -6000, 6000);
    shore_init(&p->shore, seed);
    lake_init(&p->lake, seed);
    rail_init(&p->rail, seed);
    cable_init(&p->cable, seed, put, where);
    truth_init(&p->truth);
    tug_down(&p->tug);
    p->tug.mv = p->rail.mv;
    receiver_starts_in(p, STARTUP_US, CAUSE_POWER);
    p->due_us[DUE_PACKET] = p->due_us[DUE_OTHER] = never;
    return p;
}

void simulator_free(struct simulator *p) {
    free(p);
}

int64_t simulator_next_us(const struct simulator *p) {
    static const enum due prints[] = {DUE_SCRIPT, DUE_BOOT, DUE_SWEEP, DUE_REPORT};
    int64_t next = never;
    for (size_t i = 0; i < sizeof prints / sizeof *prints; i++)
        if (p->due_us[prints[i]] < next)
            next = p->due_us[prints[i]];
    return next;
}

/* The script. */

static void receiver_dies(struct simulator *p, enum tug_cause cause) {
    tug_down(&p->tug);
    truth_event(&p->truth, p->now_us, TRUTH_RECEIVER_DOWN, (int32_t)cause);
    int64_t wait_us = STARTUP_US + chance_between(&p->chance, 0, 1600000);
    receiver_starts_in(p, wait_us, cause);
}

static void do_start(struct simulator *p, const struct script_step *s) {
    (void)s;
    if (p->shore.on)
        return; /* the scene has gone round */
    shore_start(&p->shore);
    truth_event(&p->truth, p->now_us, TRUTH_TRANSMITTER_START, p->shore.tboot);
    int64_t first_us = p->now_us + TRANSMITTER_US + chance_between(&p->chance, 0, SHORE_PERIOD_US);
    p->nominal_ns = first_us * 1000;
    p->due_us[DUE_PACKET] = first_us;
}

static void do_off(struct simulator *p, const struct script_step *s) {
    (void)s;
    p->shore.on = false;
    p->due_us[DUE_PACKET] = never;
    truth_event(&p->truth, p->now_us, TRUTH_TRANSMITTER_OFF, 0);
}

static void do_move(struct simulator *p, const struct script_step *s) {
    if (s->a == MARKER)
        truth_event(&p->truth, p->now_us, TRUTH_MARKER, s->b != 0);
    shore_move(&p->shore, p->now_us, s->a, s->b, s->c);
}

static void do_play(struct simulator *p, const struct script_step *s) {
    shore_play(&p->shore, p->now_us, (uint32_t)s->a, s->b, s->c);
}

static void do_wear(struct simulator *p, const struct script_step *s) {
    shore_wear(&p->shore, s->a, s->b, s->c);
}

static void do_walk(struct simulator *p, const struct script_step *s) {
    lake_walk(&p->lake, p->now_us, s->a, s->b);
    truth_event(&p->truth, p->now_us, TRUTH_WALK, s->a);
}

static void do_power(struct simulator *p, const struct script_step *s) {
    p->shore.power_step = (uint32_t)s->a;
    p->lake.power = 600 * (s->a - 4);
}

static void do_fading(struct simulator *p, const struct script_step *s) {
    p->lake.at_rest = (enum lake_fading)s->a;
}

static void do_disturb(struct simulator *p, const struct script_step *s) {
    lake_disturb(&p->lake, p->now_us, s->a, s->b, s->c);
    truth_event(&p->truth, p->now_us, TRUTH_INTERFERENCE, s->a);
}

static void do_antenna(struct simulator *p, const struct script_step *s) {
    p->lake.antenna = s->a;
    truth_event(&p->truth, p->now_us, TRUTH_ANTENNA, s->a);
}

static void do_supply(struct simulator *p, const struct script_step *s) {
    p->rail.open_mv = s->a;
    p->rail.milliohm = s->b;
    truth_event(&p->truth, p->now_us, TRUTH_SUPPLY, s->b);
}

static void do_bind(struct simulator *p, const struct script_step *s) {
    p->bind = (enum script_bind)s->a;
    p->lake.image = p->bind == BIND_IMAGE;
    p->shore.owner = p->bind == BIND_OWNER ? SHORE_STRANGER : SHORE_OWNER;
    truth_event(&p->truth, p->now_us, TRUTH_BIND, s->a);
}

static void do_cable(struct simulator *p, const struct script_step *s) {
    p->cable.lose = s->a;
    p->cable.damage = s->b;
    truth_event(&p->truth, p->now_us, TRUTH_CABLE, s->a);
}

static void do_reset(struct simulator *p, const struct script_step *s) {
    if (!p->tug.up)
        return;
    if (s->b != 0) {
        p->cable.tear = true;
        tug_report(&p->tug, p->now_us, &p->cable);
        p->cable.tear = false; /* a skipped report had nothing to tear */
        cable_text(&p->cable, "\r\nboot loader 3.1, waiting\r\n");
    }
    receiver_dies(p, (enum tug_cause)s->a);
}

static void do_wifi(struct simulator *p, const struct script_step *s) {
    lake_wifi(&p->lake, s->a, s->b, s->c);
    truth_event(&p->truth, p->now_us, TRUTH_WIFI, s->a);
}

static void do_sweep(struct simulator *p, const struct script_step *s) {
    (void)s;
    p->sweep = true;
}

static void do_beacon(struct simulator *p, const struct script_step *s) {
    p->lake.beacon_us = s->a;
    p->lake.beacon_long_us = s->b;
    p->lake.beacon_level = 100 * s->c;
    truth_event(&p->truth, p->now_us, TRUTH_INTERFERENCE, s->a);
}

static void do_motor(struct simulator *p, const struct script_step *s) {
    p->sparks_full = s->a;
    p->lake.spark_level = 100 * s->b;
}

/* The faster the motor, the more sparks. */
static void run_motor(struct simulator *p) {
    int32_t out = p->tug.outputs[THROTTLE];
    int32_t over = out > 1040 && out != RAIL_OFF ? out - 1000 : 0;
    p->lake.sparks = over * p->sparks_full / 100 * 65536 / 1000;
}

static void do_bare(struct simulator *p, const struct script_step *s) {
    (void)s;
    p->tug.bare = true;
}

static void do_radio(struct simulator *p, const struct script_step *s) {
    p->tug.radio = (enum tug_radio)s->a;
}

static void do_lead(struct simulator *p, const struct script_step *s) {
    p->cable.state = s->a == LEAD_CUT ? CABLE_CUT : s->a == LEAD_SPEED ? CABLE_SPEED : CABLE_WHOLE;
    p->tug.words = s->a == LEAD_WORDS;
}

/* It began long ago, half a period away from ours, and drifts. */
static void do_other(struct simulator *p, const struct script_step *s) {
    enum { STARTS = 1000, SENT = 20000 };
    if (s->a == 0) {
        p->due_us[DUE_OTHER] = never;
    } else if (!p->other.on) {
        shore_init(&p->other, p->seed + 1);
        shore_start(&p->other);
        p->other.tboot = (uint16_t)(p->other.tboot + STARTS);
        p->other.seq = SENT;
        p->other_us = p->now_us + SHORE_PERIOD_US / 2;
        p->due_us[DUE_OTHER] = p->other_us;
    }
    p->other.on = s->a != 0;
}

static void do_swap(struct simulator *p, const struct script_step *s) {
    p->shore.swapped = s->a != 0;
}

static void do_strong(struct simulator *p, const struct script_step *s) {
    p->lake.strong = s->a != 0;
}

static void (*const acts[])(struct simulator *, const struct script_step *) = {
    [ACT_START] = do_start,   [ACT_OFF] = do_off,         [ACT_MOVE] = do_move,
    [ACT_PLAY] = do_play,     [ACT_WALK] = do_walk,       [ACT_POWER] = do_power,
    [ACT_FADING] = do_fading, [ACT_DISTURB] = do_disturb, [ACT_SUPPLY] = do_supply,
    [ACT_BIND] = do_bind,     [ACT_CABLE] = do_cable,     [ACT_RESET] = do_reset,
    [ACT_WIFI] = do_wifi,     [ACT_SWEEP] = do_sweep,     [ACT_BEACON] = do_beacon,
    [ACT_MOTOR] = do_motor,   [ACT_BARE] = do_bare,       [ACT_ANTENNA] = do_antenna,
    [ACT_WEAR] = do_wear,     [ACT_RADIO] = do_radio,     [ACT_LEAD] = do_lead,
    [ACT_OTHER] = do_other,   [ACT_SWAP] = do_swap,       [ACT_STRONG] = do_strong,
};

static void run_script(struct simulator *p) {
    const struct script *script = &scripts[p->scene];
    if (p->step == script->count) {
        p->step = 0;
        p->scene_us = p->now_us;
        truth_event(&p->truth, p->now_us, TRUTH_SCENE_AGAIN, 0);
    }
    while (p->step < script->count &&
           p->scene_us + (int64_t)script->steps[p->step].at_ms * 1000 <= p->now_us) {
        const struct script_step *s = &script->steps[p->step++];
        acts[s->act](p, s);
    }
    int64_t next_ms = p->step < script->count ? (int64_t)script->steps[p->step].at_ms
                                              : (int64_t)simulator_scenes[p->scene].seconds * 1000;
    p->due_us[DUE_SCRIPT] = p->scene_us + next_ms * 1000;
}

/* The world. */

static void run_rail(struct simulator *p) {
    int32_t mv = rail_tick(&p->rail, p->tug.outputs);
    p->due_us[DUE_RAIL] = p->now_us + RAIL_TICK_US;
    run_motor(p);
    if (!p->tug.up)
        return;
    tug_supply(&p->tug, mv);
    if (mv < RAIL_BROWNOUT_MV) {
        receiver_dies(p, CAUSE_BROWNOUT);
    } else if (mv < RAIL_FORGET_MV && !p->tug.radio_forgot && chance_hits(&p->chance, 16384)) {
        p->tug.radio_forgot = true;
        truth_event(&p->truth, p->now_us, TRUTH_RADIO_FORGOT, 0);
    }
}

static void start_loop(struct simulator *p) {
    p->due_us[DUE_REPORT] = p->now_us + TUG_REPORT_US;
    p->due_us[DUE_CARE] = p->now_us + TUG_CARE_US;
    p->due_us[DUE_LOOK] = p->now_us + 1000;
}

static bool sweeping(const struct simulator *p) {
    return p->due_us[DUE_SWEEP] != never;
}

static void run_sweep(struct simulator *p) {
    uint8_t hits[TUG_SWEEP_CARRIERS] = {0};
    for (int pass = 0; pass < TUG_SWEEP_LOOKS; pass++)
        for (int i = 0; i < TUG_SWEEP_CARRIERS; i++)
            hits[i] = (uint8_t)(hits[i] + lake_look(&p->lake, TUG_SWEEP_FIRST + i));
    p->due_us[DUE_SWEEP] = never;
    tug_sweep(hits, &p->cable);
    truth_event(&p->truth, p->now_us, TRUTH_SWEEP, TUG_SWEEP_CARRIERS);
    start_loop(p);
}

static void run_boot(struct simulator *p) {
    p->due_us[DUE_BOOT] = never;
    tug_boot(&p->tug, p->now_us, p->cause, p->sweep, &p->cable);
    if (p->sweep)
        p->due_us[DUE_SWEEP] = p->now_us + TUG_SWEEP_US;
    else
        start_loop(p);
    truth_event(&p->truth, p->now_us, TRUTH_RECEIVER_BOOT, (int32_t)p->cause);
}

static void count_miss(struct simulator *p, enum lake_outcome outcome) {
    truth_missed(&p->truth);
    if (!p->tug.up)
        return;
    if (outcome == PACKET_WEAK)
        p->truth.weak++;
    else if (outcome == PACKET_DROWNED)
        p->truth.drowned++;
    else
        p->truth.deaf++;
}

static void deliver(struct simulator *p, const struct packet *packet) {
    bool first = !p->tug.have_packet;
    bool fs = p->tug.fs;
    bool lock = p->tug.lock;
    bool carrier = lake_level(&p->lake, p->now_us) > LAKE_CARRIER;
    tug_hear(&p->tug, p->now_us, packet, carrier);
    if (packet->owner != SHORE_OWNER) {
        p->truth.refused++;
        return;
    }
    truth_received(&p->truth, p->now_us);
    p->due_us[DUE_FAILSAFE] = p->now_us + TUG_HOLD_US;
    if (first)
        truth_event(&p->truth, p->now_us, TRUTH_FIRST_PACKET, packet->seq);
    if (fs && !first)
        truth_event(&p->truth, p->now_us, TRUTH_FAILSAFE_LEFT, 0);
    if (lock && !p->tug.lock)
        truth_event(&p->truth, p->now_us, TRUTH_UNLOCKED, 0);
}

static void carry(struct simulator *p, const struct packet *packet) {
    enum lake_outcome outcome = lake_carry(&p->lake, p->now_us);
    bool hears = p->tug.up && !p->tug.radio_forgot && p->tug.radio == RADIO_WELL && !sweeping(p);
    if (hears && outcome == PACKET_ARRIVED)
        deliver(p, packet);
    else
        count_miss(p, outcome);
}

static void run_packet(struct simulator *p) {
    struct packet packet;
    lake_step(&p->lake, p->now_us);
    shore_packet(&p->shore, p->now_us, &packet);
    p->on_air_us = p->now_us;
    p->nominal_ns += p->period_ns;
    p->due_us[DUE_PACKET] = p->nominal_ns / 1000 + chance_between(&p->chance, 0, 200);
    if (p->bind == BIND_ADDRESS)
        return; /* for somebody else */
    carry(p, &packet);
}

/* Two packets at once: the later is lost. */
static void run_other(struct simulator *p) {
    struct packet packet;
    bool meets = p->now_us - p->on_air_us < LAKE_PACKET_US;
    shore_packet(&p->other, p->now_us, &packet);
    p->other_us += SHORE_PERIOD_US + 1; /* 50 ppm slow */
    p->due_us[DUE_OTHER] = p->other_us;
    if (meets)
        return;
    p->on_air_us = p->now_us;
    carry(p, &packet);
}

static void run_failsafe(struct simulator *p) {
    p->due_us[DUE_FAILSAFE] = never;
    if (!p->tug.lock)
        truth_event(&p->truth, p->now_us, TRUTH_LOCKED, 0);
    tug_failsafe(&p->tug);
    truth_event(&p->truth, p->now_us, TRUTH_FAILSAFE_ENTERED,
                (int32_t)(p->now_us - p->tug.last_us));
}

static void run_care(struct simulator *p) {
    p->due_us[DUE_CARE] = p->now_us + TUG_CARE_US;
    if (tug_care(&p->tug))
        truth_event(&p->truth, p->now_us, TRUTH_RADIO_SET_UP, 0);
}

/* A look is a snapshot of the carrier detector, which needs 40 µs of signal. */
static void run_look(struct simulator *p) {
    bool linked = p->tug.have_packet && !p->tug.fs;
    p->due_us[DUE_LOOK] = p->now_us + (linked ? 5000 : 1000) + chance_between(&p->chance, 0, 255);
    if (tug_expects(&p->tug, p->now_us) || p->tug.radio == RADIO_ABSENT)
        return;
    int64_t into = p->now_us - p->on_air_us;
    bool own =
        into >= 40 && into <= LAKE_PACKET_US && lake_level(&p->lake, p->now_us) > LAKE_CARRIER;
    tug_look(&p->tug, own || lake_noise(&p->lake, p->now_us) > LAKE_CARRIER);
}

static void run_report(struct simulator *p) {
    p->due_us[DUE_REPORT] = p->now_us + TUG_REPORT_US;
    tug_supply(&p->tug, p->rail.mv + chance_between(&p->chance, -8, 8));
    tug_report(&p->tug, p->now_us, &p->cable);
}

static void (*const runs[DUES])(struct simulator *) = {
    [DUE_SCRIPT] = run_script, [DUE_RAIL] = run_rail,   [DUE_BOOT] = run_boot,
    [DUE_PACKET] = run_packet, [DUE_OTHER] = run_other, [DUE_FAILSAFE] = run_failsafe,
    [DUE_CARE] = run_care,     [DUE_LOOK] = run_look,   [DUE_SWEEP] = run_sweep,
    [DUE_REPORT] = run_report,
};

void simulator_run(struct simulator *p, int64_t time_us) {
    for (;;) {
        int first = 0;
        for (int i = 1; i < DUES; i++)
            if (p->due_us[i] < p->due_us[first])
                first = i;
        if (p->due_us[first] > time_us)
            break;
        p->now_us = p->due_us[first];
        runs[first](p);
    }
    if (time_us > p->now_us)
        p->now_us = time_us;
}

void simulator_truth(const struct simulator *p, struct simulator_truth *out) {
    *out = p->truth.counts;
    out->lines = p->cable.lines;
    out->longest_gap_ms = truth_longest_gap_ms(&p->truth, p->now_us);
}

void simulator_truth_text(const struct simulator *p, simulator_put *put, void *where) {
    truth_line(put, where, "scene=%s\n", simulator_scenes[p->scene].name);
    truth_line(put, where, "seed=%llu\n", (unsigned long long)p->seed);
    truth_line(put, where, "time_us=%lld\n", (long long)p->now_us);
    truth_line(put, where, "lines=%llu\n", (unsigned long long)p->cable.lines);
    truth_line(put, where, "lines_lost=%llu\n", (unsigned long long)p->cable.lines_lost);
    truth_line(put, where, "lines_damaged=%llu\n", (unsigned long long)p->cable.lines_damaged);
    truth_line(put, where, "lines_torn=%llu\n", (unsigned long long)p->cable.lines_torn);
    truth_line(put, where, "bytes=%llu\n", (unsigned long long)p->cable.bytes);
    truth_line(put, where, "bursts=%llu\n", (unsigned long long)p->lake.bursts);
    truth_print(&p->truth, p->now_us, put, where);
}
