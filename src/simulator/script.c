#include "simulator/script.h"

#include "simulator/lake.h"
#include "simulator/shore.h"
#include "simulator/simulator.h"
#include "simulator/tug.h"

enum { HANDS = 1 << RUDDER | 1 << THROTTLE | 1 << THRUSTER | 1 << WINCH, STEERING = 1 << RUDDER };

static const struct script_step calm[] = {
    {0, ACT_START, 0, 0, 0},        {5000, ACT_PLAY, HANDS, 350, 900},
    {40000, ACT_PLAY, HANDS, 0, 0}, {48000, ACT_MOVE, LIGHT, 2000, 0},
    {52000, ACT_MOVE, LIGHT, 0, 0},
};

/* Ten stops of 16 s, each marked by the switch held for a second, at 1.25 m/s from one to the next,
 * and back. */
static const struct script_step walk[] = {
    {0, ACT_START, 0, 0, 0},
    {0, ACT_FADING, FADING_STANDING, 0, 0},
    {0, ACT_WALK, 500, 0, 0},
    {0, ACT_PLAY, STEERING, 400, 700},
    {3000, ACT_MOVE, MARKER, 2000, 0},
    {4000, ACT_MOVE, MARKER, 0, 0},
    {19000, ACT_WALK, 1000, 125, 0},
    {24000, ACT_MOVE, MARKER, 2000, 0},
    {25000, ACT_MOVE, MARKER, 0, 0},
    {40000, ACT_WALK, 2000, 125, 0},
    {49000, ACT_MOVE, MARKER, 2000, 0},
    {50000, ACT_MOVE, MARKER, 0, 0},
    {65000, ACT_WALK, 3000, 125, 0},
    {74000, ACT_MOVE, MARKER, 2000, 0},
    {75000, ACT_MOVE, MARKER, 0, 0},
    {90000, ACT_WALK, 4000, 125, 0},
    {99000, ACT_MOVE, MARKER, 2000, 0},
    {100000, ACT_MOVE, MARKER, 0, 0},
    {115000, ACT_WALK, 4500, 125, 0},
    {120000, ACT_MOVE, MARKER, 2000, 0},
    {121000, ACT_MOVE, MARKER, 0, 0},
    {136000, ACT_WALK, 5000, 125, 0},
    {141000, ACT_MOVE, MARKER, 2000, 0},
    {142000, ACT_MOVE, MARKER, 0, 0},
    {157000, ACT_WALK, 5500, 125, 0},
    {162000, ACT_MOVE, MARKER, 2000, 0},
    {163000, ACT_MOVE, MARKER, 0, 0},
    {178000, ACT_WALK, 6000, 125, 0},
    {183000, ACT_MOVE, MARKER, 2000, 0},
    {184000, ACT_MOVE, MARKER, 0, 0},
    {199000, ACT_WALK, 7000, 125, 0},
    {208000, ACT_MOVE, MARKER, 2000, 0},
    {209000, ACT_MOVE, MARKER, 0, 0},
    {224000, ACT_WALK, 500, 200, 0},
};

/* The same at the lowest power step, 18 dB down, and back to full at the end. */
static const struct script_step reduced[] = {
    {0, ACT_POWER, 1, 0, 0},
    {0, ACT_START, 0, 0, 0},
    {0, ACT_FADING, FADING_STANDING, 0, 0},
    {0, ACT_WALK, 200, 0, 0},
    {0, ACT_PLAY, STEERING, 400, 700},
    {3000, ACT_MOVE, MARKER, 2000, 0},
    {4000, ACT_MOVE, MARKER, 0, 0},
    {16000, ACT_WALK, 400, 100, 0},
    {19000, ACT_MOVE, MARKER, 2000, 0},
    {20000, ACT_MOVE, MARKER, 0, 0},
    {32000, ACT_WALK, 600, 100, 0},
    {35000, ACT_MOVE, MARKER, 2000, 0},
    {36000, ACT_MOVE, MARKER, 0, 0},
    {48000, ACT_WALK, 800, 100, 0},
    {51000, ACT_MOVE, MARKER, 2000, 0},
    {52000, ACT_MOVE, MARKER, 0, 0},
    {64000, ACT_WALK, 1000, 100, 0},
    {67000, ACT_MOVE, MARKER, 2000, 0},
    {68000, ACT_MOVE, MARKER, 0, 0},
    {80000, ACT_WALK, 1200, 100, 0},
    {83000, ACT_MOVE, MARKER, 2000, 0},
    {84000, ACT_MOVE, MARKER, 0, 0},
    {96000, ACT_WALK, 1500, 100, 0},
    {100000, ACT_MOVE, MARKER, 2000, 0},
    {101000, ACT_MOVE, MARKER, 0, 0},
    {113000, ACT_WALK, 2000, 100, 0},
    {119000, ACT_MOVE, MARKER, 2000, 0},
    {120000, ACT_MOVE, MARKER, 0, 0},
    {132000, ACT_WALK, 200, 200, 0},
    {142000, ACT_POWER, 4, 0, 0},
};

/* A tired battery on thin wires: rudder and winch each dip the rail, with the thruster running they
 * reset the receiver. */
static const struct script_step weak[] = {
    {0, ACT_START, 0, 0, 0},
    {0, ACT_SUPPLY, 5000, 300, 0},
    {4000, ACT_MOVE, RUDDER, 1900, 90},
    {6000, ACT_MOVE, RUDDER, 0, 90},
    {8000, ACT_MOVE, WINCH, 1950, 80},
    {10000, ACT_MOVE, WINCH, 0, 80},
    {12000, ACT_PLAY, STEERING, 450, 400},
    {20000, ACT_PLAY, STEERING, 0, 0},
    {23000, ACT_MOVE, THRUSTER, 1950, 300},
    {24000, ACT_MOVE, WINCH, 1050, 60},
    {24000, ACT_MOVE, RUDDER, 1950, 60},
    {24300, ACT_MOVE, THRUSTER, 0, 200},
    {24500, ACT_MOVE, RUDDER, 0, 200},
    {24500, ACT_MOVE, WINCH, 0, 400},
    {36000, ACT_MOVE, THROTTLE, 1600, 700},
    {40000, ACT_MOVE, THRUSTER, 1950, 300},
    {41000, ACT_MOVE, WINCH, 1050, 60},
    {41000, ACT_MOVE, RUDDER, 1050, 60},
    {46000, ACT_MOVE, THRUSTER, 0, 300},
    {46500, ACT_MOVE, RUDDER, 0, 200},
    {47000, ACT_MOVE, WINCH, 0, 400},
    {48000, ACT_MOVE, THROTTLE, 0, 500},
    {52000, ACT_PLAY, HANDS, 250, 900},
    {58000, ACT_PLAY, HANDS, 0, 0},
};

static const struct script_step busy[] = {
    {0, ACT_START, 0, 0, 0},
    {0, ACT_FADING, FADING_STANDING, 0, 0},
    {0, ACT_WALK, 800, 0, 0},
    {0, ACT_PLAY, STEERING, 400, 700},
    {8000, ACT_DISTURB, 480, 9000, -62},
    {30000, ACT_DISTURB, 0, 0, 0},
    {42000, ACT_DISTURB, 150, 45000, -60},
    {54000, ACT_DISTURB, 0, 0, 0},
};

static const struct script_step mismatch[] = {
    {0, ACT_BIND, BIND_ADDRESS, 0, 0},
    {0, ACT_START, 0, 0, 0},
    {20000, ACT_BIND, BIND_OWNER, 0, 0},
    {35000, ACT_OFF, 0, 0, 0},
};

/* The trial as it is done by hand: throttle up, transmitter off, on again with the throttle still
 * up, then low; and a short interruption that has to pass without failsafe. */
static const struct script_step failsafe[] = {
    {0, ACT_START, 0, 0, 0},
    {10000, ACT_MOVE, THROTTLE, 1500, 600},
    {11000, ACT_MOVE, RUDDER, 1800, 400},
    {11500, ACT_MOVE, WINCH, 1700, 400},
    {16000, ACT_OFF, 0, 0, 0},
    {24000, ACT_START, 0, 0, 0},
    {32000, ACT_MOVE, THROTTLE, 0, 400},
    {35000, ACT_MOVE, RUDDER, 0, 400},
    {35500, ACT_MOVE, WINCH, 0, 400},
    {39000, ACT_MOVE, THROTTLE, 1700, 600},
    {43000, ACT_OFF, 0, 0, 0},
    {51000, ACT_START, 0, 0, 0},
    {59000, ACT_MOVE, THROTTLE, 0, 400},
    {63000, ACT_DISTURB, 6000, 300000, -35},
    {63250, ACT_DISTURB, 0, 0, 0},
    {67000, ACT_MOVE, THROTTLE, 1600, 600},
    {71000, ACT_OFF, 0, 0, 0},
    {146000, ACT_START, 0, 0, 0},
    {154000, ACT_MOVE, THROTTLE, 0, 400},
};

/* Each servo alone, snapped from end to end, then all together, then with the throttle up. */
#define SNAP(at, stick)                                                                            \
    {at, ACT_MOVE, stick, 1950, 80}, {(at) + 1000, ACT_MOVE, stick, 1050, 80}, {                   \
        (at) + 2000, ACT_MOVE, stick, 0, 80                                                        \
    }
#define SNAP_ALL(at, to)                                                                           \
    {at, ACT_MOVE, RUDDER, to, 80}, {at, ACT_MOVE, THRUSTER, to, 80}, {                            \
        at, ACT_MOVE, WINCH, to, 80                                                                \
    }
#define SERVOS                                                                                     \
    SNAP(14000, RUDDER), SNAP(19000, THRUSTER), SNAP(24000, WINCH), SNAP_ALL(31000, 1950),         \
        SNAP_ALL(33000, 1050), SNAP_ALL(35000, 0), {40000, ACT_MOVE, THROTTLE, 1700, 600},         \
        SNAP_ALL(42000, 1950), SNAP_ALL(44000, 1050), SNAP_ALL(46000, 0), {                        \
        48000, ACT_MOVE, THROTTLE, 0, 600                                                          \
    }

static const struct script_step servos[] = {
    {0, ACT_START, 0, 0, 0},
    {0, ACT_SUPPLY, 5450, 60, 0},
    SERVOS,
};

static const struct script_step tired[] = {
    {0, ACT_START, 0, 0, 0},
    {0, ACT_SUPPLY, 4800, 200, 0},
    SERVOS,
};

/* While somebody taps it the antenna loses contact for a moment, every two seconds. */
#define KNOCK(at)                                                                                  \
    {at, ACT_ANTENNA, 6000, 0, 0}, {                                                               \
        (at) + 180, ACT_ANTENNA, 0, 0, 0                                                           \
    }

static const struct script_step knocked[] = {
    {0, ACT_START, 0, 0, 0},
    KNOCK(34000),
    KNOCK(36000),
    KNOCK(38000),
    KNOCK(40000),
    KNOCK(42000),
    KNOCK(44000),
};

static const struct script_step damaged[] = {
    {0, ACT_START, 0, 0, 0},
    {0, ACT_PLAY, STEERING, 400, 700},
    {5000, ACT_CABLE, 300, 0, 0},
    {15000, ACT_CABLE, 0, 300, 0},
    {25000, ACT_CABLE, 150, 150, 0},
    {30000, ACT_RESET, CAUSE_RESET, 1, 0},
    {40000, ACT_RESET, CAUSE_WATCHDOG, 1, 0},
    {50000, ACT_CABLE, 0, 0, 0},
};

static const struct script_step bare[] = {
    {0, ACT_BARE, 0, 0, 0},         {0, ACT_START, 0, 0, 0},   {4000, ACT_PLAY, HANDS, 400, 600},
    {20000, ACT_PLAY, HANDS, 0, 0}, {24000, ACT_OFF, 0, 0, 0}, {27000, ACT_START, 0, 0, 0},
};

/* A sweep at boot: one network near by on channel 1, one on 11, and one on 6 that is too faint for
 * a look of one bit.  The link is on 2450 MHz, between them. */
static const struct script_step survey[] = {
    {0, ACT_WIFI, 1, 180, -42},     {0, ACT_WIFI, 11, 70, -48}, {0, ACT_WIFI, 6, 300, -60},
    {0, ACT_SWEEP, 0, 0, 0},        {4000, ACT_START, 0, 0, 0}, {8000, ACT_PLAY, HANDS, 350, 900},
    {24000, ACT_PLAY, HANDS, 0, 0},
};

static const struct script_step demo[] = {
    {0, ACT_SUPPLY, 5120, 120, 0},
    {0, ACT_START, 0, 0, 0},
    {0, ACT_WALK, 300, 0, 0},
    {6000, ACT_PLAY, HANDS, 400, 700},
    {24000, ACT_MOVE, LIGHT, 2000, 0},
    {30000, ACT_PLAY, 1 << WINCH | 1 << THRUSTER, 0, 0},
    {32000, ACT_FADING, FADING_STANDING, 0, 0},
    {32000, ACT_WALK, 3000, 125, 0},
    {60000, ACT_WALK, 4800, 110, 0},
    {84000, ACT_WALK, 4000, 150, 0},
    {92000, ACT_PLAY, 1 << THROTTLE, 0, 0},
    {92500, ACT_MOVE, THROTTLE, 1500, 500},
    {96000, ACT_OFF, 0, 0, 0},
    {102000, ACT_START, 0, 0, 0},
    {107000, ACT_MOVE, THROTTLE, 0, 500},
    {110000, ACT_WALK, 400, 200, 0},
    {130000, ACT_PLAY, STEERING, 0, 0},
    {132000, ACT_SUPPLY, 5000, 300, 0},
    {133000, ACT_MOVE, RUDDER, 1900, 90},
    {135000, ACT_MOVE, RUDDER, 0, 90},
    {137000, ACT_MOVE, THRUSTER, 1950, 300},
    {138000, ACT_MOVE, WINCH, 1050, 60},
    {138000, ACT_MOVE, RUDDER, 1950, 60},
    {138300, ACT_MOVE, THRUSTER, 0, 200},
    {138500, ACT_MOVE, RUDDER, 0, 300},
    {138500, ACT_MOVE, WINCH, 0, 400},
    {145000, ACT_SUPPLY, 5120, 120, 0},
    {148000, ACT_PLAY, STEERING | 1 << THROTTLE, 350, 700},
    {155000, ACT_DISTURB, 420, 10000, -55},
    {172000, ACT_DISTURB, 0, 0, 0},
    {180000, ACT_PLAY, 1 << THROTTLE, 0, 0},
    {182000, ACT_OFF, 0, 0, 0},
    {182050, ACT_START, 0, 0, 0},
    {190000, ACT_PLAY, HANDS, 300, 900},
    {203000, ACT_MOVE, LIGHT, 0, 0},
    {205000, ACT_PLAY, HANDS, 0, 0},
    {207000, ACT_WALK, 300, 125, 0},
    {209000, ACT_FADING, FADING_BENCH, 0, 0},
};

/* One thing at a time, for the search for causes: the winch alone makes the radio forget; a switch
 * is loose; a beacon next door; a sparking motor; mere distance. */
static const struct script_step sag[] = {
    {0, ACT_START, 0, 0, 0},          {0, ACT_SUPPLY, 4650, 500, 0},
    {0, ACT_PLAY, STEERING, 40, 900}, {3000, ACT_PLAY, 1 << WINCH, 300, 5000},
    {56000, ACT_PLAY, HANDS, 0, 0},   {58000, ACT_SUPPLY, 5120, 120, 0},
};

static const struct script_step loose[] = {
    {0, ACT_START, 0, 0, 0},        {0, ACT_PLAY, HANDS, 300, 900}, {7300, ACT_OFF, 0, 0, 0},
    {7340, ACT_START, 0, 0, 0},     {19100, ACT_OFF, 0, 0, 0},      {19160, ACT_START, 0, 0, 0},
    {26700, ACT_OFF, 0, 0, 0},      {26730, ACT_START, 0, 0, 0},    {41900, ACT_OFF, 0, 0, 0},
    {41950, ACT_START, 0, 0, 0},    {55200, ACT_OFF, 0, 0, 0},      {55240, ACT_START, 0, 0, 0},
    {59000, ACT_PLAY, HANDS, 0, 0},
};

static const struct script_step beacon[] = {
    {0, ACT_START, 0, 0, 0},
    {0, ACT_FADING, FADING_STANDING, 0, 0},
    {0, ACT_WALK, 800, 0, 0},
    {0, ACT_PLAY, HANDS, 300, 900},
    {3000, ACT_BEACON, 102400, 2500, -52},
    {58000, ACT_BEACON, 0, 0, 0},
    {59000, ACT_PLAY, HANDS, 0, 0},
};

static const struct script_step motor[] = {
    {0, ACT_START, 0, 0, 0},
    {0, ACT_WALK, 800, 0, 0},
    {0, ACT_MOTOR, 12, -55, 0},
    {0, ACT_PLAY, STEERING, 300, 900},
    {2000, ACT_PLAY, 1 << THROTTLE, 900, 4000},
    {58000, ACT_PLAY, HANDS, 0, 0},
};

static const struct script_step edge[] = {
    {0, ACT_START, 0, 0, 0},        {0, ACT_FADING, FADING_STANDING, 0, 0},
    {0, ACT_WALK, 4300, 0, 0},      {0, ACT_PLAY, HANDS, 350, 700},
    {59000, ACT_PLAY, HANDS, 0, 0},
};

/* The trial of the controls as it should go: each stick slowly to both ends and let go, three
 * flicks from either side, time to answer; then the throttle and the two switches. */
static const struct script_step sticks[] = {
    {0, ACT_START, 0, 0, 0},
    {12000, ACT_MOVE, RUDDER, 1000, 2000},
    {15000, ACT_MOVE, RUDDER, 2000, 3000},
    {19000, ACT_MOVE, RUDDER, 0, 500},
    {21000, ACT_MOVE, RUDDER, 1250, 300},
    {21600, ACT_MOVE, RUDDER, 0, 40},
    {23000, ACT_MOVE, RUDDER, 1250, 300},
    {23600, ACT_MOVE, RUDDER, 0, 40},
    {25000, ACT_MOVE, RUDDER, 1250, 300},
    {25600, ACT_MOVE, RUDDER, 0, 40},
    {27000, ACT_MOVE, RUDDER, 1750, 300},
    {27600, ACT_MOVE, RUDDER, 0, 40},
    {29000, ACT_MOVE, RUDDER, 1750, 300},
    {29600, ACT_MOVE, RUDDER, 0, 40},
    {31000, ACT_MOVE, RUDDER, 1750, 300},
    {31600, ACT_MOVE, RUDDER, 0, 40},
    {39000, ACT_MOVE, THRUSTER, 1000, 2000},
    {42000, ACT_MOVE, THRUSTER, 2000, 3000},
    {46000, ACT_MOVE, THRUSTER, 0, 500},
    {48000, ACT_MOVE, THRUSTER, 1250, 300},
    {48600, ACT_MOVE, THRUSTER, 0, 40},
    {50000, ACT_MOVE, THRUSTER, 1250, 300},
    {50600, ACT_MOVE, THRUSTER, 0, 40},
    {52000, ACT_MOVE, THRUSTER, 1250, 300},
    {52600, ACT_MOVE, THRUSTER, 0, 40},
    {54000, ACT_MOVE, THRUSTER, 1750, 300},
    {54600, ACT_MOVE, THRUSTER, 0, 40},
    {56000, ACT_MOVE, THRUSTER, 1750, 300},
    {56600, ACT_MOVE, THRUSTER, 0, 40},
    {58000, ACT_MOVE, THRUSTER, 1750, 300},
    {58600, ACT_MOVE, THRUSTER, 0, 40},
    {66000, ACT_MOVE, WINCH, 1000, 2000},
    {69000, ACT_MOVE, WINCH, 2000, 3000},
    {73000, ACT_MOVE, WINCH, 0, 500},
    {75000, ACT_MOVE, WINCH, 1250, 300},
    {75600, ACT_MOVE, WINCH, 0, 40},
    {77000, ACT_MOVE, WINCH, 1250, 300},
    {77600, ACT_MOVE, WINCH, 0, 40},
    {79000, ACT_MOVE, WINCH, 1250, 300},
    {79600, ACT_MOVE, WINCH, 0, 40},
    {81000, ACT_MOVE, WINCH, 1750, 300},
    {81600, ACT_MOVE, WINCH, 0, 40},
    {83000, ACT_MOVE, WINCH, 1750, 300},
    {83600, ACT_MOVE, WINCH, 0, 40},
    {85000, ACT_MOVE, WINCH, 1750, 300},
    {85600, ACT_MOVE, WINCH, 0, 40},
    {93000, ACT_MOVE, THROTTLE, 2000, 2000},
    {96000, ACT_MOVE, THROTTLE, 0, 2000},
    {106000, ACT_MOVE, LIGHT, 2000, 0},
    {108000, ACT_MOVE, LIGHT, 0, 0},
    {115000, ACT_MOVE, MARKER, 2000, 0},
    {117000, ACT_MOVE, MARKER, 0, 0},
};

/* Sticks as they shouldn't be: the throttle rests above idle, the rudder doesn't reach its far end,
 * the thruster's stick moves the rudder's value too, the winch's comes back to two places. */
static const struct script_step crooked[] = {
    {0, ACT_START, 0, 0, 0},
    {0, ACT_MOVE, THROTTLE, 1040, 0},
    {12000, ACT_MOVE, RUDDER, 1000, 2000},
    {15000, ACT_MOVE, RUDDER, 1900, 3000},
    {19000, ACT_MOVE, RUDDER, 0, 500},
    {21000, ACT_MOVE, RUDDER, 1250, 300},
    {21600, ACT_MOVE, RUDDER, 0, 40},
    {23000, ACT_MOVE, RUDDER, 1250, 300},
    {23600, ACT_MOVE, RUDDER, 0, 40},
    {25000, ACT_MOVE, RUDDER, 1250, 300},
    {25600, ACT_MOVE, RUDDER, 0, 40},
    {27000, ACT_MOVE, RUDDER, 1750, 300},
    {27600, ACT_MOVE, RUDDER, 0, 40},
    {29000, ACT_MOVE, RUDDER, 1750, 300},
    {29600, ACT_MOVE, RUDDER, 0, 40},
    {31000, ACT_MOVE, RUDDER, 1750, 300},
    {31600, ACT_MOVE, RUDDER, 0, 40},
    {39000, ACT_MOVE, RUDDER, 1511, 2000},
    {39000, ACT_MOVE, THRUSTER, 1000, 2000},
    {42000, ACT_MOVE, RUDDER, 1485, 2000},
    {42000, ACT_MOVE, THRUSTER, 2000, 3000},
    {46000, ACT_MOVE, RUDDER, 0, 500},
    {46000, ACT_MOVE, THRUSTER, 0, 500},
    {48000, ACT_MOVE, THRUSTER, 1250, 300},
    {48600, ACT_MOVE, THRUSTER, 0, 40},
    {50000, ACT_MOVE, THRUSTER, 1250, 300},
    {50600, ACT_MOVE, THRUSTER, 0, 40},
    {52000, ACT_MOVE, THRUSTER, 1250, 300},
    {52600, ACT_MOVE, THRUSTER, 0, 40},
    {54000, ACT_MOVE, THRUSTER, 1750, 300},
    {54600, ACT_MOVE, THRUSTER, 0, 40},
    {56000, ACT_MOVE, THRUSTER, 1750, 300},
    {56600, ACT_MOVE, THRUSTER, 0, 40},
    {58000, ACT_MOVE, THRUSTER, 1750, 300},
    {58600, ACT_MOVE, THRUSTER, 0, 40},
    {66000, ACT_MOVE, WINCH, 1000, 2000},
    {69000, ACT_MOVE, WINCH, 2000, 3000},
    {73000, ACT_MOVE, WINCH, 0, 500},
    {75000, ACT_MOVE, WINCH, 1250, 300},
    {75600, ACT_MOVE, WINCH, 1490, 40},
    {77000, ACT_MOVE, WINCH, 1250, 300},
    {77600, ACT_MOVE, WINCH, 1490, 40},
    {79000, ACT_MOVE, WINCH, 1250, 300},
    {79600, ACT_MOVE, WINCH, 1490, 40},
    {81000, ACT_MOVE, WINCH, 1750, 300},
    {81600, ACT_MOVE, WINCH, 1508, 40},
    {83000, ACT_MOVE, WINCH, 1750, 300},
    {83600, ACT_MOVE, WINCH, 1508, 40},
    {85000, ACT_MOVE, WINCH, 1750, 300},
    {85600, ACT_MOVE, WINCH, 1508, 40},
    {87000, ACT_MOVE, WINCH, 0, 100},
    {93000, ACT_MOVE, THROTTLE, 0, 300},
};

/* Sticks that nobody touches, five times 42 s: all is well, the thruster's potentiometer is worn,
 * the winch's value jumps, the reference of all jitters, the winch's value creeps. */
static const struct script_step shaky[] = {
    {0, ACT_START, 0, 0, 0},
    {43000, ACT_WEAR, THRUSTER, 9, 0},
    {84000, ACT_WEAR, THRUSTER, 0, 0},
    {85000, ACT_WEAR, WINCH, 0, 120},
    {126000, ACT_WEAR, WINCH, 0, 0},
    {127000, ACT_WEAR, -1, 9, 0},
    {168000, ACT_WEAR, -1, 0, 0},
    {169000, ACT_MOVE, WINCH, 1511, 38000},
    {210000, ACT_MOVE, WINCH, 0, 1000},
};

/* Binding as it is done by hand: off, on, off, on, away to 5 m; then each end started while the
 * other runs. */
static const struct script_step bind[] = {
    {0, ACT_WALK, 200, 0, 0},
    {8000, ACT_START, 0, 0, 0},
    {18000, ACT_OFF, 0, 0, 0},
    {28000, ACT_START, 0, 0, 0},
    {38000, ACT_WALK, 520, 160, 0},
    {52000, ACT_OFF, 0, 0, 0},
    {54000, ACT_START, 0, 0, 0},
    {58000, ACT_OFF, 0, 0, 0},
    {60000, ACT_START, 0, 0, 0},
    {68000, ACT_RESET, CAUSE_POWER, 0, 0},
    {75000, ACT_RESET, CAUSE_POWER, 0, 0},
    {84000, ACT_OFF, 0, 0, 0},
};

static const struct script_step wires[] = {
    {0, ACT_LEAD, LEAD_CUT, 0, 0},       {0, ACT_OFF, 0, 0, 0},
    {20000, ACT_LEAD, LEAD_SPEED, 0, 0}, {40000, ACT_LEAD, LEAD_WORDS, 0, 0},
    {60000, ACT_LEAD, LEAD_WHOLE, 0, 0},
};

static const struct script_step mute[] = {
    {0, ACT_RADIO, RADIO_ABSENT, 0, 0},
    {8000, ACT_START, 0, 0, 0},
    {50000, ACT_OFF, 0, 0, 0},
};

static const struct script_step forgot[] = {
    {0, ACT_RADIO, RADIO_FORGETS, 0, 0},
    {8000, ACT_START, 0, 0, 0},
    {30000, ACT_RADIO, RADIO_DIFFERS, 0, 0},
    {50000, ACT_OFF, 0, 0, 0},
};

static const struct script_step stranger[] = {
    {0, ACT_OTHER, 1, 0, 0},     {8000, ACT_START, 0, 0, 0}, {18000, ACT_OFF, 0, 0, 0},
    {28000, ACT_START, 0, 0, 0}, {50000, ACT_OFF, 0, 0, 0},
};

static const struct script_step phantom[] = {
    {0, ACT_RADIO, RADIO_FLOATS, 0, 0}, {8000, ACT_START, 0, 0, 0}, {18000, ACT_OFF, 0, 0, 0},
    {28000, ACT_START, 0, 0, 0},        {50000, ACT_OFF, 0, 0, 0},
};

static const struct script_step swapped[] = {
    {0, ACT_WALK, 200, 0, 0},  {0, ACT_SWAP, 1, 0, 0},      {8000, ACT_START, 0, 0, 0},
    {18000, ACT_OFF, 0, 0, 0}, {28000, ACT_START, 0, 0, 0}, {38000, ACT_WALK, 520, 160, 0},
    {50000, ACT_OFF, 0, 0, 0},
};

static const struct script_step close_by[] = {
    {0, ACT_WALK, 30, 0, 0},   {0, ACT_STRONG, 1, 0, 0},    {8000, ACT_START, 0, 0, 0},
    {18000, ACT_OFF, 0, 0, 0}, {28000, ACT_START, 0, 0, 0}, {38000, ACT_WALK, 520, 240, 0},
    {50000, ACT_OFF, 0, 0, 0},
};

static const struct script_step image[] = {
    {0, ACT_WALK, 200, 0, 0},  {0, ACT_BIND, BIND_IMAGE, 0, 0}, {8000, ACT_START, 0, 0, 0},
    {18000, ACT_OFF, 0, 0, 0}, {28000, ACT_START, 0, 0, 0},     {38000, ACT_WALK, 40, 150, 0},
    {50000, ACT_OFF, 0, 0, 0},
};

#define STEPS(table)                                                                               \
    { (table), sizeof(table) / sizeof *(table) }

/* One a line, so that scenes are added side by side. */
/* clang-format off */
const struct script scripts[] = {
    STEPS(calm),
    STEPS(walk),
    STEPS(reduced),
    STEPS(weak),
    STEPS(busy),
    STEPS(mismatch),
    STEPS(failsafe),
    STEPS(servos),
    STEPS(tired),
    STEPS(knocked),
    STEPS(damaged),
    STEPS(bare),
    STEPS(survey),
    STEPS(sag),
    STEPS(loose),
    STEPS(beacon),
    STEPS(motor),
    STEPS(edge),
    STEPS(bind),
    STEPS(wires),
    STEPS(mute),
    STEPS(forgot),
    STEPS(stranger),
    STEPS(phantom),
    STEPS(swapped),
    STEPS(close_by),
    STEPS(image),
    STEPS(demo),
    STEPS(sticks),
    STEPS(crooked),
    STEPS(shaky),
};
/* clang-format on */

const struct simulator_scene simulator_scenes[] = {
    {"calm", "on the bench at 2 m: sticks moved, then left alone", 60},
    {"walk", "range walk: away from the tug in ten marked stops of 5 to 70 m, and back", 260},
    {"reduced", "range walk at the lowest power step: eight marked stops of 2 to 20 m", 147},
    {"weak", "weak supply: servos dip the rail, two at once reset the receiver", 60},
    {"busy", "interference: short dense bursts, then long sparse ones", 60},
    {"mismatch", "wrong binding: another address, then another owner; never a packet", 40},
    {"failsafe", "failsafe trial: throttle up, transmitter off and on again, three times", 165},
    {"servos", "good supply: each servo alone, then together, then with the throttle up", 55},
    {"tired", "the same on a tired battery: all together reset the receiver", 55},
    {"knocked", "a loose antenna, that loses contact when it is tapped", 60},
    {"damaged", "a bad serial cable: lines lost, bytes damaged, restarts in mid-line", 60},
    {"bare", "a sketch that prints channel values and nothing else", 30},
    {"survey", "a sweep of the band at boot, in a park with Wi-Fi networks", 30},
    {"sag", "the winch pulls a tired rail down: the radio forgets, at times the tug restarts", 60},
    {"loose", "the transmitter's switch is loose: it restarts now and then", 60},
    {"beacon", "a Wi-Fi beacon on the same frequency, every 102.4 ms", 60},
    {"motor", "a sparking motor: the higher the throttle, the more packets are lost", 60},
    {"edge", "standing at the edge of the range, sticks moved: mere fading", 60},
    {"bind", "binding by hand: transmitter off and on, 5 m away, then starts in either order", 90},
    {"wires", "nothing on the cable, another speed, text but no reports, then well", 70},
    {"mute", "the receiver's radio doesn't answer", 60},
    {"forgot", "the receiver's radio forgets its settings, then holds others", 60},
    {"stranger", "another tug's transmitter sends on our address", 60},
    {"phantom", "a data line that floats: packets that nobody sent", 60},
    {"swapped", "the transmitter packs the two bytes of each value the other way round", 60},
    {"close", "strong radios too close: overloaded at 0.3 m, well at 5 m", 60},
    {"image", "the transmitter is on another carrier, whose image is heard below 1 m", 60},
    {"demo", "a bit of everything for a first look: calm, a walk, an outage, a supply dip", 210},
    {"sticks", "trial of the controls: each stick and switch to its ends, flicked, let go", 125},
    {"crooked", "the same with faults: throttle not idle, a short travel, cross-talk, two centres",
     99},
    {"shaky", "hands off: all well, a worn stick, one that jumps, a bad reference, one that creeps",
     215},
};

const size_t simulator_scene_count = sizeof simulator_scenes / sizeof *simulator_scenes;
_Static_assert(sizeof scripts / sizeof *scripts ==
                   sizeof simulator_scenes / sizeof *simulator_scenes,
               "each scene has its script");
