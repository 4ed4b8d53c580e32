#include "json/json.h"

#include <jansson.h>
#include <stdio.h>

#include "link/failsafe.h"
#include "telemetry/words.h"
#include "text/standards_text.h"
#include "text/unknown.h"
#include "json/json_text.h"
#include "json/parts.h"

struct document {
    const struct snapshot *s;
    json_t *root, *because;
};

/* A section of the document; its name begins the paths in unknown_because. */
struct section {
    struct document *d;
    const char *path;
    json_t *object;
};

static struct section section_begin(struct document *d, const char *name) {
    struct section section = {d, name, json_object()};
    json_object_set_new(d->root, name, section.object);
    return section;
}

static void put_null(struct section *to, const char *key, const char *because) {
    char path[64];
    snprintf(path, sizeof path, "%s.%s", to->path, key);
    json_object_set_new(to->object, key, json_null());
    json_object_set_new(to->d->because, path, json_string(because));
}

static void put_count(struct section *to, const char *key, uint64_t count) {
    json_object_set_new(to->object, key, json_integer((json_int_t)count));
}

/* JSON is UTF-8: a text that isn't is left out as null. */
static void put_text(struct section *to, const char *key, const char *text) {
    json_t *value = json_string(text);
    if (value)
        json_object_set_new(to->object, key, value);
    else
        put_null(to, key, "not in UTF-8");
}

/* A number, or null with the reason why it isn't known. */
static void put_figure(struct section *to, const char *key, enum figure figure, int64_t value) {
    const char *why = unknown_why(to->d->s, figure);
    if (why)
        put_null(to, key, why);
    else if (value == TIME_UNKNOWN)
        json_object_set_new(to->object, key, json_null());
    else
        json_object_set_new(to->object, key, json_integer(value));
}

static void put_time(struct document *d, const struct figures_facts *facts) {
    const struct snapshot *s = d->s;
    struct section to = section_begin(d, "time");
    put_figure(&to, "link_ms", FIGURE_LINK_TIME, s->link_ms);
    json_object_set_new(to.object, "by_host_clock", json_boolean(s->link_time_rough));
    put_count(&to, "reports", s->reports);
    if (s->rate_hz > 0)
        json_object_set_new(to.object, "rate_hz", json_real(s->rate_hz));
    else
        put_null(&to, "rate_hz", "rate");
    const char *from = facts->rate_from ? facts->rate_from : "the id line";
    json_object_set_new(to.object, "rate_from", s->rate_hz > 0 ? json_string(from) : json_null());
}

static void put_packets(struct document *d) {
    const struct snapshot *s = d->s;
    struct section to = section_begin(d, "packets");
    put_figure(&to, "got", FIGURE_GOT, (int64_t)s->total.got);
    put_figure(&to, "lost", FIGURE_LOST, (int64_t)s->total.lost);
    json_object_set_new(to.object, "evidence", json_string(evidence_name(s->evidence)));
    json_object_set_new(to.object, "after_retries", json_boolean(s->acked));
    put_figure(&to, "lost_estimated", FIGURE_LOST, (int64_t)s->lost_estimated);
    put_figure(&to, "order_unknown", FIGURE_LOST, (int64_t)s->order_unknown);
    if (s->seqmod_assumed)
        json_object_set_new(to.object, "seqmod_assumed",
                            json_integer(s->seqmod == 0 ? INT64_C(1) << 32 : s->seqmod));
    else
        put_null(&to, "seqmod_assumed", "not needed");
    put_figure(&to, "unseen", FIGURE_LOST, (int64_t)s->unseen);
    put_figure(&to, "refused", FIGURE_REFUSED, (int64_t)s->refused);
}

static void put_measure(struct section *to, const char *key, bool known, double value,
                        const char *because) {
    if (known)
        json_object_set_new(to->object, key, json_real(value));
    else
        put_null(to, key, because);
}

static void put_lines(struct document *d, const struct figures_facts *facts) {
    const struct snapshot *s = d->s;
    struct section to = section_begin(d, "lines");
    put_count(&to, "good", s->lines_good);
    put_count(&to, "damaged", s->lines_damaged);
    put_figure(&to, "missing", FIGURE_MISSING_LINES, (int64_t)s->lines_missing);
    json_t *reasons = json_object();
    for (int i = 0; i < DAMAGE_REASONS; i++)
        if (s->damaged[i] > 0)
            json_object_set_new(reasons, damage_name((enum damage_reason)i),
                                json_integer((json_int_t)s->damaged[i]));
    json_object_set_new(to.object, "reasons", reasons);
    put_figure(&to, "holes", FIGURE_MISSING_LINES, (int64_t)s->holes);
    put_figure(&to, "holes_ms", FIGURE_MISSING_LINES, s->holes_ms);
    put_count(&to, "bytes_good", s->bytes_good);
    put_count(&to, "bytes_damaged", s->bytes_damaged);
    put_measure(&to, "load_peak", !unknown_why(s, FIGURE_LOAD), s->load_peak,
                unknown_why(s, FIGURE_LOAD));
    put_count(&to, "unknown_words", s->unknown_words);
    put_count(&to, "unknown_keys", s->unknown_keys);
    put_count(&to, "rows_passed_over", facts->rows_bad);
    put_count(&to, "rows_missing", facts->rows_missing);
}

static void put_outages(struct document *d, const struct measures *m) {
    const struct snapshot *s = d->s;
    struct section to = section_begin(d, "outages");
    put_figure(&to, "count", FIGURE_OUTAGES, (int64_t)s->outages);
    put_figure(&to, "unsure", FIGURE_OUTAGES, (int64_t)s->outages_unsure);
    put_figure(&to, "unsent", FIGURE_LOST, (int64_t)s->unsent);
    put_figure(&to, "longest_ms", FIGURE_OUTAGES, s->longest_gap_ms);
    put_figure(&to, "longest_low_ms", FIGURE_OUTAGES, s->longest_low_ms);
    put_figure(&to, "longest_at_ms", FIGURE_OUTAGES, s->longest_at_ms);
    json_object_set_new(to.object, "limit_ms", json_integer(s->outage_limit_ms));
    put_figure(&to, "open_ms", FIGURE_OUTAGES, s->silent_at_end ? s->outage_ms : 0);
    json_object_set_new(to.object, "lengths", standards_outages_json(m));
}

static json_t *time_value(int64_t ms) {
    return ms == TIME_UNKNOWN ? json_null() : json_integer(ms);
}

/* Every restart with its time, whoever it was. */
static json_t *restart_events(const struct snapshot *s) {
    static const char *const whose[] = {
        [RESTART_RECEIVER] = "receiver",
        [RESTART_OPENING] = "opening",
        [RESTART_TRANSMITTER] = "transmitter",
        [RESTART_RADIO] = "radio",
    };
    json_t *events = json_array();
    for (uint32_t i = 0; i < s->restart_count; i++) {
        const struct restart *r = &s->restarts[i];
        bool caused = r->kind == RESTART_RECEIVER || r->kind == RESTART_OPENING;
        json_t *event = json_object();
        json_object_set_new(event, "at_ms", time_value(r->at_ms));
        json_object_set_new(event, "of", json_string(whose[r->kind]));
        json_object_set_new(event, "cause",
                            caused ? json_string(boot_cause_name(r->cause)) : json_null());
        json_array_append_new(events, event);
    }
    return events;
}

static void put_restarts(struct document *d) {
    const struct snapshot *s = d->s;
    struct section to = section_begin(d, "restarts");
    put_figure(&to, "receiver", FIGURE_RECEIVER_RESTARTS, (int64_t)s->receiver_restarts);
    put_figure(&to, "opening", FIGURE_RECEIVER_RESTARTS, (int64_t)s->opening_restarts);
    put_figure(&to, "transmitter", FIGURE_TRANSMITTER_RESTARTS, (int64_t)s->transmitter_restarts);
    put_figure(&to, "wraps", FIGURE_RECEIVER_RESTARTS, (int64_t)s->uptime_wraps);
    put_figure(&to, "clock_steps", FIGURE_RECEIVER_RESTARTS, (int64_t)s->clock_steps);
    json_t *causes = json_object();
    for (int i = BOOT_UNKNOWN; i <= BOOT_WATCHDOG; i++)
        if (s->restarts_by_cause[i] > 0)
            json_object_set_new(causes, boot_cause_name((enum boot_cause)i),
                                json_integer((json_int_t)s->restarts_by_cause[i]));
    json_object_set_new(to.object, "causes", causes);
    json_object_set_new(to.object, "events", restart_events(s));
}

static void put_bounds(json_t *object, const char *name, struct time_bounds b) {
    char key[32];
    snprintf(key, sizeof key, "%s_low_ms", name);
    json_object_set_new(object, key, time_value(b.low_ms));
    snprintf(key, sizeof key, "%s_high_ms", name);
    json_object_set_new(object, key, time_value(b.high_ms));
}

static void put_failsafe(struct document *d) {
    const struct snapshot *s = d->s;
    struct section to = section_begin(d, "failsafe");
    put_figure(&to, "entries", FIGURE_FAILSAFE, (int64_t)s->failsafe_entries);
    if (unknown_why(s, FIGURE_FAILSAFE)) {
        put_null(&to, "active", unknown_why(s, FIGURE_FAILSAFE));
        put_null(&to, "events", unknown_why(s, FIGURE_FAILSAFE));
        return;
    }
    json_object_set_new(to.object, "active", json_boolean(s->failsafe));
    json_t *events = json_array();
    for (uint32_t i = 0; i < s->failsafe_count; i++) {
        const struct failsafe_event *e = &s->failsafe_events[i];
        json_t *event = json_object();
        json_object_set_new(event, "enter_low_ms", time_value(e->enter.low_ms));
        json_object_set_new(event, "enter_high_ms", time_value(e->enter.high_ms));
        json_object_set_new(event, "exit_low_ms", time_value(e->leave.low_ms));
        json_object_set_new(event, "exit_high_ms", time_value(e->leave.high_ms));
        put_bounds(event, "delay", failsafe_delay(e));
        put_bounds(event, "throttle", failsafe_throttle_delay(e));
        put_bounds(event, "recovery", failsafe_recovery(e));
        json_object_set_new(event, "unseen", json_boolean(e->unseen));
        json_array_append_new(events, event);
    }
    json_object_set_new(to.object, "events", events);
}

static void put_supply(struct document *d) {
    const struct snapshot *s = d->s;
    struct section to = section_begin(d, "supply");
    put_figure(&to, "mv", FIGURE_SUPPLY, s->supply_mv);
    put_figure(&to, "min_mv", FIGURE_SUPPLY_LOW, s->supply_low_mv);
    put_figure(&to, "min_at_ms", FIGURE_SUPPLY_LOW, s->supply_low_at_ms);
    /* Without mvmin: the least value that a report happened to show. */
    if (!s->supply_min_known)
        put_figure(&to, "low_at_reports_mv", FIGURE_SUPPLY, s->supply_low_mv);
    put_figure(&to, "transmitter_mv", FIGURE_TRANSMITTER_SUPPLY, s->transmitter_mv);
    put_figure(&to, "transmitter_low_mv", FIGURE_TRANSMITTER_SUPPLY, s->transmitter_low_mv);
}

static void put_radio(struct document *d) {
    const struct snapshot *s = d->s;
    struct section to = section_begin(d, "radio");
    put_figure(&to, "rssi_dbm", FIGURE_RSSI, s->rssi_dbm);
    put_figure(&to, "step", FIGURE_STEP, s->step);
    put_figure(&to, "steps", FIGURE_STEP, s->steps);
    if (unknown_why(s, FIGURE_REGISTERS))
        put_null(&to, "registers", unknown_why(s, FIGURE_REGISTERS));
    else
        json_object_set_new(to.object, "registers", json_string(registers_name(s->registers)));
    put_figure(&to, "registers_forgotten", FIGURE_REGISTERS, (int64_t)s->registers_forgotten);
    put_figure(&to, "settings_lost", FIGURE_REGISTERS, (int64_t)s->settings_lost);
}

static void put_value(struct section *to, const char *key, bool known, int32_t value,
                      const char *because) {
    if (!known)
        put_null(to, key, because);
    else if (value == CHANNEL_OFF)
        json_object_set_new(to->object, key, json_string("off"));
    else
        json_object_set_new(to->object, key, json_integer(value));
}

static void put_channel(struct document *d, json_t *list, uint32_t i, bool ends_only) {
    const struct channel_state *c = &d->s->channel[i];
    char path[24];
    snprintf(path, sizeof path, "channels[%u]", (unsigned)i);
    struct section to = {d, path, json_object()};
    static const char no_rest[] = "never at rest";
    static const char no_pair[] = "no noise at rest with another channel";
    json_array_append_new(list, to.object);
    put_count(&to, "number", i + 1);
    put_text(&to, "name", c->name);
    put_value(&to, "low", c->ends_known, c->low, "ch");
    put_value(&to, "high", c->ends_known, c->high, "ch");
    if (ends_only)
        return;
    put_value(&to, "value", c->present, c->value, "ch");
    put_value(&to, "input", c->has_input, c->input, "in");
    put_measure(&to, "rest", c->rest_known, c->rest, no_rest);
    put_measure(&to, "noise", c->rest_known, c->noise, no_rest);
    put_value(&to, "noise_peak", c->rest_known, c->noise_peak, no_rest);
    double changes_hz = figures_changes_hz(d->s, c);
    put_measure(&to, "changes_hz", changes_hz >= 0, changes_hz,
                d->s->link_ms == TIME_UNKNOWN ? "t" : "under a second");
    put_count(&to, "reports", c->reports);
    put_count(&to, "changes", c->changes);
    put_value(&to, "steps", c->steps_known, (int32_t)c->steps, "values beyond 0..4095");
    put_value(&to, "partner", c->partner_known, (int32_t)c->partner + 1, no_pair);
    put_measure(&to, "correlation", c->partner_known, c->correlation, no_pair);
}

static void put_channels(struct document *d, bool ends_only) {
    json_t *list = json_array();
    json_object_set_new(d->root, "channels", list);
    for (uint32_t i = 0; i < d->s->channel_count; i++)
        put_channel(d, list, i, ends_only);
}

static void put_sections(struct document *d, const struct measures *m,
                         const struct figures_facts *facts) {
    if (figures_wanted(facts, SECTION_TIME))
        put_time(d, facts);
    if (figures_wanted(facts, SECTION_LOSS)) {
        put_packets(d);
        standards_loss_json(m, d->root, d->because);
    }
    if (figures_wanted(facts, SECTION_OUTAGES))
        put_outages(d, m);
    if (figures_wanted(facts, SECTION_LINES))
        put_lines(d, facts);
    if (figures_wanted(facts, SECTION_RESTARTS))
        put_restarts(d);
    if (figures_wanted(facts, SECTION_FAILSAFE))
        put_failsafe(d);
    if (figures_wanted(facts, SECTION_SUPPLY)) {
        put_supply(d);
        put_radio(d);
    }
    if (figures_wanted(facts, SECTION_CHANNELS))
        put_channels(d, false);
    else if (figures_wanted(facts, SECTION_ENDS))
        put_channels(d, true);
    if (figures_wanted(facts, SECTION_BAND))
        survey_json(facts->survey, d->root, d->because);
    if (figures_wanted(facts, SECTION_STANDARDS))
        standards_json(m, d->root, d->because);
}

char *figures_json(const struct snapshot *s, const struct measures *m,
                   const struct figures_facts *facts) {
    struct document d = {s, json_object(), json_object()};
    json_object_set_new(d.root, "format", json_string("airleash-figures-1"));
    json_t *file = json_string(facts->file); /* NULL: not in UTF-8, as a file's name may be */
    json_object_set_new(d.root, "file", file ? file : json_null());
    json_object_set_new(d.root, "recording", json_boolean(facts->recording));
    json_object_set_new(d.root, "read_to_end", json_boolean(!facts->cut));
    if (facts->only == 0)
        json_object_set_new(d.root, "state_at_end", json_string(link_state_name(s->state)));
    put_sections(&d, m, facts);
    json_object_set_new(d.root, "unknown_because", d.because);
    return json_text(d.root, 15);
}
