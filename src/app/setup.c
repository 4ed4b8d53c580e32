#include "app/setup.h"

#include <errno.h>
#include <fcntl.h>
#include <ini.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/commands.h"
#include "app/io.h"
#include "app/words.h"
#include "base/number.h"
#include "base/text.h"
#include "console/output.h"

static const char card_prefix[] = "card.";
static const char rate_key[] = "option.rate";
static const char *const other_keys[2] = {"other.receiver", "other.transmitter"};

/* The whole file as a string, or NULL with errno. */
static char *read_text(const char *path) {
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY);
    if (fd < 0)
        return NULL;
    char *text = malloc(SETUP_TEXT_MAX);
    size_t len = 0;
    ssize_t got = 0;
    while (text && len < SETUP_TEXT_MAX - 1 &&
           (got = io_read(fd, text + len, SETUP_TEXT_MAX - 1 - len)) > 0)
        len += (size_t)got;
    int code = text == NULL ? ENOMEM : got < 0 ? errno : len == SETUP_TEXT_MAX - 1 ? EFBIG : 0;
    close(fd);
    if (code != 0) {
        free(text);
        errno = code;
        return NULL;
    }
    text[len] = '\0';
    return text;
}

/* "throttle_low_ms=800" (of [trials]) or "supply.low_mv=4200" onto a card; false: said why. */
static bool take_limit(struct card *card, const char *limit, bool say) {
    char ini[160], why[WORDS_MAX];
    const char *dot = strchr(limit, '.'), *equals = strchr(limit, '=');
    if (dot != NULL && (equals == NULL || dot < equals))
        snprintf(ini, sizeof ini, "[%.*s]\n%s\n", (int)(dot - limit), limit, dot + 1);
    else
        snprintf(ini, sizeof ini, "[trials]\n%s\n", limit);
    if (equals != NULL && strchr(limit, '\n') == NULL && strlen(limit) < sizeof ini - 20 &&
        card_parse(card, ini, why, sizeof why) == 0)
        return true;
    if (say)
        words_say("--limit %s: %s", limit,
                  equals != NULL ? why : "it takes NAME=VALUE, such as throttle_low_ms=800");
    return false;
}

static int check_limits(const struct options *o) {
    struct card card;
    card_init(&card);
    for (int i = 0; i < o->limit_count; i++)
        if (!take_limit(&card, o->limits[i], true))
            return STATUS_USAGE;
    return STATUS_ANSWER;
}

int setup_init(struct setup *s, const struct options *o) {
    *s = (struct setup){.card_path = o->card, .rate_hz = o->rate_hz, .options = o};
    if (!o->card)
        return check_limits(o);
    char why[WORDS_MAX];
    s->card_text = read_text(o->card);
    if (!s->card_text) {
        if (errno == EFBIG)
            words_say("'%s' is too long for a card (at most 16 kB): is it the right file?",
                      o->card);
        else {
            words_reading(why, o->card, errno);
            words_say("the card: %s", why);
        }
        return STATUS_TROUBLE;
    }
    struct card card;
    card_init(&card);
    int line = card_parse(&card, s->card_text, why, sizeof why);
    if (line == 0)
        return check_limits(o);
    words_say("the card %s:%d: %s", o->card, line, why);
    setup_release(s);
    return STATUS_TROUBLE;
}

void setup_release(struct setup *s) {
    free(s->card_text);
    s->card_text = NULL;
}

static void keep_other(struct setup *s, int end, struct slice pairs) {
    if (pairs.len >= sizeof s->other[end])
        return;
    memcpy(s->other[end], pairs.at, pairs.len);
    s->other[end][pairs.len] = '\0';
}

void setup_other(struct setup *s, const struct event *event) {
    if (event->kind == EVENT_ID)
        keep_other(s, event->id.transmitter, event->id.pairs);
}

/* "card.SECTION.KEY" back into INI text. */
void setup_recorded(struct setup *s, struct slice key, struct slice value) {
    if (slice_is(key, rate_key)) {
        double rate;
        if (number_decimal(value, &rate) == NUMBER_OK && rate > 0)
            s->recorded_rate_hz = rate;
        return;
    }
    for (int end = 0; end < 2; end++)
        if (slice_is(key, other_keys[end]) && !s->other_given)
            keep_other(s, end, value);
    if (!slice_starts(key, card_prefix))
        return;
    struct slice name = slice_sub(key, strlen(card_prefix), key.len);
    struct slice section = slice_cut(&name, '.');
    struct text t;
    text_init(&t, s->recorded + s->recorded_len, sizeof s->recorded - s->recorded_len);
    text_char(&t, '[');
    text_slice(&t, section);
    text_string(&t, "]\n");
    text_slice(&t, name);
    text_string(&t, " = ");
    text_slice(&t, value);
    text_char(&t, '\n');
    if (t.full)
        s->recorded[s->recorded_len] = '\0';
    else
        s->recorded_len += t.len;
}

void setup_card(const struct setup *s, struct card *card) {
    char why[WORDS_MAX];
    card_init(card);
    /* A recorded card was good when it was recorded: what this version can't read any more is
     * passed over. */
    if (s->recorded_len > 0 && card_parse(card, s->recorded, why, sizeof why) != 0)
        card_init(card);
    if (s->recorded_rate_hz > 0)
        card->rate_hz = s->recorded_rate_hz;
    if (s->card_text)
        card_parse(card, s->card_text, why, sizeof why);
    for (int i = 0; s->options != NULL && i < s->options->limit_count; i++)
        take_limit(card, s->options->limits[i], false);
    if (s->rate_hz > 0)
        card->rate_hz = s->rate_hz;
}

static void limits_motors(const struct card *card, struct bench_limits *limits) {
    static const enum motor_idle idles[] = {[CARD_IDLE_LOW] = IDLE_LOW,
                                            [CARD_IDLE_HIGH] = IDLE_HIGH,
                                            [CARD_IDLE_MIDDLE] = IDLE_MIDDLE,
                                            [CARD_IDLE_VALUE] = IDLE_VALUE};
    limits->motors = (uint32_t)card->motors;
    for (int i = 0; i < card->motors; i++) {
        struct motor *motor = &limits->motor[i];
        const struct card_idle *idle = &card->idle[card->idles > 1 ? i : 0];
        *motor = (struct motor){.channel = (int16_t)card->motor[i], .idle = IDLE_LOW};
        if (card->idles == 0)
            continue;
        motor->idle = idles[idle->at];
        motor->value = idle->value;
    }
}

void setup_limits(const struct setup *s, struct bench_limits *limits) {
    struct card card;
    setup_card(s, &card);
    bench_limits_default(limits);
    if (card.outage_ms > 0)
        limits->outage_ms = card.outage_ms;
    if (card.lossy_loss > 0)
        limits->lossy_loss = card.lossy_loss;
    if (card.no_lines_ms > 0)
        limits->no_lines_ms = card.no_lines_ms;
    limits->supply_low_mv = card.supply_low_mv;
    limits->rate_hz = card.rate_hz;
    limits->opening_restarts = !card.opening_harmless;
    limits_motors(&card, limits);
    limits->transmit_steps_full = card.full_step;
    for (size_t i = 0; i < CHANNELS_MAX; i++) {
        struct text t;
        text_init(&t, limits->channel_name[i], NAME_MAX_BYTES);
        text_string(&t, card.channel_name[i]);
    }
}

double setup_supply_alarm(const struct setup *s, int32_t highest_mv) {
    enum { FIVE_VOLT_MV = 4500, FIVE_VOLT_LOW = 4000 };
    struct card card;
    setup_card(s, &card);
    if (card.supply_low_mv > 0)
        return card.supply_low_mv;
    return highest_mv > FIVE_VOLT_MV ? FIVE_VOLT_LOW : 0;
}

static void rules_safe(const struct card *card, struct trial_rules *rules) {
    for (size_t i = 0; i < CHANNELS_MAX; i++) {
        rules->safe_known[i] = card->safe[i] != CARD_SAFE_UNKNOWN;
        rules->safe[i] = card->safe[i] == CARD_SAFE_HOLD  ? CHANNEL_HOLD
                         : card->safe[i] == CARD_SAFE_OFF ? CHANNEL_OFF
                                                          : card->safe_value[i];
    }
}

void setup_rules(const struct setup *s, struct trial_rules *rules) {
    struct card card;
    setup_card(s, &card);
    trial_rules_default(rules);
    setup_limits(s, &rules->bench);
    rules->power = card.power;
    rules->supply_low_mv = card.supply_low_mv;
    rules->brownout_mv = card.brownout_mv;
    rules->supply_calibrated = card_supply_scale(&card) > 0;
    if (rules->supply_calibrated)
        rules->supply_scale = card_supply_scale(&card);
    int32_t *const limit[CARD_TRIALS] = {
        [CARD_THROTTLE_LOW_MS] = &rules->throttle_low_ms,
        [CARD_RECOVER_MS] = &rules->recover_ms,
        [CARD_RIDE_MS] = &rules->ride_ms,
        [CARD_STAY_MS] = &rules->stay_ms,
        [CARD_REST_NOISE] = &rules->rest_noise,
        [CARD_CENTRE] = &rules->centre,
        [CARD_CROSSTALK] = &rules->crosstalk,
        [CARD_SOAK_S] = &rules->soak_s,
        [CARD_SOAK_GAP_MS] = &rules->soak_gap_ms,
    };
    for (int i = 0; i < CARD_TRIALS; i++)
        if (card.trial[i] > 0)
            *limit[i] = card.trial[i];
    rules_safe(&card, rules);
}

static double card_text_rate(const char *text) {
    char why[WORDS_MAX];
    struct card card;
    card_init(&card);
    return card_parse(&card, text, why, sizeof why) == 0 ? card.rate_hz : 0;
}

const char *setup_rate_from(const struct setup *s) {
    if (s->rate_hz > 0)
        return "the command line";
    if (s->card_text && card_text_rate(s->card_text) > 0)
        return "the card";
    if (s->recorded_rate_hz > 0)
        return "the recording's command line";
    if (s->recorded_len > 0 && card_text_rate(s->recorded) > 0)
        return "the recorded card";
    return NULL;
}

/* One entry of the card, as the INI library reads it. */
static int tell_entry(void *context, const char *section, const char *name, const char *value) {
    char key[128];
    snprintf(key, sizeof key, "%s%s.%s", card_prefix, section, name);
    output_about(context, key, value);
    return 1;
}

void setup_tell(const struct setup *s, struct output *out) {
    if (s->card_text)
        ini_parse_string(s->card_text, tell_entry, out);
    if (s->rate_hz > 0) {
        char rate[32];
        snprintf(rate, sizeof rate, "%.15g", s->rate_hz);
        output_about(out, rate_key, rate);
    }
    for (int end = 0; end < 2; end++)
        if (s->other[end][0] != '\0')
            output_about(out, other_keys[end], s->other[end]);
}
