#include "model/model.h"

#include <ini.h>
#include <string.h>

#include "base/number.h"
#include "base/printable.h"
#include "base/text.h"
#include "base/whole.h"

#define COUNT(table) (sizeof(table) / sizeof(table)[0])

/* Indexes of model_keys. */
enum key {
    MODEL_NAME,
    CHANNEL_NAMES,
    CHANNEL_THROTTLE,
    CHANNEL_IDLE,
    LINK_RATE,
    LINK_LOSSY,
    LINK_OUTAGE,
    LINK_FULL_STEP,
    PORT_NO_LINES,
    PORT_RESTARTS,
    SUPPLY_FROM,
    SUPPLY_LOW,
    SUPPLY_METER,
    SUPPLY_TOLD,
    SUPPLY_BROWNOUT,
    FAILSAFE_SAFE,
    TRIAL_LOW_MS, /* from here on as enum model_trial */
    TRIAL_RECOVER_MS,
    TRIAL_RIDE_MS,
    TRIAL_STAY_MS,
    TRIAL_REST_NOISE,
    TRIAL_CENTRE,
    TRIAL_CROSSTALK,
    TRIAL_SOAK_S,
    TRIAL_SOAK_GAP_MS,
    KEYS
};

const struct model_key model_keys[] = {
    [MODEL_NAME] = {"model", "name", "what the model is called"},
    [CHANNEL_NAMES] = {"channels", "1 to 16", "name of that channel"},
    [CHANNEL_THROTTLE] = {"channels", "throttle",
                          "every channel that drives a motor, such as 3 or 3, 5"},
    [CHANNEL_IDLE] = {"channels", "idle",
                      "where each motor rests: low, high, middle (it reverses) or a value"},
    [LINK_RATE] = {"link", "rate", "packets that the transmitter sends a second"},
    [LINK_LOSSY] = {"link", "lossy_percent",
                    "packet loss above which the link is lossy, in percent"},
    [LINK_OUTAGE] = {"link", "outage_ms", "time without a packet that counts as an outage, ms"},
    [LINK_FULL_STEP] = {"link", "full_step", "the transmitter's power step that is full power"},
    [PORT_NO_LINES] = {"port", "no_lines_ms", "time without a line that gives an alarm, ms"},
    [PORT_RESTARTS] = {"port", "restarts",
                       "whether opening the port restarts the board: yes or no"},
    [SUPPLY_FROM] = {"supply", "from", "what powers the receiver: usb, battery or regulator"},
    [SUPPLY_LOW] = {"supply", "low_mv", "receiver supply below which an alarm is given, mV"},
    [SUPPLY_METER] = {"supply", "meter_mv",
                      "the receiver's supply as a good meter read it at rest, mV"},
    [SUPPLY_TOLD] = {"supply", "told_mv", "what the receiver told at that moment, mV"},
    [SUPPLY_BROWNOUT] = {"supply", "brownout_mv",
                         "supply below which the receiver's controller resets, mV"},
    [FAILSAFE_SAFE] = {"failsafe", "1 to 16",
                       "what that channel is wanted to do in failsafe: a value, hold or off"},
    [TRIAL_LOW_MS] = {"trials", "throttle_low_ms",
                      "longest time from the last packet to throttle low, ms"},
    [TRIAL_RECOVER_MS] = {"trials", "recover_ms",
                          "longest time from the first packet to leaving failsafe, ms"},
    [TRIAL_RIDE_MS] = {"trials", "ride_ms",
                       "an interruption so short must pass without failsafe, ms"},
    [TRIAL_STAY_MS] = {"trials", "stay_ms", "how long failsafe must be seen to stay, ms"},
    [TRIAL_REST_NOISE] = {"trials", "rest_noise", "greatest standard deviation of a stick at rest"},
    [TRIAL_CENTRE] = {"trials", "centre", "how far from the middle a stick may rest"},
    [TRIAL_CROSSTALK] = {"trials", "crosstalk", "how much another channel may move with a stick"},
    [TRIAL_SOAK_S] = {"trials", "soak_s", "length of the soak, s"},
    [TRIAL_SOAK_GAP_MS] = {"trials", "soak_gap_ms", "longest gap that the soak allows, ms"},
};
const size_t model_key_count = KEYS;

enum shape { TEXT, WHOLE, DECIMAL, WORD, SAFE, MOTORS, IDLES };

struct rule {
    enum shape shape;
    int low, high;        /* a whole number's limits; a decimal is above low, up to high */
    const char *words[3]; /* the value is the word's index */
};

static const struct rule rules[] = {
    [MODEL_NAME] = {.shape = TEXT},
    [CHANNEL_NAMES] = {.shape = TEXT},
    [CHANNEL_THROTTLE] = {.shape = MOTORS},
    [CHANNEL_IDLE] = {.shape = IDLES},
    [LINK_RATE] = {.shape = DECIMAL, .low = 0, .high = 100000},
    [LINK_LOSSY] = {.shape = DECIMAL, .low = 0, .high = 100},
    [LINK_OUTAGE] = {.shape = WHOLE, .low = 1, .high = 3600000},
    [LINK_FULL_STEP] = {.shape = WHOLE, .low = 1, .high = 255},
    [PORT_NO_LINES] = {.shape = WHOLE, .low = 1, .high = 3600000},
    [PORT_RESTARTS] = {.shape = WORD, .words = {"no", "yes"}},
    [SUPPLY_FROM] = {.shape = WORD, .words = {"usb", "battery", "regulator"}},
    [SUPPLY_LOW] = {.shape = WHOLE, .low = 1, .high = 100000},
    [SUPPLY_METER] = {.shape = WHOLE, .low = 1000, .high = 30000},
    [SUPPLY_TOLD] = {.shape = WHOLE, .low = 1000, .high = 30000},
    [SUPPLY_BROWNOUT] = {.shape = WHOLE, .low = 1, .high = 100000},
    [FAILSAFE_SAFE] = {.shape = SAFE},
    [TRIAL_LOW_MS] = {.shape = WHOLE, .low = 1, .high = 60000},
    [TRIAL_RECOVER_MS] = {.shape = WHOLE, .low = 1, .high = 60000},
    [TRIAL_RIDE_MS] = {.shape = WHOLE, .low = 1, .high = 60000},
    [TRIAL_STAY_MS] = {.shape = WHOLE, .low = 1, .high = 600000},
    [TRIAL_REST_NOISE] = {.shape = WHOLE, .low = 1, .high = 10000},
    [TRIAL_CENTRE] = {.shape = WHOLE, .low = 1, .high = 10000},
    [TRIAL_CROSSTALK] = {.shape = WHOLE, .low = 1, .high = 10000},
    [TRIAL_SOAK_S] = {.shape = WHOLE, .low = 1, .high = 360000},
    [TRIAL_SOAK_GAP_MS] = {.shape = WHOLE, .low = 1, .high = 60000},
};

_Static_assert(KEYS <= 64, "a bit each");
_Static_assert(TRIAL_SOAK_GAP_MS - TRIAL_LOW_MS + 1 == MODEL_TRIALS, "the same list");
_Static_assert(COUNT(model_keys) == KEYS && COUNT(rules) == KEYS, "one of each a key");

struct reading {
    struct model model;
    struct text why;        /* of the first bad line */
    int bad_line;           /* 0: none yet */
    int line;               /* that is being read */
    int motors_line;        /* of the newest list of motors or of their idles */
    struct slice rest;      /* not yet read */
    uint64_t seen;          /* bits of the keys that were given */
    unsigned seen_channels; /* bits of the channel names that were given, */
    unsigned seen_safe;     /* and of what is wanted in failsafe */
};

void model_init(struct model *c) {
    *c = (struct model){0};
}

/* Words for what is wrong, first the key, then the reason.  Returns 0, as a handler of the library
 * does for a bad line. */
static int refuse(struct reading *r, const char *section, const char *key, const char *reason) {
    if (r->bad_line != 0)
        return 0;
    r->bad_line = r->line;
    if (section[0] != '\0') {
        text_char(&r->why, '[');
        text_string(&r->why, section);
        text_string(&r->why, "] ");
    }
    text_string(&r->why, key);
    text_string(&r->why, key[0] != '\0' ? ": " : "");
    text_string(&r->why, reason);
    return 0;
}

/* "no such key; [link] has rate, lossy_percent ..." or the sections, if there is none such. */
static int refuse_unknown(struct reading *r, const char *section, const char *key) {
    char reason[300];
    struct text t;
    bool known = false;
    for (size_t i = 0; i < KEYS; i++)
        known = known || strcmp(model_keys[i].section, section) == 0;
    text_init(&t, reason, sizeof reason);
    text_string(&t, known ? "no such key; this section has" : "no such section; there are");
    const char *last = "";
    for (size_t i = 0; i < KEYS; i++) {
        const char *name = known ? model_keys[i].key : model_keys[i].section;
        if ((known && strcmp(model_keys[i].section, section) != 0) || strcmp(name, last) == 0)
            continue;
        text_string(&t, last[0] != '\0' ? ", " : " ");
        text_string(&t, name);
        last = name;
    }
    return refuse(r, section, key, reason);
}

/* Terminals obey control characters, so a name has none: neither ASCII's nor U+0080 to U+009F. */
static bool has_control(const char *text) {
    for (const unsigned char *c = (const unsigned char *)text; *c != '\0'; c++) {
        if (*c < 0x20 || *c == 0x7F || (c[0] == 0xC2 && c[1] >= 0x80 && c[1] <= 0x9F))
            return true;
    }
    return false;
}

/* What else can't be shown, such as a letter of another encoding, becomes '?' at once, so that the
 * name is the same wherever it is told. */
static const char *take_text(const char *value, char out[MODEL_TEXT]) {
    size_t len = strlen(value);
    if (len >= MODEL_TEXT)
        return "longer than 23 bytes";
    if (has_control(value))
        return "has a control character";
    printable(out, MODEL_TEXT, value);
    return NULL;
}

static const char *take_word(const struct rule *rule, const char *value, double *number) {
    for (size_t i = 0; i < COUNT(rule->words) && rule->words[i]; i++) {
        if (strcmp(rule->words[i], value) == 0) {
            *number = (double)i;
            return NULL;
        }
    }
    return "";
}

/* Returns NULL, or what is wrong; an empty string for "none of the words" or "outside the limits",
 * which take words of their own. */
static const char *take_number(const struct rule *rule, const char *value, double *number) {
    if (rule->shape == WORD)
        return take_word(rule, value, number);
    if (number_decimal(slice_of(value), number) == NUMBER_BAD)
        return "not a number";
    uint32_t whole;
    if (rule->shape == WHOLE && number_u32(slice_of(value), &whole) == NUMBER_BAD)
        return "not a whole number";
    bool inside = *number <= rule->high &&
                  (rule->shape == WHOLE ? *number >= rule->low : *number > rule->low);
    return inside ? NULL : "";
}

/* A value, hold, or off. */
static const char *take_safe(struct model *c, uint32_t channel, const char *value) {
    uint32_t number;
    if (strcmp(value, "hold") == 0) {
        c->safe[channel] = MODEL_SAFE_HOLD;
    } else if (strcmp(value, "off") == 0) {
        c->safe[channel] = MODEL_SAFE_OFF;
    } else if (number_u32(slice_of(value), &number) == NUMBER_OK && number <= 65535) {
        c->safe[channel] = MODEL_SAFE_VALUE;
        c->safe_value[channel] = (int)number;
    } else {
        return "should be a value from 0 to 65535, hold or off";
    }
    return NULL;
}

/* The next of a list divided by commas, without the blanks around it. */
static struct slice next_item(struct slice *list) {
    struct slice item = slice_cut(list, ',');
    while (item.len > 0 && item.at[0] == ' ')
        item = slice_sub(item, 1, item.len);
    while (item.len > 0 && item.at[item.len - 1] == ' ')
        item.len--;
    return item;
}

static const char *take_motors(struct model *c, const char *value) {
    static const char wrong[] = "should be channels from 1 to 16, each once, such as 3 or 3, 5";
    struct slice rest = slice_of(value);
    unsigned seen = 0;
    for (c->motors = 0; rest.at != NULL; c->motors++) {
        uint32_t number;
        if (number_u32(next_item(&rest), &number) != NUMBER_OK || number < 1 ||
            number > MODEL_CHANNELS || (seen >> number & 1u) != 0)
            return wrong;
        seen |= 1u << number;
        c->motor[c->motors] = (int)number - 1;
    }
    return NULL;
}

static bool take_idle(struct model_idle *idle, struct slice item) {
    static const char *const words[] = {"low", "high", "middle"};
    uint32_t number;
    for (size_t i = 0; i < COUNT(words); i++) {
        if (slice_is(item, words[i])) {
            *idle = (struct model_idle){.at = (enum model_idle_at)i};
            return true;
        }
    }
    if (number_u32(item, &number) != NUMBER_OK || number > 65535)
        return false;
    *idle = (struct model_idle){.at = MODEL_IDLE_VALUE, .value = (int)number};
    return true;
}

static const char *take_idles(struct model *c, const char *value) {
    struct slice rest = slice_of(value);
    for (c->idles = 0; rest.at != NULL; c->idles++)
        if (c->idles == MODEL_CHANNELS || !take_idle(&c->idle[c->idles], next_item(&rest)))
            return "should be low, high, middle or a value: one for all motors, or one for each";
    return NULL;
}

static void put_limits(struct text *t, const struct rule *rule) {
    if (rule->shape == WORD) {
        for (size_t i = 0; i < COUNT(rule->words) && rule->words[i]; i++) {
            text_string(t, i == 0 ? "should be " : " or ");
            text_string(t, rule->words[i]);
        }
    } else {
        text_string(t, rule->shape == WHOLE ? "should be from " : "should be above ");
        text_i64(t, rule->low);
        text_string(t, rule->shape == WHOLE ? " to " : ", at most ");
        text_i64(t, rule->high);
    }
}

static void store(struct model *c, enum key key, double number) {
    switch (key) {
    case LINK_RATE:
        c->rate_hz = number;
        break;
    case LINK_LOSSY:
        c->lossy_share = number / 100;
        break;
    case LINK_OUTAGE:
        c->outage_ms = whole_i32(number);
        break;
    case LINK_FULL_STEP:
        c->full_step = whole_i32(number);
        break;
    case PORT_NO_LINES:
        c->no_lines_ms = whole_i32(number);
        break;
    case PORT_RESTARTS:
        c->opening_harmless = number == 0;
        break;
    case SUPPLY_FROM:
        c->power = (enum model_power)(MODEL_POWER_USB + whole_i32(number));
        break;
    case SUPPLY_LOW:
        c->supply_low_mv = whole_i32(number);
        break;
    case SUPPLY_METER:
        c->meter_mv = whole_i32(number);
        break;
    case SUPPLY_TOLD:
        c->told_mv = whole_i32(number);
        break;
    case SUPPLY_BROWNOUT:
        c->brownout_mv = whole_i32(number);
        break;
    default:
        if (key >= TRIAL_LOW_MS && key <= TRIAL_SOAK_GAP_MS)
            c->trial[key - TRIAL_LOW_MS] = whole_i32(number);
        break;
    }
}

/* Whether a number in this section stands for a channel, and what it then is. */
static bool is_channel(enum key key, const char *section, const char *name, uint32_t *channel) {
    return strcmp(section, model_keys[key].section) == 0 &&
           number_u32(slice_of(name), channel) == NUMBER_OK && *channel >= 1 &&
           *channel <= MODEL_CHANNELS;
}

/* The key's index; KEYS for an unknown one.  A number in [channels] or [failsafe] is a channel, and
 * *channel its number from 0. */
static enum key find_key(const char *section, const char *name, uint32_t *channel) {
    static const enum key of_channels[] = {CHANNEL_NAMES, FAILSAFE_SAFE};
    for (size_t i = 0; i < COUNT(of_channels); i++) {
        if (is_channel(of_channels[i], section, name, channel)) {
            *channel -= 1;
            return of_channels[i];
        }
    }
    for (int key = 0; key < KEYS; key++) {
        if (key != CHANNEL_NAMES && key != FAILSAFE_SAFE &&
            strcmp(section, model_keys[key].section) == 0 && strcmp(name, model_keys[key].key) == 0)
            return (enum key)key;
    }
    return KEYS;
}

static bool given_before(struct reading *r, enum key key, uint32_t channel) {
    if (key == CHANNEL_NAMES || key == FAILSAFE_SAFE) {
        unsigned *seen = key == CHANNEL_NAMES ? &r->seen_channels : &r->seen_safe;
        bool before = (*seen >> channel & 1u) != 0;
        *seen |= 1u << channel;
        return before;
    }
    bool before = (r->seen >> key & 1u) != 0;
    r->seen |= UINT64_C(1) << key;
    return before;
}

static int take_entry(void *context, const char *section, const char *name, const char *value) {
    struct reading *r = context;
    uint32_t channel = 0;
    double number = 0;
    enum key key = find_key(section, name, &channel);
    if (r->bad_line != 0)
        return 0;
    if (key == KEYS)
        return refuse_unknown(r, section, name);
    if (given_before(r, key, channel))
        return refuse(r, section, name, "given twice");
    if (value[0] == '\0') /* a form not filled in */
        return 1;
    const char *wrong;
    if (key == CHANNEL_THROTTLE || key == CHANNEL_IDLE)
        r->motors_line = r->line;
    if (key == MODEL_NAME)
        wrong = take_text(value, r->model.model);
    else if (key == CHANNEL_NAMES)
        wrong = take_text(value, r->model.channel_name[channel]);
    else if (key == FAILSAFE_SAFE)
        wrong = take_safe(&r->model, channel, value);
    else if (key == CHANNEL_THROTTLE)
        wrong = take_motors(&r->model, value);
    else if (key == CHANNEL_IDLE)
        wrong = take_idles(&r->model, value);
    else
        wrong = take_number(&rules[key], value, &number);
    if (!wrong) {
        store(&r->model, key, number);
        return 1;
    }
    refuse(r, section, name, wrong);
    if (wrong[0] == '\0')
        put_limits(&r->why, &rules[key]);
    return 0;
}

/* What the library would take for something else than it looks like: it goes on with the line
 * before where one is indented, and cuts what is too long for it. */
static void check_line(struct reading *r, struct slice line, size_t room) {
    size_t indent = 0;
    while (indent < line.len && (line.at[indent] == ' ' || line.at[indent] == '\t'))
        indent++;
    bool idle = indent == line.len || memchr(";#\r", line.at[indent], 3) != NULL;
    if (!idle && indent > 0)
        refuse(r, "", "", "the line begins with a space");
    else if (!idle && line.len + 1 >= room)
        refuse(r, "", "", "the line is too long");
}

/* The library's way to ask for the next line, as fgets(). */
static char *next_line(char *out, int size, void *stream) {
    struct reading *r = stream;
    size_t room = (size_t)size;
    if (!r->rest.at || r->rest.len == 0)
        return NULL;
    struct slice line = slice_cut(&r->rest, '\n');
    r->line++;
    check_line(r, line, room);
    size_t len = line.len + 1 < room ? line.len : 0;
    memcpy(out, line.at, len);
    out[len] = '\n';
    out[len + 1] = '\0';
    return out;
}

int model_parse(struct model *c, const char *text, char *why, size_t why_size) {
    struct reading r = {.model = *c, .rest = slice_of(text)};
    text_init(&r.why, why, why_size);
    int bad = ini_parse_stream(next_line, &r, take_entry, &r);
    if (bad > 0 && (r.bad_line == 0 || bad < r.bad_line)) {
        text_clear(&r.why);
        r.bad_line = bad;
        text_string(&r.why, "neither [section] nor key = value");
    }
    const struct model *read = &r.model;
    if (r.bad_line == 0 && read->idles > 1 && read->motors > 0 && read->idles != read->motors) {
        r.line = r.motors_line;
        refuse(&r, "channels", "idle", "should be one for all motors, or one for each of throttle");
    }
    if (r.bad_line == 0)
        *c = r.model;
    return r.bad_line;
}

double model_supply_scale(const struct model *c) {
    return c->meter_mv > 0 && c->told_mv > 0 ? (double)c->meter_mv / c->told_mv : 0;
}
