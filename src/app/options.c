#include "app/options.h"

#include <getopt.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "app/commands.h"
#include "app/gallery.h"
#include "app/words.h"
#include "base/number.h"
#include "radio/chip.h"
#include "simulator/simulator.h"
#include "study/amend.h"
#include "text/sections.h"

enum kind {
    KIND_FLAG,
    KIND_HERE, /* takes no value: how many operands came before it */
    KIND_TEXT,
    KIND_SPEED,
    KIND_RATE,
    KIND_SPAN,
    KIND_UNTIL,
    KIND_MOMENT,
    KIND_PACE,
    KIND_SEED,
    KIND_SCENE,
    KIND_WHAT,
    KIND_MHZ,
    KIND_KBPS,
    KIND_DBM,
    KIND_GAIN,
    KIND_DECIBELS,
    KIND_MARGIN,
    KIND_HEIGHT,
    KIND_EDGE,
    KIND_DISTANCE,
    KIND_ANGLE,
    KIND_STEP,
    KIND_PAYLOAD,
    KIND_ADDRESS,
    KIND_CRC,
    KIND_PLAN,
    KIND_CHANNEL,
    KIND_USE,
    KIND_PERCENT,
    KIND_MS,
    KIND_POWER,
    KIND_ADD,
    KIND_MOVE,
    KIND_STRIKE,
    KIND_LIMIT,
    KIND_SECTIONS,
};

#define BIT(command) (1u << COMMAND_##command)

enum {
    DISPLAY = BIT(WATCH) | BIT(REPLAY) | BIT(DEMO),
    LIVE = BIT(WATCH) | BIT(RECORD),
    OPENING = LIVE | BIT(MODEL),
    WALK_TOO = BIT(BUDGET) | BIT(COMPARE),
    WALKING = BIT(WATCH) | BIT(REPLAY) | BIT(DEMO) | BIT(WALK) | BIT(CAUSES) | BIT(CHART) |
              BIT(REPORT) | WALK_TOO,
    READING = BIT(REPLAY) | BIT(FIGURES) | BIT(CAUSES) | BIT(WALK) | BIT(STOPS) | BIT(JUDGE) |
              BIT(COMPARE) | BIT(CHART) | BIT(REPORT),
    PAPER = BIT(BUDGET) | BIT(CHART),
    FIELD = PAPER | BIT(REPORT), /* what paper against field rests on */
    RADIO = FIELD | BIT(CAUSES), /* what arrives by the link budget */
    STOPS_TOO = BIT(WALK) | BIT(CHART) | BIT(REPORT),
    ALL = (1 << COMMANDS) - 1,
};

#define AT(field) offsetof(struct options, field)

const struct option_row option_rows[] = {
    {"out", 'o', "FILE.csv", KIND_TEXT, LIVE | BIT(DEMO), AT(out),
     "record into this file; an existing one is never overwritten", "@file"},
    {"out", 'o', "PICTURE", KIND_TEXT, BIT(CHART), AT(out),
     "into this .svg, .png or .pdf; without: the terminal", "@file"},
    {"out", 'o', "X.html", KIND_TEXT, BIT(REPORT), AT(out),
     "write the page into this file; - for standard output", "@file"},
    {"what", 'w', "NAME", KIND_WHAT, BIT(CHART), AT(what), "which picture, by its name above",
     "@what"},
    {"dark", 0, NULL, KIND_FLAG, BIT(CHART), AT(dark), "light on a dark ground", NULL},
    {"narrow", 0, NULL, KIND_FLAG, BIT(CHART), AT(narrow), "for the width of a phone", NULL},
    {"speed", 's', "N|auto", KIND_SPEED, OPENING, AT(speed),
     "bits a second on the wire (115200); auto tries the usual ones",
     "auto 9600 19200 38400 57600 115200 230400 250000 460800 500000 921600 1000000"},
    {"model", 'm', "FILE", KIND_TEXT, LIVE | READING, AT(model),
     "model file: names, rate, limits of this model", "@file"},
    {"rate", 'r', "HZ", KIND_RATE, LIVE | READING | BIT(BUDGET), AT(rate_hz),
     "packets a second that the transmitter sends", "50 100 200"},
    {"yes", 'y', NULL, KIND_FLAG, OPENING, AT(yes),
     "open the port without asking, and again when that board comes back", NULL},
    {"for", 0, "SECONDS", KIND_SPAN, OPENING | BIT(SIMULATE), AT(for_s), "stop after so long",
     "10 60 600"},
    {"until", 0, "loss=P%|differs", KIND_UNTIL, LIVE, AT(until),
     "stop once decided: loss below or above P %, or not that of --with", "loss=2% differs"},
    {"with", 0, "FILE", KIND_TEXT, LIVE, AT(reference),
     "recording or baseline that --until differs compares with", "@file"},
    {"with", 0, NULL, KIND_HERE, BIT(COMPARE) | BIT(CHART), AT(with),
     "between recordings before the change and after it", NULL},
    {"keep", 0, "FILE", KIND_TEXT, BIT(COMPARE), AT(keep),
     "write what is needed of A into this file, to stand for A later on", "@file"},
    {"force", 0, NULL, KIND_FLAG, BIT(RECORD) | BIT(COMPARE) | BIT(CHART) | BIT(REPORT), AT(force),
     "overwrite an existing --out or --keep file", NULL},
    {"pace", 0, "X", KIND_PACE, BIT(REPLAY), AT(pace),
     "times real time (1); 0 is as fast as possible", "0 1 2 10"},
    {"from", 0, "SECONDS", KIND_MOMENT, BIT(REPLAY), AT(from_s), "begin so far into the recording",
     NULL},
    {"big", 0, NULL, KIND_FLAG, DISPLAY, AT(far),
     "begin with the view for reading from three metres", NULL},
    {"ascii", 0, NULL, KIND_FLAG, DISPLAY | BIT(CHART), AT(ascii), "plain ASCII characters only",
     NULL},
    {"mono", 0, NULL, KIND_FLAG, DISPLAY, AT(mono), "no colours (as with NO_COLOR set)", NULL},
    {"mute", 0, NULL, KIND_FLAG, DISPLAY, AT(mute), "no sound", NULL},
    {"on-alarm", 0, "COMMAND", KIND_TEXT, BIT(WATCH), AT(on_alarm),
     "run this command when an alarm is raised", NULL},
    {"limit", 'l', "NAME=VALUE", KIND_LIMIT, BIT(JUDGE) | BIT(REPORT) | BIT(CHART), 0,
     "a limit of the trials, as in a model file; may be repeated", NULL},
    {"other", 0, "FILE", KIND_TEXT, BIT(JUDGE) | BIT(WATCH) | BIT(CHART) | BIT(REPORT), AT(other),
     "a capture that holds the other end's id line", "@file"},
    {"json", 'j', NULL, KIND_FLAG,
     BIT(FIGURES) | BIT(CAUSES) | BIT(PORTS) | BIT(BUDGET) | BIT(WALK) | BIT(JUDGE) | BIT(COMPARE),
     AT(json), "one JSON object instead of text", NULL},
    {"all", 'a', NULL, KIND_FLAG, BIT(FIGURES) | BIT(CAUSES) | BIT(WALK), AT(all),
     "the long version: standards, every drop, pictures", NULL},
    {"only", 0, "PART,...", KIND_SECTIONS, BIT(FIGURES), AT(only),
     "these parts of the figures alone, such as loss,ends", "@section"},
    {"scene", 0, "NAME", KIND_SCENE, BIT(SIMULATE) | BIT(DEMO), AT(scene),
     "what happens to the simulated model", "@scene"},
    {"scenes", 0, NULL, KIND_FLAG, BIT(SIMULATE), AT(scenes), "list the scenes", NULL},
    {"seed", 0, "N", KIND_SEED, BIT(SIMULATE) | BIT(DEMO), AT(seed),
     "another run of the same scene (1)", NULL},
    {"lines", 0, NULL, KIND_FLAG, BIT(SIMULATE), AT(lines),
     "print the lines on standard output, open no pseudo-terminal", NULL},
    {"fast", 0, NULL, KIND_FLAG, BIT(SIMULATE), AT(fast),
     "with --lines: without pauses, one scene or --for long", NULL},
    {"truth", 0, "FILE", KIND_TEXT, BIT(SIMULATE), AT(truth),
     "at the end write what really happened into this file", "@file"},
    {"mhz", 0, "MHZ", KIND_MHZ, RADIO, AT(budget.mhz), "carrier (2440)", "2402 2440 2476"},
    {"kbps", 0, "N", KIND_KBPS, RADIO, AT(budget.kbps), "data rate on the air (250)",
     "250 1000 2000"},
    {"amplified", 0, NULL, KIND_FLAG, RADIO | BIT(WALK), AT(budget.amplified),
     "modules with amplifiers both ways, 20 dBm", NULL},
    {"step", 0, "N", KIND_STEP, RADIO, AT(step), "power step of the chip: 1 to 4, -18 to 0 dBm (4)",
     "1 2 3 4"},
    {"power-dbm", 0, "DBM", KIND_DBM, RADIO, AT(budget.power_dbm),
     "power of the transmitter, if measured", NULL},
    {"sensitivity-dbm", 0, "DBM", KIND_DBM, FIELD | BIT(WALK), AT(budget.sensitivity_dbm),
     "of the receiver, if measured", NULL},
    {"tx-gain-dbi", 0, "DBI", KIND_GAIN, RADIO, AT(budget.tx_gain_dbi),
     "gain of the transmitter's antenna (2.15, a dipole)", NULL},
    {"rx-gain-dbi", 0, "DBI", KIND_GAIN, RADIO, AT(budget.rx_gain_dbi),
     "gain of the receiver's antenna (2.15)", NULL},
    {"tx-cable-db", 0, "DB", KIND_DECIBELS, RADIO, AT(budget.tx_cable_db),
     "lost in the transmitter's cable and plugs (0)", NULL},
    {"rx-cable-db", 0, "DB", KIND_DECIBELS, RADIO, AT(budget.rx_cable_db),
     "lost in the receiver's (0)", NULL},
    {"body-db", 0, "DB", KIND_DECIBELS, RADIO, AT(budget.body_db),
     "lost to hand, body and hull (0)", NULL},
    {"tx-height", 0, "M", KIND_HEIGHT, RADIO, AT(budget.tx_height_m),
     "transmitter's antenna above the ground (1.3)", NULL},
    {"rx-height", 0, "M", KIND_HEIGHT, RADIO, AT(budget.rx_height_m),
     "receiver's antenna above ground or water (0.5)", NULL},
    {"distance", 0, "M", KIND_DISTANCE, FIELD, AT(budget.distance_m),
     "from one to the other, along the ground (100)", NULL},
    {"angle", 0, "DEG", KIND_ANGLE, RADIO, AT(budget.polarisation_deg),
     "between the antennas, 0 to 90 (0); or circular", "0 45 90 circular"},
    {"edge", 0, "M", KIND_EDGE, FIELD, AT(budget.obstacle_m),
     "a wall half-way, so far above the line of sight", NULL},
    {"payload", 0, "BYTES", KIND_PAYLOAD, PAPER, AT(budget.payload_bytes),
     "bytes a packet carries, 0 to 32 (32)", NULL},
    {"address", 0, "BYTES", KIND_ADDRESS, PAPER, AT(budget.address_bytes),
     "width of the address, 3 to 5 (5)", "3 4 5"},
    {"crc", 0, "BYTES", KIND_CRC, PAPER, AT(budget.crc_bytes), "length of the CRC, 1 or 2 (2)",
     "1 2"},
    {"ack", 0, NULL, KIND_FLAG, PAPER, AT(budget.acknowledged), "packets are acknowledged", NULL},
    {"margin-db", 0, "DB", KIND_MARGIN, FIELD, AT(budget.margin_db),
     "wanted in hand, for the range (10)", "10 15 20"},
    {"walked", 0, "M", KIND_DISTANCE, FIELD, AT(walked_m),
     "where the link ended in the field: what is missing?", NULL},
    {"level-dbm", 0, "DBM", KIND_DBM, FIELD, AT(level_dbm),
     "level measured over --distance: what is missing?", NULL},
    {"plan", 0, "M,M,...", KIND_PLAN, WALKING, AT(plan), "stops of the walk, metres (5,10,20,...)",
     "5,10,20,30,40,50,60,80,100,120"},
    {"switch", 0, "CH", KIND_CHANNEL, WALKING, AT(switch_channel),
     "this channel, held over for a second, marks a stop",
     "1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16"},
    {"stay", 0, "SECONDS", KIND_SPAN, WALKING, AT(stay_s),
     "how long a stop marked by the switch lasts (15)", "10 15 30"},
    {"use", 0, "fly|drive", KIND_USE, BIT(WALK) | BIT(REPORT), AT(drive),
     "plan for flying (a quarter) or boats and cars (half)", "fly drive"},
    {"max-loss", 0, "PERCENT", KIND_PERCENT, STOPS_TOO, AT(max_loss),
     "a stop fails above this loss (1)", "1 2 5"},
    {"max-turned", 0, "PERCENT", KIND_PERCENT, STOPS_TOO, AT(max_turned),
     "the same at another heading (5)", "5 10"},
    {"max-gap", 0, "MS", KIND_MS, STOPS_TOO, AT(max_gap_ms), "a stop fails above this gap (200)",
     "100 200 500"},
    {"walk", 0, "FILE", KIND_TEXT, WALK_TOO, AT(walk),
     "set against this range walk (a recording or capture)", "@file"},
    {"loss-limit", 0, "PERCENT", KIND_PERCENT, STOPS_TOO | WALK_TOO, AT(loss_limit),
     "the range is where so much is lost (10)", "5 10 20"},
    {"full-power-db", 0, "DB", KIND_POWER, BIT(WALK) | BIT(REPORT), AT(full_power_db),
     "full power above the walk's (6 a step)", "6 12 18"},
    {"add", 0, "SECONDS:M", KIND_ADD, BIT(STOPS), AT(add),
     "add a stop at so many metres, or SECONDS:leave", NULL},
    {"move", 0, "N:SECONDS", KIND_MOVE, BIT(STOPS), AT(move), "move mark N to this time", NULL},
    {"strike", 0, "N", KIND_STRIKE, BIT(STOPS), AT(strike), "strike mark N out", NULL},
    {"help", 'h', NULL, KIND_FLAG, ALL, 0, "this help", NULL},
};
const size_t option_row_count = sizeof option_rows / sizeof option_rows[0];

enum { ROWS_MAX = OPTION_ROWS_MAX };
_Static_assert(sizeof option_rows / sizeof option_rows[0] <= ROWS_MAX,
               "make OPTION_ROWS_MAX larger");

static bool take_text(void *field, const char *value) {
    *(const char **)field = value;
    return value[0] != '\0';
}

static bool take_speed(void *field, const char *value) {
    uint32_t speed = SPEED_AUTO;
    if (strcmp(value, "auto") != 0) {
        if (number_u32(slice_of(value), &speed) != NUMBER_OK)
            return false;
        if (speed < 300 || speed > 4000000 || speed == 1200)
            return false;
    }
    *(int *)field = (int)speed;
    return true;
}

static bool take_decimal(void *field, const char *value, double low, double high) {
    char text[24];
    double number;
    snprintf(text, sizeof text, "%s%.20s", value[0] == '.' ? "0" : "", value); /* .5 is 0.5 */
    if (strlen(value) > 20 || number_decimal(slice_of(text), &number) != NUMBER_OK ||
        number < low || number > high)
        return false;
    *(double *)field = number;
    return true;
}

static bool take_rate(void *field, const char *value) {
    return take_decimal(field, value, 0.1, 10000);
}

static bool take_span(void *field, const char *value) {
    return take_decimal(field, value, 0.1, 1e7);
}

/* A whole "loss=2%", or a share as in "loss=0.02". */
static bool take_until(void *field, const char *value) {
    struct options_until *until = field;
    struct slice rest = slice_of(value), word = slice_cut(&rest, '=');
    until->given = true;
    until->differs = rest.at == NULL && slice_is(word, "differs");
    if (until->differs)
        return true;
    bool percent = rest.at != NULL && rest.len > 0 && rest.at[rest.len - 1] == '%';
    if (!slice_is(word, "loss") ||
        number_decimal(slice_sub(rest, 0, rest.len - percent), &until->loss) != NUMBER_OK)
        return false;
    until->loss /= percent ? 100 : 1;
    return until->loss > 0 && until->loss < 1;
}

static bool take_moment(void *field, const char *value) {
    return take_decimal(field, value, 0, 1e9);
}

static bool take_pace(void *field, const char *value) {
    double number;
    if (!take_decimal(&number, value, 0, 1000) || (number > 0 && number < 0.01))
        return false;
    *(double *)field = number;
    return true;
}

static bool take_seed(void *field, const char *value) {
    return number_u64(slice_of(value), field) == NUMBER_OK;
}

static bool take_scene(void *field, const char *value) {
    int scene = simulator_scene_find(value);
    if (scene < 0)
        return false;
    *(int *)field = scene;
    return true;
}

static bool take_what(void *field, const char *value) {
    int what = gallery_find(value);
    if (what < 0)
        return false;
    *(int *)field = what;
    return true;
}

static bool take_kbps(void *field, const char *value) {
    uint32_t kbps;
    if (number_u32(slice_of(value), &kbps) != NUMBER_OK || !chip_has_rate(kbps))
        return false;
    *(uint32_t *)field = kbps;
    return true;
}

static bool take_angle(void *field, const char *value) {
    if (strcmp(value, "circular") != 0)
        return take_decimal(field, value, 0, 90);
    *(double *)field = BUDGET_CIRCULAR;
    return true;
}

static bool take_whole(void *field, const char *value, double low, double high) {
    uint32_t number;
    if (number_u32(slice_of(value), &number) != NUMBER_OK || number < low || number > high)
        return false;
    *(uint32_t *)field = number;
    return true;
}

/* One more of them; the field is the options as a whole. */
static bool take_limit(void *field, const char *value) {
    struct options *o = field;
    if (o->limit_count == LIMITS_MAX || strchr(value, '=') == NULL)
        return false;
    o->limits[o->limit_count++] = value;
    return true;
}

static bool take_plan(void *field, const char *value) {
    return plan_parse(slice_of(value), field);
}

static bool take_channel(void *field, const char *value) {
    uint32_t channel;
    if (number_u32(slice_of(value), &channel) != NUMBER_OK || channel < 1 || channel > CHANNELS_MAX)
        return false;
    *(uint32_t *)field = channel;
    return true;
}

static bool take_use(void *field, const char *value) {
    *(bool *)field = strcmp(value, "drive") == 0;
    return *(bool *)field || strcmp(value, "fly") == 0;
}

static bool take_percent(void *field, const char *value) {
    return take_decimal(field, value, 0.001, 99.999);
}

static bool take_ms(void *field, const char *value) {
    return take_decimal(field, value, 1, 1e6);
}

static bool take_amendment(enum amendment_kind kind, void *field, const char *value) {
    struct amendment ignored;
    *(const char **)field = value;
    return amendment_parse(kind, slice_of(value), &ignored);
}

static bool take_add(void *field, const char *value) {
    return take_amendment(AMEND_ADD, field, value);
}

static bool take_move(void *field, const char *value) {
    return take_amendment(AMEND_MOVE, field, value);
}

static bool take_strike(void *field, const char *value) {
    return take_amendment(AMEND_STRIKE, field, value);
}

static bool take_sections(void *field, const char *value) {
    uint32_t sections = figures_sections_of(slice_of(value));
    *(uint32_t *)field = sections;
    return sections != 0;
}

static const struct {
    bool (*take)(void *field, const char *value); /* NULL: a number out of ranges[] */
    const char *allowed;
} kinds[] = {
    [KIND_FLAG] = {NULL, ""},
    [KIND_HERE] = {NULL, ""},
    [KIND_TEXT] = {take_text, "a name that isn't empty"},
    [KIND_SPEED] = {take_speed, "auto, or 300 to 4000000 bits a second (not 1200, which starts the "
                                "boot loader of some boards)"},
    [KIND_RATE] = {take_rate, "packets a second, 0.1 to 10000"},
    [KIND_SPAN] = {take_span, "seconds, 0.1 to 10000000"},
    [KIND_UNTIL] = {take_until, "loss=P%, with P above 0 and below 100, or differs"},
    [KIND_MOMENT] = {take_moment, "seconds, 0 or more"},
    [KIND_PACE] = {take_pace, "times real time, 0.01 to 1000, or 0 for as fast as possible"},
    [KIND_SEED] = {take_seed, "a whole number from 0"},
    [KIND_SCENE] = {take_scene, NULL},
    [KIND_WHAT] = {take_what, NULL},
    [KIND_MHZ] = {NULL, "MHz, 100 to 6000"},
    [KIND_KBPS] = {take_kbps, "250, 1000 or 2000 kbit/s"},
    [KIND_DBM] = {NULL, "dBm, -150 to 50"},
    [KIND_GAIN] = {NULL, "dBi, -40 to 40"},
    [KIND_DECIBELS] = {NULL, "dB, 0 to 100"},
    [KIND_MARGIN] = {NULL, "dB, -50 to 100"},
    [KIND_HEIGHT] = {NULL, "metres, 0.01 to 1000"},
    [KIND_EDGE] = {NULL, "metres, -1000 to 1000"},
    [KIND_DISTANCE] = {NULL, "metres, 0.1 to 100000"},
    [KIND_ANGLE] = {take_angle, "degrees, 0 to 90, or circular"},
    [KIND_STEP] = {NULL, "a step, 1 to 4"},
    [KIND_PAYLOAD] = {NULL, "bytes, 0 to 32"},
    [KIND_ADDRESS] = {NULL, "bytes, 3 to 5"},
    [KIND_CRC] = {NULL, "bytes, 1 or 2"},
    [KIND_PLAN] = {take_plan, "1 to 64 distances in metres divided by commas, such as 5,10,20"},
    [KIND_CHANNEL] = {take_channel, "a channel, 1 to 16"},
    [KIND_USE] = {take_use, "fly or drive"},
    [KIND_PERCENT] = {take_percent, "per cent, above 0 and below 100"},
    [KIND_MS] = {take_ms, "milliseconds, 1 to 1000000"},
    [KIND_POWER] = {NULL, "dB, 0.1 to 60"},
    [KIND_ADD] = {take_add, "a time in seconds, a colon, and metres or the word leave"},
    [KIND_MOVE] = {take_move, "a mark's number, a colon, and a time in seconds"},
    [KIND_STRIKE] = {take_strike, "a mark's number, from 1"},
    [KIND_LIMIT] = {take_limit, "NAME=VALUE, such as throttle_low_ms=800, at most 24 times"},
    [KIND_SECTIONS] = {take_sections, NULL},
};

void options_default(struct options *o, enum command_id command) {
    *o = (struct options){
        .command = command, .with = -1, .speed = SPEED_DEFAULT, .seed = 1, .pace = 1, .what = -1};
    o->walked_m = o->level_dbm = NAN;
    budget_defaults(&o->budget);
    o->budget.power_dbm = o->budget.sensitivity_dbm = o->budget.obstacle_m = NAN;
    plan_default(&o->plan);
    o->loss_limit = 10;
    o->stay_s = PLAN_STAY_MS / 1000.0;
}

bool options_given(const struct options *o, const char *name) {
    for (size_t i = 0; i < option_row_count; i++)
        if (o->given[i] && strcmp(option_rows[i].name, name) == 0)
            return true;
    return false;
}

static enum parsed wrong(enum command_id command) {
    fprintf(stderr, "See: airleash %s --help\n", commands[command].name);
    return PARSED_WRONG;
}

static void say_allowed(const struct option_row *row, const char *value) {
    char names[WORDS_MAX] = "";
    bool scene = row->kind == KIND_SCENE;
    struct text t;
    text_init(&t, names, sizeof names);
    const bool section = row->kind == KIND_SECTIONS;
    size_t count = scene ? simulator_scene_count : section ? (size_t)SECTIONS : gallery_row_count;
    for (size_t i = 0; i < count; i++) {
        text_string(&t, i > 0 ? ", " : section ? "parts divided by commas: " : "one of ");
        text_string(&t, scene     ? simulator_scenes[i].name
                        : section ? figures_sections[i].name
                                  : gallery_rows[i].name);
    }
    const char *allowed = kinds[row->kind].allowed;
    words_say("--%s can't be '%s': it takes %s", row->name, value, allowed ? allowed : names);
}

/* An option that the command doesn't take: perhaps another one does. */
static void say_unknown(enum command_id command, const char *word) {
    size_t len = strcspn(word, "=");
    for (size_t i = 0; i < option_row_count; i++) {
        const struct option_row *row = &option_rows[i];
        bool same = strncmp(word, "--", 2) == 0
                        ? strlen(row->name) + 2 == len && strncmp(word + 2, row->name, len - 2) == 0
                        : row->letter != 0 && word[1] == row->letter;
        if (!same)
            continue;
        char takers[WORDS_MAX] = "";
        struct text t;
        text_init(&t, takers, sizeof takers);
        for (int c = 0; c < COMMANDS; c++)
            if (option_taken(row, (enum command_id)c)) {
                text_string(&t, t.len ? ", " : "");
                text_string(&t, commands[c].name);
            }
        words_say("%s takes no --%s (it is an option of: %s)", commands[command].name, row->name,
                  takers);
        return;
    }
    words_say("%s has no option '%.*s'", commands[command].name, (int)len, word);
}

enum { OPERAND_FOUND = 1 }; /* what getopt returns for one */

struct tables {
    struct option longs[ROWS_MAX + 1];
    const struct option_row *row[ROWS_MAX];
    char shorts[3 * ROWS_MAX + 3];
};

/* getopt's tables for one command; a long option's val is its place + 256. */
static void tables_make(struct tables *t, enum command_id command) {
    memset(t, 0, sizeof *t);
    size_t count = 0, s = 0;
    t->shorts[s++] = '-'; /* operands come in their order among the options */
    t->shorts[s++] = ':';
    for (size_t i = 0; i < option_row_count; i++) {
        const struct option_row *row = &option_rows[i];
        if (!option_taken(row, command))
            continue;
        t->row[count] = row;
        t->longs[count] = (struct option){
            row->name, row->argument ? required_argument : no_argument, NULL, 256 + (int)count};
        count++;
        if (row->letter == 0)
            continue;
        t->shorts[s++] = row->letter;
        if (row->argument)
            t->shorts[s++] = ':';
    }
}

/* The row of what getopt returned or left in optopt, or NULL. */
static const struct option_row *tables_row(const struct tables *t, int val) {
    if (val >= 256 && val < 256 + ROWS_MAX)
        return t->row[val - 256];
    for (size_t i = 0; val > 0 && i < ROWS_MAX && t->row[i]; i++)
        if (t->row[i]->letter == val)
            return t->row[i];
    return NULL;
}

static const struct {
    double low, high;
    bool whole;
} ranges[] = {
    [KIND_MHZ] = {100, 6000, false},
    [KIND_DBM] = {-150, 50, false},
    [KIND_GAIN] = {-40, 40, false},
    [KIND_DECIBELS] = {0, 100, false},
    [KIND_POWER] = {0.1, 60, false},
    [KIND_MARGIN] = {-50, 100, false},
    [KIND_HEIGHT] = {0.01, 1000, false},
    [KIND_EDGE] = {-1000, 1000, false},
    [KIND_DISTANCE] = {0.1, 1e5, false},
    [KIND_STEP] = {1, CHIP_STEPS, true},
    [KIND_PAYLOAD] = {0, CHIP_PAYLOAD_MAX, true},
    [KIND_ADDRESS] = {3, 5, true},
    [KIND_CRC] = {1, 2, true},
};

static bool take_value(int kind, void *field, const char *value) {
    if (kinds[kind].take)
        return kinds[kind].take(field, value);
    double low = ranges[kind].low, high = ranges[kind].high;
    return ranges[kind].whole ? take_whole(field, value, low, high)
                              : take_decimal(field, value, low, high);
}

static enum parsed take(struct options *o, const struct option_row *row, const char *value) {
    if (strcmp(row->name, "help") == 0)
        return PARSED_HELP;
    void *field = (char *)o + row->offset;
    if (row->kind == KIND_FLAG) {
        *(bool *)field = true;
        return PARSED_RUN;
    }
    o->given[row - option_rows] = true;
    o->planned |= row->kind == KIND_PLAN;
    if (row->kind == KIND_HERE) {
        if (*(int *)field < 0) {
            *(int *)field = o->operand_count;
            return PARSED_RUN;
        }
        words_say("--%s was given twice: once, between the two groups", row->name);
        return wrong(o->command);
    }
    if (take_value(row->kind, field, value))
        return PARSED_RUN;
    say_allowed(row, value);
    return wrong(o->command);
}

static enum parsed refused(const struct options *o, const struct tables *t, int found,
                           char **argv) {
    const struct option_row *row = tables_row(t, optopt);
    if (found == ':' && row)
        words_say("--%s needs %s: %s", row->name, row->argument, row->help);
    else if (row && optopt >= 256)
        words_say("--%s takes no value", row->name);
    else if (optopt > 0 && optopt < 256) {
        char word[] = {'-', (char)optopt, '\0'};
        say_unknown(o->command, word);
    } else
        say_unknown(o->command, argv[optind - 1]);
    return wrong(o->command);
}

static enum parsed count_operands(const struct options *o) {
    const struct command *c = &commands[o->command];
    if (o->operand_count < c->least)
        words_say("%s needs %s", c->name, c->synopsis);
    else if (o->operand_count > c->most && c->most == 0)
        words_say("%s takes no '%s'", c->name, o->operands[0]);
    else if (o->operand_count > c->most)
        words_say("%s takes one %s, '%s' is too many", c->name, c->synopsis, o->operands[c->most]);
    else
        return PARSED_RUN;
    return wrong(o->command);
}

enum parsed options_parse(struct options *o, enum command_id command, int argc, char **argv) {
    struct tables tables;
    tables_make(&tables, command);
    options_default(o, command);
    opterr = 0;
    optind = 0;
    o->operands = argv + 1; /* operands move up to there, over what was read already */
    for (;;) {
        int found = getopt_long(argc, argv, tables.shorts, tables.longs, NULL);
        if (found == -1)
            break;
        if (found == OPERAND_FOUND) {
            o->operands[o->operand_count++] = optarg;
            continue;
        }
        const struct option_row *row =
            found == '?' || found == ':' ? NULL : tables_row(&tables, found);
        enum parsed p = row ? take(o, row, optarg) : refused(o, &tables, found, argv);
        if (p != PARSED_RUN)
            return p;
    }
    for (int i = optind; i < argc; i++) /* behind -- */
        o->operands[o->operand_count++] = argv[i];
    return count_operands(o);
}
