#include "scene.h"

#include "air.h"
#include "board/pins.h"
#include "board/settings.h"

/* Before a receiver's supply or program fails, nothing arrives for 150 ms: what arrives after its
 * last report can be in no report, so that the counts would not be exact by the nature of things.
 * For the same reason the transmitter goes off 300 ms before each run ends (rig.c). */
enum { QUIET = 150 };

const struct scene scenes[] = {
    {.name = "calm", .legend = "no loss", .ms = 10000, .expect = {.heard = true}},
    {.name = "random",
     .legend = "one packet in ten is lost",
     .ms = 30000,
     .event = {{1, AIR_LOSS, LOSS_RANDOM, 100, 0}},
     .expect = {.heard = true, .loss = true}},
    {.name = "bursts",
     .legend = "losses come in runs",
     .ms = 30000,
     .event = {{1, AIR_LOSS, LOSS_BURSTS, 30, 250}},
     .expect = {.heard = true, .loss = true}},
    {.name = "seventh",
     .legend = "every seventh packet is lost",
     .ms = 8000,
     .event = {{1, AIR_LOSS, LOSS_EVERY, 7, 0}},
     .expect = {.heard = true, .loss = true}},
    {.name = "outage",
     .legend = "two outages with the throttle raised, and one too short for failsafe",
     .ms = 14000,
     .steady = true,
     .event = {{2000, TX_STICK, 3, 700, 0},
               {2500, AIR_LOSS, LOSS_ALL, 0, 0},
               {2850, AIR_LOSS, LOSS_NONE, 0, 0},
               {4000, AIR_LOSS, LOSS_ALL, 0, 0},
               {6000, AIR_LOSS, LOSS_NONE, 0, 0},
               {7500, TX_STICK, 3, 0, 0},
               {8200, TX_STICK, 3, 900, 0},
               {9000, AIR_LOSS, LOSS_ALL, 0, 0},
               {10000, AIR_LOSS, LOSS_NONE, 0, 0},
               {11500, TX_STICK, 3, 0, 0}},
     .expect = {.heard = true, .loss = true, .failsafes = 2}},
    {.name = "dip",
     .legend =
         "the supply sags without harm, then to a brown-out that the radio survives, then more",
     .ms = 12000,
     .event = {{2500, RX_SUPPLY, 4400, 0, 0},
               {2520, RX_SUPPLY, 5000, 0, 0},
               {4000, AIR_LOSS, LOSS_ALL, 0, 0},
               {4000 + QUIET, RX_SUPPLY, 2600, 0, 0},
               {4030 + QUIET, RX_SUPPLY, 5000, 0, 0},
               {4100 + QUIET, AIR_LOSS, LOSS_NONE, 0, 0},
               {8000, AIR_LOSS, LOSS_ALL, 0, 0},
               {8000 + QUIET, RX_SUPPLY, 1500, 0, 0},
               {8020 + QUIET, RX_SUPPLY, 5000, 0, 0},
               {8200 + QUIET, AIR_LOSS, LOSS_NONE, 0, 0}},
     .expect = {.heard = true, .restarts = 2, .cause = "brownout"}},
    {.name = "power",
     .legend = "the receiver is switched off and on",
     .ms = 9000,
     .event = {{4000, AIR_LOSS, LOSS_ALL, 0, 0},
               {4000 + QUIET, RX_SUPPLY, 0, 0, 0},
               {4500, RX_SUPPLY, 5000, 0, 0},
               {4501, AIR_LOSS, LOSS_NONE, 0, 0}},
     .expect = {.heard = true, .restarts = 1, .cause = "power"}},
    {.name = "forgot",
     .legend = "the radio alone loses its supply for 5 ms, twice",
     .ms = 10000,
     .event = {{3000, RX_RADIO, 0, 0, 0},
               {3005, RX_RADIO, 1, 0, 0},
               {6500, RX_RADIO, 0, 0, 0},
               {6505, RX_RADIO, 1, 0, 0}},
     .expect = {.heard = true, .loss = true, .reinits = 2, .reg = "absent,default"}},
    {.name = "torn",
     .legend = "the radio loses its supply while a payload is read out of it",
     .ms = 10000,
     .event = {{2000, RX_TEAR, 8, 255, 0},
               {2040, RX_RADIO, 0, 0, 0},
               {2045, RX_RADIO, 1, 0, 0},
               {4000, RX_TEAR, 14, 0, 0},
               {4040, RX_RADIO, 0, 0, 0},
               {4045, RX_RADIO, 1, 0, 0},
               {6000, RX_TEAR, 18, 255, 0},
               {6040, RX_RADIO, 0, 0, 0},
               {6045, RX_RADIO, 1, 0, 0},
               {8000, RX_TEAR, 22, 255, 0},
               {8040, RX_RADIO, 0, 0, 0},
               {8045, RX_RADIO, 1, 0, 0}},
     .expect =
         {.heard = true, .loss = true, .refused = true, .reinits = 4, .reg = "absent,default"}},
    {.name = "restart",
     .legend = "the transmitter is reset, then switched off and on",
     .ms = 11000,
     .steady = true,
     .event = {{3000, TX_RESET, 0, 0, 0},
               {6000, TX_SUPPLY, 0, 0, 0},
               {6200, TX_SUPPLY, 5000, 0, 0}},
     .expect = {.heard = true, .tx_starts = 2}},
    {.name = "hang",
     .legend = "the receiver's program hangs until the watchdog bites",
     .ms = 9000,
     .event = {{4000, AIR_LOSS, LOSS_ALL, 0, 0},
               {4000 + QUIET, RX_HANG, 0, 0, 0},
               {4000 + QUIET + 1, AIR_LOSS, LOSS_NONE, 0, 0}},
     .expect = {.heard = true, .restarts = 1, .cause = "watchdog"}},
    {.name = "button",
     .legend = "the receiver's reset button",
     .ms = 7000,
     .event = {{3000, AIR_LOSS, LOSS_ALL, 0, 0},
               {3000 + QUIET, RX_RESET, 0, 0, 0},
               {3000 + QUIET + 1, AIR_LOSS, LOSS_NONE, 0, 0}},
     .expect = {.heard = true, .restarts = 1, .cause = "reset"}},
    {.name = "address",
     .legend = "the transmitter has another address",
     .transmitter = "address",
     .ms = 6000,
     .expect = {.heard = false}},
    {.name = "frequency",
     .legend = "the transmitter is on another frequency",
     .transmitter = "frequency",
     .ms = 6000,
     .expect = {.heard = false}},
    {.name = "size",
     .legend = "the transmitter's payload is three bytes longer",
     .ms = 6000,
     .event = {{1, AIR_RESIZE, 3, 0, 0}},
     .expect = {.heard = false}},
    {.name = "byte",
     .legend = "the transmitter's payload is one byte longer",
     .ms = 12000,
     .event = {{1, AIR_RESIZE, 1, 0, 0}},
     .expect = {.heard = true, .loss = true, .failsafes = 3}},
    {.name = "shorter",
     .legend = "the transmitter's payload is one byte shorter",
     .ms = 30000,
     .event = {{1, AIR_RESIZE, -1, 0, 0}},
     .expect = {.refused = true}},
    {.name = "owner",
     .legend = "another builder's transmitter with our address",
     .transmitter = "owner",
     .ms = 6000,
     .expect = {.heard = false, .refused = true}},
    {.name = "unbound",
     .legend = "the transmitter has another address, and is switched off and on",
     .transmitter = "address",
     .ms = 21000,
     .event = {{8000, TX_SUPPLY, 0, 0, 0}, {14000, TX_SUPPLY, 5000, 0, 0}},
     .expect = {.heard = false}},
    {.name = "elsewhere",
     .legend = "the transmitter is on another frequency, and is switched off and on",
     .transmitter = "frequency",
     .ms = 21000,
     .event = {{8000, TX_SUPPLY, 0, 0, 0}, {14000, TX_SUPPLY, 5000, 0, 0}},
     .expect = {.heard = false}},
    {.name = "trial",
     .legend = "the failsafe trial by hand: throttle up, transmitter off and on again, three "
               "times, once for 75 s",
     .ms = 129000,
     .steady = true,
     .event = {{2000, TX_STICK, 3, 700, 0},
               {4500, TX_SUPPLY, 0, 0, 0},
               {11000, TX_SUPPLY, 5000, 0, 0},
               {18500, TX_STICK, 3, 0, 0},
               {20500, TX_STICK, 3, 800, 0},
               {23010, TX_SUPPLY, 0, 0, 0},
               {29500, TX_SUPPLY, 5000, 0, 0},
               {37000, TX_STICK, 3, 0, 0},
               {39000, TX_STICK, 3, 900, 0},
               {41520, TX_SUPPLY, 0, 0, 0},
               {116500, TX_SUPPLY, 5000, 0, 0},
               {124000, TX_STICK, 3, 0, 0}},
     .expect = {.heard = true, .failsafes = 3, .tx_starts = 3}},
    {.name = "stranger",
     .legend = "a third transmitter on our frequency: collisions",
     .ms = 15000,
     .event = {{2000, AIR_STRANGER, 7, BOARD_RF_CH, 0}, {12000, AIR_STRANGER, 0, BOARD_RF_CH, 0}},
     .expect = {.heard = true, .loss = true}},
    {.name = "carrier",
     .legend = "a foreign carrier for a quarter of the time",
     .ms = 12000,
     .event = {{2000, AIR_CARRIER, BOARD_RF_CH, -50, 25}, {9000, AIR_CARRIER, BOARD_RF_CH, -50, 0}},
     .expect = {.heard = true, .loss = true}},
    {.name = "absent",
     .legend = "the receiver's radio isn't there",
     .ms = 4000,
     .event = {{1, RX_RADIO, 0, 0, 0}},
     .expect = {.heard = false, .reg = "absent"}},
    {.name = "late",
     .legend = "the receiver's radio gets its supply only after two seconds",
     .ms = 7000,
     .event = {{1, RX_RADIO, 0, 0, 0}, {2000, RX_RADIO, 1, 0, 0}},
     .expect = {.heard = true, .reg = "absent,default", .reinits = 1}},
    {.name = "older",
     .legend = "the receiver's radio is of the older kind, without 250 kbit/s",
     .ms = 6000,
     .event = {{1, RX_OLDER, 0, 0, 0}},
     .expect = {.heard = false, .reg = "differs", .reinits = 5}},
    {.name = "switches",
     .legend = "both switches, then reduced power",
     .ms = 9000,
     .steady = true,
     .event = {{1000, TX_SWITCH, TX_SWITCH7_LOW, 1, 0},
               {2000, TX_SWITCH, TX_SWITCH7_LOW, 0, 0},
               {2000, TX_SWITCH, TX_SWITCH7_HIGH, 1, 0},
               {3000, TX_SWITCH, TX_SWITCH7_HIGH, 0, 0},
               {3000, TX_SWITCH, TX_SWITCH8, 1, 0},
               {4000, TX_SUPPLY, 4300, 0, 0},
               {4700, TX_SUPPLY, 5000, 0, 0},
               {5000, TX_SWITCH, TX_REDUCED, 1, 0},
               {7000, TX_SWITCH, TX_REDUCED, 0, 0}},
     .expect = {.heard = true}},
    {.name = "sweep",
     .legend = "the jumper asks for a sweep at boot, a carrier stands at 2440 MHz",
     .ms = 8000,
     .steady = true,
     .event = {{1, RX_JUMPER, 1, 0, 0}, {1, AIR_CARRIER, 40, -50, 100}},
     .expect = {.heard = true}},
    {.name = "full",
     .legend = "half as many reports again as usual, three quarters of what the port takes",
     .receiver = "full",
     .ms = 10000,
     .expect = {.heard = true}},
    {.name = "round",
     .legend = "the sequence number goes round, with losses",
     .ms = 1400000,
     .steady = true,
     .event = {{1, AIR_LOSS, LOSS_RANDOM, 50, 0}},
     .expect = {.heard = true, .loss = true, .by_hand = true}},
};

const unsigned scene_count = sizeof scenes / sizeof scenes[0];

/* A list of events that grows, and its dice. */
struct making {
    struct scene *scene;
    unsigned events;
    uint32_t seed, ms;
};

static uint32_t dice(struct making *m, uint32_t from, uint32_t to) {
    m->seed = m->seed * 1664525u + 1013904223u;
    return from + (m->seed >> 8) % (to - from + 1);
}

static void add(struct making *m, enum log_entry what, int32_t a, int32_t b, int32_t c) {
    m->scene->event[m->events++] = (struct event){m->ms, what, a, b, c};
}

static void lose_some(struct making *m) {
    static const enum loss_kind kinds[] = {LOSS_RANDOM, LOSS_BURSTS, LOSS_EVERY, LOSS_ALL,
                                           LOSS_ALL};
    enum loss_kind kind = kinds[dice(m, 0, 4)];
    int32_t a = (int32_t)(kind == LOSS_EVERY ? dice(m, 2, 9) : dice(m, 20, 400));
    add(m, AIR_LOSS, (int32_t)kind, a, (int32_t)dice(m, 100, 500));
    m->ms += dice(m, 10, 1800);
    add(m, AIR_LOSS, LOSS_NONE, 0, 0);
}

static void disturb(struct making *m) {
    if (dice(m, 0, 1)) {
        add(m, AIR_CARRIER, BOARD_RF_CH, -50, (int32_t)dice(m, 5, 60));
        m->ms += dice(m, 100, 1500);
        add(m, AIR_CARRIER, BOARD_RF_CH, -50, 0);
    } else {
        add(m, AIR_STRANGER, (int32_t)dice(m, 3, 30), BOARD_RF_CH, 0);
        m->ms += dice(m, 100, 1500);
        add(m, AIR_STRANGER, 0, BOARD_RF_CH, 0);
    }
}

static void stop_sender(struct making *m) {
    if (dice(m, 0, 1)) {
        add(m, TX_RESET, 0, 0, 0);
    } else {
        add(m, TX_SUPPLY, dice(m, 0, 1) ? 0 : 2500, 0, 0);
        m->ms += dice(m, 1, 900);
        add(m, TX_SUPPLY, 5000, 0, 0);
    }
}

static void stop_receiver(struct making *m) {
    add(m, AIR_LOSS, LOSS_ALL, 0, 0);
    m->ms += QUIET + dice(m, 0, 60);
    uint32_t how = dice(m, 0, 3);
    if (how == 0) {
        add(m, RX_RESET, 0, 0, 0);
    } else if (how == 1) {
        add(m, RX_HANG, 0, 0, 0);
        m->ms += dice(m, 1, 1500);
    } else {
        add(m, RX_SUPPLY, how == 2 ? 0 : (int32_t)dice(m, 1100, 2690), 0, 0);
        m->ms += dice(m, 1, 500);
        add(m, RX_SUPPLY, 5000, 0, 0);
    }
    m->ms++;
    add(m, AIR_LOSS, LOSS_NONE, 0, 0);
}

static void cut_radio(struct making *m) {
    add(m, RX_RADIO, 0, 0, 0);
    m->ms += dice(m, 1, 400);
    add(m, RX_RADIO, 1, 0, 0);
}

void scene_by_chance(struct scene *s, uint32_t seed) {
    struct making m = {.scene = s, .seed = seed * 2654435761u, .ms = 600};
    *s = (struct scene){.name = "chance", .ms = 18000};
    for (;;) {
        m.ms += dice(&m, 150, 1500);
        if (m.ms > 15000 || m.events > SCENE_EVENTS - 8)
            break;
        switch (dice(&m, 0, 5)) {
        case 0:
            stop_sender(&m);
            break;
        case 1:
            stop_receiver(&m);
            break;
        case 2:
            cut_radio(&m);
            break;
        case 3:
            disturb(&m);
            break;
        default:
            lose_some(&m);
            break;
        }
    }
}
