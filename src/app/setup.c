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

static const char model_prefix[] = "model.", old_prefix[] = "card.";
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

/* "throttle_low_ms=800" (of [trials]) or "supply.low_mv=4200" onto a model file; false: said why.
 */
static bool take_limit(struct model *model, const char *limit, bool say) {
    char ini[160], why[WORDS_MAX];
    const char *dot = strchr(limit, '.'), *equals = strchr(limit, '=');
    if (dot != NULL && (equals == NULL || dot < equals))
        snprintf(ini, sizeof ini, "[%.*s]\n%s\n", (int)(dot - limit), limit, dot + 1);
    else
        snprintf(ini, sizeof ini, "[trials]\n%s\n", limit);
    if (equals != NULL && strchr(limit, '\n') == NULL && strlen(limit) < sizeof ini - 20 &&
        model_parse(model, ini, why, sizeof why) == 0)
        return true;
    if (say)
        words_say("--limit %s: %s", limit,
                  equals != NULL ? why : "it takes NAME=VALUE, such as throttle_low_ms=800");
    return false;
}

static int check_limits(const struct options *o) {
    struct model model;
    model_init(&model);
    for (int i = 0; i < o->limit_count; i++)
        if (!take_limit(&model, o->limits[i], true))
            return STATUS_USAGE;
    return STATUS_ANSWER;
}

int setup_init(struct setup *s, const struct options *o) {
    *s = (struct setup){.model_path = o->model, .rate_hz = o->rate_hz, .options = o};
    if (!o->model)
        return check_limits(o);
    char why[WORDS_MAX];
    s->model_text = read_text(o->model);
    if (!s->model_text) {
        if (errno == EFBIG)
            words_say("'%s' is too long for a model file (at most 16 kB): is it the right file?",
                      o->model);
        else {
            words_reading(why, o->model, errno);
            words_say("the model file: %s", why);
        }
        return STATUS_TROUBLE;
    }
    struct model model;
    model_init(&model);
    int line = model_parse(&model, s->model_text, why, sizeof why);
    if (line == 0)
        return check_limits(o);
    words_say("the model file %s:%d: %s", o->model, line, why);
    setup_release(s);
    return STATUS_TROUBLE;
}

void setup_release(struct setup *s) {
    free(s->model_text);
    s->model_text = NULL;
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

/* "model.SECTION.KEY" back into INI text. */
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
    bool old = slice_starts(key, old_prefix);
    if (!old && !slice_starts(key, model_prefix))
        return;
    struct slice name = slice_sub(key, strlen(old ? old_prefix : model_prefix), key.len);
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

void setup_model(const struct setup *s, struct model *model) {
    char why[WORDS_MAX];
    model_init(model);
    /* A recorded model file was good when it was recorded: what this version can't read any more is
     * passed over. */
    if (s->recorded_len > 0 && model_parse(model, s->recorded, why, sizeof why) != 0)
        model_init(model);
    if (s->recorded_rate_hz > 0)
        model->rate_hz = s->recorded_rate_hz;
    if (s->model_text)
        model_parse(model, s->model_text, why, sizeof why);
    for (int i = 0; s->options != NULL && i < s->options->limit_count; i++)
        take_limit(model, s->options->limits[i], false);
    if (s->rate_hz > 0)
        model->rate_hz = s->rate_hz;
}

static void limits_motors(const struct model *model, struct bench_limits *limits) {
    static const enum motor_idle idles[] = {[MODEL_IDLE_LOW] = IDLE_LOW,
                                            [MODEL_IDLE_HIGH] = IDLE_HIGH,
                                            [MODEL_IDLE_MIDDLE] = IDLE_MIDDLE,
                                            [MODEL_IDLE_VALUE] = IDLE_VALUE};
    limits->motors = (uint32_t)model->motors;
    for (int i = 0; i < model->motors; i++) {
        struct motor *motor = &limits->motor[i];
        const struct model_idle *idle = &model->idle[model->idles > 1 ? i : 0];
        *motor = (struct motor){.channel = (int16_t)model->motor[i], .idle = IDLE_LOW};
        if (model->idles == 0)
            continue;
        motor->idle = idles[idle->at];
        motor->value = idle->value;
    }
}

void setup_limits(const struct setup *s, struct bench_limits *limits) {
    struct model model;
    setup_model(s, &model);
    bench_limits_default(limits);
    if (model.outage_ms > 0)
        limits->outage_ms = model.outage_ms;
    if (model.lossy_share > 0)
        limits->lossy_share = model.lossy_share;
    if (model.no_lines_ms > 0)
        limits->no_lines_ms = model.no_lines_ms;
    limits->supply_low_mv = model.supply_low_mv;
    limits->rate_hz = model.rate_hz;
    limits->opening_restarts = !model.opening_harmless;
    limits_motors(&model, limits);
    limits->transmit_steps_full = model.full_step;
    for (size_t i = 0; i < CHANNELS_MAX; i++) {
        struct text t;
        text_init(&t, limits->channel_name[i], NAME_MAX_BYTES);
        text_string(&t, model.channel_name[i]);
    }
}

double setup_supply_alarm(const struct setup *s, int32_t highest_mv) {
    enum { FIVE_VOLT_MV = 4500, FIVE_VOLT_LOW = 4000 };
    struct model model;
    setup_model(s, &model);
    if (model.supply_low_mv > 0)
        return model.supply_low_mv;
    return highest_mv > FIVE_VOLT_MV ? FIVE_VOLT_LOW : 0;
}

static void rules_safe(const struct model *model, struct trial_rules *rules) {
    for (size_t i = 0; i < CHANNELS_MAX; i++) {
        rules->safe_known[i] = model->safe[i] != MODEL_SAFE_UNKNOWN;
        rules->safe[i] = model->safe[i] == MODEL_SAFE_HOLD  ? CHANNEL_HOLD
                         : model->safe[i] == MODEL_SAFE_OFF ? CHANNEL_OFF
                                                            : model->safe_value[i];
    }
}

void setup_rules(const struct setup *s, struct trial_rules *rules) {
    struct model model;
    setup_model(s, &model);
    trial_rules_default(rules);
    setup_limits(s, &rules->bench);
    rules->power = model.power;
    rules->supply_low_mv = model.supply_low_mv;
    rules->brownout_mv = model.brownout_mv;
    rules->supply_calibrated = model_supply_scale(&model) > 0;
    if (rules->supply_calibrated)
        rules->supply_scale = model_supply_scale(&model);
    int32_t *const limit[MODEL_TRIALS] = {
        [MODEL_THROTTLE_LOW_MS] = &rules->throttle_low_ms,
        [MODEL_RECOVER_MS] = &rules->recover_ms,
        [MODEL_RIDE_MS] = &rules->ride_ms,
        [MODEL_STAY_MS] = &rules->stay_ms,
        [MODEL_REST_NOISE] = &rules->rest_noise,
        [MODEL_CENTRE] = &rules->centre,
        [MODEL_CROSSTALK] = &rules->crosstalk,
        [MODEL_SOAK_S] = &rules->soak_s,
        [MODEL_SOAK_GAP_MS] = &rules->soak_gap_ms,
    };
    for (int i = 0; i < MODEL_TRIALS; i++)
        if (model.trial[i] > 0)
            *limit[i] = model.trial[i];
    rules_safe(&model, rules);
}

static double model_text_rate(const char *text) {
    char why[WORDS_MAX];
    struct model model;
    model_init(&model);
    return model_parse(&model, text, why, sizeof why) == 0 ? model.rate_hz : 0;
}

const char *setup_rate_from(const struct setup *s) {
    if (s->rate_hz > 0)
        return "the command line";
    if (s->model_text && model_text_rate(s->model_text) > 0)
        return "the model file";
    if (s->recorded_rate_hz > 0)
        return "the recording's command line";
    if (s->recorded_len > 0 && model_text_rate(s->recorded) > 0)
        return "the recorded model file";
    return NULL;
}

/* One entry of the model file, as the INI library reads it. */
static int tell_entry(void *context, const char *section, const char *name, const char *value) {
    char key[128];
    snprintf(key, sizeof key, "%s%s.%s", model_prefix, section, name);
    output_about(context, key, value);
    return 1;
}

void setup_tell(const struct setup *s, struct output *out) {
    if (s->model_text)
        ini_parse_string(s->model_text, tell_entry, out);
    if (s->rate_hz > 0) {
        char rate[32];
        snprintf(rate, sizeof rate, "%.15g", s->rate_hz);
        output_about(out, rate_key, rate);
    }
    for (int end = 0; end < 2; end++)
        if (s->other[end][0] != '\0')
            output_about(out, other_keys[end], s->other[end]);
}
