#include "text/model_text.h"

#include <stdio.h>
#include <string.h>

#include "base/printable.h"
#include "model/model.h"

struct out {
    const struct model_seen *seen;
    struct say to;
};

void model_seen_event(struct model_seen *seen, const struct event *event) {
    if (event->kind != EVENT_ID || event->id.transmitter)
        return;
    const struct identity *id = &event->id;
    if (identity_has(id, ID_RATE))
        seen->rate_hz = id->rate_hz;
    seen->span_told = seen->span_told || identity_has(id, ID_SPAN);
    if (identity_has(id, ID_CHANS))
        seen->chans = id->chans;
    if (identity_has(id, ID_SAFE)) {
        seen->safe_count = id->safe_count;
        memcpy(seen->safe, id->safe, sizeof seen->safe);
    }
}

static bool is_key(const struct model_key *k, const char *section, const char *key) {
    return strcmp(k->section, section) == 0 && strcmp(k->key, key) == 0;
}

/* What holds where the model file doesn't say; keys that aren't here have nothing that could hold.
 */
static const struct {
    const char *section, *key, *text;
} defaults[] = {
    {"channels", "1 to 16", "ch1, ch2 ..."},
    {"channels", "idle", "low"},
    {"link", "rate", "what the id line says"},
    {"link", "lossy_percent", "5"},
    {"link", "outage_ms", "100"},
    {"link", "full_step", "the last of the steps"},
    {"port", "no_lines_ms", "2000"},
    {"port", "restarts", "yes"},
    {"supply", "low_mv", "4000 once more than 4500 mV was seen"},
    {"failsafe", "1 to 16", "what the id line says"},
    {"trials", "throttle_low_ms", "1000"},
    {"trials", "recover_ms", "2000"},
    {"trials", "ride_ms", "300"},
    {"trials", "stay_ms", "5000"},
    {"trials", "rest_noise", "4"},
    {"trials", "centre", "10"},
    {"trials", "crosstalk", "5"},
    {"trials", "soak_s", "1200"},
    {"trials", "soak_gap_ms", "100"},
};

static void say_meaning(const struct out *o, const struct model_key *k) {
    const char *text = NULL;
    for (size_t i = 0; i < sizeof defaults / sizeof defaults[0]; i++)
        if (is_key(k, defaults[i].section, defaults[i].key))
            text = defaults[i].text;
    say(&o->to, "# %s%s%s\n", k->meaning, text ? "; without it: " : "", text ? text : "");
}

/* A name that means the same once it is read back: the library takes " ;" and " #" for a comment,
 * and cuts blanks off the ends. */
static bool can_stand(const char *name) {
    size_t len = strlen(name);
    if (len == 0 || len >= MODEL_TEXT || name[0] == ' ' || name[len - 1] == ' ')
        return false;
    for (const char *c = name; *c != '\0'; c++)
        if ((unsigned char)*c < 0x20 || (unsigned char)*c > 0x7E || *c == ';' || *c == '#')
            return false;
    return true;
}

static uint32_t channels(const struct model_seen *seen) {
    uint32_t count = seen->s->channel_count;
    return count < CHANNELS_MAX ? count : CHANNELS_MAX;
}

static void say_names(const struct out *o) {
    const struct model_seen *seen = o->seen;
    if (channels(seen) == 0)
        say(&o->to, "#1 =\n");
    for (uint32_t i = 0; i < channels(seen); i++) {
        const struct channel_state *c = &seen->s->channel[i];
        char plain[NAME_MAX_BYTES];
        snprintf(plain, sizeof plain, "ch%u", i + 1);
        if (strcmp(c->name, plain) != 0 && can_stand(c->name)) {
            say(&o->to, "%u = %s\n", i + 1, c->name);
            continue;
        }
        if (c->ends_known)
            say(&o->to, "# seen from %d to %d\n", c->low, c->high);
        say(&o->to, "#%u =\n", i + 1);
    }
}

/* The stick of a throttle has no spring: it was left at its low end.  Others may have been, too. */
static void suggest_throttle(const struct out *o) {
    const struct snapshot *s = o->seen->s;
    double near = (s->span_high - s->span_low) / 20.0;
    for (uint32_t i = 0; i < channels(o->seen); i++) {
        const struct channel_state *c = &s->channel[i];
        if (c->rest_known && c->ends_known && c->high > c->low && c->rest < s->span_low + near)
            say(&o->to, "# channel %u rests at its low end: if it is the throttle, say so here\n",
                i + 1);
    }
}

static void say_ends(const struct out *o) {
    const struct model_seen *seen = o->seen;
    if (channels(seen) > 0)
        say(&o->to, "# seen: %u channels\n", channels(seen));
    if (seen->chans > 0 && seen->chans != channels(seen))
        say(&o->to, "# the receiver's id line says %u channels\n", seen->chans);
    if (seen->span_told)
        say(&o->to, "# their ends, as the receiver says: %d to %d\n", seen->s->span_low,
            seen->s->span_high);
}

/* What the receiver says that it does in failsafe may not be what is wanted: it stays a comment. */
static void say_safe(const struct out *o) {
    const struct model_seen *seen = o->seen;
    if (seen->safe_count == 0) {
        say(&o->to, "#1 =\n");
        return;
    }
    say(&o->to,
        "# the receiver says that it does this; take the # away where it is what you want\n");
    for (uint32_t i = 0; i < seen->safe_count && i < CHANNELS_MAX; i++) {
        if (seen->safe[i] == CHANNEL_HOLD || seen->safe[i] == CHANNEL_OFF)
            say(&o->to, "#%u = %s\n", i + 1, seen->safe[i] == CHANNEL_HOLD ? "hold" : "off");
        else
            say(&o->to, "#%u = %d\n", i + 1, seen->safe[i]);
    }
}

static void say_rate(const struct out *o) {
    if (o->seen->rate_hz > 0)
        say(&o->to, "rate = %.10g\n", o->seen->rate_hz);
    else
        say(&o->to, "#rate =\n");
}

static void say_full_step(const struct out *o) {
    const struct snapshot *s = o->seen->s;
    if (!s->step_known || s->steps == 0) {
        say(&o->to, "#full_step =\n");
        return;
    }
    say(&o->to, "# seen: step %u of %u\nfull_step = %u\n", s->step, s->steps, s->steps);
}

static void say_told(const struct out *o) {
    if (o->seen->s->supply_known)
        say(&o->to, "# seen last: %d\n", o->seen->s->supply_mv);
    say(&o->to, "#told_mv =\n");
}

/* Keys of which the wire tells something. */
static const struct {
    const char *section, *key;
    void (*say)(const struct out *o);
} seen_keys[] = {
    {"channels", "1 to 16", say_names},   {"link", "rate", say_rate},
    {"link", "full_step", say_full_step}, {"supply", "told_mv", say_told},
    {"failsafe", "1 to 16", say_safe},
};

static void say_key(const struct out *o, const struct model_key *k) {
    say_meaning(o, k);
    if (is_key(k, "channels", "throttle"))
        suggest_throttle(o);
    for (size_t i = 0; i < sizeof seen_keys / sizeof seen_keys[0]; i++) {
        if (is_key(k, seen_keys[i].section, seen_keys[i].key)) {
            seen_keys[i].say(o);
            return;
        }
    }
    say(&o->to, "#%s =\n", strcmp(k->key, "1 to 16") == 0 ? "1" : k->key);
}

/* What the person typed, without what would end the comment or steer a terminal. */
static void say_head(const struct out *o) {
    char where[160];
    say(&o->to, "# Model file, begun by airleash from what was seen on %s.\n",
        printable(where, sizeof where, o->seen->where));
    if (o->seen->s->firmware[0] != '\0')
        say(&o->to, "# Firmware of the receiver: %s\n", o->seen->s->firmware);
    say(&o->to, "# A line behind # says nothing yet: take the # away and fill it in.\n");
}

void model_text(const struct model_seen *seen, say_put *put, void *where) {
    const struct out o = {seen, {put, where}};
    const char *section = "";
    say_head(&o);
    for (size_t i = 0; i < model_key_count; i++) {
        const struct model_key *k = &model_keys[i];
        if (strcmp(section, k->section) != 0)
            say(&o.to, "\n[%s]\n", k->section);
        if (strcmp(section, k->section) != 0 && strcmp(k->section, "channels") == 0)
            say_ends(&o);
        section = k->section;
        say_key(&o, k);
    }
}
