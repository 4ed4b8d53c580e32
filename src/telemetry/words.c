#include "telemetry/words.h"

#define FIRST_U32(a)         a
#define FIRST_I32(a)         a
#define FIRST_FLAG(a)        a
#define FIRST_PAIR(a, b)     a
#define FIRST_PATTERN(a, b)  a
#define FIRST_CHANNELS(a, b) a
#define FIRST_REGISTERS(a)   a
#define FIELD(key, shape, members, places, columns, wire, low, high, meaning)                      \
    {wire, SHAPE_##shape, offsetof(struct report, REPORT_APPLY(FIRST_##shape, members)),           \
     low,  high,          meaning},

const struct report_field report_fields[REPORT_KEYS] = {REPORT_TABLE(FIELD)};

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
