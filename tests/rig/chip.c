#include <string.h>

#include "air.h"
#include "chip_parts.h"

enum {
    RESET_TICKS = 100 * TICKS_MS,  /* 6.1.1: undefined for 100 ms after power on */
    START_TICKS = 1500 * TICKS_US, /* Tpd2stby with a crystal of Ls < 30 mH, table 16 */
    SETTLE_TICKS = 130 * TICKS_US, /* Tstby2a, table 16 */
    CE_TICKS = 10 * TICKS_US,      /* Thce, table 16 */
    AGC_TICKS = 40 * TICKS_US,     /* Tdelay_AGC, 6.4 */
    RETRY_TICKS = 250 * TICKS_US,  /* a step of ARD, register 04 */
    RPD_DBM = -64
};

void chip_init(struct chip *c) {
    *c = (struct chip){.plus = true, .stuck = 0xFF, .csn = true};
    c->reset_ticks = RESET_TICKS;
    c->start_ticks = START_TICKS;
    c->command = c->at = 0xFF;
    c->mode = CHIP_OFF;
    chip_forget(c);
}

void chip_fifo_push(struct chip_fifo *f, const struct chip_payload *p) {
    if (f->count < 3)
        f->slot[f->count++] = *p;
}

void chip_fifo_pop(struct chip_fifo *f) {
    if (f->count == 0)
        return;
    f->count--;
    memmove(f->slot, f->slot + 1, sizeof f->slot - sizeof f->slot[0]);
}

bool chip_active(const struct chip *c) {
    return c->mode >= CHIP_SETTLE_RX;
}

uint16_t chip_kbps(const struct chip *c) {
    if (c->plus && c->reg[RF_SETUP] & 0x20)
        return 250;
    return c->reg[RF_SETUP] & 0x08 ? 2000 : 1000;
}

int chip_sensitivity(uint16_t kbps) {
    return kbps == 250 ? -94 : kbps == 1000 ? -85 : -82;
}

bool chip_irq(const struct chip *c) {
    return (c->reg[STATUS] & 0x70 & ~c->reg[CONFIG]) == 0 || c->mode <= CHIP_RESETTING;
}

/* The chip sends and awaits the control field unless it is set up to be understood by older parts:
 * no automatic acknowledgement and no retransmission (appendix B). */
static struct format format_of(const struct chip *c) {
    struct format f = {.aw = (uint8_t)(c->reg[SETUP_AW] + 2)};
    f.enhanced = c->reg[EN_AA] != 0 || (c->reg[SETUP_RETR] & 0x0F) != 0;
    if (c->reg[CONFIG] & EN_CRC || c->reg[EN_AA] != 0) /* register 00: forced high */
        f.crc = c->reg[CONFIG] & CRCO ? 2 : 1;
    return f;
}

static void set_address(struct format *f, const uint8_t least_first[5]) {
    for (uint8_t i = 0; i < f->aw; i++)
        f->address[i] = least_first[f->aw - 1 - i];
}

/* Pipes 2 to 5 share the upper bytes of pipe 1 (figure 13). */
static void set_pipe(const struct chip *c, uint8_t pipe, struct format *f) {
    uint8_t address[5];
    memcpy(address, c->address[pipe == 0 ? 0 : 1], sizeof address);
    if (pipe >= 2)
        address[0] = c->reg[RX_ADDR_P0 + pipe];
    set_address(f, address);
    f->dynamic = f->enhanced && c->reg[FEATURE] & EN_DPL && c->reg[DYNPD] >> pipe & 1;
}

static void enter(struct chip *c, enum chip_mode mode, int64_t now, int64_t ticks) {
    c->mode = mode;
    c->until = now + ticks;
    if (mode == CHIP_RX || mode == CHIP_WAIT) {
        c->rx_since = now;
        c->rpd_held = false;
    }
}

static void leave_rx(struct chip *c, int64_t now) {
    if (c->mode != CHIP_RX || c->rpd_held)
        return;
    c->rpd = chip_rpd(c, now);
    c->rpd_held = true;
}

bool chip_rpd(const struct chip *c, int64_t now) {
    if (c->mode != CHIP_RX || c->rpd_held)
        return c->rpd;
    return now - c->rx_since >= AGC_TICKS &&
           air_power(c->air, c, c->reg[RF_CH], RPD_DBM, now - AGC_TICKS, now);
}

static void load(struct chip *c) {
    const struct chip_payload *p = &c->tx.slot[0];
    c->frame = (struct frame){.format = format_of(c), .channel = c->reg[RF_CH]};
    set_address(&c->frame.format, c->address[2]);
    c->frame.kbps = chip_kbps(c);
    c->frame.dbm = (int8_t)(6 * (c->reg[RF_SETUP] >> 1 & 3) - 18); /* table 17 */
    c->frame.pid = c->pid = (c->pid + 1) & 3;
    c->frame.no_ack = p->no_ack;
    c->frame.length = p->length;
    memcpy(c->frame.payload, p->byte, p->length);
    frame_seal(&c->frame);
    c->tries = 0;
    c->reg[OBSERVE_TX] &= 0xF0;
}

/* From standby, or where an active mode has ended (figure 4). */
static void stand_by(struct chip *c, int64_t now) {
    if (!c->ce) {
        enter(c, CHIP_STANDBY, now, 0);
    } else if (c->reg[CONFIG] & PRIM_RX) {
        enter(c, CHIP_SETTLE_RX, now, SETTLE_TICKS);
    } else if (c->tx.count > 0 && !(c->reg[STATUS] & MAX_RT)) {
        load(c);
        enter(c, CHIP_SETTLE_TX, now, SETTLE_TICKS);
    } else {
        enter(c, CHIP_STANDBY2, now, 0);
    }
}

void chip_reconsider(struct chip *c, int64_t now) {
    bool listens = c->mode == CHIP_RX || c->mode == CHIP_SETTLE_RX;
    if (c->mode <= CHIP_RESETTING)
        return;
    if (!(c->reg[CONFIG] & PWR_UP)) {
        leave_rx(c, now);
        if (c->mode == CHIP_TX || c->mode == CHIP_ACK)
            air_break(c->air, c, now);
        enter(c, CHIP_DOWN, now, 0);
    } else if (c->mode == CHIP_DOWN) {
        enter(c, CHIP_STARTING, now, c->start_ticks);
    } else if (c->mode == CHIP_STANDBY || c->mode == CHIP_STANDBY2) {
        stand_by(c, now);
    } else if (listens && (!c->ce || !(c->reg[CONFIG] & PRIM_RX))) {
        leave_rx(c, now);
        stand_by(c, now);
    } else if (c->mode == CHIP_SETTLE_TX && !c->ce && now - c->ce_since < CE_TICKS) {
        c->faults[FAULT_SHORT_CE]++;
        stand_by(c, now);
    }
}

static void begin_sending(struct chip *c, enum chip_mode mode, int64_t now) {
    c->frame_end = now + frame_ticks(&c->frame);
    air_begin(c->air, c, &c->frame, now);
    enter(c, mode, now, frame_ticks(&c->frame));
}

static void sent(struct chip *c, int64_t now) {
    chip_fifo_pop(&c->tx);
    c->reg[STATUS] |= TX_DS;
    stand_by(c, now);
}

static void end_sending(struct chip *c, int64_t now) {
    bool acknowledged = c->reg[EN_AA] & 1 && !c->frame.no_ack;
    if (acknowledged)
        enter(c, CHIP_SETTLE_WAIT, now, SETTLE_TICKS);
    else
        sent(c, now);
}

static void no_answer(struct chip *c, int64_t now) {
    if (c->tries < (c->reg[SETUP_RETR] & 0x0F)) {
        c->tries++;
        c->reg[OBSERVE_TX] = (uint8_t)((c->reg[OBSERVE_TX] & 0xF0) | c->tries);
        enter(c, CHIP_SETTLE_TX, now, SETTLE_TICKS);
        return;
    }
    c->reg[STATUS] |= MAX_RT;
    if (c->reg[OBSERVE_TX] < 0xF0) /* stops at 15 */
        c->reg[OBSERVE_TX] = (uint8_t)(c->reg[OBSERVE_TX] + 0x10);
    stand_by(c, now);
}

/* ARD counts from the end of one frame to the start of the next (register 04), both settlings in
 * it; at 250 us that leaves no time to listen, and the next frame comes later. */
static int64_t wait_ticks(const struct chip *c) {
    int64_t delay = ((c->reg[SETUP_RETR] >> 4) + 1) * (int64_t)RETRY_TICKS;
    int64_t least = RETRY_TICKS - SETTLE_TICKS;
    return delay - 2 * SETTLE_TICKS > least ? delay - 2 * SETTLE_TICKS : least;
}

static void step(struct chip *c, int64_t now) {
    switch (c->mode) {
    case CHIP_RESETTING:
        enter(c, CHIP_DOWN, now, 0);
        chip_reconsider(c, now);
        break;
    case CHIP_STARTING:
        stand_by(c, now);
        break;
    case CHIP_SETTLE_RX:
        enter(c, CHIP_RX, now, 0);
        break;
    case CHIP_SETTLE_TX:
        begin_sending(c, CHIP_TX, now);
        break;
    case CHIP_TX:
        end_sending(c, now);
        break;
    case CHIP_SETTLE_WAIT:
        enter(c, CHIP_WAIT, now, wait_ticks(c));
        break;
    case CHIP_WAIT:
        no_answer(c, now);
        break;
    case CHIP_SETTLE_ACK:
        begin_sending(c, CHIP_ACK, now);
        break;
    case CHIP_ACK:
        stand_by(c, now);
        break;
    default:
        break;
    }
}

static bool ends_by_itself(enum chip_mode mode) {
    return mode != CHIP_OFF && mode != CHIP_DOWN && mode != CHIP_STANDBY && mode != CHIP_STANDBY2 &&
           mode != CHIP_RX;
}

void chip_advance(struct chip *c, int64_t now) {
    if (now < c->now)
        now = c->now;
    while (ends_by_itself(c->mode) && c->until <= now) {
        int64_t at = c->until;
        enum chip_mode mode = c->mode;
        air_hand(c->air, c, at);
        if (c->mode == mode && c->until == at)
            step(c, at);
    }
    air_hand(c->air, c, now);
    c->now = now;
}

void chip_power(struct chip *c, bool on, int64_t now) {
    chip_advance(c, now);
    if (on == (c->mode != CHIP_OFF))
        return;
    if (c->mode == CHIP_TX || c->mode == CHIP_ACK)
        air_break(c->air, c, now);
    chip_forget(c);
    c->pid = 0;
    c->heard_any = c->rpd_held = c->rpd = c->activated = false;
    c->command = 0xFF; /* what is left of a transaction means nothing */
    if (on)
        enter(c, CHIP_RESETTING, now, c->reset_ticks);
    else
        c->mode = CHIP_OFF;
}

void chip_set_ce(struct chip *c, bool high, int64_t now) {
    chip_advance(c, now);
    if (c->ce == high)
        return;
    c->ce = high;
    if (high)
        c->ce_since = now;
    chip_reconsider(c, now);
}

/* Which pipe's address, length and CRC fit. */
static bool match(const struct chip *c, const struct frame *f, int64_t end, uint8_t *pipe,
                  struct frame *got) {
    for (uint8_t i = 0; i < 6; i++) {
        struct format want = format_of(c);
        uint8_t size = c->reg[RX_PW_P0 + i] & 0x3F;
        set_pipe(c, i, &want);
        if (!(c->reg[EN_RXADDR] >> i & 1) || want.aw < 3 || (size == 0 && !want.dynamic))
            continue;
        *pipe = i;
        if (frame_read(f, &want, size, (uint32_t)end, got))
            return true;
    }
    return false;
}

static void answer(struct chip *c, const struct frame *got, int64_t now) {
    c->frame = *got;
    c->frame.dbm = (int8_t)(6 * (c->reg[RF_SETUP] >> 1 & 3) - 18);
    c->frame.length = 0;
    c->frame.no_ack = true;
    frame_seal(&c->frame);
    leave_rx(c, now);
    enter(c, CHIP_SETTLE_ACK, now, SETTLE_TICKS);
}

static enum outcome accept(struct chip *c, const struct frame *got, uint8_t pipe, int64_t end) {
    struct chip_payload p = {.length = got->length, .pipe = pipe, .tag = got->tag};
    uint16_t crc = frame_crc(got->payload, got->length, 2);
    bool again = got->format.enhanced && c->heard_any && c->heard_pid == got->pid &&
                 c->heard_crc == crc; /* 7.3.3.2 */
    if (!again && c->rx.count == 3)
        return NO_ROOM;
    if (c->reg[EN_AA] >> pipe & 1 && !got->no_ack)
        answer(c, got, end);
    if (again)
        return HEARD_AGAIN;
    c->heard_any = true;
    c->heard_pid = got->pid;
    c->heard_crc = crc;
    memcpy(p.byte, got->payload, got->length);
    chip_fifo_push(&c->rx, &p);
    c->reg[STATUS] |= RX_DR;
    return HEARD;
}

/* The acknowledgement comes on pipe 0 and is empty, whatever width that pipe has. */
static enum outcome hear_answer(struct chip *c, const struct frame *f, int64_t end) {
    struct frame got;
    struct format want = format_of(c);
    set_pipe(c, 0, &want);
    if (!(c->reg[EN_RXADDR] & 1) || !frame_read(f, &want, 0, (uint32_t)end, &got))
        return NO_MATCH;
    sent(c, end);
    return HEARD;
}

enum outcome chip_hear(struct chip *c, const struct frame *f, int dbm, int64_t begin, int64_t end) {
    struct frame got;
    uint8_t pipe;
    bool listened = (c->mode == CHIP_RX || c->mode == CHIP_WAIT) && c->rx_since <= begin;
    if (!listened || f->channel != c->reg[RF_CH] || f->kbps != chip_kbps(c))
        return DEAF;
    if (dbm < chip_sensitivity(f->kbps))
        return WEAK;
    if (c->mode == CHIP_WAIT)
        return hear_answer(c, f, end);
    if (!match(c, f, end, &pipe, &got))
        return NO_MATCH;
    c->rpd = dbm > RPD_DBM;
    c->rpd_held = true;
    return accept(c, &got, pipe, end);
}
