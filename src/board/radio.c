#include "board/radio.h"

#include "board/spi.h"

enum command {
    R_REGISTER = 0x00,
    W_REGISTER = 0x20,
    R_RX_PAYLOAD = 0x61,
    W_TX_PAYLOAD = 0xA0,
    FLUSH_TX = 0xE1,
    FLUSH_RX = 0xE2,
};

enum reg {
    CONFIG = 0x00,
    EN_AA = 0x01,
    EN_RXADDR = 0x02,
    SETUP_AW = 0x03,
    SETUP_RETR = 0x04,
    RF_CH = 0x05,
    RF_SETUP = 0x06,
    STATUS = 0x07,
    RPD = 0x09,
    RX_ADDR_P0 = 0x0A,
    TX_ADDR = 0x10,
    RX_PW_P0 = 0x11,
    FIFO_STATUS = 0x17,
    DYNPD = 0x1C,
    FEATURE = 0x1D,
};

enum {
    CONFIG_CRC = 0x0C, /* EN_CRC and CRCO: two bytes */
    CONFIG_UP = 0x02,
    CONFIG_RX = 0x01,
    CONFIG_ONLY_RX_DR = 0x30, /* which event pulls the IRQ pin */
    CONFIG_ONLY_TX_DS = 0x50,
    RF_LOW = 0x20, /* 250 kbit/s */
    RF_HIGH = 0x08,
    STATUS_EVENTS = 0x70,
    STATUS_ZERO = 0x80, /* always 0 */
    FIFO_RX_EMPTY = 0x01,
    FIFO_TX_EMPTY = 0x10,
    ADDRESS_RESET = 0xE7,
};

/* A register's own bits, and what it holds after power-on.  RF_SETUP's lowest bit is "don't care".
 */
struct row {
    uint8_t reg, mask, reset;
};

static const struct row rows[] = {
    {CONFIG, 0xFF, 0x08},   {EN_AA, 0xFF, 0x3F},      {EN_RXADDR, 0xFF, 0x03},
    {SETUP_AW, 0xFF, 0x03}, {SETUP_RETR, 0xFF, 0x03}, {RF_CH, 0xFF, 0x02},
    {RF_SETUP, 0xBE, 0x0E}, {RX_PW_P0, 0xFF, 0x00},   {DYNPD, 0xFF, 0x00},
    {FEATURE, 0xFF, 0x00},
};
#define ROWS (sizeof rows / sizeof rows[0])

static uint8_t rf_setup(const struct radio *r) {
    uint8_t rate = r->kbps == 250 ? RF_LOW : r->kbps == 2000 ? RF_HIGH : 0;
    return (uint8_t)(rate | (uint8_t)((r->step - 1) << 1));
}

/* What a register shall hold. */
static uint8_t wanted(const struct radio *r, uint8_t reg) {
    bool receives = r->end == RADIO_RECEIVES;
    switch (reg) {
    case CONFIG:
        return CONFIG_CRC | CONFIG_UP |
               (receives ? CONFIG_RX | CONFIG_ONLY_RX_DR : CONFIG_ONLY_TX_DS);
    case EN_RXADDR:
        return 0x01;
    case SETUP_AW:
        return RADIO_ADDRESS - 2;
    case RF_CH:
        return r->rf_ch;
    case RF_SETUP:
        return rf_setup(r);
    case RX_PW_P0:
        return r->size;
    default:
        return 0; /* no acknowledgements, no repeats, nothing dynamic */
    }
}

static uint8_t address_register(const struct radio *r) {
    return r->end == RADIO_RECEIVES ? RX_ADDR_P0 : TX_ADDR;
}

static uint8_t begin(uint8_t command) {
    spi_select();
    return spi_swap(command);
}

static void write_register(uint8_t reg, uint8_t value) {
    begin((uint8_t)(W_REGISTER | reg));
    spi_swap(value);
    spi_release();
}

static uint8_t read_register(uint8_t reg, uint8_t *status) {
    *status = begin((uint8_t)(R_REGISTER | reg));
    uint8_t value = spi_swap(0);
    spi_release();
    return value;
}

static uint8_t value_of(uint8_t reg) {
    uint8_t status;
    return read_register(reg, &status);
}

static void command(uint8_t byte) {
    begin(byte);
    spi_release();
}

/* The chip takes the byte that goes on the air last first. */
static void write_address(uint8_t reg, const uint8_t *address) {
    begin((uint8_t)(W_REGISTER | reg));
    for (uint8_t i = RADIO_ADDRESS; i > 0; i--)
        spi_swap(address[i - 1]);
    spi_release();
}

static void read_address(uint8_t reg, uint8_t width, uint8_t *address) {
    begin((uint8_t)(R_REGISTER | reg));
    for (uint8_t i = width; i > 0; i--)
        address[i - 1] = spi_swap(0);
    spi_release();
}

void radio_begin(const struct radio *r) {
    spi_enable(false);
    for (uint8_t i = 1; i < ROWS; i++)
        write_register(rows[i].reg, wanted(r, rows[i].reg));
    write_address(address_register(r), r->address);
    command(FLUSH_RX);
    command(FLUSH_TX);
    write_register(STATUS, STATUS_EVENTS);
    write_register(CONFIG, wanted(r, CONFIG)); /* last: this powers up */
}

/* Folds one byte that was read: as wanted, as after power-on, no chip at all. */
struct verdict {
    bool ok, reset, zeros, ones;
};

static void judge(struct verdict *v, uint8_t read, uint8_t want, uint8_t reset, uint8_t mask) {
    v->ok = v->ok && (read & mask) == (want & mask);
    v->reset = v->reset && (read & mask) == (reset & mask);
    v->zeros = v->zeros && read == 0;
    v->ones = v->ones && read == 0xFF;
}

enum radio_state radio_check(const struct radio *r) {
    struct verdict v = {true, true, true, true};
    for (uint8_t i = 0; i < ROWS; i++) {
        uint8_t status;
        uint8_t read = read_register(rows[i].reg, &status);
        judge(&v, read, wanted(r, rows[i].reg), rows[i].reset, rows[i].mask);
        v.zeros = v.zeros && status == 0;
    }
    uint8_t address[RADIO_ADDRESS];
    read_address(address_register(r), RADIO_ADDRESS, address);
    for (uint8_t i = 0; i < RADIO_ADDRESS; i++)
        judge(&v, address[i], r->address[i], ADDRESS_RESET, 0xFF);
    if (v.zeros || v.ones)
        return RADIO_ABSENT;
    return v.ok ? RADIO_OK : v.reset ? RADIO_DEFAULT : RADIO_DIFFERS;
}

void radio_read_facts(const struct radio *r, struct radio_facts *facts) {
    uint8_t config = value_of(CONFIG), setup = value_of(RF_SETUP);
    uint8_t aw = value_of(SETUP_AW) & 3;
    facts->mhz = (uint16_t)(2400 + (value_of(RF_CH) & 0x7F));
    facts->kbps = setup & RF_LOW ? 250 : setup & RF_HIGH ? 2000 : 1000;
    facts->aw = aw == 0 ? 0 : (uint8_t)(aw + 2);
    read_address(address_register(r), facts->aw, facts->address);
    facts->ack = value_of(EN_AA) & 1;
    facts->crc = (config & 0x08) || facts->ack ? (config & 0x04 ? 2 : 1) : 0;
    facts->retries = value_of(SETUP_RETR) & 15;
    facts->dynamic = value_of(DYNPD) & 1 && value_of(FEATURE) & 4;
    /* A sender has no register for it: it sends as many bytes as it was given. */
    facts->size = r->end == RADIO_RECEIVES ? value_of(RX_PW_P0) & 63 : r->size;
}

/* An open or shorted wire reads as all ones or all zeros; neither may look like a packet.  While
 * receiving nothing waits to be sent, so that TX_EMPTY must be set. */
bool radio_arrived(void) {
    uint8_t status;
    uint8_t fifo = read_register(FIFO_STATUS, &status);
    return (status & STATUS_ZERO) == 0 && (fifo & (FIFO_RX_EMPTY | FIFO_TX_EMPTY)) == FIFO_TX_EMPTY;
}

void radio_take(const struct radio *r, uint8_t *bytes) {
    begin(R_RX_PAYLOAD);
    for (uint8_t i = 0; i < r->size; i++)
        bytes[i] = spi_swap(0);
    spi_release();
    write_register(STATUS, STATUS_EVENTS);
}

bool radio_carrier(void) {
    return value_of(RPD) == 1; /* other bits are 0 unless there is no chip */
}

void radio_tune(uint8_t rf_ch) {
    write_register(RF_CH, rf_ch);
}

void radio_load(const struct radio *r, const uint8_t *bytes) {
    command(FLUSH_TX); /* one that a stuck chip never sent */
    write_register(STATUS, STATUS_EVENTS);
    begin(W_TX_PAYLOAD);
    for (uint8_t i = 0; i < r->size; i++)
        spi_swap(bytes[i]);
    spi_release();
}

void radio_set_power(const struct radio *r) {
    write_register(RF_SETUP, rf_setup(r));
}
