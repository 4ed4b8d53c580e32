#include <jansson.h>
#include <math.h>
#include <stdio.h>

#include "json/json.h"
#include "json/json_text.h"

static json_t *real_or_null(double value) {
    return isfinite(value) ? json_real(value) : json_null();
}

static json_t *cause_object(const struct causes_facts *f, const struct cause *c, bool twitches) {
    char label[64];
    causes_label(label, sizeof label, c, f->s);
    json_t *o = json_object();
    json_object_set_new(o, "name", json_string(cause_name(c->id)));
    json_object_set_new(o, "label", json_string(label));
    json_object_set_new(o, "channel", c->channel >= 0 ? json_integer(c->channel + 1) : json_null());
    json_object_set_new(o, "of", json_string(causes_events(c, twitches)));
    json_object_set_new(o, "shown",
                        c->shown == CAUSE_CANT_TELL ? json_null()
                                                    : json_boolean(c->shown == CAUSE_SHOWN));
    json_object_set_new(o, "events", json_integer(c->events));
    json_object_set_new(o, "explained", json_integer(c->explained));
    json_object_set_new(o, "expected", c->tested ? real_or_null(c->expected) : json_null());
    json_object_set_new(o, "p", c->tested ? real_or_null(c->p) : json_null());
    json_object_set_new(o, "effect", c->tested ? real_or_null(c->effect) : json_null());
    json_object_set_new(o, "period_ms",
                        c->id == CAUSE_RHYTHM && c->tested ? json_real(c->figure) : json_null());
    const char *ticks =
        c->id == CAUSE_RHYTHM && c->tested ? causes_ticks(f->trace, c->figure) : NULL;
    json_object_set_new(o, "period_of", ticks ? json_string(ticks) : json_null());
    json_object_set_new(o, "below_budget_db",
                        c->id == CAUSE_ANTENNA && c->explained > 0 ? json_real(c->figure)
                                                                   : json_null());
    json_object_set_new(o, "supply", c->supply ? json_string(c->supply) : json_null());
    json_object_set_new(o, "supply_fall_mv", c->supply ? json_real(c->figure) : json_null());
    json_object_set_new(o, "chain", c->chain >= 0 ? json_integer(c->chain) : json_null());
    json_object_set_new(o, "missing", c->missing ? json_string(c->missing) : json_null());
    json_object_set_new(o, "next", json_string(cause_next(c->id)));
    return o;
}

static json_t *cause_list(const struct causes_facts *f, const struct causes *found, bool twitches) {
    json_t *list = json_array();
    for (uint32_t i = 0; i < found->count; i++)
        json_array_append_new(list, cause_object(f, &found->cause[i], twitches));
    return list;
}

static json_t *chain_list(const struct causes_facts *f, const struct causes *found) {
    json_t *list = json_array();
    for (uint32_t i = 0; i < found->count && found->cause[i].shown == CAUSE_SHOWN;) {
        char chain[256];
        i += causes_chain(chain, sizeof chain, found, i, f->s);
        json_array_append_new(list, json_string(chain));
    }
    return list;
}

static json_t *drop_object(const struct causes_facts *f, const struct trace_drop *d) {
    struct cause_before b;
    json_t *o = json_object();
    causes_before(f->trace, d, &b);
    json_object_set_new(o, "at_ms", json_integer(d->from_ms - f->trace->begin_ms));
    json_object_set_new(o, "length_ms", json_integer(d->to_ms - d->from_ms));
    json_object_set_new(o, "lost", json_integer((json_int_t)d->lost));
    json_object_set_new(o, "outage", json_boolean(trace_outage(d)));
    json_object_set_new(o, "receiver_restart", json_boolean(d->restart));
    json_object_set_new(o, "transmitter_restart", json_boolean(d->transmitter));
    json_object_set_new(o, "settings_lost", json_boolean(d->forgot));
    json_object_set_new(o, "known", json_boolean(b.known));
    json_object_set_new(o, "dip_mv", b.dip_mv != INT32_MIN ? json_integer(b.dip_mv) : json_null());
    json_object_set_new(o, "moved_channel",
                        b.channel >= 0 ? json_integer(b.channel + 1) : json_null());
    json_object_set_new(o, "moved", json_integer(b.way));
    json_object_set_new(o, "noise_hits",
                        b.noise_looks > 0 ? json_integer(b.noise_hits) : json_null());
    json_object_set_new(o, "noise_looks",
                        b.noise_looks > 0 ? json_integer(b.noise_looks) : json_null());
    return o;
}

static json_t *throttle_list(const struct causes_facts *f) {
    struct throttle_step step[THROTTLE_STEPS];
    if (!causes_throttle(f->trace, step))
        return json_null();
    json_t *list = json_array();
    for (int i = 0; i < THROTTLE_STEPS; i++) {
        json_t *o = json_object();
        bool known = step[i].interval_known;
        json_object_set_new(o, "from", json_real(step[i].from));
        json_object_set_new(o, "to", json_real(step[i].to));
        json_object_set_new(o, "blocks", json_integer(step[i].blocks));
        json_object_set_new(o, "rate", json_real(step[i].loss));
        json_object_set_new(o, "low", known ? json_real(step[i].low) : json_null());
        json_object_set_new(o, "high", known ? json_real(step[i].high) : json_null());
        json_array_append_new(list, o);
    }
    return list;
}

/* What was counted is known, also where more may have been; none is known only where the run tells
 * of it. */
static json_t *count_or_null(const struct causes_facts *f, uint64_t count, enum causes_fact fact) {
    return count == 0 && causes_unknown(f, fact) ? json_null() : json_integer((json_int_t)count);
}

static json_t *counted_object(const struct causes_facts *f) {
    const struct trace *t = f->trace;
    json_t *o = json_object();
    json_object_set_new(o, "outages", count_or_null(f, f->found->outages, CAUSES_OUTAGES));
    json_object_set_new(o, "losses", count_or_null(f, f->found->losses, CAUSES_LOSSES));
    json_object_set_new(o, "drops", count_or_null(f, t->drops, CAUSES_LOSSES));
    json_object_set_new(o, "openings", json_integer((json_int_t)t->openings));
    json_object_set_new(o, "settings_lost", json_integer((json_int_t)t->settings_lost));
    json_object_set_new(o, "transmitter_starts", json_integer((json_int_t)t->transmitter_starts));
    json_object_set_new(o, "holes", count_or_null(f, t->holes, CAUSES_HOLES));
    json_object_set_new(o, "port_losses", json_integer((json_int_t)t->port_losses));
    return o;
}

char *causes_json(const struct causes_facts *f) {
    uint32_t kept = f->trace->drops < TRACE_DROPS ? f->trace->drops : TRACE_DROPS;
    char text[160];
    const char *why = causes_not_tested(text, sizeof text, f);
    json_t *root = json_object();
    json_object_set_new(root, "format", json_string("airleash-causes-1"));
    json_object_set_new(root, "file", json_string(f->file));
    json_object_set_new(root, "counted", counted_object(f));
    json_object_set_new(root, "tested", json_integer(f->found->tested));
    json_object_set_new(root, "not_tested_because", why ? json_string(why) : json_null());
    json_object_set_new(root, "enough_s",
                        f->found->enough_s > 0 ? json_real(f->found->enough_s) : json_null());
    const char *advice = causes_advice(f->trace, f->found);
    json_object_set_new(root, "next", advice != NULL ? json_string(advice) : json_null());
    json_object_set_new(root, "causes", cause_list(f, f->found, false));
    json_object_set_new(root, "chains", chain_list(f, f->found));
    json_object_set_new(root, "throttle", throttle_list(f));
    json_t *twitches = f->twitched ? json_object() : json_null();
    if (f->twitched) {
        json_object_set_new(twitches, "marked", json_integer(f->trace->twitches));
        json_object_set_new(twitches, "before_ms", json_integer(TWITCH_BEFORE_MS));
        json_object_set_new(twitches, "until_ms", json_integer(TWITCH_AFTER_MS));
        json_object_set_new(twitches, "not_tested_because",
                            f->twitched->too_few ? json_string(f->twitched->too_few) : json_null());
        json_object_set_new(twitches, "causes", cause_list(f, f->twitched, true));
        json_object_set_new(twitches, "chains", chain_list(f, f->twitched));
    }
    json_object_set_new(root, "twitches", twitches);
    json_t *drops = json_array();
    for (uint32_t i = 0; i < kept; i++)
        json_array_append_new(drops, drop_object(f, &f->trace->drop[i]));
    json_object_set_new(root, "drops", drops);
    return json_text(root, 9);
}
