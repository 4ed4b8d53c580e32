#include "telemetry/words.h"

enum {
    CHANNEL_LOW = -32768,
    CHANNEL_HIGH = 65535,
    SUPPLY_HIGH = 99999, /* mV; no supply of a model is near it */
};

#define AT(member) offsetof(struct report, member)

const struct report_field report_fields[REPORT_KEYS] = {
    [KEY_N] = {"n", "report_no", NULL, SHAPE_U32, AT(n), 0, 0, "number of this line since boot"},
    [KEY_T] = {"t", "rx_ms", NULL, SHAPE_U32, AT(t_ms), 0, 0, "receiver uptime, ms"},
    [KEY_CH] = {"ch", NULL, NULL, SHAPE_CHANNELS, AT(ch), CHANNEL_LOW, CHANNEL_HIGH,
                "values commanded at the outputs; - for no pulses"},
    [KEY_IN] = {"in", NULL, NULL, SHAPE_CHANNELS, AT(in), CHANNEL_LOW, CHANNEL_HIGH,
                "stick values in the newest packet"},
    [KEY_LOCK] = {"lock", "lock", NULL, SHAPE_FLAG, AT(lock), 0, 0,
                  "outputs locked until the throttle is seen low, 0 or 1"},
    [KEY_SEQ] = {"seq", "seq", NULL, SHAPE_U32, AT(seq), 0, 0,
                 "sequence number in the newest packet"},
    [KEY_TBOOT] = {"tboot", "tx_boot", NULL, SHAPE_U32, AT(tboot), 0, 0,
                   "a number that each start of the transmitter changes"},
    [KEY_GOT] = {"got", "got", NULL, SHAPE_U32, AT(got), 0, 0, "packets received since boot"},
    [KEY_LOST] = {"lost", "lost", NULL, SHAPE_U32, AT(lost), 0, 0,
                  "packets missing by sequence number since boot"},
    [KEY_REFUSED] = {"refused", "refused", NULL, SHAPE_U32, AT(refused), 0, 0,
                     "packets refused since boot: wrong length or owner"},
    [KEY_PAT] = {"pat", "pat", NULL, SHAPE_PATTERN, AT(pat), 0, 0,
                 "outcome of each packet since the last report: o arrived, x missing"},
    [KEY_AGE] = {"age", "age_ms", NULL, SHAPE_U32, AT(age_ms), 0, 0, "since the last packet, ms"},
    [KEY_GAP] = {"gap", "gap_ms", NULL, SHAPE_U32, AT(gap_ms), 0, 0,
                 "longest gap since the last report, ms"},
    [KEY_FS] = {"fs", "failsafe", NULL, SHAPE_FLAG, AT(fs), 0, 0, "failsafe active, 0 or 1"},
    [KEY_FSN] = {"fsn", "failsafe_entries", NULL, SHAPE_U32, AT(fsn), 0, 0,
                 "failsafe entries since boot"},
    [KEY_MV] = {"mv", "supply_mv", NULL, SHAPE_U32, AT(mv), 0, SUPPLY_HIGH,
                "receiver supply now, mV"},
    [KEY_MVMIN] = {"mvmin", "supply_min_mv", NULL, SHAPE_U32, AT(mvmin), 0, SUPPLY_HIGH,
                   "lowest receiver supply since the last report, mV"},
    [KEY_HEARD] = {"heard", "heard_hits", "heard_looks", SHAPE_PAIR, AT(heard_hits), 0, 0,
                   "carrier detections while packets arrived, hits/looks"},
    [KEY_NOISE] = {"noise", "noise_hits", "noise_looks", SHAPE_PAIR, AT(noise_hits), 0, 0,
                   "carrier detections while none was expected, hits/looks"},
    [KEY_RSSI] = {"rssi", "rssi_dbm", NULL, SHAPE_I32, AT(rssi_dbm), -200, 100,
                  "signal strength of the newest packet, dBm"},
    [KEY_REG] = {"reg", "reg", NULL, SHAPE_REGISTERS, AT(reg), 0, 0,
                 "radio registers read back: ok, default, absent, differs"},
    [KEY_REINIT] = {"reinit", "reinit", NULL, SHAPE_U32, AT(reinit), 0, 0,
                    "radio set up anew since boot"},
    [KEY_TMV] = {"tmv", "tx_mv", NULL, SHAPE_U32, AT(tmv), 0, SUPPLY_HIGH,
                 "transmitter supply, mV"},
    [KEY_TSTEP] = {"tstep", "tx_step", NULL, SHAPE_PAIR, AT(tstep), 0, 0,
                   "transmitter power setting, step/steps"},
};

const struct identity_field identity_fields[IDENTITY_KEYS] = {
    [ID_END] = {"end", "rx or tx"},
    [ID_FW] = {"fw", "name of the firmware"},
    [ID_RATE] = {"rate", "packets sent a second"},
    [ID_CHANS] = {"chans", "channels"},
    [ID_UNIT] = {"unit", "us or raw"},
    [ID_SPAN] = {"span", "lowest,highest value of a channel"},
    [ID_SAFE] = {"safe", "failsafe preset a channel: a value, hold or off"},
    [ID_SEQMOD] = {"seqmod", "modulus of the sequence number, 0 for 2^32"},
    [ID_MHZ] = {"mhz", "carrier, MHz"},
    [ID_HOP] = {"hop", "number of carriers"},
    [ID_KBPS] = {"kbps", "data rate on the air, kbit/s"},
    [ID_ADDR] = {"addr", "address in air order as hex, or a digest"},
    [ID_AW] = {"aw", "address width, bytes"},
    [ID_CRC] = {"crc", "bytes of CRC"},
    [ID_SIZE] = {"size", "payload, bytes, or dyn"},
    [ID_ACK] = {"ack", "acknowledged packets, 0 or 1"},
    [ID_RETRIES] = {"retries", "retries of an unacknowledged packet"},
};

static const char *const registers_names[] = {"ok", "default", "absent", "differs"};
static const char *const boot_names[] = {"unknown", "power", "reset", "brownout", "watchdog"};
static const char *const mark_names[] = {"stop", "leave", "twitch", "facing", "text"};
static const char *const port_names[] = {"opened", "lost",  "back", "let-go",
                                         "taken",  "slept", "speed"};
static const char *const damage_names[] = {
    "too long",       "bad byte",       "bad checksum",      "checksum missing",
    "bad number",     "out of range",   "counters disagree", "plain text",
    "boot text",      "cut by restart", "ran into the next", "joined midway",
    "torn at the end"};
static const char *const kind_names[] = {"about", "rx",    "id",   "boot",   "air",  "say",
                                         "other", "trial", "mark", "damage", "port", "end"};

#define COUNT(table) (sizeof(table) / sizeof(table)[0])

_Static_assert(COUNT(damage_names) == DAMAGE_REASONS, "one name a reason");
_Static_assert(COUNT(kind_names) == EVENT_KINDS, "one name a kind");

static bool find_name(struct slice name, const char *const *names, size_t count, size_t *index) {
    for (size_t i = 0; i < count; i++) {
        if (slice_is(name, names[i])) {
            *index = i;
            return true;
        }
    }
    return false;
}

const char *registers_name(enum radio_registers value) {
    return registers_names[value];
}

bool registers_of(struct slice name, uint32_t *value) {
    size_t i;
    if (!find_name(name, registers_names, COUNT(registers_names), &i))
        return false;
    *value = (uint32_t)i;
    return true;
}

const char *boot_cause_name(enum boot_cause cause) {
    return boot_names[cause];
}

bool boot_cause_of(struct slice name, enum boot_cause *cause) {
    size_t i;
    if (!find_name(name, boot_names, COUNT(boot_names), &i))
        return false;
    *cause = (enum boot_cause)i;
    return true;
}

const char *damage_name(enum damage_reason reason) {
    return damage_names[reason];
}

bool damage_of(struct slice name, enum damage_reason *reason) {
    size_t i;
    if (!find_name(name, damage_names, COUNT(damage_names), &i))
        return false;
    *reason = (enum damage_reason)i;
    return true;
}

const char *port_change_name(enum port_change change) {
    return port_names[change];
}

bool port_change_of(struct slice name, enum port_change *change) {
    size_t i;
    if (!find_name(name, port_names, COUNT(port_names), &i))
        return false;
    *change = (enum port_change)i;
    return true;
}

const char *mark_name(enum mark_type type) {
    return mark_names[type];
}

bool mark_of(struct slice name, enum mark_type *type) {
    size_t i;
    if (!find_name(name, mark_names, COUNT(mark_names), &i))
        return false;
    *type = (enum mark_type)i;
    return true;
}

const char *event_kind_name(enum event_kind kind) {
    return kind_names[kind];
}

bool event_kind_of(struct slice name, enum event_kind *kind) {
    size_t i;
    if (!find_name(name, kind_names, COUNT(kind_names), &i))
        return false;
    *kind = (enum event_kind)i;
    return true;
}
