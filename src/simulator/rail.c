#include "simulator/rail.h"

#include "simulator/shore.h"

enum { ELECTRONICS_MA = 70, SERVO_IDLE_MA = 8, SERVO_STEP_US = 20, SERVO_DEADBAND_US = 5 };

static const struct {
    int output;
    int32_t stall_ma;
} servos[2] = {{RUDDER, 900}, {WINCH, 1300}};

void rail_init(struct rail *r, uint64_t seed) {
    *r = (struct rail){.open_mv = 5120, .milliohm = 120, .servo = {1500, 1500}, .mv = 5120};
    chance_init(&r->chance, seed, 3);
}

/* A servo is a position loop: the further it is behind, the harder it pulls, up to its stall
 * current and to about 60 degrees in 0.17 s. */
static int32_t servo_ma(int32_t *at, int32_t wanted, int32_t stall_ma) {
    if (wanted == RAIL_OFF)
        return 0;
    int32_t behind = wanted - *at;
    int32_t size = behind < 0 ? -behind : behind;
    if (size <= SERVO_DEADBAND_US)
        return SERVO_IDLE_MA;
    int32_t step = size / 4 + 1 < SERVO_STEP_US ? size / 4 + 1 : SERVO_STEP_US;
    *at += behind < 0 ? -step : step;
    int32_t ma = 40 + 5 * size;
    return ma < stall_ma ? ma : stall_ma;
}

static int32_t thruster_ma(int32_t wanted) {
    if (wanted == RAIL_OFF)
        return 0;
    int32_t size = wanted < 1500 ? 1500 - wanted : wanted - 1500;
    return size < 40 ? 0 : size * 14 / 10;
}

int32_t rail_tick(struct rail *r, const int32_t *outputs) {
    int32_t ma = ELECTRONICS_MA + thruster_ma(outputs[THRUSTER]);
    for (int i = 0; i < 2; i++)
        ma += servo_ma(&r->servo[i], outputs[servos[i].output], servos[i].stall_ma);
    r->mv = r->open_mv - ma * r->milliohm / 1000 + chance_normal(&r->chance) * 6 / 4096;
    return r->mv;
}
