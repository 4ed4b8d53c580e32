/* A virtual nRF24L01+, written from its Product Specification v1.0 (Nordic, 2008); section and
 * table numbers beside the code are of that document.  No driver was looked at.
 *
 * It is driven through its pins: CSN, CE, bytes on the SPI, supply; each call carries the time (in
 * ticks of 1/16 us), which must not run backwards for one chip.  Radiated frames go to the air
 * (air.h), which hands them to the other chips when they end.
 *
 * Where the specification leaves a choice, the stricter one was taken: writing another register
 * than STATUS outside power-down and standby is a fault (8.3.1), CE pulses under 10 us send
 * nothing, the chip answers nothing in its first 100 ms, and the carrier bit of the newest packet
 * stays until RX mode is entered anew or the next packet comes (6.4).
 * Not modelled: payloads in acknowledgements, REUSE_TX_PL, the continuous carrier of the test mode,
 * SPI bit timing.
 */
#ifndef RIG_CHIP_H
#define RIG_CHIP_H

#include "frame.h"

struct air;

enum chip_mode {
    CHIP_OFF,
    CHIP_RESETTING, /* after power on, 100 ms (6.1.1) */
    CHIP_DOWN,
    CHIP_STARTING, /* crystal, 1.5 ms (table 16) */
    CHIP_STANDBY,  /* standby-I */
    CHIP_STANDBY2, /* CE high, nothing to send */
    CHIP_SETTLE_RX,
    CHIP_RX,
    CHIP_SETTLE_TX,
    CHIP_TX,
    CHIP_SETTLE_WAIT, /* sender: on its way to listen for the acknowledgement */
    CHIP_WAIT,        /* listens for it */
    CHIP_SETTLE_ACK,  /* receiver: on its way to send one */
    CHIP_ACK
};

enum chip_fault {
    FAULT_ACTIVE_WRITE, /* a register written in an active mode */
    FAULT_RESET_SPI,    /* a command in the first 100 ms */
    FAULT_SHORT_CE,     /* CE high for less than 10 us */
    FAULT_TX_OVERFLOW,  /* W_TX_PAYLOAD into a full FIFO */
    FAULT_EMPTY_READ,   /* R_RX_PAYLOAD from an empty FIFO */
    FAULT_LENGTH,       /* payload of 0 or more than 32 bytes, or address width 00 */
    FAULT_UNKNOWN,      /* a command that the chip or this model lacks */
    FAULT_COUNT
};

/* What became of a frame at a receiver. */
enum outcome {
    HEARD,
    HEARD_AGAIN, /* a repetition, known by its number and CRC, dropped in the chip */
    DROPPED,     /* by the air's programme */
    COLLIDED,
    DEAF, /* not in RX mode on this frequency and rate for the whole of it */
    WEAK,
    NO_MATCH, /* address, length or CRC */
    NO_ROOM,  /* three payloads wait in the FIFO */
    OUTCOME_COUNT
};

struct chip_payload {
    uint8_t length, pipe;
    bool no_ack;
    uint32_t tag; /* of the frame that brought it */
    uint8_t byte[FRAME_PAYLOAD];
};

struct chip_fifo {
    struct chip_payload slot[3];
    uint8_t count;
};

struct chip {
    struct air *air;
    uint8_t id;          /* place in the air's list */
    bool plus;           /* false: the older chip without 250 kbit/s (its bit is ignored) */
    uint8_t stuck;       /* what MISO reads while the chip is off or absent */
    int64_t reset_ticks; /* length of the power-on reset */
    int64_t start_ticks; /* crystal start-up */

    enum chip_mode mode;
    int64_t now, until; /* `until` where the mode ends by itself */
    int64_t rx_since;   /* RX mode entered */
    bool ce, csn, activated;
    int64_t ce_since;
    uint8_t reg[0x20];
    uint8_t address[3][5]; /* RX_ADDR_P0, RX_ADDR_P1, TX_ADDR, least byte first */
    struct chip_fifo rx, tx;
    uint8_t command, at; /* of the SPI transaction; `at` counts bytes after the command */
    struct chip_payload moving;
    bool rpd_held, rpd; /* latched */
    uint8_t pid, tries;
    bool heard_any;
    uint8_t heard_pid;
    uint16_t heard_crc;
    struct frame frame; /* being sent, and kept for retransmission */
    int64_t frame_end;
    uint32_t faults[FAULT_COUNT];
    uint8_t tear;             /* the next payload's reading breaks off after so many bytes; 0: no */
    uint32_t reads, read_tag; /* payloads read to the last byte, and the newest one's number */
};

/* As it leaves the factory; off. */
void chip_init(struct chip *c);

void chip_power(struct chip *c, bool on, int64_t now);
void chip_set_ce(struct chip *c, bool high, int64_t now);
void chip_set_csn(struct chip *c, bool high, int64_t now);

/* One byte on the SPI while CSN is low; returns MISO's. */
uint8_t chip_spi(struct chip *c, uint8_t mosi, int64_t now);

/* The IRQ pin's level: low while an unmasked flag is set. */
bool chip_irq(const struct chip *c);

/* Goes through whatever ends by itself up to `now`. */
void chip_advance(struct chip *c, int64_t now);

/* From the air: frame `f` was there from `begin` to `end`, at `dbm`. */
enum outcome chip_hear(struct chip *c, const struct frame *f, int dbm, int64_t begin, int64_t end);

uint16_t chip_kbps(const struct chip *c);

/* Typical sensitivity at 0.1 % bit errors (table 7), dBm. */
int chip_sensitivity(uint16_t kbps);

#endif
