#include <jansson.h>
#include <stdio.h>

#include "text/reach_text.h"
#include "json/json.h"
#include "json/json_text.h"
#include "json/parts.h"

struct document {
    json_t *root, *because;
    char stop[24], loss[32]; /* paths of the stop that is being written */
};

static void put(json_t *to, const char *key, json_t *value) {
    json_object_set_new(to, key, value ? value : json_null());
}

/* null, and why. */
static void put_null(struct document *d, json_t *to, const char *path, const char *key,
                     const char *why) {
    char name[80];
    put(to, key, json_null());
    snprintf(name, sizeof name, "%s.%s", path, key);
    put(d->because, name, json_string(why));
}

static json_t *integer(uint64_t value) {
    return json_integer((json_int_t)value);
}

static void put_known(struct document *d, json_t *to, const char *key, bool known, uint64_t value,
                      const char *why) {
    if (known)
        put(to, key, integer(value));
    else
        put_null(d, to, d->stop, key, why);
}

static void put_share(struct document *d, json_t *to, const char *key, double value,
                      const char *why) {
    if (value >= 0)
        put(to, key, json_real(value));
    else
        put_null(d, to, d->loss, key, why);
}

static json_t *loss_of(struct document *d, const struct walk_stop *s) {
    struct walk_loss loss;
    json_t *to = json_object();
    walk_loss(s, &loss);
    const char *why = loss.why ? loss.why : "pat";
    put_share(d, to, "rate", loss.known ? loss.rate : -1, why);
    put_share(d, to, "low", loss.low, why);
    put_share(d, to, "high", loss.high, why);
    put(to, "method", loss.method ? json_string(loss.method) : json_null());
    return to;
}

static json_t *words_of(unsigned faults) {
    json_t *list = json_array();
    for (unsigned bit = 1; bit <= WALK_DIED; bit <<= 1)
        if ((faults & bit) != 0)
            json_array_append_new(list, json_string(walk_fault_name(bit)));
    return list;
}

static void put_gap(struct document *d, json_t *to, const struct walk_stop *s) {
    if (s->longest_gap_ms == TIME_UNKNOWN) {
        put_null(d, to, d->stop, "longest_gap_ms", "age");
        put_null(d, to, d->stop, "longest_gap_low_ms", "age");
        return;
    }
    put(to, "longest_gap_ms", json_integer(s->longest_gap_ms));
    put(to, "longest_gap_low_ms", json_integer(s->longest_gap_low_ms));
}

static void put_radio(struct document *d, json_t *to, const struct walk_stop *s) {
    double sd;
    if (s->rssi.count > 0)
        put(to, "rssi_dbm", json_real(s->rssi.mean));
    else
        put_null(d, to, d->stop, "rssi_dbm", "rssi");
    put(to, "rssi_sd_db", stat_moments_sd(&s->rssi, &sd) ? json_real(sd) : json_null());
    put_known(d, to, "heard_hits", s->heard_looks > 0, s->heard_hits, "heard");
    put_known(d, to, "heard_looks", s->heard_looks > 0, s->heard_looks, "heard");
    put_known(d, to, "power_step", s->step_known, s->step, "tstep");
    put_known(d, to, "power_steps", s->step_known, s->steps, "tstep");
    if (s->supply_low_mv > 0)
        put(to, "supply_low_mv", json_integer(s->supply_low_mv));
    else
        put_null(d, to, d->stop, "supply_low_mv", "mvmin");
}

/* JSON is UTF-8; a heading that isn't comes out as null, as does none. */
static json_t *stop_of(struct document *d, const struct walk *w, const struct walk_stop *s) {
    unsigned unsure, faults = walk_judge(s, &w->limits, &unsure);
    json_t *to = json_object();
    put(to, "distance_m", json_real(s->distance_m));
    put(to, "facing", s->facing[0] ? json_string(s->facing) : json_null());
    put(to, "from_ms", json_integer(s->from_ms));
    put(to, "to_ms", json_integer(s->to_ms));
    put(to, "open", json_boolean(s->open));
    put_known(d, to, "packets", s->counted, s->got + s->lost, "got");
    put_known(d, to, "got", s->counted, s->got, "got");
    put_known(d, to, "lost", s->counted, s->lost, "got");
    put(to, "loss", loss_of(d, s));
    put_gap(d, to, s);
    put_known(d, to, "failsafes", s->failsafe_known, s->failsafes, "fs");
    put(to, "receiver_restarts", integer(s->receiver_restarts));
    put(to, "transmitter_restarts", integer(s->transmitter_restarts));
    put(to, "died", json_boolean(s->died));
    put(to, "dead_ms", s->died ? json_integer(s->dead_ms) : json_null());
    put_radio(d, to, s);
    put(to, "verdict", json_string(walk_verdict_word(walk_verdict(s, &w->limits))));
    put(to, "faults", words_of(faults));
    put(to, "unsure", words_of(unsure));
    return to;
}

static json_t *limits_of(const struct walk_limits *l) {
    json_t *to = json_object();
    put(to, "loss_facing", json_real(l->loss_facing));
    put(to, "loss_turned", json_real(l->loss_turned));
    put(to, "gap_ms", json_integer(walk_gap_limit(l)));
    put(to, "died_ms", json_integer(l->died_ms));
    return to;
}

static json_t *range_of(struct document *d, const struct walk *w, const struct walk_facts *facts) {
    struct walk_plan p;
    json_t *to = json_object();
    const char *none = w->count == 0 ? "no stop" : "no stop is shown to hold";
    walk_plan(w, facts->reach, facts->drive, &p);
    if (p.failed)
        put(to, "first_failed_m", json_real(p.first_failed_m));
    else
        put_null(d, to, "range", "first_failed_m",
                 w->count == 0 ? "no stop" : "no stop is shown to have failed");
    if (p.held)
        put(to, "held_to_m", json_real(p.held_to_m));
    else
        put_null(d, to, "range", "held_to_m", none);
    put(to, "planned_share", json_real(p.share));
    if (p.planned_m >= 0)
        put(to, "planned_m", json_real(p.planned_m));
    else
        put_null(d, to, "range", "planned_m", none);
    put(to, "planned_at_least", json_boolean(p.at_least));
    return to;
}

char *walk_json(const struct walk *w, const struct walk_facts *facts) {
    struct document d = {.root = json_object(), .because = json_object()};
    json_t *stops = json_array();
    put(d.root, "format", json_string("airleash-walk-1"));
    put(d.root, "file", json_string(facts->file));
    put(d.root, "recording", json_boolean(facts->recording));
    put(d.root, "switch_channel", facts->by_switch > 0 ? integer(facts->by_switch) : json_null());
    put(d.root, "evidence", json_string(evidence_name(facts->evidence)));
    put(d.root, "after_retries", json_boolean(facts->acked));
    put(d.root, "presses_beyond_plan", integer(facts->beyond_plan));
    put(d.root, "plan_left", integer(facts->plan_left));
    put(d.root, "marks_untimed", integer(w->marks_untimed));
    put(d.root, "marks_unused", integer(facts->marks_unused));
    put(d.root, "stops_left_out", integer(w->passed_over + w->marks_no_place));
    put(d.root, "amendments", integer(facts->amendments));
    put(d.root, "amendments_refused", integer(facts->amendments_refused));
    put(d.root, "limits", limits_of(&w->limits));
    for (uint32_t i = 0; i < w->count; i++) {
        snprintf(d.stop, sizeof d.stop, "stops[%u]", i);
        snprintf(d.loss, sizeof d.loss, "stops[%u].loss", i);
        json_array_append_new(stops, stop_of(&d, w, &w->stop[i]));
    }
    put(d.root, "stops", stops);
    json_t *range = range_of(&d, w, facts);
    put(d.root, "range", range);
    reach_json(w, facts, d.root, range, d.because);
    put(d.root, "unknown_because", d.because);
    return json_text(d.root, 15);
}
