#include <math.h>
#include <stdio.h>

#include "text/reach_text.h"
#include "json/parts.h"

struct section {
    json_t *to, *because;
    const char *name;
};

static void put_if(const struct section *s, const char *key, bool known, double value,
                   const char *why) {
    char path[64];
    json_object_set_new(s->to, key, known ? json_real(value) : json_null());
    if (known)
        return;
    snprintf(path, sizeof path, "%s.%s", s->name, key);
    json_object_set_new(s->because, path, json_string(why));
}

static void put_new(const struct section *s, const char *key, json_t *value) {
    json_object_set_new(s->to, key, value ? value : json_null());
}

static void put_fit(const struct section *s, const struct reach *r) {
    const struct reach_fit *f = &r->fit;
    const char *why = reach_word(r->verdict);
    put_new(s, "verdict", json_string(why));
    put_new(s, "reason", json_string(reach_reason(r->verdict)));
    put_new(s, "stops", json_integer(r->stops));
    put_new(s, "left_out", json_integer(r->left_out));
    put_new(s, "facing", r->facing[0] ? json_string(r->facing) : json_null());
    put_new(s, "assumed_lost", json_real(r->assumed_lost));
    put_if(s, "nearest_m", r->stops > 0, r->nearest_m, "no stop");
    put_if(s, "farthest_m", r->stops > 0, r->farthest_m, "no stop");
    put_if(s, "slope", f->known, f->slope, why);
    put_if(s, "slope_low", f->known, f->slope_low, why);
    put_if(s, "slope_high", f->known, f->slope_high, why);
    put_if(s, "bursts", f->known, f->bursts, why);
    put_if(s, "spread_db", f->known, f->spread_db, why);
}

static void put_limits(const struct section *s, const struct reach *r) {
    bool closed = r->verdict == REACH_CLOSED;
    const char *why = reach_word(r->verdict);
    json_object_set_new(s->to, "loss_limit", json_real(r->loss_limit));
    put_if(s, "m", closed, r->m, why);
    put_if(s, "low_m", closed, r->low_m, why);
    put_if(s, "high_m", closed, r->high_m, why);
    put_if(s, "at_least_m", r->at_least_m > 0, r->at_least_m, "not shown");
    put_if(s, "at_most_m", isfinite(r->at_most_m), r->at_most_m, "not shown");
}

static bool has_rssi(const struct walk *w) {
    for (uint32_t i = 0; i < w->count; i++)
        if (w->stop[i].rssi.count > 0)
            return true;
    return false;
}

static bool has_looks(const struct walk *w) {
    for (uint32_t i = 0; i < w->count; i++)
        if (w->stop[i].heard_looks > 0)
            return true;
    return false;
}

static void put_exponent(const struct section *s, const struct walk *w,
                         const struct reach_exponent *e) {
    const char *why = has_rssi(w) ? "too few stops" : "rssi";
    put_if(s, "n", e->known, e->n, why);
    put_if(s, "n_se", e->known, e->n_se, why);
    put_if(s, "sigma_db", e->known, e->sigma_db, why);
    put_if(s, "margin_db", e->margin_known, e->margin_db, has_rssi(w) ? "not given" : "rssi");
}

static void put_flip(const struct section *s, const struct walk *w, const struct reach_flip *f) {
    const char *why = has_looks(w) ? "not shown" : "heard";
    put_if(s, "m", f->known, f->m, why);
    put_if(s, "low_m", f->known, f->low_m, why);
    put_if(s, "high_m", f->known, f->high_m, why);
}

static void put_full(const struct section *s, const struct reduced *d, bool level_known) {
    static const char *const why[] = {
        [REDUCED_NOT] = "walked at full power", [REDUCED_NO_STEP] = "tstep",
        [REDUCED_NO_DB] = "unknown steps",      [REDUCED_AMPLIFIED] = "amplified",
        [REDUCED_GIVEN] = "not shown",          [REDUCED_ON_SPOT] = "not shown",
        [REDUCED_BY_STEPS] = "not shown",
    };
    static const char *const from[] = {
        [REDUCED_GIVEN] = "given", [REDUCED_ON_SPOT] = "one spot", [REDUCED_BY_STEPS] = "steps"};
    bool known = d->kind >= REDUCED_GIVEN;
    put_if(s, "reduced_db", known, d->db, why[d->kind]);
    put_new(s, "reduced_from", known ? json_string(from[d->kind]) : NULL);
    put_if(s, "low_m", d->full_known && d->full.low_m > 0, d->full.low_m, why[d->kind]);
    put_if(s, "m", d->full_known && d->full.fitted_m > 0, d->full.fitted_m,
           known && !level_known ? "rssi" : why[d->kind]);
    put_if(s, "high_m", d->full_known && isfinite(d->full.high_m), d->full.high_m, why[d->kind]);
}

static struct section section_new(json_t *root, json_t *because, const char *name) {
    json_t *to = json_object();
    json_object_set_new(root, name, to);
    return (struct section){to, because, name};
}

void reach_json(const struct walk *w, const struct walk_facts *facts, json_t *root, json_t *range,
                json_t *because) {
    const struct reach *r = facts->reach;
    struct section fit = section_new(root, because, "fit"), limits = {range, because, "range"};
    struct section exponent = section_new(root, because, "exponent");
    struct section carrier = section_new(root, because, "carrier");
    struct section full = section_new(root, because, "full_power");
    put_fit(&fit, r);
    put_limits(&limits, r);
    put_exponent(&exponent, w, &r->exponent);
    put_flip(&carrier, w, &r->flip);
    put_full(&full, facts->reduced, r->exponent.known);
}
