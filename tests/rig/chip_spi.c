#include <string.h>

#include "chip_parts.h"

/* Table 28: reset value, bits that can be written. */
static const struct {
    uint8_t reset, mask;
} registers[0x20] = {
    [CONFIG] = {0x08, 0x7F},         [EN_AA] = {0x3F, 0x3F},
    [EN_RXADDR] = {0x03, 0x3F},      [SETUP_AW] = {0x03, 0x03},
    [SETUP_RETR] = {0x03, 0xFF},     [RF_CH] = {0x02, 0x7F},
    [RF_SETUP] = {0x0E, 0xBE},       [STATUS] = {0x00, 0x00}, /* made when read: 0x0E */
    [OBSERVE_TX] = {0x00, 0x00},     [RPD] = {0x00, 0x00},
    [RX_ADDR_P0 + 2] = {0xC3, 0xFF}, [RX_ADDR_P0 + 3] = {0xC4, 0xFF},
    [RX_ADDR_P0 + 4] = {0xC5, 0xFF}, [RX_ADDR_P0 + 5] = {0xC6, 0xFF},
    [RX_PW_P0] = {0x00, 0x3F},       [RX_PW_P0 + 1] = {0x00, 0x3F},
    [RX_PW_P0 + 2] = {0x00, 0x3F},   [RX_PW_P0 + 3] = {0x00, 0x3F},
    [RX_PW_P0 + 4] = {0x00, 0x3F},   [RX_PW_P0 + 5] = {0x00, 0x3F},
    [FIFO_STATUS] = {0x00, 0x00}, /* made when read: 0x11 */
    [DYNPD] = {0x00, 0x3F},          [FEATURE] = {0x00, 0x07},
};

void chip_forget(struct chip *c) {
    static const uint8_t resets[3] = {0xE7, 0xC2, 0xE7};
    for (uint8_t i = 0; i < 0x20; i++)
        c->reg[i] = registers[i].reset;
    if (!c->plus)
        c->reg[RF_SETUP] = 0x0F;
    for (uint8_t i = 0; i < 3; i++)
        memset(c->address[i], resets[i], sizeof c->address[i]);
    c->rx.count = c->tx.count = 0;
}

uint8_t chip_status(const struct chip *c) {
    uint8_t pipe = c->rx.count > 0 ? c->rx.slot[0].pipe : 7;
    return (uint8_t)((c->reg[STATUS] & 0x70) | pipe << 1 | (c->tx.count == 3));
}

static uint8_t fifo_status(const struct chip *c) {
    return (uint8_t)((c->tx.count == 3) << 5 | (c->tx.count == 0) << 4 | (c->rx.count == 3) << 1 |
                     (c->rx.count == 0));
}

static uint8_t *address_register(struct chip *c, uint8_t reg) {
    return reg == RX_ADDR_P0   ? c->address[0]
           : reg == RX_ADDR_P1 ? c->address[1]
           : reg == TX_ADDR    ? c->address[2]
                               : NULL;
}

static uint8_t read_register(struct chip *c, uint8_t reg, uint8_t at) {
    const uint8_t *address = address_register(c, reg);
    if (address)
        return at < 5 ? address[at] : 0;
    if (reg == STATUS)
        return chip_status(c);
    if (reg == FIFO_STATUS)
        return fifo_status(c);
    if (reg == RPD)
        return chip_rpd(c, c->now);
    return c->reg[reg];
}

static bool locked(const struct chip *c, uint8_t reg) {
    return !c->plus && !c->activated && (reg == DYNPD || reg == FEATURE);
}

static void write_single(struct chip *c, uint8_t reg, uint8_t value) {
    uint8_t mask = registers[reg].mask;
    if (reg == RF_SETUP && !c->plus)
        mask = 0x1F;
    if (reg == SETUP_AW && (value & 3) == 0)
        c->faults[FAULT_LENGTH]++;
    if (locked(c, reg))
        return;
    c->reg[reg] = (uint8_t)((c->reg[reg] & ~mask) | (value & mask));
    if (reg == RF_CH)
        c->reg[OBSERVE_TX] &= 0x0F;
    if ((reg == RF_CH || reg == RF_SETUP) && c->mode == CHIP_RX)
        c->rx_since = c->now;
    if (reg == CONFIG)
        chip_reconsider(c, c->now);
}

static void write_register(struct chip *c, uint8_t reg, uint8_t at, uint8_t value) {
    uint8_t *address = address_register(c, reg);
    if (reg == STATUS) {
        if (at == 0)
            c->reg[STATUS] &= (uint8_t) ~(value & 0x70);
        if (at == 0 && value & MAX_RT)
            chip_reconsider(c, c->now);
        return;
    }
    if (at == 0 && chip_active(c))
        c->faults[FAULT_ACTIVE_WRITE]++;
    if (address && at < 5)
        address[at] = value;
    else if (!address && at == 0)
        write_single(c, reg, value);
}

static bool takes_payload(uint8_t command) {
    return command == 0xA0 || command == 0xB0;
}

static uint8_t payload_byte(struct chip *c, uint8_t at) {
    const struct chip_payload *p = &c->rx.slot[0];
    if (c->tear > 0 && at == c->tear) {
        c->tear = 0;
        chip_power(c, false, c->now);
        return c->stuck;
    }
    if (c->rx.count == 0 || at >= p->length)
        return 0;
    if (at + 1 == p->length) {
        c->reads++;
        c->read_tag = p->tag;
    }
    return p->byte[at];
}

static uint8_t data_byte(struct chip *c, uint8_t mosi) {
    uint8_t at = c->at++;
    if (c->command < 0x20)
        return read_register(c, c->command, at);
    if (c->command < 0x40) {
        write_register(c, c->command & 0x1F, at, mosi);
    } else if (c->command == 0x61) { /* R_RX_PAYLOAD */
        return payload_byte(c, at);
    } else if (c->command == 0x60) { /* R_RX_PL_WID */
        return c->rx.count > 0 ? c->rx.slot[0].length : 0;
    } else if (takes_payload(c->command)) {
        if (at < FRAME_PAYLOAD)
            c->moving.byte[at] = mosi;
        c->moving.length = at < FRAME_PAYLOAD ? (uint8_t)(at + 1) : 33;
    } else if (c->command == 0x50 && mosi == 0x73 && !c->plus) { /* ACTIVATE, older chip only */
        c->activated = !c->activated;
    }
    return 0;
}

static void begin(struct chip *c, uint8_t command) {
    c->command = command;
    c->at = 0;
    c->moving = (struct chip_payload){.no_ack = command == 0xB0};
    if (command < 0x40 || takes_payload(command) || command == 0x60 || command == 0xFF)
        return;
    if (command == 0x61)
        c->faults[FAULT_EMPTY_READ] += c->rx.count == 0;
    else if (command == 0xE1)
        c->tx.count = 0;
    else if (command == 0xE2)
        c->rx.count = 0;
    else if (command != 0x50 || c->plus)
        c->faults[FAULT_UNKNOWN]++;
}

uint8_t chip_spi(struct chip *c, uint8_t mosi, int64_t now) {
    chip_advance(c, now);
    if (c->mode == CHIP_OFF || c->csn)
        return c->stuck;
    if (c->mode == CHIP_RESETTING) {
        c->faults[FAULT_RESET_SPI]++;
        c->command = 0xFF;
        return 0;
    }
    if (c->at != 0xFF)
        return data_byte(c, mosi);
    uint8_t status = chip_status(c);
    begin(c, mosi);
    return status;
}

static void finish(struct chip *c) {
    if (c->command == 0x61 && c->at > 0)
        chip_fifo_pop(&c->rx);
    if (!takes_payload(c->command) || c->at == 0)
        return;
    if (c->moving.length > FRAME_PAYLOAD)
        c->faults[FAULT_LENGTH]++;
    else if (c->tx.count == 3)
        c->faults[FAULT_TX_OVERFLOW]++;
    else
        chip_fifo_push(&c->tx, &c->moving);
    chip_reconsider(c, c->now);
}

void chip_set_csn(struct chip *c, bool high, int64_t now) {
    chip_advance(c, now);
    if (c->csn == high)
        return;
    c->csn = high;
    if (high && c->mode > CHIP_RESETTING && c->at != 0xFF)
        finish(c);
    c->command = 0xFF;
    c->at = 0xFF;
}
