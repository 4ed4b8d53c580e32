/* What chip.c (modes, radio) and chip_spi.c (commands, registers) share. */
#ifndef RIG_CHIP_PARTS_H
#define RIG_CHIP_PARTS_H

#include "chip.h"

enum {
    CONFIG = 0x00,
    EN_AA = 0x01,
    EN_RXADDR = 0x02,
    SETUP_AW = 0x03,
    SETUP_RETR = 0x04,
    RF_CH = 0x05,
    RF_SETUP = 0x06,
    STATUS = 0x07,
    OBSERVE_TX = 0x08,
    RPD = 0x09,
    RX_ADDR_P0 = 0x0A,
    RX_ADDR_P1 = 0x0B,
    TX_ADDR = 0x10,
    RX_PW_P0 = 0x11,
    FIFO_STATUS = 0x17,
    DYNPD = 0x1C,
    FEATURE = 0x1D
};

enum { PRIM_RX = 0x01, PWR_UP = 0x02, CRCO = 0x04, EN_CRC = 0x08 }; /* CONFIG */
enum { RX_DR = 0x40, TX_DS = 0x20, MAX_RT = 0x10 };                 /* STATUS */
enum { EN_DPL = 0x04, EN_DYN_ACK = 0x01 };                          /* FEATURE */

/* All registers to their reset values, FIFOs empty. */
void chip_forget(struct chip *c);

uint8_t chip_status(const struct chip *c);

/* After CONFIG, the TX FIFO or CE has changed: go where that leads. */
void chip_reconsider(struct chip *c, int64_t now);

/* The carrier bit as it reads now. */
bool chip_rpd(const struct chip *c, int64_t now);

bool chip_active(const struct chip *c);

void chip_fifo_push(struct chip_fifo *f, const struct chip_payload *p);
void chip_fifo_pop(struct chip_fifo *f);

#endif
