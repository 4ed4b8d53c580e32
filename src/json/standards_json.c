#include <stdio.h>

#include "text/standards_text.h"
#include "json/parts.h"

struct section {
    const char *name;
    json_t *object, *because;
};

static struct section begin(json_t *root, json_t *because, const char *name) {
    struct section s = {name, json_object(), because};
    json_object_set_new(root, name, s.object);
    return s;
}

static void put_null(const struct section *to, const char *key, const char *why) {
    char path[64];
    snprintf(path, sizeof path, "%s.%s", to->name, key);
    json_object_set_new(to->object, key, json_null());
    json_object_set_new(to->because, path, json_string(why));
}

/* A number, or null where it is negative: these figures can't be. */
static void put_real(const struct section *to, const char *key, double value, const char *why) {
    if (value >= 0)
        json_object_set_new(to->object, key, json_real(value));
    else
        put_null(to, key, why);
}

static void put_count(const struct section *to, const char *key, uint64_t value) {
    json_object_set_new(to->object, key, json_integer((json_int_t)value));
}

void standards_loss_json(const struct measures *m, json_t *root, json_t *because) {
    struct section to = begin(root, because, "loss");
    const char *why = m->why ? m->why : m->ground == GROUND_NOT_STEADY ? "not steady" : "none lost";
    bool bounded = m->ground == GROUND_RUNS || m->ground == GROUND_COUNTS;
    put_real(&to, "rate", m->loss_known ? m->loss : -1, m->why ? m->why : "lost");
    put_real(&to, "low", bounded ? m->low : -1, why);
    put_real(&to, "high", bounded ? m->high : -1, why);
    json_object_set_new(to.object, "method", json_string(m->method));
    put_real(&to, "high_if_drop_1s", m->high_if_drop_1s,
             bounded  ? "not needed"
             : m->why ? m->why
                      : why);
    put_real(&to, "rate_error", m->rate_judged ? m->rate_error : -1, "not needed");
    put_real(&to, "drops_a_minute_high",
             m->ground == GROUND_NONE_LOST && m->observed_ms > 0 ? m->drops_a_minute : -1,
             m->ground == GROUND_NONE_LOST ? "t" : "only where none was lost");
    put_real(&to, "high_if_drop_10", m->ground == GROUND_NONE_LOST ? m->high_if_drop_10 : -1,
             "only where none was lost");
    if (m->steady_known)
        json_object_set_new(root, "steady", json_boolean(m->steady));
    else {
        json_object_set_new(root, "steady", json_null());
        json_object_set_new(because, "steady", json_string(standards_no_steady(m)));
    }
}

static json_t *histogram(const uint64_t *bin, unsigned bins, double (*from)(unsigned bin)) {
    json_t *list = json_array();
    for (unsigned i = 0; i < bins; i++) {
        if (bin[i] == 0)
            continue;
        json_t *entry = json_object();
        json_object_set_new(entry, "from", json_real(from(i)));
        json_object_set_new(entry, "count", json_integer((json_int_t)bin[i]));
        json_array_append_new(list, entry);
    }
    return list;
}

static double run_from(unsigned bin) {
    return (double)runs_bin_from(bin);
}

static double outage_from(unsigned bin) {
    return (double)outages_bin_from_ms(bin);
}

static void put_runs(const struct measures *m, json_t *root, json_t *because) {
    const struct runs *r = &m->runs;
    struct section to = begin(root, because, "drops");
    put_count(&to, "count", r->runs.count);
    put_count(&to, "longest_packets", r->runs.longest);
    put_count(&to, "cut", runs_cut(r));
    put_real(&to, "near_16", r->lost > 0 ? (double)runs_noticeable(r, 16) / (double)r->lost : -1,
             "none lost");
    json_object_set_new(to.object, "lengths", histogram(r->runs.bin, RUNS_BINS, run_from));
    json_object_set_new(to.object, "between", histogram(r->between.bin, RUNS_BINS, run_from));
}

/* What rests on the order of the packets is unknown without it, not none. */
static void put_no_patterns(json_t *root, json_t *because) {
    static const char *const keys[][2] = {
        {"drops", "count"},    {"drops", "longest_packets"}, {"drops", "cut"},
        {"drops", "near_16"},  {"drops", "lengths"},         {"drops", "between"},
        {"bursts", "count"},   {"bursts", "packets"},        {"bursts", "lost"},
        {"bursts", "density"}, {"bursts", "mean_packets"},   {"bursts", "mean_ms"},
        {"gaps", "count"},     {"gaps", "packets"},          {"gaps", "lost"},
        {"gaps", "density"},   {"gaps", "unsure_packets"},   {"gilbert", "p"},
        {"gilbert", "r"},      {"gilbert", "run_packets"},   {"gilbert", "correlation"},
    };
    struct section to = {NULL, NULL, because};
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        if (to.name == NULL || strcmp(to.name, keys[i][0]) != 0)
            to = begin(root, because, keys[i][0]);
        put_null(&to, keys[i][1], "pat");
    }
}

static void put_patterns(const struct measures *m, json_t *root, json_t *because) {
    static const char none[] = "no burst";
    struct section to = begin(root, because, "bursts");
    put_count(&to, "count", m->bursts.count);
    put_count(&to, "packets", m->bursts.packets);
    put_count(&to, "lost", m->bursts.lost);
    put_real(&to, "density", m->bursts.density, none);
    put_real(&to, "mean_packets", m->bursts.mean_packets, none);
    put_real(&to, "mean_ms", m->bursts.mean_ms, m->bursts.count > 0 ? "rate" : none);
    to = begin(root, because, "gaps");
    put_count(&to, "count", m->bursts.gaps);
    put_count(&to, "packets", m->bursts.gap_packets);
    put_count(&to, "lost", m->bursts.gap_lost);
    put_real(&to, "density", m->bursts.gap_density, "no gap");
    put_count(&to, "unsure_packets", m->bursts.unsure_packets);
}

/* Why one of the model's figures can't be told. */
static const char *model_lack(enum gilbert_lack lack) {
    static const char *const why[] = {
        [GILBERT_FITTED] = "pat",
        [GILBERT_NO_PAIRS] = "pat",
        [GILBERT_NO_LOSS] = "none lost",
        [GILBERT_ALL_LOST] = "nothing arrived",
        [GILBERT_NO_ONSET] = "no loss began",
        [GILBERT_NO_RETURN] = "no loss ended",
        [GILBERT_ONE_LOSS_AT_END] = "no loss ended",
        [GILBERT_ONE_ARRIVED_AT_END] = "no loss began",
    };
    return why[lack];
}

static void put_model(const struct measures *m, json_t *root, json_t *because) {
    const struct gilbert *g = &m->gilbert;
    struct section to = begin(root, because, "gilbert");
    const char *why = model_lack(g->lack);
    put_real(&to, "p", g->p, why);
    put_real(&to, "r", g->r, why);
    put_real(&to, "run_packets", g->run, why);
    if (g->correlation_known)
        json_object_set_new(to.object, "correlation", json_real(g->correlation));
    else
        put_null(&to, "correlation", why);
}

static void put_timing(const struct measures *m, json_t *root, json_t *because) {
    struct section to = begin(root, because, "timing");
    static const char few[] = "too few reports";
    put_real(&to, "jitter_peak_ms", m->jitter_peak_ms, "age");
    put_real(&to, "report_ms", m->report_ms, few);
    put_real(&to, "report_sd_ms", m->report_sd_ms, few);
    if (m->report_intervals > 0)
        json_object_set_new(to.object, "report_longest_ms", json_integer(m->report_longest_ms));
    else
        put_null(&to, "report_longest_ms", few);
    if (m->drift.known)
        json_object_set_new(to.object, "drift_ppm", json_real(m->drift.ppm));
    else
        put_null(&to, "drift_ppm", standards_no_drift(&m->drift));
    if (m->jitter_ms >= 0)
        json_object_set_new(root, "jitter_ms", json_real(m->jitter_ms));
    else {
        json_object_set_new(root, "jitter_ms", json_null());
        json_object_set_new(because, "jitter_ms", json_string("age"));
    }
}

void standards_json(const struct measures *m, json_t *root, json_t *because) {
    if (m->order_known) {
        put_runs(m, root, because);
        put_patterns(m, root, because);
        put_model(m, root, because);
    } else {
        put_no_patterns(root, because);
    }
    put_timing(m, root, because);
}

json_t *standards_outages_json(const struct measures *m) {
    return histogram(m->outages.bin, OUTAGES_BINS, outage_from);
}
